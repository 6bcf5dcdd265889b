"""A curve known at many frequencies and solvable at any: thresholds are found between its points, never drawn there.

A straight line between two points of a scan misplaced thresholds by up to 0.3 % in frequency (measured), so each is
bracketed on the scan and then found by Brent's method on the structure itself (Brent, Algorithms for Minimization
without Derivatives (1973), ch. 4).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from diaphragm_fem.analysis.area import AreaCurve as Curve

Array = NDArray[np.float64]
Respond = Callable[[Array], Curve]
Measure = Callable[[Curve], Array]  # a real number (F,) at each frequency of a curve

ROOT_WITHIN = 1e-6  # of a frequency


@dataclass(frozen=True)
class Reading:
    """A scan, frequencies rising, and `respond`, which gives the same curve at any frequencies (F,) in Hz."""

    scan: Curve
    respond: Respond

    @property
    def frequency(self) -> Array:
        return self.scan.frequency_hz

    @property
    def bottom(self) -> float:
        return float(self.frequency[0])

    @property
    def top(self) -> float:
        return float(self.frequency[-1])

    def at(self, measure: Measure, frequency_hz: float) -> float:
        """The measure at one frequency in Hz."""
        return float(measure(self.respond(np.array([frequency_hz])))[0])

    def root(self, measure: Measure, index: int, values: Array) -> float:
        """Frequency in Hz where a measure of opposite signs at scan points index and index + 1 passes zero.

        values (F,) is the measure at the scan's points.
        """
        begin, end = float(self.frequency[index]), float(self.frequency[index + 1])
        known = {begin: float(values[index]), end: float(values[index + 1])}
        if known[begin] * known[end] >= 0:
            return begin if known[begin] == 0 else end
        return float(
            brentq(lambda f: known[f] if f in known else self.at(measure, f), begin, end, xtol=1e-12, rtol=ROOT_WITHIN)
        )

    def vertex(self, measure: Measure, index: int, values: Array) -> tuple[float, float]:
        """Frequency in Hz and value of the extreme about a scan point: by the parabola through it and its neighbours,
        the value solved there; at an end of the scan the point itself.
        """
        if not 0 < index < len(values) - 1:
            return float(self.frequency[index]), float(values[index])
        f = self.frequency[index - 1 : index + 2]
        before, after = f[1] - f[0], f[2] - f[1]
        up, down = values[index] - values[index - 1], values[index] - values[index + 1]
        bend = before * down + after * up
        place = f[1] - (before**2 * down - after**2 * up) / (2 * bend) if bend else f[1]
        found = self.at(measure, float(place))
        if (found - values[index]) * (up + down) < 0:  # the parabola missed: the point is nearer to the extreme
            return float(f[1]), float(values[index])
        return float(place), found

    def even(self, values: Array, begin: float, end: float, points: int = 201) -> Array:
        """Values read at points that run evenly over the logarithm of frequency from begin to end in Hz."""
        place = np.linspace(np.log(begin), np.log(end), points)
        return np.asarray(np.interp(place, np.log(self.frequency), values))

    def within(self, begin: float, end: float) -> NDArray[np.bool_]:
        return np.asarray((self.frequency >= begin) & (self.frequency <= end))


def local_maxima(values: Array) -> NDArray[np.int64]:
    """Indices of points higher than their neighbours, the ends left out."""
    return np.asarray(np.flatnonzero((values[1:-1] > values[:-2]) & (values[1:-1] >= values[2:])) + 1)
