"""The middle between two drawn faces, against what the faces were drawn about."""

from pathlib import Path

import numpy as np
import pytest
from design_cases import check_joined
from drawn_paper import Paper, spots
from scipy.integrate import quad

from diaphragm_fem.design.drawing.face_joint import stands_for_shoulder
from diaphragm_fem.design.drawing.faces import draw_faces
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.errors import DesignError
from diaphragm_fem.mesh.section import mesh_section


@pytest.fixture
def paper(tmp_path: Path) -> Paper:
    return Paper(tmp_path, wall={"material": "PEN film"}, drawn="two faces")


def thickness(design):
    return [tuple(float(x) * 1e6 for x in piece.wall.thickness((0.0, 1.0))) for piece in design.meridian]


def test_a_roll_between_two_flats(paper):
    """The flats 0.2 mm thick at z = 0, between them half a circle of radius 2 about (8, 0), sharp corners mitred: the
    middle is drawn about exactly, its pieces meet where the middles cross, r = 8 -+ 2.
    """
    inner, outer = 1.9, 2.1
    low, high = np.sqrt(inner**2 - 0.01), np.sqrt(outer**2 - 0.01)

    def half(space, radius, z, x):
        angle = np.degrees(np.arcsin(z / radius))
        space.add_line((3, z), (8 - x, z))
        space.add_arc((8, 0), radius, angle, 180 - angle)
        space.add_line((8 + x, z), (13, z))

    half(paper.space, outer, 0.1, high)
    half(paper.space, inner, -0.1, low)
    for r in (3, 13):
        paper.space.add_line((r, -0.1), (r, 0.1))
    design = paper.design()
    np.testing.assert_allclose(spots(design), [(3, 0), (6, 0), (10, 0), (13, 0)], atol=1e-9)
    assert [type(piece.curve) for piece in design.meridian] == [Line, Arc, Line]
    assert np.array(thickness(design)) == pytest.approx(200.0)
    assert design.meridian[1].curve.radius == pytest.approx(2e-3)


def test_a_dome_open_at_the_axis(paper):
    """Two concentric arcs that both begin on the axis, one end face: the faces need no line along the axis."""
    for radius in (25.0, 25.06):
        paper.space.add_arc((0, -20), radius, 60, 90)
    end = np.array([np.cos(np.pi / 3), np.sin(np.pi / 3)])
    paper.space.add_line((0, -20) + 25.0 * end, (0, -20) + 25.06 * end)
    (piece,) = paper.design().meridian
    assert piece.curve.point(0.0)[0] < 1e-15
    assert piece.curve.radius == pytest.approx(25.03e-3)
    assert piece.curve.sweep == pytest.approx(-np.pi / 6)
    assert piece.wall.thickness(0.5) == pytest.approx(60e-6)


def test_a_taper_is_linear(paper):
    """A wedge of 100 to 200 um over 10 mm, both faces straight: the middle is the bisector, z = 0."""
    paper.space.add_lwpolyline([(2, -0.05), (12, -0.1), (12, 0.1), (2, 0.05)], close=True)
    design = paper.design()
    np.testing.assert_allclose(spots(design), [(2, 0), (12, 0)], atol=1e-12)
    assert thickness(design) == [pytest.approx((100, 200), rel=1e-9)]


def test_the_thickness_may_jump_alike_on_both_faces(paper):
    outline = [(2, -0.05), (6, -0.05), (6, -0.1), (9, -0.1), (9, 0.1), (6, 0.1), (6, 0.05), (2, 0.05)]
    paper.space.add_lwpolyline(outline, close=True)
    design = paper.design()
    np.testing.assert_allclose(spots(design), [(2, 0), (6, 0), (9, 0)], atol=1e-12)
    assert np.array(thickness(design)) == pytest.approx(np.array([(100, 100), (200, 200)]))


def test_two_faces_are_moved_apart_about_their_middle(tmp_path):
    """A cone of two zones, 100 um and from 200 to 300 um: one 1.2 times as thick, the other half as thick, is as one
    whose faces are drawn so."""

    def read(name, inner, first, last, **keys):
        (tmp_path / name).mkdir()
        paper = Paper(tmp_path / name, wall={"material": "PEN film"}, drawn="two faces")

        def line(zone, *ends):
            points = [(2 + 0.8 * s - 0.6 * h, 0.6 * s + 0.8 * h) for s, h in ends]
            paper.space.add_line(*points, dxfattribs={"layer": zone})

        for side in (-0.5, 0.5):
            line("flank", (0, side * inner), (4, side * inner))
            line("rim", (4, side * inner), (4, side * first))
            line("rim", (4, side * first), (7, side * last))
        line("flank", (0, -inner / 2), (0, inner / 2))
        line("rim", (7, -last / 2), (7, last / 2))
        return paper.design(**keys)

    factors = {"flank": 1.2, "rim": 0.5}
    thicker, drawn = read("a", 0.1, 0.2, 0.3, thickness_factor=factors), read("b", 0.12, 0.1, 0.15)
    assert [piece.zone.name for piece in thicker.meridian] == ["flank", "rim"]
    np.testing.assert_allclose(spots(thicker), spots(drawn), atol=1e-9)
    np.testing.assert_allclose(thickness(thicker), thickness(drawn), rtol=1e-9)
    with pytest.raises(DesignError, match="no zone is called 'rin'; drawn are flank, rim"):
        read("c", 0.1, 0.2, 0.3, thickness_factor={"rin": 1.1})
    with pytest.raises(DesignError, match="thickness_factor is of two drawn faces or a file of points: say drawn"):
        read("d", 0.1, 0.2, 0.3, thickness_factor=factors, drawn="mid-line")


@pytest.mark.parametrize("start", [0, 1, 2, 3])
def test_half_round_edges_are_made_straight(paper, start):
    """A flat ring 0.2 mm thick from 2 to 9 mm with half circles at its edges, whose area pi 0.1^2/2 makes 0.025 pi mm
    of wall; wherever the outline begins.
    """
    points = [(2, 0, 0), (9, 0, 1), (9, 0.2, 0), (2, 0.2, 1)]
    paper.space.add_lwpolyline(points[start:] + points[:start], format="xyb", close=True)
    design = paper.design()
    # the area comes from a polygon of 64 sides, 4e-4 less than that of the half circle
    np.testing.assert_allclose(spots(design), [(2 - 0.025 * np.pi, 0.1), (9 + 0.025 * np.pi, 0.1)], atol=5e-5)
    assert np.array(thickness(design)) == pytest.approx(200.0)


def test_an_edge_of_two_quarters_and_a_straight_one(paper):
    """Quarter circles of 0.05 mm with 0.1 mm of line between at the outer edge, the inner one straight."""
    quarter = np.tan(np.pi / 8)
    paper.space.add_lwpolyline(
        [(2, 0, 0), (9, 0, quarter), (9.05, 0.05, 0), (9.05, 0.15, quarter), (9, 0.2, 0), (2, 0.2, 0)], format="xyb",
        close=True,
    )  # fmt: skip
    left = (0.05 * 0.1 + np.pi * 0.05**2 / 2) / 0.2
    np.testing.assert_allclose(spots(paper.design()), [(2, 0.1), (9 + left, 0.1)], atol=5e-5)


@pytest.mark.parametrize("below", [False, True])
def test_the_thickness_may_jump_on_one_face(paper, below):
    """100 um to 200 um, one face straight: the middle steps by 50 um over a slope of 70 um, and the wall keeps its
    volume. By Pappus 2 pi (0.4 mm2 at r = 4 mm and 0.6 mm2 at 7.5 mm); what the slope leaves is of the second order.
    """
    outline = [(2, 0), (9, 0), (9, 0.2), (6, 0.2), (6, 0.1), (2, 0.1)]
    paper.space.add_lwpolyline([(r, -z if below else z) for r, z in outline], close=True)
    design = paper.design(corner_radius="0.5 mm")
    check_joined(design)
    side = -1 if below else 1
    expected = [(2, 0.05), (5.965, 0.05), (6, 0.075), (6.035, 0.1), (9, 0.1)]
    np.testing.assert_allclose(spots(design), [(r, side * z) for r, z in expected], atol=1e-9)
    volume = sum(
        2
        * np.pi
        * piece.curve.length
        * np.mean(piece.wall.thickness(x) * piece.curve.point(x * piece.curve.length)[:, 0])
        for piece in design.meridian
        for x in [(np.arange(50) + 0.5) / 50]
    )
    assert volume == pytest.approx(2 * np.pi * (0.4 * 4 + 0.6 * 7.5) * 1e-9, rel=1e-5, abs=0)


def test_a_shoulder_between_two_zones_is_parted(paper):
    for layer, x, z in (("cone", (2, 6), 0.1), ("roll", (6, 9), 0.2)):
        for height in (0, z):
            paper.space.add_line((x[0], height), (x[1], height), dxfattribs={"layer": layer})
    paper.space.add_line((6, 0.1), (6, 0.2), dxfattribs={"layer": "roll"})
    paper.space.add_line((2, 0), (2, 0.1), dxfattribs={"layer": "cone"})
    paper.space.add_line((9, 0), (9, 0.2), dxfattribs={"layer": "roll"})
    design = paper.design()
    assert [piece.zone.name for piece in design.meridian] == ["cone", "cone", "roll", "roll"]
    np.testing.assert_allclose(spots(design)[2], (6, 0.075), atol=1e-9)


def test_halves_of_a_slope_meet_as_thick_as_one_another(paper):
    """On one face the wall jumps from 100 to 200 um; of the thicker one half as much is left."""
    for layer, x, z in (("cone", (2, 6), 0.1), ("roll", (6, 9), 0.2)):
        for height in (0, z):
            paper.space.add_line((x[0], height), (x[1], height), dxfattribs={"layer": layer})
        paper.space.add_line((x[0], z - 0.1), (x[0], z), dxfattribs={"layer": layer})
    paper.space.add_line((9, 0), (9, 0.2), dxfattribs={"layer": "roll"})
    as_drawn, thinner = (thickness(paper.design(**keys)) for keys in ({}, {"thickness_factor": {"roll": 0.75}}))
    assert thinner[0] == as_drawn[0] and thinner[3] == pytest.approx([150.0, 150.0])
    assert thinner[1][1] == thinner[2][0] == pytest.approx((thinner[1][0] + thinner[2][1]) / 2)


def test_a_shoulder_on_one_face_is_drawn_out_as_it_was_drawn(paper):
    """Not as the slope that stands for it in the shell; the solid is nearly as steep and has all of its section."""
    for layer, x, z in (("cone", (2, 6), 0.1), ("roll", (6, 9), 0.2)):
        for height in (0, z):
            paper.space.add_line((x[0], height), (x[1], height), dxfattribs={"layer": layer})
        paper.space.add_line((x[0], z - 0.1), (x[0], z), dxfattribs={"layer": layer})
    paper.space.add_line((9, 0), (9, 0.2), dxfattribs={"layer": "roll"})
    design = paper.design(edges={"inner": "free", "outer": "clamped"})
    assert [stands_for_shoulder(piece) for piece in design.meridian] == [False, True, True, False]
    faces = draw_faces(design.meridian)
    corners = [tuple(1e3 * part.curve.point(0.0)) for part in faces.outline if part.curve.length > 1e-9]
    drawn = [(2, 0), (6, 0), (9, 0), (9, 0.2), (6, 0.2), (6, 0.1), (2, 0.1)]
    np.testing.assert_allclose(corners, drawn, atol=1e-9)
    assert [design.meridian[part.piece].zone.name for part in faces.front] == ["cone", "roll", "roll"]
    section = mesh_section(design)
    first, second, third, fourth = (section.points[:, corner] for corner in section.cells[:4])
    across, beside = third - first, fourth - second
    assert (across[0] * beside[1] - across[1] * beside[0]).sum() / 2 == pytest.approx(1e-6, rel=1e-9)
    r, z = section.points
    assert r[z > 0.101e-3].min() == pytest.approx(5.9965e-3, abs=4e-6)  # the shell's slope begins at 5.965 mm


def test_a_corner_rounded_outside_alone(paper):
    """The outer face turns about the sharp inner corner with the thickness for a radius, the middle by half of it."""
    paper.space.add_lwpolyline(
        [(2, 0, 0), (6, 0, 0), (6, 5, 0), (6.2, 5, 0), (6.2, 0, -np.tan(np.pi / 8)), (6, -0.2, 0), (2, -0.2, 0)],
        format="xyb", close=True,
    )  # fmt: skip
    design = paper.design()
    np.testing.assert_allclose(spots(design), [(2, -0.1), (6, -0.1), (6.1, 0), (6.1, 5)], atol=1e-9)
    assert isinstance(design.meridian[1].curve, Arc)
    assert np.array(thickness(design)) == pytest.approx(200.0)


def test_circles_that_are_not_concentric(paper):
    """Arcs of 20 about (0, 0) and 20.2 about (0, -0.1), thinner outward: the points that are as far from both lie on an
    ellipse with the centres for foci, 2a = 40.2 (Apollonius); its length by quadrature, thickness twice the distance.
    """
    ends = []
    for radius, z in ((20.0, 0.0), (20.2, -0.1)):
        paper.space.add_arc((0, z), radius, 40, 90)
        ends.append((radius * np.cos(np.radians(40)), z + radius * np.sin(np.radians(40))))
    paper.space.add_line(*ends)
    design = paper.design()
    check_joined(design)
    a, c = 20.1, 0.05
    points = np.concatenate([p.curve.point(np.linspace(0, p.curve.length, 20)) for p in design.meridian]) * 1e3
    foci = np.linalg.norm(points, axis=1) + np.linalg.norm(points + np.array([0, 2 * c]), axis=1)
    assert np.abs(foci - 2 * a).max() < 1e-6
    for piece in design.meridian:
        r, z = piece.curve.point(piece.curve.length / 2) * 1e3
        assert float(piece.wall.thickness(0.5)) * 1e3 == pytest.approx(2 * (np.hypot(r, z) - 20), rel=2e-3)
    b = np.sqrt(a**2 - c**2)
    last = points[-1] + np.array([0, c])
    t = np.arctan2(last[0] / b, last[1] / a)
    exact = quad(lambda x: np.hypot(b * np.cos(x), a * np.sin(x)), 0, t)[0]
    assert sum(piece.curve.length for piece in design.meridian) * 1e3 == pytest.approx(exact, rel=1e-7)


def zoned(paper, other="cone"):
    for layer, x in (("cone", (2, 6)), ("roll", (6, 9))):
        for z in (0.0, 0.1):
            name = other if layer == "cone" and z else layer
            paper.space.add_line((x[0], z), (x[1], z), dxfattribs={"layer": name})
    paper.space.add_line((2, 0), (2, 0.1), dxfattribs={"layer": "cone"})
    paper.space.add_line((9, 0), (9, 0.1), dxfattribs={"layer": "roll"})


def test_zones_by_layer(paper):
    zoned(paper)
    design = paper.design(zones={"roll": {"material": "PET film"}})
    assert [(p.zone.name, p.wall.layers[0].material.name) for p in design.meridian] == [
        ("cone", "PEN film"), ("roll", "PET film"),
    ]  # fmt: skip


def eccentric(paper):
    outline = [(2, 0), (6, 0), (6, -0.03), (9, -0.03), (9, 0.2), (6, 0.2), (6, 0.1), (2, 0.1)]
    paper.space.add_lwpolyline(outline, close=True)


def unclosed(paper):
    paper.space.add_lwpolyline([(2, 0), (9, 0), (9, 0.2), (2, 0.2)])


def one_sided(paper):
    paper.space.add_lwpolyline([(2, 0), (5, 0), (5, 2), (6, 2), (6, 0), (9, 0), (9, 0.1), (2, 0.1)], close=True)


def three(paper):
    for z in range(3):
        paper.space.add_line((2, z), (9, z))


def lens(paper):
    paper.space.add_lwpolyline([(2, 0, 0.05), (9, 0, 0.05)], format="xyb", close=True)


def touching(paper):
    """The upper face sags through the lower one."""
    paper.space.add_lwpolyline([(2, 0, 0), (9, 0, 0)], format="xyb")
    paper.space.add_lwpolyline([(2, 0.2, 0.07), (9, 0.2, 0)], format="xyb")


def two_zones(paper):
    zoned(paper, "flap")


@pytest.mark.parametrize(("draw", "words"), [
    (eccentric, r"the middle of the wall jumps by 0\.035 mm near x = 6, y = 0\.05 \(mm\); let the thickness"),
    (unclosed, r"outline of the two faces must be closed, but it ends at x = 2, y = 0 \(mm\) and at x = 2, y = 0\.2"),
    (one_sided, r"has no partner on the other face|do not run beside one another"),
    (three, r"two chains, or one closed outline, but the curves make 3"),
    (lens, r"needs an end face at each edge of the wall, where it turns round, straight or half round; found 0"),
    (touching, r"the two faces near x = .*: they touch or cross"),
    (two_zones, r"opposite curves must lie on layers of one zone; near x = 2, .* on 'flap' and 'cone'"),
])  # fmt: skip
def test_what_is_refused(paper, draw, words):
    draw(paper)
    with pytest.raises(DesignError, match=words):
        paper.design()


def test_the_thickness_is_given_once(paper):
    zoned(paper)
    with pytest.raises(DesignError, match=r"wall\.thickness: the drawing's two faces give the thickness of 'cone'"):
        paper.design(wall={"material": "PEN film", "thickness": "50 um"})
    with pytest.raises(DesignError, match=r"wall\.material: the zone 'cone' has no material"):
        paper.design(wall={})


def test_straight_faces_that_cross(paper):
    for z in ((0, 0.3), (0.2, 0.1)):
        paper.space.add_line((2, z[0]), (9, z[1]))
    with pytest.raises(DesignError, match=r"the two faces near x = 2, .*: they touch or cross"):
        paper.design()
