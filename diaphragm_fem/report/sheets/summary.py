"""The page for the design review: verdict, profile, figures, area curve, first shapes and how far to trust them."""

from __future__ import annotations

import re
from textwrap import wrap

from matplotlib.lines import Line2D

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.report.figure_words import figure_lines
from diaphragm_fem.report.sheets.area import draw_magnitude, draw_marks, magnitude_handles, marks_of
from diaphragm_fem.report.sheets.modes import draw_shape, role_handles, surface_of
from diaphragm_fem.report.sheets.profile import bounds, draw_section, draw_supports
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import ALARM, INK, SMALL, SOFT_INK, TEXT, frequency_axis, zone_colours
from diaphragm_fem.report.trust import cautions, trust
from diaphragm_fem.report.verdict import verdict
from diaphragm_fem.report.words import NONE, one, show_hz

LEFT, RIGHT = 10.0, 200.0
LINE = 3.9  # mm between lines of running text
SHAPES = 4
WITH_UNIT = re.compile(r"(\d) (?=k?Hz|cm²|mm|N/mm|m?g\b|%|[GM]Pa|octaves)")  # never broken over two lines
MOST_WARNINGS = 4


def summary_sheet(sheet: Sheet, evaluation: Answer) -> str:
    """One A4 page about one design."""
    remark = f"shell model, up to {show_hz(evaluation.up_to_hz)}"
    y = _paragraph(sheet, 283.0, verdict(evaluation), size=TEXT + 0.5, characters=118, step=4.4)
    driven = evaluation.figures is not None
    top = min(y - 2.0, 254.0)
    _profile(sheet, evaluation, 201.0, top, RIGHT if not driven else 112.0)
    if driven:
        _figures(sheet, evaluation, top)
        _area(sheet, evaluation, 112.0, 62.0)
    _legend(sheet, evaluation, 188.0)
    if driven:
        _shapes(sheet, evaluation, 70.0, 30.0, 1)
    else:
        _shapes(sheet, evaluation, 132.0, 44.0, 0)
        _shapes(sheet, evaluation, 72.0, 44.0, SHAPES)
    _trust(sheet, evaluation, 63.0)
    return remark


def _paragraph(
    sheet: Sheet, y: float, words: str, *, size: float, characters: int, step: float, colour: str = INK
) -> float:
    """Wrapped text from y downward; returns the height of the line below it."""
    for line in wrap(WITH_UNIT.sub("\\1\u00a0", words), characters):
        sheet.text(LEFT, y, line, size=size, color=colour)
        y -= step
    return y


def _profile(sheet: Sheet, evaluation: Answer, bottom: float, top: float, right: float) -> None:
    width, height = right - LEFT, top - bottom
    axes = sheet.axes(LEFT, bottom, width, height)
    box = bounds(evaluation.design)
    scale = 0.88 * min(width / max(box[1] - box[0], 1e-9), height / max(box[3] - box[2], 1e-9))
    axes.set_xlim(*_around(box[0], box[1], width / scale))
    axes.set_ylim(*_around(box[2], box[3], height / scale))
    draw_section(axes, evaluation.design, zone_colours(evaluation.design.zones), least=0.9)
    draw_supports(axes, evaluation.design, 3.0 / scale)
    axes.spines[:].set_visible(False)
    axes.tick_params(length=0)
    axes.set_xlabel("radius, height in mm", color=SOFT_INK, size=SMALL, labelpad=0)


def _around(low: float, high: float, length: float) -> tuple[float, float]:
    return (low + high - length) / 2, (low + high + length) / 2


def _figures(sheet: Sheet, evaluation: Answer, top: float) -> None:
    figures = evaluation.figures
    assert figures is not None  # summary_figure has looked
    lines = figure_lines(figures, all_of_them=False)
    left, step = 122.0, min((top - 198.0) / len(lines), 6.4)
    y = top - 4.0
    sheet.line(left, y + 4.6, RIGHT, y + 4.6)
    for name, words, _ in lines:
        sheet.text(left, y, name, size=TEXT, color=SOFT_INK)
        sheet.text(RIGHT, y, words, size=TEXT, ha="right", weight="normal" if words == NONE else "bold")
        y -= step
    sheet.line(left, y + step - 2.2, RIGHT, y + step - 2.2)


def _area(sheet: Sheet, evaluation: Answer, bottom: float, height: float) -> None:
    area, figures = evaluation.area, evaluation.figures
    assert area is not None and figures is not None  # summary_figure has looked
    left = 22.0
    axes = sheet.axes(left, bottom, RIGHT - left, height)
    draw_magnitude(axes, area, figures)
    frequency_axis(axes, area.frequency_hz[0], area.frequency_hz[-1])
    draw_marks(axes, marks_of(figures), RIGHT - left)


def _shapes(sheet: Sheet, evaluation: Answer, bottom: float, height: float, first: int) -> None:
    """A row of first mode shapes: axisymmetric ones beside a curve, else the lowest of all orders."""
    if evaluation.figures is not None:
        picks = [(0, k) for k in range(min(SHAPES, len(evaluation.modes[0])))]
    else:
        every = sorted((f, m, k) for m, x in evaluation.modes.items() for k, f in enumerate(x.frequency_hz))
        picks = [(m, k) for _, m, k in every[first : first + SHAPES]]
    width = (RIGHT - LEFT) / SHAPES
    for place, (m, k) in enumerate(picks):
        x, modes = LEFT + place * width, evaluation.modes[m]
        sheet.text(x, bottom + height - 2.0, f"m = {m}, mode {k + 1}", size=SMALL, color=SOFT_INK)
        sheet.text(
            x + width - 4, bottom + height - 2.0, show_hz(modes.frequency_hz[k]), size=TEXT, weight="bold", ha="right"
        )
        axes = sheet.axes(x, bottom, width - 4, height - 4.0)
        draw_shape(axes, surface_of(evaluation, m), modes, k)
        axes.set_axis_off()


def _legend(sheet: Sheet, evaluation: Answer, y: float) -> None:
    """The page's one legend: zones by colour, the lines of the curve, and the nodal marks."""
    handles = role_handles(evaluation.design.zones)
    if evaluation.area is not None and evaluation.figures is not None:
        names = magnitude_handles(evaluation.area, evaluation.figures)
        handles += [handle for handle in names if handle.get_label() != "low area"]
    handles.append(Line2D([], [], ls="none", marker="o", ms=4.2, mfc="white", mec=INK, label="no normal motion"))
    columns = min(len(handles), 6)
    sheet.figure.legend(
        handles=handles,
        loc="center left",
        bbox_to_anchor=((LEFT - 1) / sheet.width, y / sheet.height),
        ncols=columns,
        columnspacing=1.4,
        borderpad=0.2,
        handlelength=1.8,
    )


def _trust(sheet: Sheet, evaluation: Answer, y: float) -> None:
    sheet.line(LEFT, y + 2.6, RIGHT, y + 2.6)
    sheet.text(LEFT, y - 1.6, "How far to trust it", size=TEXT, weight="bold")
    y = _paragraph(sheet, y - 6.2, trust(evaluation), size=SMALL + 0.3, characters=136, step=3.5)
    shown = evaluation.warnings[:MOST_WARNINGS]
    rest = len(evaluation.warnings) - len(shown)
    for warning in shown:
        y = _paragraph(sheet, y, f"Warning: {warning}.", size=SMALL, characters=142, step=3.3, colour=ALARM)
    if rest:
        y = _paragraph(
            sheet, y, f"{one(rest, 'more warning')} in summary.md.", size=SMALL, characters=142, step=3.3, colour=ALARM
        )
    for words in cautions(evaluation):
        y = _paragraph(sheet, y, f"Caution, {words}", size=SMALL, characters=142, step=3.3, colour=ALARM)
