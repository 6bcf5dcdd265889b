"""Where a sampled level stands out, leaves a band, and stays within one the longest."""

from collections.abc import Iterable

import numpy as np

from diaphragm_fem.arrays import Array, Index

PROMINENCE_DB = 0.5


def prominent_peaks(level: Array) -> Index:
    """Indices of the interior peaks that stand out, of a flat top its first point: by how much is told by the deepest
    points between each and the next higher one on either side. SciPy's `find_peaks` does the same, and takes half a
    second to import."""
    if len(level) < 3:
        return np.zeros(0, int)
    rises = np.diff(level) > 0
    turns = np.concatenate(([0], np.flatnonzero(rises[:-1] != rises[1:]) + 1, [len(level) - 1]))
    values, found = level[turns].tolist(), []
    for k in range(1 if rises[0] else 2, len(turns) - 1, 2):  # every other one is a hole
        below = values[k] - PROMINENCE_DB
        if all(_falls_to(below, values[k], way) for way in (reversed(values[:k]), values[k + 1 :])):
            found.append(turns[k])
    return np.array(found, int)


def _falls_to(below: float, peak: float, values: Iterable[float]) -> bool:
    """Whether values fall that low before one is higher than the peak."""
    return next((value <= below for value in values if value <= below or value > peak), False)


def outside(level: Array, low: Array | float, high: Array | float) -> Array:
    """How far a level lies outside [low, high]: below zero inside."""
    return np.abs(level - (low + high) / 2) - (high - low) / 2


def longest_within(place: Array, value: Array, total: float) -> tuple[float, float, float]:
    """Begin and end of the longest stretch (places rise) in which a level, straight between values, keeps within a
    total, and the least that it may be there. One that two slopes bound slides until an end of it meets a point."""
    found = []
    for way in (1, -1):
        x, y = way * place[::way], value[::way]
        last, high, low = _reach(y, total)
        first, end = np.arange(len(y)), len(y) - 1
        beyond = np.where(last < end, y[np.minimum(last + 1, end)], y[np.maximum(first - 1, 0)])
        floor = np.where(beyond < high - total, high - total, low)
        begin, until = (_left(x, y, *at, floor, floor + total) for at in ((first, -1), (last, 1)))
        best = int(np.argmax(until - begin))
        ends = sorted((way * float(begin[best]), way * float(until[best])))
        found.append((ends[1] - ends[0], *ends, float(floor[best])))
    _, left, right, least = max(found)
    return left, right, least


def _left(place: Array, level: Array, index: Index, step: int, low: Array, high: Array) -> Array:
    """Where a level leaves [low, high] from points inside to the next outward, by a straight line; the point itself
    where there is none, or that lies inside as well."""
    other = (index + step).clip(0, len(place) - 1)
    a, b = (outside(level[k], low, high) for k in (index, other))
    share = np.where((a < 0) & (b > 0), a / np.where(a < b, a - b, 1.0), 0.0)
    return np.asarray(place[index] + share * (place[other] - place[index]))


def _reach(value: Array, total: float) -> tuple[Index, Array, Array]:
    """From each point the last up to which values stay within a total, and the largest and the least of them.

    All are extended together by halving steps over tables of running extremes: log2(F) passes.
    """
    count = len(value)
    highs, lows = [value], [value]
    while 2 ** len(highs) <= count:
        reach = 2 ** (len(highs) - 1)
        highs.append(np.maximum(highs[-1][:-reach], highs[-1][reach:]))
        lows.append(np.minimum(lows[-1][:-reach], lows[-1][reach:]))
    high, low, last = value, value, np.arange(count)
    for k in range(len(highs) - 1, -1, -1):
        further = last + 1
        top = np.maximum(high, highs[k].take(further, mode="clip"))
        floor = np.minimum(low, lows[k].take(further, mode="clip"))
        fits = (top - floor <= total) & (further <= count - 2**k)
        high, low, last = np.where(fits, top, high), np.where(fits, floor, low), last + (fits << k)
    return last, high, low
