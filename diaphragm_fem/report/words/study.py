"""Figures and varied quantities in the words and units of the trade, for tables and axes of studies."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.analysis.figures.definitions import SUM_BANDED
from diaphragm_fem.arrays import Array
from diaphragm_fem.report.words.words import NONE, digits, join_words, one, printed, show_hz
from diaphragm_fem.study.plan.amount import Written, amount_in_si, si_factor, split_amount

if TYPE_CHECKING:
    from diaphragm_fem.study.morning import Morning
    from diaphragm_fem.study.morning.results import Column, Results
    from diaphragm_fem.study.morning.scatter import Yield


@dataclass(frozen=True)
class Naming:
    """A figure's name in words, its unit as printed, and what one such unit is in SI."""

    words: str
    unit: str
    factor: float

    @property
    def label(self) -> str:
        return f"{self.words}, {self.unit}" if self.unit else self.words

    def shown(self, values: ArrayLike) -> Array:
        return np.asarray(values, float) / self.factor

    def text(self, value: float, count: int = 3) -> str:
        """A value in words with its unit, from 1 kHz on in kHz; "none" where the figure does not exist.

        >>> naming("break_up_mode_hz").text(25400.0)
        '25.4 kHz'
        """
        if self.unit == "Hz" and np.isfinite(value):
            return show_hz(float(value), count)
        return f"{self.bare(value, count)} {self.unit}".strip() if np.isfinite(value) else NONE

    def bare(self, value: float, count: int = 3, *, judged: float | None = None) -> str:
        """The same in the unit that stands at the head of its column; "> 20000" of what never comes as far as that."""
        if not np.isfinite(value) and judged and np.isfinite(judged):
            return f"> {self.number(float(judged) / self.factor, count)}"
        return self.number(float(value) / self.factor, count) if np.isfinite(value) else NONE

    def given(self, value: float) -> str:
        """A value that somebody gave, with all its digits."""
        shown, unit = float(value) / self.factor, self.unit
        shown, unit = (shown / 1e3, "kHz") if unit == "Hz" and shown >= 1e3 else (shown, unit)
        return f"{shown:.6g} {unit}".strip().replace("-", "−")

    def number(self, shown: float, count: int) -> str:
        """A value in the unit as printed; a level of a hundred decibels or more keeps its tenths."""
        return digits(shown, max(count, 4) if self.unit == "dB" and abs(shown) >= 100 else count)


_WORDS = {
    "fundamental_hz": "fundamental resonance", "stiffness_n_per_m": "stiffness at the coil",
    "area_per_mass_m2_per_kg": "low area over moving mass", "held_volume_m3": "equivalent air volume, coil held",
    "free_volume_m3": "equivalent air volume, coil free", "handed_over_hz": "handed over above",
    "departure_hz": "3 dB departure", "break_up_mode_hz": "break-up mode",
    "break_up_peak_db": "peak of the break-up mode", "shelf_2_octaves": "width of shelf 2",
    "highest_peak_hz": "highest peak at", "deepest_hole_hz": "deepest hole at", "ripple_db": "ripple after hand-over",
    "area_ratio_db": "high over low area", "departure_db_octaves": "departure integral", "ripple_rms_db": "rms ripple",
    "slope_db_per_octave": "slope", "level_spread_db": "spread of the level",
    "shared_level_db": "median level, shared band", "shared_spread_db": "spread of the level, shared band",
    "shared_null_db": "worst null, depth, shared band", "shared_efficiency": "efficiency, shared band",
    "worst_null_db": "worst null, depth", "plays_to_hz": "plays up to", "heard_octaves": "width heard",
    "level_band_to_hz": "median level up to", "worst_null_hz": "worst null, frequency",
    "excursion_m": "largest excursion",
    "beam_narrows_hz": "beam narrows to 90 degrees", "share_rms": "rms share", "in_phase_share": "mean in-phase share",
    "stiffness_stroke_m": "stroke to a change of stiffness by", "area_stroke_m": "stroke to a change of area by",
    "force_factor_stroke_m": "stroke to a change of force factor by", "total_q": "total quality factor",
    "reached_stroke_m": "stroke that was reached", "fibre_strain": "largest fibre strain",
    "allowable_used": "largest share of an allowable", "second_harmonic": "second harmonic at",
    "third_harmonic": "third harmonic at", "sum_highest_db": "highest level of both sections",
    "sum_lowest_db": "lowest level of both about the crossover", "sum_lost_db": "cancelled about the crossover",
    "sum_lowest_hz": "lowest level of both about the crossover, frequency",
    "sum_turned_gain_db": "less cancelled with the other polarity", "overlap_octaves": "overlap of both sections",
}  # fmt: skip
"""What figures are called whose names do not say it themselves."""
_UNITS = {
    "area_per_mass_m2_per_kg": ("cm²/g", 0.1), "departure_db_octaves": ("dB octaves", 1.0),
    "_db_per_octave": ("dB/octave", 1.0), "_hz": ("Hz", 1.0), "_m2": ("cm²", 1e-4), "_kg": ("g", 1e-3),
    "_n_per_m": ("N/mm", 1e3), "_m3": ("cm³", 1e-6), "_db": ("dB", 1.0), "_octaves": ("octaves", 1.0),
    "_stroke_m": ("mm", 1e-3), "excursion_m": ("mm", 1e-3), "efficiency": ("%", 1e-2), "fibre_strain": ("%", 1e-2),
    "allowable_used": ("%", 1e-2), "_harmonic": ("%", 1e-2),
}  # fmt: skip
"""Units by how names end, the first that fits: as printed, and what one is in SI."""


def naming(figure: str) -> Naming:
    """How a figure is called: "decoupling_hz:outer step" -> "decoupling (outer step)", Hz.

    >>> naming("loaded_area_per_mass_m2_per_kg").label
    'loaded low area over moving mass, cm²/g'
    """
    stem, _, part = figure.partition(":")
    if (twin := figure.removeprefix("loaded_")) != figure:
        return replace(naming(twin), words=f"loaded {naming(twin).words}")
    if stem in SUM_BANDED:
        return replace(naming(twin := figure.removeprefix("sum_")), words=f"{naming(twin).words}, both sections")
    ending = next((ending for ending in _UNITS if stem.endswith(ending)), "")
    words = _WORDS.get(stem) or (stem if stem == ending else stem.removesuffix(ending)).replace("_", " ")
    if part:
        words = f"{words} {part}" if words.endswith((" by", " at")) else f"{words} ({part})"
    return Naming(words, *_UNITS.get(ending, ("", 1.0)))


def column_naming(column: Column) -> Naming:
    """How a varied quantity is called: its own name and the unit of the study file."""
    words = column.name.replace("_", " ")
    unit = column.unit.replace("um", "µm").replace("m2", "m²").replace("m3", "m³")
    return Naming(words, unit, si_factor(column.unit) or 1.0)


def aim_words(aim: str | float, figure: str) -> str:
    if aim in ("high", "low"):
        return str(aim)
    return f"near {naming(figure).given(float(aim))}"


def limit_words(figure: str, limits: tuple[float | None, float | None]) -> str:
    """ "fundamental resonance below 600 Hz"."""
    name, (above, below) = naming(figure), limits
    parts = [f"{word} {name.given(value)}" for word, value in (("above", above), ("below", below)) if value is not None]
    return f"{name.words} {' and '.join(parts)}"


def yield_words(found: Yield, morning: Morning) -> str:
    """The limit that a yield is of: "fundamental resonance below 600 Hz", "all limits"."""
    return limit_words(found.figure, morning.results.study.limits[found.figure]) if found.figure else "all limits"


def inputs_words(results: Results) -> str:
    """Why inputs do not vary on their own: which follow another, and how many cases were ruled out; "" where all do."""
    from diaphragm_fem.study.run.store import DISCARDED, FAILED, STOPPED

    told = [
        f"{variable.name.replace('_', ' ')} is {variable.numbers[0]:g} × {variable.of.replace('_', ' ')}"
        for variable in results.study.recipe.variables
        if variable.of is not None and variable.count == 1 and variable.source == "list"
    ]
    text = f"Inputs that follow: {', '.join(told)}. " if told else ""
    if results.has_gaps:
        ruled_out, unsolved = results.counts.get(DISCARDED, 0), sum(results.counts.get(s, 0) for s in (FAILED, STOPPED))
        missing = [f"{one(ruled_out, 'case')} ruled out by [keep]"] * bool(ruled_out)
        missing += [f"{one(unsolved, 'case')} not solved"] * bool(unsolved)
        text += f"{join_words(missing)}: the rest may not vary independently."
    return text.strip()


def amount_text(column: Column, amount: Written | None) -> str:
    """An amount of a design as printed in the column of what varies: in its unit, or with its own where that has none,
    as that of a ratio."""
    size, parts = amount_in_si(amount), split_amount(amount)
    if column.names or size is None or parts is None:
        return NONE if amount is None else str(amount)
    if column.unit:
        return printed(f"{size / column_naming(column).factor:.4g}")
    return printed(f"{parts[0]:.4g} {parts[1]}".strip())
