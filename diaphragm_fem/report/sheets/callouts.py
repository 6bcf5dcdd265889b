"""Numbers beside points, each clear of the points and of the other numbers however close the points lie."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np
from matplotlib.axes import Axes

from diaphragm_fem.arrays import Array
from diaphragm_fem.report.sheets.style import INK, MM, SMALL, text_width

# lengths in points
MARK_SIZE = 4.5  # half of a mark with a little air
AIR = 1.0  # around a number
CROWDED = 16.0  # from mark to mark: nearer ones share a row of numbers, with leaders
NEAR = (10.0, 15.0, 21.0, 28.0, 36.0, 46.0)  # from a lonely mark to its number
OFFSETS = (20.0, 26.0, 34.0, 44.0, 56.0, 70.0)  # from a crowd to its row of numbers
BEARINGS = np.radians([45, 90, 135, 0, 180, -45, -90, -135])


@dataclass(frozen=True)
class Callout:
    """Where a number stands, and the mark that it belongs to."""

    mark: Array
    middle: Array
    half: Array

    def covers(self, points: Array, room: float = 0.0) -> int:
        return int(np.all(np.abs(points - self.middle) < self.half + room, axis=-1).sum())

    def meets(self, other: Callout) -> bool:
        return bool(np.all(np.abs(self.middle - other.middle) < self.half + other.half))

    def leader(self) -> Array:
        return self.mark + np.linspace(0, 1, 25)[:, None] * (self.middle - self.mark)

    def crosses(self, other: Callout) -> bool:
        """Whether its leader runs over the other's number or leader."""
        a, b, c, d = self.mark, self.middle, other.mark, other.middle
        over = _side(a, b, c) * _side(a, b, d) < 0 and _side(c, d, a) * _side(c, d, b) < 0
        return over or other.covers(self.leader()) > 0 or self.covers(other.leader()) > 0


def number_points(axes: Axes, marked: Array, others: Array, colour: str) -> None:
    """Numbers from 1 at the marked points (N, 2), clear of them and, where it can be, of the others (M, 2).

    The limits of the axes must be set. Crowded marks get a row of numbers in their own order, each with a leader.
    """
    scale = 72 / axes.figure.dpi
    spots, rest = (np.asarray(axes.transData.transform(p), float).reshape(-1, 2) * scale for p in (marked, others))
    frame = axes.get_window_extent().get_points() * scale
    placed: dict[int, Callout] = {}
    for crowd in crowds(spots):
        layouts = list(_rows(spots, crowd) if len(crowd) > 1 else _around(spots, crowd[0]))
        costs = [_cost(layout, list(placed.values()), spots, rest, frame) + shift for layout, shift in layouts]
        placed.update(zip(crowd, layouts[int(np.argmin(costs))][0], strict=True))
        for n in crowd:
            found = placed[n]
            led = len(crowd) > 1 or np.hypot(*(found.middle - found.mark)) > NEAR[1]
            axes.annotate(
                str(n + 1), marked[n], found.middle - found.mark, textcoords="offset points", size=SMALL, color=INK,
                weight="bold", ha="center", va="center", zorder=6,
                arrowprops={"arrowstyle": "-", "color": colour, "lw": 0.6, "shrinkA": 1, "shrinkB": 0} if led else None,
            )  # fmt: skip


def crowds(spots: Array) -> list[list[int]]:
    """Groups of marks that are linked by short distances; a row's numbers follow its marks along their longer side."""
    group = np.arange(len(spots))
    for a, b in combinations(range(len(spots)), 2):
        if np.hypot(*(spots[a] - spots[b])) < CROWDED:
            group[group == group[b]] = group[a]
    found = [np.flatnonzero(group == g) for g in dict.fromkeys(group.tolist())]
    return [sorted(map(int, ns), key=lambda n: tuple(spots[n][[_long_side(spots[ns]), 0]])) for ns in found]


def _long_side(spots: Array) -> int:
    return int(np.argmax(np.ptp(spots, axis=0)))


def _half(n: int) -> Array:
    return np.array([text_width(str(n + 1), SMALL) * MM * 72 / 2 + 1.5 * AIR, SMALL / 2 + AIR])


def _around(spots: Array, n: int) -> Iterator[tuple[list[Callout], float]]:
    for reach, bearing in product(NEAR, BEARINGS):
        middle = spots[n] + reach * np.array([np.cos(bearing), np.sin(bearing)])
        yield [Callout(spots[n], middle, _half(n))], reach / NEAR[-1]


def _rows(spots: Array, crowd: list[int]) -> Iterator[tuple[list[Callout], float]]:
    """Rows along the longer side of a crowd, on either side of it and pushed along by whole numbers."""
    along = _long_side(spots[crowd])
    low, high = spots[crowd].min(axis=0), spots[crowd].max(axis=0)
    pitch = 2 * max(_half(n)[along] for n in crowd) + AIR
    places = (np.arange(len(crowd)) - (len(crowd) - 1) / 2) * pitch
    for side, offset, push in product((1, -1), OFFSETS, (0, -1, 1, -2, 2, -3, 3)):
        start = (low + high) / 2
        start[1 - along] = (high if side > 0 else low)[1 - along] + side * offset
        middles = np.repeat(start[None], len(crowd), axis=0)
        middles[:, along] += places + push * pitch
        row = [Callout(spots[n], middle, _half(n)) for n, middle in zip(crowd, middles, strict=True)]
        yield row, offset / OFFSETS[-1] + 0.2 * abs(push)


def _cost(layout: list[Callout], placed: list[Callout], spots: Array, rest: Array, frame: Array) -> float:
    cost = 0.0
    for k, callout in enumerate(layout):
        outside = np.any(callout.middle - callout.half < frame[0]) or np.any(callout.middle + callout.half > frame[1])
        before = placed + layout[:k]
        cost += 1000 * bool(outside) + 100 * callout.covers(spots, MARK_SIZE) + callout.covers(rest)
        cost += sum(100 * callout.meets(other) + 10 * callout.crosses(other) for other in before)
    return cost


def _side(p: Array, q: Array, r: Array) -> float:
    return float((q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]))
