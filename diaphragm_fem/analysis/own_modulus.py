"""Modes whose materials have the storage modulus of the mode's own frequency.

Where a modulus varies, K(f) x = omega^2 M x is solved at omega = 2 pi f. A storage modulus grows with less than the
square of frequency, so that the j-th eigenvalue of K(f) as a function of f meets (2 pi f)^2 once: each j has one
solution, and as many lie below a frequency as K and M of that frequency have eigenvalues below it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.basis import extended
from diaphragm_fem.analysis.eigen import Eigenpairs, eigenpairs_below, factor_symmetric
from diaphragm_fem.model.structure import STIFFNESS, Structure, projected

Array = NDArray[np.float64]

KNOTS = 9  # frequencies at which the modes' own span is solved for a first guess
GROUPS = 4  # of modes that share a factored matrix
STEPS = 3  # of inverse iteration within the widened span
ALIKE = 0.5  # overlap of two modes that are taken for one
POLISHED = 1  # times, by what the residuals of the settled modes call for
BESIDE = 1e-3  # of the square of a group's middle: how far from it a matrix is factored
TURN = 2 * np.pi
OFF_BY = 1e-12  # of an eigenvalue: kept from it, so that the matrix can be solved


def eigenpairs_at_own_modulus(structure: Structure, up_to_hz: float) -> Eigenpairs:
    """All modes of a structure below a frequency in Hz, each at the storage moduli of its own frequency.

    vectors (n, M) have mass 1 each, and are orthogonal only where no modulus varies. The modes at the moduli of the
    top frequency, complete by their count, are combined for other moduli; the span of these is widened by what their
    residuals call for, and each mode is settled in it by Rayleigh quotient iteration. One that settles on another is
    sought again by its place in the list. On the demonstrations the squares are good to 1e-6 where a modulus doubles
    within the band.
    Source of the ideas: Neumaier, SIAM J. Numer. Anal. 22 (1985) 914 (residual inverse iteration); Parlett, The
    Symmetric Eigenvalue Problem (1998), ch. 4 (both named from memory).
    """
    pairs = eigenpairs_below(structure.stiffness_at(up_to_hz), structure.mass, (2 * np.pi * up_to_hz) ** 2)
    rigid, count = structure.rigid_modes, len(pairs.squares)
    if not structure.modulus_varies or count <= rigid:
        return pairs
    frequency, turn = _Own(projected(structure, pairs.vectors)).guess(rigid, float(np.sqrt(pairs.squares[-1]) / TURN))
    correct = _Corrections(structure, frequency)
    span = extended(pairs.vectors, correct.called_for(frequency, pairs.vectors @ turn), structure.mass)
    turn = np.vstack((turn, np.zeros((span.shape[1] - count, turn.shape[1]))))
    frequency, turn = _Own(projected(structure, span)).settled(frequency, turn)
    vectors = span @ turn
    for _ in range(POLISHED):
        vectors = vectors - correct.called_for(frequency, vectors)
        vectors /= np.sqrt(np.einsum("nm,nm->m", vectors, structure.mass @ vectors))
        frequency = correct.own(frequency, vectors)
    overlap = np.abs(vectors.T @ (structure.mass @ vectors)) - np.eye(len(frequency))
    for j in np.flatnonzero(overlap.max(axis=1) > ALIKE).tolist():
        frequency[j], vectors[:, j] = _by_place(structure, rigid + j, frequency[j], up_to_hz)
    order = np.argsort(frequency)
    return Eigenpairs(
        np.concatenate((pairs.squares[:rigid], (TURN * frequency[order]) ** 2)),
        np.hstack((pairs.vectors[:, :rigid], vectors[:, order])),
        pairs.evidence,
    )


class _Own:
    """A small structure whose mass is the identity, its stiffness quickly had at many frequencies."""

    def __init__(self, small: Structure) -> None:
        self.terms = [term for term in small.merged if term.derivatives == STIFFNESS]
        self.flat = np.stack([np.asarray(term.matrix) for term in self.terms]).reshape(len(self.terms), -1)
        self.size = small.size

    def stiffness(self, frequency: Array) -> Array:
        """(F, N, N) at the storage moduli of each frequency (F,) in Hz."""
        weight = np.stack([term.scale * term.law(frequency).real for term in self.terms], axis=1)
        return (weight @ self.flat).reshape(-1, self.size, self.size)

    def guess(self, rigid: int, top: float) -> tuple[Array, Array]:
        """Frequencies (M,) in Hz, and vectors (N, M) at the knot nearest to each."""
        first = np.sqrt(max(float(np.linalg.eigvalsh(self.stiffness(np.ones(1)))[0, rigid]), 1.0)) / TURN
        knots = np.geomspace(min(first, 0.9 * top), top, KNOTS)
        values, turns = np.linalg.eigh(self.stiffness(knots))
        frozen = np.sqrt(np.maximum(values[:, rigid:], 0)) / TURN
        frequency = np.array([_crossing(knots, one) for one in frozen.T])
        nearest = np.abs(np.log(frequency[:, None] / knots)).argmin(axis=1)
        return frequency, turns[nearest, :, rigid + np.arange(len(frequency))].T

    def settled(self, frequency: Array, turn: Array) -> tuple[Array, Array]:
        """Frequencies (M,) in Hz and unit vectors (N, M) after a few steps for all modes at once."""
        x = turn.T
        for _ in range(STEPS):
            stiffness = self.stiffness(frequency)
            square = np.einsum("jn,jnk,jk->j", x, stiffness, x)
            gap = stiffness - (square * (1 - OFF_BY))[:, None, None] * np.eye(self.size)
            moved = np.linalg.solve(gap, x[..., None])[..., 0]
            x = moved / np.linalg.norm(moved, axis=1)[:, None]
            for _ in range(STEPS):  # the modulus follows its frequency
                square = np.einsum("jn,jnk,jk->j", x, self.stiffness(frequency), x)
                frequency = np.sqrt(np.maximum(square, 0)) / TURN
        return frequency, x.T


def _crossing(knots: Array, frozen: Array) -> float:
    """Where the frequency of a mode, told at the moduli of each knot, is the knot's own; straight in logarithms."""
    gap = np.log(np.maximum(frozen, 1e-3) / knots)
    k = int(np.clip(np.searchsorted(-gap, 0.0), 1, len(knots) - 1))
    slope = (gap[k] - gap[k - 1]) / np.log(knots[k] / knots[k - 1])
    return float(knots[k - 1] * np.exp(-gap[k - 1] / slope))


class _Corrections:
    """What residuals of modes call for: answers of matrices factored at the middle of each group of modes."""

    def __init__(self, structure: Structure, frequency: Array) -> None:
        self.structure = structure
        self.terms = [term for term in structure.merged if term.derivatives == STIFFNESS]
        self.groups = np.array_split(np.arange(len(frequency)), min(GROUPS, len(frequency)))
        self.factors = []
        for group in self.groups:
            some = frequency[group]
            middle = float(np.sqrt(some[len(some) // 2] * some[(len(some) - 1) // 2]))
            square = (TURN * middle) ** 2 * (1 + BESIDE)
            self.factors.append(factor_symmetric(structure.stiffness_at(middle) - square * structure.mass))

    def called_for(self, frequency: Array, vectors: Array) -> Array:
        """(K - s M)^-1 (K(f) x - (2 pi f)^2 M x), (n, M), for the shapes x (n, M) and their frequencies (M,) in Hz."""
        residual = -(self.structure.mass @ vectors) * (TURN * frequency) ** 2
        for term in self.terms:
            residual += term.scale * term.law(frequency).real * (term.matrix @ vectors)
        return np.hstack([
            factors.solve(np.ascontiguousarray(residual[:, group]))
            for factors, group in zip(self.factors, self.groups, strict=True)
        ])  # fmt: skip

    def own(self, frequency: Array, vectors: Array) -> Array:
        """Frequencies (M,) in Hz at which the stiffness of each shape makes that frequency its own, from a guess."""
        energy = np.stack([np.einsum("nm,nm->m", vectors, term.matrix @ vectors) for term in self.terms])
        for _ in range(STEPS):
            square = sum(e * term.scale * term.law(frequency).real for e, term in zip(energy, self.terms, strict=True))
            frequency = np.sqrt(np.maximum(square, 0.0)) / TURN
        return frequency


def _by_place(structure: Structure, place: int, frequency: float, up_to_hz: float) -> tuple[float, Array]:
    """The mode of a place in the list, sought among all at its own moduli."""
    for _ in range(2 * STEPS):
        pairs = eigenpairs_below(structure.stiffness_at(frequency), structure.mass, (4 * np.pi * up_to_hz) ** 2)
        frequency = float(np.sqrt(pairs.squares[place]) / TURN)
    return frequency, pairs.vectors[:, place]
