"""What each figure is, and how far one value of it is from another."""

from collections.abc import Mapping
from typing import NamedTuple

from diaphragm_fem.design.meridian.zone import Role

DEFINITIONS: Mapping[str, str] = {
    "fundamental_hz": "lowest resonance in which the coil carries a fair part of the moving mass",
    "stiffness_n_per_m": "force on the coil over its deflection at rest; loaded, what resonates with the loaded moving "
    "mass at the loaded fundamental",
    "moving_mass_kg": "mass that carries the kinetic energy of the deflection at rest, per coil motion; loaded, of the "
    "motion at the loaded fundamental, with what the air in front adds in phase",
    "low_area_m2": "|S| in the limit of low frequency",
    "area_per_mass_m2_per_kg": "low area over moving mass: the plateau of the response per newton, its 0 dB",
    "held_volume_m3": "air volume as compliant as the diaphragm with the coil held; loaded, still of the diaphragm "
    "alone, at its moduli of the loaded fundamental",
    "free_volume_m3": "the same with the coil free: held + rho c^2 low area^2/stiffness, all of the diaphragm alone "
    "at rest",
    "decoupling_hz": "lowest frequency where Re q of a zone just beyond a step falls through zero",
    "handed_over_hz": "lowest frequency from which |q| of every zone beyond every step stays below 0.3 until departure",
    "departure_hz": "lowest frequency where |q/q(0)| of a driven zone leaves 3 dB for at least 1/24 octave",
    "break_up_mode_hz": "lowest m = 0 mode above the fundamental in which driven zones, former and winding hold at "
    "least half of the strain energy",
    "break_up_peak_db": "largest evened response within a sixth of an octave of the break-up mode, against the louder "
    "shelf",
    "shelf_1_db": "median evened response from 1.5 times the fundamental to half the lowest decoupling or, without "
    "one, half the break-up mode, against the plateau",
    "shelf_2_db": "median evened response from hand-over to departure, against the plateau",
    "shelf_2_octaves": "octaves from hand-over to departure, at least half an octave",
    "highest_peak_db": "highest interior peak of the evened response from 1.5 times the fundamental to the break-up "
    "mode's frequency over 1.5, against the louder shelf; 0 where none of 0.5 dB prominence stands above it",
    "highest_peak_hz": "where that peak lies",
    "deepest_hole_db": "deepest interior hole of the evened response there, against the quieter shelf; 0 where none of "
    "0.5 dB prominence lies below it",
    "deepest_hole_hz": "where that hole lies",
    "even_band_octaves": "widest band above 1.5 times the fundamental in which the evened response stays within 6 dB",
    "even_band_from_hz": "where the even band begins",
    "even_band_to_hz": "where the even band ends",
    "shelf_band_octaves": "widest band above 1.5 times the fundamental within 3 dB of shelf 1 up to decoupling, of "
    "shelf 2 from hand-over, of either between; without a shelf 2 of shelf 1",
    "shelf_band_from_hz": "where the shelf band begins",
    "shelf_band_to_hz": "where the shelf band ends",
    "ripple_db": "largest over smallest |S| from hand-over to departure",
    "high_area_m2": "median |S| from hand-over to departure",
    "area_ratio_db": "high area over low area",
}
"""Every figure's name, ending in its SI unit or dB or octaves, and its definition."""

OVER_A_BAND = ("median_level_db", "level_spread_db", "efficiency")
"""Figures of a driver over the band of its own, and as 'level_spread_db:NAME OF BAND' over one that a study names."""
BAND_TO = "level_band_to_hz"
"""Where that band ends, told once: where it swings (`ROUNDS` of a driver) neither departure nor what plays says so."""
PLAYED = ("plays_from_hz", "plays_to_hz", "plays_octaves", "heard_octaves")
"""Where a driver plays against its median level there, and the octaves in which it is heard, which move smoothly."""
BANDED = (*OVER_A_BAND, *PLAYED)
SUM_OWN = (
    "sum_highest_db", "sum_lowest_db", "sum_lowest_hz", "sum_lost_db", "sum_turned_gain_db", "overlap_octaves",
)  # fmt: skip
SUM_BANDED = tuple(f"sum_{name}" for name in BANDED if name != "efficiency")
"""Of two sections in one exit: what they send together, and the same of it as of a driver's level."""
OVER_BANDS = (*BANDED, *SUM_BANDED)

MEASURES: Mapping[str, str] = {
    "departure_db_octaves": "departure of a driven zone beyond 3 dB, clipped at 20 dB, integrated over octaves",
    "ripple_rms_db": "rms of the evened response about its own straight line in log f",
    "slope_db_per_octave": "slope of that line",
    "mean_level_db": "mean evened response, in dB against 1 m2/kg",
    "share_rms": "rms share of a zone beyond a step",
    "in_phase_share": "mean in-phase share of a zone beyond a step",
}
"""Smooth measures over a band (see `smooth_measures`), as 'ripple_rms_db:NAME OF BAND', and what each is."""

OF_ZONES: Mapping[str, Role] = {
    "decoupling_hz": Role.STEP, "handed_over_hz": Role.STEP, "departure_hz": Role.DRIVEN,
    "departure_db_octaves": Role.DRIVEN, "share_rms": Role.BEYOND, "in_phase_share": Role.BEYOND,
}  # fmt: skip
"""Of which zones figures and measures are told one by one: 'decoupling_hz:outer step', beside the headline without a
zone, and 'share_rms:NAME OF BAND, outer flank', which has none."""

EVEN_DB = 6.0


class Wanted(NamedTuple):
    """How figures are read: named bands in Hz for the smooth measures, and the total of the even band in dB."""

    bands: Mapping[str, tuple[float, float]] = {}
    even_db: float = EVEN_DB


AS_USUAL = Wanted()
_APART = 0.02  # of a figure
_BANDS_APART = 0.03  # octaves: 2 % of the frequency at an end


def third_octave(about_hz: float) -> tuple[float, float]:
    """A third of an octave about a frequency in Hz.

    >>> [round(hz) for hz in third_octave(1000.0)]
    [891, 1122]
    """
    return about_hz / 2 ** (1 / 6), about_hz * 2 ** (1 / 6)


def apart(name: str, one: float | None, other: float | None, level_db: float = 0.17) -> bool:
    """Whether a figure differs from another by more than 2 %, 0.03 octaves or, for a level, `level_db` (0.17 dB is 2 %
    of a pressure), or only one of them exists."""
    if one is None or other is None:
        return one is not other
    if _is_level(name):
        return abs(one - other) > level_db
    return abs(one - other) > (_BANDS_APART if _is_width(name) else _APART * abs(other))


def difference(name: str, one: float | None, other: float | None) -> float:
    """How far a figure is from another, relative: of an amplitude for levels in dB, against its shelf where that is
    larger; of a frequency for octaves; 1 where only one of them exists.

    >>> difference("departure_hz", 1010.0, 1000.0), difference("even_band_octaves", None, None)
    (0.01, 0.0)
    """
    if one is None or other is None:
        return 0.0 if one is other else 1.0
    if _is_level(name):
        amplitudes = 10 ** (one / 20), 10 ** (other / 20)
        return abs(amplitudes[0] - amplitudes[1]) / max(1.0, amplitudes[1])
    if _is_width(name):
        return abs(2 ** (one - other) - 1)
    return abs(one - other) / abs(other) if other else float(one != other)


def _is_level(name: str) -> bool:
    """In dB; per octave or times octaves, too."""
    return "_db" in name.partition(":")[0]


def _is_width(name: str) -> bool:
    return name.partition(":")[0].endswith("_octaves")
