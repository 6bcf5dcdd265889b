"""Geometry of drawn meridians against closed forms."""

from itertools import pairwise
from math import asin, atan2, hypot, pi

import numpy as np
import pytest
from design_cases import FLANK, SHARP, check_joined, dome, ends, integral, kinks, mm, surface, vee, volume
from hypothesis import given, settings
from hypothesis import strategies as st

from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.rounding import SHORTEST_LEFT
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.design.profile.free_meridian import zone_named
from diaphragm_fem.design.read.read import design_from
from diaphragm_fem.errors import DesignError


def test_cap_has_the_surface_and_volume_of_a_cap():
    """Cap of height h over a rim a: surface pi (a^2 + h^2), volume pi h (3 a^2 + h^2) / 6 (Archimedes)."""
    a, h = 12.5e-3, 6e-3
    convex, concave = (design_from(dome(facing=facing)) for facing in ("convex", "concave"))
    assert surface(convex.meridian) == pytest.approx(pi * (a**2 + h**2), rel=1e-12)
    assert volume(convex.meridian) == pytest.approx(pi * h * (3 * a**2 + h**2) / 6, rel=1e-12)
    assert volume(concave.meridian) == pytest.approx(-volume(convex.meridian), rel=1e-12)
    assert convex.inner_edge is None and convex.joint == len(convex.meridian)
    assert convex.joint_radius == pytest.approx(a, rel=1e-14)


def test_low_dome_tends_to_the_disc():
    disc, low = design_from(dome(height="0 mm")), design_from(dome(height="1 um"))
    assert isinstance(disc.meridian[0].curve, Line)
    assert surface(low.meridian) == pytest.approx(surface(disc.meridian), rel=2e-8)  # (h/a)^2 = 6e-9


def test_ellipse_has_the_length_and_volume_of_an_ellipse():
    """Half a spheroid: volume 2/3 pi a^2 b; quarter ellipse length a E(1 - b^2/a^2), the complete elliptic integral."""
    from scipy.special import ellipe

    a, b = 12.5e-3, 6e-3
    design = design_from(dome(shape="ellipse"))
    assert volume(design.meridian) == pytest.approx(2 / 3 * pi * a**2 * b, rel=1e-7)  # spline through 401 points
    assert design.meridian[0].curve.length == pytest.approx(a * ellipe(1 - b**2 / a**2), rel=1e-8)


def test_sharp_cone_has_the_surface_of_a_cone():
    a, h = 12.5e-3, 6e-3
    design = design_from(dome(shape="cone", **SHARP))
    assert surface(design.meridian) == pytest.approx(pi * a * hypot(a, h), rel=1e-12)
    assert volume(design.meridian) == pytest.approx(pi * a**2 * h / 3, rel=1e-12)


def test_round_tip_of_a_cone_is_a_cap_tangent_to_it():
    rho, slope = 3e-3, atan2(6, 12.5)
    design = design_from(dome(shape="cone", tip_radius="3 mm"))
    tip, _flank = design.meridian
    assert tip.curve.tangent(0.0) == pytest.approx([1, 0], abs=1e-12)
    assert tip.curve.length == pytest.approx(rho * slope, rel=1e-12)
    assert max(kinks(design)) < 1e-12
    # the tip falls below the sharp one by rho (1/cos - 1)
    assert ends(tip)[0][1] == pytest.approx(6e-3 - rho * (hypot(6, 12.5) / 12.5 - 1), rel=1e-12)
    check_joined(design)


def test_half_roll_has_the_surface_of_half_a_torus():
    """Pappus: surface of a semicircle's revolution = its length times the way of its centroid."""
    width = 3e-3
    design = design_from(dome(height="0 mm", surround={"kind": "half-roll", "width": "3 mm", "corner_radius": "0 mm"}))
    roll = [piece for piece in design.meridian if piece.zone.role is Role.SURROUND]
    middle = 12.5e-3 + width / 2
    assert surface(roll) == pytest.approx(2 * pi * middle * pi * width / 2, rel=1e-12)
    assert volume(roll) == pytest.approx(2 * pi * middle * pi * (width / 2) ** 2 / 2, rel=1e-12)
    assert ends(roll[-1])[1] == pytest.approx([15.5e-3, 0], abs=1e-15)


def test_flat_arc_roll_has_its_height_and_length():
    width, height = 3e-3, 0.5e-3
    radius = (width**2 / 4 + height**2) / (2 * height)
    roll = {"kind": "half-roll", "width": "3 mm", "height": "0.5 mm", "direction": "down", "corner_radius": "0 mm"}
    piece = design_from(dome(height="0 mm", surround=roll)).meridian[-1]
    assert piece.curve.length == pytest.approx(2 * radius * asin(width / 2 / radius), rel=1e-12)
    assert piece.curve.point(piece.curve.length / 2) == pytest.approx([14e-3, -height], rel=1e-12)


def test_high_roll_stands_on_upright_walls():
    roll = {"kind": "half-roll", "width": "3 mm", "height": "2 mm", "corner_radius": "0 mm"}
    design = design_from(dome(height="0 mm", surround=roll))
    heights = [piece.curve.point(piece.curve.length / 2)[1] for piece in design.meridian[1:]]
    assert heights == pytest.approx([0.25e-3, 2e-3, 0.25e-3], rel=1e-12)


def test_alternating_rolls_join_without_a_kink():
    rolls = {"kind": "rolls", "count": 3, "width": "4.5 mm", "height": "0.5 mm", "corner_radius": "0.2 mm"}
    design = design_from(dome(surround=rolls))
    assert max(kinks(design)) < 1e-9
    check_joined(design)
    same_way = design_from(dome(surround=rolls | {"alternate": False, "corner_radius": "0 mm"}))
    crowns = [p.curve.point(p.curve.length / 2)[1] for p in same_way.meridian if p.zone.role is Role.SURROUND]
    assert crowns == pytest.approx([0.5e-3] * 3, rel=1e-9)


def test_v_puts_its_corners_where_the_file_says():
    step = {"distance": "3 mm", "tread": "1.2 mm", "rise": "-0.5 mm"}
    design = design_from(vee(outer={"width": "9 mm", "rise": "3 mm", "steps": [step]}, **SHARP))
    slope = (3 + 0.5) / (9 - 1.2)
    corners = np.array([ends(design.meridian[0])[0], *(ends(piece)[1] for piece in design.meridian)]) * 1e3
    near = 3 * slope
    assert corners == pytest.approx(np.array([[20, 0], [23, near], [24.2, near - 0.5], [29, 3]]), abs=1e-12)
    names = [piece.zone.name for piece in design.meridian]
    assert names == ["outer driven zone", "outer step", "outer flank beyond step"]
    assert [piece.zone.step for piece in design.meridian] == [0, 1, 1]
    assert design.joint == 0


def test_symmetric_v_has_mirror_image_flanks():
    design = design_from(vee(FLANK, FLANK))
    joint = design.joint
    inner, outer = design.meridian[:joint][::-1], design.meridian[joint:]
    assert len(inner) == len(outer)
    for a, b in zip(inner, outer, strict=True):
        assert a.zone.name == b.zone.name.replace("outer", "inner")
        for p, q in ((ends(a)[0], ends(b)[1]), (ends(a)[1], ends(b)[0])):
            assert 40e-3 - p[0] == pytest.approx(q[0], abs=1e-12)
            assert p[1] == pytest.approx(q[1], abs=1e-12)
        assert a.curve.length == pytest.approx(b.curve.length, rel=1e-9)


def test_zones_are_named_from_the_inner_edge_outward():
    names = [zone.name for zone in design_from(vee(FLANK, FLANK)).zones]
    inner = ["surround", "flank beyond step 2", "step 2", "flank beyond step", "step", "driven zone"]
    assert names == [*(f"inner {part}" for part in inner), *(f"outer {part}" for part in reversed(inner))]


def test_step_of_zero_size_equals_none():
    with_step = vee(FLANK | {"steps": [{"distance": "3 mm", "tread": "0 mm", "rise": "0 mm"}]}, FLANK)
    without = vee(FLANK | {"steps": []}, FLANK)
    assert design_from(with_step) == design_from(without)


@pytest.mark.parametrize(
    ("shape", "falls"),  # from the axis to r, of a rim a and a height h
    [
        ("sphere", lambda r, a, h: (a**2 + h**2) / (2 * h) - ((a**2 + h**2) ** 2 / (4 * h**2) - r**2) ** 0.5),
        ("ellipse", lambda r, a, h: h - h * (1 - (r / a) ** 2) ** 0.5),
        ("cone", lambda r, a, h: h * r / a),
    ],
)
def test_dome_step_lifts_what_lies_within(shape, falls):
    step = {"distance": "4 mm", "tread": "1 mm", "rise": "0.3 mm"}
    design = design_from(dome(steps=[step], shape=shape, **SHARP))
    assert [piece.zone.name for piece in design.meridian] == ["dome beyond step", "dome step", "dome driven zone"]
    assert [zone_named(zone.name) for zone in design.zones] == list(design.zones)  # so a drawing is read back
    check_joined(design)
    (near_r, near_z), (far_r, far_z) = ends(design.meridian[1])[1], ends(design.meridian[1])[0]
    assert (near_r, far_r) == pytest.approx((8.5e-3, 7.5e-3), rel=1e-12)
    assert far_z - near_z == pytest.approx(0.3e-3, rel=1e-9)
    assert ends(design.meridian[0])[0][1] - far_z == pytest.approx(falls(7.5e-3, 12.5e-3, 6e-3), rel=1e-9)


lengths = st.floats(0.4, 3.0).map(lambda x: round(x, 3))
rises = st.floats(-1.0, 1.0).map(lambda x: round(x, 3))


@st.composite
def flanks(draw):
    position, steps = 0.0, []
    for _ in range(draw(st.integers(0, 3))):
        gap, tread = draw(lengths), draw(lengths)
        steps.append({"distance": mm(round(position + gap, 3)), "tread": mm(tread), "rise": mm(draw(rises))})
        position = round(position + gap + tread, 3)
    width = round(position + draw(lengths), 3)
    flank = {"width": mm(width), "rise": mm(round(draw(st.floats(-0.3, 1.0)) * width, 3)), "steps": steps}
    kind = draw(st.sampled_from(["none", "flat", "half-roll", "rolls"]))
    if kind != "none":
        flank["surround"] = {"kind": kind, "width": mm(draw(lengths))}
        flank["surround"] |= {"height": "0.2 mm"} if kind != "flat" else {}
        flank["surround"] |= {"count": draw(st.integers(1, 4))} if kind == "rolls" else {}
    return flank


@settings(max_examples=60, deadline=None)
@given(inner=flanks(), outer=flanks())
def test_any_valid_v_is_whole(inner, outer):
    """Pieces meet, corners are smooth, every zone has its true width, the drive circle lies at the coil."""
    design = design_from(vee(inner, outer, coil_diameter="60 mm"))
    check_joined(design)
    assert design.joint_radius == pytest.approx(30e-3, rel=1e-9)
    assert all(piece.curve.length > SHORTEST_LEFT for piece in design.meridian)
    first, last = ends(design.meridian[0])[0], ends(design.meridian[-1])[1]
    reach = [
        sum(float(x["width"].split()[0]) for x in (f, *([f["surround"]] if "surround" in f else [])))
        for f in (inner, outer)
    ]
    assert (first[0], last[0]) == pytest.approx((30e-3 - reach[0] * 1e-3, 30e-3 + reach[1] * 1e-3), rel=1e-9)
    swept = integral(design.meridian, lambda p, t: 2 * pi * p[:, 0] * t[:, 0])
    assert swept == pytest.approx(pi * (last[0] ** 2 - first[0] ** 2), rel=1e-9)
    runs = [piece.zone.name for piece in design.meridian]
    assert len([1 for a, b in pairwise(runs) if a != b]) + 1 == len(set(runs))  # each zone in one go
    if not [note for note in design.notes if "edge" not in note]:
        assert max(kinks(design), default=0.0) < 0.026  # rad; 0.1/4 of a turn is not worth a fillet


@pytest.mark.parametrize("surround", [None, {"kind": "flat", "width": "2 mm"}])
@pytest.mark.parametrize(("distance", "tread", "width"), [
    ("2.92 mm", "1.98 mm", "4.9 mm"),  # 2.92 + 1.98 is 4.8999999999999995 in binary
    ("0.1 mm", "0.2 mm", "0.3 mm"),  # and 0.1 + 0.2 is 0.30000000000000004
    ("2 mm", "1 mm", "3 mm"),
])  # fmt: skip
def test_a_step_may_end_where_its_flank_does(distance, tread, width, surround):
    """What rounding leaves between the two is no piece of wall."""
    flank = {"width": width, "rise": "1 mm", "steps": [{"distance": distance, "tread": tread, "rise": "0.1 mm"}]}
    flank |= {} if surround is None else {"surround": surround}
    profile = {"kind": "v", "coil_diameter": "44 mm", "corner_radius": "0 mm", "outer": flank}
    design = design_from({"wall": {"material": "PEN film", "thickness": "20 um"}, "profile": profile})
    names = [zone.name for zone in design.zones]
    assert names == ["outer driven zone", "outer step", *(["outer surround"] if surround else [])]
    assert all(piece.curve.length > 1e-4 for piece in design.meridian)
    last = design.meridian[1].curve
    assert tuple(last.point(last.length)) == pytest.approx((22e-3 + float(width.split()[0]) * 1e-3, 1e-3), rel=1e-14)


def test_steps_that_touch_are_one_step_too_many():
    steps = [{"distance": "0.1 mm", "tread": "0.2 mm", "rise": "0 mm"}, {"distance": "0.3 mm", "tread": "0.1 mm"}]
    steps[1]["rise"] = "0 mm"
    flank = {"width": "3 mm", "rise": "1 mm", "steps": steps}
    data = {"wall": {"material": "PEN film", "thickness": "20 um"}}
    with pytest.raises(DesignError, match=r"steps\[1\]\.distance: the step must begin beyond the far edge"):
        design_from(data | {"profile": {"kind": "v", "coil_diameter": "44 mm", "outer": flank}})


def test_a_name_that_comes_again_is_told():
    """A flank beyond a step that bears the name of the one before it counts as driven; surrounds may share theirs."""

    def notes(*zones):
        r, z = [f"{x} mm" for x in (10, 12, 20, 22, 28, 30)], ["0 mm", "0 mm", "4 mm", "5 mm", "8 mm", "8 mm"]
        walls = {"thickness": ["0.2 mm"] * 6, "material": ["paper"] * 6, "zone": [*zones, zones[-1]]}
        return design_from({"profile": {"kind": "free", "r": r, "z": z, **walls}}).notes

    told = "the zone 'cone' is drawn in 2 stretches with others between, and its figures are of all of them together"
    assert any(told in note for note in notes("surround", "cone", "step", "cone", "surround"))
    apart = notes("surround", "cone", "step", "cone beyond step", "surround")
    assert not any("stretches" in note for note in apart)


def test_zones_whose_names_say_nothing_are_told():
    """A cap and an edge: neither counts among what follows the coil, nor as what carries it."""
    points = {
        "r": ["0 mm", "10 mm", "30 mm", "37 mm"],
        "z": ["3 mm", "0 mm", "9 mm", "9 mm"],
        "material": ["paper"] * 4,
    }

    def notes(*zones, **more):
        profile = {"kind": "free", **points, "thickness": ["0.2 mm"] * 4, "zone": [*zones, zones[-1]], **more}
        return [note for note in design_from({"profile": profile}).notes if "say no role" in note]

    (told,) = notes("cap", "cone", "foam edge")
    assert told.endswith(" of these: 'cap', 'foam edge'; give them roles, or names that do")
    assert "no role (by driven, dome, cone, flank, step, surround, roll or beyond), and" in told  # which do, was unsaid
    assert notes("cone cap", "cone", "surround") == notes("wall", "wall", "wall") == []
    assert notes("cap", "cone", "foam edge", role=["driven", "", "surround", ""]) == []
    assert notes("cap", "cone", "foam edge", role=["other", "", "surround", ""]) == []  # as is meant
    (told,) = notes("ring near the coil", "cone", "surround")
    assert told.endswith(" of these: 'ring near the coil'; give them roles, or names that do")
    (told,) = notes("cap", "paper", "surround")  # were said to count as nothing while a verdict called them driven
    assert " which count as driven, since no zone is: 'cap', 'paper'; give them" in told


def test_of_many_zones_whose_names_say_nothing_four_are_named():
    """Eight of a driver took three lines of its first screen, and brought it to 26."""
    count = 8
    profile = {
        "kind": "free", "r": [f"{5 * k} mm" for k in range(count + 1)], "z": ["0 mm"] * (count + 1),
        "zone": [f"part {chr(97 + k)}" for k in range(count)] + ["part h"], "material": ["paper"] * (count + 1),
        "thickness": ["0.2 mm"] * (count + 1),
    }  # fmt: skip
    (told,) = [note for note in design_from({"profile": profile}).notes if "say no role" in note]
    assert ": 'part a', 'part b', 'part c', 'part d' and 4 more; give them roles" in told


def test_a_wall_named_after_the_coil_moves_air():
    """A ring "close to the coil" counted as the coil's: of an area of 28.1 cm2 2.9 were left out without a word."""
    assert zone_named("third ring, close to the coil").radiates and zone_named("flank above the former").radiates
    assert not zone_named("tube", "coil").radiates  # as is meant


def test_what_fillets_hardly_leave_is_left_out():
    """A lip of which the corner beside it takes all but 8e-13 m: as an element it moved modes by 1e-5 and more."""
    steps = [
        {"distance": "0.891 mm", "tread": "0.547 mm", "rise": "0.242 mm"},
        {"distance": "2.016 mm", "tread": "2.109 mm", "rise": "-0.719 mm"},
    ]
    rolls = {"kind": "rolls", "width": "0.45 mm", "height": "0.2 mm", "count": 2}
    outer = {"width": "7.1003999 mm", "rise": "4.808 mm", "steps": steps, "surround": rolls}
    design = design_from(vee({"width": "1.0 mm", "rise": "0.0 mm", "steps": []}, outer, coil_diameter="60 mm"))
    corner, roll, lip = [piece.curve for piece in design.meridian if piece.zone.role is Role.SURROUND][:3]
    assert isinstance(corner, Arc) and isinstance(roll, Arc) and lip.length == pytest.approx(87.5e-6, rel=1e-6)
    check_joined(design)
