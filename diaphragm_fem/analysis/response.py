"""The answer of a structure to a force on its coil, frequency by frequency: D(f) u = drive, solved as it stands.

One function for every structure: a sparse one from a mesh is factored at each frequency, a small dense one is solved
for many at once. So the plain way, which every quicker one is held against, is the same code on other matrices.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import SuperLU, splu

from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.structure import Aligned, Load, Structure, Term, factors

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

SOLVED_AT_ONCE = 2**17  # entries of dense matrices held at a time: what stays in a core's own memory is quickest
SLOPE_STEP = 1e-4  # of the frequency: over which factors are differenced


def respond(structure: Structure, frequency_hz: ArrayLike) -> Complex:
    """Unknowns (n, F) per newton of coil force at frequencies (F,) in Hz, every load on. Raises AnalysisError without
    a drive or for a frequency that is not above zero.

    A mass of 1 g on a spring of 1 kN/m with a loss factor of 0.1, at rest and at its resonance of 159 Hz:

    >>> from diaphragm_fem.model.structure import MASS, Constant, Structure, Term
    >>> one = np.ones(1)
    >>> terms = (Term(np.array([[1e3]]), Constant(1 + 0.1j)), Term(np.array([[1e-3]]), derivatives=MASS))
    >>> structure = Structure(0, terms, (), one, one, np.ones((0, 1)), np.ones(0))
    >>> 1e3 * np.abs(respond(structure, [1.0, 1e3 / (2 * np.pi)])).round(5)  # mm/N
    array([[ 1., 10.]])
    """
    require_drive(structure)
    frequency = np.atleast_1d(np.asarray(frequency_hz, float))
    if not np.all(frequency > 0):
        raise AnalysisError("frequencies must be above 0 Hz")
    if isinstance(structure.mass, np.ndarray):
        return dense_dynamics(structure).answers(frequency)
    sparse = SparseDynamics(structure)
    return np.stack([one.answer() for one in sparse.at_each(frequency)], axis=1)


def dynamics_of(structure: Structure) -> DenseDynamics | SparseDynamics:
    """The equations of a structure, ready to be solved at one frequency after another."""
    return dense_dynamics(structure) if isinstance(structure.mass, np.ndarray) else SparseDynamics(structure)


def require_drive(structure: Structure) -> None:
    """Raise AnalysisError where nothing drives the structure."""
    if not np.any(structure.drive):
        raise AnalysisError("this answer needs a coil: give the design a coil or a ring where it is driven")


@dataclass(frozen=True, eq=False)
class DenseDynamics:
    """D(f) of a small structure, solved at many frequencies at once: matrices (K, n, n) of its terms, drive (n,), and
    the patterns (n, P) of its loads.
    """

    terms: tuple[Term, ...]
    matrices: NDArray
    drive: NDArray
    loads: tuple[tuple[NDArray, Load], ...]

    def acting(self, frequency_hz: Array) -> tuple[Complex, ...]:
        """What each load does at frequencies (F,), (F, p, p)."""
        return tuple(load.stiffness(frequency_hz) for _, load in self.loads)

    def answers(
        self,
        frequency_hz: Array,
        weight: Complex | None = None,
        force: Complex | None = None,
        acting: tuple[Complex, ...] | None = None,
    ) -> Complex:
        """Unknowns (n, F) per newton, or to forces (n, F); `weight` (K, F) may hand in the factors of the terms,
        `acting` what the loads do."""
        acting = self.acting(frequency_hz) if acting is None else acting
        size, weight = len(self.drive), factors(self.terms, frequency_hz) if weight is None else weight
        flat, found = self.matrices.reshape(len(self.terms), -1), np.empty((size, len(frequency_hz)), complex)
        step = max(1, SOLVED_AT_ONCE // size**2)
        for begin in range(0, len(frequency_hz), step):
            some = slice(begin, begin + step)
            matrices = (weight[:, some].T @ flat).reshape(-1, size, size)
            for (pattern, _), stiffness in zip(self.loads, acting, strict=True):
                matrices += pattern @ stiffness[some] @ pattern.T
            right = self.drive[:, None] if force is None else force[:, some].T[..., None]
            found[:, some] = np.linalg.solve(matrices, right)[..., 0].T
        return found

    def answers_and_slopes(self, frequency_hz: Array) -> Complex:
        """The answers y (n, F) and f dy/df, side by side (n, 2 F)."""
        answers = self.answers(frequency_hz)
        below, above = np.split(factors(self.terms, _around(frequency_hz)), 2, axis=1)
        change = (above - below) / (2 * SLOPE_STEP)
        force = -np.einsum("kf,kpf->pf", change, self.matrices @ answers)
        for pattern, load in self.loads:
            below, above = np.split(load.stiffness(_around(frequency_hz)), 2)
            pulled = np.einsum("fpq,qf->pf", (above - below) / (2 * SLOPE_STEP), pattern.T @ answers)
            force -= pattern @ pulled
        return np.hstack((answers, self.answers(frequency_hz, force=force)))

    def within(self, span: NDArray) -> DenseDynamics:
        """The same equations on the span of vectors (n, N), projected by their transpose (see `projected`)."""
        turned = span.T
        loads = tuple((turned @ pattern, load) for pattern, load in self.loads)
        return DenseDynamics(self.terms, turned @ (self.matrices @ span), turned @ self.drive, loads)


def dense_dynamics(structure: Structure) -> DenseDynamics:
    """The equations of a dense structure."""
    matrices = np.stack([np.asarray(term.matrix) for term in structure.merged])
    loads = tuple((load.port.pattern, load) for load in structure.loads)
    return DenseDynamics(structure.merged, matrices, structure.drive, loads)


@dataclass(frozen=True, eq=False)
class Factored:
    """D(f) of a sparse structure, factored at one frequency; loads join as an update of low rank (Woodbury's identity:
    Golub and Van Loan, Matrix Computations (2013), section 2.1.4; named from memory).
    """

    sparse: SparseDynamics
    frequency_hz: float
    factors: SuperLU
    slope: Complex  # f d/df of the factors of the terms (K,)

    def solve(self, force: Complex) -> Complex:
        """D(f)^-1 force, (n,) or (n, R)."""
        plain = self._solve_unloaded(force)
        if not self.sparse.structure.loads:
            return plain
        pattern, load, answer = self._loads
        pulled = np.eye(pattern.shape[1]) + (pattern.T @ answer) @ load
        return np.asarray(plain - answer @ (load @ np.linalg.solve(pulled, pattern.T @ plain)))

    def answer(self) -> Complex:
        """Unknowns (n,) per newton of coil force."""
        return self.solve(self.sparse.structure.drive.astype(complex))

    def answer_and_slope(self) -> Complex:
        """The answer y and f dy/df, (n, 2): D f dy/df = -(f dD/df) y, the factors differenced over frequency."""
        answer = self.answer()
        return np.column_stack((answer, self.solve(-self._slope(answer))))

    def _slope(self, answer: Complex) -> Complex:
        """(f dD/df) answer, (n,)."""
        moved = np.empty_like(answer)
        order = self.sparse.order
        moved[order] = self.sparse.entries.matrix(self.slope) @ answer[order]
        around = _around(np.array([self.frequency_hz]))
        for load in self.sparse.structure.loads:
            below, above = load.stiffness(around)
            pattern = load.port.pattern
            moved += pattern @ ((above - below) / (2 * SLOPE_STEP) @ (pattern.T @ answer))
        return moved

    def _solve_unloaded(self, force: Complex) -> Complex:
        order = self.sparse.order
        found = np.empty(force.shape, complex)
        found[order] = self.factors.solve(np.ascontiguousarray(force[order]))
        return found

    @cached_property
    def _loads(self) -> tuple[Array, Complex, Complex]:
        """All patterns (n, P), their loads (P, P) as one matrix, and the unloaded answers (n, P) to the patterns."""
        pattern, load = joined_loads(self.sparse.structure.loads, self.frequency_hz)
        return pattern, load, self._solve_unloaded(pattern.astype(complex))


class SparseDynamics:
    """D(f) of a sparse structure: its terms on one pattern, in an order of unknowns found once for all frequencies.

    Explicit zeros are dropped and the order is kept: 0.33 instead of 0.53 ms a factorisation of a stepped V. Pivots
    stay on the diagonal, so that the matrix keeps its symmetry: at resonances with a loss of 1e-4 general pivoting
    was seen to err by 3 %, this and a banded solver agree to 1e-4.
    """

    def __init__(self, structure: Structure) -> None:
        self.structure, self.terms, plain = structure, structure.merged, structure.aligned
        pattern = csc_matrix(plain.matrix(np.abs(plain.values).sum(axis=1) > 0))
        pattern.data = np.abs(plain.values).sum(axis=0)
        # unknown k of the structure stands at place[k]
        place = splu(pattern, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).perm_c
        self.order = np.argsort(place)
        column = np.repeat(np.arange(structure.size), np.diff(plain.starts))
        numbers = csc_matrix((np.arange(1, len(column) + 1), (place[plain.rows], place[column])), shape=pattern.shape)
        numbers.sort_indices()
        self.entries = Aligned(numbers.indices, numbers.indptr, plain.values[:, numbers.data - 1])

    def at_each(self, frequency_hz: Array) -> Iterator[Factored]:
        """D(f) factored at one frequency after another."""
        weight = factors(self.terms, frequency_hz)
        below, above = np.split(factors(self.terms, _around(frequency_hz)), 2, axis=1)
        slope = (above - below) / (2 * SLOPE_STEP)
        for k in range(len(frequency_hz)):
            matrix = csc_matrix(self.entries.matrix(weight[:, k]).T)
            held = splu(matrix, permc_spec="NATURAL", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
            yield Factored(self, float(frequency_hz[k]), held, slope[:, k])

    def answers_and_slopes(self, frequency_hz: Array) -> Complex:
        """The answers y and f dy/df, frequency by frequency (n, 2 F)."""
        return np.hstack([one.answer_and_slope() for one in self.at_each(frequency_hz)])

    def at(self, frequency_hz: float) -> Factored:
        """D(f) factored at one frequency."""
        return next(self.at_each(np.array([frequency_hz])))


def joined_loads(loads: tuple[Load, ...], frequency_hz: float) -> tuple[Array, Complex]:
    """The patterns of several loads side by side (n, P), and their stiffness (P, P) at one frequency."""
    pattern = np.hstack([load.port.pattern for load in loads])
    total, begin = np.zeros((pattern.shape[1],) * 2, complex), 0
    for load in loads:
        end = begin + load.port.pattern.shape[1]
        total[begin:end, begin:end] = load.stiffness(np.array([frequency_hz]))[0]
        begin = end
    return pattern, total


def _around(frequency_hz: Array) -> Array:
    """Frequencies (2 F,) a little below, then a little above."""
    return np.concatenate((frequency_hz * (1 - SLOPE_STEP), frequency_hz * (1 + SLOPE_STEP)))
