"""Mode shapes on common points and the modal assurance criterion."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.sparse import csr_matrix
from scipy.special import i0, i1, j0, j1

from diaphragm_fem.analysis.modes.modes import solve_modes
from diaphragm_fem.answer.comparison.mode_tracks import follow_modes
from diaphragm_fem.answer.mode_shapes import Shapes, common_stretches, modal_assurance, shapes_at
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.material.material import LossFactor, Material
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED
from diaphragm_fem.design.meridian.wall import plain_wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.errors import ModelError
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.structure import Structure, Surface

FOIL = Material("test foil", 2700.0, 70e9, 0.33, LossFactor((0.01,)))
POINTS = 400


def _axial(values: np.ndarray, area: np.ndarray) -> Shapes:
    """Shapes that move along the axis alone, as columns."""
    return Shapes(np.vstack((np.zeros_like(values), values)), area)


def _disc(radius: float, thickness: float, up_to_hz: float, refine: int = 1, split: bool = False) -> Structure:
    zones = [Zone("disc", Role.DRIVEN)] * 2
    if split:
        zones = [Zone("inner disc", Role.DRIVEN), Zone("outer disc", Role.BEYOND, "", 1)]
    wall = plain_wall(FOIL, thickness)
    middle = 0.4 * radius
    pieces = (
        Piece(Line((0.0, 0.0), (middle, 0.0)), zones[0], wall),
        Piece(Line((middle, 0.0), (radius, 0.0)), zones[1], wall),
    )
    return build_shell(Design("disc", pieces, None, CLAMPED), up_to_hz=up_to_hz, refine=refine).structure(0)


def test_sines_are_at_right_angles():
    """sin(i pi x), sin(j pi x) on equal areas: 1 on the diagonal, 0 beside it (closed form, exact for midpoints)."""
    x = (np.arange(POINTS) + 0.5) / POINTS
    shapes = _axial(np.sin(np.pi * np.outer(x, np.arange(1, 6))), np.ones(POINTS))
    assert modal_assurance(shapes, shapes) == pytest.approx(np.eye(5), abs=1e-12)


def test_membrane_modes_are_at_right_angles_only_by_area():
    """J0(k_i r) are orthogonal with weight r and not with even weight (Watson, Bessel Functions, 5.11, from memory)."""
    r = (np.arange(POINTS) + 0.5) / POINTS
    zeros = np.array([2.404825557695773, 5.520078110286311, 8.653727912911013])
    values = j0(np.outer(r, zeros))
    by_area = modal_assurance(_axial(values, r), _axial(values, r))
    assert by_area == pytest.approx(np.eye(3), abs=1e-4)  # midpoint rule with 400 points
    evenly = modal_assurance(_axial(values, np.ones(POINTS)), _axial(values, np.ones(POINTS)))
    assert evenly[0, 1] > 0.01


def test_known_overlap():
    """x against 1 on 0...1: (1/2)^2/(1/3) = 3/4."""
    x = (np.arange(POINTS) + 0.5) / POINTS
    area = np.ones(POINTS)
    likeness = modal_assurance(_axial(x[:, None], area), _axial(np.ones((POINTS, 1)), area))
    assert likeness[0, 0] == pytest.approx(0.75, abs=1e-5)


def test_size_and_sign_of_a_shape_do_not_matter():
    rng = np.random.default_rng(5)
    area = rng.uniform(1, 2, POINTS)
    one = _axial(rng.normal(size=(POINTS, 3)), area)
    other = Shapes(-7.5 * one.motion, 3.0 * one.area)
    assert np.diag(modal_assurance(one, other)) == pytest.approx(np.ones(3), abs=1e-12)


def test_a_shape_that_stands_still_is_like_nothing():
    area = np.ones(4)
    still = _axial(np.zeros((4, 1)), area)
    assert modal_assurance(still, _axial(np.ones((4, 1)), area))[0, 0] == 0.0


def test_clamped_disc_has_the_closed_form_shapes():
    """w = J0(kr) - J0(ka)/I0(ka) I0(kr), ka the roots of J0 I1 + I0 J1 = 0 (Leissa, Vibration of Plates (1969), ch. 2).

    The wall is 1/500 of the radius, so shear and rotary inertia alter the shape by far less than 1e-4 of its square.
    """
    radius = 0.05
    structure = _disc(radius, radius / 500, 8e3)
    modes = solve_modes(structure, 8e3)
    here = shapes_at(structure, modes.vectors[:, :3], [(0,)])
    r = (np.arange(here.area.size) + 0.5) / here.area.size
    roots = np.array([3.19622062, 6.30643705, 9.43949914])
    assert j0(roots) * i1(roots) + i0(roots) * j1(roots) == pytest.approx(np.zeros(3), abs=1e-4)
    exact = j0(np.outer(r, roots)) - j0(roots) / i0(roots) * i0(np.outer(r, roots))
    assert modal_assurance(here, _axial(exact, r)) == pytest.approx(np.eye(3), abs=2e-3)


def test_area_of_the_points_is_the_disc():
    structure = _disc(0.05, 1e-4, 4e3)
    here = shapes_at(structure, solve_modes(structure, 4e3).vectors, [(0,)])
    assert here.area.sum() == pytest.approx(np.pi * 0.05**2, rel=1e-9)


def test_mesh_size_and_zone_borders_do_not_change_a_shape():
    """The same shapes from two meshes, from a disc of twice the size, and from one divided otherwise."""
    plain = _disc(0.05, 1e-4, 8e3)
    modes = solve_modes(plain, 8e3)
    for other, least in (
        (_disc(0.05, 1e-4, 8e3, refine=3), 0.999),
        (_disc(0.10, 4e-4, 8e3), 0.999),
        (_disc(0.05, 1e-4, 8e3, split=True), 0.999),
    ):
        theirs = solve_modes(other, 8e3)
        stretches = common_stretches(plain.zones, other.zones)
        one = shapes_at(plain, modes.vectors, [s[0] for s in stretches])
        two = shapes_at(other, theirs.vectors, [s[1] for s in stretches])
        likeness = modal_assurance(one, two)
        assert likeness.shape[0] == likeness.shape[1] >= 3
        assert np.diag(likeness).min() > least
        assert (likeness - np.diag(np.diag(likeness))).max() < 0.02


DRIVEN = Zone("outer driven zone", Role.DRIVEN, "outer")
STEP = Zone("outer step", Role.STEP, "outer", 1)
BEYOND = Zone("outer flank beyond step", Role.BEYOND, "outer", 1)
SURROUND = Zone("outer surround", Role.SURROUND, "outer")
FORMER = Zone("former", Role.COIL)


def test_zone_meets_zone_where_both_are_divided_alike():
    zones = [DRIVEN, STEP, BEYOND, SURROUND, FORMER]
    assert common_stretches(zones, zones[::-1][::-1]) == tuple(((k,), (k,)) for k in range(5))


def test_a_flank_meets_a_stepped_flank_as_a_whole():
    found = common_stretches([DRIVEN, SURROUND], [DRIVEN, STEP, BEYOND, SURROUND, FORMER])
    assert found == (((0,), (0, 1, 2)), ((1,), (3,)))


def test_designs_without_a_common_part_are_compared_by_numbers_alone():
    """A stepped V and a cone by points whose edge is no surround by its name: no mode of one is a mode of the other."""
    assert common_stretches([FORMER], [SURROUND]) == ()
    structures = [_disc(0.1, 4e-4, 2e3), _disc(0.1, 4e-4, 2e3)]
    structures[1] = replace(structures[1], zones=tuple(Zone(f"edge {k}", Role.OTHER, "outer") for k in range(2)))
    modes = [solve_modes(one, 2e3) for one in structures]
    tracks = follow_modes(structures, modes)
    assert [track.index.count(None) for track in tracks] == [1] * (len(modes[0]) + len(modes[1]))


def test_equations_without_a_surface_are_refused():
    structure = Structure(0, (), (DRIVEN,), np.ones(1), np.ones(1), np.ones((1, 1)), np.ones(1))
    with pytest.raises(ModelError, match="equations without a surface have no points that move"):
        shapes_at(structure, np.ones((1, 1)), [(0,)])


def test_shapes_are_read_between_the_points():
    """A linear motion over unequal points is read exactly."""
    r = np.array([1.0, 1.1, 1.7, 2.0])
    motion = csr_matrix((2 * r - 1)[:, None])
    none = np.zeros(4, int)
    surface = Surface(
        r, np.zeros(4), csr_matrix((4, 1)), csr_matrix((4, 1)), motion, np.zeros((4, 2)), np.ones(4), none, none
    )
    structure = Structure(0, (), (DRIVEN,), np.ones(1), np.ones(1), np.ones((1, 1)), np.ones(1), lambda: surface)
    here = shapes_at(structure, np.ones((1, 1)), [(0,)])
    count = len(here.area)
    at = 1 + (np.arange(count) + 0.5) / count
    assert here.motion[count:, 0] == pytest.approx(2 * at - 1, rel=1e-12)
    assert here.area == pytest.approx(2 * np.pi * at / count, rel=1e-12)
