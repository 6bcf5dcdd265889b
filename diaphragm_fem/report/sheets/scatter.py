"""Sheet of a study's morning: what manufacturing scatter does."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from diaphragm_fem.report.sheets.morning_marks import BASE_LINE, BEST, LINE, tell_inputs
from diaphragm_fem.report.sheets.names import folded_to
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import ROUND, SMALL, SOFT_INK, TEXT, frequency_axis, log_axis, pale
from diaphragm_fem.report.words.study import naming, yield_words
from diaphragm_fem.report.words.words import one, signed
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.scatter import PERCENTILES, Band

HALVED_PITCH = 4.4
LOWEST = 68.0  # mm, of what stands above the histograms


def bands_sheet(sheet: Sheet, morning: Morning) -> str:
    """Sheet with the spread of the area curve over the parts of a tolerance study, and of its figures."""
    band = next(band for band in morning.bands if band.curve == "area_m2")
    axes = sheet.axes(25, 84, 182, 108)
    _draw_band(axes, band, morning)
    _yield_column(sheet, morning)
    _histograms(sheet, morning)
    tell_inputs(sheet, morning)
    return f"{one(band.count, 'part')} drawn"


def _draw_band(axes: Axes, band: Band, morning: Morning) -> None:
    low, middle, high = 1e4 * band.values
    label = f"{PERCENTILES[0]:g} to {PERCENTILES[2]:g} % of parts at each frequency"
    axes.fill_between(band.frequency_hz, low, high, color=pale(LINE, 0.65), lw=0, label=label)
    axes.plot(band.frequency_hz, middle, color=LINE, lw=1.5, label="their median there, no part's own curve")
    nominal = morning.base.found.curves
    if "area_m2" in nominal:
        axes.plot(nominal["frequency_hz"], 1e4 * np.abs(nominal["area_m2"]), label="base design", **BASE_LINE)
    frequency_axis(axes, band.frequency_hz[0], band.frequency_hz[-1])
    area_axis(axes, np.concatenate((low, high)))
    axes.legend(loc="lower left")


def area_axis(axes: Axes, area: np.ndarray) -> None:
    """Logarithmic area axis in cm2, deep dips cut off at a thousandth of the peak."""
    top = float(np.max(area))
    log_axis(axes, max(float(np.min(area)) * 0.8, top / 1000), top * 1.3, most=12)
    axes.set_ylabel("effective area |S|, cm²")


def _yield_column(sheet: Sheet, morning: Morning) -> None:
    y = 189.0
    sheet.text(214, y, "Yield" if morning.yields else "No limits are set", size=TEXT + 1, weight="bold")
    for found in morning.yields:
        told = folded_to(yield_words(found, morning), 73.0, SMALL)
        y = sheet.lines(214, y - 7.0, told, 3.6, size=SMALL, color=SOFT_INK) - 1.0
        words = f"{100 * found.share:.1f} %  ({100 * found.low:.1f} to {100 * found.high:.1f} %)"
        sheet.text(214, y, words, size=TEXT, weight="bold" if not found.figure else "normal")
    if morning.halved:
        y -= 9.0
        sheet.text(214, y, "If one scatter were halved", size=TEXT + 1, weight="bold")
    fitting = max(int((y - LOWEST) / HALVED_PITCH), 0)
    for halved in morning.halved[:fitting]:
        y -= HALVED_PITCH
        sheet.text(214, y, halved.variable.replace("_", " "), size=SMALL, color=SOFT_INK)
        words = f"{100 * halved.share:.1f} %  ({signed(100 * halved.gain, 1)} ± {100 * halved.error:.1f})"
        sheet.text(287, y, words, size=SMALL, ha="right")


def _histograms(sheet: Sheet, morning: Morning) -> None:
    """Spread of each figure of interest with its limits and the base design's own value."""
    figures = morning.figures[:4]
    width = (262.0 - 8.0 * (len(figures) - 1)) / len(figures)
    for j, figure in enumerate(figures):
        name = naming(figure)
        values = name.shown(morning.results.figure(figure))
        known = values[np.isfinite(values)]
        axes = sheet.axes(25 + j * (width + 8), 32, width, 32)
        if len(known) and np.ptp(known) > 0:
            bins = min(max(int(np.sqrt(len(known))), 8), 40)
            axes.hist(known, bins=bins, color=pale(LINE, 0.45), edgecolor="white", lw=0.4)
        for limit in morning.results.study.limits.get(figure, ()):
            if limit is not None:
                axes.axvline(limit / name.factor, color=BEST, lw=1.2, ls=(0, (4, 2)))
        if np.isfinite(nominal := float(name.shown(morning.base.figure(figure)))):
            axes.axvline(nominal, **BASE_LINE)
        axes.set_xlabel(name.label, size=SMALL)
        axes.xaxis.set_major_locator(MaxNLocator(4, steps=ROUND))
        axes.yaxis.set_major_locator(MaxNLocator(3, integer=True))
        axes.grid(axis="x", visible=False)
        if j == 0:
            axes.set_ylabel("parts", size=SMALL)
