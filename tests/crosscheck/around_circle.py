"""Which order around the circle a three-dimensional motion has: a discrete Fourier transform of its mid-surface."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Mode:
    """A three-dimensional mode: Hz, its order around the circle and the share of its motion that has that order."""

    frequency_hz: float
    order: int
    purity: float


def whole_circle(quarter: Array, far_mirror: str) -> Array:
    """Extend samples (..., points, count), half a step off both mirrors, from 90 to 360 degrees.

    Even about 0 degrees; even or odd about 90 degrees as the mirror there says.
    """
    half = np.concatenate((quarter, (1 if far_mirror == "even" else -1) * quarter[..., ::-1, :]), axis=-2)
    return np.concatenate((half, half[..., ::-1, :]), axis=-2)


def modes_by_order(squares: Array, samples: Array, far_mirror: str) -> list[Mode]:
    """Modes in order of frequency from squared angular frequencies (count,) and mid-surface motions.

    `samples` (2, circles, points, count) holds the radial and the axial motion, both even about theta = 0; the order
    is the one with the largest share of the power.
    """
    spectrum = np.abs(np.fft.rfft(whole_circle(samples, far_mirror), axis=-2)) ** 2
    power = spectrum.sum(axis=(0, 1))
    share = power / power.sum(axis=0)
    found = [
        Mode(float(np.sqrt(square)) / (2 * np.pi), int(share[:, i].argmax()), float(share[:, i].max()))
        for i, square in enumerate(squares)
    ]
    return sorted(found, key=lambda mode: mode.frequency_hz)
