"""Designs in one table: what each figure is, and bars on one common axis for how far it is from the baseline's."""

from math import log10

import numpy as np
from matplotlib.axes import Axes

from diaphragm_fem.analysis.figures.definitions import DEFINITIONS
from diaphragm_fem.answer.better import better
from diaphragm_fem.answer.comparison.comparison import Comparison
from diaphragm_fem.answer.comparison.figure_rows import FigureRow
from diaphragm_fem.design.library.evidence import MARK
from diaphragm_fem.report.contents.comparison import HEADLINES_OF_DRIVERS, OF_DRIVERS, known_rows, row_words
from diaphragm_fem.report.sheets.designs import short_names
from diaphragm_fem.report.sheets.names import folded_to, shorten_apart
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import (
    BOLD,
    INK,
    RULE,
    SIDES,
    SMALL,
    SOFT_INK,
    TEXT,
    note,
    side_colour,
    text_width,
)
from diaphragm_fem.report.words.differences import design_names, ratio_of, show_difference
from diaphragm_fem.report.words.figures import is_no_extreme
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.words import NONE

LEFT, RIGHT, HEAD, FOOT = 10.0, 287.0, 184.0, 30.0
MOST_NAMES = 72.0  # column of the figures' names, mm, at most
BARS = 88.0  # of the bars, at least
WIDEST, NARROWEST = 30.0, 15.0  # column of a design's values
TALLEST = 9.0  # row
MOST_ROWS = 30  # the page has all
MORE = (
    "area_per_mass_m2_per_kg", "break_up_peak_db", "shelf_2_octaves", "ripple_db", "high_area_m2", "area_ratio_db",
)  # fmt: skip
LIMITS = (5.0, 10.0, 20.0, 50.0, 100.0)  # per cent at the ends of the axis


def shown_rows(comparison: Comparison) -> list[FigureRow]:
    """The headlines, what else tells designs apart, and figures that only a driver or a stroke has; of drivers what
    they do with everything on comes first."""
    names = [row.name for row in comparison.rows if ":" not in row.name]
    of_stroke = [n for n in names if n.removeprefix("loaded_") not in DEFINITIONS and n not in OF_DRIVERS]
    return known_rows(comparison, (*HEADLINES_OF_DRIVERS, *MORE, *of_stroke))[:MOST_ROWS]


def change_sheet(sheet: Sheet, comparison: Comparison) -> str:
    """A row per figure: the values, the best in bold, and a bar per design from the baseline to it."""
    rows, count = shown_rows(comparison), len(comparison.designs)
    labels = [f"{row_words(comparison, row)}, {naming(row.name).unit}".removesuffix(", ") for row in rows]
    names = min(max(text_width(label, TEXT) for label in labels) + 2, MOST_NAMES)
    room = RIGHT - LEFT - names - BARS - 12
    width = float(np.clip(room / count, NARROWEST, WIDEST))
    shown = min(count, int(room / width))  # values of further designs are in the page
    left = LEFT + names + shown * width + 10
    height = min((HEAD - FOOT) / len(rows), TALLEST if count < 4 else 2.2 * TALLEST)
    limit = next((x for x in LIMITS if x >= _most(rows)), LIMITS[-1])
    _name_columns(sheet, comparison, shown, width, LEFT + names)
    for i, (row, label) in enumerate(zip(rows, shorten_apart(labels, names - 2, TEXT), strict=True)):
        middle = HEAD - (i + 0.5) * height
        sheet.text(LEFT, middle - 1.0, label, size=TEXT)
        best = row.winners
        best = best if len(best) < sum(value is not None for value in row.judged or row.values) else set()
        for d in range(shown):
            words = _value(row, d)
            known = words != NONE
            weight = "bold" if known and d in best else "normal"
            look = {"size": TEXT, "ha": "right", "weight": weight, "color": INK if known else SOFT_INK}
            sheet.text(LEFT + names + (d + 1) * width - 2, middle - 1.0, words, **look)
        sheet.line(LEFT, middle - height / 2, RIGHT, middle - height / 2, width=0.3)
    axes = sheet.axes(left, HEAD - height * len(rows), RIGHT - left, height * len(rows))
    _draw_bars(axes, comparison, rows, limit, height)
    _key(sheet, count > shown)
    base = short_names(comparison, 40, SMALL)[comparison.baseline]
    return f"differences to {base}; {MARK} no published source"


def change_in_percent(row: FigureRow, design: int) -> float | None:
    """How far a figure is from the baseline's on the common axis."""
    ratio = ratio_of(row, design)
    return None if ratio is None else 100 * (ratio - 1)


def _most(rows: list[FigureRow]) -> float:
    """What nine tenths of the changes stay within: a few that are larger shall not make the others small."""
    changes = [abs(x) for row in rows for d in range(len(row.values)) if (x := change_in_percent(row, d))]
    return float(np.quantile(changes, 0.9)) if changes else LIMITS[0]


def _value(row: FigureRow, d: int) -> str:
    value = row.values[d]
    if value is None or is_no_extreme(row.name, value):
        return NONE
    return f"{'≥ ' if row.at_least[d] else ''}{naming(row.name).bare(value)}{MARK if row.doubtful[d] else ''}"


def _name_columns(sheet: Sheet, comparison: Comparison, shown: int, width: float, left: float) -> None:
    for d, lines in enumerate(_heads(comparison, (width - 3) / BOLD)[:shown]):
        right = left + (d + 1) * width - 2
        weight = "bold" if d == comparison.baseline else "normal"
        for n, words in enumerate(reversed(lines)):
            sheet.text(right, HEAD + 1.6 + 3.2 * n, words, size=SMALL, ha="right", weight=weight)
        sheet.text(right, HEAD + 2.0 + 3.2 * len(lines), str(d + 1), size=TEXT, ha="right", weight="bold")
    sheet.line(LEFT, HEAD + 0.2, RIGHT, HEAD + 0.2, width=0.9)


def _heads(comparison: Comparison, width: float) -> list[list[str]]:
    """Names of the designs in up to two lines of whole words, else cut to one that still tells them apart."""
    names = design_names(comparison)
    folded = [folded_to(name, width, SMALL) for name in names]
    if all(len(lines) <= 2 and max(text_width(x, SMALL) for x in lines) <= width for lines in folded):
        return folded
    return [[name] for name in shorten_apart(names, width, SMALL)]


def _draw_bars(axes: Axes, comparison: Comparison, rows: list[FigureRow], limit: float, height: float) -> None:
    """Bars of every design but the baseline, in the order of the designs from top to bottom in each row."""
    others = [d for d in range(len(comparison.designs)) if d != comparison.baseline]
    thick = 0.76 / max(len(others), 1)
    roomy = thick * height > 2.3
    for i, row in enumerate(rows):
        for k, d in enumerate(others):
            change = change_in_percent(row, d)
            y = i + 0.12 + (k + 0.5) * thick
            if change is None:
                continue
            colour = side_colour(better(row.name) * change)
            cut = float(np.clip(change, -limit, limit))
            axes.barh(y, cut, 0.84 * thick, color=colour, lw=0, zorder=3)
            if abs(change) > limit:
                axes.plot(cut, y, marker=">" if change > 0 else "<", ms=3.4, color=colour, clip_on=False, zorder=4)
            if roomy:
                words = show_difference(row, d)
                inward = abs(cut) > 0.62 * limit  # no room behind the bar: the words stand on the empty side
                note(axes, words, (0.0 if inward else cut, y), ((-3 if cut > 0 else 3) * (1 if inward else -1), 0),
                     va="center", ha="right" if (cut > 0) == inward else "left")  # fmt: skip
                if len(others) > 1:
                    note(axes, str(d + 1), (0.0, y), (-2, 0), ("axes fraction", "data"), va="center", ha="right")
    axes.axvline(0.0, color=SOFT_INK, lw=0.8, zorder=4)
    axes.set_xlim(-1.02 * limit, 1.02 * limit)
    axes.set_ylim(len(rows), 0)
    axes.set_yticks([])
    axes.xaxis.tick_top()
    ticks = np.array([-1.0, -0.5, 0.0, 0.5, 1.0]) * limit
    axes.set_xticks(ticks, [f"{x:+g} %".replace("-", "−") if x else "as the baseline" for x in ticks])
    for label, side in zip(axes.get_xticklabels()[:: len(ticks) - 1], ("left", "right"), strict=True):
        label.set_ha(side)  # within the margin
    axes.spines[:].set_visible(False)
    axes.tick_params(axis="x", length=0, pad=1)
    axes.grid(True, axis="x", color=RULE, lw=0.3)


def _key(sheet: Sheet, more: bool) -> None:
    left = LEFT
    for colour, words in SIDES:
        sheet.box(left, 19.7, 5, 2.4, colour)
        sheet.text(left + 6.5, 20.0, words, size=TEXT)
        left += 10.0 + text_width(words, TEXT)
    told = "bold: the best; bars: designs from top to bottom, a level as the ratio that it stands for "
    told += f"({20 * log10(1.1):.1f} dB are 10 %)" + ("; further values in comparison.md" if more else "")
    sheet.text(left + 4, 20.0, told, size=SMALL, color=SOFT_INK)
