"""Meridians from drawings: each kind of entity by its exact place, each refusal with the coordinates it must name."""

from itertools import pairwise
from math import acos, degrees, pi, radians
from pathlib import Path

import numpy as np
import pytest
from design_cases import check_joined, kinks, surface
from drawn_paper import FILM, Paper, spots
from ezdxf.math import Matrix44

from diaphragm_fem.design.drawing.dxf import DEEPEST_BLOCK
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.read.read import design_from
from diaphragm_fem.errors import DesignError, UnusualError


@pytest.fixture
def paper(tmp_path: Path) -> Paper:
    return Paper(tmp_path)


def test_lines_in_any_order_and_direction(paper):
    for a, b, layer in (((9, 2), (12, 1), "roll"), ((4, 0), (9, 2), "cone"), ((4, 0), (2, -1), "cone")):
        paper.space.add_line(a, b, dxfattribs={"layer": layer})
    paper.space.add_text("a remark")
    paper.space.add_linear_dim(base=(0, -3), p1=(2, -1), p2=(12, 1)).render()
    design = paper.design()
    np.testing.assert_allclose(spots(design), [(2, -1), (4, 0), (9, 2), (12, 1)], atol=1e-12)
    assert [(zone.name, str(zone.role)) for zone in design.zones] == [("cone", "driven"), ("roll", "surround")]


def test_an_arc_stays_an_arc(paper):
    """Dome of a sphere: area 2 pi R h."""
    paper.space.add_arc((0, -20), 25, degrees(acos(12 / 25)), 90)
    (piece,) = paper.design().meridian
    assert isinstance(piece.curve, Arc)
    height = 25 * (1 - np.sqrt(1 - (12 / 25) ** 2))
    assert surface([piece]) == pytest.approx(2 * pi * 25 * height * 1e-6, rel=1e-12)


@pytest.mark.parametrize("make", ["add_lwpolyline", "add_polyline2d"])
def test_bulges_are_arcs(paper, make):
    """A bulge is the tangent of a quarter of the sweep: 1 is half a turn (DXF reference, LWPOLYLINE)."""
    points = [(2, 0, 0), (5, 0, -1), (8, 0, np.tan(radians(90) / 4)), (10, 0, 0)]
    getattr(paper.space, make)(points, format="xyb")
    flat, roll, quarter = (piece.curve for piece in paper.design().meridian)
    assert isinstance(flat, Line)
    assert (roll.radius, roll.sweep) == pytest.approx((1.5e-3, -pi))
    assert (quarter.radius, quarter.sweep) == pytest.approx((np.sqrt(2) * 1e-3, pi / 2))
    assert roll.point(roll.length / 2) == pytest.approx((6.5e-3, 1.5e-3))


def block(paper):
    """A flank and a half-roll upward, in a block that begins at its own origin."""
    made = paper.document.blocks.new("half")
    made.add_line((0, 0), (3, 2))
    made.add_arc((4, 2), 1, 0, 180, dxfattribs={"layer": "roll"})
    made.add_lwpolyline([(5, 2, -0.5), (7, 2, 0)], format="xyb")
    return made


def test_a_block_and_its_mirror_image(paper):
    """Mirrored at x = 10 the pieces must lie exactly where their originals, mirrored, lie."""
    block(paper)
    paper.space.add_blockref("half", (10, 0), dxfattribs={"layer": "right"})
    paper.space.add_blockref("half", (10, 0), dxfattribs={"layer": "left", "xscale": -1})
    design = paper.design()
    assert [zone.name for zone in design.zones] == ["left", "roll", "right"]  # layer 0 of a block is where the block is
    left, right = design.meridian[:3], design.meridian[3:]
    for a, b in zip(left, reversed(right), strict=True):
        s = np.linspace(0, b.curve.length, 9)
        mirrored = (0.02, 0.0) + b.curve.point(b.curve.length - s) * (-1, 1)
        np.testing.assert_allclose(a.curve.point(s), mirrored, atol=1e-15)
    check_joined(design)


def test_a_part_mirrored_by_its_plane(paper):
    """Entities that were mirrored keep a plane seen from behind, extrusion (0, 0, -1)."""
    arc = paper.space.add_arc((-13, 2), 3, 90, 180)
    bulged = paper.space.add_lwpolyline([(-13, 5, 0.3), (-10, 5, 0)], format="xyb")
    for entity in (arc, bulged):
        entity.transform(Matrix44.scale(-1, 1, 1))
        assert entity.dxf.extrusion.z == -1
    design = paper.design()
    np.testing.assert_allclose(spots(design), [(10, 5), (13, 5), (16, 2)], atol=1e-12)
    middles = [piece.curve.point(piece.curve.length / 2) * 1e3 for piece in design.meridian]
    np.testing.assert_allclose(middles, [(11.5, 5 - 0.3 * 1.5), (13 + 3 / np.sqrt(2), 2 + 3 / np.sqrt(2))], atol=1e-12)


def test_a_block_stretched_one_way_gives_an_ellipse(paper):
    """Length of a quarter ellipse with half axes 2 and 1 by the complete elliptic integral E(3/4) (scipy)."""
    from scipy.special import ellipe

    made = paper.document.blocks.new("quarter")
    made.add_arc((0, 0), 1, 0, 90)
    paper.space.add_blockref("quarter", (0, 0), dxfattribs={"xscale": 2})
    (piece,) = paper.design().meridian
    assert piece.curve.length == pytest.approx(2e-3 * ellipe(0.75), rel=1e-7)  # what freeform_from promises


def test_a_spline_that_is_a_circle(paper):
    """A rational spline of degree 2 holds a quarter circle exactly (Piegl and Tiller, The NURBS Book, 1997, ch. 7)."""
    spline = paper.space.add_rational_spline([(0, 5), (5, 5), (5, 0)], [1, np.sqrt(0.5), 1], degree=2)
    spline.knots = [0, 0, 0, 1, 1, 1]
    (piece,) = paper.design().meridian
    assert piece.curve.length == pytest.approx(2.5e-3 * pi, rel=1e-9)
    assert np.linalg.norm(piece.curve.point(np.linspace(0, piece.curve.length, 50)), axis=1) == pytest.approx(5e-3)


def test_a_spline_is_cut_at_its_kinks(paper):
    spline = paper.space.add_open_spline([(2, 0), (3, 1), (4, 2), (5, 1), (6, 0)], degree=2)
    spline.knots = [0, 0, 0, 1, 1, 2, 2, 2]
    design = paper.design()
    assert len(design.meridian) == 2
    assert kinks(design) == pytest.approx([pi / 2])


@pytest.mark.parametrize(("code", "metres"), [(1, 0.0254), (4, 1e-3), (13, 1e-6), (9, 2.54e-5)])
def test_the_unit_of_the_header(tmp_path, code, metres):
    paper = Paper(tmp_path, code)
    size = 0.02 / metres
    paper.space.add_line((0, 0), (size, 0))
    assert paper.design().meridian[0].curve.length == pytest.approx(0.02)


def test_layers_are_chosen_and_named(paper):
    paper.space.add_line((2, 0), (5, 1), dxfattribs={"layer": "L1"})
    paper.space.add_line((5, 1), (8, 0), dxfattribs={"layer": "L2"})
    paper.space.add_line((0, -9), (0, 9), dxfattribs={"layer": "centre"})
    design = paper.design(layers={"l1": "cone", "L2": "outer surround"}, origin=["1 mm", "0.5 mm"])
    assert not any("say no role" in note for note in design.notes)
    plain = paper.design(layers={"l1": "cone", "L2": "edge"}, origin=["1 mm", "0.5 mm"])  # a drawing has no key `role`
    assert any(note.endswith(": 'edge'; give names that do in profile.layers") for note in plain.notes)
    assert [zone.name for zone in design.zones] == ["cone", "outer surround"]
    np.testing.assert_allclose(spots(design), [(1, -0.5), (4, 0.5), (7, -0.5)], atol=1e-12)
    with pytest.raises(DesignError, match=r"nothing is drawn on a layer 'l3'; the drawing has 'L1', 'L2', 'centre'"):
        paper.design(layers={"L3": "cone"})


def test_hidden_layers_are_left_out(paper):
    paper.space.add_line((2, 0), (5, 1))
    for name in ("aid", "cold", "quiet"):
        paper.space.add_line((2, 0), (2, 5), dxfattribs={"layer": name})
        paper.document.layers.add(name)
    paper.document.layers.get("aid").off()
    paper.document.layers.get("cold").freeze()
    paper.document.layers.get("quiet").dxf.plot = 0
    assert len(paper.design().meridian) == 1


def test_ends_within_a_micrometre_are_one_point(paper):
    """Four decimals in inches are 2.5 um, three in mm are 1 um: what is nearer is rounding, and pieces meet."""
    paper.space.add_line((2, 0), (5, 1))
    paper.space.add_arc((6, 1), 1.0005, 0, 180)
    check_joined(paper.design())


def gap(paper):
    paper.space.add_line((2, 0), (5, 1))
    paper.space.add_line((5.25, 1), (8, 0))


def branch(paper):
    gap(paper)
    paper.space.add_line((5, 1), (5.25, 1))
    paper.space.add_line((5, 1), (5, 3))


def double(paper):
    paper.space.add_arc((5, 0), 3, 0, 180)
    paper.space.add_arc((5, 0), 3, 0, 180)


def overlap(paper):
    paper.space.add_line((2, 0), (6, 0))
    paper.space.add_line((5, 0), (9, 0))


def beyond_axis(paper):
    paper.space.add_arc((1, 0), 3, 0, 180)


def crossing(paper):
    paper.space.add_lwpolyline([(2, 0), (8, 6), (8, 0), (2, 6), (12, 8)])


def closed(paper):
    paper.space.add_lwpolyline([(2, 0), (8, 0), (8, 1), (2, 1)], close=True)


def circle(paper):
    paper.space.add_circle((5, 1), 2)


def off_plane(paper):
    paper.space.add_line((2, 0, 0), (5, 1, 3))


def tilted(paper):
    paper.space.add_arc((5, 0), 3, 0, 180, dxfattribs={"extrusion": (0, 1, 1)})


def face(paper):
    paper.space.add_3dface([(0, 0), (1, 0), (1, 1)])


def high_degree(paper):
    paper.space.add_open_spline([(k + 2, k % 2) for k in range(16)], degree=15)


def two_chains(paper):
    gap(paper)
    paper.space.add_line((12, 7), (15, 7))


def along_axis(paper):
    paper.space.add_line((0, 0), (0, 4))
    paper.space.add_line((0, 4), (4, 0))


def nothing(paper):
    paper.space.add_text("empty")


def in_itself(paper):
    one, other = paper.document.blocks.new("a"), paper.document.blocks.new("b")
    one.add_blockref("b", (0, 0))
    other.add_blockref("a", (0, 0))
    paper.space.add_blockref("a", (0, 0))


def doubling(paper):
    """Each block holds the one before ten times: 10^11 texts."""
    paper.document.blocks.new("b0").add_text("again")
    for k in range(1, DEEPEST_BLOCK):
        made = paper.document.blocks.new(f"b{k}")
        for _ in range(10):
            made.add_blockref(f"b{k - 1}", (0, 0))
    paper.space.add_blockref(f"b{DEEPEST_BLOCK - 1}", (0, 0))


def many_copies(paper):
    paper.document.blocks.new("b").add_line((2, 0), (3, 0))
    grid = {"row_count": 30000, "column_count": 30000, "row_spacing": 1, "column_spacing": 1}
    paper.space.add_blockref("b", (0, 0), dxfattribs=grid)


def fewer_than_none(paper):
    """Places below zero, which no drawing program writes, would take back what is counted."""
    paper.document.blocks.new("b").add_text("again")
    for rows in (-1000, 200):
        grid = paper.space.add_blockref("b", (0, 0)).dxf
        vars(grid).update(row_count=rows, column_count=200, row_spacing=1.0, column_spacing=1.0)


def many_times_nothing(paper):
    """A block of nothing at 10^4 places, at 10^4 places: 4 * 10^8 times nothing took hours."""
    grid = {"row_count": 140, "column_count": 140, "row_spacing": 1, "column_spacing": 1}
    paper.document.blocks.new("empty")
    paper.document.blocks.new("b").add_blockref("empty", (0, 0), dxfattribs=grid)
    paper.space.add_blockref("b", (0, 0), dxfattribs=grid)


FEW = 2000  # entities that may be looked at, a tenth of what drawings may hold: they were most of these tests' time


@pytest.mark.parametrize(("draw", "words"), [
    (gap, r"one chain .* the curves make 2; the nearest ends are 0\.25 mm apart, at x = 5, y = 1 .* at x = 5\.25"),
    (two_chains, r"the curves make 3; the nearest ends are 0\.25 mm apart"),
    (branch, r"3 curves meet at x = 5, y = 1 \(mm\)"),
    (double, r"a curve from x = 8, y = .*is drawn twice"),
    (overlap, r"from x = 5, y = 0 \(mm\) to x = 9, y = 0 \(mm\) is drawn twice, or lies on another in part"),
    (beyond_axis, r"reaches r = -2 mm at x = -2, y = .*; draw the half on that side alone"),
    (crossing, r"cross at r = 5 mm, z = 3 mm"),
    (closed, r"the curves close at x = .*; where both faces of the wall are drawn, say drawn = \"two faces\""),
    (circle, r"layer '0': a full circle about x = 5, y = 1"),
    (off_plane, r"a curve at x = 2, y = 0 lies outside the plane"),
    (tilted, r"lies outside the plane of the drawing"),
    (face, r"a '3DFACE' cannot be read; give lines, arcs"),
    (high_degree, r"a degree from 1 to 11; received 15"),
    (along_axis, r"from x = 0, y = 0 \(mm\) to x = 0, y = 4 \(mm\) lies along the axis"),
    (nothing, "nothing is drawn"),
    (in_itself, r"deep in one another, or in themselves"),
    (doubling, rf"more than {FEW} entities with those in blocks"),
    (many_copies, rf"more than {FEW} entities with those in blocks"),
    (many_times_nothing, rf"more than {FEW} entities with those in blocks"),
    (fewer_than_none, rf"more than {FEW} entities with those in blocks"),
])  # fmt: skip
def test_what_is_refused(paper, draw, words, monkeypatch):
    monkeypatch.setattr("diaphragm_fem.design.drawing.dxf.MOST_ENTITIES", FEW)
    draw(paper)
    with pytest.raises(DesignError, match=words) as error:
        paper.design()
    assert "part.dxf" in str(error.value) or draw is crossing


def test_a_unit_must_be_known(tmp_path):
    paper = Paper(tmp_path, 0)
    paper.space.add_line((0, 0), (20, 0))
    with pytest.raises(DesignError, match=r"the drawing does not say its unit; .*drawing_unit = \"mm\""):
        paper.design()
    assert paper.design(drawing_unit="mm").meridian[0].curve.length == pytest.approx(0.02)
    paper.document.header["$INSUNITS"] = 1
    with pytest.raises(DesignError, match=r"drawing_unit: says 'mm', but the drawing .* says 'in'"):
        paper.design(drawing_unit="mm")
    paper.document.header["$INSUNITS"] = 7
    with pytest.raises(DesignError, match=r"a unit not known here \(\$INSUNITS = 7\)"):
        paper.design()


def test_keys_of_a_drawing_need_one(paper):
    lists = {"kind": "free", "r": ["1 mm", "2 mm"], "z": ["0 mm", "0 mm"], "drawn": "mid-line"}
    with pytest.raises(DesignError, match=r"for a drawing alone: drawn; give a file named \*\.dxf"):
        design_from({"wall": FILM, "profile": lists})
    paper.space.add_line((0, 0), (20, 0))
    with pytest.raises(DesignError, match=r"kink_angle speaks of points"):
        paper.design(kink_angle="10 deg")


@pytest.mark.parametrize(("data", "words"), [
    (b"", "no drawing in DXF"),
    (b"r,z\n1,2\n", "no drawing in DXF"),
    (b"999\r\nx\r\n" * 60 + b"1\r\nSECTION\r\n", "no drawing in DXF"),  # remarks read in 2^60 ways: no end was seen
    (b"\x00\x01binary", "a binary file; save the drawing as DXF in text"),
    (b"0\nSECTION\n2\nENTITIES\n" + b"0\nLINE\n" * 400_000, "more than 400000 entities and lines that say 0"),
    (b"0\nSECTION\n2\nENTITIES\n0\nLINE\n10\nabc\n", "cannot be read as a drawing in DXF"),
])  # fmt: skip
def test_what_is_no_drawing(tmp_path, data, words):
    (tmp_path / "part.dxf").write_bytes(data)
    with pytest.raises(DesignError, match=words):
        design_from({"wall": FILM, "profile": {"kind": "free", "file": "part.dxf"}}, folder=tmp_path)


@pytest.mark.parametrize(("error", "words"), [
    (ZeroDivisionError("division by zero"), "its numbers do not fit together"), (ValueError("8 knots"), "8 knots"),
])  # fmt: skip
def test_a_damaged_curve_is_named(paper, monkeypatch, error, words):
    """Files whose splines had knots that no spline has were refused with the arithmetic's words alone."""
    line = paper.space.add_line((2, 0), (5, 1), dxfattribs={"layer": "wall"})

    def damaged(*_):
        raise error

    monkeypatch.setattr("diaphragm_fem.design.drawing.dxf.curves_of", damaged)
    which = f"layer 'wall': the LINE with handle '{line.dxf.handle}' cannot be read"
    with pytest.raises(DesignError, match=rf"{which} \('?{words}"):
        paper.design()


def test_corners_are_rounded_where_asked(paper):
    paper.space.add_lwpolyline([(2, 0), (6, 4), (10, 0)])
    assert kinks(paper.design()) == pytest.approx([pi / 2])
    rounded = paper.design(corner_radius="0.5 mm")
    assert max(kinks(rounded)) < 1e-9
    assert {p.curve.radius for p in rounded.meridian if isinstance(p.curve, Arc)} == {0.5e-3}


def test_a_changed_drawing_is_read_anew(paper):
    """The cases of a study share what was read, as long as the file stays as it is."""
    line = paper.space.add_line((2, 0), (5, 1))
    first = spots(paper.design())
    again = design_from({"wall": FILM, "profile": {"kind": "free", "file": "part.dxf"}}, folder=paper.path.parent)
    np.testing.assert_array_equal(spots(again), first)
    line.dxf.end = (6, 1)
    np.testing.assert_allclose(spots(paper.design())[-1], (6, 1), atol=1e-12)


CONE = ((0, 4), (8, 2), (12, 0), (30, 9))


def lines_of(space, points, scale=1.0, aside=0.0):
    for a, b in pairwise(points):
        space.add_line(*(((r + aside) * scale, z * scale) for r, z in (a, b)), dxfattribs={"layer": "cone"})


@pytest.mark.parametrize("unit, reach", [(1, "762 mm"), (6, r"3e\+04 mm")])
def test_a_drawing_in_mm_that_says_another_unit_is_asked_about(tmp_path, unit, reach):
    paper = Paper(tmp_path, unit)
    lines_of(paper.space, CONE)
    asks = rf"profile\.file = 'part\.dxf', which reaches a radius of {reach}; .*did you mean another unit than"
    with pytest.raises(UnusualError, match=asks):
        paper.design()


def test_an_axis_drawn_a_little_aside_is_asked_about(paper):
    lines_of(paper.space, CONE, aside=0.3)
    with pytest.raises(UnusualError, match=r"hole at the axis = 0\.3 mm, .*did you mean a meridian that begins"):
        paper.design()
    ring = Paper(paper.path.parent)
    lines_of(ring.space, CONE, aside=3)  # a ring: its hole is meant
    assert not ring.design().unusual


def test_a_coil_beside_the_drawing_asks_for_its_unit_and_axis(tmp_path):
    paper = Paper(tmp_path)  # drawn in inches, said to be mm
    lines_of(paper.space, CONE, scale=1 / 25.4)
    coil = {"kind": "ring", "diameter": "24 mm", "mass": "0.8 g"}
    with pytest.raises(DesignError, match=r"and 2\.362 mm; received 24 mm\. Is the file's unit right, and r its dist"):
        paper.design(coil=coil)
