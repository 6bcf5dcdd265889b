"""The answer of a structure to a force on its coil, frequency by frequency: D(f) u = drive, solved as it stands.

One function for every structure: a sparse one from a mesh is factored at each frequency, a small dense one is solved
for many at once. So the plain way, which every quicker one is held against, is the same code on other matrices.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import block_diag
from scipy.linalg.lapack import zgetrf, zgetrs

from diaphragm_fem.analysis.factors import factor_symmetric
from diaphragm_fem.arrays import Array, Complex, Index
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.structure import MASS, Matrix, Structure, multipliers

_SOLVED_AT_ONCE = 2**18  # entries of dense matrices held at a time: what stays in a core's own memory is quickest
_SLOPE_STEP = 1e-4  # of the frequency: over which factors are differenced


def respond(structure: Structure, frequency_hz: ArrayLike) -> Complex:
    """Unknowns (n, F) per newton of coil force at frequencies (F,) in Hz, every load on. Raises AnalysisError without
    a drive or for a frequency that is not above zero.

    A mass of 1 g on a spring of 1 kN/m with a loss factor of 0.1, at rest and at its resonance of 159 Hz:

    >>> from diaphragm_fem.model.law import Constant
    >>> from diaphragm_fem.model.structure import MASS, Structure, Term
    >>> one = np.ones(1)
    >>> terms = (Term(np.array([[1e3]]), Constant(1 + 0.1j)), Term(np.array([[1e-3]]), derivatives=MASS))
    >>> structure = Structure(0, terms, (), one, one, np.ones((0, 1)), np.ones(0))
    >>> 1e3 * np.abs(respond(structure, [1.0, 1e3 / (2 * np.pi)])).round(5)  # mm/N
    array([[ 1., 10.]])
    """
    require_drive(structure)
    return dynamics(structure, above_zero(frequency_hz)).answers()


def above_zero(frequency_hz: ArrayLike) -> Array:
    """Frequencies (F,) in Hz as an array; AnalysisError where one is not above zero."""
    frequency = np.atleast_1d(np.asarray(frequency_hz, float))
    if not np.all(frequency > 0):
        raise AnalysisError("frequencies must be above 0 Hz")
    return frequency


def require_drive(structure: Structure) -> None:
    """Raise AnalysisError where nothing drives the structure."""
    if not np.any(structure.drive):
        raise AnalysisError("this answer needs a coil: give the design a coil or a ring where it is driven")


@dataclass(frozen=True, eq=False)
class Dynamics:
    """D(f) of a structure at frequencies (F,): what multiplies each of its merged terms (K, F) and loads (F, p, p)."""

    structure: Structure
    weight: Complex
    loads: tuple[Complex, ...]

    def at(self, some: slice | NDArray) -> Dynamics:
        """The same at some of the frequencies."""
        return Dynamics(self.structure, self.weight[:, some], tuple(load[some] for load in self.loads))

    def on(self, structure: Structure) -> Dynamics:
        """The same frequencies for a structure projected from this one, which has the same terms and loads."""
        return Dynamics(structure, self.weight, self.loads)

    def forces(self, motion: NDArray) -> Complex:
        """D(f) u (n, F) for motions (n, F), each at its own frequency."""
        total = self.structure.forces(self.weight, motion)
        for load, pattern in zip(self.loads, self._patterns, strict=True):
            total = total + pattern @ np.einsum("fpq,qf->pf", load, pattern.T @ motion)
        return np.asarray(total, complex)

    def answers(self) -> Complex:
        """Unknowns (n, F) per newton of coil force."""
        size, count, drive = self.structure.size, self.weight.shape[1], self.structure.drive
        if not self.structure.dense:
            return np.stack([solve(drive) for solve in self._solvers()], axis=1)
        step, found = max(1, _SOLVED_AT_ONCE // max(1, size**2)), []
        for begin in range(0, max(count, 1), step):
            matrices = self.at(slice(begin, begin + step)).matrices()
            found.append(np.linalg.solve(matrices, drive[:, None])[..., 0].T)
        return np.asarray(found[0] if len(found) == 1 else np.hstack(found))

    def matrices(self) -> Complex:
        """D(f) (F, n, n) of a dense structure, loads on."""
        return dense_matrices(self.weight.T, self.structure.stacked, self.loads, self._patterns)

    def answers_and_slopes(self, slope: Dynamics) -> Complex:
        """The answers y and f dy/df side by side (n, 2 F), for the slope f dD/df: D f dy/df = -(f dD/df) y."""
        if self.structure.dense:
            factors = [_dense_factors(matrix) for matrix in self.matrices()]
            drive = self.structure.drive.astype(complex)
            answers = np.stack([zgetrs(*factor, drive)[0] for factor in factors], axis=1)
            pulled = -slope.forces(answers).T
            slopes = np.stack([zgetrs(*factor, p)[0] for factor, p in zip(factors, pulled, strict=True)], axis=1)
            return np.stack((answers, slopes), axis=2).reshape(len(drive), -1)
        found = []
        each = zip(self._solvers(), self.structure.weighed_each(slope.weight), strict=True)
        for k, (solve, matrix) in enumerate(each):
            answer = solve(self.structure.drive)
            pulled = matrix @ answer
            for load, pattern in zip(slope.loads, self._patterns, strict=True):
                pulled = pulled + pattern @ (load[k] @ (pattern.T @ answer))
            found += [answer, solve(-pulled)]
        return np.stack(found, axis=1)

    def _solvers(self) -> Iterator[Callable[[NDArray], Complex]]:
        """D(f)^-1 for forces (n,) at one frequency after another: factors of a solid are large."""
        for k, matrix in enumerate(self.structure.weighed_each(self.weight)):
            yield self._solver(matrix, [load[k] for load in self.loads])

    def _solver(self, matrix: Matrix, loads: Sequence[Complex]) -> Callable[[NDArray], Complex]:
        """D(f)^-1 at one of the frequencies, for forces (n,), from its terms' matrix and loads (p, p).

        Pivots of a sparse structure stay on the diagonal, so that the matrix keeps its symmetry: at resonances with a
        loss of 1e-4 general pivoting was seen to err by 3 %, this and a banded solver agree to 1e-4. Loads join as an
        update of low rank (Woodbury's identity: Golub and Van Loan, Matrix Computations (2013), section 2.1.4; named
        from memory).
        """
        factored = factor_symmetric(matrix)

        def plain(force: NDArray) -> Complex:
            return np.asarray(factored.solve(force.astype(complex)), complex)

        if not loads:
            return plain
        pattern, load = np.hstack(self._patterns), block_diag(*loads)
        answer = plain(pattern)
        pulled = load @ np.linalg.inv(np.eye(len(load)) + (pattern.T @ answer) @ load)

        def loaded(force: NDArray) -> Complex:
            unloaded = plain(force)
            return np.asarray(unloaded - answer @ (pulled @ (pattern.T @ unloaded)))

        return loaded

    @property
    def _patterns(self) -> list[Array]:
        return [load.port.pattern for load in self.structure.loads]


def _dense_factors(matrix: Complex) -> tuple[Complex, Index]:
    """LAPACK's factors of a symmetric matrix (n, n), which is used up. Raises LinAlgError where it is singular."""
    factors, pivots, vanishing = zgetrf(matrix.T, overwrite_a=True)  # symmetric: rows are the columns it wants
    if vanishing:
        raise np.linalg.LinAlgError("Singular matrix")
    return factors, pivots


def dense_matrices(weight: Complex, terms: NDArray, loads: Sequence[Complex], patterns: Sequence[NDArray]) -> Complex:
    """D(f) (F, n, n) from weights (F, K) of dense terms (K, n, n), and loads (F, p, p) on patterns (n, p)."""
    found = (weight @ terms.reshape(len(terms), -1)).reshape(-1, *terms.shape[1:])
    for load, pattern in zip(loads, patterns, strict=True):
        found += pattern @ load @ pattern.T
    return np.asarray(found)


def dynamics(structure: Structure, frequency_hz: Array) -> Dynamics:
    """D(f) at frequencies (F,) in Hz."""
    loads = tuple(load.stiffness(frequency_hz) for load in structure.loads)
    return Dynamics(structure, multipliers(structure.merged, frequency_hz), loads)


def dynamics_slope(structure: Structure, frequency_hz: Array) -> Dynamics:
    """f dD/df at frequencies (F,) in Hz, by differences."""
    around = np.concatenate((frequency_hz * (1 - _SLOPE_STEP), frequency_hz * (1 + _SLOPE_STEP)))
    beside, count = dynamics(structure, around), len(frequency_hz)
    below, above = beside.at(slice(count)), beside.at(slice(count, None))
    change = tuple((b - a) / (2 * _SLOPE_STEP) for a, b in zip(below.loads, above.loads, strict=True))
    return Dynamics(structure, (above.weight - below.weight) / (2 * _SLOPE_STEP), change)


def frozen(modes: Structure, at: Array) -> Complex:
    """(S, M, M): what stands beside -omega^2 in the equations, laws and loads as they are at frequencies (S,) in Hz."""
    terms, loads = [term for term in modes.merged if term.derivatives != MASS], modes.loads
    matrices = np.stack([np.asarray(term.matrix) for term in terms])
    acting, patterns = [load.stiffness(at) for load in loads], [load.port.pattern for load in loads]
    return dense_matrices(multipliers(terms, at).T, matrices, acting, patterns)
