"""How the designs of a comparison stand on all of its sheets: number, colour and dash, short names, the list beside."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from diaphragm_fem.answer.comparison.comparison import Comparison
from diaphragm_fem.design.library.evidence import MARK
from diaphragm_fem.report.sheets.names import fitted, folded_to, shorten_apart
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import BOLD, CYCLE, INK, SMALL, SOFT_INK, TEXT, TITLE, text_width
from diaphragm_fem.report.words.differences import design_names
from diaphragm_fem.report.words.words import name_materials, one, show_thickness

COLUMN, RIGHT = 208.0, 287.0  # of the list of designs, mm
TITLE_ROOM = 92.0  # mm in the title block
DASHES: tuple[Any, ...] = (
    (0, (5, 1.6)), (0, (1.4, 1.2)), (0, (7, 1.5, 1.4, 1.5)), (0, (10, 2)), (0, (3, 1, 1, 1, 1, 1)),
)  # fmt: skip


@dataclass(frozen=True)
class Look:
    """How one design is drawn: its number from 1 names its lines, its dash tells it apart where colours do not."""

    number: int
    colour: str
    dash: Any
    width: float
    order: float


def looks(comparison: Comparison) -> list[Look]:
    """The baseline in a thick line of ink; the others by colour and dash, no two alike in both."""
    others = [d for d in range(len(comparison.designs)) if d != comparison.baseline]
    palette = [colour for colour in CYCLE if colour != INK]
    drawn = {
        d: Look(d + 1, palette[k % len(palette)], DASHES[(k + k // len(palette)) % len(DASHES)], 1.2, 4.0 + 0.01 * k)
        for k, d in enumerate(others)
    }
    drawn[comparison.baseline] = Look(comparison.baseline + 1, INK, "solid", 2.0, 3.5)
    return [drawn[d] for d in range(len(comparison.designs))]


def short_names(comparison: Comparison, width: float, size: float) -> list[str]:
    """Names within `width` mm even in bold, as the baseline is written, and still different."""
    return shorten_apart(design_names(comparison), width / BOLD, size)


def name_designs(comparison: Comparison) -> str:
    """Names for the title block, or the number of designs where they are many."""
    names = design_names(comparison)
    if text_width(" / ".join(names), TITLE) > TITLE_ROOM:
        names = shorten_apart(names, TITLE_ROOM / len(names) - 4, TITLE) if len(names) < 4 else []
    return " / ".join(names) or f"{one(len(comparison.designs), 'design')} side by side"


def tag(axes: Axes, look: Look, x: float, y: float) -> None:
    """The design's number on its line."""
    ring = {"boxstyle": "circle,pad=0.18", "fc": "white", "ec": look.colour, "lw": 0.8}
    axes.text(x, y, str(look.number), size=SMALL, ha="center", va="center", weight="bold", zorder=look.order + 2,
              clip_on=True, bbox=ring)  # fmt: skip


def tag_curves(axes: Axes, looks_shown: Sequence[Look], curves: Sequence[tuple[np.ndarray, np.ndarray]]) -> None:
    """A number on each curve (x, y), at places spread over the axis so that no two stand on each other."""
    low, high = np.log(axes.get_xlim()) if axes.get_xscale() == "log" else axes.get_xlim()
    places = low + (high - low) * np.linspace(0.1, 0.9, len(curves) + 2)[1:-1]
    for look, (x, y), place in zip(looks_shown, curves, places, strict=True):
        at = float(np.exp(place)) if axes.get_xscale() == "log" else float(place)
        if len(x) and x[0] <= at <= x[-1]:
            tag(axes, look, at, float(np.interp(at, x, y)))


def list_designs(sheet: Sheet, comparison: Comparison, *, walls: bool = False) -> float:
    """The sheet's one legend: number, line and name of each design; returns where it ends."""
    y = 196.0
    made = [f"{show_thickness(x.design.meridian)}, {name_materials(x.design.meridian)}" for x in comparison.designs]
    walls = walls and len(set(made)) > 1  # what all are made of tells none apart
    step = min(9.4 if walls else 5.4, 150 / len(comparison.designs))
    sheet.text(COLUMN, y, "Design; bold: the baseline", size=SMALL, color=SOFT_INK)
    sheet.line(COLUMN, y - 2, RIGHT, y - 2)
    y -= 6.5
    marked = False
    names = short_names(comparison, RIGHT - COLUMN - 14, TEXT)  # behind number and line
    for d, look in enumerate(looks(comparison)):
        base = d == comparison.baseline
        sheet.text(COLUMN + 2.5, y, str(look.number), size=TEXT, weight="bold", ha="right")
        sheet.line(COLUMN + 4, y + 0.9, COLUMN + 12, y + 0.9, colour=look.colour, width=look.width, ls=look.dash)
        sheet.text(COLUMN + 14, y, names[d], size=TEXT,
                   weight="bold" if base else "normal")  # fmt: skip
        if walls and step > 7:
            marked = marked or MARK in made[d]
            told = fitted(made[d], RIGHT - COLUMN - 14, SMALL)
            sheet.text(COLUMN + 14, y - 3.6, told, size=SMALL, color=SOFT_INK)
        y -= step
    sheet.line(COLUMN, y + 2.6, RIGHT, y + 2.6)
    if marked:
        words = f"{MARK} some numbers of this material have no published source"
        y = sheet.lines(COLUMN, y - 1.6, folded_to(words, RIGHT - COLUMN, SMALL), 3.6, size=SMALL, color=SOFT_INK) + 1.2
    return y
