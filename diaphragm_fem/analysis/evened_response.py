"""The response per newton of coil force, and the same with the fundamental's own peak divided out.

    A(f)   = i omega U/F = -omega^2 S/(F/x)          volume acceleration per newton, m3/(s2 N) = m2/kg
    A_e(f) = A(f) (1 - (f0/f)^2 (1 + i eta0))        evened: what a mass on a lossy spring does is taken out

U net volume velocity, F force on the coil, x its motion, S = U/v effective area, f0 and eta0 fundamental resonance and
its loss factor; exp(+i omega t). Far from a small source at constant current the sound pressure goes with A. Levels are
in dB against the plateau |S_low|/M, what a rigid part of the moving mass M would do. Definitions of this project; the
factor is that of a mass on a spring (Den Hartog, Mechanical Vibrations (1956), section 2.5; named from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.analysis.curve import Curve
from diaphragm_fem.arrays import Array, Complex

_LEAST_LEVEL_DB = -300.0


@dataclass(frozen=True)
class EvenedResponse:
    """What the response is divided by: fundamental_hz (None: nothing), its loss factor, the plateau in m2/kg."""

    fundamental_hz: float | None
    loss_factor: float
    plateau: float

    def of(self, curve: Curve) -> Complex:
        """A_e (F,) complex in m2/kg."""
        response = curve.response
        if self.fundamental_hz is None:
            return response
        return np.asarray(
            response * (1 - (self.fundamental_hz / curve.frequency_hz) ** 2 * (1 + 1j * self.loss_factor))
        )

    def level(self, curve: Curve) -> Array:
        """Evened response (F,) in dB against the plateau."""
        return decibels(np.abs(self.of(curve)) / self.plateau)


def decibels(ratio: ArrayLike) -> Array:
    """20 log10 of a ratio of sizes, at least -300 dB."""
    return np.maximum(20 * np.log10(np.maximum(ratio, 1e-300)), _LEAST_LEVEL_DB)
