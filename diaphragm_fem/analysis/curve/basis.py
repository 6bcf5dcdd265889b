"""The few dozen vectors that speak for hundreds of unknowns: modes, and the answer itself at a few frequencies."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cholesky, solve_triangular

from diaphragm_fem.analysis.modes.eigen import Eigenpairs
from diaphragm_fem.analysis.response import dynamics, dynamics_slope
from diaphragm_fem.arrays import Array
from diaphragm_fem.model.structure import Matrix, Structure

SNAPSHOTS = 12  # eleven leave 2e-4 of the area and 2.6e-4 of the force on two of sixty designs, twelve 5e-5 and 1.5e-4
_LAST = 0.998  # of the top frequency: the last snapshot
BELOW = np.array([0.005, 0.018, 0.045])  # of the top frequency: looked at below the first snapshot
_BETWEEN = np.array([0.3, 0.5, 0.7, 0.9])  # of the snapshots, counted from the bottom: between which ones, too
_REPEAT = 1e-12  # of the squared size of new directions, weighed as below: less is a repeat
SNAPSHOT_REPEAT = 1e-10  # of snapshots: 50 vectors and 6e-5 of the area at worst of 32 designs, at 1e-12 54 and 3e-5
_NO_SIZE = 1e-150  # squared: keeps what adds nothing at all from being divided by zero


def between(up_to_hz: float) -> Array:
    """Frequencies in Hz between those of the snapshots, and some below the first."""
    return np.concatenate((BELOW * up_to_hz, _sine_spaced(np.round(_BETWEEN * SNAPSHOTS), up_to_hz)))


def _sine_spaced(place: NDArray, up_to_hz: float) -> Array:
    """Frequencies in Hz at places of 0...SNAPSHOTS: dense toward the top, where what lies beyond the band is missed
    most. Fixed fractions of the top: places chosen by the residual were no better, and made S(f) jump with the design.
    """
    angle = np.pi / 2 / SNAPSHOTS
    return np.asarray(_LAST * up_to_hz * np.sin(angle * place) / np.sin(angle * (SNAPSHOTS - 0.5)))


def snapshots(structure: Structure, frequency_hz: Array) -> Array:
    """Real vectors: real and imaginary parts of the answer, loads on, (n, 2 F), and of a sparse structure of its slope
    over frequency as well, (n, 4 F), for which its factors serve once more. Dense ones, solved all at once, are as near
    without.
    """
    found = dynamics(structure, frequency_hz)
    slope = None if structure.dense else dynamics_slope(structure, frequency_hz)
    answers = found.answers() if slope is None else found.answers_and_slopes(slope)
    return np.hstack((answers.real, answers.imag))


def reduction_basis(structure: Structure, up_to_hz: float, pairs: Eigenpairs) -> Array:
    """Basis (n, N), orthonormal in the mass: undamped modes below the top, then snapshots of the answer.

    Source of the idea: interpolation by rational Krylov vectors (Grimme, thesis, University of Illinois (1997);
    Antoulas, Approximation of Large-Scale Dynamical Systems (2005), ch. 11; named from memory).
    """
    below = pairs.vectors[:, pairs.squares < (2 * np.pi * up_to_hz) ** 2]
    frequency = _sine_spaced(np.arange(SNAPSHOTS) + 0.5, up_to_hz)
    return extended(below, snapshots(structure, frequency), structure.mass, SNAPSHOT_REPEAT)


def extended(basis: Array, vectors: Array, mass: Matrix, repeat: float = _REPEAT) -> Array:
    """A basis orthonormal in the mass, with what vectors (n, V) add to it.

    Weighed by the geometric mean of what each was and what is left of it: left as they are those small beside the
    modes would not count, and each made 1 long the rounding of nearly lossless ones would.
    """
    weighted = mass @ basis
    held = weighted.T @ vectors
    others = vectors - basis @ held
    products = others.T @ (mass @ others)
    left = np.maximum(products.diagonal(), _NO_SIZE)
    weight = (left * (left + (held**2).sum(axis=0))) ** -0.25
    values, turn = np.linalg.eigh(weight[:, None] * products * weight)
    others = others @ (weight[:, None] * turn[:, values > repeat] / np.sqrt(values[values > repeat]))
    others -= basis @ (weighted.T @ others)  # once more against rounding
    return np.hstack((basis, others @ mass_basis(others.T @ (mass @ others))))


def mass_basis(mass: Array) -> Array:
    """Basis (n, n) of a small dense structure in which its mass is the identity."""
    return np.asarray(solve_triangular(cholesky(mass), np.eye(len(mass))))
