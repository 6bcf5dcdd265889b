"""Shelves, peaks, holes and even bands, all read from the evened response in dB against its plateau.

    shelf 1      median below the steps: from 1.5 f0 to half the lowest decoupling; without a step to half the
                 break-up mode. Where that stretch is empty the plateau itself, 0 dB.
    shelf 2      median from hand-over to departure where those are at least half an octave apart.
    even band    widest band above 1.5 f0 in which the level stays within a total of 6 dB.
    shelf band   the same within 3 dB of shelf 1 up to decoupling, within 3 dB of shelf 2 from hand-over, between the
                 quieter - 3 dB and the louder + 3 dB in between; shelves more than 6 dB apart end it at decoupling.
Definitions of this project; four octaves of one diaphragm are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import log2
from typing import NamedTuple

import numpy as np

from diaphragm_fem.analysis.figures.definitions import EVEN_DB
from diaphragm_fem.analysis.figures.reading import Reading
from diaphragm_fem.analysis.figures.stretches import longest_within, outside, prominent_peaks
from diaphragm_fem.arrays import Array, Index

_ABOVE_FUNDAMENTAL = 1.5  # times it: below, what is left of its peak stands in the way
BELOW_BREAK_UP = 1.5  # of the break-up mode's frequency: peaks and holes are sought up to there
_SHELF_2_OCTAVES = 0.5
_SHELF_WITHIN_DB = 3.0
_SHELVES_APART_DB = 6.0


@dataclass(frozen=True)
class Extreme:
    """A peak or hole: frequency in Hz, level in dB against the plateau and against its shelf, and the zones that make
    it: the one that adds most to the whole, what share of it, and, where one works against it, the one that takes most
    away."""

    frequency_hz: float
    level_db: float
    against_shelf_db: float
    with_zone: str
    with_share: float
    against_zone: str | None


@dataclass(frozen=True)
class Band:
    """A band in Hz.

    at_least: it touches an end of the range and may go on beyond; ended_by: the peak or hole into which the response
    leaves it at its upper end, None where the range ends first.
    """

    from_hz: float
    to_hz: float
    at_least: bool
    ended_by: Extreme | None = None

    @property
    def octaves(self) -> float:
        return log2(self.to_hz / self.from_hz)


@dataclass(frozen=True)
class Shelves:
    """Levels in dB against the plateau; shelf 2 is None with its reason; on_plateau: shelf 1 is the plateau itself."""

    first: float
    second: float | None
    second_octaves: float | None
    on_plateau: bool
    reason: str = ""

    @property
    def louder(self) -> float:
        return self.first if self.second is None else max(self.first, self.second)

    @property
    def quieter(self) -> float:
        return self.first if self.second is None else min(self.first, self.second)


def levels_of(
    reading: Reading,
    level: Array,
    fundamental_hz: float | None,
    first_end: float,
    second: tuple[float, float] | None,
    why_no_second: str,
) -> Levels:
    """A level (F,) in dB with its shelves; shelf 1 ends at first_end, `second` bounds shelf 2, all in Hz."""
    begin = max(reading.bottom, _ABOVE_FUNDAMENTAL * (fundamental_hz or 0.0))
    reached = first_end > begin
    first = reading.median(level, begin, first_end) if reached else 0.0
    octaves = 0.0 if second is None else log2(second[1] / second[0])
    if second is not None and octaves < _SHELF_2_OCTAVES:
        why_no_second = f"from hand-over to departure there are {octaves:.2f} octaves, fewer than half an octave"
        second = None
    other = None if second is None else reading.median(level, *second)
    return Levels(reading, level, begin, Shelves(first, other, octaves if second else None, not reached, why_no_second))


@dataclass(frozen=True)
class Levels:
    """The evened response (F,) in dB of a reading, and its shelves; bands may begin at `begin` in Hz."""

    reading: Reading
    level: Array
    begin: float
    shelves: Shelves

    def extremes(self, end: float) -> tuple[tuple[Extreme, ...], tuple[Extreme, ...]]:
        """Peaks and holes of at least 0.5 dB prominence up to a frequency in Hz, the most extreme first.

        Peaks stand above the louder shelf and are told against it, holes below the quieter: a minimum between two
        peaks that lies above it is no hole.
        """
        first, last = np.searchsorted(self.reading.frequency, (self.begin, end))
        at_ends = [self.reading.at(hz, self.level) for hz in (self.begin, end)]
        level, found = np.concatenate((at_ends[:1], self.level[first:last], at_ends[1:])), []
        for sign in (1.0, -1.0):
            shelf = self.shelves.louder if sign > 0 else self.shelves.quieter
            places = prominent_peaks(sign * level) + first - 1
            places = places[sign * self.level[places] > sign * shelf]
            places = places[np.argsort(-sign * self.level[places], kind="stable")]
            found.append(tuple(self._extremes(places, sign)))
        return found[0], found[1]

    def near(self, index: int, sign: float) -> tuple[float, float]:
        """Frequency in Hz and level in dB of the peak (sign 1) or hole (-1) about a scan point.

        About a zero the square of the size is a parabola, about a pole its reciprocal: more so than the level.
        """
        hz, found = self.reading.vertex(index, self.level, lambda some: 10 ** (-sign * some / 10))
        return hz, -sign * 10 * float(np.log10(max(found, 1e-30)))

    def _extremes(self, places: Index, sign: float) -> Iterator[Extreme]:
        """What extremes at scan points are; the first is placed between them."""
        scan, shelf = self.reading.scan, self.shelves.louder if sign > 0 else self.shelves.quieter
        whole = scan.total[places]
        share = (scan.zone[:, places] * whole.conj()).real / np.maximum(np.abs(whole), 1e-99) ** 2
        most, least, names = share.argmax(axis=0), share.argmin(axis=0), [zone.name for zone in scan.zones]
        for rank, k in enumerate(places.tolist()):
            hz, db = (float(scan.frequency_hz[k]), float(self.level[k])) if rank else self.near(k, sign)
            against = names[least[rank]] if share[least[rank], rank] < 0 else None
            yield Extreme(hz, db, db - shelf, names[most[rank]], float(share[most[rank], rank]), against)

    def even_band(self, total_db: float = EVEN_DB) -> Band | None:
        """Widest band within a total of `total_db`; None where the range ends before bands may begin."""
        begin, reading = self.begin, self.reading
        if not reading.top > begin:
            return None
        first = int(np.searchsorted(reading.frequency, begin))
        place = np.concatenate((np.log([begin]), reading.log_frequency[first:]))
        value = np.concatenate(([reading.at(begin, self.level)], self.level[first:]))
        left, right, low = longest_within(place, value, total_db)
        inside = np.flatnonzero((reading.log_frequency >= left) & (reading.log_frequency <= right))
        for extreme in (np.argmin, np.argmax):
            at = int(inside[extreme(self.level[inside])])
            if inside[0] < at < inside[-1]:
                reading.vertex(at, self.level)
        before, last = (np.searchsorted(reading.log_frequency, (left, right)) - 1).tolist()
        from_hz, to_hz, scale = begin, reading.top, (low, low + total_db)
        if left > place[0]:
            from_hz = self._refined(_Border(float(np.exp(left)), before, *scale))
        if right < place[-1]:
            to_hz = self._refined(_Border(float(np.exp(right)), last, *scale))
        return self._band(from_hz, to_hz)

    def shelf_band(self, decoupling: float | None, handed_over: float | None) -> Band | None:
        """Widest band that keeps to its shelves; None where there is none."""
        begin, top, shelves, inside = self.begin, self.reading.top, self.shelves, _SHELF_WITHIN_DB
        one = (shelves.first - inside, shelves.first + inside)
        regions = [(begin, top, *one)]
        if shelves.second is not None and decoupling is not None and handed_over is not None:
            apart = abs(shelves.second - shelves.first) > _SHELVES_APART_DB
            between = (np.inf, -np.inf) if apart else (shelves.quieter - inside, shelves.louder + inside)
            earlier, later = sorted((decoupling, handed_over))  # a flank with much loss may be quiet before it lets go
            regions = [
                (begin, earlier, *one),
                (earlier, later, *between),
                (later, top, shelves.second - inside, shelves.second + inside),
            ]
        runs: list[list[_Border]] = []
        for start, end, low, high in regions:
            if not (end > max(start, begin) and high > low):
                continue
            for first, last in self._stays_within(max(start, begin), end, low, high):
                if runs and first.after is None and first.hz == runs[-1][1].hz:
                    runs[-1][1] = last
                else:
                    runs.append([first, last])
        if not runs:
            return None
        widest = max(runs, key=lambda run: run[1].hz / run[0].hz)
        from_hz, to_hz = self._refined(widest[0]), self._refined(widest[1])
        return self._band(from_hz, to_hz) if to_hz > from_hz else None

    def _stays_within(self, start: float, end: float, low: float, high: float) -> list[tuple[_Border, _Border]]:
        """Stretches of [start, end] in Hz in which the level lies between low and high."""
        log_f, distance = self.reading.log_frequency, outside(self.level, low, high)
        change = np.flatnonzero((distance[1:] > 0) != (distance[:-1] > 0))
        share = distance[change] / (distance[change] - distance[change + 1])
        place = np.exp(log_f[change] + share * np.diff(log_f)[change])  # as `at` reads: both tell whether one is inside
        at = (x for x in zip(place.tolist(), change.tolist(), strict=True) if start < x[0] < end)
        borders = [_Border(*x, low, high) for x in at]
        if self.reading.at(start, distance) <= 0:
            borders.insert(0, _Border(start, None, low, high))
        if len(borders) % 2:
            borders.append(_Border(end, None, low, high))
        return list(zip(borders[::2], borders[1::2], strict=True))

    def _refined(self, border: _Border) -> float:
        if border.after is None:
            return border.hz
        return self.reading.root(border.after, outside(self.level, border.low, border.high))

    def _band(self, from_hz: float, to_hz: float) -> Band:
        """A band with what ends it. It may touch the range's top, and its bottom where no fundamental bounds it."""
        reading, level = self.reading, self.level
        touches = to_hz >= reading.top or (from_hz <= reading.bottom and self.begin <= reading.bottom)
        first = int(np.searchsorted(reading.frequency, to_hz, side="right"))
        ended_by = None
        if 0 < first < len(level):
            sign = 1.0 if level[first] > level[first - 1] else -1.0
            turns = np.flatnonzero(sign * np.diff(level[first:]) < 0)
            if len(turns):
                ended_by = next(self._extremes(first + turns[:1], sign))
        return Band(from_hz, to_hz, touches, ended_by)


class _Border(NamedTuple):
    """Where a stretch begins or ends: at hz, a given end where `after` is None; else the level passes low or high
    between scan points after and after + 1, and hz is read by a straight line."""

    hz: float
    after: int | None
    low: float
    high: float
