"""How the designs of a comparison stand on all of its sheets: colours, short names, the list beside the panels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.colors import LinearSegmentedColormap, to_hex
from matplotlib.patches import Rectangle

from diaphragm_fem.answer.comparison import Comparison
from diaphragm_fem.design.evidence import MARK
from diaphragm_fem.report.comparison_words import design_names
from diaphragm_fem.report.sheets.names import shorten_apart
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import CYCLE, INK, SMALL, SOFT_INK, TEXT, TITLE
from diaphragm_fem.report.words import name_materials, one, show_thickness

COLUMN, RIGHT = 208.0, 287.0  # of the list of designs, mm
TITLE_ROOM = 82.0  # mm in the title block
BOLD = 1.13  # width of bold type over plain, at most
RAMP = LinearSegmentedColormap.from_list("series", ("#14507d", "#58a6d6", "#e6a62e", "#cc4a1b"))


@dataclass(frozen=True)
class Look:
    """How one design is drawn."""

    colour: str
    width: float
    order: float


def looks(comparison: Comparison) -> list[Look]:
    """The baseline in ink; the others in colours that stay apart, or along a ramp where there are many."""
    others = [d for d in range(len(comparison.designs)) if d != comparison.baseline]
    palette: list[str] = [colour for colour in CYCLE if colour != CYCLE[-1]]
    if len(others) > len(palette):
        palette = [to_hex(RAMP(x)) for x in np.linspace(0, 1, len(others))]
    drawn = {d: Look(palette[k], 1.2, 4.0 + 0.01 * k) for k, d in enumerate(others)}
    drawn[comparison.baseline] = Look(INK, 2.0, 3.5)
    return [drawn[d] for d in range(len(comparison.designs))]


def short_names(comparison: Comparison, width: float, size: float) -> list[str]:
    """Names within `width` mm even in bold, as the baseline is written, and still different."""
    return shorten_apart(design_names(comparison), width / BOLD, size)


def baseline_name(comparison: Comparison, width: float, size: float) -> str:
    return short_names(comparison, width, size)[comparison.baseline]


def name_designs(comparison: Comparison) -> str:
    """Names for the title block, or the number of designs where they are many."""
    count = len(comparison.designs)
    names = shorten_apart(design_names(comparison), TITLE_ROOM / count - 4, TITLE) if count < 4 else []
    return " / ".join(names) or f"{one(count, 'design')} side by side"


def list_designs(sheet: Sheet, comparison: Comparison, *, walls: bool = False) -> float:
    """The sheet's one legend; returns where it ends."""
    y = 196.0
    step = min(9.4 if walls else 5.2, 150 / len(comparison.designs))
    sheet.text(COLUMN, y, "Design", size=SMALL, color=SOFT_INK)
    sheet.line(COLUMN, y - 2, RIGHT, y - 2)
    y -= 6.5
    marked = False
    names = short_names(comparison, RIGHT - COLUMN - 24, TEXT)  # beside a patch of colour, before ", baseline"
    for d, (named, look) in enumerate(zip(comparison.designs, looks(comparison), strict=True)):
        high = min(1.4 * look.width, step - 1)
        sheet.figure.add_artist(Rectangle(
            (COLUMN / sheet.width, (y + 0.9 - high / 2) / sheet.height), 5.0 / sheet.width, high / sheet.height,
            color=look.colour, lw=0, transform=sheet.figure.transFigure,
        ))  # fmt: skip
        base = d == comparison.baseline
        words = names[d] + (", baseline" if base else "")
        sheet.text(COLUMN + 7, y, words, size=TEXT, weight="bold" if base else "normal")
        if walls and step > 7:
            made = f"{name_materials(named.design.meridian)}, {show_thickness(named.design.meridian)}"
            marked = marked or MARK in made
            sheet.text(COLUMN + 7, y - 3.6, shorten_apart([made], RIGHT - COLUMN - 7, SMALL)[0], size=SMALL,
                       color=SOFT_INK)  # fmt: skip
        y -= step
    sheet.line(COLUMN, y + 2.6, RIGHT, y + 2.6)
    if marked:
        words = f"{MARK} some numbers of this material have no published source"
        sheet.text(COLUMN, y - 1.6, words, size=SMALL, color=SOFT_INK)
        y -= 4
    return y
