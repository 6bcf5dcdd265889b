"""Figures on which a choice between designs can rest, read off one area curve, its modes and its static answers.

`figure_definitions` says what each is. One that does not exist for a design is None, and `reasons` says why.
Definitions of this project; what is common practice is called so where it stands.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from diaphragm_fem.analysis.break_up_mode import BreakUpMode, StrainsUpTo, find_break_up_mode
from diaphragm_fem.analysis.curve import Curve
from diaphragm_fem.analysis.equivalent_volume import EquivalentVolume
from diaphragm_fem.analysis.evened_response import EvenedResponse, decibels
from diaphragm_fem.analysis.figure_definitions import DEFINITIONS
from diaphragm_fem.analysis.reading import Reading, Respond
from diaphragm_fem.analysis.response_bands import (
    BELOW_BREAK_UP,
    EVEN_DB,
    PROMINENCE_DB,
    Band,
    Extreme,
    Shelves,
    even_band,
    extreme_near,
    extremes_of,
    lower_bound,
    shelf_band,
    shelves_of,
)
from diaphragm_fem.analysis.smooth_measures import smooth_measures
from diaphragm_fem.analysis.static import Static
from diaphragm_fem.analysis.zone_figures import (
    LEAST_AREA,
    Departure,
    StepFigures,
    departure_of,
    driven_zones,
    steps_of,
)
from diaphragm_fem.arrays import Array

_BAND_POINTS = 201  # solved in each band besides those of the scan: what a smooth measure is integrated over
_NO_NET_AREA = 1e-12  # m2, a square micrometre: what rounding leaves of a part that moves no net air
_NEAR_MODE = 2 ** (1 / 6)  # a peak belongs to a mode where it lies within a sixth of an octave of it
_NO_AREA = "the low area is zero, so there is no level to measure against"


@dataclass(frozen=True)
class Figures:
    """Every figure of one design and what it was read from; figures in SI units, dB and octaves.

    values: each name of DEFINITIONS -> value or None; reasons: why, for those that are None. steps, departures,
    break_up_mode, shelves, peaks and holes, even_band and shelf_band hold the particulars and the near misses; measures
    the smooth measures of the bands that were named.
    static_at_hz: the frequency whose storage modulus the static answers take, None where moduli do not vary. notes say
    what a reader must know, such as a plateau that is not reached.
    """

    values: Mapping[str, float | None]
    reasons: Mapping[str, str]
    steps: tuple[StepFigures, ...]
    departures: tuple[Departure, ...]
    break_up_mode: BreakUpMode
    shelves: Shelves | None
    peaks: tuple[Extreme, ...]
    holes: tuple[Extreme, ...]
    even_band: Band | None
    shelf_band: Band | None
    evened: EvenedResponse | None
    top_hz: float
    measures: Mapping[str, float]
    static_at_hz: float | None = None
    notes: tuple[str, ...] = ()

    def __getattr__(self, name: str) -> float | None:
        """A figure by its name: figures.departure_hz."""
        if name.startswith("_") or name not in DEFINITIONS:
            raise AttributeError(name)
        return self.values[name]

    @property
    def low_area_m2(self) -> float:
        """Never absent, as the stiffness and the moving mass."""
        return float(self.values["low_area_m2"] or 0.0)

    @property
    def moving_mass_kg(self) -> float:
        return float(self.values["moving_mass_kg"] or 0.0)

    @property
    def stiffness_n_per_m(self) -> float:
        return float(self.values["stiffness_n_per_m"] or 0.0)

    def table(self) -> dict[str, float | None]:
        """Flat table: name with unit -> value, those of single steps and zones as 'decoupling_hz:outer step', smooth
        measures as 'mean_level_db:NAME OF BAND' and 'share_rms:NAME OF BAND, ZONE'.
        """
        flat = dict(self.values)
        for step in self.steps:
            flat[f"decoupling_hz:{step.name}"] = step.decoupling_hz
            flat[f"handed_over_hz:{step.name}"] = step.handed_over_hz
        for departure in self.departures:
            flat[f"departure_hz:{departure.zone}"] = departure.departure_hz
        return flat | dict(self.measures)

    def at_least(self, name: str) -> bool:
        """Whether a figure is the width of a band that touches the end of the range, and may be larger."""
        band = {"even_band_octaves": self.even_band, "shelf_band_octaves": self.shelf_band}.get(name)
        return band is not None and band.at_least

    def reason(self, name: str) -> str:
        """Why a figure is None, "" where it is not."""
        stem, _, part = name.partition(":")
        if not part:
            return self.reasons.get(name, "") if self.values.get(name) is None else ""
        for step in self.steps:
            if step.name == part:
                return step.decoupling_reason if stem == "decoupling_hz" else step.handed_over_reason
        return next((one.reason for one in self.departures if one.zone == part), f"the design has no {part}")

    @property
    def first_to_leave(self) -> Departure | None:
        """The driven zone whose departure is the headline."""
        left = [one for one in self.departures if one.departure_hz is not None]
        return min(left, key=lambda one: one.departure_hz or 0.0, default=None)


def figures_of(
    static: Static,
    volume: EquivalentVolume,
    scan: Curve,
    respond: Respond,
    strains_up_to: StrainsUpTo,
    fundamental_hz: float | None,
    *,
    even_db: float = EVEN_DB,
    bands: Mapping[str, tuple[float, float]] | None = None,
    static_at_hz: float | None = None,
) -> Figures:
    """All figures of one driven design.

    static, volume and scan.low are its static answers; scan a curve with coil force that resolves every peak and dip,
    frequencies rising over the range; respond(f) the same curve anywhere, asked once for all; strains_up_to(hz) its
    m = 0 modes, coil free (asked beyond the range only where that holds no break-up mode); even_db the total of the
    even band; bands are named bands in Hz for the smooth measures.
    """
    mode = find_break_up_mode(strains_up_to, float(scan.frequency_hz[-1]), fundamental_hz)
    facts = _Facts(static, volume, mode, fundamental_hz, even_db, {}, static_at_hz)
    coarse = Reading(scan)
    _read(coarse, facts)  # to learn where its thresholds lie
    for begin, end in (bands or {}).values():
        coarse.places.extend(np.geomspace(begin, end, _BAND_POINTS).tolist())
    return _read(coarse.finer(respond), facts._replace(bands=dict(bands or {})))


class _Facts(NamedTuple):
    """What figures rest on besides the curve."""

    static: Static
    volume: EquivalentVolume
    mode: BreakUpMode
    fundamental_hz: float | None
    even_db: float
    bands: dict[str, tuple[float, float]]
    static_at_hz: float | None


def _read(reading: Reading, facts: _Facts) -> Figures:
    """The figures as a reading has them."""
    scan, (static, volume, mode, fundamental_hz, even_db, bands, static_at_hz) = reading.scan, facts
    low = abs(float(scan.low.sum()))
    low = low if low > _NO_NET_AREA else 0.0
    values: dict[str, float | None] = dict.fromkeys(DEFINITIONS)
    reasons: dict[str, str] = {}
    notes: list[str] = []
    values |= {
        "fundamental_hz": fundamental_hz,
        "stiffness_n_per_m": static.stiffness,
        "moving_mass_kg": static.moving_mass,
        "low_area_m2": low,
        "area_per_mass_m2_per_kg": low / static.moving_mass,
        "held_volume_m3": volume.held,
        "free_volume_m3": volume.free,
    }
    if fundamental_hz is None:
        reasons["fundamental_hz"] = "nothing holds the diaphragm, or no resonance lies in the range"
    if volume.free is None:
        reasons["free_volume_m3"] = "nothing holds the diaphragm"

    departures = tuple(departure_of(reading, k) for k in driven_zones(scan.zones))
    left = [one.departure_hz for one in departures if one.departure_hz is not None]
    values["departure_hz"] = departure = min(left, default=None)
    if departure is None:
        reasons["departure_hz"] = "; ".join(one.reason for one in departures) or "no zone moves air"
    limit = departure or reading.top
    steps = steps_of(reading, limit)
    decoupling, handed_over = _of_all_steps(steps, values, reasons)

    values["break_up_mode_hz"] = mode.frequency_hz
    if mode.frequency_hz is None:
        reasons["break_up_mode_hz"] = mode.reason

    if handed_over is not None and handed_over < limit:
        size = np.abs(scan.total)
        after = reading.even(size, handed_over, limit)
        kept = np.concatenate((after[[0, -1]], size[reading.within(handed_over, limit)]))
        values["high_area_m2"] = float(np.median(after))
        values["ripple_db"] = float(decibels(kept).max() - decibels(kept).min())
        if low > LEAST_AREA * float(np.abs(scan.zone_area).sum()):
            values["area_ratio_db"] = float(np.median(decibels(after / low)))
        else:
            reasons["area_ratio_db"] = _NO_AREA

    shelves = even = shelf = evened = None
    peaks: tuple[Extreme, ...] = ()
    holes: tuple[Extreme, ...] = ()
    if not low > LEAST_AREA * float(np.abs(scan.zone_area).sum()):
        for name in DEFINITIONS:
            if values[name] is None:
                reasons.setdefault(name, _NO_AREA)
    else:
        loss = 0.0
        if fundamental_hz is not None and static.stiffness:
            loss = reading.at(fundamental_hz, scan.coil_force.imag) / static.stiffness
        evened = EvenedResponse(fundamental_hz, loss, low / static.moving_mass)
        level = evened.level(scan)
        begin = lower_bound(reading, fundamental_hz)
        first_end = min(x / 2 for x in (decoupling, None if decoupling else mode.frequency_hz, 2 * reading.top) if x)
        second = None if handed_over is None or not limit > handed_over else (handed_over, limit)
        shelves = shelves_of(reading, level, begin, first_end, second, reasons.get("handed_over_hz", ""))
        if shelves.on_plateau:
            notes.append("the response does not reach its plateau in the range: low area over moving mass stays 0 dB")
        end = min(reading.top, (mode.frequency_hz or np.inf) / BELOW_BREAK_UP)
        peaks, holes = extremes_of(reading, level, begin, end, shelves)
        even = even_band(reading, level, begin, shelves, even_db)
        shelf = shelf_band(reading, level, begin, shelves, decoupling, handed_over)
        _tell_levels(values, reasons, shelves, peaks, holes, even, shelf, end > begin)
        _peak_of_mode(reading, level, mode, shelves, values, reasons)
    for name, value in values.items():
        if value is None:
            reasons.setdefault(name, "")
    measures = {
        ", ".join((f"{measure}:{band}", *zone)): value
        for band, ends in bands.items()
        for (measure, *zone), value in smooth_measures(reading, evened, ends).items()
    }
    return Figures(
        values, reasons, steps, departures, mode, shelves, peaks, holes, even, shelf, evened, reading.top, measures,
        static_at_hz, tuple(notes),
    )  # fmt: skip


def _of_all_steps(
    steps: tuple[StepFigures, ...], values: dict[str, float | None], reasons: dict[str, str]
) -> tuple[float | None, float | None]:
    """The lowest decoupling, and where the last of all steps has handed over."""
    decoupling = min((s.decoupling_hz for s in steps if s.decoupling_hz), default=None)
    over = [s.handed_over_hz for s in steps if s.handed_over_hz is not None]
    handed_over = max(over) if steps and len(over) == len(steps) else None
    values["decoupling_hz"], values["handed_over_hz"] = decoupling, handed_over
    if decoupling is None:
        reasons["decoupling_hz"] = "; ".join(dict.fromkeys(s.decoupling_reason for s in steps)) or _NO_STEP
    if handed_over is None:
        why = "; ".join(dict.fromkeys(s.handed_over_reason for s in steps if s.handed_over_reason)) or _NO_STEP
        for name in ("handed_over_hz", "high_area_m2", "ripple_db", "area_ratio_db"):
            reasons[name] = why
    return decoupling, handed_over


_NO_STEP = "the design has no step"


def _tell_levels(
    values: dict[str, float | None],
    reasons: dict[str, str],
    shelves: Shelves,
    peaks: tuple[Extreme, ...],
    holes: tuple[Extreme, ...],
    even: Band | None,
    shelf: Band | None,
    searched: bool,
) -> None:
    values["shelf_1_db"], values["shelf_2_db"] = shelves.first, shelves.second
    values["shelf_2_octaves"] = shelves.second_octaves
    if shelves.second is None:
        reasons["shelf_2_db"] = reasons["shelf_2_octaves"] = shelves.reason
    for name, found in (("highest_peak", peaks), ("deepest_hole", holes)):
        if found:
            values[f"{name}_db"], values[f"{name}_hz"] = found[0].against_shelf_db, found[0].frequency_hz
        else:
            reasons[f"{name}_hz"] = f"no {name.split('_')[1]} of {PROMINENCE_DB:g} dB or more in the stretch searched"
            if searched:
                values[f"{name}_db"] = 0.0
            else:
                reasons[f"{name}_db"] = "the break-up mode lies too close to the fundamental for a stretch to search"
    for name, band in (("even_band", even), ("shelf_band", shelf)):
        if band is not None:
            values[f"{name}_octaves"], values[f"{name}_from_hz"] = band.octaves, band.from_hz
            values[f"{name}_to_hz"] = band.to_hz
        else:
            for ending in ("octaves", "from_hz", "to_hz"):
                reasons[f"{name}_{ending}"] = "the range ends below 1.5 times the fundamental, or nothing keeps to it"


def _peak_of_mode(
    reading: Reading,
    level: Array,
    mode: BreakUpMode,
    shelves: Shelves,
    values: dict[str, float | None],
    reasons: dict[str, str],
) -> None:
    hz = mode.frequency_hz
    near = np.zeros(0, int) if hz is None else np.flatnonzero(reading.within(hz / _NEAR_MODE, hz * _NEAR_MODE))
    if hz is None or hz >= reading.top or len(near) == 0:
        reasons["break_up_peak_db"] = "the break-up mode lies above the range"
        return
    index = int(near[np.argmax(level[near])])
    values["break_up_peak_db"] = extreme_near(reading, level, index, 1.0)[1] - shelves.louder
