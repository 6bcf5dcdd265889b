"""The solvers on a Structure written by hand: coil m1 on spring k1 to ground, mass m2 on spring k2 to the coil.

With unit coil motion the second mass moves 1/(1 - x^2), x = omega/omega_2, omega_2 = sqrt(k2/m2): a mass on a spring
(Den Hartog, Mechanical Vibrations (1956), section 2.5, foundation excitation; equation re-derived here).
"""

import pickle
from collections.abc import Callable
from dataclasses import dataclass, replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.sparse import block_diag, csr_matrix

from diaphragm_fem.analysis.modes.eigen import eigenpairs_below
from diaphragm_fem.analysis.modes.label import label_mode
from diaphragm_fem.analysis.modes.modes import solve_modes
from diaphragm_fem.analysis.response import dynamics, dynamics_slope, respond
from diaphragm_fem.analysis.solution import area_error, direct_area, solve, solve_area
from diaphragm_fem.analysis.static import solve_static
from diaphragm_fem.answer.trust.convergence import _area_change
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.law import Constant
from diaphragm_fem.model.structure import MASS, STIFFNESS, Load, Port, Structure, Term

M1, M2, K1, K2 = 1.2e-3, 0.4e-3, 8e3, 4e4
A1, A2 = 20e-4, 12e-4
ZONES = (
    Zone("driven zone", Role.DRIVEN, "outer"),
    Zone("step", Role.STEP, "outer", 1),
    Zone("beyond", Role.BEYOND, "outer", 1),
)


@dataclass(frozen=True)
class Varying:
    """1 + i eta(f) with a loss factor that depends on frequency."""

    loss: Callable

    constant = stiffens = False

    def __call__(self, frequency):
        return 1 + 1j * np.asarray(self.loss(frequency))


def two_mass(loss=0.05, ground=K1, step=None):
    step = Constant(1 + 1j * loss) if step is None else step
    terms = (
        Term(csr_matrix(np.diag([ground, 0.0])), Constant(1 + 1j * loss), STIFFNESS, 0, "suspension"),
        Term(csr_matrix(K2 * np.array([[1.0, -1], [-1, 1]])), step, STIFFNESS, 1, "step"),
        Term(csr_matrix(np.diag([M1, 0.0])), derivatives=MASS, zone=0, made_of="coil"),
        Term(csr_matrix(np.diag([0.0, M2])), derivatives=MASS, zone=2, made_of="film"),
    )
    coil = np.array([1.0, 0.0])
    volume = np.array([[A1, 0.0], [0.0, 0.0], [0.0, A2]])
    return Structure(0, terms, ZONES, coil, coil, volume, volume.sum(axis=1), rigid_modes=int(ground == 0))


def test_a_motion_that_grows_is_at_no_frequency():
    """As about a state under stress beyond a snap: its residual is all of its own stiffness, and a number."""
    modes = solve_modes(two_mass(ground=-1e-3 * K1), 20e3)
    assert modes.frequency_hz[0] == 0 and np.isfinite(modes.residual).all()


def test_an_eigenvalue_that_is_no_number_is_refused(monkeypatch):
    """As of a surround of 14 nm beside a dome of metal, by rounding: the search for a fundamental ended in an error."""
    own = "diaphragm_fem.analysis.solution.eigenpairs_in_span"
    lost = SimpleNamespace(squares=np.array([np.nan]), vectors=np.full((2, 1), np.nan))
    monkeypatch.setattr(own, lambda *_: lost)
    with pytest.raises(AnalysisError, match="rounding hides its stiffness beside the rest"):
        solve(two_mass(), 20e3)


@pytest.mark.parametrize("ground", [1e-13 * K1, -1e-13 * K1])
def test_what_rounding_hides_holds_nothing(ground):
    """Whatever its sign: figures are those of the free part, to rounding, and no mode lies at or near 0 Hz."""
    hidden, free = (solve(two_mass(ground=one), 20e3) for one in (ground, 0.0))
    assert hidden.fundamental_hz is None and hidden.static.stiffness == 0 and hidden.static.free_volume is None
    np.testing.assert_allclose(hidden.mode_hz, free.mode_hz, rtol=1e-9)
    modes = solve_modes(two_mass(ground=ground), 20e3)
    assert modes.rigid_modes == 1
    np.testing.assert_allclose(modes.loss_factor, solve_modes(two_mass(ground=0.0), 20e3).loss_factor, rtol=1e-9)
    assert solve_modes(two_mass(ground=1e-5 * K1), 20e3).rigid_modes == 0  # 1 Hz


def test_modes_of_two_masses():
    """Roots of m1 m2 w^4 - (m1 k2 + m2 (k1 + k2)) w^2 + k1 k2 = 0; exact, so rounding alone is allowed."""
    b, a, c = -(M1 * K2 + M2 * (K1 + K2)), M1 * M2, K1 * K2
    exact = np.sqrt(np.sort(np.roots([a, b, c]))) / (2 * np.pi)
    modes = solve_modes(two_mass(), 20e3)
    np.testing.assert_allclose(modes.frequency_hz, exact, rtol=1e-10)
    np.testing.assert_allclose(modes.loss_factor, 0.05, rtol=1e-9)
    np.testing.assert_allclose(modes.strain_share.sum(axis=1), 1, rtol=1e-9)
    second = 1 / (1 - (2 * np.pi * exact) ** 2 * M2 / K2)  # the second mass per motion of the coil
    np.testing.assert_allclose(modes.modal_mass, M1 + M2 * second**2, rtol=1e-9)
    np.testing.assert_allclose(modes.modal_area, A1 + A2 * second, rtol=1e-9)
    np.testing.assert_allclose(modes.kinetic_share[:, 2], M2 * second**2 / (M1 + M2 * second**2), rtol=1e-9)


def chain(size, second_loss):
    """Equal masses on springs between two walls, every second spring with a loss of its own, the first with one of 0.1;
    and the ends (n, n + 1) of its springs."""
    ends = np.eye(size, size + 1) - np.eye(size, size + 1, 1)
    springs = [ends[:, k::2] @ ends[:, k::2].T for k in range(2)]
    laws = Constant(1 + 0.1j), Constant(1 + 1j * second_loss)
    terms = [Term(csr_matrix(own), law, zone=0) for own, law in zip(springs, laws, strict=True)]
    coil = np.eye(size)[0]
    mass = Term(csr_matrix(np.eye(size)), derivatives=MASS, zone=0)
    return Structure(0, (*terms, mass), ZONES[:1], coil, coil, coil[None], coil[:1]), springs


def test_of_one_law_each_mode_has_its_loss():
    """By definition; nothing lies beyond the span of the modes that their losses would call for."""
    np.testing.assert_allclose(solve_modes(chain(30, 0.1)[0], 0.2).loss_factor, 0.1, rtol=1e-9)


def test_of_very_many_modes_losses_are_means_over_the_energy():
    """More than 80 are told by their undamped shapes: the mean of the laws' losses over the energy in each."""
    structure, springs = chain(90, 0.02)
    modes = solve_modes(structure, 0.4)
    energy = np.array([np.einsum("nm,nm->m", modes.vectors, own @ modes.vectors) for own in springs])
    assert len(modes) == 90
    np.testing.assert_allclose(modes.loss_factor, np.array([0.1, 0.02]) @ energy / energy.sum(axis=0), rtol=1e-9)


def test_losses_of_modes_that_are_not_told_apart_are_means_over_the_energy():
    """Two of one shape: no span tells them apart. The mode itself has another loss, by a part of the losses' square."""
    structure = two_mass(step=Constant(1 + 0.3j))
    pairs = eigenpairs_below(structure.stiffness, structure.mass, (2 * np.pi * 20e3) ** 2)
    twice = replace(pairs, squares=pairs.squares[[0, 0]], vectors=pairs.vectors[:, [0, 0]])
    held = K2 * (1 - 1 / (1 - pairs.squares[0] * M2 / K2)) ** 2
    mean = (0.05 * K1 + 0.3 * held) / (K1 + held)
    np.testing.assert_allclose(solve_modes(structure, 20e3, twice).loss_factor, mean, rtol=1e-9)
    assert abs(solve_modes(structure, 20e3, pairs).loss_factor[0] / mean - 1) > 1e-5


def test_losses_of_modes_go_along_to_another_process():
    modes = solve_modes(two_mass(step=Constant(1 + 0.3j)), 20e3)
    np.testing.assert_array_equal(pickle.loads(pickle.dumps(modes)).loss_factor, modes.loss_factor)


def test_the_residual_of_a_wrong_shape_is_as_it_is_defined():
    structure = two_mass()
    pairs = eigenpairs_below(structure.stiffness, structure.mass, (2 * np.pi * 20e3) ** 2)
    x = pairs.vectors @ np.array([[1.0, 0.02], [-0.01, 1.0]])
    found = solve_modes(structure, 20e3, replace(pairs, vectors=x)).residual
    stiffness, mass = structure.stiffness.toarray(), structure.mass.toarray()
    r = stiffness @ x - mass @ x * pairs.squares
    expected = np.sqrt((r**2 / stiffness.diagonal()[:, None]).sum(axis=0) / (x * (stiffness @ x)).sum(axis=0))
    np.testing.assert_allclose(found, expected, rtol=1e-9)


def test_the_residual_beside_a_loose_mass_is_a_number():
    loose = replace(two_mass(), terms=tuple(term for term in two_mass().terms if term.made_of != "step"))
    found = solve_modes(replace(loose, rigid_modes=1), 20e3)
    assert found.frequency_hz == pytest.approx([np.sqrt(K1 / M1) / (2 * np.pi)]) and found.residual[0] < 1e-9


def test_a_mode_is_named_by_what_holds_most_of_it():
    zones = tuple(Zone(name, Role.DRIVEN) for name in ("cap", "cone", "edge"))
    assert label_mode(zones, np.array([0.0, 0.1, 0.9]), np.array([0.8, 0.2, 0.0])) == "cap on the edge"
    assert label_mode(zones, np.array([0.0, 0.1, 0.9]), np.array([0.6, 0.4, 0.0])) == "cap and cone on the edge"
    assert label_mode(zones, np.array([0.9, 0.1, 0.0]), np.array([0.8, 0.2, 0.0])) == "cap"
    cones = [
        Zone("inner cone", Role.DRIVEN, "inner"),
        Zone("outer cone", Role.DRIVEN, "outer"),
        Zone("edge", Role.SURROUND),
    ]
    bent = label_mode(cones, np.array([0.9, 0.0, 0.1]), np.array([0.5, 0.5, 0.0]))
    assert bent == "both cones"  # "both driven zones on the inner driven zone" was told of a ring V's


@pytest.mark.parametrize(("share", "name"), [(0.81, "inner flank"), (0.79, "both flanks")])
def test_a_side_that_holds_four_fifths_is_named_alone(share, name):
    sides = tuple(Zone(f"{side} flank", Role.DRIVEN, side) for side in ("inner", "outer"))
    assert label_mode(sides, np.array([share, 1 - share]), np.array([share, 1 - share])) == name


UNIT = (2 * np.pi * 1e3) ** 2


def overlapping(apart):
    """Two oscillators of unit mass at w^2 = 1 and 1 + apart, in (2 pi 1 kHz)^2, tied by 0.05 of it, one with the loss
    factor 0.4, the other and the tie 0.01, and the roots of the complex quadratic equation, exact."""
    spring, tie = np.diag([1.0, 0.0]), 0.05 * np.array([[1.0, -1], [-1, 1]])
    other = np.diag([0.0, 1 + apart])
    terms = (
        Term(csr_matrix(UNIT * spring), Constant(1 + 0.4j), STIFFNESS, 0, "rubber"),
        Term(csr_matrix(UNIT * (other + tie)), Constant(1 + 0.01j), STIFFNESS, 1, "film"),
        Term(csr_matrix(np.eye(2)), derivatives=MASS, zone=2, made_of="film"),
    )
    coil = np.array([1.0, 0.0])
    a, b, c = 1 + 0.4j + 0.05 * (1 + 0.01j), (1.05 + apart) * (1 + 0.01j), 0.05 * (1 + 0.01j)
    roots = np.roots([1.0, -(a + b), a * b - c**2])
    return Structure(0, terms, ZONES, coil, coil, np.eye(3, 2), np.ones(3)), np.sort(roots.imag / roots.real)


@pytest.mark.parametrize("apart", [0.02, 0.2, 3.0])
def test_modes_that_overlap_have_the_losses_they_have_together(apart):
    """By the undamped shapes the close ones would have 0.24 and 0.15; they have 0.016 and 0.375."""
    structure, exact = overlapping(apart)
    modes = solve_modes(structure, 20e3)
    np.testing.assert_allclose(np.sort(modes.loss_factor), exact, rtol=1e-9)
    shares = np.sort(modes.strain_share @ [0.4, 0.01, 0.0])
    assert (np.abs(shares / exact - 1).max() > 0.2) == (apart < 1)


@pytest.mark.parametrize("apart", [0.02, 0.2])
def test_a_mode_beyond_the_top_takes_its_part_of_the_losses(apart):
    """The first of the two alone lies below the top, and its answer at rest is the other: exact all the same. By its
    undamped shape it would be 3 % off where the two lie 0.2 apart, 36 % where 0.02."""
    structure, exact = overlapping(apart)
    both = solve_modes(structure, 20e3)
    first = solve_modes(structure, both.frequency_hz.mean())
    assert len(first) == 1
    assert first.loss_factor == pytest.approx(both.loss_factor[:1], rel=1e-9)
    assert np.abs(exact / (first.strain_share @ [0.4, 0.01, 0.0]) - 1).min() > 0.02


def beside_one_another(*parts):
    """Structures of the same laws that know nothing of one another as one."""
    terms = tuple(
        replace(same[0], matrix=csr_matrix(block_diag([term.matrix for term in same])))
        for same in zip(*(part.terms for part in parts), strict=True)
    )
    coil, volume = np.concatenate([part.drive for part in parts]), np.hstack([part.volume for part in parts])
    return replace(parts[0], terms=terms, drive=coil, pickup=coil, volume=volume)


@pytest.mark.parametrize("copies", [2, 3])
@pytest.mark.parametrize("apart", [0.02, 3.0])
def test_twins_of_equal_loss_stay_as_many_as_they_are(apart, copies):
    """Systems that are the same to the bit: each complex square is there as often. Taken for one mode, the others would
    have the means of undamped shapes."""
    one, exact = overlapping(apart)
    modes = solve_modes(beside_one_another(*[one] * copies), 20e3)
    np.testing.assert_allclose(np.sort(modes.loss_factor), np.repeat(exact, copies), rtol=1e-9)


def test_neighbours_nearer_than_twins_stay_two_while_their_shapes_differ():
    """Two oscillators of one frequency, tied by c of their square, one of which loses 2.8 c: their roots are
    1 + c (1 + 1.4 i) +- c sqrt(1 - 1.4^2), 0.88e-4 apart, and their shapes overlap by 1/1.4. Taken for one, the other
    would have the mean of both."""
    c, one = 4.5e-5, np.array([[1.0, -1.0], [-1.0, 1.0]])
    terms = (
        Term(csr_matrix(UNIT * np.diag([1.0, 0.0])), Constant(1 + 2.8j * c), STIFFNESS, 0, "rubber"),
        Term(csr_matrix(UNIT * (np.diag([0.0, 1.0]) + c * one)), Constant(1.0), STIFFNESS, 1, "film"),
        Term(csr_matrix(np.eye(2)), derivatives=MASS, zone=2, made_of="film"),
    )
    coil = np.array([1.0, 0.0])
    modes = solve_modes(Structure(0, terms, ZONES, coil, coil, np.eye(3, 2), np.ones(3)), 20e3)
    exact = c * (1.4 + np.array([-1, 1]) * np.sqrt(1.4**2 - 1))
    np.testing.assert_allclose(np.sort(modes.loss_factor), exact, rtol=3e-4)  # c itself, of the square, is left out


@pytest.mark.parametrize(("of_hidden", "rigid"), [(0.9, 1), (1.1, 0)])
def test_what_holds_a_part_counts_from_a_hundred_thousandth_of_the_top_on(of_hidden, rigid):
    """A mass of 1 kg on a spring of just below and above (2 pi 1e-5 f)^2, f the top, beside one at half of it."""
    stiffness = np.diag([(of_hidden * 1e-5 * 2) ** 2, 1.0]) * UNIT
    terms = (Term(stiffness, Constant(1 + 0.1j), STIFFNESS, 0), Term(np.eye(2), derivatives=MASS, zone=0))
    structure = Structure(0, terms, ZONES[:1], np.ones(2), np.ones(2), np.ones((1, 2)), np.ones(1))
    assert solve_modes(structure, 2e3).rigid_modes == rigid
    assert solve(structure, 2e3).structure.rigid_modes == rigid


def test_a_mode_met_from_two_frequencies_counts_once():
    """Between two single modes, an octave less a little apart, three that overlap are found from either. Of what is
    told twice one would pass for a neighbour. Against the eigenvalues of the complex matrix of the three."""
    squares = np.diag([0.6, 1.08, 1.02, 1.05, 2.3])
    squares[1:4, 1:4] += np.array([[0.06, -0.06, 0], [-0.06, 0.15, -0.09], [0, -0.09, 0.09]])
    lossy = np.diag([0.0, 0.0, 0.0, 1.05, 0.0])
    terms = (
        Term(csr_matrix(UNIT * lossy), Constant(1 + 0.4j), STIFFNESS, 0, "rubber"),
        Term(csr_matrix(UNIT * (squares - lossy)), Constant(1 + 0.01j), STIFFNESS, 1, "film"),
        Term(csr_matrix(np.eye(5)), derivatives=MASS, zone=2, made_of="film"),
    )
    coil = np.eye(5)[0]
    modes = solve_modes(Structure(0, terms, ZONES, coil, coil, np.eye(3, 5), np.ones(3)), 20e3)
    assert 1 < modes.frequency_hz[-1] / modes.frequency_hz[0] < 2
    exact = np.linalg.eigvals((squares + 0.01j * (squares - lossy) + 0.4j * lossy)[1:4, 1:4])
    np.testing.assert_allclose(np.sort(modes.loss_factor[1:4]), np.sort(exact.imag / exact.real), rtol=1e-9)


def rising_loss(f):
    return 0.02 + 0.1 * np.log10(1 + np.asarray(f) / 100)


@pytest.mark.parametrize("step", [Constant(1 + 0.05j), Varying(rising_loss)])
def test_area_is_one_over_one_minus_x_squared(step):
    """S = A1 + A2/(1 - x^2/(1 + i eta)), eta of the step alone, solved as it stands."""
    f = np.geomspace(30, 5000, 77)
    x2 = (2 * np.pi * f) ** 2 * M2 / K2
    exact = A1 + A2 / (1 - x2 / step(f))
    np.testing.assert_allclose(solve_area(two_mass(step=step), f).total, exact, rtol=1e-9)
    np.testing.assert_allclose(direct_area(two_mass(step=step), f).total, exact, rtol=1e-9)


def test_a_coil_alone_has_no_blocked_modes():
    """One mass on one spring: the area is its own at every frequency, the force k(1 + i eta) - m omega^2 per motion."""
    mass, spring = csr_matrix([[M1]]), csr_matrix([[K1]])
    terms = (Term(spring, Varying(lambda f: 0.05 + 0.01 * np.log1p(np.asarray(f)))), Term(mass, derivatives=MASS))
    alone = Structure(0, terms, ZONES[:1], np.ones(1), np.ones(1), np.array([[A1]]), np.array([A1]))
    curve = solve(alone, 20e3).curve(400)
    f = curve.frequency_hz
    np.testing.assert_allclose(curve.total, A1, rtol=1e-12)
    exact = K1 * (1 + 1j * (0.05 + 0.01 * np.log1p(f))) - M1 * (2 * np.pi * f) ** 2
    np.testing.assert_allclose(curve.coil_force, exact, rtol=1e-9)


def test_what_has_no_zones_has_modes_and_a_curve():
    """Modes ended in an IndexError for want of names; the curve's points lay anywhere, for nothing is swept."""
    bare = replace(two_mass(), zones=(), volume=np.zeros((0, 2)), zone_area=np.zeros(0))
    bare = replace(bare, terms=tuple(replace(term, zone=-1, matrix=term.matrix.toarray()) for term in bare.terms))
    assert solve_modes(bare, 20e3).labels == ("", "") and solve(bare, 20e3).static.low.size == 0
    f = solve(bare, 20e3).curve(100).frequency_hz
    assert len(f) == 100 and np.diff(np.log(f)).max() < 0.2  # all but the densest tenth is spread over seven e-folds


@pytest.mark.filterwarnings("error")
def test_what_sweeps_nothing_is_answered_without_dividing_by_it():
    still = replace(two_mass(), volume=np.zeros((2, 2)), zone_area=np.zeros(2))
    assert not solve(still, 20e3).curve(100).total.any()


def test_force_on_the_coil():
    """F/c = k1 (1 + i eta) - w^2 m1 - w^2 m2/(1 - x^2/(1 + i eta)): Newton's law for both masses."""
    f = np.geomspace(30, 5000, 31)
    w2 = (2 * np.pi * f) ** 2
    exact = K1 * (1 + 0.05j) - w2 * M1 - w2 * M2 / (1 - w2 * M2 / K2 / (1 + 0.05j))
    np.testing.assert_allclose(solve_area(two_mass(), f).coil_force, exact, rtol=1e-6)


def test_static_answers():
    """Stiffness k1; both masses ride along, so the moving mass is their sum."""
    static = solve_static(two_mass())
    assert static.stiffness == pytest.approx(K1, rel=1e-9)
    assert static.moving_mass == pytest.approx(M1 + M2, rel=1e-9)


def test_a_free_system_has_no_stiffness_and_its_whole_mass():
    static = solve_static(two_mass(ground=0.0))
    assert static.stiffness == 0.0
    assert static.moving_mass == pytest.approx(M1 + M2, rel=1e-6)
    modes = solve_modes(two_mass(ground=0.0), 20e3)
    np.testing.assert_allclose(modes.frequency_hz, np.sqrt(K2 * (1 / M1 + 1 / M2)) / (2 * np.pi), rtol=1e-9)


def test_no_peak_is_missed_however_sharp():
    """Loss 1e-6 at 1 point in 400 evenly spread would miss the peak by far; |S| must reach 99 % of A2/eta."""
    curve = solve(two_mass(loss=1e-6), 20e3).curve(400)
    assert len(curve.frequency_hz) == 400
    assert np.abs(curve.total).max() > 0.99 * A2 / 1e-6


def test_what_is_loose_or_weighs_nothing_is_refused():
    """Told as 'the low area is zero' with a moving mass that is no number where dense, as an error of linear algebra
    where sparse; without a mass a departure was told at 1,363 for 2,137 Hz."""

    def system(springs, masses):
        terms = Term(np.asarray(springs, float)), Term(np.diag(masses), derivatives=MASS)
        return replace(two_mass(), terms=terms)

    for dense in (True, False):
        for springs, masses, why in (
            ([[K1, 0], [0, 0]], [M1, M2], "received 1 such motion, which leaves the coil at rest: tie what is loose"),
            ([[0, 0], [0, 0]], [M1, M2], "must move with the coil as one; received 2 such motions"),
            ([[K1 + K2, -K2], [-K2, K2]], [M1, 0.0], "each unknown needs a mass"),
        ):
            found = system(springs, masses)
            sparse = tuple(replace(term, matrix=csr_matrix(term.matrix)) for term in found.terms)
            with pytest.raises(AnalysisError, match=why):
                solve(found if dense else replace(found, terms=sparse), 20e3)
    springs, _ = system([[K1, 0], [0, K2]], [M1, M2]).terms
    of_one = replace(two_mass(), terms=(springs, Term(2.0**-10 * np.array([[1.0, 2], [2, 4]]), derivatives=MASS)))
    with pytest.raises(AnalysisError, match="mass must be positive in every motion"):
        solve(of_one, 20e3)


def test_a_rigid_body_that_nothing_holds_is_its_mass():
    one, terms = np.ones(1), (Term(np.zeros((1, 1))), Term(np.array([[M1]]), derivatives=MASS))
    found = solve(Structure(0, terms, ZONES[:1], one, one, A1 * np.ones((1, 1)), A1 * one, rigid_modes=1), 20e3).static
    assert (found.stiffness, found.moving_mass, found.low.tolist()) == (0.0, pytest.approx(M1), [pytest.approx(A1)])


def test_refusals():
    structure = two_mass()
    still = Structure(
        1, structure.terms, ZONES, 0 * structure.drive, 0 * structure.pickup, structure.volume, structure.zone_area
    )
    with pytest.raises(AnalysisError, match="only order m = 0 sweeps a volume"):
        solve_area(still, [10.0])
    with pytest.raises(AnalysisError, match="above 0 Hz"):
        solve_area(structure, [0.0, 10.0])
    with pytest.raises(AnalysisError, match="needs a coil"):
        solve_static(still)
    with pytest.raises(AnalysisError, match="top frequency must be above 0 Hz"):
        solve_modes(structure, 0.0)


@pytest.mark.parametrize(("step", "most"), [(None, 500), ("rising", 250)])
def test_more_modes_than_can_be_solved_are_refused_as_they_are_counted(step, most, monkeypatch):
    """Of a soft rubber by a slip of its modulus there are thousands, and they took gigabytes."""

    class Rising(Varying):
        stiffens = True

        def __call__(self, frequency):
            return (1 + np.asarray(frequency) / 1e4) * super().__call__(frequency)

    one = two_mass(step=step and Rising(rising_loss))
    terms = (replace(term, matrix=block_diag([term.matrix] * (most // 2 + 1), "csr")) for term in one.terms)
    many = replace(one, terms=tuple(terms), drive=np.tile(one.drive, most // 2 + 1))
    monkeypatch.setattr("diaphragm_fem.analysis.modes.eigen.largest_pairs", None)  # none is sought
    for solver in (solve, solve_modes):
        with pytest.raises(AnalysisError, match=rf"{most + 2} modes of one order lie below 20000 Hz, .* most {most} "):
            solver(many, 20e3)


def dense(structure):
    return replace(structure, terms=tuple(replace(term, matrix=term.matrix.toarray()) for term in structure.terms))


def damped_ground(f):
    """A damper of 1 N s/m and a spring of 2 kN/m on the second mass, as a load (F, 1, 1)."""
    return (2e3 + 2j * np.pi * f)[:, None, None]


@pytest.mark.parametrize("loads", [(), (Load(Port("ground", np.array([[0.0], [1.0]])), damped_ground),)])
def test_answers_and_slopes_are_the_same_dense_and_sparse(loads):
    """Two ways to solve the same two equations, and f dy/df by differences of the answers."""
    frequency, step = np.array([30.0, 400.0, 1500.0]), 1e-5
    sparse = two_mass().loaded(*loads)
    found = [
        dynamics(one, frequency).answers_and_slopes(dynamics_slope(one, frequency)) for one in (sparse, dense(sparse))
    ]
    np.testing.assert_allclose(found[1], found[0], rtol=1e-12)
    below, above = (respond(sparse, frequency * way) for way in (1 - step, 1 + step))
    np.testing.assert_allclose(found[0][:, 1::2], (above - below) / (2 * step), rtol=1e-6)


def test_a_dense_structure_that_is_nowhere_held_has_no_answer():
    """Without stiffness or mass its matrix is singular: no quotient by nothing passes for an answer."""
    one = dense(two_mass())
    nothing = replace(one, terms=tuple(replace(term, matrix=0 * term.matrix) for term in one.terms))
    with pytest.raises(np.linalg.LinAlgError, match="Singular"):
        dynamics(nothing, np.array([100.0])).answers_and_slopes(dynamics_slope(nothing, np.array([100.0])))


def test_errors_of_an_area_are_set_against_the_area_at_rest_at_least():
    """Where |S| is a twelfth of the area at rest a thousandth of that counts as one, at the peak a fiftieth of |S|."""
    structure, low = two_mass(), A1 + A2
    exact = replace(direct_area(structure, np.geomspace(500, 5e3, 2000)), low=np.array([A1, 0.0, A2]))
    size, fine = np.abs(exact.total), SimpleNamespace(held_hz=np.array([1e3]))
    assert size.min() < 0.1 * low < low < 0.2 * size.max()
    for at, off, told in ((size.argmin(), 1e-3 * low, 1e-3), (size.argmax(), 2e-2 * size.max(), 2e-2)):
        zone = exact.zone.copy()
        zone[0, at] += off
        wrong = replace(exact, zone=zone)
        coarse = SimpleNamespace(held_hz=fine.held_hz, curve=lambda _, wrong=wrong: wrong)
        assert area_error(structure, wrong) == pytest.approx(told, rel=1e-6)
        assert _area_change(coarse, fine, exact) == pytest.approx(told, rel=1e-6)
