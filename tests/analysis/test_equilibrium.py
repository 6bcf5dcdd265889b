"""Paths of equilibrium on structures written by hand: the shallow two-bar truss, alone and pushed through a spring.

Two bars of length l0 between supports 2 c apart meet at a height h. Pressed down by w each bar has the length
l = sqrt(c^2 + (h - w)^2) and the strain (l - l0)/l0, so F(w) = 2 EA (l0 - l)/l0 (h - w)/l: equilibrium of the middle
node (von Mises, Z. Angew. Math. Mech. 3 (1923) 406; equation derived here).
"""

import numpy as np
import pytest
from scipy.optimize import minimize_scalar
from scipy.sparse import csr_matrix

from diaphragm_fem.analysis.factors import count_below
from diaphragm_fem.analysis.large_stroke.equilibrium import (
    Equilibrium,
    Gauge,
    Loading,
    Unsettled,
    factor_gauge,
    heading,
    settle,
    unstable_directions,
    walk,
)
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.verify.rungs.large_stroke import first_limit

C, H, EA = 1.0, 0.2, 50.0
L0 = np.hypot(C, H)


def force(w):
    length = np.hypot(C, H - w)
    return 2 * EA * (L0 - length) / L0 * (H - w) / length


def stiffness(w):
    length, lever = np.hypot(C, H - w), H - w
    return 2 * EA / L0 * (lever**2 / length**2 - (L0 - length) * (1 / length - lever**2 / length**3))


TRUSS = Loading(lambda u: np.array([force(u[0])]), lambda u: csr_matrix([[stiffness(u[0])]]), lambda u: np.ones(1))


def sprung(k):
    """The truss (unknown 0) pushed by a spring k whose far end (unknown 1) is loaded."""
    return Loading(
        lambda u: np.array([force(u[0]) - k * (u[1] - u[0]), k * (u[1] - u[0])]),
        lambda u: csr_matrix([[stiffness(u[0]) + k, -k], [-k, k]]),
        lambda u: np.array([0.0, 1.0]),
    )


LIMIT = -minimize_scalar(lambda w: -force(w), bounds=(0, H), method="bounded", options={"xatol": 1e-12}).fun
REST = Equilibrium(np.zeros(1), 0.0)


def test_walk_reads_the_force_of_each_motion():
    stops = np.linspace(0, 2.5 * H, 26)[1:]
    states = list(walk(TRUSS, REST, Gauge(np.ones(1)), stops))
    np.testing.assert_allclose([s.unknowns[0] for s in states], stops, rtol=1e-12)
    np.testing.assert_allclose([s.factor for s in states], force(stops), rtol=1e-10, atol=1e-10)
    slopes = [heading(TRUSS, s, Gauge(np.ones(1)))[1] for s in states]
    np.testing.assert_allclose(slopes, stiffness(stops), rtol=1e-9)


def test_the_first_limit_is_the_largest_load():
    assert first_limit(TRUSS, REST, 0.05 * LIMIT) == pytest.approx(LIMIT, rel=5e-6)


def test_the_middle_of_the_path_is_unstable_unless_held():
    top = settle(TRUSS, Equilibrium(np.array([0.9 * H]), 0.1), Gauge(np.ones(1)), H)
    assert unstable_directions(TRUSS, top) == 1
    assert unstable_directions(TRUSS, top, held=np.ones(1)) == 0
    assert unstable_directions(TRUSS, REST) == 0


def test_a_singular_tangent_says_nothing_of_stability():
    nothing = csr_matrix((1, 1))
    flat = Loading(lambda u: 0 * u, lambda u: nothing, lambda u: np.ones(1))
    with pytest.raises(AnalysisError, match="a pivot of the tangent is zero: whether the state is stable cannot be"):
        unstable_directions(flat, REST)


def test_a_count_of_modes_at_a_mode_itself_is_taken_beside_it():
    """Exactly there a pivot is zero. Two unknowns that have no pivot of their own, at any frequency, are refused."""
    springs, masses = csr_matrix(np.diag([1.0, 4.0])), csr_matrix(np.eye(2))
    assert [count_below(springs, masses, square) for square in (0.99, 1.0, 1.01, 4.0)] == [0, 1, 1, 2]
    with pytest.raises(AnalysisError, match="the count of modes needs symmetric pivots and found none; give another"):
        count_below(csr_matrix([[0.0, 1.0], [1.0, 0.0]]), csr_matrix((2, 2)), 1.0)


@pytest.mark.parametrize("gauge", [Gauge(np.ones(1)), factor_gauge(1)], ids=["motion", "load"])
def test_what_has_no_stiffness_at_rest_is_refused(gauge):
    """A spring that goes with the cube of its motion, and what is loaded and nowhere held: errors of linear algebra."""
    cubic = Loading(lambda u: u**3, lambda u: csr_matrix([[3 * u[0] ** 2]]), lambda u: np.ones(1))
    with pytest.raises(Unsettled, match="no balance was found beyond 0, from steps of"):
        next(walk(cubic, REST, gauge, [1.0]))
    with pytest.raises(Unsettled, match="nothing is stiff enough there"):
        settle(cubic, REST, gauge, 1.0)
    pair = csr_matrix([[1.0, -1.0], [-1.0, 1.0]])
    loose = Loading(lambda u: pair @ u, lambda u: pair, lambda u: np.array([1.0, 0.0]))
    with pytest.raises(Unsettled, match="nothing is stiff enough there"):
        heading(loose, Equilibrium(np.zeros(2), 0.0), factor_gauge(2))


def test_walk_stops_where_a_held_motion_turns_back():
    """With the soft spring the loaded end turns back: no state follows, and it is said where."""
    k = 0.3 * -min(stiffness(np.linspace(0, 2 * H, 200)))
    w = np.linspace(0, 2 * H, 4001)
    turn = (w + force(w) / k)[: np.argmin(stiffness(w))].max()
    loading, gauge = sprung(k), Gauge(np.array([0.0, 1.0]))
    found = []
    with pytest.raises(Unsettled, match="no balance was found beyond") as stopped:
        for state in walk(loading, Equilibrium(np.zeros(2), 0.0), gauge, np.linspace(0, 3 * turn, 31)[1:]):
            found.append(state)
    assert 0.8 * turn < found[-1].unknowns[1] < 1.0001 * turn
    assert stopped.value.reached == pytest.approx(turn, rel=0.02)


def test_a_load_that_never_turns_back_has_no_limit():
    line = Loading(lambda u: 3 * u, lambda u: csr_matrix([[3.0]]), lambda u: np.ones(1))
    with pytest.raises(Unsettled, match="did not turn back within"):
        first_limit(line, REST, 0.1)


def test_a_load_that_grows_with_the_motion_softens_the_path():
    """3 u = f (1 + u/2): u = f/(3 - f/2), du/df = 3/(3 - f/2)^2."""
    line = Loading(lambda u: 3 * u, lambda u: csr_matrix([[3.0]]), lambda u: 1 + u / 2, lambda u: csr_matrix([[0.5]]))
    rate, _ = heading(line, Equilibrium(np.array([1.0]), 2.0), Gauge(np.zeros(1), 1.0))
    assert rate == pytest.approx([0.75], rel=1e-12)
