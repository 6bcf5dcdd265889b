"""Figures of merit read off an area curve and the static answers.

Definitions
    zone share          q = S_zone/(rigid area of the zone): 1 rides with the coil, 0 stands still.
    decoupling          lowest frequency where Re q of the zone beyond a step falls through zero.
    handed over above   lowest frequency from which |q| of that zone stays below 0.3 until break-up; a zone that is
                        below 0.3 from the lowest frequency on hands nothing over.
    break-up            lowest frequency where the driven zone's |q| departs from 1 by more than 3 dB over at least
                        1/24 octave.
    usable band         octaves from the fundamental resonance to break-up.
    low area            |S| in the limit of low frequency; high area: median |S| from hand-over to break-up.
A figure that does not exist for a design is None, and `reasons` says why.
Source: definitions of this project; four octaves from one diaphragm and 3 dB are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.curve import Curve
from diaphragm_fem.analysis.static import Static
from diaphragm_fem.design.zone import Role, Zone

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

FIGURES = (
    "fundamental_hz",
    "stiffness_n_per_m",
    "moving_mass_kg",
    "low_area_m2",
    "high_area_m2",
    "decoupling_hz",
    "handed_over_hz",
    "break_up_hz",
    "usable_octaves",
)
QUIET_SHARE = 0.3
NO_AREA = 1e-12  # m2, a square micrometre: what rounding leaves of a part that moves no net air
LEAST_AREA = 1e-6  # of all zones' areas: below it a zone sweeps nothing but rounding
DEPARTURE_DB = 3.0
DEPARTURE_OCTAVES = 1 / 24


@dataclass(frozen=True)
class StepFigures:
    """What one decoupling step does: frequencies in Hz, None where it never happens below the top frequency."""

    name: str
    decoupling_hz: float | None
    handed_over_hz: float | None


@dataclass(frozen=True)
class Merit:
    """Figures of merit in SI units; None where one does not exist, with its reason under the same name."""

    fundamental_hz: float | None
    stiffness_n_per_m: float
    moving_mass_kg: float
    low_area_m2: float
    high_area_m2: float | None
    decoupling_hz: float | None
    handed_over_hz: float | None
    break_up_hz: float | None
    usable_octaves: float | None
    steps: tuple[StepFigures, ...]
    reasons: Mapping[str, str]

    def figures(self) -> dict[str, float | None]:
        """Flat table: name with unit -> value, the steps' own figures as 'decoupling_hz:outer step'."""
        flat: dict[str, float | None] = {name: getattr(self, name) for name in FIGURES}
        for step in self.steps:
            flat[f"decoupling_hz:{step.name}"] = step.decoupling_hz
            flat[f"handed_over_hz:{step.name}"] = step.handed_over_hz
        return flat


def figures_of_merit(static: Static, curve: Curve, fundamental_hz: float | None) -> Merit:
    """All figures of merit of one design from its static answers, its area curve and its first resonance."""
    top = float(curve.frequency_hz[-1])
    reasons: dict[str, str] = {}
    break_up = _break_up(curve, reasons)
    limit = break_up or top
    steps = tuple(_step_figures(curve, zone, limit) for zone in _steps(curve.zones))
    decoupling = min((s.decoupling_hz for s in steps if s.decoupling_hz), default=None)
    handed_over: float | None = None
    if steps and all(s.handed_over_hz for s in steps):
        handed_over = max(s.handed_over_hz for s in steps if s.handed_over_hz)
    if not steps:
        reasons |= dict.fromkeys(("decoupling_hz", "handed_over_hz", "high_area_m2"), "the design has no step")
    elif decoupling is None:
        reasons["decoupling_hz"] = f"no zone beyond a step falls through zero below {top:.0f} Hz"
    if steps and handed_over is None:
        reasons["handed_over_hz"] = reasons["high_area_m2"] = (
            f"a zone beyond a step still moves by more than {QUIET_SHARE:g} of the coil's motion up to {limit:.0f} Hz, "
            "or by less from the lowest frequency on"
        )
    high = None
    if handed_over is not None:
        high = _median_area(curve, handed_over, limit)
    octaves = None
    if fundamental_hz and break_up and break_up > fundamental_hz:
        octaves = float(np.log2(break_up / fundamental_hz))
    else:
        reasons["usable_octaves"] = reasons.get("break_up_hz", "there is no fundamental resonance below break-up")
    if fundamental_hz is None:
        reasons["fundamental_hz"] = "nothing holds the diaphragm, or no resonance lies below the top frequency"
    low = abs(float(curve.low.sum()))
    return Merit(
        fundamental_hz,
        static.stiffness,
        static.moving_mass,
        low if low > NO_AREA else 0.0,
        high,
        decoupling,
        handed_over,
        break_up,
        octaves,
        steps,
        reasons,
    )


def driven_share(curve: Curve) -> Array | None:
    """|q| (F,) of the driven zones together; of the whole front face where no zone is called driven; None where they
    sweep no area, as an upright tube does.
    """
    pick = np.array([zone.role is Role.DRIVEN for zone in curve.zones])
    if not pick.any():
        pick = np.array([zone.radiates for zone in curve.zones])
    share = _share_of(curve, pick)
    return None if share is None else np.abs(share)


def _share_of(curve: Curve, pick: NDArray[np.bool_]) -> Complex | None:
    """q (F,) of some zones together; None where they sweep no area."""
    area, whole = float(curve.zone_area[pick].sum()), float(np.abs(curve.zone_area).sum())
    if not abs(area) > LEAST_AREA * whole:
        return None
    return np.asarray(curve.zone[pick].sum(axis=0) / area)


def _steps(zones: tuple[Zone, ...]) -> list[Zone]:
    return sorted((zone for zone in zones if zone.role is Role.STEP), key=lambda zone: (zone.side, zone.step))


def _step_figures(curve: Curve, step: Zone, limit: float) -> StepFigures:
    beyond = np.array([z.role is Role.BEYOND and z.side == step.side and z.step == step.step for z in curve.zones])
    share = _share_of(curve, beyond)
    if share is None:
        return StepFigures(step.name, None, None)
    falls = np.flatnonzero((share.real[:-1] > 0) & (share.real[1:] <= 0))
    decoupling = _crossing(curve.frequency_hz, share.real, int(falls[0]), 0.0) if len(falls) else None
    return StepFigures(step.name, decoupling, _quiet_from(curve.frequency_hz, np.abs(share), limit))


def _quiet_from(frequency: Array, size: Array, limit: float) -> float | None:
    """Lowest frequency from which `size` stays below the quiet share until the limit."""
    inside = frequency <= limit
    f, x = frequency[inside], size[inside]
    loud = np.flatnonzero(x >= QUIET_SHARE)
    if len(loud) == 0 or loud[-1] == len(f) - 1:
        return None
    return _crossing(f, x, int(loud[-1]), QUIET_SHARE)


def _break_up(curve: Curve, reasons: dict[str, str]) -> float | None:
    """Lowest begin of a stretch of at least 1/24 octave outside 3 dB."""
    share = driven_share(curve)
    if share is None:
        reasons["break_up_hz"] = "the driven zone sweeps no area that could depart from the coil's"
        return None
    f, level = curve.frequency_hz, 20 * np.log10(np.maximum(share, 1e-12))
    distance = np.abs(level) - DEPARTURE_DB
    outside = distance > 0
    borders = [_crossing(f, distance, int(i), 0.0) for i in np.flatnonzero(outside[1:] != outside[:-1])]
    if outside[0]:
        borders.insert(0, float(f[0]))
    if len(borders) % 2:
        borders.append(float(f[-1]))
    for begin, end in zip(borders[::2], borders[1::2], strict=True):
        if np.log2(end / begin) >= DEPARTURE_OCTAVES:
            return begin
    reasons["break_up_hz"] = f"the driven zone rides with the coil up to {f[-1]:.0f} Hz"
    return None


def _median_area(curve: Curve, begin: float, end: float) -> float | None:
    """Median |S| between two frequencies, even over log f whatever the sampling."""
    if not end > begin:
        return None
    even = np.geomspace(begin, end, 201)
    return float(np.median(np.interp(np.log(even), np.log(curve.frequency_hz), np.abs(curve.total))))


def _crossing(frequency: Array, value: Array, index: int, level: float) -> float:
    """Frequency where `value` passes `level` between samples index and index + 1, linear in between."""
    a, b = value[index] - level, value[index + 1] - level
    share = a / (a - b) if a != b else 0.0
    return float(frequency[index] + share * (frequency[index + 1] - frequency[index]))
