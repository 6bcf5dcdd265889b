"""Where a curve crosses a level or peaks, read between solved points; what was read is solved, and read again.

A straight line between two points of a scan misplaced thresholds by up to 0.3 % in frequency (measured). So a crossing
is bracketed on the scan, placed by a cubic and noted; then the structure is solved there and close by on both sides,
or, where the cubic lies far from a straight line, at even points all over the bracket. Read once more from the finer
scan it is exact to 1e-5 (the tests measure it). Where it is not, because a solved dip shows a crossing that the scan
stepped over, it is `unmet`: made finer and read again. One batch of a hundred frequencies costs a fraction of what
single calls of a root finder do.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np

from diaphragm_fem.analysis.curve.curve import Curve
from diaphragm_fem.analysis.curve.sampling import between, vertex
from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.quantiles import quantile, stretch

Respond = Callable[[Array], Curve]

_SLOWEST = 5  # of the stretches between points in which values pass their median, so many are solved there
_DOUBTFUL = 0.1  # of a bracket: where cubic and straight line lie farther apart, the crossing may be anywhere in it
_IN_BRACKET = 8  # points solved in such a bracket
_MET, _MET_WITHIN = 3e-5, 2e-3  # of a frequency: how far apart these lie, and how wide the bracket, of one read well
_CLOSE_BY = 0.02  # of the distance to the next point of the scan: where a crossing is solved on both sides


@dataclass(frozen=True)
class Reading:
    """A scan, frequencies rising; `places` notes the frequencies in Hz at which it was read between its points, `unmet`
    the crossings among them that it may misplace."""

    scan: Curve
    places: list[float] = field(default_factory=list)
    unmet: list[float] = field(default_factory=list)

    @property
    def frequency(self) -> Array:
        return self.scan.frequency_hz

    @cached_property
    def log_frequency(self) -> Array:
        return np.log(self.frequency)

    @property
    def bottom(self) -> float:
        return float(self.frequency[0])

    @property
    def top(self) -> float:
        return float(self.frequency[-1])

    def finer(self, respond: Respond) -> Reading:
        """The same, solved where this one was read; `respond` gives the curve at any frequencies (F,) in Hz."""
        places = between(self.places, self.frequency)
        return Reading(self.scan.joined(respond(places)) if len(places) else self.scan)

    def root(self, index: int, values: Array) -> float:
        """Frequency in Hz where values (F,), of opposite signs at points index and index + 1, pass zero.

        By the cubic of frequency over value through two points on each side, or, where these do not rise or fall all
        the way or it leaves the bracket, by a straight line.
        """
        low, high = float(self.frequency[index]), float(self.frequency[index + 1])
        below, above = float(values[index]), float(values[index + 1])
        if below * above >= 0:
            return low if below == 0 else high
        place = line = low - below * (high - low) / (above - below)
        doubt = high - low
        first = int(min(max(index - 1, 0), max(len(values) - 4, 0)))
        f, v = self.frequency[first : first + 4].tolist(), values[first : first + 4].tolist()
        if all(a < b for a, b in pairwise(v)) or all(a > b for a, b in pairwise(v)):
            cubic = _through(v, f, 0.0)
            if low < cubic < high:
                place, doubt = cubic, abs(cubic - line)
        if doubt > _MET * place or high - low > _MET_WITHIN * place:
            self.unmet.append(place)
        if doubt > _DOUBTFUL * (high - low):
            self.places.extend(np.linspace(low, high, _IN_BRACKET + 2)[1:-1].tolist())
        else:
            self._note(place, min(place - low, high - place), (high - low) * _CLOSE_BY)
        return place

    def vertex(self, index: int, values: Array, of: Callable[[Array], Array] = np.asarray) -> tuple[float, float]:
        """Frequency in Hz and value of the extreme about a scan point, by the parabola through it and its neighbours;
        at an end of the scan the point itself. `of` takes values to what is a parabola there, and is what is told."""
        if not 0 < index < len(values) - 1:
            return float(self.frequency[index]), float(of(values[index]))
        f, value = self.frequency[index - 1 : index + 2], of(values[index - 1 : index + 2])
        found, (begin, middle, end) = vertex(f, value), f.tolist()
        if found is None:
            return middle, float(value[1])
        room = min(middle - begin, end - middle)
        self._note(found[0], room, room / 4)
        return found

    def _note(self, place: float, room: float, distance: float) -> None:
        aside = min(distance, room / 2)
        self.places.extend((place, place - aside, place + aside) if aside > 1e-9 * place else (place,))

    def at(self, hz: float, values: Array) -> float:
        """Values (F,) read at a frequency in Hz, straight over its logarithm."""
        return float(np.interp(np.log(hz), self.log_frequency, values))

    def median(self, values: Array, begin: float, end: float) -> float:
        """Median of values (F,) over the logarithm of frequency from begin to end in Hz, straight between points: below
        it they are over half of that stretch.
        """
        place, value = stretch(self.log_frequency, values, *np.log((begin, end)).tolist())
        found = quantile(place, value, 0.5)
        through = np.flatnonzero((value[1:] - found) * (value[:-1] - found) < 0)
        slope = np.diff(value)[through] / np.diff(place)[through]
        slowest = np.argsort(np.abs(slope))[:_SLOWEST]
        self.places.extend(np.exp(place[through] + (found - value[through]) / slope)[slowest].tolist())
        return found

    def within(self, begin: float, end: float) -> Flags:
        return np.asarray((self.frequency >= begin) & (self.frequency <= end))


def local_maxima(values: Array) -> Index:
    """Indices of points higher than their neighbours, of two equal ones the first; the ends left out."""
    return np.asarray(np.flatnonzero((values[1:-1] > values[:-2]) & (values[1:-1] >= values[2:])) + 1)


def _through(x: list[float], y: list[float], place: float) -> float:
    """The polynomial through the points (x, y) at a place, by Neville's scheme."""
    known = list(y)
    for step in range(1, len(x)):
        for k in range(len(x) - step):
            known[k] += (place - x[k]) * (known[k + 1] - known[k]) / (x[k + step] - x[k])
    return known[0]
