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


def crossing(frequency: Array, level: Array, index: int, step: int, low: Array, high: Array) -> Array:
    """Where a level leaves each of several [low, high] from a point inside to the next outward, by a straight line."""
    other = index + step
    if not 0 <= other < len(frequency):
        return np.full(len(low), frequency[index])
    a, b = (outside(level[k], low, high) for k in (index, other))
    share = np.where((a < 0) & (b > 0), a / np.where(a < b, a - b, 1.0), 0.0)
    return np.asarray(frequency[index] + share * (frequency[other] - frequency[index]))


def widest_window(place: Array, value: Array, total: float) -> tuple[int, int]:
    """Indices of the longest stretch (by place, rising) in which value's largest minus smallest stays within total.

    All starts are extended together by halving steps over tables of running extremes: log2(F) passes.
    """
    count = len(value)
    highs, lows = [value], [value]
    while 2 ** len(highs) <= count:
        reach = 2 ** (len(highs) - 1)
        highs.append(np.maximum(highs[-1][:-reach], highs[-1][reach:]))
        lows.append(np.minimum(lows[-1][:-reach], lows[-1][reach:]))
    high, low, end = value, value, np.arange(count)  # end: the last index inside
    for k in range(len(highs) - 1, -1, -1):
        further = end + 1
        top = np.maximum(high, highs[k].take(further, mode="clip"))
        floor = np.minimum(low, lows[k].take(further, mode="clip"))
        fits = (top - floor <= total) & (further <= count - 2**k)
        high, low, end = np.where(fits, top, high), np.where(fits, floor, low), end + (fits << k)
    best = int(np.argmax(place[end] - place))
    return best, int(end[best])
