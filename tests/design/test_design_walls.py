"""Walls, coil and drive circle of drawn designs, and free meridians."""

from copy import deepcopy
from itertools import pairwise
from math import acos, asin, degrees, pi

import numpy as np
import pytest
from design_cases import FLANK, check_joined, dome, ends, kinks, vee
from free_designs import free_design

from diaphragm_fem.design.library.library import load_materials
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.design.read.read import design_from
from diaphragm_fem.errors import DesignError


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


def test_a_zone_that_the_drive_circle_cuts_tapers_as_most_of_it_lies():
    """Of a V whose coil is 0.2 mm smaller than its kink the outer driven zone begins inside the coil, and tapers on
    outward; of one whose coil is larger the inner one goes on inward. Either was turned round as a whole."""
    tapered = {"thickness": ["80 um", "60 um"], "width": "9 mm", "rise": "4 mm"}
    for diameter in ("39.8 mm", "40.2 mm"):
        coil = {"kind": "ring", "diameter": diameter, "mass": "1 g"}
        pieces = design_from({**vee(tapered, tapered), "coil": coil}).meridian
        ends = [float(pieces[0].wall.thickness(0.0)), float(pieces[-1].wall.thickness(1.0))]
        assert ends == pytest.approx([60e-6, 60e-6], rel=1e-9)
        for a, b in pairwise(pieces):
            assert a.wall.thickness(1.0) == pytest.approx(b.wall.thickness(0.0), rel=1e-9)


def test_layers_that_lie_on_their_like_are_one_wall():
    """Of one material they part nothing: common practice, no source."""
    layers = [
        {"material": "PEN film", "thickness": ["40 um", "30 um"]},
        {"material": "PEN film", "thickness": "20 um"},
        {"material": "aluminium alloy", "thickness": "10 um"},
    ]
    pieces = design_from({**vee(FLANK, FLANK), "wall": {"layers": layers}}).meridian
    assert {tuple(layer.material.name for layer in piece.wall.layers) for piece in pieces} == {
        ("PEN film", "aluminium alloy")
    }
    assert float(pieces[-1].wall.layers[0].thickness(1.0)) == pytest.approx(50e-6, rel=1e-12)
    one = design_from({**vee(FLANK, FLANK), "wall": {"material": "PEN film", "thickness": "60 um"}})
    two = design_from({**vee(FLANK, FLANK), "wall": {"layers": [{"material": "PEN film", "thickness": "30 um"}] * 2}})
    assert two.meridian == one.meridian


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


@pytest.mark.parametrize(
    "wire, turns, middle",
    [  # on a former of 0.1 mm, 3 mm high: one layer of 15 turns, two, and two inside
        ({}, 15, 20e-3 + 0.05e-3 + 0.1e-3),
        ({}, 16, 20e-3 + 0.05e-3 + 0.2e-3),
        ({"side": "inside"}, 30, 20e-3 - 0.05e-3 - 0.2e-3),
    ],
)
def test_winding_mass_and_hoop_stiffness_follow_from_the_wire(wire, turns, middle):
    """A = n pi d^2/4; each turn is 2 pi R long. Its hoop energy for a widening u, E A (u/R)^2/2 over that length, is
    that of the told stiffness on the former's middle r (exact: geometry)."""
    winding = wound({"diameter": "0.2 mm", "turns": turns} | wire)
    copper = load_materials()["copper wire"]
    area = turns * pi * 0.2e-3**2 / 4
    assert winding.mass == pytest.approx(copper.density * area * 2 * pi * middle, rel=1e-12)
    assert winding.hoop_stiffness / 20e-3 == pytest.approx(copper.youngs_modulus * area / middle, rel=1e-12)
    assert winding.inside == ("side" in wire)


def wound(wire, **changed):
    """The winding of that wire on the former of these tests."""
    coil = {key: value for key, value in FORMER.items() if key != "winding_mass"} | {"wire": wire} | changed
    return next(p.winding for p in design_from({**vee(FLANK, FLANK), "coil": coil}).former if p.winding)


@pytest.mark.parametrize(
    "wire, refused",
    [
        ({"diameter": "1.2 mm", "turns": 1}, r"at least one wire high, received 1 mm for a wire of 1\.2 mm"),
        ({"diameter": "1 mm", "turns": 20, "side": "inside"}, "coil.wire.side: inside .* there must be room for 20"),
    ],
)
def test_a_wire_that_finds_no_room_is_refused(wire, refused):
    with pytest.raises(DesignError, match=refused):
        wound(wire, winding_height="1 mm")


def test_a_ring_of_a_given_mass_has_the_hoop_of_its_conductor():
    """m = rho A 2 pi r."""
    copper = load_materials()["copper wire"]
    ring = {"kind": "ring", "mass": "1 g"}
    assert design_from({**vee(FLANK, FLANK), "coil": ring}).ring.hoop_stiffness == pytest.approx(
        copper.youngs_modulus * 1e-3 / (copper.density * 2 * pi * 20e-3), rel=1e-12
    )
    soft = design_from({**vee(FLANK, FLANK), "coil": ring | {"hoop_stiffness": "0 N"}}).ring
    assert soft.hoop_stiffness == 0 and soft.mass == pytest.approx(1e-3)


def test_drive_circle_of_given_diameter_cuts_the_meridian():
    design = design_from({**dome(), "coil": {"kind": "none", "diameter": "20 mm"}})
    assert design.joint == 1 and design.joint_radius == pytest.approx(10e-3, rel=1e-12)
    radius = (12.5e-3**2 + 6e-3**2) / 12e-3
    height = radius * np.cos(asin(10e-3 / radius)) - (radius - 6e-3)
    assert ends(design.meridian[1])[0][1] == pytest.approx(height, rel=1e-12)


def test_a_wall_that_tapers_goes_on_so_where_the_drive_circle_cuts_it():
    """From 300 um at 10 mm to 100 um at 30 mm: 250 um at 15 mm, on both sides of it."""
    points = {"r": ["10 mm", "30 mm"], "z": ["0 mm"] * 2, "thickness": ["300 um", "100 um"], "material": ["paper"] * 2}
    ring = {"kind": "ring", "diameter": "30 mm", "mass": "0.8 g"}
    design = design_from({"coil": ring, "profile": {"kind": "free", "zone": ["cone"] * 2, **points}})
    ends = [(float(x.wall.thickness(0.0)), float(x.wall.thickness(1.0))) for x in design.meridian]
    assert design.joint == 1 and np.ravel(ends) == pytest.approx([300e-6, 250e-6, 250e-6, 100e-6], rel=1e-12)


@pytest.mark.parametrize(("off_um", "pieces"), [(0.0, 2), (0.9, 2), (-0.9, 2), (1.2, 3), (-1.2, 3)])
def test_a_drive_circle_beside_a_drawn_point_is_at_it_within_a_fiftieth_of_the_wall(off_um, pieces):
    """Of film of 50 um that meets another material there: where it is not cut off a sliver, that is told."""
    points = {"r": ["10 mm", "15 mm", "30 mm"], "z": ["0 mm"] * 3, "thickness": ["50 um"] * 3, "zone": ["cone"] * 3}
    ring = {"kind": "ring", "diameter": f"{30 + 2e-3 * off_um:.6g} mm", "mass": "0.8 g"}
    material = ["paper", "PET film", "PET film"]
    design = design_from({"coil": ring, "profile": {"kind": "free", "material": material, **points}})
    told = [note for note in design.notes if "the drive circle is at the end of a stretch 0.9 um beside it" in note]
    assert len(design.meridian) == pieces and bool(told) == (abs(off_um) == 0.9)
    assert design.joint_radius == pytest.approx(15e-3 + (pieces > 2) * off_um * 1e-6, abs=1e-12)


def test_a_coil_stays_on_its_rim_where_a_roll_stands_upright_on_it():
    """A roll higher than half its width has its fillet inside the rim. Cut in its middle, the coil was 0.26 mm smaller
    from 2.05 mm of height on, and a metal dome's break-up mode jumped from 11.7 to 20.3 kHz."""
    lengths = []
    for height in ("1.5 mm", "2.04 mm", "2.06 mm", "2.5 mm"):
        profile = {"kind": "dome", "rim_diameter": "25 mm", "height": "6 mm"}
        profile |= {"surround": {"kind": "half-roll", "width": "3 mm", "height": height}}
        coil, wall = {"kind": "ring", "mass": "0.3 g"}, {"material": "PET film", "thickness": "50 um"}
        design = design_from({"coil": coil, "profile": profile, "wall": wall})
        assert design.joint_radius == pytest.approx(12.5e-3, abs=1e-12)
        check_joined(design)
        lengths.append(sum(piece.curve.length for piece in design.meridian if piece.zone.name == "dome"))
    assert lengths[1] == pytest.approx(lengths[2], rel=1e-3)


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


def test_thickness_does_not_run_on_into_another_material():
    """Paper ends as thick as it began where thick foam is glued on; in one material the slope goes on over zones."""
    film, foam = load_materials()["PEN film"], load_materials()["butyl rubber"]
    r, thickness = np.array([10, 20, 30, 34, 38]) * 1e-3, np.array([100, 200, 200, 900, 900]) * 1e-6
    names = ["cone", "rim", "rim", "surround", "surround"]
    design = free_design(r, r * 0, thickness, [film] * 3 + [foam] * 2, zone=names)
    assert [piece.zone.name for piece in design.meridian] == ["cone", "rim", "surround"]
    walls = [piece.wall.thickness(end) for piece in design.meridian for end in (0.0, 1.0)]
    assert walls == pytest.approx([100e-6, 200e-6, 200e-6, 200e-6, 900e-6, 900e-6])
    one = free_design(r, r * 0, thickness, film, zone=names)
    assert [piece.wall.thickness(1.0) for piece in one.meridian] == pytest.approx([200e-6, 200e-6, 900e-6, 900e-6])


def test_a_curve_given_by_too_few_points_is_told():
    """A half-roll of eight chords turns by 22.5 degrees at each point; the corners of a step are no such curve."""
    film = load_materials()["PEN film"]

    def notes(r, z, **more):
        design = free_design(np.array(r) * 1e-3, np.array(z) * 1e-3, 60e-6, film, **more)
        return [note for note in design.notes if "kink" in note]

    angle = np.linspace(pi, 0, 9)
    roll = [10, *(24 + 4 * np.cos(angle))], [0, *(4 * np.sin(angle))]
    (told,) = notes(*roll)
    assert told.startswith("from point 2, to point 8, every point turns by more than kink_angle = 15 deg, 22.5 deg at")
    assert notes(*roll, kink_angle=pi * 23 / 180) == []
    assert notes([10, 14, 14.5, 16, 16.5, 20], [0, 0, 0.2, 0.2, 0, 0]) == []


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


@pytest.mark.parametrize("table", ["material", "thickness"])
def test_points_give_the_one_and_the_table_the_other(table):
    """It was refused: the table lacked what every point had."""
    points = {"kind": "free", "r": ["0 mm", "12 mm", "28 mm"], "z": ["4 mm", "0 mm", "9 mm"]}
    own = {"thickness": ["0.2 mm", "0.2 mm", "0.2 mm"], "material": ["paper"] * 3}
    both = design_from({"profile": {**points, **own}})
    wall = {table: own.pop(table)[0]}
    assert design_from({"profile": {**points, **own}, "wall": wall}).meridian == both.meridian


def _by_points(**more):
    """Three straight stretches of one cone, each point with a thickness and a material, and a roll beyond them."""
    points = {
        "r": ["0 mm", "10 mm", "20 mm", "30 mm", "34 mm"],
        "z": ["0 mm", "4 mm", "4 mm", "9 mm", "9 mm"],
        "zone": [*["cone"] * 3, "edge roll", "edge roll"],
        "thickness": ["100 um", "120 um", "100 um", "200 um", "200 um"],
        "material": [*["paper"] * 3, "nitrile rubber", "nitrile rubber"],
    }
    left_out = more.pop("without", ())
    return {"profile": {"kind": "free"} | {key: of for key, of in points.items() if key not in left_out}, **more}


def test_a_zones_own_table_goes_before_its_points():
    """As its key says: it was left aside without a word where points gave one, and compare --try changed nothing."""
    design = design_from(_by_points(zones={"cone": {"thickness": "0.3 mm"}}))
    assert [round(1e6 * piece.wall.thickness(0.5)) for piece in design.meridian] == [300, 300, 300, 200]
    assert {piece.wall.layers[0].material.name for piece in design.meridian} == {"paper", "nitrile rubber"}
    design = design_from(_by_points(zones={"cone": {"material": "PEN film"}}))
    assert [round(1e6 * piece.wall.thickness(0.5)) for piece in design.meridian] == [110, 110, 100, 200]
    assert design.meridian[0].wall.layers[0].material.name == "PEN film"
    layers = [{"material": "paper", "thickness": "80 um"}, {"material": "PEN film", "thickness": "20 um"}]
    design = design_from(_by_points(zones={"cone": {"layers": layers}}))
    assert [len(piece.wall.layers) for piece in design.meridian] == [2, 2, 2, 1]


def test_a_zone_tapers_once_along_all_of_it_where_points_give_its_material():
    """Each of its stretches ran from the first thickness to the last, a saw; by arc length (chords of the points)."""
    tables = {"cone": {"thickness": ["100 um", "400 um"]}, "edge roll": {"thickness": "0.2 mm"}}
    for without in (("thickness",), ()):
        design = design_from(_by_points(without=without, zones=tables))
        length = np.cumsum([0.0, *(piece.curve.length for piece in design.meridian[:3])])
        for piece, first, last in zip(design.meridian, length, length[1:], strict=False):
            ends = [float(1e6 * piece.wall.thickness(share)) for share in (0.0, 1.0)]
            assert ends == pytest.approx([100 + 300 * at / length[-1] for at in (first, last)], rel=1e-9)


def test_an_edge_to_which_a_drawn_surround_leads_is_clamped():
    """As edges.outer says of every profile: of points and drawings it was free."""
    assert design_from(_by_points()).outer_edge == CLAMPED
    assert design_from(_by_points(without=("zone",))).outer_edge == FREE


def test_a_thickness_that_no_zone_takes_is_told():
    def told(**more):
        notes = design_from(_by_points(wall={"material": "paper", "thickness": "0.1 mm"}, **more)).notes
        return [note for note in notes if note.startswith("no zone takes the thickness of the table [wall]")]

    assert len(told()) == 1 and told(without=("thickness",)) == []
    cone = {"cone": {"thickness": "0.3 mm"}}  # which hid that the roll took its points'
    assert len(told(zones=cone)) == 1 and told(zones=cone, without=("thickness",)) == []


@pytest.mark.parametrize(
    ("former", "lacks"), [({"thickness": "50 um"}, "material"), ({"material": "paper"}, "thickness")]
)
def test_a_former_takes_nothing_from_the_diaphragms_wall_and_is_asked_for_its_own(former, lacks):
    """It was sent to the table [wall], which a former does not ask."""
    coil = {"kind": "former", "former": former, "former_height": "5 mm", "winding_mass": "0.3 g"}
    with pytest.raises(DesignError, match=rf"coil\.former\.{lacks}: the zone 'former' has no {lacks}; give one, such"):
        design_from({**dome(), "coil": {**coil, "winding_height": "2 mm"}})
