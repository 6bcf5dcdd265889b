"""Geometry of drawn meridians against closed forms."""

from copy import deepcopy
from itertools import pairwise
from math import acos, asin, atan2, degrees, hypot, pi, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diaphragm_fem.design.curve import Arc, Line, freeform_from
from diaphragm_fem.design.fillet import fillet
from diaphragm_fem.design.library import load_materials
from diaphragm_fem.design.read import design_from, free_design
from diaphragm_fem.design.zone import Role

WALL = {"material": "PEN film", "thickness": "60 um"}
SHARP = {"corner_radius": "0 mm"}


def mm(value):
    return f"{value!r} mm"


def dome(**keys):
    return {"wall": WALL, "profile": {"kind": "dome", "rim_diameter": "25 mm", "height": "6 mm", **keys}}


def vee(inner=None, outer=None, **keys):
    profile = {"kind": "v", "coil_diameter": "40 mm", **keys}
    profile |= {"inner": inner} if inner else {}
    profile |= {"outer": outer} if outer else {}
    return {"wall": WALL, "profile": profile}


def ends(piece):
    return piece.curve.point(0.0), piece.curve.point(piece.curve.length)


def integral(pieces, value):
    """Integral of value(points, tangents) along the pieces by 20-point Gauss: exact to rounding for lines and arcs."""
    nodes, weights = np.polynomial.legendre.leggauss(20)
    total = 0.0
    for piece in pieces:
        s = piece.curve.length * (nodes + 1) / 2
        total += piece.curve.length / 2 * float(weights @ value(piece.curve.point(s), piece.curve.tangent(s)))
    return total


def surface(pieces):
    return integral(pieces, lambda p, t: 2 * pi * p[:, 0])


def volume(pieces):
    """Volume between the surface and the plane z = 0: integral of 2 pi r z dr."""
    return integral(pieces, lambda p, t: 2 * pi * p[:, 0] * p[:, 1] * t[:, 0])


def check_joined(design):
    for a, b in pairwise(design.meridian):
        assert np.linalg.norm(ends(a)[1] - ends(b)[0]) < 1e-12
    for a, b in pairwise(design.former):
        assert np.linalg.norm(ends(a)[1] - ends(b)[0]) < 1e-12


def kinks(design):
    """Turn in radians at each border between pieces."""
    found = []
    for a, b in pairwise(design.meridian):
        t, u = a.curve.tangent(a.curve.length), b.curve.tangent(0.0)
        found.append(abs(atan2(t[0] * u[1] - t[1] * u[0], t @ u)))
    return found


# ---------------------------------------------------------------- families


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


FLANK = {
    "width": "9 mm",
    "rise": "4 mm",
    "steps": [
        {"distance": "3 mm", "tread": "1.2 mm", "rise": "0 mm"},
        {"distance": "6 mm", "tread": "0.8 mm", "rise": "0.1 mm"},
    ],
    "surround": {"kind": "half-roll", "width": "2.5 mm"},
}


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


def test_dome_step_lifts_what_lies_within():
    step = {"distance": "4 mm", "tread": "1 mm", "rise": "0.3 mm"}
    design = design_from(dome(steps=[step], **SHARP))
    assert [piece.zone.name for piece in design.meridian] == ["dome centre", "dome step", "dome driven zone"]
    check_joined(design)
    (near_r, near_z), (far_r, far_z) = ends(design.meridian[1])[1], ends(design.meridian[1])[0]
    assert (near_r, far_r) == pytest.approx((8.5e-3, 7.5e-3), rel=1e-12)
    assert far_z - near_z == pytest.approx(0.3e-3, rel=1e-9)


# ---------------------------------------------------------------- corners


def test_rounded_corner_of_two_lines():
    """Fillet of radius rho at a turn theta: each side loses rho tan(theta/2), the arc is rho theta long."""
    design = design_from(
        vee(outer={"width": "9 mm", "rise": "9 mm"}, inner={"width": "9 mm", "rise": "9 mm"}, bottom_radius="1 mm")
    )
    arcs = [piece for piece in design.meridian if isinstance(piece.curve, Arc)]
    assert sum(piece.curve.length for piece in arcs) == pytest.approx(1e-3 * pi / 2, rel=1e-12)
    assert design.meridian[0].curve.length == pytest.approx(9e-3 * sqrt(2) - 1e-3, rel=1e-12)  # tan(45 deg) = 1
    assert ends(design.meridian[design.joint])[0] == pytest.approx([20e-3, 1e-3 * (sqrt(2) - 1)], rel=1e-12)


CURVES = {
    "line": lambda: Line((0.0, 0.0), (10.0, 0.0)),
    "arc left": lambda: Arc((10.0, 8.0), 8.0, -pi / 2 - 1.0, 1.0),
    "arc right": lambda: Arc((10.0, -8.0), 8.0, pi / 2 + 1.0, -1.0),
    "ellipse": lambda: freeform_from(
        lambda t: np.stack((10 * np.sin(t), 4 * np.cos(t) - 4), -1), np.linspace(-1.2, 0, 9)
    ),
}


def turned(curve, angle):
    """The curve run backward from where it ends and turned about there: the second side of a corner."""
    back = curve.reverse()
    end = back.point(0.0)
    spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])

    def place(p):
        return end + spin @ (np.asarray(p) - end)

    if isinstance(back, Line):
        return Line(tuple(place(back.begin)), tuple(place(back.end)))
    if isinstance(back, Arc):
        return Arc(tuple(place(back.centre)), back.radius, back.start + angle, back.sweep)
    return freeform_from(lambda s: end + (back.point(s) - end) @ spin.T, np.linspace(0, back.length, 9))


@pytest.mark.parametrize("first", CURVES)
@pytest.mark.parametrize("second", CURVES)
@pytest.mark.parametrize("angle", [2.6, 2.0, -2.0, 1.0, -1.0])
def test_fillet_touches_both_curves(first, second, angle):
    """On lines, arcs and free curves alike the fillet begins and ends on the curves with their tangents."""
    a = CURVES[first]()
    other = CURVES[second]()
    ended = a.point(a.length)
    assert other.point(other.length) == pytest.approx([10, 0], abs=1e-5) or second == "ellipse"
    b = turned(other, angle)
    if second == "ellipse" or first == "ellipse":
        shift = ended - b.point(0.0)
        if isinstance(b, Line):
            b = Line(tuple(np.array(b.begin) + shift), tuple(np.array(b.end) + shift))
        elif isinstance(b, Arc):
            b = Arc(tuple(np.array(b.centre) + shift), b.radius, b.start, b.sweep)
        else:
            base = b
            b = freeform_from(lambda s: base.point(s) + shift, np.linspace(0, base.length, 9))
    radius = 0.4
    found = fillet(a, b, radius)
    assert found is not None
    s1, s2 = a.length - found.cut_first, found.cut_second
    assert found.arc.radius == radius
    assert found.arc.point(0.0) == pytest.approx(a.point(s1), abs=1e-9)
    assert found.arc.point(found.arc.length) == pytest.approx(b.point(s2), abs=1e-9)
    assert found.arc.tangent(0.0) == pytest.approx(a.tangent(s1), abs=1e-6)
    assert found.arc.tangent(found.arc.length) == pytest.approx(b.tangent(s2), abs=1e-6)
    assert 0 < found.cut_first < 0.5 * a.length and 0 < found.cut_second < 0.5 * b.length


def test_default_corners_leave_no_kink():
    design = design_from(
        vee(FLANK, FLANK | {"surround": {"kind": "half-roll", "width": "2.5 mm", "direction": "down"}})
    )
    assert max(kinks(design)) < 1e-7  # 1e-7 rad over an arc of 0.1 mm is far below the film's own tolerance
    radii = {round(p.curve.radius * 1e3, 9) for p in design.meridian if isinstance(p.curve, Arc)} - {1.25}
    assert radii == {0.24}  # four walls of 60 um


def test_default_corner_shrinks_to_fit_and_says_so():
    step = {"distance": "3 mm", "tread": "0.1 mm", "rise": "0 mm"}
    design = design_from(vee(outer={"width": "6 mm", "rise": "6 mm", "steps": [step]}))
    assert any("'outer step'" in note and "the largest that fits, instead of 0.24 mm" in note for note in design.notes)
    assert max(kinks(design)) < 1e-7
    check_joined(design)


def test_fillet_halves_belong_to_their_neighbours():
    design = design_from(vee(outer=FLANK))
    for a, b in pairwise(design.meridian):
        if a.zone != b.zone:
            assert isinstance(a.curve, Arc) and isinstance(b.curve, Arc)
            assert a.curve.length == pytest.approx(b.curve.length, rel=1e-9)


# ---------------------------------------------------------------- walls, coil, drive


def test_taper_runs_from_the_coil_to_the_far_end():
    tapered = {"thickness": ["80 um", "60 um"], "width": "9 mm", "rise": "4 mm"}
    design = design_from(vee(tapered, tapered))
    pieces, joint = design.meridian, design.joint
    assert pieces[0].wall.thickness(0.0) == pytest.approx(60e-6)
    assert pieces[joint - 1].wall.thickness(1.0) == pytest.approx(80e-6)
    assert pieces[joint].wall.thickness(0.0) == pytest.approx(80e-6)
    assert pieces[-1].wall.thickness(1.0) == pytest.approx(60e-6)
    for a, b in pairwise(pieces):
        assert a.wall.thickness(1.0) == pytest.approx(b.wall.thickness(0.0), rel=1e-12)
    lengths = np.array([piece.curve.length for piece in pieces[joint:]])
    share = lengths[0] / lengths.sum()
    assert pieces[joint].wall.thickness(1.0) == pytest.approx((80 - 20 * share) * 1e-6, rel=1e-12)


def test_layers_stay_in_place_on_both_flanks():
    layers = [
        {"material": "PEN film", "thickness": ["40 um", "30 um"]},
        {"material": "aluminium alloy", "thickness": "10 um"},
    ]
    design = design_from({**vee(FLANK, FLANK), "wall": {"layers": layers}})
    for piece in design.meridian:
        assert [layer.material.name for layer in piece.wall.layers] == ["PEN film", "aluminium alloy"]
    assert design.meridian[design.joint - 1].wall.layers[0].end_thickness == pytest.approx(40e-6)


def test_nearest_wall_table_wins():
    data = vee(FLANK | {"thickness": "50 um"}, deepcopy(FLANK))
    data["profile"]["outer"]["steps"][0] |= {"material": "thermoplastic elastomer", "thickness": "100 um"}
    data["zones"] = {"inner step": {"thickness": "25 um"}}
    walls = {piece.zone.name: piece.wall.layers[0] for piece in design_from(data).meridian}
    thickness = {name: round(layer.begin_thickness * 1e6) for name, layer in walls.items()}
    assert thickness["inner step"] == 25
    assert thickness["inner driven zone"] == thickness["inner flank beyond step"] == 50
    assert thickness["outer driven zone"] == thickness["inner surround"] == 60
    assert (thickness["outer step"], walls["outer step"].material.name) == (100, "thermoplastic elastomer")


FORMER = {
    "kind": "former",
    "winding_mass": "2 g",
    "winding_height": "3 mm",
    "winding_distance": "2 mm",
    "former_height": "7 mm",
    "former": {"material": "polyimide film", "thickness": "100 um"},
}


def test_former_hangs_from_the_joint():
    design = design_from({**vee(FLANK, FLANK), "coil": FORMER})
    joint = ends(design.meridian[design.joint])[0]
    assert [piece.zone.name for piece in design.former] == ["former", "winding", "former"]
    assert ends(design.former[0])[0] == pytest.approx(joint, abs=1e-15)
    assert [piece.curve.length for piece in design.former] == pytest.approx([2e-3, 3e-3, 2e-3], rel=1e-12)
    assert ends(design.former[-1])[1] == pytest.approx(joint - [0, 7e-3], abs=1e-15)
    assert all(piece.curve.tangent(0.0) == pytest.approx([0, -1]) for piece in design.former)
    check_joined(design)


def test_winding_mass_and_hoop_stiffness_follow_from_the_wire():
    """A = n pi d^2 / 4, m = rho A 2 pi r, and the same mass given plainly has the same E A."""
    coil = {key: value for key, value in FORMER.items() if key != "winding_mass"} | {
        "wire": {"diameter": "0.2 mm", "turns": 60}
    }
    copper = load_materials()["copper wire"]
    area = 60 * pi * 0.2e-3**2 / 4
    winding = next(p.winding for p in design_from({**vee(FLANK, FLANK), "coil": coil}).former if p.winding)
    assert winding.mass == pytest.approx(copper.density * area * 2 * pi * 20e-3, rel=1e-12)
    assert winding.hoop_stiffness == pytest.approx(copper.youngs_modulus * area, rel=1e-12)
    ring = {"kind": "ring", "mass": f"{winding.mass!r} kg"}
    assert design_from({**vee(FLANK, FLANK), "coil": ring}).ring.hoop_stiffness == pytest.approx(
        winding.hoop_stiffness, rel=1e-12
    )
    soft = design_from({**vee(FLANK, FLANK), "coil": ring | {"hoop_stiffness": "0 N"}}).ring
    assert soft.hoop_stiffness == 0 and soft.mass == pytest.approx(winding.mass)


def test_drive_circle_of_given_diameter_cuts_the_meridian():
    design = design_from({**dome(), "coil": {"kind": "none", "diameter": "20 mm"}})
    assert design.joint == 1 and design.joint_radius == pytest.approx(10e-3, rel=1e-12)
    radius = (12.5e-3**2 + 6e-3**2) / 12e-3
    height = radius * np.cos(asin(10e-3 / radius)) - (radius - 6e-3)
    assert ends(design.meridian[1])[0][1] == pytest.approx(height, rel=1e-12)


def test_lopsided_v_is_cut_at_the_coil_radius_and_not_at_the_middle_of_its_corner():
    design = design_from(
        vee({"width": "9 mm", "rise": "2 mm"}, {"width": "9 mm", "rise": "12 mm"}, bottom_radius="1 mm")
    )
    first, second = design.meridian[design.joint - 1], design.meridian[design.joint]
    assert isinstance(first.curve, Arc) and isinstance(second.curve, Arc)
    assert design.joint_radius == pytest.approx(20e-3, rel=1e-12)
    assert abs(first.curve.length - second.curve.length) > 0.05e-3


def test_flank_may_end_on_the_axis():
    design = design_from(vee({"width": "20 mm", "rise": "5 mm"}, FLANK))
    assert ends(design.meridian[0])[0][0] == pytest.approx(0, abs=1e-15) and design.inner_edge is None
    assert design.meridian[0].curve.tangent(0.0) == pytest.approx([1, 0], abs=1e-9)  # the tip is rounded


# ---------------------------------------------------------------- any valid V


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
    assert all(piece.curve.length > 1e-7 for piece in design.meridian)
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
    if not design.notes:
        assert max(kinks(design), default=0.0) < 0.026  # rad; 0.1/4 of a turn is not worth a fillet


# ---------------------------------------------------------------- free meridian


def test_free_points_make_lines_curves_and_kinks():
    film = load_materials()["PEN film"]
    angle = np.linspace(0, pi / 3, 13)
    r = np.concatenate((10e-3 * np.sin(angle), [10e-3 * np.sin(pi / 3)] * 2))
    z = np.concatenate((10e-3 * np.cos(angle), [2e-3, 0.0]))
    design = free_design(r, z, 60e-6, film, zone=["dome"] * 12 + ["outer cylinder"] * 3)
    assert [piece.zone.name for piece in design.meridian] == ["dome", "outer cylinder"]
    cap, cylinder = design.meridian
    assert isinstance(cylinder.curve, Line) and cylinder.curve.length == pytest.approx(5e-3, rel=1e-12)
    assert cap.curve.length == pytest.approx(
        10e-3 * pi / 3, rel=1e-5
    )  # cubic spline, 5 deg a chord: error of order (5 deg)^4
    assert degrees(kinks(design)[0]) == pytest.approx(30, abs=0.1)
    assert (cap.zone.role, cylinder.zone.role, cylinder.zone.side) == (Role.DRIVEN, Role.OTHER, "outer")
    assert design.inner_edge is None and design.joint is None


def test_free_thickness_follows_its_points():
    film = load_materials()["PEN film"]
    r = np.array([10, 12, 14, 16, 20]) * 1e-3
    design = free_design(r, r * 0, np.array([50, 50, 50, 60, 80]) * 1e-6, film)
    assert len(design.meridian) == 2  # constant to 14 mm, then one slope
    assert [ends(piece)[1][0] for piece in design.meridian] == pytest.approx([14e-3, 20e-3])
    assert design.meridian[1].wall.thickness(1 / 3) == pytest.approx(60e-6)


def test_free_kinks_can_be_rounded():
    film = load_materials()["PEN film"]
    design = free_design([10e-3, 15e-3, 15e-3], [0.0, 0.0, 5e-3], 60e-6, film, corner_radius=1e-3)
    assert max(kinks(design)) < 1e-12
    assert sum(p.curve.length for p in design.meridian) == pytest.approx(8e-3 + 1e-3 * pi / 2, rel=1e-12)


def test_curve_is_one_and_the_same_across_a_zone_border():
    film = load_materials()["PEN film"]
    angle = np.linspace(0, pi / 3, 13)
    zones = ["centre"] * 6 + ["rim"] * 7
    design = free_design(10e-3 * np.sin(angle), 10e-3 * np.cos(angle), 60e-6, film, zone=zones)
    assert len(design.meridian) == 2 and kinks(design)[0] < 1e-12
    assert ends(design.meridian[0])[1] == pytest.approx([10e-3 * np.sin(angle[6]), 10e-3 * np.cos(angle[6])], abs=1e-12)
    check_joined(design)
    assert acos(np.clip(design.meridian[0].curve.tangent(0.0)[0], -1, 1)) < 0.01
