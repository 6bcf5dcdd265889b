"""The loss factors of modes as they are with their losses.

Where two modes come close losses turn them into one another, and the shape that a mode has without losses tells a loss
factor that neither has. The complex squares of frequency in the span of the modes, and of what their losses call for
beyond them, do.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diaphragm_fem.analysis.factors import Factors, factor_symmetric, inverse_step
from diaphragm_fem.analysis.modes.pairing import match_shapes
from diaphragm_fem.analysis.span import extended
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.model.structure import STIFFNESS, Structure, Term, multipliers

_KNOT = 2.0  # ratio of the frequencies at which laws are taken to begin with
_ROUNDS = 6  # of inverse iteration at each mode's own frequency, at most: most settle in two
_LAWS = 6  # times that a shape's own frequency is told from laws at the last: a rubber's leaves a fourth each time
_REACH = 0.6  # of a step between those, to both sides: what lies between them is found twice
_FAR = 3.0  # times such a frequency: what is stiffer is left out to begin with
_ABOVE = 2.0  # times the last mode's frequency: damped modes beyond are none of those below
_SETTLED = 1e-6  # of a square: what moved less in a round is settled
_SAME = 1e-4  # of a square: two closer than that, in shapes alike, are one
_ALIKE = 0.9  # overlap of such shapes
_MOST = 80  # modes: time and room grow with the third and fourth power, parts of this trade have some tens
_OFF_BY = 1e-12  # of a square: kept from it, so that the matrix can be solved
_APART = 1e-2  # of the squared size of a combination of modes: less, and two of them are hardly two
_LEAST = 1e-5  # of a square: what shares less of it with the modes is left out
_LAST, _NEAR = 0.8, 0.95  # of the last frequency, from where modes, and of its square, where, are answered once more


def mode_losses(structure: Structure, vectors: Array, frequency_hz: Array, shifted: Factors) -> Array | None:
    """Loss factors Im l/Re l (M,), K(w) x = l M x at w^2 = Re l, of the undamped modes: vectors (n, M) of mass 1;
    frequency_hz (M,), rising; shifted factors the stiffness. Each mode has that of the damped mode most like it in
    shape, no two the same one's; nan where there is none left. None where modes are not told apart or are more than 80.

    A mode far from others has the energy-weighted mean of its materials' losses; such means of undamped shapes are 9 %
    off in the median, 95 % within 270 %, these 0.05 and 0.6 % (24 parts to 20 kHz, against the solid; more in
    DEVELOPERS.md, damping laws). The span of modes alone, without what lies beyond the last, leaves 0.17 and 14 %.
    """
    if len(frequency_hz) > _MOST or frequency_hz[0] <= 0:
        return None
    terms = [term for term in structure.merged if term.derivatives == STIFFNESS]
    span = _span(structure, terms, vectors, frequency_hz, shifted)
    if span is None:
        return None
    small = _Small(terms, np.stack([span.T @ (term.matrix @ span) for term in terms]))
    value, shape = small.settled(*small.beginnings(frequency_hz))
    twins = (np.abs(value[:, None] - value) < _SAME * np.abs(value)) & (np.abs(shape.conj() @ shape.T) > _ALIKE)
    distinct, count = np.flatnonzero(~np.tril(twins, -1).any(axis=1)), len(frequency_hz)
    found = np.full(count, np.nan)
    for mode, like in match_shapes(np.abs(shape[distinct, :count].T) ** 2, least=0.0):
        found[mode] = (value.imag / value.real)[distinct[like]]
    return found


def _span(
    structure: Structure, terms: Sequence[Term], vectors: Array, frequency_hz: Array, shifted: Factors
) -> Array | None:
    """(n, M and more), orthonormal in the mass: the modes, then what the structure answers at rest to the forces that
    their losses put on it, and near the top to those of the last, by rising stiffness. None where modes are not told
    apart. Without answers near the top modes of low loss just below it were up to 39 % off."""
    sizes, turn = np.linalg.eigh(vectors.T @ (structure.mass @ vectors))
    if sizes[0] < _APART:
        return None
    # as near to the modes as can be (Loewdin): moduli of their own leave them not quite orthogonal
    apart = np.asarray(vectors @ ((turn / np.sqrt(sizes)) @ turn.T))
    lost = [term.law(frequency_hz).imag / (2 * np.pi * frequency_hz) for term in terms]
    force = np.asarray(sum(term.matrix @ (vectors * own) for term, own in zip(terms, lost, strict=True)))
    answer = shifted.solve(force)
    answer = answer - apart @ (apart.T @ (structure.mass @ answer))
    share, turn = np.linalg.eigh(force.T @ answer)
    if not np.any(share > _LEAST):
        return apart
    top = frequency_hz[-1]
    near = structure.stiffness_at(float(top)) - _NEAR * (2 * np.pi * top) ** 2 * structure.mass
    more = factor_symmetric(near).solve(force[:, frequency_hz > _LAST * top])
    span = extended(apart, np.hstack((answer @ turn[:, share > _LEAST], more)), structure.mass)
    beyond = span[:, len(sizes) :]
    stiff = sum(beyond.T @ (term.matrix @ beyond) * term.law(frequency_hz[-1:]).real for term in terms)
    return np.hstack((apart, beyond @ np.linalg.eigh(stiff)[1]))


@dataclass(frozen=True, eq=False)
class _Small:
    """The stiffness terms on a span in which the mass is the identity: their matrices (K, N, N)."""

    terms: Sequence[Term]
    matrices: Array

    def stiffness(self, frequency: Array) -> Complex:
        """(F, N, N) at each frequency (F,) in Hz."""
        return np.asarray(np.tensordot(multipliers(self.terms, frequency).T, self.matrices, axes=1))

    def own(self, value: Complex, shape: Complex) -> Complex:
        """The squares (B,) that shapes (B, N) have by laws at their own frequencies, from a guess."""
        energy = (shape * (shape @ self.matrices)).sum(axis=2) / (shape**2).sum(axis=1)
        for _ in range(_LAWS):
            value = (multipliers(self.terms, _hz(value)) * energy).sum(axis=0)
        return value

    def settled(self, value: Complex, shape: Complex) -> tuple[Complex, Complex]:
        """Squares (B,) and shapes (B, N), each at its own frequency, by inverse iteration."""
        some, value = np.arange(len(value)), self.own(value, shape)
        for _ in range(_ROUNDS):
            before = value[some]
            gap = self.stiffness(_hz(before)) - (before * (1 + _OFF_BY))[:, None, None] * np.eye(shape.shape[1])
            moved = inverse_step(gap, shape[some])
            shape[some] = moved / np.linalg.norm(moved, axis=1, keepdims=True)
            value[some] = self.own(before, shape[some])
            some = some[np.abs(value[some] - before) > _SETTLED * np.abs(before)]
            if not len(some):
                break
        return value, shape

    def beginnings(self, frequency_hz: Array) -> tuple[Complex, Complex]:
        """Squares (B,) and shapes (B, N) to begin with: laws are taken at some frequencies, each for what lies about
        it."""
        low, high = np.log(frequency_hz[0]), np.log(frequency_hz[-1])
        knots = np.linspace(low, high, 1 + int(np.ceil((high - low) / np.log(_KNOT))))
        width = (knots[1] - knots[0]) * _REACH if len(knots) > 1 else np.inf
        value, shape = [], []
        for knot in knots:
            matrix = self.stiffness(np.exp([knot]))[0]
            some = np.flatnonzero(matrix.diagonal().real < (2 * np.pi * _FAR * np.exp(knot)) ** 2)
            values, vectors = np.linalg.eig(matrix[np.ix_(some, some)])
            place = np.log(_hz(values))
            near = (np.abs(place - knot) < width) | ((place > high) & (knot == high)) | ((place < low) & (knot == low))
            near &= place < high + np.log(_ABOVE)
            shapes = np.zeros((int(near.sum()), len(matrix)), complex)
            shapes[:, some] = vectors[:, near].T
            value.append(values[near])
            shape.append(shapes)
        return np.concatenate(value), np.concatenate(shape)


def _hz(value: Complex) -> Array:
    return np.asarray(np.sqrt(np.maximum(value.real, 0.0) + _OFF_BY) / (2 * np.pi))
