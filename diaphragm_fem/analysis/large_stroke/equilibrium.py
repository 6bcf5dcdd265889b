"""Paths of equilibrium of a structure that moves far: Newton's method held by a gauge, and walks along the path.

Nothing here knows shells: forces(u) in equilibrium with factor times pattern(u), and their derivatives, are all.
Source: Riks, Int. J. Solids Struct. 15 (1979) 529 for paths past limit points of the load (named from memory).
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_matrix, csr_matrix, hstack, vstack
from scipy.sparse.linalg import splu

from diaphragm_fem.analysis.factors import negative_pivots
from diaphragm_fem.arrays import Array
from diaphragm_fem.errors import AnalysisError

_CLOSE = 1e-8  # of the unknowns' size: a correction this small leaves an error of its square
_NOTHING = 1e-14  # metres or radians: a change that is none, where the state itself is one of no motion
_MOST_CORRECTIONS = 12
_FINEST = 2.0**-6  # of the step asked for
_FARTHEST = 0.5  # of a step along the path: a state farther from where the path led to lies on another path
_SMALL_PIVOT = 1e-3  # of its column: a smaller one on the diagonal is passed over, the empty one of the border


@dataclass(frozen=True)
class Loading:
    """What is loaded and how: forces(u) (n,) = factor * pattern(u) (n,), tangent(u) (n, n) = d forces/du.

    slope(u) (n, n) = d pattern/du for loads that follow the motion; None for dead ones. ordering: in which unknowns are
    eliminated, a name that `splu` knows: their own along a chain, 0.39 instead of 0.55 ms by columns for a stepped V's
    shell; "MMD_AT_PLUS_A" where cells meet across it, 0.1 instead of 2.1 s for a solid of 24,000.
    """

    forces: Callable[[Array], Array]
    tangent: Callable[[Array], csr_matrix]
    pattern: Callable[[Array], Array]
    slope: Callable[[Array], csr_matrix] | None = None
    ordering: str = "NATURAL"


@dataclass(frozen=True)
class Equilibrium:
    """A state in balance: unknowns (n,) and the load factor."""

    unknowns: Array
    factor: float


@dataclass(frozen=True)
class Gauge:
    """What is held while the rest settles: row @ u + on_factor * factor = value."""

    row: Array
    on_factor: float = 0.0

    def of(self, state: Equilibrium) -> float:
        return float(self.row @ state.unknowns + self.on_factor * state.factor)


class Unsettled(AnalysisError):
    """No state in balance was found from where the search began; reached: the last value of the gauge, if any, and
    state the one there."""

    def __init__(self, message: str, reached: float | None = None, state: Equilibrium | None = None) -> None:
        super().__init__(message)
        self.reached, self.state = reached, state


def factor_gauge(size: int) -> Gauge:
    """The gauge that holds the load factor itself."""
    return Gauge(np.zeros(size), 1.0)


def settle(loading: Loading, start: Equilibrium, gauge: Gauge, value: float) -> Equilibrium:
    """The state at a value of the gauge, by Newton's method from a state near it.

    Raises Unsettled where the corrections do not die away, or a tangent is singular.
    """
    u, factor = start.unknowns, start.factor
    first = np.inf
    for count in range(1, _MOST_CORRECTIONS + 1):
        missing = factor * loading.pattern(u) - loading.forces(u)
        ahead = value - float(gauge.row @ u + gauge.on_factor * factor)
        change, factor_change = _bordered(loading, Equilibrium(u, factor), gauge, missing, ahead)
        u, factor = u + change, factor + factor_change
        size, moved = np.abs(u).max(), np.abs(change).max()
        if not np.isfinite(moved) or (count > 2 and moved > 1e3 * first):
            break
        first = moved if count == 1 else first
        if moved <= _CLOSE * size + _NOTHING:
            return Equilibrium(u, factor)
    raise Unsettled(f"no balance was found within {_MOST_CORRECTIONS} corrections")


def heading(loading: Loading, state: Equilibrium, gauge: Gauge) -> tuple[Array, float]:
    """How the unknowns (n,) and the factor change per unit of the gauge along the path. Raises Unsettled where they
    cannot be told."""
    return _bordered(loading, state, gauge, np.zeros(len(state.unknowns)), 1.0)


def walk(loading: Loading, start: Equilibrium, gauge: Gauge, stops: Sequence[float]) -> Iterator[Equilibrium]:
    """States at rising or falling values of the gauge, one for each stop, shorter steps between them where needed.

    Raises Unsettled, with the last value reached and its state, where even the finest step leads to no balance.
    """
    state = start
    for stop in stops:
        at, whole = gauge.of(state), stop - gauge.of(state)
        step = whole
        while abs(stop - at) > 1e-12 * abs(whole):
            target = stop if abs(stop - at) <= abs(step) * (1 + 1e-9) else at + step
            try:
                change, of_factor = heading(loading, state, gauge)
                guess = Equilibrium(state.unknowns + (target - at) * change, state.factor + (target - at) * of_factor)
                found = settle(loading, guess, gauge, target)
                off, ahead = found.unknowns - guess.unknowns, guess.unknowns - state.unknowns
                if np.linalg.norm(off) > _FARTHEST * np.linalg.norm(ahead):
                    raise Unsettled("the state found does not continue the path")
            except Unsettled as trouble:
                step /= 2
                if abs(step) < _FINEST * abs(whole):
                    words = f"no balance was found beyond {at:.6g}, from steps of {step:.3g} on"
                    raise Unsettled(words, at, state) from trouble
            else:
                state, at = found, target
        yield state


def unstable_directions(loading: Loading, state: Equilibrium, held: Array | None = None) -> int:
    """How many directions lower the energy at a fixed load: negative eigenvalues of the symmetric tangent.

    With `held` (n,) only motions u with held @ u = 0 count: the coil in the hand, say. Raises AnalysisError at a state
    whose tangent is singular: it says neither.
    """
    tangent = _whole_tangent(loading, state)
    symmetric = csr_matrix((tangent + tangent.T) / 2)
    count = negative_pivots(symmetric)
    if count is None:
        raise AnalysisError("a pivot of the tangent is zero: whether the state is stable cannot be told here")
    if held is not None and count and float(held @ splu(csc_matrix(symmetric)).solve(held)) < 0:
        count -= 1
    return count


def _whole_tangent(loading: Loading, state: Equilibrium) -> csr_matrix:
    """Derivative (n, n) of forces less load at a state."""
    tangent = loading.tangent(state.unknowns)
    return tangent if loading.slope is None else csr_matrix(tangent - state.factor * loading.slope(state.unknowns))


def _bordered(loading: Loading, state: Equilibrium, gauge: Gauge, missing: Array, ahead: float) -> tuple[Array, float]:
    """Changes of unknowns and factor that make up for missing forces (n,) and move the gauge ahead. Raises Unsettled
    where none do, or many: a singular tangent."""
    tangent, pattern = _whole_tangent(loading, state), loading.pattern(state.unknowns)
    units = np.abs(tangent.diagonal()).max() / (np.abs(pattern).max() or 1.0)  # both columns of one size
    top = hstack([tangent, csr_matrix(-pattern[:, None] * units)])
    scale = max(np.abs(gauge.row).max(), abs(gauge.on_factor * units)) or 1.0
    bottom = csr_matrix(np.append(gauge.row, gauge.on_factor * units)[None] / scale)
    whole, symmetric = csc_matrix(vstack([top, bottom])), {"SymmetricMode": True}
    try:
        factors = splu(whole, loading.ordering, _SMALL_PIVOT, relax=1, panel_size=1, options=symmetric)
    except RuntimeError as singular:
        raise Unsettled("nothing is stiff enough there for the load to be balanced in one way") from singular
    found = factors.solve(np.append(missing, ahead / scale))
    return found[:-1], float(found[-1] * units)
