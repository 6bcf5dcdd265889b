"""A measured curve over its prediction, with the deviation in dB below and the peaks that belong together marked."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes

from diaphragm_fem.analysis.curve.curve import decibels
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.report.sheets.names import folded_to
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import CYCLE, INK, SMALL, SOFT_INK, TEXT, frequency_axis, log_axis
from diaphragm_fem.report.words.measured import beside_words
from diaphragm_fem.report.words.words import show_hz

if TYPE_CHECKING:
    from diaphragm_fem.answer.measured import Beside

MEASURED = CYCLE[1]  # in a grey print light beside what was predicted
MOST_DB = 20.0  # of the deviation about its median that is drawn
MOST_RATIO = 3000  # of the largest to the least value of a curve that is drawn
MOST_PEAKS = 12  # listed beside the curves
UNIT_AXIS = {"area": (1e4, "cm²"), "response": (1.0, "m²/kg"), "impedance": (1.0, "Ω"),
             "level": (1 / 20e-6, "dB re 20 µPa"), "velocity": (1.0, "of the coil's"),
             "mobility": (1.0, "m/s per N")}  # fmt: skip


def measured_sheet(sheet: Sheet, evaluation: Answer, number: int) -> str:
    """Sheet of one measured curve, counted from 0."""
    beside = evaluation.measured[number]
    left, width = 25.0, 178.0
    above = sheet.axes(left, 92.0, width, 100.0)
    below = sheet.axes(left, 29.0, width, 50.0)
    _draw_sizes(above, beside)
    _draw_deviation(below, beside)
    f = beside.curve.frequency_hz
    for axes in (above, below):
        for pair in beside.pairs:
            axes.axvline(pair.measured_hz, color=MEASURED, lw=0.5, ls=(0, (1, 3)), zorder=1)
        frequency_axis(axes, float(f[0]), float(f[-1]), label=axes is below)
    _words(sheet, beside)
    return f"{len(f)} measured points; prediction solved at each"


def _draw_sizes(axes: Axes, beside: Beside) -> None:
    factor, unit = UNIT_AXIS[beside.curve.quantity.name]
    predicted, measured = factor * np.abs(beside.fine), factor * np.abs(beside.curve.values)
    low = min(max(0.8 * values.min(), values.max() / MOST_RATIO) for values in (predicted, measured))
    high = 1.3 * max(predicted.max(), measured.max())
    if in_db := unit.startswith("dB"):
        predicted, measured, low, high = (decibels(values) for values in (predicted, measured, low, high))
        axes.set_ylim(low, high)
    axes.plot(beside.fine_hz, predicted, color=INK, lw=1.3, label="predicted", zorder=2)
    mark = {"marker": ".", "markersize": 3.0} if len(measured) < 200 else {}
    axes.plot(beside.curve.frequency_hz, measured, color=MEASURED, lw=1.1, label="measured", zorder=3, **mark)
    if not in_db:
        log_axis(axes, low, high, most=11)
    axes.set_ylabel(f"{beside.curve.quantity.name}, {unit}")
    axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=2, borderpad=0.2)  # clear of the curves


def _draw_deviation(axes: Axes, beside: Beside) -> None:
    """The deviation and 0 dB, however far off its median is."""
    deviation, median = beside.deviation_db, beside.median_db
    low, high = beside.most_db
    axes.axhspan(low, high, color=MEASURED, alpha=0.12, lw=0)
    axes.axhline(0.0, color=SOFT_INK, lw=0.7)
    axes.axhline(median, color=MEASURED, lw=0.9, ls=(0, (4, 2)))
    axes.plot(beside.curve.frequency_hz, deviation, color=MEASURED, lw=1.1)
    shown = np.clip(deviation, median - MOST_DB, median + MOST_DB)
    axes.set_ylim(1.1 * min(-3.0, shown.min()), 1.1 * max(3.0, shown.max()))
    axes.set_ylabel("measured over predicted, dB")


def _words(sheet: Sheet, beside: Beside) -> None:
    left, right, y = 210.0, 287.0, 188.0
    y = sheet.lines(left, y, folded_to(beside_words(beside), right - left, TEXT), 4.4, size=TEXT) - 4.0
    sheet.line(left, y + 3.6, right, y + 3.6)
    for pair in beside.pairs[:MOST_PEAKS]:
        sheet.text(left, y, f"{show_hz(pair.measured_hz, 4)} for {show_hz(pair.predicted_hz, 4)}", size=SMALL)
        sheet.text(right, y, f"{100 * pair.shift:+.2f} %".replace("-", "−"), size=SMALL, ha="right", weight="bold")
        y -= 4.2
    if len(beside.pairs) > MOST_PEAKS:
        sheet.text(left, y, f"and {len(beside.pairs) - MOST_PEAKS} more: measured_peaks.csv", size=SMALL)
        y -= 4.2
    told = ("Band: four fifths of the deviation; dashed: its median.", "Dotted: peaks with a predicted partner.")
    sheet.lines(left, y - 2.0, told, 3.9, size=SMALL)
