"""Modes at the moduli of their own frequency among the vectors of a span in which the mass is the identity.

All are settled at once by inverse iteration; mixtures and modes found twice, which that leaves, are put right after.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import eigh

from diaphragm_fem.analysis.factors import inverse_step
from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.law import factors_of
from diaphragm_fem.model.projected import held_by
from diaphragm_fem.model.structure import STIFFNESS, Structure, Term

_KNOTS = 6  # frequencies at which the modes' own span is solved for a first guess
STEPS = 8  # of inverse iteration at most: two or three settle a mode, more one whose neighbour is close
SETTLED = 1e-6  # of a frequency: what moved less from one modulus to the next is settled
_NEAR = 1e-4  # the same for a step of inverse iteration: less than its square is left of modes farther off than that
_LEFT = 1e-5  # of w^2: a residual as large mixes a sixtieth of one mode into another that lies just beyond _PARTED
_PARTED = 3e-4  # of a frequency: modes nearer to one another may be mixtures, and are told apart among themselves
_TWINS = 1e-3  # of the least that a combination of those close moves: less, and they span no more than fewer modes
ALIKE = 0.5  # overlap of two modes that are taken for one
_OWN = 0.1  # of its squared size, what a mode has to itself: of less others may be made, and one is missing
TURN = 2 * np.pi
_OFF_BY = 1e-12  # of an eigenvalue: kept from it, so that the matrix can be solved
_HALVINGS = 40  # of where a mode of a place in the list lies, at most: an octave down to a rounding
_NO_STIFFNESS = 1e-12  # of a mass of 1: what costs less, or less than nothing by rounding, is told as if it cost that


@dataclass(frozen=True, eq=False)
class InSpan:
    """Stiffness terms, merged, on a span in which the mass is the identity: their matrices (K, N, N), quickly summed at
    many frequencies."""

    terms: Sequence[Term]
    matrices: Array

    @property
    def size(self) -> int:
        return self.matrices.shape[1]

    def stiffness(self, frequency: Array) -> Array:
        """(F, N, N) at the storage moduli of each frequency (F,) in Hz."""
        weight = np.empty((len(frequency), len(self.terms)))
        for k, term in enumerate(self.terms):
            weight[:, k] = factors_of(term.law, frequency).real
        return np.tensordot(weight, self.matrices, axes=1)

    def guess(self, rigid: int, count: int, top: float) -> tuple[Array, Array]:
        """Frequencies (M,) in Hz of the elastic ones of `count` modes, and their vectors (N, M) at the nearest knot."""
        first = np.sqrt(max(float(np.linalg.eigvalsh(self.stiffness(np.ones(1)))[0, rigid]), 1.0)) / TURN
        knots = np.geomspace(min(first, 0.9 * top), top, _KNOTS)
        values, turns = np.linalg.eigh(self.stiffness(knots))
        frozen = np.sqrt(np.maximum(values[:, rigid:count], 0)) / TURN
        frequency = _crossings(knots, frozen)
        nearest = np.abs(np.log(frequency[:, None] / knots)).argmin(axis=1)
        return frequency, turns[nearest, :, rigid + np.arange(len(frequency))].T

    def settled(self, frequency: Array, turn: Array) -> tuple[Array, Array, Index]:
        """Frequencies (M,) in Hz and unit vectors (N, M), for all modes at once that are not settled yet, and the
        places of those that are not in the end."""
        frequency, x, some = frequency.copy(), turn.T.copy(), np.arange(len(frequency))
        for _ in range(STEPS):
            before = frequency[some]
            gap = self.stiffness(before)
            gap.reshape(len(some), -1)[:, :: self.size + 1] -= (1 - _OFF_BY) * (TURN * before[:, None]) ** 2
            moved = inverse_step(gap, x[some])
            size = np.linalg.norm(moved, axis=1)
            x[some] = shape = moved / size[:, None]
            frequency[some] = found = self._told(shape, before)
            # a half and half mixture of two modes keeps its frequency, between theirs; by 1/size it is no mode's square
            left = 1 / (2 * size * (TURN * before) ** 2)
            some = some[(np.abs(found / before - 1) > _NEAR) | (left > _LEFT)]
            if not len(some):
                break
        return frequency, x.T, some

    def each_once(self, frequency: Array, turn: Array, wrong: Index, rigid: int) -> tuple[Array, Array, Index]:
        """The elastic modes found, those that are wrong, another's twin or made of others sought again by their place,
        and which; that may make twins of others, which then are, too."""
        sought, placed = np.zeros((2, len(frequency)), bool)
        sought[wrong] = True
        while True:
            products = turn.T @ turn
            overlap = np.abs(products) - np.eye(len(frequency))
            own = 1 / np.linalg.inv(products + _OFF_BY * np.eye(len(frequency))).diagonal()
            sought = (sought | (overlap.max(axis=1) > ALIKE) | (own < _OWN)) & ~placed
            if not sought.any():
                return frequency, turn, np.flatnonzero(placed)
            for j in np.flatnonzero(sought).tolist():
                frequency[j], turn[:, j] = self._by_place(rigid + j, frequency[[j]])
            placed |= sought

    def parted(self, frequency: Array, turn: Array) -> tuple[Array, Array]:
        """The modes found, those that lie close told apart in what they span.

        Inverse iteration ends in any mixture of them, for each is within `_NEAR` of a mode. About w0 in their midst
        K(w) x = w^2 x is (K(w0) - w0^2) x = d (1 - dK/d(w^2)) x to first order in d = w^2 - w0^2.
        """
        frequency, turn, rising = frequency.copy(), turn.copy(), np.argsort(frequency)
        close = np.diff(frequency[rising]) < _PARTED * frequency[rising][1:]
        for some in np.split(rising, np.flatnonzero(~close) + 1):
            if len(some) > 1:
                shapes, ends = turn[:, some], frequency[some].mean() * np.array([1 - _NEAR, 1 + _NEAR])
                (low, high), squares = shapes.T @ self.stiffness(ends) @ shapes, (TURN * ends) ** 2
                middle, mass = squares.mean(), shapes.T @ shapes
                apart = (low + high) / 2 - middle * mass
                room = mass - (high - low) / (squares[1] - squares[0])
                if np.linalg.eigvalsh(room)[0] < _TWINS:  # twins span no more than one mode
                    continue
                found, mix = eigh(apart, room)
                frequency[some] = np.sqrt(middle + found) / TURN
                turn[:, some] = shapes @ mix / np.linalg.norm(shapes @ mix, axis=0)
        return frequency, turn

    def _by_place(self, place: int, frequency: Array) -> tuple[float, Array]:
        """The mode of a place in the list, sought among all at its own moduli from a guess (1,)."""
        low, high = np.zeros(1), np.full(1, np.inf)
        for _ in range(_HALVINGS):
            squares, shapes = np.linalg.eigh(self.stiffness(frequency)[0])
            shape, own = shapes[:, place], np.sqrt(np.maximum(squares[[place]], _NO_STIFFNESS)) / TURN
            found = self._told(shape[None], frequency)
            if max(abs(found - frequency), abs(own - frequency)) <= SETTLED * frequency:
                break
            low, high = (frequency, high) if own > frequency else (low, frequency)
            # the shape's own, where modes cross the eigenvalue's, else the middle
            frequency = next((hz for hz in (found, own, np.sqrt(low * high)) if low < hz < high), own)
        return float(found[0]), shape

    def _told(self, shape: Array, frequency: Array) -> Array:
        """The own frequencies (M,) in Hz of unit vectors (M, N), from a guess."""
        energy = np.einsum("jn,kjn->kj", shape, shape @ self.matrices)
        return own_of_energy(self.terms, energy, frequency)


def in_span(structure: Structure, span: Array | None = None, known: InSpan | None = None) -> InSpan:
    """The stiffness terms of a structure on a span, whose first vectors may be known; a small one may keep its own
    unknowns."""
    terms = [term for term in structure.merged if term.derivatives == STIFFNESS]
    if span is None:
        return InSpan(terms, np.stack([np.asarray(term.matrix) for term in terms]))
    done = 0 if known is None else known.size
    found = np.empty((len(terms), span.shape[1], span.shape[1]))
    for own, term in zip(found, terms, strict=True):
        held = held_by(term.matrix)
        own[:, done:] = span[held].T @ (term.matrix @ span[:, done:])[held]
    if known is not None:  # 0.9 instead of 1.6 ms for a stepped V
        found[:, :done, :done], found[:, done:, :done] = known.matrices, found[:, :done, done:].swapaxes(1, 2)
    return InSpan(terms, found)


def _crossings(knots: Array, frozen: Array) -> Array:
    """Where the frequencies (M,) of modes, told (K, M) at the moduli of each knot, are the knot's own; straight in
    logarithms."""
    gap, mode = np.log(np.maximum(frozen, 1e-3) / knots[:, None]), np.arange(frozen.shape[1])
    k = (gap > 0).sum(axis=0).clip(1, len(knots) - 1)
    below, above = gap[k - 1, mode], gap[k, mode]
    return np.asarray(knots[k - 1] * np.exp(below / (below - above) * np.log(knots[k] / knots[k - 1])))


def own_of_energy(terms: Sequence[Term], energy: Array, frequency: Array) -> Array:
    """Where the stiffness of shapes of mass 1, at the moduli of a frequency, makes it their own: (M,) in Hz from a
    guess; energy (K, M) is x^T A x for the matrix of each term. Two steps, and where they lead (Aitken), within e
    times that."""
    elastic = [(own, term.law) for own, term in zip(energy, terms, strict=True) if term.derivatives == STIFFNESS]

    def told(at: Array) -> Array:
        square = sum(own * factors_of(law, at).real for own, law in elastic)
        return np.asarray(np.sqrt(np.maximum(square, _NO_STIFFNESS)) / TURN)

    once = told(frequency)
    twice = told(once)
    first, second = np.log(once / frequency), np.log(twice / once)
    share = np.divide(second, first, out=np.zeros_like(first), where=np.abs(second) < np.abs(first))  # as of any power
    return np.asarray(twice * np.exp(np.clip(second * share / (1 - share), -1, 1)))
