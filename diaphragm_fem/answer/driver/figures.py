"""Figures of a driver with everything on, beside those of the diaphragm in vacuum.

Definitions
    band                  from the loaded fundamental to the loaded departure, or to the top frequency without one; on
                          to where it plays if that lies higher and the median over so much leaves it there.
    median level          of the level at the exit, or in a baffle on the axis at its distance, over the band, even over
                          log f, at the rated voltage.
    spread                from the tenth to the ninetieth percentile of the level in the band.
    plays                 where the level, smoothed to a third of an octave, stays within 6 dB below that median: the
                          stretch that holds the band's middle, which may go on beyond the band. A hole that falls
                          through the 6 dB throws an end by octaves: what moves smoothly are the octaves heard.
    octaves heard         of the whole range, smoothed so, each by how far it is heard (`octaves_heard`).
    worst null            the minimum of the level above the loaded fundamental that lies deepest below the median
                          level, by PROMINENCE_DB or more; what makes it is the smallest of these ratios there:
                          |sum| over sum of sizes of the slots' parts (slots against each other) and of the zones'
                          volumes (zones against each other), the pressure at the slots over that in the gap (a
                          node of the gap at the slots), and the impedance of a horn or a table over an endless tube's;
                          in a baffle of the zones' ratio and of the far pressure on the axis over its mean over the
                          half space. It often lies above the band, where the level has fallen anyhow: the worst within
                          the band is kept beside it.
    efficiency            power through the exit, or radiated in front of a baffle, over power taken at the terminals,
                          median in the band.
    beam narrows          lowest frequency at which the level 45 degrees off the axis is 6 dB below that on it.
    directivity index     in a baffle, against the half space, median in the band.
    excursion             largest of coil and zones at the rated voltage (peak), from the loaded fundamental on.
    total quality factor  Q_ts of the loaded small-signal parameters, the motor's braking in it.
    equivalent air volume air as soft as the diaphragm with its coil held: kappa times its compliance.
A figure that does not exist is None, and `reasons` says why.
Source: definitions of this project; the equivalent air volume after Small, J. Audio Eng. Soc. 20 (1972) 383 (from
memory).
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.curve.sampling import peak, vertex
from diaphragm_fem.analysis.figures.definitions import (
    BAND_TO,
    BANDED,
    DEFINITIONS,
    OVER_A_BAND,
    PLAYED,
    SUM_BANDED,
    SUM_OWN,
)
from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.analysis.figures.stretches import PROMINENCE_DB
from diaphragm_fem.answer.driver.curve import DriverCurve
from diaphragm_fem.answer.driver.loaded import Loaded
from diaphragm_fem.answer.driver.radiated import BEAM_DB, Radiated
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.driver.driver import TABLES
from diaphragm_fem.load.motor import SmallSignal, small_signal
from diaphragm_fem.load.two_sections import octaves_heard, plays, smoothed
from diaphragm_fem.quantiles import quantiles_over

BESIDE_A_LEVEL = ("level_spread_db", BAND_TO, *PLAYED, "worst_null_db", "worst_null_hz", "efficiency")
"""Figures that are absent for the reason for which the level is."""
OWN = ("median_level_db", *BESIDE_A_LEVEL, "excursion_m", "total_q")
SHARED = {
    "shared_level_db": "median_level_db", "shared_spread_db": "level_spread_db", "shared_null_db": "worst_null_db",
    "shared_efficiency": "efficiency",
}  # fmt: skip
"""What drivers side by side have over the band that all of them have, and of which figure it is; all stand in place of
each one's own but the null, beside the worst of all, which may lie above any band."""
IN_BAFFLE = ("beam_narrows_hz", "directivity_index_db")
OF_TWO = (*SUM_OWN, *SUM_BANDED)
ASIDE = 45  # degrees off the axis
ROUNDS = 4  # even: who swings between the departure and another end is left at the departure
_NO_BAND = "there is no band from a loaded fundamental to a loaded departure"


def driver_figure_names(data: Mapping[str, Any]) -> tuple[str, ...]:
    """Names of the figures that a design file's data gives beside those in vacuum; none without a driver."""
    if not any(table in data for table in TABLES):
        return ()
    front = data.get("front")
    baffle = IN_BAFFLE if isinstance(front, Mapping) and front.get("kind") == "baffle" else ()
    return (*(f"loaded_{name}" for name in DEFINITIONS), *OWN, *baffle, *(OF_TWO if "second_section" in data else ()))


@dataclass(frozen=True)
class Null:
    """A minimum of the level: frequency in Hz, depth in dB below the median level, and what makes it."""

    frequency_hz: float
    depth_db: float
    cause: str


@dataclass(frozen=True)
class DriverFigures:
    """SI units, levels in dB; loaded: the figures of merit with everything on; played: the figures PLAYED; banded:
    those of the level over named bands, as 'level_spread_db:NAME OF BAND'; summed: those of two sections (`summed`)."""

    loaded: Figures
    held_volume_m3: float
    band_hz: tuple[float, float] | None
    median_level_db: float | None
    level_spread_db: float | None
    played: Mapping[str, float | None]
    null: Null | None
    null_in_band: Null | None
    efficiency: float | None
    excursion_m: float | None
    excursion_of: str
    excursion_hz: float | None
    vacuum_signal: SmallSignal | None
    loaded_signal: SmallSignal | None
    reasons: Mapping[str, str]
    baffled: Mapping[str, float | None] = field(default_factory=dict)
    banded: Mapping[str, float | None] = field(default_factory=dict)
    summed: Mapping[str, float | None] = field(default_factory=dict)

    @property
    def plays_hz(self) -> tuple[float, float] | None:
        """From where to where it plays, in Hz."""
        low, high = (self.played[name] for name in PLAYED[:2])
        return None if low is None or high is None else (low, high)

    def reason(self, name: str) -> str:
        """Why a figure is None, "" where it is not."""
        stem = name.removeprefix("loaded_")
        return self.loaded.reason(stem) if stem != name else self.reasons.get(name, "")

    def at_least(self, name: str) -> bool:
        """Whether a figure is the width of a band that touches the upper end of the range, and may be larger."""
        if name.endswith("plays_octaves"):
            end = {**self.played, **self.summed}.get(name.replace("_octaves", "_to_hz"))
            return end is not None and end >= self.loaded.top_hz
        stem = name.removeprefix("loaded_")
        return stem != name and self.loaded.at_least(stem)

    @property
    def never(self) -> dict[str, float]:
        """What does not come, by what it is judged: see `Figures.never`. No null is one of 0 dB."""
        found = {f"loaded_{name}": hz for name, hz in self.loaded.never.items()}
        if self.median_level_db is not None and self.null is None:
            found["worst_null_db"] = 0.0
        if self.baffled and self.baffled["beam_narrows_hz"] is None:
            found["beam_narrows_hz"] = self.loaded.top_hz
        return found

    def figures(self) -> dict[str, float | None]:
        """Flat table, the loaded figures of merit as 'loaded_' and their name."""
        flat: dict[str, float | None] = {f"loaded_{name}": value for name, value in self.loaded.table().items()}
        null = (None, None) if self.null is None else (self.null.depth_db, self.null.frequency_hz)
        band_to = None if self.median_level_db is None or self.band_hz is None else self.band_hz[1]
        quality = None if self.loaded_signal is None else self.loaded_signal.Q_ts
        level = (self.median_level_db, self.level_spread_db, band_to)
        own = (*level, *(self.played[name] for name in PLAYED), *null, self.efficiency, self.excursion_m, quality)
        return flat | dict(zip(OWN, own, strict=True)) | dict(self.baffled) | dict(self.banded) | dict(self.summed)


def driver_figures(
    found: Loaded, curve: DriverCurve, bands: Mapping[str, tuple[float, float]] | None = None
) -> DriverFigures:
    """All figures of a loaded driver, from its curve; those of its level also over named bands in Hz."""
    loaded, reasons = found.figures(curve.area), {}
    top = float(curve.frequency_hz[-1])
    band = None if loaded.fundamental_hz is None else (loaded.fundamental_hz, loaded.departure_hz or top)
    if band is not None and band[1] <= band[0]:
        band = None
    if band is None:
        reasons["median_level_db"] = _NO_BAND
    level = curve.level_db
    if level is None:
        nowhere = found.around.plug is None and not curve.radiated
        reasons["median_level_db"] = "there is no exit" if nowhere else "there is no motor"
    if band is not None and level is not None:
        band = _on_to_where_it_plays(curve.frequency_hz, level, band)
    over = dict.fromkeys(BANDED) if band is None else levels_over(curve, band)
    median, spread, efficiency = (over[name] for name in OVER_A_BAND)
    null = null_in_band = None
    if level is not None and band is not None and median is not None:
        exit = found.around.driver.exit
        ended = None if exit is None or exit.end == "matched" else found.around.exit_over_tube
        null, null_in_band = (_worst_null(curve, level, median, (band[0], end), ended) for end in (top, band[1]))
    if "median_level_db" in reasons:
        reasons |= dict.fromkeys(BESIDE_A_LEVEL, reasons["median_level_db"])
    if median is not None and null is None:
        shallow = f"the level has no minimum {PROMINENCE_DB:g} dB or more below its median"
        reasons["worst_null_db"] = reasons["worst_null_hz"] = shallow
    excursion, of, at = _excursion(curve, loaded.fundamental_hz or 0.0)
    signals = _signals(found, loaded)
    if signals[1] is None:
        reasons["total_q"] = (
            "there is no motor" if found.around.driver.motor is None else loaded.reason("fundamental_hz")
        )
    baffled, why = _in_baffle(curve, band)
    reasons |= why
    return DriverFigures(
        loaded, found.held_volume, band, median, spread, {name: over[name] for name in PLAYED}, null, null_in_band,
        efficiency, excursion, of, at, *signals,
        {**{f"loaded_{name}": why for name, why in loaded.reasons.items()}, **reasons}, baffled,
        {f"{figure}:{name}": value
         for name, ends in (bands or {}).items() for figure, value in levels_over(curve, ends).items()},
    )  # fmt: skip


def _on_to_where_it_plays(f: Array, level: Array, band: tuple[float, float]) -> tuple[float, float]:
    """A band in Hz that ends where a level (F,) in dB plays to by its median over that same band, or where it ended if
    that lies higher, as it is after ROUNDS of both: of 2000 made-up levels one in a hundred moved by more than 0.02
    octaves after that, three of them to and fro by one to two octaves."""
    even, (low, end) = smoothed(f, level), band
    for _ in range(ROUNDS):
        median, _ = level_over(f, level, (low, end))
        end = max(band[1], plays(f, even, median, (low, end))[1])
    return low, end


class Heard(NamedTuple):
    """What figures over a band are read from: a curve's frequencies (F,) in Hz, its level (F,) in dB and its efficiency
    (F,). The curve itself holds the air before a face in a baffle."""

    frequency_hz: Array
    level_db: Array | None
    efficiency: Array | None


def heard_of(curve: DriverCurve) -> Heard:
    return Heard(curve.frequency_hz, curve.level_db, curve.efficiency)


def levels_over(curve: DriverCurve | Heard, band: tuple[float, float]) -> dict[str, float | None]:
    """The figures BANDED of a curve over a band in Hz, each None without a level."""
    if curve.level_db is None:
        return dict.fromkeys(BANDED)
    f, efficiency = curve.frequency_hz, curve.efficiency
    median, spread = level_over(f, curve.level_db, band)
    share = None if efficiency is None else quantiles_over(f, efficiency, band, (0.5,))[0]
    even = smoothed(f, curve.level_db)
    low, high = plays(f, even, median, band)
    heard = octaves_heard(f, even, median)
    return dict(zip(BANDED, (median, spread, share, low, high, float(np.log2(high / low)), heard), strict=True))


def level_over(f: Array, level: Array, band: tuple[float, float]) -> tuple[float, float]:
    """Median of a level (F,) in dB over a band in Hz, even over log f, and its spread."""
    quiet, median, loud = quantiles_over(f, level, band, (0.1, 0.5, 0.9))
    return median, loud - quiet


def _in_baffle(curve: DriverCurve, band: tuple[float, float] | None) -> tuple[dict[str, float | None], dict[str, str]]:
    """Figures of the beam of a face in a baffle, and why one is None; nothing for other fronts."""
    if not curve.radiated:
        return {}, {}
    front = curve.radiated[0]
    figures: dict[str, float | None] = dict.fromkeys(IN_BAFFLE)
    reasons: dict[str, str] = {}
    figures["beam_narrows_hz"] = narrow = _narrow_from(front)
    if narrow is None:
        reasons["beam_narrows_hz"] = f"the beam stays wider than {2 * ASIDE} degrees"
    if band is None:
        reasons["directivity_index_db"] = _NO_BAND
    else:
        index = quantiles_over(front.frequency_hz, front.directivity_index_db, band, (0.5,))
        figures["directivity_index_db"] = index[0]
    return figures, reasons


def _narrow_from(front: Radiated) -> float | None:
    """Lowest frequency in Hz at which the far level aside falls 6 dB below that on the axis, straight over log f."""
    down = front.directivity_db[:, ASIDE] + BEAM_DB
    falls = np.flatnonzero(down <= 0)
    if not len(falls) or falls[0] == 0:
        return float(front.frequency_hz[0]) if len(falls) else None
    k = int(falls[0])
    share = down[k - 1] / (down[k - 1] - down[k])
    low, high = np.log(front.frequency_hz[k - 1 : k + 1])
    return float(np.exp(low + share * (high - low)))


def null_over(f: Array, level: Array, band: tuple[float, float]) -> float:
    """Depth in dB of the worst null of a level (F,) in dB within a band in Hz; one of 0 dB is none."""
    median, _ = level_over(f, level, band)
    null = _deepest_null(f, level, median, band)
    return 0.0 if null is None else median - float(level[null])


def nulls_hz(curve: DriverCurve, figures: DriverFigures) -> tuple[float, ...]:
    """Frequencies of all minima of the level among which the worst null is chosen."""
    f, level = curve.frequency_hz, curve.level_db
    if level is None or figures.band_hz is None or figures.median_level_db is None:
        return ()
    places = _nulls(f, level, figures.median_level_db, (figures.band_hz[0], float(f[-1])))
    return tuple(_null_hz(f, level, int(k)) for k in places)


def _null_hz(f: Array, level: Array, k: int) -> float:
    """Where in Hz a level (F,) in dB is lowest about its minimum k: by the parabola of its power over log f through
    three points. The minimum itself stands up to 0.4 % beside that, for a shallow one is known without more points."""
    about = slice(k - 1, k + 2)
    found = vertex(np.log(f[about]), 10 ** (level[about] / 10))
    return float(f[k] if found is None else np.exp(found[0]))


def _nulls(f: Array, level: Array, median: float, band: tuple[float, float]) -> NDArray[np.intp]:
    """Places of the minima of a level (F,) in dB within a band in Hz, of those that lie well below the median."""
    inside = np.flatnonzero((level[1:-1] < level[:-2]) & (level[1:-1] <= level[2:])) + 1
    return inside[(f[inside] >= band[0]) & (f[inside] <= band[1]) & (level[inside] <= median - PROMINENCE_DB)]


def _deepest_null(f: Array, level: Array, median: float, band: tuple[float, float]) -> int | None:
    """Place of the deepest of them."""
    inside = _nulls(f, level, median, band)
    return int(inside[np.argmin(level[inside])]) if len(inside) else None


def _worst_null(
    curve: DriverCurve, level: Array, median: float, band: tuple[float, float],
    ended: Callable[[Array], Array] | None = None,
) -> Null | None:  # fmt: skip
    """The deepest null of a level (F,) in dB and what makes it: what leaves half or less of what is there, the least of
    them. ended: of an exit that a horn or a table ends, what its impedance is over an endless tube's."""
    k = _deepest_null(curve.frequency_hz, level, median, band)
    if k is None:
        return None
    zones = curve.area.zone[:, k]
    ratios = {"the zones work against each other": abs(zones.sum()) / np.abs(zones).sum()}
    shared = "zones, gap and slots"
    if curve.radiated:
        shared = "zones and the path to the axis"
        aside = 10 ** (curve.radiated[0].directivity_index_db[k] / 20)
        ratios["the sound leaves sideways: parts of the face cancel on the axis"] = float(aside)
    else:
        assert curve.slot_pressure is not None and curve.slot_share_of_gap is not None
        slots = curve.slot_pressure[:, k]
        ratios["a node of the gap's pressure lies at the slots"] = float(curve.slot_share_of_gap[k])
        if len(slots) > 1:
            ratios["the slots work against each other at the exit"] = abs(slots.sum()) / np.abs(slots).sum()
        if ended is not None:
            shared = "zones, gap, slots and the exit's end"
            ratios["what ends the exit takes little pressure there"] = float(ended(curve.frequency_hz[k : k + 1])[0])
    cause = min(ratios, key=lambda name: ratios[name])
    if ratios[cause] > 0.5:
        cause = f"{shared} each take a part"
    return Null(_null_hz(curve.frequency_hz, level, k), median - float(level[k]), cause)


def _excursion(curve: DriverCurve, from_hz: float) -> tuple[float | None, str, float | None]:
    """Largest peak excursion in m at the rated voltage, of what, at which frequency."""
    if curve.excursion is None or curve.zone_excursion is None:
        return None, "", None
    names = ["the coil", *(f"the {zone.name}" for zone in curve.area.zones)]
    size = np.sqrt(2) * curve.voltage * np.abs(np.vstack((curve.excursion, curve.zone_excursion)))
    frequency, size = curve.frequency_hz, np.nan_to_num(size)
    begin = max(from_hz, float(frequency[0]))  # itself a point, so that the figure does not jump from one to the next
    first = [np.interp(begin, frequency, values) for values in size]
    size = np.column_stack((first, size[:, frequency > begin]))
    row, column = np.unravel_index(int(np.argmax(size)), size.shape)
    largest, at = peak(np.append(begin, frequency[frequency > begin]), size[row], int(column))
    return largest, names[row], at


def _signals(found: Loaded, loaded: Figures) -> tuple[SmallSignal | None, SmallSignal | None]:
    """Small-signal parameters in vacuum and with everything on; None where there is no motor or fundamental."""
    motor, air = found.around.driver.motor, found.around.still
    if motor is None:
        return None, None
    signals: list[SmallSignal | None] = []
    vacuum = found.solution
    for reduced, static, stiffness, fundamental in (
        (vacuum.reduced, vacuum.static, vacuum.static.stiffness, vacuum.fundamental_hz),
        (found.reduced, found.static, loaded.table()["stiffness_n_per_m"], loaded.fundamental_hz),
    ):
        if fundamental is None or not stiffness:
            signals.append(None)
            continue
        omega = 2 * np.pi * fundamental
        lossy = float(reduced.curve(np.array([fundamental])).coil_force[0].imag) / omega
        mass, low = stiffness / omega**2, abs(float(static.low.sum()))
        signals.append(small_signal(motor, mass, 1 / stiffness, lossy, low, air.density, air.sound_speed))
    return signals[0], signals[1]
