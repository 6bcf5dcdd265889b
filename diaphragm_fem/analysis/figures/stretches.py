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
    points, end = np.arange(len(value)), len(value) - 1
    reached = _reach(value, total)
    reaching = np.searchsorted(reached, points)
    first, last = np.append(points, reaching), np.append(reached, points)
    before, after = np.maximum(first - 1, 0), np.minimum(last + 1, end)
    beyond = np.where(np.append(reached < end, reaching == 0), after, before)
    some = place[after] - place[before] >= (place[last] - place[first]).max()  # others are shorter, whatever slopes add
    first, last, beyond = first[some], last[some], value[beyond[some]]
    every, ends = np.append(value, value[-1]), np.column_stack((first, last + 1)).ravel()
    high, low = (extreme.reduceat(every, ends)[::2] for extreme in (np.maximum, np.minimum))
    floor = np.where(beyond < high - total, high - total, low)
    begin, until = (_left(place, value, *at, floor, floor + total) for at in ((first, -1), (last, 1)))
    best = int(np.argmax(until - begin))
    return float(begin[best]), float(until[best]), float(floor[best])


def _left(place: Array, level: Array, index: Index, step: int, low: Array, high: Array) -> Array:
    """Where a level leaves [low, high] from points inside to the next outward, by a straight line; the point itself
    where there is none, or that lies inside as well."""
    other = (index + step).clip(0, len(place) - 1)
    a, b = level[index], level[other]
    bound = b.clip(low, high)
    share = np.where(b == bound, 0.0, (a - bound) / np.where(a == b, 1.0, a - b))
    return np.asarray(place[index] + share * (place[other] - place[index]))


def _reach(value: Array, total: float) -> Index:
    """From each point the last up to which values stay within a total.

    All are extended together by halving steps over tables of running extremes, which are without bound where they
    reach beyond the end: log2(F) passes.
    """
    highs = lows = [np.append(value, np.inf)]
    while 2 ** len(highs) <= len(value):
        reach = 2 ** (len(highs) - 1)
        highs = [*highs, np.maximum(highs[-1][:-reach], highs[-1][reach:])]
        lows = [*lows, np.minimum(lows[-1][:-reach], lows[-1][reach:])]
    high, low, further = value, value, np.arange(1, len(value) + 1)
    for k in range(len(highs) - 1, -1, -1):
        top = np.maximum(high, highs[k].take(further, mode="clip"))
        floor = np.minimum(low, lows[k].take(further, mode="clip"))
        fits = top - floor <= total
        high, low, further = np.where(fits, top, high), np.where(fits, floor, low), further + (fits << k)
    return further - 1
