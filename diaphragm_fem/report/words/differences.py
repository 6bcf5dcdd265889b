"""Differences between designs in the words and units of the trade."""

from math import log10

from diaphragm_fem.answer.comparison.comparison import Comparison
from diaphragm_fem.answer.comparison.figure_rows import FigureRow
from diaphragm_fem.design.library.evidence import MARK
from diaphragm_fem.report.words.figures import is_no_extreme, value_text
from diaphragm_fem.report.words.words import NONE, show_db, show_micro, signed

MANY_TIMES = 10.0  # of the baseline: from there on a percentage says nothing


def design_names(comparison: Comparison) -> list[str]:
    """Names as printed: "thickness 60 µm"."""
    return [show_micro(name) for name in comparison.names]


def show_value(row: FigureRow, d: int) -> str:
    """ "5.92 kHz*", "≥ 5.6 octaves", "none": a design's value with its mark of doubt."""
    text = value_text(row.name, row.values[d], at_least=row.at_least[d])
    return text if text == NONE else text + (MARK if row.doubtful[d] else "")


def show_difference(row: FigureRow, design: int) -> str:
    """ "+5.9 %", "66 times"; octaves in octaves, levels in dB, area over mass in dB too (what it does to the
    response); "" where there is none.
    """
    difference, relative, base = row.differences[design], row.relative[design], row.values[row.baseline]
    if difference is None or base is None or is_no_extreme(row.name, base):
        return ""
    if row.name.endswith("_octaves"):
        return f"{signed(difference, 2)} oct"
    if row.name.endswith("_db"):
        return show_db(difference)
    if relative is None:
        return ""
    if row.name == "area_per_mass_m2_per_kg":
        return show_db(20 * log10(1 + relative))
    if relative >= MANY_TIMES - 1:
        return f"{1 + relative:.0f} times"
    return f"{signed(100 * relative, 1 if abs(relative) < 1 else 0)} %"


def ratio_of(row: FigureRow, design: int) -> float | None:
    """A figure over the baseline's; of a level the ratio of amplitudes that it stands for. None where there is none."""
    difference, relative = row.differences[design], row.relative[design]
    if difference is None:
        return None
    if row.name.partition(":")[0].endswith("_db"):
        return float(10 ** (difference / 20))
    return None if relative is None else 1 + relative
