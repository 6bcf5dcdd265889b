"""The threshold from which the coil's motion feeds a rocking mode: an estimate from the modes over its stroke."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from diaphragm_fem.analysis.modes.modes import Modes
from diaphragm_fem.answer.stroke.path import StrokePath
from diaphragm_fem.arrays import Array, Complex

FEWEST = 4  # states with a rocking mode, fewer make no curve
PHASE = 2 * np.pi * (np.arange(64) + 0.5) / 64
LOOKED_AT = np.arange(101) / 100


@dataclass(frozen=True)
class Rocking:
    """When the coil's motion feeds a rocking mode: driven at twice its frequency, above a threshold of motion.

    frequency_hz and loss factor of the lowest rocking mode as the coil moves by the threshold, an amplitude in m.
    """

    frequency_hz: float
    loss_factor: float
    threshold: float


def rocking(path: StrokePath, modes: Sequence[tuple[int, Modes | None]]) -> Rocking | None:
    """The threshold of rocking from the modes of order 1 at rising states (indices into the path), None at a state
    where order 1 has none; None where they are too few, or where no amplitude within them feeds rocking."""
    from scipy.interpolate import CubicSpline

    without = np.array([k for k, found in modes if not found])
    rear, front = max(without[without < path.rest], default=-1), min(without[without > path.rest], default=np.inf)
    known = [(path.stroke[k], found) for k, found in modes if found and rear < k < front]
    if len(known) < FEWEST:
        return None
    stroke = np.array([x for x, _ in known]) - path.stroke[path.rest]
    square = [(2 * np.pi * x.frequency_hz[0]) ** 2 * (1 + 1j * x.loss_factor[0]) for _, x in known]
    return first_fed(CubicSpline(stroke, square), min(-stroke[0], stroke[-1]))


def first_fed(square: Callable[[Array], Complex], reach: float) -> Rocking | None:
    """The least amplitude in m up to a reach that feeds a mode of squared angular frequency omega^2 (1 + i eta) over
    the motion in m from rest; None where none does.

    Along a motion X sin(2 w t) that square has a mean and an amplitude of its own. The mode grows where the amplitude
    is more than twice the mean of eta omega^2, the principal instability of Mathieu's equation for light damping:
    Nayfeh and Mook, Nonlinear Oscillations (1979), section 5.3 (named from memory). Mean and amplitude are those of
    the bent curve, for its slope at rest holds not far: the stepped V was told to rock from 0.38 mm on in place of
    0.86 mm. An estimate: the mode is taken as of one shape, its inertia as constant.
    """
    from scipy.optimize import brentq

    def surplus(amplitude: float) -> float:
        along = square(amplitude * np.sin(PHASE))
        swing = 2 * abs(np.mean((along - at_rest).real * np.sin(PHASE)))
        return float(swing - 2 * np.mean(along.imag))

    at_rest, looked_at = square(np.zeros(1)), reach * LOOKED_AT
    fed = next((k for k, x in enumerate(looked_at) if surplus(x) > 0), None)
    if fed is None:
        return None
    threshold = float(brentq(surplus, looked_at[fed - 1], looked_at[fed]))
    mean = complex(np.mean(square(threshold * np.sin(PHASE))))
    return Rocking(float(np.sqrt(mean.real)) / (2 * np.pi), mean.imag / mean.real, threshold)
