"""Where to sample a resonant curve so that no peak or dip is missed."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.reduced import Reduced
from diaphragm_fem.errors import AnalysisError

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

SCAN_PER_DECADE = 150
HALF_WIDTHS = np.array([-8, -4, -2, -1, -0.5, 0, 0.5, 1, 2, 4, 8])
EVEN_SHARE = 0.4  # of the points go evenly over the logarithm of frequency, the others where the curve bends


def resolved_grid(scan: Array, value: Complex, points: int) -> Array:
    """Choose `points` frequencies in Hz for a response known at the frequencies of a fine scan.

    Each extremum is placed by a parabola through the scan's points about it; the others go by equal steps of the
    curve's length and bend.
    """
    if points >= len(scan):
        return scan
    size = np.abs(value)
    extremes = _extremes(scan, size**2)[: points // 2]
    size = np.log(size + 1e-3 * np.median(size))
    phase = np.abs(np.angle(value[1:] * value[:-1].conj()))
    step = np.hypot(np.diff(size), np.minimum(phase, 0.5))
    even = np.diff(np.log(scan))
    bend = np.sqrt(step * even)
    measure = EVEN_SHARE * even / even.sum() + (1 - EVEN_SHARE) * bend / (bend.sum() or 1.0)
    place = np.concatenate(([0.0], np.cumsum(measure)))
    chosen = np.interp(np.linspace(0, place[-1], points - len(extremes)), place, scan)
    return np.sort(np.concatenate((chosen, extremes)))


def scan_frequencies(reduced: Reduced, from_hz: float, up_to_hz: float) -> Array:
    """Frequencies in Hz dense enough for every zone's response: 150 a decade, and 11 about each pole.

    Raises AnalysisError for a top frequency not above the lowest.
    """
    if not up_to_hz > from_hz:
        raise AnalysisError(
            f"the top frequency must lie above {from_hz:g} Hz, where area curves begin; received {up_to_hz:g} Hz"
        )
    pole, loss = reduced.damped_poles
    inside = (pole > from_hz) & (pole < up_to_hz)
    half = pole[inside] * np.maximum(loss[inside], 1e-7) / 2
    around = (pole[inside][:, None] + half[:, None] * HALF_WIDTHS).ravel()
    around = around[(around > from_hz) & (around < up_to_hz)]
    return np.unique(np.concatenate((_even(from_hz, up_to_hz), around)))


@lru_cache(maxsize=16)
def _even(from_hz: float, up_to_hz: float) -> Array:
    return np.geomspace(from_hz, up_to_hz, int(SCAN_PER_DECADE * np.log10(up_to_hz / from_hz)) + 2)


def _extremes(place: Array, height: Array) -> Array:
    """Where the parabolas through the highest and lowest points and their neighbours have their vertices."""
    rise = np.sign(np.diff(height))
    index = np.flatnonzero(rise[1:] * rise[:-1] < 0) + 1
    before, after = place[index] - place[index - 1], place[index + 1] - place[index]
    up, down = height[index] - height[index - 1], height[index] - height[index + 1]
    return np.asarray(place[index] - (before**2 * down - after**2 * up) / (2 * (before * down + after * up)))
