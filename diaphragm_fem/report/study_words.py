"""Figures of merit and varied quantities in the words and units of the trade, for tables and axes of studies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from diaphragm_fem.report.words import NONE, digits
from diaphragm_fem.study.morning.results import Column
from diaphragm_fem.study.plan.amount import si_factor


@dataclass(frozen=True)
class Naming:
    """A figure's name in words, its unit as printed, and what one such unit is in SI."""

    words: str
    unit: str
    factor: float

    @property
    def label(self) -> str:
        return f"{self.words}, {self.unit}" if self.unit else self.words

    def shown(self, values: ArrayLike) -> NDArray[np.float64]:
        return np.asarray(values, float) / self.factor

    def text(self, value: float, count: int = 4) -> str:
        """A value in words with its unit; "none" where the figure does not exist."""
        if not np.isfinite(value):
            return NONE
        return f"{digits(float(value) / self.factor, count)} {self.unit}".strip()


_KNOWN = {
    "fundamental_hz": Naming("fundamental resonance", "Hz", 1.0),
    "stiffness_n_per_m": Naming("stiffness at the coil", "N/mm", 1e3),
    "moving_mass_kg": Naming("moving mass", "g", 1e-3),
    "low_area_m2": Naming("low area", "cm²", 1e-4),
    "high_area_m2": Naming("high area", "cm²", 1e-4),
    "decoupling_hz": Naming("decoupling frequency", "Hz", 1.0),
    "handed_over_hz": Naming("handed over above", "Hz", 1.0),
    "break_up_hz": Naming("break-up frequency", "Hz", 1.0),
    "usable_octaves": Naming("usable band", "octaves", 1.0),
    "loaded_usable_octaves": Naming("loaded usable band", "octaves", 1.0),
    "held_volume_m3": Naming("equivalent volume, coil held", "cm³", 1e-6),
    "median_level_db": Naming("median level at the exit", "dB", 1.0),
    "level_spread_db": Naming("spread of the level", "dB", 1.0),
    "worst_null_db": Naming("worst null, depth", "dB", 1.0),
    "worst_null_hz": Naming("worst null, frequency", "Hz", 1.0),
    "efficiency": Naming("efficiency", "%", 1e-2),
    "excursion_m": Naming("largest excursion", "mm", 1e-3),
    "area_per_mass_m2_per_kg": Naming("low area over moving mass", "cm²/g", 0.1),
}
_UNITS = {
    "_hz": ("Hz", 1.0),
    "_m2": ("cm²", 1e-4),
    "_kg": ("g", 1e-3),
    "_n_per_m": ("N/mm", 1e3),
    "_m3": ("cm³", 1e-6),
    "_db": ("dB", 1.0),
}


def naming(figure: str) -> Naming:
    """How a figure is called: "decoupling_hz:outer step" -> "decoupling frequency (outer step)", Hz."""
    stem, _, part = figure.partition(":")
    known = _KNOWN.get(stem)
    if known is None:
        ending = next((ending for ending in _UNITS if stem.endswith(ending)), "")
        unit, factor = _UNITS.get(ending, ("", 1.0))
        known = Naming(stem.removesuffix(ending).replace("_", " "), unit, factor)
    return Naming(f"{known.words} ({part})", known.unit, known.factor) if part else known


def column_naming(column: Column) -> Naming:
    """How a varied quantity is called: its own name and the unit of the study file."""
    words = column.name.replace("_", " ")
    return Naming(words, column.unit.replace("um", "µm"), si_factor(column.unit) or 1.0)


def column_text(column: Column, index: int) -> str:
    """One value of a varied quantity as printed."""
    value = column.values[index]
    if column.names:
        return column.names[int(value)]
    name = column_naming(column)
    return f"{value / name.factor:.4g} {name.unit}".strip()


def aim_words(aim: str | float, figure: str) -> str:
    if aim in ("high", "low"):
        return str(aim)
    return f"near {naming(figure).text(float(aim))}"


def limit_words(figure: str, limits: tuple[float | None, float | None]) -> str:
    """ "fundamental resonance below 600 Hz"."""
    name, (above, below) = naming(figure), limits
    parts = [f"{word} {name.text(value)}" for word, value in (("above", above), ("below", below)) if value is not None]
    return f"{name.words} {' and '.join(parts)}"
