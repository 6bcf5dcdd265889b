"""The figures of one design read off its area curve, its modes and its static answers."""

from collections.abc import Mapping
from functools import partial

import numpy as np

from diaphragm_fem.analysis.curve.curve import LEAST_AREA, Curve, EvenedResponse, decibels
from diaphragm_fem.analysis.figures.break_up_mode import BreakUpMode, StrainsUpTo, find_break_up_mode
from diaphragm_fem.analysis.figures.definitions import DEFINITIONS, EVEN_DB
from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.analysis.figures.reading import Reading, Respond, local_maxima
from diaphragm_fem.analysis.figures.response_bands import (
    BELOW_BREAK_UP,
    Band,
    Extreme,
    Levels,
    Shelves,
    levels_of,
)
from diaphragm_fem.analysis.figures.smooth_measures import smooth_measures
from diaphragm_fem.analysis.figures.stretches import PROMINENCE_DB
from diaphragm_fem.analysis.figures.zones import Departure, Leak, StepFigures, departure_of, driven_zones, steps_of
from diaphragm_fem.analysis.static import Static
from diaphragm_fem.design.library.evidence import show_frequency

_BAND_POINTS = 201  # solved in each band besides those of the scan: what a smooth measure is integrated over
_ROUNDS = 4  # at most, of solving where figures were read: few are misplaced after the first
_NO_NET_AREA = 1e-12  # m2, a square micrometre: what rounding leaves of a part that moves no net air
_NEAR_MODE = 2 ** (1 / 6)  # a peak belongs to a mode where it lies within a sixth of an octave of it
_NO_AREA = "the low area is zero, so there is no level to measure against"
_NOT_HELD = "nothing holds the diaphragm"
_NO_STEP = "the design has no step"
_NO_SWEEP = "the {} sweeps no area that could depart from the coil's: it is left out of what follows the coil"
_ON_PLATEAU = "the response does not reach its plateau in the range: low area over moving mass stays 0 dB"


def figures_of(
    static: Static,
    scan: Curve,
    respond: Respond,
    strains_up_to: StrainsUpTo,
    fundamental_hz: float | None,
    *,
    even_db: float = EVEN_DB,
    bands: Mapping[str, tuple[float, float]] | None = None,
    leak: Leak | None = None,
) -> Figures:
    """All figures of one driven design.

    static and scan.low are its static answers; scan a curve with coil force that resolves every peak and dip,
    frequencies rising over the range; respond(f) it anywhere, asked for many at a time; strains_up_to(hz) its
    m = 0 modes, coil free (asked beyond the range only where that holds no break-up mode); even_db the total of the
    even band; bands are named bands in Hz for the smooth measures; leak: that of the chamber behind.
    """
    mode = find_break_up_mode(strains_up_to, float(scan.frequency_hz[-1]), fundamental_hz)
    read = partial(_read, static=static, mode=mode, fundamental_hz=fundamental_hz, even_db=even_db, leak=leak)
    reading = Reading(scan)
    read(reading, bands={})  # to learn where its thresholds lie
    for begin, end in (bands or {}).values():
        reading.places.extend(np.geomspace(begin, end, _BAND_POINTS).tolist())
    for _ in range(_ROUNDS):
        reading = reading.finer(respond)
        found = read(reading, bands=bands or {})
        if not reading.unmet:
            break
    return found


class _Told:
    """Values by their names and, for those that are None, why."""

    def __init__(self) -> None:
        self.values: dict[str, float | None] = dict.fromkeys(DEFINITIONS)
        self.reasons: dict[str, str] = {}

    def tell(self, why: str = "", /, **values: float | None) -> None:
        self.values |= values
        self.reasons |= {name: why for name, value in values.items() if value is None}


def _read(
    reading: Reading,
    static: Static,
    mode: BreakUpMode,
    fundamental_hz: float | None,
    even_db: float,
    bands: Mapping[str, tuple[float, float]],
    leak: Leak | None,
) -> Figures:
    scan, told = reading.scan, _Told()
    low = _tell_at_rest(told, scan, static, fundamental_hz)
    moves_air = low > LEAST_AREA * float(np.abs(scan.zone_area).sum())
    told.tell(mode.reason, break_up_mode_hz=mode.frequency_hz)

    departures, notes = _tell_departures(told, reading)
    limit = told.values["departure_hz"] or reading.top
    steps = steps_of(reading, limit, leak)
    decoupling, handed_over = _tell_steps(told, steps)
    second = None if handed_over is None else (handed_over, limit)
    if second is not None:
        _tell_high_area(told, reading, second, low if moves_air else None)

    levels = even = shelf = None
    peaks = holes = tuple[Extreme, ...]()
    evened = _evened(reading, static, fundamental_hz, low) if moves_air else None
    if evened is not None and (fundamental_hz is not None or not static.stiffness):
        first_end = min(x / 2 for x in (decoupling, None if decoupling else mode.frequency_hz, 2 * reading.top) if x)
        why_no_second = told.reasons.get("handed_over_hz", "")
        levels = levels_of(reading, evened.level(scan), fundamental_hz, first_end, second, why_no_second)
        end = min(reading.top, (mode.frequency_hz or np.inf) / BELOW_BREAK_UP)
        peaks, holes = levels.extremes(end)
        even, shelf = levels.even_band(even_db), levels.shelf_band(decoupling, handed_over)
        _tell_levels(told, levels.shelves, peaks, holes, searched=end > levels.begin)
        _tell_bands(told, even_band=even, shelf_band=shelf)
        _tell_peak_of_mode(told, levels, mode)
        notes += [_ON_PLATEAU] if levels.shelves.on_plateau else []
    untold = _NO_AREA if not moves_air else "" if levels else _no_resonance(reading.top)
    told.reasons |= {n: untold for n, value in told.values.items() if value is None and n not in told.reasons}
    measures = {
        ", ".join((f"{measure}:{band}", *zone)): value
        for band, ends in bands.items()
        for (measure, *zone), value in smooth_measures(reading, evened, ends).items()
    }
    shelves = levels.shelves if levels else None
    return Figures(
        told.values, told.reasons, steps, departures, mode, shelves, peaks, holes, even, shelf, evened, reading.top,
        measures, tuple(notes),
    )  # fmt: skip


def _tell_at_rest(told: _Told, scan: Curve, static: Static, fundamental_hz: float | None) -> float:
    """The low area in m2, told with all else that no frequency moves."""
    low = abs(float(scan.low.sum()))
    low = low if low > _NO_NET_AREA else 0.0
    told.tell(
        stiffness_n_per_m=static.stiffness,
        moving_mass_kg=static.moving_mass,
        low_area_m2=low,
        area_per_mass_m2_per_kg=low / static.moving_mass,
        held_volume_m3=static.held_volume,
    )
    why = _no_resonance(float(scan.frequency_hz[-1])) if static.stiffness else _NOT_HELD
    told.tell(why, fundamental_hz=fundamental_hz)
    told.tell(_NOT_HELD, free_volume_m3=static.free_volume)
    return low


def _no_resonance(top_hz: float) -> str:
    return f"no resonance of the coil lies in the range up to {show_frequency(top_hz)}"


def _tell_high_area(told: _Told, reading: Reading, second: tuple[float, float], low: float | None) -> None:
    """What is swept from hand-over to departure in Hz, against the low area in m2 where that moves air."""
    size = np.abs(reading.scan.total)
    high, ends = reading.median(size, *second), [reading.at(hz, size) for hz in second]
    kept = decibels(np.concatenate((ends, size[reading.within(*second)])))
    told.tell(high_area_m2=high, ripple_db=float(kept.max() - kept.min()))
    told.tell(_NO_AREA, area_ratio_db=None if low is None else float(decibels(high / low)))


def _evened(reading: Reading, static: Static, fundamental_hz: float | None, low: float) -> EvenedResponse:
    """The response with the fundamental's own peak divided out, its loss read off the force there."""
    loss = 0.0
    if fundamental_hz is not None and static.stiffness:
        loss = reading.at(fundamental_hz, reading.scan.coil_force.imag) / static.stiffness
    return EvenedResponse(fundamental_hz, loss, low / static.moving_mass)


def _tell_departures(told: _Told, reading: Reading) -> tuple[tuple[Departure, ...], list[str]]:
    """Of each driven zone that sweeps an area, and notes on those that do not."""
    scan = reading.scan
    driven = driven_zones(scan.zones)
    departures = tuple(departure_of(reading, k) for k in driven if scan.sweeps[k])
    first = min((one.departure_hz for one in departures if one.departure_hz is not None), default=None)
    told.tell("; ".join(one.reason for one in departures) or "no driven zone moves air", departure_hz=first)
    return departures, [_NO_SWEEP.format(scan.zones[k].name) for k in driven if not scan.sweeps[k]]


def _tell_steps(told: _Told, steps: tuple[StepFigures, ...]) -> tuple[float | None, float | None]:
    """The lowest decoupling, and where the last of all steps that have something to hand over has."""
    decoupling = min((s.decoupling_hz for s in steps if s.decoupling_hz), default=None)
    over = [s.handed_over_hz for s in steps if not s.idle]
    handed_over = max((hz for hz in over if hz is not None), default=None) if None not in over else None
    told.tell("; ".join(dict.fromkeys(s.decoupling_reason for s in steps)) or _NO_STEP, decoupling_hz=decoupling)
    each = (reason for s in steps for reason in s.handed_over_reasons)
    why = "; ".join(dict.fromkeys(each)) or _NO_STEP  # what lies beyond two steps is told by both
    told.tell(why, handed_over_hz=handed_over)
    if handed_over is None:
        told.tell(why, high_area_m2=None, ripple_db=None, area_ratio_db=None)
    return decoupling, handed_over


def _tell_levels(
    told: _Told, shelves: Shelves, peaks: tuple[Extreme, ...], holes: tuple[Extreme, ...], *, searched: bool
) -> None:
    told.tell(
        shelves.reason, shelf_1_db=shelves.first, shelf_2_db=shelves.second, shelf_2_octaves=shelves.second_octaves
    )
    for name, found, beyond in (("highest_peak", peaks, "above the"), ("deepest_hole", holes, "below the")):
        if found:
            told.tell(**{f"{name}_db": found[0].against_shelf_db, f"{name}_hz": found[0].frequency_hz})
            continue
        kind = name.split("_")[1]
        told.tell(
            f"no {kind} of {PROMINENCE_DB:g} dB or more {beyond} shelf in the stretch searched", **{f"{name}_hz": None}
        )
        why = "the break-up mode lies too close to the fundamental for a stretch to search"
        told.tell(why, **{f"{name}_db": 0.0 if searched else None})


def _tell_bands(told: _Told, **bands: Band | None) -> None:
    why = "the range ends below 1.5 times the fundamental, or nothing keeps to it"
    for name, band in bands.items():
        for ending in ("octaves", "from_hz", "to_hz"):
            told.tell(why, **{f"{name}_{ending}": None if band is None else getattr(band, ending)})


def _tell_peak_of_mode(told: _Told, levels: Levels, mode: BreakUpMode) -> None:
    reading, level, hz = levels.reading, levels.level, mode.frequency_hz
    peak = None
    if hz is not None and hz < reading.top:
        ends = hz / _NEAR_MODE, min(hz * _NEAR_MODE, reading.top)
        # a level that only falls there is largest at an end: 1.7 dB above the first point within, of a driver's scan
        reading.places.extend(end for end in ends if end > reading.bottom)
        near = np.flatnonzero(reading.within(*ends))
        if len(near):
            index = int(near[np.argmax(level[near])])
            turns = index in local_maxima(level)  # a response that only falls there has no top for a parabola
            peak = (levels.near(index, 1.0)[1] if turns else float(level[index])) - levels.shelves.louder
    told.tell("the break-up mode lies above the range", break_up_peak_db=peak)
