"""What single zones do over frequency: where a step lets go, where it has handed over, where a driven zone leaves.

Every zone is read for itself: two that depart in opposite directions never cancel. q = U_Z/(v A_Z) is a zone's share
of its rigid motion with the coil, q(0) its value at rest. Definitions of this project; 3 dB is common practice, no
source.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from diaphragm_fem.analysis.curve.curve import decibels
from diaphragm_fem.analysis.figures.reading import Reading, Respond, local_maxima
from diaphragm_fem.arrays import Array, Flags
from diaphragm_fem.design.library.evidence import show_frequency
from diaphragm_fem.design.meridian.zone import Role, Zone

QUIET_SHARE = 0.3  # of the coil's motion: a zone below it has handed over
_NEARLY_LOUD = 0.25
_NEARLY_ZERO = 0.1
DEPARTURE_DB = 3.0
_NEARLY = 0.5  # dB from departing
_DEPARTURE_OCTAVES = 1 / 24
_LEAST_STATIC_SHARE = 0.05  # below it a zone hardly moves at rest, and a ratio to that says nothing


@dataclass(frozen=True)
class NearMiss:
    """Where something nearly passed its threshold: frequency in Hz, the value there, which zone."""

    zone: str
    frequency_hz: float
    value: float


@dataclass(frozen=True)
class StepFigures:
    """What one decoupling step does; None where it does not happen, with the reason, of a hand-over one for each zone.

    decoupling_hz       lowest f where Re q of the zone between this step and the next falls through zero.
    handed_over_hz      lowest f from which |q| of every zone beyond the step stays below 0.3 until the limit.
    largest_after       the largest interior maximum of those shares from there to the limit; None: they fall steadily.
    near_misses         maxima of 0.25 to 0.3 there; near_decoupling: minima of Re q of 0 to 0.1 before decoupling.
    idle                nothing beyond moves air, or ever by 0.3 of the coil's motion: there is nothing to hand over.
    """

    name: str
    decoupling_hz: float | None
    handed_over_hz: float | None
    largest_after: NearMiss | None
    near_misses: tuple[NearMiss, ...]
    near_decoupling: tuple[NearMiss, ...]
    decoupling_reason: str = ""
    handed_over_reasons: tuple[str, ...] = ()
    idle: bool = False


@dataclass(frozen=True)
class Departure:
    """Where one driven zone leaves the coil by 3 dB from its share at rest, for at least 1/24 octave.

    near_misses: excursions of 2.5 dB or more before it, in dB, and those too short. follows: that it follows the coil
    over all of the range, which is no want of a figure.
    """

    zone: str
    departure_hz: float | None
    near_misses: tuple[NearMiss, ...]
    reason: str = ""
    follows: bool = False


def driven_zones(zones: tuple[Zone, ...]) -> list[int]:
    """Indices of the driven zones; of all radiating ones but surrounds where none is called driven, else of those."""
    radiating = [index for index, zone in enumerate(zones) if zone.radiates]
    driven = [index for index, zone in enumerate(zones) if zone.role is Role.DRIVEN]
    return driven or [index for index in radiating if zones[index].role is not Role.SURROUND] or radiating


def zones_of(role: Role, zones: tuple[Zone, ...]) -> list[str]:
    """Names of the zones of which figures of a role are told."""
    driven = driven_zones(zones)
    return [x.name for k, x in enumerate(zones) if (k in driven if role is Role.DRIVEN else x.role is role)]


def departure_of(reading: Reading, index: int) -> Departure:
    """The 3 dB departure of one zone that sweeps an area."""
    scan = reading.scan
    name, low, area = scan.zones[index].name, float(scan.low[index]), float(scan.zone_area[index])
    if not abs(low / area) >= _LEAST_STATIC_SHARE:
        return Departure(name, None, (), f"the static share of the {name} is too small to follow")

    f, levels = reading.frequency, decibels(np.abs(scan.zone[index] / low))
    beyond = np.abs(levels) - DEPARTURE_DB
    begin, too_short = None, []
    for first, last in _runs(beyond > 0):
        start = reading.bottom if first == 0 else reading.root(first - 1, beyond)
        end = float(f[last])  # told nowhere: where it is read between points it is for the sake of the width
        if last < len(f) - 1 and np.log2(end / start) < _DEPARTURE_OCTAVES:
            end = reading.root(last, beyond)
        if np.log2(end / start) >= _DEPARTURE_OCTAVES:
            begin = (start, first)
            _solve_dips(reading, levels, first, last)
            break
        worst = first + int(np.argmax(beyond[first : last + 1]))
        too_short.append(NearMiss(name, *reading.vertex(worst, levels)))
    limit = len(f) if begin is None else begin[1]
    near = [
        NearMiss(name, *reading.vertex(int(k), levels))
        for k in local_maxima(np.abs(levels[:limit]))
        if -_NEARLY <= beyond[k] <= 0
    ]
    if begin is None and -_NEARLY <= beyond[-1] <= 0:
        near.append(NearMiss(name, reading.top, float(levels[-1])))
    misses = tuple(sorted((*near, *too_short), key=lambda miss: miss.frequency_hz))
    if begin is None:
        why = f"the {name} follows the coil up to {show_frequency(reading.top)}"
        return Departure(name, None, misses, why, follows=True)
    return Departure(name, begin[0], misses)


def _solve_dips(reading: Reading, levels: Array, first: int, last: int) -> None:
    """Have solved what may part a stretch beyond the threshold: shallow dips, and where it passes from low to high."""
    inside = levels[first : last + 1]
    for k in local_maxima(-np.abs(inside)):
        if abs(inside[k]) < DEPARTURE_DB + _NEARLY:
            reading.vertex(first + int(k), levels)
    for k in np.flatnonzero(inside[1:] * inside[:-1] < 0):
        reading.root(first + int(k), levels)


class Leak(NamedTuple):
    """A leak of the chamber behind a part: the frequency in Hz at which it closes, and the curve at any frequencies
    with nothing behind and with the chamber shut."""

    closes_hz: float
    opened: Respond
    shut: Respond


def steps_of(reading: Reading, limit_hz: float, leak: Leak | None = None) -> tuple[StepFigures, ...]:
    """Every step, the inner side's first, from the coil outward; handed over until the limit in Hz; leak: that
    behind the part."""
    steps = sorted((z for z in reading.scan.zones if z.role is Role.STEP), key=lambda zone: (zone.side, zone.step))
    return tuple(_step(reading, step, limit_hz, leak) for step in steps)


def _step(reading: Reading, step: Zone, limit: float, leak: Leak | None) -> StepFigures:
    scan = reading.scan
    moving = [(k, zone) for k, zone in enumerate(scan.zones) if scan.sweeps[k]]
    beyond = {k: x.step for k, x in moving if x.role is Role.BEYOND and x.side == step.side and x.step >= step.step}
    own = [k for k, number in beyond.items() if number == step.step]  # up to the next step
    if not beyond:
        why = f"there is no flank beyond the {step.name} that sweeps an area"
        return StepFigures(step.name, None, None, None, (), (), why, (why,), idle=True)
    decoupling, near, why = (
        _decoupling(reading, own[0], leak) if own else (None, (), f"no zone between the {step.name} and the next step")
    )
    size = {k: np.abs(scan.zone[k] / scan.zone_area[k]) for k in beyond}
    found = [_quiet_from(reading, scan.zones[k].name, size[k], limit) for k in beyond]
    failed = tuple(reason for _, reason in found if reason)
    if failed:
        return StepFigures(step.name, decoupling, None, None, (), near, why, failed)
    begin = max(hz for hz, _ in found if hz is not None)
    if not begin:
        quiet = f"nothing beyond the {step.name} moves by {QUIET_SHARE:g} of the coil's motion"
        return StepFigures(step.name, decoupling, None, None, (), near, why, (quiet,), idle=True)
    maxima = [
        NearMiss(scan.zones[k].name, *reading.vertex(int(top), size[k]))
        for k in beyond
        for top in local_maxima(size[k])
        if begin < reading.frequency[top] < limit
    ]
    largest = max(maxima, key=lambda miss: miss.value, default=None)
    close = tuple(miss for miss in maxima if miss.value >= _NEARLY_LOUD)
    return StepFigures(step.name, decoupling, begin, largest, close, near, why)


def _decoupling(reading: Reading, index: int, leak: Leak | None) -> tuple[float | None, tuple[NearMiss, ...], str]:
    """Where Re q falls through zero, near misses before it, and why it does not. Where a leak closes the part sweeps
    hardly any air, so that soft flanks fall below zero: below there that counts which does so with nothing behind, and
    above that which a shut chamber does not do from rest."""
    name = reading.scan.zones[index].name
    share = reading.scan.zone[index].real / reading.scan.zone_area[index]
    below = [run for run in _runs(share <= 0) if leak is None or not _made_by_leak(reading, index, run, leak)]
    falls = [first - 1 for first, _ in below if first > 0]
    limit = falls[0] + 1 if falls else len(share)
    near = tuple(
        NearMiss(name, *reading.vertex(int(k), share))
        for k in local_maxima(-share[:limit])
        if 0 < share[k] < _NEARLY_ZERO
    )
    if falls:
        return reading.root(falls[0], share), near, ""
    return None, near, f"the {name} never falls through zero below {show_frequency(reading.top)}"


def _made_by_leak(reading: Reading, index: int, run: tuple[int, int], leak: Leak) -> bool:
    """Whether a leak alone lets a zone work against the coil over a run of points: below where it closes with nothing
    behind the zone would not, above the zone does so from rest where the chamber is shut."""
    first, last = reading.frequency[list(run)].tolist()
    if first >= leak.closes_hz:
        to_first = reading.frequency[: run[0] + 1]
        works = bool(leak.opened(to_first[-1:]).zone[index, 0].real > 0)
        return works and bool((leak.shut(to_first).zone[index].real <= 0).all())
    middle = np.sqrt(first * min(last, leak.closes_hz))
    return bool(leak.opened(np.array([middle])).zone[index, 0].real > 0)


def _quiet_from(reading: Reading, name: str, size: Array, limit: float) -> tuple[float | None, str]:
    """Lowest frequency from which |q| of a zone stays below the quiet share until the limit, 0 where it does all along,
    else why it does not."""
    f = reading.frequency
    inside = int(np.searchsorted(f, limit, side="right"))
    loud = np.flatnonzero(size[:inside] >= QUIET_SHARE)
    if len(loud) == 0:
        return 0.0, ""
    if loud[-1] >= inside - 1:
        end = min(inside, len(f) - 1)
        last = max(float(np.interp(limit, f[end - 1 : end + 1], size[end - 1 : end + 1])), QUIET_SHARE)
        told = f"{last:.2f} of" if last < 1 else f"{last:.3g} times"
        where = show_frequency(limit, computed=True)
        return None, f"the {name} still moves by {told} the coil's motion at {where}, above {QUIET_SHARE:g}"
    return reading.root(int(loud[-1]), size - QUIET_SHARE), ""


def _runs(inside: Flags) -> list[tuple[int, int]]:
    """First and last index of every stretch that is True."""
    change = np.flatnonzero(np.diff(np.concatenate(([False], inside, [False])).astype(np.int8)))
    return [(int(a), int(b) - 1) for a, b in zip(change[::2], change[1::2], strict=True)]
