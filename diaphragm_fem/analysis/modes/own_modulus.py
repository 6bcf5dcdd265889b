"""Modes whose materials have the storage modulus of the mode's own frequency.

Where a modulus varies, K(f) x = omega^2 M x is solved at omega = 2 pi f. A storage modulus grows with less than the
square of frequency (a `Material` refuses others), so that the j-th eigenvalue of K(f) as a function of f meets
(2 pi f)^2 once: each j has one solution, and as many lie below a frequency as K and M of that frequency have
eigenvalues below it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.linalg import eigh

from diaphragm_fem.analysis.modes.eigen import Eigenpairs, eigenpairs_below
from diaphragm_fem.analysis.span import extended
from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.law import factors_of
from diaphragm_fem.model.structure import MASS, STIFFNESS, Structure, Term, held_by

_KNOTS = 6  # frequencies at which the modes' own span is solved for a first guess
STEPS = 8  # of inverse iteration at most: two or three settle a mode, more one whose neighbour is close
SETTLED = 1e-6  # of a frequency: what moved less from one modulus to the next is settled
_NEAR = 1e-4  # the same for a step of inverse iteration: less than its square is left of modes farther off than that
_LEFT = 1e-5  # of w^2: a residual as large mixes a thirtieth of one mode into another that lies just beyond _PARTED
_PARTED = 3e-4  # of a frequency: modes nearer to one another may be mixtures, and are told apart among themselves
_FAINT = 1e-3  # of the larger of both values of K - w^2 M: directions along which it has less are used the less
_CALLED = 1e-14  # of w^2: what a residual has to promise for a mode to be moved
LOW, LOWEST = 4, 4  # one in so many modes is a low one, and so many at least
MOST_MODES = 250  # of an order: a part of this trade has some tens in its band; 640 took a minute and 4.5 GB
MOST_ALIKE = 500  # where no modulus varies
ALIKE = 0.5  # overlap of two modes that are taken for one
_OWN = 0.1  # of its squared size, what a mode has to itself: of less others may be made, and one is missing
TURN = 2 * np.pi
_OFF_BY = 1e-12  # of an eigenvalue: kept from it, so that the matrix can be solved


def eigenpairs_at_own_modulus(structure: Structure, up_to_hz: float) -> Eigenpairs:
    """All modes of a structure below a frequency in Hz, each at the storage moduli of its own frequency.

    Raises AnalysisError as `pairs_at_top_modulus` does.
    vectors (n, M) have mass 1 each, and are orthogonal only where no modulus varies. The modes at the moduli of the
    top frequency, complete by their count, are combined for other moduli; the span of these is widened by what their
    residuals call for, and each mode is settled in it by Rayleigh quotient iteration. One that settles on another, or
    on what others span, is sought again by its place in the list. On the demonstrations the frequencies are good to
    1e-6 where a modulus doubles within the band.
    Source of the ideas: Neumaier, SIAM J. Numer. Anal. 22 (1985) 914 (residual inverse iteration); Parlett, The
    Symmetric Eigenvalue Problem (1998), ch. 4 (both named from memory).
    """
    pairs = pairs_at_top_modulus(structure, up_to_hz)
    if not structure.modulus_varies or len(pairs.squares) <= structure.rigid_modes:
        return pairs
    first = _own(structure, pairs.vectors)
    guess = first.guess(structure.rigid_modes, len(pairs.squares), up_to_hz)
    missing = _called_for(structure, pairs, guess[0], pairs.vectors @ guess[1])
    span = extended(pairs.vectors, missing, structure.mass)
    own = _own(structure, span, first)
    turn = np.vstack((guess[1], np.zeros((own.size - len(guess[1]), len(guess[0])))))
    frequency, turn, again = own.each_once(*own.settled(guess[0], turn), structure.rigid_modes)
    frequency, turn = own.parted(frequency, turn)
    vectors = span @ turn
    if len(again):  # the span was made for what was guessed
        frequency[again], vectors[:, again] = _sharpened(structure, pairs, frequency[again], vectors[:, again])
    return _listed(pairs, structure.rigid_modes, frequency, vectors)


def pairs_at_top_modulus(structure: Structure, up_to_hz: float) -> Eigenpairs:
    """All modes of a structure below a frequency in Hz, at the moduli there. Raises AnalysisError for more than 500, or
    than 250 where a modulus varies and each is solved at its own."""
    most = MOST_MODES if structure.modulus_varies else MOST_ALIKE
    return eigenpairs_below(structure.stiffness_at(up_to_hz), structure.mass, (TURN * up_to_hz) ** 2, most)


def eigenpairs_in_span(structure: Structure, small: Structure, span: Array, pairs: Eigenpairs) -> Eigenpairs:
    """The same for a structure whose span (n, N) of modes and answers is at hand, and `small` its equations there.

    pairs: its modes at the moduli of the top frequency, which tell how many there are.
    """
    if not structure.modulus_varies or len(pairs.squares) <= structure.rigid_modes:
        return pairs
    top = float(np.sqrt(pairs.squares[-1])) / TURN
    place, own = span.T @ (structure.mass @ pairs.vectors), _own(small)
    frequency, turn = _own(small, place).guess(structure.rigid_modes, len(pairs.squares), top)
    frequency, turn, _ = own.each_once(*own.settled(frequency, place @ turn), structure.rigid_modes)
    frequency, turn = own.parted(frequency, turn)
    if small.size == structure.size:  # nothing lies beyond the span
        return _listed(pairs, structure.rigid_modes, frequency, span @ turn)
    return _listed(pairs, structure.rigid_modes, *_sharpened(structure, pairs, frequency, span @ turn))


def _listed(pairs: Eigenpairs, rigid: int, frequency: Array, vectors: Array) -> Eigenpairs:
    """Eigenpairs from the elastic modes found, in rising order, after the rigid ones that are there."""
    order = np.argsort(frequency)
    return Eigenpairs(
        np.concatenate((pairs.squares[:rigid], (TURN * frequency[order]) ** 2)),
        np.hstack((pairs.vectors[:, :rigid], vectors[:, order])),
        pairs.evidence,
        pairs.shifted,
    )


@dataclass(frozen=True, eq=False)
class _Own:
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
            moved = np.linalg.solve(gap, x[some][..., None])[..., 0]
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
                if np.linalg.eigvalsh(room)[0] < _FAINT:  # twins span no more than one mode
                    continue
                found, mix = eigh(apart, room)
                frequency[some] = np.sqrt(middle + found) / TURN
                turn[:, some] = shapes @ mix / np.linalg.norm(shapes @ mix, axis=0)
        return frequency, turn

    def _by_place(self, place: int, frequency: Array) -> tuple[float, Array]:
        """The mode of a place in the list, sought among all at its own moduli from a guess (1,)."""
        for _ in range(STEPS):
            before, shape = frequency, np.linalg.eigh(self.stiffness(frequency)[0])[1][:, place]
            frequency = self._told(shape[None], before)
            if abs(frequency - before) <= SETTLED * frequency:
                break
        return float(frequency[0]), shape

    def _told(self, shape: Array, frequency: Array) -> Array:
        """The own frequencies (M,) in Hz of unit vectors (M, N), from a guess."""
        energy = np.einsum("jn,kjn->kj", shape, shape @ self.matrices)
        return _own_of_energy(self.terms, energy, frequency)


def _own(structure: Structure, span: Array | None = None, known: _Own | None = None) -> _Own:
    """The stiffness terms of a structure on a span, whose first vectors may be known; a small one may keep its own
    unknowns."""
    terms = [term for term in structure.merged if term.derivatives == STIFFNESS]
    if span is None:
        return _Own(terms, np.stack([np.asarray(term.matrix) for term in terms]))
    done = 0 if known is None else known.size
    found = np.empty((len(terms), span.shape[1], span.shape[1]))
    for own, term in zip(found, terms, strict=True):
        held = held_by(term.matrix)
        own[:, done:] = span[held].T @ (term.matrix @ span[:, done:])[held]
    if known is not None:  # 0.9 instead of 1.6 ms for a stepped V
        found[:, :done, :done], found[:, done:, :done] = known.matrices, found[:, :done, done:].swapaxes(1, 2)
    return _Own(terms, found)


def _crossings(knots: Array, frozen: Array) -> Array:
    """Where the frequencies (M,) of modes, told (K, M) at the moduli of each knot, are the knot's own; straight in
    logarithms."""
    gap, mode = np.log(np.maximum(frozen, 1e-3) / knots[:, None]), np.arange(frozen.shape[1])
    k = (gap > 0).sum(axis=0).clip(1, len(knots) - 1)
    below, above = gap[k - 1, mode], gap[k, mode]
    return np.asarray(knots[k - 1] * np.exp(below / (below - above) * np.log(knots[k] / knots[k - 1])))


def _gap(structure: Structure, frequency: Array, shapes: Array) -> Array:
    """(K - w^2 M) shapes (n, M), each at a frequency (M,) in Hz and the storage moduli there."""
    weight = np.zeros((len(structure.merged), len(frequency)))
    for row, term in zip(weight, structure.merged, strict=True):
        if term.derivatives == STIFFNESS:
            row[:] = term.law(frequency).real
        elif term.derivatives == MASS:
            row[:] = -((TURN * frequency) ** 2)
    return np.asarray(structure.forces(weight, shapes))


def _called_for(structure: Structure, pairs: Eigenpairs, frequency: Array, vectors: Array) -> Array:
    """What shapes (n, M) at their frequencies (M,) in Hz lack, (n, 2 M and more): what their residuals r call for,
    K^-1 r, K at the moduli of the top, and what K^-1 (K - w^2 M) makes of that; for the lowest modes, whose moduli are
    farthest from those of the top, once more. Rocking modes of the stepped V are 2e-4 off with the first alone, 3e-6
    with both, 4e-7 with all; in the span of few modes the fundamental was 2e-6 off without the last."""
    low, found = max(LOWEST, len(frequency) // LOW), [vectors]
    for some in (slice(None), slice(None), slice(low)):
        found.append(np.asarray(pairs.shifted.solve(_gap(structure, frequency[some], found[-1][:, some]))))
    return np.hstack(found[1:])


def _sharpened(structure: Structure, pairs: Eigenpairs, frequency: Array, vectors: Array) -> tuple[Array, Array]:
    """Modes found in a span, each with the best of the first two directions that `_called_for` knows.

    A span of answers does not hold what hardly answers: frequencies on the stepped V were off by up to 2e-5, and jumped
    by 4e-6 where a vector entered the span; with this 1e-8. K - w^2 M may vanish along some mixture of both, which then
    is hardly used: a mode at 18 kHz was moved by 1.5e-7 at one design of a hundred.
    """
    added, forces = [], [residual := _gap(structure, frequency, vectors)]
    for _ in range(2):
        added.append(np.asarray(pairs.shifted.solve(forces[-1])))
        forces.append(_gap(structure, frequency, added[-1]))
    stiff = np.array([[_products(one, force) for force in forces[1:]] for one in added])
    call = np.array([_products(one, residual) for one in added])
    values, turn = np.linalg.eigh(stiff.transpose(2, 0, 1))
    room = values**2 + (_FAINT * np.abs(values).max(axis=1, keepdims=True)) ** 2
    called = np.abs(call[0]) > _CALLED * (TURN * frequency) ** 2  # rounding alone led anywhere between two close modes
    taken = np.divide(values, room, out=np.zeros_like(room), where=called[:, None] & (room > 0))
    share = (turn @ (taken[..., None] * (turn.mT @ call.T[..., None])))[..., 0]
    shapes = vectors - added[0] * share[:, 0] - added[1] * share[:, 1]
    energy = np.einsum("nm,knm->km", shapes, structure.products(shapes))
    mass = sum(own for own, term in zip(energy, structure.merged, strict=True) if term.derivatives == MASS)
    return _own_of_energy(structure.merged, energy / mass, frequency), shapes / np.sqrt(mass)


def _products(one: Array, other: Array) -> Array:
    """(M,): the inner product of each column (n, M) of one with that of the other."""
    return np.asarray(np.einsum("nm,nm->m", one, other))


def _own_of_energy(terms: Sequence[Term], energy: Array, frequency: Array) -> Array:
    """Where the stiffness of shapes of mass 1, at the moduli of a frequency, makes it their own: (M,) in Hz from a
    guess; energy (K, M) is x^T A x for the matrix of each term. Two steps, and where they lead (Aitken)."""

    elastic = [(own, term.law) for own, term in zip(energy, terms, strict=True) if term.derivatives == STIFFNESS]

    def told(at: Array) -> Array:
        square = sum(own * factors_of(law, at).real for own, law in elastic)
        return np.asarray(np.sqrt(np.maximum(square, 0.0)) / TURN)

    once = told(frequency)
    twice = told(once)
    bend = frequency - 2 * once + twice
    return np.asarray(twice - np.divide((twice - once) ** 2, bend, out=np.zeros_like(bend), where=bend != 0))
