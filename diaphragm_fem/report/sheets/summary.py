"""The page for the design review: verdict, section, figures, curves, first shapes and how far to trust it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.report.contents.tables import COIL_STILL_WORDS, felt_at_coil
from diaphragm_fem.report.sheets.area import (
    draw_magnitude,
    draw_marks,
    draw_response,
    first_shown,
    list_figures,
    magnitude_handles,
    marks_of,
)  # fmt: skip
from diaphragm_fem.report.sheets.driver import draw_heard, whose_level
from diaphragm_fem.report.sheets.modes import draw_shape, driven_first, node_handle, role_handles
from diaphragm_fem.report.sheets.names import folded_to, on_two_lines
from diaphragm_fem.report.sheets.section import axes_to_scale, bounds, draw_section, draw_supports
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import (
    ALARM,
    BOLD,
    INK,
    MM,
    SMALL,
    SOFT_INK,
    TEXT,
    TITLE,
    frequency_axis,
    note,
    text_width,
    zone_colours,
)
from diaphragm_fem.report.words.driver import headlines, side_by_side
from diaphragm_fem.report.words.figures import figure_lines
from diaphragm_fem.report.words.heard import plays_words
from diaphragm_fem.report.words.trust import dangers, trust_points
from diaphragm_fem.report.words.verdict import points
from diaphragm_fem.report.words.words import one, show_hz

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver.driver import DriverAnswer

LEFT, RIGHT = 10.0, 200.0
AXES_LEFT = 24.0
SHAPES = 4
NOTICE = 1.6  # mm from the margin to the words of a warning, beside its bar
NOTICE_STEP = 3.5  # mm from one of its lines to the next
ABOVE_TITLE = 12.8  # mm: the last line stands on it or higher


def summary_sheet(sheet: Sheet, evaluation: Answer) -> str:
    """One A4 page about one design."""
    name = on_two_lines(evaluation.design.name, (RIGHT - LEFT) / BOLD, TITLE)
    y = sheet.lines(LEFT, 287.0, name, 4.4, size=TITLE, weight="bold")
    for point in points(evaluation):
        y = _paragraph(sheet, y - 1.2, point, size=TEXT + 0.5, step=4.2)
    top = min(y - 1.0, 254.0)
    if evaluation.figures is None:
        _section(sheet, evaluation, 186.0, top, RIGHT)
        _legend(sheet, evaluation, 178.0)
        _shapes(sheet, evaluation, 126.0, 44.0, 0)
        _shapes(sheet, evaluation, 72.0, 44.0, SHAPES)
    else:
        figures_end = _figures(sheet, evaluation, top)
        foot = min(figures_end, top - 44.0)
        _section(sheet, evaluation, foot + 4.0, top, 112.0)
        _legend(sheet, evaluation, foot - 8.0)
        _curves(sheet, evaluation, 97.0, foot - 21.0)
        _shapes(sheet, evaluation, 60.0, 25.0, 0)
    _trust(sheet, evaluation, 55.0)
    return f"shell model, up to {show_hz(evaluation.up_to_hz)}"


def _paragraph(sheet: Sheet, y: float, words: str, *, size: float, step: float, left: float = LEFT) -> float:
    """Text folded to the margins from y downward; returns the height of the line below it."""
    return sheet.lines(left, y, folded_to(words, RIGHT - left, size), step, size=size, color=INK)


def _section(sheet: Sheet, evaluation: Answer, bottom: float, top: float, right: float) -> None:
    width, height = right - LEFT - 6.0, top - bottom
    box = bounds(evaluation.design)
    scale = 0.88 * min(width / max(box[1] - box[0], 1e-9), height / max(box[3] - box[2], 1e-9))
    axes = axes_to_scale(sheet, box, (LEFT + 6.0, bottom, width, height), scale)
    draw_section(axes, evaluation.design, zone_colours(evaluation.design.zones), least=0.9)
    draw_supports(axes, evaluation.design, 3.0 / scale)
    axes.spines[:].set_visible(False)
    axes.tick_params(length=0)
    note(axes, "mm", (0, 0), (-6, -6), "axes fraction", ha="right", va="top", color=SOFT_INK)


def _figures(sheet: Sheet, evaluation: Answer, top: float) -> float:
    """The figures that the design has; returns where they end."""
    figures = evaluation.figures
    assert figures is not None  # summary_sheet has looked
    left, step, y = 122.0, 5.0, top - 4.0
    sheet.line(left, y + 4.2, RIGHT, y + 4.2)
    lines = [(name, words) for name, words, _ in figure_lines(figures, all_of_them=False)]
    if evaluation.driver is not None:
        sheet.text(left, y, "with everything on; area and modes below in vacuum", size=SMALL, color=SOFT_INK)
        y, lines = y - step, headlines(side_by_side(evaluation))
    y = list_figures(sheet, lines, (left, RIGHT), y, step)
    sheet.line(left, y + step - 1.8, RIGHT, y + step - 1.8)
    return y + step - 1.8


def _curves(sheet: Sheet, evaluation: Answer, foot: float, top: float) -> None:
    """|S| over the response per newton, or over the level of a driver, on one frequency axis."""
    area, figures = evaluation.area, evaluation.figures
    assert area is not None and figures is not None  # summary_sheet has looked
    width, height = RIGHT - AXES_LEFT, (top - foot - 4.0) / 2
    magnitude = sheet.axes(AXES_LEFT, foot + height + 4.0, width, height)
    response = sheet.axes(AXES_LEFT, foot, width, height)
    draw_magnitude(magnitude, area, figures)
    driver = evaluation.driver
    if heard := driver is not None and driver.curve.level_db is not None:
        _level(response, driver)
    else:
        draw_response(response, area, figures)
    marks = [mark for mark in marks_of(figures) if mark.frequency_hz >= first_shown(area, figures)]
    for axes in (magnitude, response):
        frequency_axis(axes, first_shown(area, figures), area.frequency_hz[-1], label=axes is response)
    draw_marks(magnitude, marks, width)
    for mark in [] if heard else marks:
        response.axvline(mark.frequency_hz, color=mark.colour, lw=0.8, ls=(0, (5, 2)), zorder=1)


def _level(axes: Axes, driver: DriverAnswer) -> None:
    """A driver's level with everything on, and over it how it reads."""
    draw_heard(axes, driver)
    axes.set_ylabel("level, dB")
    told, figures = f"{whose_level(driver)}, with everything on", driver.figures
    if figures.median_level_db is not None and figures.band_hz is not None:
        plays = plays_words(figures.plays_hz, driver.curve.frequency_hz)
        told += f"; shaded: band of its median; bar: plays {plays}"
    note(axes, told, (0, 1), (0, 2), "axes fraction", color=SOFT_INK, annotation_clip=False)


def _shapes(sheet: Sheet, evaluation: Answer, bottom: float, height: float, first: int) -> None:
    """A row of first mode shapes: axisymmetric ones that the coil drives beside a curve, else the lowest of all."""
    if evaluation.figures is not None:
        picks = [(0, k) for k in sorted(driven_first(evaluation)[:SHAPES])]
    else:
        every = sorted((f, m, k) for m, x in evaluation.modes.items() for k, f in enumerate(x.frequency_hz))
        picks = [(m, k) for _, m, k in every[first : first + SHAPES]]
    width = (RIGHT - LEFT) / SHAPES
    for place, (m, k) in enumerate(picks):
        x, modes = LEFT + place * width, evaluation.modes[m]
        sheet.text(x, bottom + height - 2.0, f"m = {m}, mode {k + 1}", size=SMALL, color=SOFT_INK)
        hz = show_hz(modes.frequency_hz[k])
        sheet.text(x + width - 4, bottom + height - 2.0, hz, size=TEXT, weight="bold", ha="right")
        mass, _ = felt_at_coil(evaluation, m, k)
        if mass:
            words = mass if mass == COIL_STILL_WORDS else f"modal mass {mass}"
            sheet.text(x, bottom + height - 5.4, words, size=SMALL, color=SOFT_INK)
        draw_shape(sheet, (x, bottom, width - 4, height - 6.5), evaluation.structures[m].surface, modes, k)


def _legend(sheet: Sheet, evaluation: Answer, y: float) -> None:
    """The page's one legend: zones by colour, the lines of the curve, and the nodal marks."""
    handles = role_handles(evaluation.design.zones)
    if evaluation.area is not None and evaluation.figures is not None:
        handles += magnitude_handles(evaluation.area, evaluation.figures)
    handles.append(node_handle())
    look = {"columnspacing": 1.4, "borderpad": 0.2, "handlelength": 1.8, "handletextpad": 0.8}
    sheet.legend(LEFT - 1, y, handles, loc="center left", ncols=_columns([str(x.get_label()) for x in handles]), **look)


def _columns(labels: Sequence[str]) -> int:
    """How many columns, filled from above, have room between the margins."""
    beside = (1.4 + 1.8 + 0.8) * SMALL / 72 / MM  # of each column: the space before, the line, the space after it

    def width(columns: int) -> float:
        split = np.array_split(labels, columns)  # as Matplotlib does
        return sum(beside + max(text_width(str(words), SMALL) for words in some) for some in split)

    return next((n for n in range(min(len(labels), 6), 1, -1) if width(n) <= RIGHT - LEFT + 1), 1)


def _trust(sheet: Sheet, evaluation: Answer, y: float) -> None:
    sheet.line(LEFT, y + 2.6, RIGHT, y + 2.6)
    sheet.text(LEFT, y - 1.6, "How far to trust it", size=TEXT, weight="bold")
    y -= 6.0
    for point in trust_points(evaluation):
        y = _paragraph(sheet, y, point, size=SMALL, step=3.5)
    harm = [f"Caution: {words.removesuffix('.')}." for words in dangers(evaluation)]
    warnings = [f"Warning: {warning}." for warning in evaluation.warnings]
    _notices(sheet, y - 0.4, _fitting(y - 0.4, warnings, harm))


def _fitting(y: float, warnings: Sequence[str], harm: Sequence[str]) -> list[str]:
    """The first warnings that have room above the title block, how many are left, and all that may harm."""
    for shown in range(len(warnings), -1, -1):
        rest = len(warnings) - shown
        left = [f"{one(rest, 'more warning')} in summary.md."] if rest else []
        told = [*warnings[:shown], *left, *harm]
        if y - NOTICE_STEP * sum(len(folded_to(words, RIGHT - LEFT - NOTICE, SMALL)) for words in told) > ABOVE_TITLE:
            break
    return told


def _notices(sheet: Sheet, y: float, told: Sequence[str]) -> None:
    """Words in ink beside a bar that must not be overlooked."""
    for words in told:
        end = _paragraph(sheet, y, words, size=SMALL, step=NOTICE_STEP, left=LEFT + NOTICE)
        sheet.line(LEFT + 0.4, y + 2.0, LEFT + 0.4, end + 2.6, colour=ALARM, width=1.6)
        y = end
