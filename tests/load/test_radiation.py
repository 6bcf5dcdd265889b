"""Free air before a face: closure, reduction, field, shapes that cannot be. Values of tables stand in the ladder."""

import re
from dataclasses import replace
from functools import partial
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.special import spherical_jn, spherical_yn
from skfem import ElementTriP2

from diaphragm_fem.design.meridian.curve import Arc, Line, freeform_from
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE
from diaphragm_fem.errors import MeshError, ModelError
from diaphragm_fem.load.air import moist_air
from diaphragm_fem.load.face_patterns import face_patterns, face_rule
from diaphragm_fem.load.radiation import MANY, REFINE, SLOWEST, _Answers, open_air
from diaphragm_fem.mesh import open_section
from diaphragm_fem.mesh.open_contour import OpenContour, front_contour, rear_contour
from diaphragm_fem.mesh.open_section import OpenSection, cut_open_section
from diaphragm_fem.model.air.open_air import FLATTEST, _least_jacobian, _matrices, _mesh, air_fields, air_modes
from diaphragm_fem.model.air.spherical_waves import carried, carried_away, log_slope
from diaphragm_fem.verify.bench import part, piece
from diaphragm_fem.verify.rungs.radiation import (
    V,
    along_axis,
    cap,
    evenly,
    flat,
    impedance,
    motion,
    pressure_inside,
    spread,
    v_velocity,
)

AIR = moist_air()
RADIUS = 0.03
CAVITY = OpenContour((), (Line((0.0, 0.0), (1.0, 0.0)),), (Line((1.0, 0.0), (1.0, 0.5)),))  # resonates: a deep recess


def hankel(n, x, derivative=False):
    return spherical_jn(n, x, derivative) - 1j * spherical_yn(n, x, derivative)


def test_waves_on_spheres_are_those_of_the_library():
    """Against scipy's spherical Bessel functions, near and far from where h_n grows steeply."""
    n, x = np.arange(31), np.array([[0.3], [2.0], [25.0]])
    assert log_slope(30, x[:, 0]) == pytest.approx(hankel(n, x, True) / hankel(n, x), rel=1e-9)
    assert carried(30, x[:, 0], 1.7 * x[:, 0]) == pytest.approx(hankel(n, 1.7 * x) / hankel(n, x), rel=1e-9)
    assert carried_away(30, x[:, 0]) == pytest.approx(1j ** (n + 1) / hankel(n, x), rel=1e-9)
    assert np.isfinite(carried_away(60, np.array([1e-5]))).all()  # h_60 there is beyond the largest double


@pytest.mark.parametrize(("contour", "count"), [(V, 2), (CAVITY, 5), (cap(-1.0), 2)], ids=["V", "cavity", "bowl"])
def test_the_reduction_is_the_elements_answer(contour, count):
    """The modes with their closure against the whole equations at some wave numbers, a recess's resonances too."""
    top = 11.0
    patterns, section = face_patterns(contour, 20), cut_open_section(contour, top)
    modes = air_modes(section, patterns, top)
    _, flow, store, around, push, moments = _matrices(section, patterns, modes.order)
    k = np.linspace(0.05, top, count)
    pressure, waves = modes.at(k)
    for i, wave in enumerate(k):
        weight = (2 * modes.order + 1) / modes.area
        added = weight * (wave * log_slope(int(modes.order[-1]), wave * modes.radius)[modes.order] + modes.stand_in)
        whole = (flow + modes.stand_in * around - wave**2 * store).toarray() - (moments * added) @ moments.T
        direct = np.linalg.solve(whole, push.astype(complex))
        assert np.abs(push.T @ direct - pressure[i]).max() < 1e-6 * np.abs(pressure[i]).max()  # 2e-8 measured
        assert np.abs(weight[:, None] * (moments.T @ direct) - waves[i]).max() < 1e-6 * np.abs(waves[i]).max()


@pytest.mark.parametrize("height", [0.5, -0.5])
def test_the_air_before_a_cap_has_its_volume(height):
    """Sides of triangles follow the cap and the hemisphere, whichever way round a triangle is numbered."""
    section = cut_open_section(cap(height), 10.0)
    store = _matrices(section, face_patterns(cap(height), 5), np.array([0]))[2]
    taken = np.pi * height * (3 + height**2) / 6
    assert store.sum() == pytest.approx(2 * np.pi * section.radius**3 / 3 - taken, rel=2e-5)  # 7e-6 measured


def test_a_triangle_is_as_flat_whichever_way_it_is_numbered():
    """Straight, and with a side whose middle is pushed in by most of its height; mirrored they are numbered the other
    way round."""
    cell = np.arange(6)[:, None]
    for pushed, least in ((0.0, 1.0), (0.4, -0.6)):
        places = ElementTriP2.doflocs.T - pushed * (np.arange(6) == 4)
        assert _least_jacobian(places, cell) == pytest.approx(least, rel=1e-12)
        assert _least_jacobian(places[::-1], cell) == pytest.approx(least, rel=1e-12)


def test_only_sides_that_would_turn_a_triangle_inside_out_stay_straight():
    """Two triangles, each with a side of a curve: one passes by the corner across, the other stays clear of it."""
    points = np.array([[0.0, 1.0, 0.5, 2.0], [0.0, 0.0, 0.2, 0.4]])
    bent, middle = np.array([[0, 3], [1, 1]]), np.array([[0.5, 1.55], [0.25, 0.15]])
    section = OpenSection(
        V,
        points,
        np.array([[0, 1], [1, 3], [2, 2]]),
        bent,
        middle,
        bent[:, :0],
        np.zeros((0, 2)),
        bent[:, :0],
        1.0,
        0.0,
    )
    mesh = _mesh(section)
    assert _least_jacobian(mesh.doflocs, mesh.dofs.element_dofs).min() > FLATTEST
    passed = [np.abs(mesh.doflocs.T - place).sum(axis=1).min() < 1e-12 for place in ((0.5, 0.0), *middle.T)]
    assert passed == [True, False, True]


def test_a_pulsating_hemisphere_is_a_monopole_and_its_mirror_image():
    """Z = rho c S i ka/(1 + i ka), the first term of the series on a sphere (Morse and Ingard, Theoretical Acoustics
    (1968), sec. 7.2, from memory), 4e-6 is found; r p far away is the same in all directions, 2e-4."""
    ka = np.array([0.1, 0.5, 1.0, 2.0, 5.0, 10.0])
    exact = 2 * np.pi * 1j * ka / (1 + 1j * ka)
    np.testing.assert_allclose(impedance(cap(1.0), evenly, ka, 1.5), exact, rtol=2e-5)
    far = spread(cap(1.0), evenly, ka, 1.5, np.inf, np.radians([0.0, 40.0, 85.0]))
    monopole = 1j * ka / (1 + 1j * ka) * np.exp(1j * ka)
    np.testing.assert_allclose(far, monopole[:, None] * np.ones(3), rtol=1e-3)


def test_patterns_are_orthonormal_and_begin_with_the_even_one():
    for contour in (V, cap(0.5)):
        patterns = face_patterns(contour, 30)
        place, weight = face_rule(contour, 80)
        values = patterns(place)
        assert (values.T * weight) @ values == pytest.approx(np.eye(30), abs=1e-10)
        assert np.ptp(values[:, 0]) < 1e-9 * values[0, 0]


def test_a_face_gives_the_power_that_its_field_carries():
    """For any motion, not the rigid one alone: the elements conserve energy."""
    air = open_air(OpenContour((), (Line((0.0, 0.0), (RADIUS, 0.0)),)), 20e3)
    f = np.geomspace(20, 20e3, 30)
    moved = np.random.default_rng(3).standard_normal((30, 28, 2)) @ [1, 1j]
    stiffness = air.stiffness(AIR, f)
    given = np.pi * f * np.imag(np.einsum("fa,fab,fb->f", moved.conj(), stiffness, moved))
    assert air.power(AIR, f, air.waves(AIR, f, moved)) == pytest.approx(given, rel=1e-9)
    assert np.abs(stiffness - np.swapaxes(stiffness, 1, 2)).max() < 1e-12 * np.abs(stiffness).max()  # reciprocity


def test_a_near_field_joins_the_far_one():
    """r p tends to its limit as 1/r; and the same waves carried to a distance by two steps are those of one."""
    air = open_air(OpenContour((), (Line((0.0, 0.0), (RADIUS, 0.0)),)), 20e3)
    f, angle = np.array([500.0, 5e3, 20e3]), np.radians([0.0, 40.0, 85.0])
    waves = air.waves(AIR, f, np.ones((3, 28)))
    far = np.abs(air.pressure(AIR, f, waves, np.inf, angle))
    off = [np.abs(r * np.abs(air.pressure(AIR, f, waves, r, angle)) / far - 1).max() for r in (10.0, 20.0)]
    assert off[0] < 0.01 and off[1] == pytest.approx(off[0] / 4, rel=0.2)  # the size errs by the square of 1/r
    with pytest.raises(ModelError, match=r"known from 37.5 mm.*received a distance of 20 mm: choose a larger"):
        air.pressure(AIR, f, waves, 0.02, angle)


def test_inside_and_outside_meet_on_the_hemisphere():
    air, top = open_air(OpenContour((), (Line((0.0, 0.0), (RADIUS, 0.0)),)), 20e3), 2 * np.pi * 20e3 / SLOWEST
    fields = air_fields(cut_open_section(air.contour, top, REFINE), air.patterns, top)
    f, angle = np.array([1e3, 15e3]), np.radians([10.0, 50.0, 80.0])
    k = 2 * np.pi * f / AIR.sound_speed
    moved = np.zeros((2, 28))
    moved[:, 0] = 1.0
    outside = air.pressure(AIR, f, air.waves(AIR, f, moved), air.nearest, angle)
    points = air.nearest * np.stack((np.sin(angle), np.cos(angle)), axis=1)
    inside = -AIR.density * (2 * np.pi * f[:, None]) ** 2 * pressure_inside(fields, k, points)[:, :, 0]
    assert inside == pytest.approx(outside, rel=1e-3)  # 2e-4 measured: the elements' own error at a point


def test_twice_the_size_is_half_the_frequency():
    """Per pattern, itself over the length: Z = -omega^2 rho m, and m grows with the length."""
    discs = [OpenContour((), (Line((0.0, 0.0), (r, 0.0)),)) for r in (RADIUS, 2 * RADIUS)]
    one, two = (open_air(disc, 20e3 * RADIUS / disc.length) for disc in discs)
    f = np.array([300.0, 3e3, 15e3])
    whole = one.stiffness(AIR, f)
    assert np.abs(2 * two.stiffness(AIR, f / 2) - whole).max() < 1e-6 * np.abs(whole).max()


def test_equal_faces_share_their_air_and_other_temperatures_too():
    contour = OpenContour((), (Line((0.0, 0.0), (RADIUS, 0.0)),))
    again = OpenContour((), (Line((0.0, 0.0), (RADIUS, 0.0)),))
    assert open_air(contour, 20e3) is open_air(again, 20e3)
    f = np.geomspace(20, 20e3, 200)
    air = open_air(contour, 20e3)
    whole = air.stiffness(AIR, f)
    assert np.array_equal(air.stiffness(AIR, f[::3]), whole[::3])  # kept
    assert moist_air(273.15, 0.0).sound_speed > SLOWEST
    assert not np.allclose(air.stiffness(moist_air(283.15), f), whole)


def test_a_bowl_is_louder_low_down_and_a_dome_weaker():
    """A recess holds air that moves with it, a dome displaces it: the mass of air orders as bowl, disc, dome."""
    small = np.array([0.01])
    mass = [
        (impedance(face, velocity, small, 1.0).imag / small)[0]
        for face, velocity in (
            (cap(-0.5), partial(along_axis, cap(-0.5).face[0])),
            (flat(), np.ones_like),
            (cap(0.5), partial(along_axis, cap(0.5).face[0])),
        )
    ]
    assert mass[0] > mass[1] > mass[2]


def test_a_dome_of_no_height_is_the_flat_face():
    """Differences fall in proportion to the height: the flat face is the limit, not a neighbour."""
    ka = np.array([0.5, 2.0, 6.0])
    plain = impedance(flat(), np.ones_like, ka, 2.0)
    off = [
        np.abs(impedance(cap(h), partial(along_axis, cap(h).face[0]), ka, 2.0) / plain - 1).max() for h in (0.02, 0.01)
    ]
    assert off[1] == pytest.approx(off[0] / 2, rel=0.1)


@pytest.mark.parametrize("backward", [False, True])
def test_the_rear_of_a_part_is_its_front_upside_down(backward):
    """Line, arc and smooth line, along which r stays and z changes its sign."""

    def bowed(t):
        r = 32e-3 - t if backward else t
        return np.stack((r, 3e-3 - (r - 12e-3) ** 2 / 30e-3), axis=-1)

    smooth = freeform_from(bowed, (12e-3, 20e-3))
    smooth = smooth.reverse() if backward else smooth
    curves = Line((2e-3, 0.0), (10e-3, 1e-3)), Arc((12e-3, 1e-3), 2e-3, np.pi, -np.pi / 2), smooth
    design = part("part", [piece(curve, 60e-6) for curve in curves], FREE, CLAMPED)
    front, rear = front_contour(design), rear_contour(design)
    place = np.linspace(0.0, front.length, 100)
    np.testing.assert_allclose(rear.point(place), front.point(place) * (1, -1), atol=1e-15)


def test_a_v_moves_air_by_its_projected_area():
    place, weight = face_rule(V, 40)
    assert weight @ v_velocity(place) == pytest.approx(np.pi * (1 - 0.42**2), rel=1e-12)
    patterns = face_patterns(V, 20)
    c = motion(patterns, V, v_velocity)
    assert c[0] / patterns(np.zeros(1))[0, 0] == pytest.approx(np.pi * (1 - 0.42**2), rel=1e-12)


def test_a_face_that_meets_its_baffle_is_refused():
    over = OpenContour((), (Arc((0.0, 0.0), 1.0, np.pi / 2, -2.4),))  # more than half a sphere: it overhangs its rim
    with pytest.raises(MeshError, match=r"meet near r = .*widen the mounting ring or lower the flange"):
        cut_open_section(OpenContour((), over.face, (Line(tuple(over.face[0].point(2.4)), (0.9, 0.9)),)), 5.0)


def test_a_face_of_too_many_wavelengths_is_refused():
    with pytest.raises(MeshError, match=r"takes \d+ triangles, more than 4000: lower the top frequency to \d+ % of it"):
        cut_open_section(flat(), 300.0)


def test_a_face_at_the_bottom_of_a_well_is_refused():
    """The air in the well counts too: a flange of ten metres took 3 GB before anything was told."""
    well = OpenContour((), (Line((0.0, -300.0), (1.0, -300.0)),), (Line((1.0, -300.0), (1.0, 0.0)),))
    assert cut_open_section(replace(well, after=(Line((1.0, -300.0), (1.0, -299.0)),)), 5.0).cells.size
    with pytest.raises(MeshError, match=r"takes \d+ triangles, more than 4000: it lies too deep in the baffle"):
        cut_open_section(well, 5.0)


@pytest.mark.parametrize(("begin", "shortest"), [(0.2, 0.02), (0.98, 0.002)], ids=["face", "narrow face"])
def test_sides_at_the_ends_of_a_face_are_a_share_of_its_reach_or_of_a_narrow_ones_width(begin, shortest):
    """A fiftieth of the reach 1, of a face 0.02 wide a tenth of that: h at its ends. That it grows by 0.8 s makes the
    first side (e^0.8 - 1)/0.8 h (integral of 1/h), more or less as the count of sides is rounded."""
    ring = OpenContour((Line((0.0, 0.0), (begin, 0.0)),), (Line((begin, 0.0), (1.0, 0.0)),))
    first = np.diff(cut_open_section(ring, 1.0).place[[0, -1]])
    assert (first > 1.2 * shortest).all() and (first < 1.6 * shortest).all()


def test_triangles_are_counted_before_they_are_cut(monkeypatch):
    """Equilateral ones fill a quarter of the disc: measured 2 % fewer than are cut where they are small."""
    wide = OpenContour((), (Line((0.0, 0.0), (3.0, 0.0)),))
    cut = cut_open_section(wide, 100 / 3).cells.shape[1]
    monkeypatch.setattr(open_section, "MOST", 100)
    with pytest.raises(MeshError, match=r"takes \d+ triangles") as refused:
        cut_open_section(wide, 100 / 3)
    told = re.search(r"takes (\d+) triangles", str(refused.value))
    assert int(told[1]) == pytest.approx(cut, rel=0.05)


def test_a_thread_that_asks_between_leaves_an_answer_as_it_is(monkeypatch):
    """Wave numbers and what was found for them are taken at once: another grid on the same face came between."""
    modes = SimpleNamespace(at=lambda k: (k[:, None, None] + 0j, k[:, None, None] + 1j))
    answers, k, equal = _Answers(modes), np.linspace(1.0, 2.0, MANY), np.array_equal
    answers.at(k)

    def between(a, b):
        if b is k:
            answers.at(k + 7.0)
        return equal(a, b)

    monkeypatch.setattr(np, "array_equal", between)
    mass, seen = answers.at(k)
    assert equal(mass[:, 0, 0], k) and equal(seen[:, 0, 0], k + 1j)
