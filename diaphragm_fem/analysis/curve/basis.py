"""The few dozen vectors that speak for hundreds of unknowns: modes, and the answer itself at a few frequencies."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.modes.eigen import Eigenpairs
from diaphragm_fem.analysis.response import dynamics, dynamics_slope
from diaphragm_fem.analysis.span import extended
from diaphragm_fem.arrays import Array
from diaphragm_fem.model.structure import Structure

SNAPSHOTS = 12  # eleven leave 2e-4 of the area and 2.6e-4 of the force on two of sixty designs, twelve 5e-5 and 1.5e-4
_LAST = 0.998  # of the top frequency: the last snapshot
BELOW = np.array([0.005, 0.018, 0.045])  # of the top frequency: looked at below the first snapshot
_BETWEEN = np.array([0.3, 0.5, 0.7, 0.9])  # of the snapshots, counted from the bottom: between which ones, too
SNAPSHOT_REPEAT = 1e-10  # of snapshots: 50 vectors and 6e-5 of the area at worst of 32 designs, at 1e-12 54 and 3e-5


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
    """Real vectors (n, 4 F): real and imaginary parts of the answer, loads on, and of its slope over frequency, for
    which its factors serve once more."""
    answers = dynamics(structure, frequency_hz).answers_and_slopes(dynamics_slope(structure, frequency_hz))
    return np.hstack((answers.real, answers.imag))


def reduction_basis(structure: Structure, up_to_hz: float, pairs: Eigenpairs) -> Array:
    """Basis (n, N), orthonormal in the mass: undamped modes below the top, then snapshots of the answer.

    Source of the idea: interpolation by rational Krylov vectors (Grimme, thesis, University of Illinois (1997);
    Antoulas, Approximation of Large-Scale Dynamical Systems (2005), ch. 11; named from memory).
    """
    below = pairs.vectors[:, pairs.squares < (2 * np.pi * up_to_hz) ** 2]
    frequency = _sine_spaced(np.arange(SNAPSHOTS) + 0.5, up_to_hz)
    return extended(below, snapshots(structure, frequency), structure.mass, SNAPSHOT_REPEAT)
