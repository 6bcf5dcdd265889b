"""The solid model against laws that hold for every body: rigid motions, mass, similarity, reciprocity, convergence."""

from dataclasses import replace

import numpy as np
import pytest
from solid_walls import (
    COIL,
    FILM,
    FOIL,
    MM,
    STEEL,
    STEPPED,
    disc,
    frequencies,
    motion_at_nodes,
    part,
    polygon,
    sphere,
    stepped_v,
    tube,
    wall_piece,
    wound_former,
)

from diaphragm_fem.design.design import Design, Ring
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE, HINGED, Edge
from diaphragm_fem.design.meridian.wall import Layer, Wall
from diaphragm_fem.errors import ModelError
from diaphragm_fem.mesh.gap_face import nearest_of_chain
from diaphragm_fem.mesh.section import mesh_section
from diaphragm_fem.mesh.section_size import Grading
from diaphragm_fem.model.solid.lines import line_of
from diaphragm_fem.model.solid.solid import Orders, build_solid

FREE_V = replace(stepped_v(), inner_edge=FREE, outer_edge=FREE)


def rigid(model, m: int, u, v, w) -> np.ndarray:
    """Unknowns of order m whose motion at the section's points is the given one (least squares, exact if it exists)."""
    structure = model.structure(m)
    maps = motion_at_nodes(model, m)
    r, z = model.section.points
    wanted = np.concatenate([f(r, z) for f in (u, v, w)])
    from scipy.sparse import vstack
    from scipy.sparse.linalg import lsqr

    found = lsqr(vstack(maps), wanted, atol=1e-15, btol=1e-15, iter_lim=4000)[0]
    assert np.abs(vstack(maps) @ found - wanted).max() < 1e-9 * np.abs(wanted).max()
    assert structure.size == len(found)
    return found


def rigid_motions(r, z):
    """Shift and rocking of m = 1 in this sign convention."""
    one = np.ones_like(r)
    return (one, -one, 0 * r), (z, -z, -r)


@pytest.mark.parametrize("design", [FREE_V, sphere(1.0, 0.1)], ids=["v", "sphere"])
def test_rigid_motions_cost_no_energy(design):
    """Order m = 0 has one, m = 1 two: as many eigenvalues are zero, the next is far above."""
    model = build_solid(design)
    for m, count in ((0, 1), (1, 2), (2, 0)):
        structure = model.structure(m)
        assert structure.rigid_modes == count
        from diaphragm_fem.analysis.modes.eigen import eigenpairs_below

        squares = eigenpairs_below(structure.stiffness, structure.mass, (2 * np.pi * 5000) ** 2).squares
        assert np.abs(squares[:count]).max(initial=0.0) < 1e-6 * squares[count]  # rounding of K over its first mode


def test_shift_and_rocking_are_found_by_shape():
    model = build_solid(polygon(STEPPED, 60e-6), orders=Orders(2, 2, 2))
    stiff = model.structure(1).stiffness
    for k in range(2):
        u = rigid(model, 1, *(lambda r, z, c=c, k=k: rigid_motions(r, z)[k][c] for c in range(3)))
        assert u @ (stiff @ u) < 1e-9 * abs(stiff).sum() * np.abs(u).max() ** 2


def axial_unit(structure) -> np.ndarray:
    """The axial shift by one metre: the null vector of a free body, scaled by its swept area."""
    from scipy.sparse.linalg import eigsh

    vector = eigsh(structure.stiffness.tocsc(), k=1, M=structure.mass.tocsc(), sigma=-1e3)[1][:, 0]
    return vector * structure.zone_area.sum() / (structure.volume.sum(axis=0) @ vector)


def test_mass_is_that_of_pappus():
    """Mass of a shift = sum over pieces of density, section and path of its centroid (Pappus), winding and all."""
    structure = build_solid(FREE_V).structure(0)
    u = axial_unit(structure)
    expected = 0.4e-3
    for piece in FREE_V.meridian:
        a, b = piece.curve.begin, piece.curve.end
        expected += FILM.density * 60e-6 * piece.curve.length * np.pi * (a[0] + b[0])
    expected += FILM.density * 80e-6 * 5 * MM * 2 * np.pi * 16 * MM
    # 0.5 %: at the joint the former's first 30 um lie within the wall, and mitres move a little mass at sharp kinks
    assert u @ (structure.mass @ u) == pytest.approx(expected, rel=5e-3)
    plain = build_solid(polygon([(8, 0), (24, 5)], 60e-6)).structure(0)
    u = axial_unit(plain)
    exact = FILM.density * 60e-6 * np.hypot(16, 5) * MM * 2 * np.pi * 16 * MM
    assert u @ (plain.mass @ u) == pytest.approx(exact, rel=1e-10)


def test_curved_and_tapered_wall_has_the_mass_of_pappus():
    """A tapering two-layer roll: rho 2 pi integral of (r - o t_z)(1 - kappa o) ds do, by Gauss points on the design."""
    wall = Wall((Layer(STEEL, 2 * MM, 1 * MM), Layer(FOIL, 0.5 * MM, 1.5 * MM)))
    arc = Arc((30 * MM, 0.0), 10 * MM, np.pi, -np.pi)
    structure = build_solid(Design("roll", (wall_piece(arc, wall),), FREE, FREE)).structure(0)
    x, w = np.polynomial.legendre.leggauss(20)
    s = (x + 1) / 2 * arc.length
    o, weight = np.meshgrid(x, w)[0] / 2, w / 2
    expected = 0.0
    for si, wi in zip(s, w * arc.length / 2, strict=True):
        fraction = si / arc.length
        t = arc.tangent(si)
        thick = [layer.thickness(fraction) for layer in wall.layers]
        low = -sum(thick) / 2
        for layer, h in zip(wall.layers, thick, strict=True):
            offset = low + (o[0] + 0.5) * h
            radius = arc.point(si)[0] - offset * t[1]
            stretch = 1 - arc.curvature(si) * offset
            expected += wi * layer.material.density * 2 * np.pi * (radius * stretch * weight).sum() * h
            low += h
    u = axial_unit(structure)
    coarse = u @ (structure.mass @ u)
    assert coarse == pytest.approx(expected, rel=3e-4)  # biquadratic cells of 0.6 rad
    design = Design("roll", (wall_piece(arc, wall),), FREE, FREE)
    structure = build_solid(design, mesh_section(design, grading=Grading(turn=0.15))).structure(0)
    u = axial_unit(structure)
    assert u @ (structure.mass @ u) == pytest.approx(expected, rel=2e-6)  # of 0.15 rad: the fourth power of the angle


def test_zone_areas_are_projected_areas():
    structure = build_solid(stepped_v()).structure(0)
    assert structure.zone_area.sum() == pytest.approx(np.pi * (24**2 - 8**2) * MM**2, rel=1e-12)
    assert structure.zone_area[structure.zones.index(COIL)] == 0
    assert np.all(structure.volume[structure.zones.index(COIL)] == 0)
    higher = build_solid(stepped_v()).structure(1)
    assert not higher.volume.any() and not higher.pickup.any()


@pytest.mark.parametrize("design", [stepped_v(), disc(1.0, 0.05)], ids=["v", "disc"])
def test_stiffness_is_a_polynomial_in_the_order(design):
    """K(m) = K0 + m K1 + m^2 K2 wherever the unknowns are the same, those inside cells among them: third differences of
    m = 2...5 vanish."""
    model = build_solid(design).whole
    k = [model.structure(m).stiffness for m in (2, 3, 4, 5)]
    third = k[3] - 3 * k[2] + 3 * k[1] - k[0]
    assert abs(third).max() < 1e-11 * abs(k[0]).max()
    assert abs(k[0] - k[0].T).max() < 1e-12 * abs(k[0]).max()


@pytest.mark.parametrize("m", [0, 1, 3])
def test_similarity(m):
    """All lengths times c divide frequencies by c; modulus times e and density times d multiply them by sqrt(e/d)."""

    def tapered(c, e=1.0, d=1.0):
        stuff = replace(STEEL, youngs_modulus=e * STEEL.youngs_modulus, density=d * STEEL.density)
        wall = Wall((Layer(stuff, 3e-3 * c, 2e-3 * c),))
        meridian = wall_piece(Line((0.05 * c, 0.0), (0.12 * c, 0.04 * c)), wall)
        return Design("cone", (meridian,), CLAMPED, HINGED)

    base = frequencies(build_solid(tapered(1.0), up_to_hz=60e3).structure(m), 30e3)[:4]
    longer = frequencies(build_solid(tapered(3.0), up_to_hz=20e3).structure(m), 10e3)[:4]
    stiffer = frequencies(build_solid(tapered(1.0, 4.0, 0.25), up_to_hz=240e3).structure(m), 120e3)[:4]
    np.testing.assert_allclose(3 * longer, base, rtol=1e-6)  # the grids are similar but for rounding up cell counts
    np.testing.assert_allclose(stiffer / 4, base, rtol=1e-6)


def test_drive_and_swept_volume_are_reciprocal():
    """Volume swept by a unit coil force = coil motion under unit pressure on the front face."""
    from scipy.sparse.linalg import splu

    structure = build_solid(stepped_v()).structure(0)
    solve = splu(structure.stiffness.tocsc()).solve
    volume = structure.volume.sum(axis=0)
    assert volume @ solve(structure.drive) == pytest.approx(structure.pickup @ solve(volume), rel=1e-9, abs=0)


def test_cells_converge_at_the_rate_of_their_order():
    """Frequency error of a smooth mode falls with the cells as h^(2p): order p = 2 along the wall gives h^4.

    A hollow sphere has no edges whose boundary layers would hide the rate. Exact: n = 2 of the thick hollow sphere.
    """
    design = sphere(1.0, 0.05)
    exact = 0.7364550 * np.sqrt(STEEL.youngs_modulus / STEEL.density) / (2 * np.pi)
    errors, counts = [], []
    for refine in (1, 2, 3):
        section = mesh_section(design, grading=Grading(up_to_hz=600, corner=100, turn=0.5, refine=refine))
        found = frequencies(build_solid(design, section, orders=Orders(2, 4, 2)).structure(0), 800)[0]
        errors.append(found - exact)
        counts.append(len(section.plan.cells))
    assert min(errors) > 0  # from above, as a Ritz method must
    rate = np.log(errors[0] / errors[2]) / np.log(counts[2] / counts[0])
    assert 3.5 < rate < 5.0


def test_nearly_incompressible_rubber_does_not_lock():
    """nu = 0.49: the usual orders stay within 0.25 % of order 7 for a short thick rubber ring.

    What is left is the singular stress at the clamped corners; a locked model would be several per cent too stiff.
    """
    rubber = replace(STEEL, youngs_modulus=5e6, density=1100.0, poisson_ratio=0.49)
    design = Design("rubber", (wall_piece(Line((20 * MM, 0.0), (26 * MM, 0.0)), 1 * MM, rubber),), CLAMPED, CLAMPED)
    section = mesh_section(design, 2000)
    usual, fine = (
        frequencies(build_solid(design, section, orders=o).structure(0), 6e3) for o in (None, Orders(7, 7, 7))
    )
    np.testing.assert_allclose(usual[:3], fine[:3], rtol=2.5e-3)


def test_a_stiff_plate_on_an_elastic_edge_is_a_mass_on_a_spring():
    """f = sqrt(k 2 pi a/M)/2 pi: the spring per metre of edge times its length; the plate is stiff beside it."""
    k = 1e3
    design = disc(0.1, 0.02, outer=Edge(axial=k, loss_factor=0.1))
    structure = build_solid(design).structure(0)
    found = frequencies(structure, 100)[0]
    mass = STEEL.density * np.pi * 0.1**2 * 0.02
    assert found == pytest.approx(np.sqrt(k * 2 * np.pi * 0.1 / mass) / (2 * np.pi), rel=1e-5)
    # it rocks about a diameter: pi k a^3 against a moment of inertia M (a^2/4 + h^2/12)
    rocking = frequencies(build_solid(design).structure(1), 100)
    assert rocking[rocking > 0.1][0] == pytest.approx(np.sqrt(2 / (1 + 0.2**2 / 3)) * found, rel=1e-4)
    support = next(term for term in structure.terms if term.made_of == "support")
    assert support.zone == -1 and support.law(np.array([50.0])).imag == pytest.approx(0.1)
    assert structure.rigid_modes == 0


TWO = Wall((Layer(FILM, 30e-6, 30e-6), Layer(FOIL, 60e-6, 60e-6)))
LAYERED_V = replace(stepped_v(), meridian=tuple(replace(x, wall=TWO) for x in stepped_v().meridian))
TUBE_AND_RING = replace(polygon([(16, 0), (20, 0), (24, 2)], 60e-6, joint=0), former=wound_former(16 * MM, 0.0))


@pytest.mark.parametrize("design", [stepped_v(), LAYERED_V, TUBE_AND_RING], ids=["v", "layers", "former first"])
def test_the_middle_of_the_cells_is_the_drawn_line(design):
    """Surface points lie on the straight pieces that are drawn, in their order, of the meridian and of the former;
    within 0.5 um of a wall of 60 where small cells lead them about a corner."""
    surface = build_solid(design).structure(0).surface
    for run, pieces in enumerate((design.meridian, design.former)):
        chain = np.array([pieces[0].curve.begin, *(piece.curve.end for piece in pieces)])
        here = surface.run == run
        place, away = nearest_of_chain(chain, np.stack((surface.r, surface.z), axis=1)[here])
        assert away.max() < 1e-6 and np.all(np.diff(place) > -1e-9)


def test_the_way_along_a_bulging_mid_line_is_the_slope_of_its_place():
    """By differences, where small cells lead it about a corner."""
    model, at, step = build_solid(stepped_v()), np.array([0.1, 0.5, 0.9]), 1e-4
    bulging = [stretch for stretch in model.section.plan.middle[0] if max(map(abs, stretch.bulge)) > 0.1]
    before, after = (line_of(model.shapes, bulging, at + way * step).place for way in (-1, 1))
    along = line_of(model.shapes, bulging, at).along
    assert len(bulging) > 1
    np.testing.assert_allclose((after - before) / (2 * step), along, atol=1e-6 * np.abs(along).max())


def test_the_mean_and_the_turn_of_a_face_of_unlike_layers():
    """Of a motion that is 1 mm and the height over the middle, told by its corners alone: 1 mm, and a slope of one."""
    wall = Wall((Layer(FILM, 30e-6, 30e-6), Layer(STEEL, 120e-6, 120e-6)))
    model = build_solid(part([wall_piece(Line((5e-3, 0.0), (9e-3, 0.0)), wall)], CLAMPED, HINGED))
    face, motion = model._ends[1].face, np.zeros(model.shapes.count)
    motion[model.shapes.nodes[:, :4]] = 1e-3 + model.shapes.corner[..., 1]
    assert face.mean @ motion == pytest.approx(1e-3, rel=1e-12)
    assert face.moment @ motion == pytest.approx(1.0, rel=1e-9)


def test_a_hinged_plate_is_not_a_clamped_one():
    """Lowest x^2 = omega a^2 sqrt(rho h/D) of a plate that is hinged all around and of one that is clamped: 4.935 and
    10.216 at nu = 0.3 (Leissa, Vibration of Plates (1969), tables 2.1 and 2.3, from memory), of 0.01 a within 0.1 %."""
    a, h = 0.1, 1e-3
    scale = np.sqrt(STEEL.youngs_modulus * h**2 / (12 * (1 - 0.3**2) * STEEL.density)) / a**2 / (2 * np.pi)
    for edge, x2 in ((HINGED, 4.935), (CLAMPED, 10.216)):
        found = frequencies(build_solid(disc(a, h, outer=edge)).structure(0), 1e4)[0]
        assert found / scale == pytest.approx(x2, rel=1e-3)


@pytest.mark.parametrize("m", range(4))
def test_what_lies_on_the_axis_moves_as_a_smooth_motion_does(m):
    """m = 0 along it, m = 1 across it with u = -v, m >= 2 not at all."""
    model = build_solid(disc(0.1, 5e-3))
    reduction = model.reduction(m)
    unknowns = np.random.default_rng(m).normal(size=reduction.size)
    u, v, w = (reduction.to_raw @ unknowns).reshape(-1, 3)[model._ends[0].face.nodes].T
    assert np.all(u == -v) and np.any(u) == (m == 1) and np.any(w) == (m == 0)


def test_surface_points_stand_for_the_whole_surface():
    """The area of a cone's middle between two circles, pi (r1 + r2) s (Pappus)."""
    cone = polygon([(10, 0), (20, 5)], 0.1 * MM)
    slant = np.hypot(10, 5) * MM
    area = build_solid(cone).structure(0).surface.area
    assert area.sum() == pytest.approx(np.pi * 30 * MM * slant, rel=1e-12)


def test_ring_adds_its_mass_and_hoop_stiffness():
    """A free tube with a ring at its end: shift mass grows by the ring's; a stiff ring stops breathing there."""
    bare = tube(0.05, 0.5 * MM, 0.02)
    rung = replace(bare, joint=1, ring=Ring(5e-3, 1e12))
    light, heavy = (build_solid(x).structure(0) for x in (bare, rung))
    steel = STEEL.density * 2 * np.pi * 0.05 * 0.5 * MM * 0.02
    ones = [
        rigid(build_solid(x), 0, lambda r, z: 0 * r, lambda r, z: 0 * r, lambda r, z: 1 + 0 * r) for x in (bare, rung)
    ]
    assert ones[0] @ (light.mass @ ones[0]) == pytest.approx(steel, rel=1e-8)
    assert ones[1] @ (heavy.mass @ ones[1]) == pytest.approx(steel + 5e-3, rel=1e-8)
    assert heavy.pickup @ ones[1] == pytest.approx(1.0, rel=1e-8)
    # a ring that cannot widen holds its circle: the second mode of breathing must bend the tube and rises
    assert frequencies(heavy, 60e3)[1] > 1.02 * frequencies(light, 60e3)[1]


def test_order_must_be_a_whole_number():
    with pytest.raises(ModelError, match="order m must be 0, 1, 2"):
        build_solid(disc(0.1, 0.01)).structure(-1)


def test_rounding_in_the_tangent_of_a_held_face_holds_nothing_more():
    """A half ball that ends square to its mirror plane, the end tangent exact and 1e-15 off: the same frequencies."""
    mirror, radius = Edge(axial=np.inf, rotation=np.inf), 2.0**-6  # m: a power of two keeps the angle exact

    def modes(sweep):
        half = wall_piece(Arc((0.0, 0.0), radius, np.pi / 2, -sweep), 0.4 * radius)
        ball = replace(sphere(radius, 0.4 * radius), meridian=(half,), outer_edge=mirror)
        return frequencies(build_solid(ball, up_to_hz=50e3).structure(0), 200e3)

    exact, off = modes(np.pi / 2), modes(np.pi / 2 * (1 + 1e-15))
    assert len(exact) > 1
    np.testing.assert_allclose(off, exact, rtol=1e-9)


def test_a_face_whose_turn_is_held_stays_parallel():
    """Its rotation alone is held: along the meridian the whole face moves as one, whatever the unknowns are."""
    model = build_solid(disc(20 * MM, 2 * MM, Edge(rotation=np.inf)), up_to_hz=20e3)
    to_raw, face = model.reduction(0).to_raw, model._ends[1].face
    moved = (to_raw @ np.random.default_rng(1).standard_normal(to_raw.shape[1])).reshape(-1, 3)[
        :, [0, 2]
    ] @ face.tangent
    assert len(face.inner) > 1 and np.abs(moved[face.inner]).max() < 1e-12  # hierarchic: what bulges between corners
    np.testing.assert_allclose(moved[face.corners], moved[face.corners[0]], rtol=1e-12)
    assert abs(moved[face.corners[0]]) > 1e-3


@pytest.mark.parametrize(
    ("u", "w", "kept"),
    [
        (lambda r, z: 1 + 0 * r, lambda r, z: 0 * r, 3e5),
        (lambda r, z: 0 * r, lambda r, z: 1 + 0 * r, 5e5),
        (lambda r, z: z - 5 * MM, lambda r, z: 20 * MM - r, 7.0),
    ],
    ids=["out", "along the axis", "turned"],
)
def test_an_elastic_edge_pushes_back_as_its_springs_do(u, w, kept):
    """A cone's end face, 2 mm high and leaning, moved as one or turned by 1 about its middle: springs per metre of the
    edge's circle, each on its own motion."""
    edge = Edge(radial=3e5, axial=5e5, rotation=7.0)
    cone = wall_piece(Line((10 * MM, 0.0), (20 * MM, 5 * MM)), 2 * MM)
    model = build_solid(Design("cone", (cone,), FREE, edge), up_to_hz=20e3)
    x = rigid(model, 0, u, lambda r, z: 0 * r, w)
    (support,) = (term.matrix for term in model.structure(0).terms if term.made_of == "support")
    assert x @ support @ x == pytest.approx(2 * np.pi * 20 * MM * kept, rel=1e-6)
