"""Where to sample a resonant curve so that no peak or dip is missed."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.reduced import Reduced

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

SCAN_PER_DECADE = 200
HALF_WIDTHS = np.array([-8, -4, -2.5, -1.5, -1, -0.6, -0.3, 0, 0.3, 0.6, 1, 1.5, 2.5, 4, 8])
ZOOM_ROUNDS = 1
ZOOM = np.array([-1, 0, 1]) / 16  # of the interval around an extremum, about where a parabola has its vertex
EVEN_SHARE = 0.4  # of the points go evenly over the logarithm of frequency, the others where the curve bends


def resolved_grid(reduced: Reduced, output: Array, scan: Array, value: Complex, points: int) -> Array:
    """Choose `points` frequencies in Hz for the response `value` = output @ unknowns, scanned at `scan`.

    The reduced response costs next to nothing, so beside the fine scan each extremum is approached by parabolas; the
    wanted number of points is then placed by equal steps of the curve's length and bend, with every extremum kept.
    """
    for _ in range(ZOOM_ROUNDS):
        extreme = _extreme_indices(np.abs(value))
        width = (scan[extreme + 1] - scan[extreme - 1])[:, None]
        fresh = (_vertices(scan, np.abs(value) ** 2, extreme)[:, None] + width * ZOOM).ravel()
        scan, value = _merge(scan, value, fresh, reduced.respond(output[None], fresh)[0])
    return _place(scan, value, scan[_extreme_indices(np.abs(value))], points)


def scan_frequencies(reduced: Reduced, from_hz: float, up_to_hz: float) -> Array:
    """Frequencies in Hz dense enough for every zone's response: 200 a decade, and 15 around each pole."""
    pole, loss = reduced.blocked_poles()
    inside = (pole > from_hz) & (pole < up_to_hz)
    half = pole[inside] * np.maximum(loss[inside], 1e-7) / 2
    around = (pole[inside][:, None] + half[:, None] * HALF_WIDTHS).ravel()
    count = int(SCAN_PER_DECADE * np.log10(up_to_hz / from_hz)) + 2
    scan = np.concatenate((np.geomspace(from_hz, up_to_hz, count), around))
    return np.unique(np.clip(scan, from_hz, up_to_hz))


def _extreme_indices(size: Array) -> NDArray[np.int64]:
    rise = np.sign(np.diff(size))
    return np.flatnonzero(rise[1:] * rise[:-1] < 0) + 1


def _vertices(place: Array, height: Array, index: NDArray[np.int64]) -> Array:
    """Where the parabolas through the points index - 1, index and index + 1 have their vertices."""
    before, after = place[index] - place[index - 1], place[index + 1] - place[index]
    rise, fall = height[index] - height[index - 1], height[index] - height[index + 1]
    return place[index] + (before**2 * fall - after**2 * rise) / (-2 * (before * fall + after * rise))


def _merge(scan: Array, value: Complex, fresh: Array, fresh_value: Complex) -> tuple[Array, Complex]:
    joined, first = np.unique(np.concatenate((scan, fresh)), return_index=True)
    return joined, np.concatenate((value, fresh_value))[first]


def _place(scan: Array, value: Complex, extremes: Array, points: int) -> Array:
    """Equal steps of a mixed measure: even in log f, and in the turn of log |S| and phase between samples."""
    if points >= len(scan):
        return scan
    size = np.log(np.abs(value) + 1e-3 * np.median(np.abs(value)))
    phase = np.unwrap(np.angle(value))
    step = np.hypot(np.diff(size), np.minimum(np.abs(np.diff(phase)), 0.5))
    even = np.diff(np.log(scan))
    measure = EVEN_SHARE * even / even.sum() + (1 - EVEN_SHARE) * np.sqrt(step * even) / np.sqrt(step * even).sum()
    keep = extremes[: points // 2]
    place = np.concatenate(([0.0], np.cumsum(measure)))
    chosen = np.interp(np.linspace(0, place[-1], points - len(keep)), place, scan)
    return np.sort(np.concatenate((chosen, keep)))
