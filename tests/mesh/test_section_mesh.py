"""The wall section: that it fills the wall, conforms at the joint, refuses what cannot be cut, and runs anywhere."""

import builtins
import sys
import threading
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from places import STUDIES
from solid_walls import COIL, FILM, FOIL, MM, STEEL, disc, part, polygon, sphere, stepped_v, wall_piece, wound_former
from sound_section import check_sound

from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.edge import CLAMPED
from diaphragm_fem.design.meridian.wall import Layer, Wall, plain_wall
from diaphragm_fem.design.meridian.zone import Zone
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.branch import _split_rows
from diaphragm_fem.mesh.chain import lay_chain
from diaphragm_fem.mesh.corners import _led, _Part
from diaphragm_fem.mesh.former_top import top_of_former
from diaphragm_fem.mesh.gmsh_model import load_gmsh
from diaphragm_fem.mesh.rows import borders_met, rows_of_layers, split_to
from diaphragm_fem.mesh.section import Section, mesh_section, plan_section
from diaphragm_fem.mesh.section_plan import Plan, Stretch
from diaphragm_fem.mesh.section_size import Grading
from diaphragm_fem.mesh.strip_ends import LIPS_FROM, SHOULDER, lay_strips
from diaphragm_fem.model.solid.solid import build_solid


def test_the_thickest_layers_are_cut_first_and_evenly():
    wall = Wall((Layer(FILM, 30e-6, 30e-6), Layer(FOIL, 20e-6, 20e-6)))
    shares = [[share for _, share in rows_of_layers(split_to(wall, [1, 1], count))] for count in (2, 3, 4, 5)]
    assert shares == [[1, 1], [1 / 2, 1 / 2, 1], [1 / 2] * 4, [1 / 3] * 3 + [1 / 2] * 2]


@pytest.mark.parametrize(("grown", "met"), [(1.8e-6, (slice(None), slice(0, 2))), (2.2e-6, None)])
def test_a_film_runs_on_under_a_lap_where_its_faces_meet_within_a_millionth(grown, met):
    """Both faces of a film that is thicker there are half of that off."""
    film = 30e-6 * (1 + grown)
    lap = Wall((Layer(FOIL, film, film), Layer(FILM, 120e-6, 120e-6, Zone("surround")))).on_own(1.0, 0.0)
    assert borders_met(plain_wall(FOIL, 30e-6), lap) == met


def area_of(section: Section) -> np.ndarray:
    """Area of each cell by the divergence theorem: integral of r dz around its four quadratic sides (Simpson exact)."""
    total = np.zeros(section.cells.shape[1])
    x, w = np.polynomial.legendre.leggauss(4)
    for a, m, b in ((0, 4, 1), (1, 5, 2), (2, 6, 3), (3, 7, 0)):
        p, q, e = (section.points[:, section.cells[k]] for k in (a, m, b))
        for xi, wi in zip(x, w, strict=True):
            n = (xi * (xi - 1) / 2, 1 - xi**2, xi * (xi + 1) / 2)
            dn = (xi - 0.5, -2 * xi, xi + 0.5)
            r = n[0] * p[0] + n[1] * q[0] + n[2] * e[0]
            total += wi * r * (dn[0] * p[1] + dn[1] * q[1] + dn[2] * e[1])
    return total


def rim_dome(height_mm: float, former_um: float = 75) -> Design:
    """A foil dome over a rim of 12.5 mm with a flat film surround and a former at the sharp rim."""
    a, h = 12.5 * MM, height_mm * MM
    radius = (a**2 + h**2) / (2 * h)
    cap = Arc((0.0, -radius), radius, np.pi / 2, -np.arcsin(a / radius))
    r, z = (float(x) for x in cap.point(cap.length))
    pieces = [wall_piece(cap, 30e-6, FOIL), wall_piece(Line((r, z), (r + 2 * MM, z)), 50e-6, FILM)]
    return part(pieces, None, CLAMPED, 1, former=wound_former(r, z, former_um * 1e-6))


LAMINATE = Wall((Layer(FOIL, 12e-6, 12e-6), Layer(FILM, 25e-6, 25e-6)))
ROLLS = part(
    [
        wall_piece(Line((10 * MM, 0.0), (14 * MM, 0.0)), LAMINATE),
        wall_piece(Arc((15 * MM, 0.0), 1 * MM, np.pi, -np.pi), plain_wall(FILM, 40e-6)),
        wall_piece(Arc((17 * MM, 0.0), 1 * MM, np.pi, np.pi), plain_wall(FILM, 80e-6)),
    ]
)
SHAPES = {
    "stepped V": stepped_v(),
    "dome": rim_dome(4),
    "deep dome": rim_dome(10),
    "hemisphere": rim_dome(12.5),
    "laminate": ROLLS,
    "sphere": sphere(1.0, 0.1),
    "cone with a tip": polygon([(0, 5), (10, 0)], 0.2e-3, inner=None),
}


@pytest.mark.parametrize("name", SHAPES)
def test_cells_are_sound_and_conform(name):
    check_sound(mesh_section(SHAPES[name]))


def test_straight_walls_fill_their_area():
    """A polygon's wall with mitres at its kinks has the area thickness times length; the former adds its own."""
    plain = mesh_section(polygon([(8, 3), (12, 2), (16, 0), (20, 2)], 60e-6))
    length = sum(np.hypot(*np.subtract(b, a)) for a, b in pairwise([(8, 3), (12, 2), (16, 0), (20, 2)])) * MM
    assert area_of(plain).sum() == pytest.approx(60e-6 * length, rel=1e-9, abs=0)


def test_curved_cells_follow_their_arcs():
    """Corners and middles of the sides lie on the faces, to what three points of a spline allow."""
    section = mesh_section(sphere(1.0, 0.1))
    radius = np.hypot(*section.points[:, section.cells])
    np.testing.assert_allclose(radius[[0, 4, 1]], 0.95, rtol=1e-4)
    np.testing.assert_allclose(radius[[3, 6, 2]], 1.05, rtol=1e-4)
    exact = np.pi / 2 * (1.05**2 - 0.95**2)
    assert area_of(section).sum() == pytest.approx(exact, rel=2e-4)  # arcs of at most 0.6 rad as parabolas


def test_stations_are_fine_at_kinks_and_grow():
    section = mesh_section(polygon([(8, 0), (16, 6), (24, 0)], 100e-6))
    corner = section.points[:, section.cells[:4]]
    rear, front = (
        np.linalg.norm(corner[:, 1] - corner[:, 0], axis=0),
        np.linalg.norm(corner[:, 2] - corner[:, 3], axis=0),
    )
    length = (rear + front) / 2  # a mitre lengthens the one and shortens the other
    at_kink = np.flatnonzero(np.isclose(section.points[0, section.cells[1]], 16 * MM, atol=60e-6))[0]
    assert length[at_kink] < 2 * 100e-6  # one thickness, rounded to whole cells
    ratio = length[1:] / length[:-1]
    assert ratio.max() < 2.2 and ratio.min() > 0.45  # growth 1.5, rounded to whole cells


def test_top_frequency_sets_the_longest_cell():
    low, high = (mesh_section(disc(0.1, 0.2 * MM), hz).cells.shape[1] for hz in (2e3, 50e3))
    assert high > 1.8 * low


def test_layers_become_rows_of_their_material():
    section = mesh_section(ROLLS)
    names = [material.name for material in ROLLS.materials]
    first = np.flatnonzero(np.array(section.plan.piece) == 0)
    rows = [names[k] for k in section.material_of_cell[first]]
    assert rows[::2] == ["foil"] * (len(rows) // 2) and rows[1::2] == ["film"] * (len(rows) // 2)
    assert set(section.material_of_cell[np.array(section.plan.piece) > 0]) == {names.index("film")}
    area = area_of(section)
    foil = area[first[::2]].sum()
    assert foil == pytest.approx(12e-6 * 4 * MM, rel=1e-2)  # a shoulder where it meets the plain film


def test_layers_of_the_former_become_columns():
    wall = Wall((Layer(FOIL, 30e-6, 30e-6), Layer(FILM, 50e-6, 50e-6)))
    design = stepped_v()
    laminated = replace(design, former=tuple(replace(piece, wall=wall) for piece in design.former))
    section = mesh_section(laminated)
    below = section.points[1, section.cells[8]] < -1 * MM
    names = np.array([material.name for material in laminated.materials])[section.material_of_cell]
    area = area_of(section)
    share = area[below & (names == "foil")].sum() / area[below].sum()
    assert share == pytest.approx(30 / 80, rel=1e-9)


def test_layers_of_a_hanging_former_meet_upright_up_to_its_top():
    """Where their border begins at half of the top, whatever their thickness, a metal dome's break-up mode on 90 um of
    film and 30 um of foil is 24.46 kHz in place of 23.96; united pieces have 23.94."""
    wall = Wall((Layer(FILM, 60e-6, 60e-6), Layer(FOIL, 20e-6, 20e-6)))
    level = [wall_piece(Line((r * MM, 0.0), ((r + 6) * MM, 0.0)), 60e-6) for r in (10, 16)]
    former = tuple(replace(piece, wall=wall) for piece in wound_former(16 * MM, 0.0))
    section = mesh_section(part(level, CLAMPED, CLAMPED, joint=1, former=former))
    hung, layer = np.array(section.plan.branch), np.array(section.plan.layer)
    r = section.points[0, section.cells[:4]] - 16 * MM
    assert r[:, hung & (layer == 0)].max() == pytest.approx(20e-6, abs=1e-8)  # where a row of 600 samples is read
    assert r[:, hung & (layer == 1)].min() == pytest.approx(20e-6, abs=1e-8)


@pytest.mark.parametrize("layers", [(50, 2, 50), (1.5, 98.5), (98.5, 1.5), (40, 1, 1, 40)])
def test_thin_layers_of_a_hanging_former_are_as_thick_at_its_top(layers):
    """A station of the wall, or an end of the top, within 2 % of the former stood for every border near it: two foils
    with 2 um of glue had no solid, and the glue had a fourth of the former in the joint's patch. Modes of a metal dome
    on a former with a coating of 1.5 um were 0.05 to 0.19 % off in the shell, now 0.011 % at most."""
    wall = Wall(tuple(Layer((FILM, FOIL)[k % 2], h * 1e-6, h * 1e-6) for k, h in enumerate(layers)))
    level = [wall_piece(Line((r * MM, 0.0), ((r + 6) * MM, 0.0)), 60e-6) for r in (10, 16)]
    former = tuple(replace(piece, wall=wall) for piece in wound_former(16 * MM, 0.0))
    section = mesh_section(part(level, CLAMPED, CLAMPED, joint=1, former=former))
    corner = section.points[:, section.cells[:4]]
    top = np.array(section.plan.branch) & (corner[1].max(axis=0) > -40e-6)  # from the wall's rear face down
    width = np.array([np.ptp(corner[0][:, top & (np.array(section.plan.layer) == k)]) for k in range(len(layers))])
    assert 1e6 * width == pytest.approx(layers, abs=0.02)  # places are read from 600 samples


def test_a_thin_layer_of_a_former_beside_a_mitre_goes_up_to_its_top():
    """The corner of the wall's rear face lies beyond that layer: it had the whole first cell of the top, which turned
    inside out, and the part no solid."""
    design = load_design(STUDIES / "stepped_v.toml", {"coil.side": "outside", "coil.former.thickness": "0.1 mm"})
    (whole,) = {piece.wall.thickest for piece in design.former}
    wall = Wall(tuple(Layer(made_of, h, h) for made_of, h in ((FOIL, 1.9e-6), (FILM, whole - 1.9e-6))))
    section = mesh_section(replace(design, former=tuple(replace(piece, wall=wall) for piece in design.former)))
    assert not section.plan.united


def test_a_top_with_too_few_cells_for_its_layers_is_refused():
    """Where it is narrower than the former's layers lie apart."""
    with pytest.raises(MeshError, match="the former has 3 layers but its top only 2 cells, so steep is the wall"):
        _split_rows(np.array([0.0, 0.5, 1.0]), np.array([-1.0, 0.0, 1.0]), np.array([-2.0, 2.0]))


def test_a_hanging_former_keeps_what_is_glued_on_it_to_its_end():
    """But for a short shoulder. Where it falls over its whole last cell, a dome's petal modes on a collar as thick as
    its former are 0.3 to 0.9 % low."""
    collared = Wall((Layer(FILM, 80e-6, 80e-6), Layer(FOIL, 40e-6, 40e-6)))
    first, *rest = stepped_v().former
    section = mesh_section(replace(stepped_v(), former=(replace(first, wall=collared), *rest)))
    r, z = section.points[:, np.unique(section.cells[:4, np.array(section.plan.branch)])]
    assert z[np.abs(r - 16 * MM - 60e-6) < 1e-9].min() == pytest.approx(-2 * MM + SHOULDER * 20e-6, abs=1e-9)


def test_former_hangs_between_its_own_radii():
    section = mesh_section(stepped_v())
    branch = np.array(section.plan.branch)
    r, z = section.points[:, np.unique(section.cells[:4, branch])]
    deep = z < -0.2 * MM
    assert r[deep].min() == pytest.approx(16 * MM - 40e-6, abs=1e-9)
    assert r[deep].max() == pytest.approx(16 * MM + 40e-6, abs=1e-9)
    assert z.min() == pytest.approx(-5 * MM, abs=1e-9)


def test_a_former_at_the_outer_edge_carries_the_wall_on():
    cap = rim_dome(4)
    bare = replace(cap, meridian=cap.meridian[:1], outer_edge=None)
    section = mesh_section(bare)
    assert not any(section.plan.branch)
    assert section.points[1].min() == pytest.approx(-9 * MM, abs=1e-7)


def test_zone_names_are_kept_for_the_former():
    section = mesh_section(stepped_v())
    zones = section.design.zones
    assert {zones[k] for k in section.zone_of_cell[np.array(section.plan.branch)]} == {COIL}


# refusals


def test_kink_without_room_names_the_place_and_what_would_fit():
    with pytest.raises(
        MeshError,
        match=r"corner at r = 12 mm, z = 0 mm in 'zone 0' and 'zone 1' turns by 90 degrees.*"
        r"radius of at least 0\.5 mm or a wall thinner than",
    ):
        mesh_section(polygon([(10, 2), (12, 0), (12.1, 0.1), (20, 0.1)], 0.5e-3))


def test_a_wall_that_folds_back_is_refused():
    with pytest.raises(MeshError, match=r"turns by 1[5-9][0-9] degrees"):
        mesh_section(polygon([(10, 0), (14, 0.0), (10, 0.8)], 60e-6))


def test_a_curve_tighter_than_its_wall_is_refused():
    arc = Arc((20 * MM, 0.0), 0.1 * MM, np.pi, -np.pi)
    with pytest.raises(
        MeshError, match=r"zone 'wall': the curve at .* radius of 100 um, too tight for a wall of 0\.3 mm"
    ):
        mesh_section(part([wall_piece(arc, 0.3e-3)]))


def test_a_wall_through_the_axis_is_refused():
    with pytest.raises(MeshError, match="must stay on its side of the axis"):
        mesh_section(part([wall_piece(Line((0.01, 0.0), (0.01, 0.1)), 0.05)]))


def test_a_former_needs_a_face_to_hang_from():
    design = stepped_v()
    pieces = [
        wall_piece(Line((16 * MM, 8 * MM), (16 * MM, 4 * MM)), 60e-6),
        wall_piece(Line((16 * MM, 4 * MM), (16 * MM, 0)), 60e-6),
    ]
    with pytest.raises(MeshError, match="needs a rear face to hang from"):
        plan_section(part(pieces, joint=1, former=wound_former(16 * MM, 4 * MM)), Grading())
    short = Piece(Line((16 * MM, 0.0), (16 * MM, -0.05 * MM)), COIL, plain_wall(FILM, 80e-6))
    with pytest.raises(MeshError, match="must be longer than"):
        plan_section(replace(design, former=(short,)), Grading())
    with pytest.raises(MeshError, match="lie over one another all along 'coil', beside the former; make it longer"):
        mesh_section(replace(design, former=(short,)))


@pytest.mark.parametrize(("loader", "error", "words"), [
    ("libGLU.so.1: cannot open shared object file: No such file or directory", MeshError,
     r"libGLU\.so\.1.*apt-get install libglu1-mesa libgl1 libxcursor1"),
    ("libgmsh.so.4.15: failed to map segment from shared object", MemoryError, "failed to map segment"),
], ids=["no library", "no room"])  # fmt: skip
def test_why_gmsh_does_not_load_is_told(loader, error, words, monkeypatch):
    """For want of memory one was told to install what was there."""
    real = builtins.__import__

    def without_library(name, *args, **kwargs):
        if name == "gmsh":
            raise OSError(loader)
        return real(name, *args, **kwargs)

    monkeypatch.delitem(sys.modules, "gmsh", raising=False)
    monkeypatch.setattr(builtins, "__import__", without_library)
    with pytest.raises(error, match=words):
        load_gmsh()


def test_it_runs_in_threads_and_prints_nothing(capfd):
    """gmsh keeps one global state and likes to own signals: neither may show."""
    found: list[int] = []

    def work():
        for _ in range(2):
            found.append(mesh_section(polygon([(8, 0), (16, 6), (24, 0)], 100e-6)).cells.shape[1])

    threads = [threading.Thread(target=work) for _ in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(found) == 6 and len(set(found)) == 1
    out, err = capfd.readouterr()
    assert out == "" and err == ""


def test_an_open_gmsh_of_the_caller_stays_open():
    gmsh = load_gmsh()
    gmsh.initialize(interruptible=False)
    try:
        mesh_section(disc(0.1, 1 * MM))
        assert gmsh.isInitialized()
    finally:
        gmsh.finalize()


@pytest.mark.parametrize("thick_um", [41, 48, 200])
def test_thickness_jump_spares_the_softer_wall(thick_um):
    """Where a thick wall meets a thin one of the same material, both keep their thickness to the very end, but for the
    short shoulders of one that is hardly thicker."""
    thin, thick = 40e-6, thick_um * 1e-6
    shoulders = SHOULDER * (thick - thin) ** 2 / 4 * (thick < LIPS_FROM * thin)
    pieces = [
        wall_piece(Line((10 * MM, 0.0), (14 * MM, 0.0)), thick, STEEL),
        wall_piece(Line((14 * MM, 0.0), (18 * MM, 0.0)), thin, STEEL),
    ]
    section = mesh_section(part(pieces))
    area = area_of(section)
    piece = np.array(section.plan.piece)
    assert area[piece == 1].sum() == pytest.approx(thin * 4 * MM, rel=1e-9, abs=0)
    assert area[piece == 0].sum() == pytest.approx(thick * 4 * MM - shoulders, rel=1e-9, abs=0)


def test_thicknesses_that_differ_by_rounding_make_no_shoulder():
    """As thicknesses measured between the faces of a drawing do: cells without length came of it."""
    ends = Line((10 * MM, 0.0), (14 * MM, 0.0)), Line((14 * MM, 0.0), (18 * MM, 0.0))
    alike, nearly = (
        mesh_section(part([wall_piece(ends[0], 40e-6 * (1 + more), STEEL), wall_piece(ends[1], 40e-6, FILM)]))
        for more in (0.0, 2e-13)
    )
    assert nearly.cells.shape == alike.cells.shape
    np.testing.assert_allclose(nearly.points, alike.points, atol=1e-12)


def test_grading_refines():
    coarse, fine = (mesh_section(stepped_v(), grading=Grading(refine=x)).cells.shape[1] for x in (1, 2))
    assert fine > 1.7 * coarse


def test_cells_begin_as_short_as_the_less_compressible_wall_asks():
    """Film and rubber of one thickness meet: the stress at their corner is rubber's, in the film's cells as well."""
    rubber = replace(FILM, name="rubber", poisson_ratio=0.49)
    ends = [(r * MM, 0.0) for r in (10, 14, 18)]
    pieces = [
        (k, wall_piece(Line(a, b), 1e-4, made_of))
        for k, ((a, b), made_of) in enumerate(zip(pairwise(ends), (FILM, rubber), strict=True))
    ]
    film, other = lay_strips(pieces)
    assert film.end.first_cell == other.begin.first_cell == pytest.approx(0.2 * 1e-4)
    assert film.begin.first_cell == pytest.approx(1e-4)


def test_long_cells_have_their_high_order_along_the_wall():
    """In a former that hangs, too, whose cells' second axis runs along it."""
    shapes = build_solid(stepped_v()).shapes
    sides = np.array([np.linalg.norm(shapes.corner[:, k] - shapes.corner[:, 0], axis=1) for k in (1, 3)])
    long, of_former = sides.max(axis=0) > 4 * 80e-6, np.array(shapes.section.plan.branch)
    assert long[of_former].any() and long[~of_former].any()
    for cell in np.flatnonzero(long):
        along = int(np.argmax(sides[:, cell]))
        assert (shapes.order_of_cell[cell, along], shapes.order_of_cell[cell, 1 - along]) == (5, 3)


def test_a_bent_stretch_of_mid_line_is_led_through_the_parts_that_hold_it():
    """It dips by 0.4 t (1 - t) from the part above y = 0.46 into the one below, and comes back: where that is 0.04, by
    the roots of the parabola."""
    parts = [_Part(cell, (0, 1, 2, 3), np.array([(0, low), (1, low), (1, high), (0, high)]))
             for cell, low, high in ((7, 0.0, 0.46), (8, 0.46, 1.0))]  # fmt: skip
    found = _led(Stretch(0, (0.0, 0.5), (1.0, 0.5), (0.0, -0.4)), parts)
    assert [own.cell for own in found] == [8, 7, 8]
    met = [0.0, *((1 + way * np.sqrt(0.6)) / 2 for way in (-1, 1)), 1.0]
    for own, begin, end in zip(found, met[:-1], met[1:], strict=True):
        low, high = parts[own.cell - 7].at[0, 1], parts[own.cell - 7].at[2, 1]
        for share, t in ((0.0, begin), (0.5, (begin + end) / 2), (1.0, end)):
            x, y = own.at(share)
            assert (x, low + y * (high - low)) == pytest.approx((t, 0.5 - 0.4 * t * (1 - t)), abs=1e-12)


@pytest.mark.parametrize("stiffer", [0, 1], ids=["inner", "outer"])
def test_at_a_former_the_wall_that_is_a_little_thicker_has_the_shoulder(stiffer):
    """The softer one keeps its thickness to the very end (`lay_strips`)."""
    design = stepped_v()
    pieces = [replace(x, wall=plain_wall(FILM, (61e-6 if (k >= 4) == stiffer else 60e-6)))
              for k, x in enumerate(design.meridian)]  # fmt: skip
    strips = lay_strips(list(enumerate(pieces)))
    top = top_of_former(design, strips, lay_strips(list(enumerate(design.former, len(pieces)))))
    joint = sum(strip.length for strip in strips[:4])
    shoulders = joint - top.step[0], top.step[1] - joint
    assert shoulders[stiffer] > 0.25 * 0.5e-6 > shoulders[1 - stiffer] == pytest.approx(0, abs=1e-15)


@pytest.mark.parametrize(("wall", "former"), [(60e-6, 200e-6), (200e-6, 60e-6)])
def test_cells_beside_both_ends_of_a_formers_top_are_as_long_as_the_thinner_wall_is_thick(wall, former):
    """Of a level wall: that they grow by 1.5 from h makes the first 0.5/ln(1.5) h at most (integral of 1/length)."""
    flanks = [wall_piece(Line((r * MM, 0.0), ((r + 6) * MM, 0.0)), wall) for r in (10, 16)]
    design = part(flanks, CLAMPED, CLAMPED, joint=1, former=wound_former(16 * MM, 0.0, former))
    strips = lay_strips(list(enumerate(design.meridian)))
    top = top_of_former(design, strips, lay_strips(list(enumerate(design.former, 2))))
    ids = lay_chain(Plan(), strips, top.breaks, top.seeds, Grading(), 2, False)
    place = np.unique(np.concatenate((ids.stations[0], 6 * MM + ids.stations[1])).round(12))
    assert top.end - top.begin == pytest.approx(former)
    for end, beyond in ((top.begin, place[place < top.begin - 1e-9][-1]), (top.end, place[place > top.end + 1e-9][0])):
        assert 0.8 < abs(beyond - end) / 60e-6 < 0.5 / np.log(1.5) + 0.01
