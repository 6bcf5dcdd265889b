"""Differences between designs in the words and units of the trade."""

from __future__ import annotations

import re
from math import log10

from diaphragm_fem.answer.comparison import Comparison, FigureRow


def design_names(comparison: Comparison) -> list[str]:
    """Names as printed: "thickness 60 µm"."""
    return [show_micro(name) for name in comparison.names]


def show_micro(words: str) -> str:
    """Micrometres as printed; files may write um."""
    return re.sub(r"(?<=\d )um\b", "µm", words)


def show_difference(row: FigureRow, design: int) -> str:
    """ "+5.9 %"; octaves in octaves, levels in dB, area over mass in dB too (what it does to the response); "" where
    there is none.
    """
    difference, relative = row.differences[design], row.relative[design]
    if difference is None:
        return ""
    if row.name.endswith("_octaves"):
        return f"{signed(difference, 2)} oct"
    if row.name.endswith("_db"):
        return f"{signed(difference, 1)} dB"
    if relative is None:
        return ""
    if row.name == "area_per_mass_m2_per_kg":
        return f"{signed(20 * log10(1 + relative), 1)} dB"
    return f"{signed(100 * relative, 1 if abs(relative) < 1 else 0)} %"


def signed(value: float, places: int) -> str:
    """ "+1.2", "−0.3", "±0.0" for what rounds to nothing."""
    text = f"{abs(value):.{places}f}"
    if float(text) == 0:
        return f"±{text}"
    return ("+" if value > 0 else "−") + text
