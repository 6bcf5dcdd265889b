"""Figures and varied quantities in the words and units of the trade, for tables and axes of studies."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array
from diaphragm_fem.report.words.words import NONE, digits, one, show_hz, show_micro
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


# what the endings below do not tell
_KNOWN = {
    "fundamental_hz": Naming("fundamental resonance", "Hz", 1.0),
    "stiffness_n_per_m": Naming("stiffness at the coil", "N/mm", 1e3),
    "area_per_mass_m2_per_kg": Naming("low area over moving mass", "cm²/g", 0.1),
    "held_volume_m3": Naming("equivalent air volume, coil held", "cm³", 1e-6),
    "free_volume_m3": Naming("equivalent air volume, coil free", "cm³", 1e-6),
    "handed_over_hz": Naming("handed over above", "Hz", 1.0),
    "departure_hz": Naming("3 dB departure", "Hz", 1.0),
    "break_up_mode_hz": Naming("break-up mode", "Hz", 1.0),
    "break_up_peak_db": Naming("peak of the break-up mode", "dB", 1.0),
    "shelf_2_octaves": Naming("width of shelf 2", "octaves", 1.0),
    "highest_peak_hz": Naming("highest peak at", "Hz", 1.0),
    "deepest_hole_hz": Naming("deepest hole at", "Hz", 1.0),
    "ripple_db": Naming("ripple after hand-over", "dB", 1.0),
    "area_ratio_db": Naming("high over low area", "dB", 1.0),
    "departure_db_octaves": Naming("departure integral", "dB octaves", 1.0),
    "ripple_rms_db": Naming("rms ripple", "dB", 1.0),
    "slope_db_per_octave": Naming("slope", "dB/octave", 1.0),
    "level_spread_db": Naming("spread of the level", "dB", 1.0),
    "shared_level_db": Naming("median level, shared band", "dB", 1.0),
    "shared_spread_db": Naming("spread of the level, shared band", "dB", 1.0),
    "shared_null_db": Naming("worst null, depth, shared band", "dB", 1.0),
    "worst_null_db": Naming("worst null, depth", "dB", 1.0),
    "worst_null_hz": Naming("worst null, frequency", "Hz", 1.0),
    "efficiency": Naming("efficiency", "%", 1e-2),
    "excursion_m": Naming("largest excursion", "mm", 1e-3),
    "beam_narrows_hz": Naming("beam narrows to 90 degrees", "Hz", 1.0),
    "share_rms": Naming("rms share", "", 1.0),
    "in_phase_share": Naming("mean in-phase share", "", 1.0),
    "stiffness_stroke_m": Naming("stroke to a change of stiffness by", "mm", 1e-3),
    "area_stroke_m": Naming("stroke to a change of area by", "mm", 1e-3),
    "reached_stroke_m": Naming("stroke that was reached", "mm", 1e-3),
    "fibre_strain": Naming("largest fibre strain", "%", 1e-2),
    "allowable_used": Naming("largest share of an allowable", "%", 1e-2),
    "second_harmonic": Naming("second harmonic at", "%", 1e-2),
    "third_harmonic": Naming("third harmonic at", "%", 1e-2),
}
_UNITS = {
    "_hz": ("Hz", 1.0), "_m2": ("cm²", 1e-4), "_kg": ("g", 1e-3), "_n_per_m": ("N/mm", 1e3), "_m3": ("cm³", 1e-6),
    "_db": ("dB", 1.0), "_octaves": ("octaves", 1.0),
}  # fmt: skip


def naming(figure: str) -> Naming:
    """How a figure is called: "decoupling_hz:outer step" -> "decoupling (outer step)", Hz.

    >>> naming("loaded_area_per_mass_m2_per_kg").label
    'loaded low area over moving mass, cm²/g'
    """
    stem, _, part = figure.partition(":")
    if (twin := figure.removeprefix("loaded_")) != figure:
        return replace(naming(twin), words=f"loaded {naming(twin).words}")
    known = _KNOWN.get(stem)
    if known is None:
        ending = next((ending for ending in _UNITS if stem.endswith(ending)), "")
        unit, factor = _UNITS.get(ending, ("", 1.0))
        known = Naming(stem.removesuffix(ending).replace("_", " "), unit, factor)
    if not part:
        return known
    joined = f"{known.words} {part}" if known.words.endswith((" by", " at")) else f"{known.words} ({part})"
    return replace(known, words=joined)


def column_naming(column: Column) -> Naming:
    """How a varied quantity is called: its own name and the unit of the study file."""
    words = column.name.replace("_", " ")
    return Naming(words, column.unit.replace("um", "µm"), si_factor(column.unit) or 1.0)


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
    from diaphragm_fem.study.run.store import DISCARDED

    told = [
        f"{variable.name.replace('_', ' ')} is {variable.numbers[0]:g} × {variable.of.replace('_', ' ')}"
        for variable in results.study.recipe.variables
        if variable.of is not None and variable.count == 1 and variable.source == "list"
    ]
    text = f"Inputs that follow: {', '.join(told)}. " if told else ""
    if ruled_out := results.counts.get(DISCARDED, 0):
        text += f"{one(ruled_out, 'case')} ruled out by [keep]: what is left does not vary independently."
    return text.strip()


def amount_text(column: Column, amount: Written | None) -> str:
    """An amount of a design as printed in the column of what varies: in its unit, or with its own where that has none,
    as that of a ratio."""
    size, parts = amount_in_si(amount), split_amount(amount)
    if column.names or size is None or parts is None:
        return NONE if amount is None else str(amount)
    if column.unit:
        return f"{size / column_naming(column).factor:.4g}"
    return show_micro(f"{parts[0]:.4g} {parts[1]}".strip())
