"""Figures of a study's morning: curves of the best, bands of a tolerance study, the neighbourhood of the winner."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import CYCLE, RULE, SMALL, SOFT_INK, TEXT, frequency_axis, log_ticks, pale
from diaphragm_fem.report.study_words import column_naming, limit_words, naming
from diaphragm_fem.report.words import one
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.neighbours import slice_through
from diaphragm_fem.study.morning.scatter import PERCENTILES, Band

LINE, WINNER = CYCLE[0], CYCLE[2]
DASHES = ("solid", (0, (5, 1.5)), (0, (1.5, 1.2)), (0, (5, 1.5, 1.2, 1.5)), (0, (8, 2)), (0, (3, 3)))


def best_curves_sheet(sheet: Sheet, morning: Morning) -> str:
    """Sheet with the effective area of the best cases over frequency."""
    axes = sheet.axes(25, 34, 210, 158)
    for place, curve in enumerate(morning.best_curves):
        axes.plot(
            curve.frequency_hz, 1e4 * curve.area, color=CYCLE[place % len(CYCLE)], ls=DASHES[place % len(DASHES)],
            lw=1.8 if place == 0 else 1.1, zorder=9 - place, label=f"{place + 1}  case {curve.case}",
        )  # fmt: skip
    frequency_axis(axes, morning.best_curves[0].frequency_hz[0], morning.best_curves[0].frequency_hz[-1])
    _area_axis(axes, np.concatenate([1e4 * curve.area for curve in morning.best_curves]))
    sheet.figure.legend(loc="upper left", bbox_to_anchor=(240 / sheet.width, 194 / sheet.height), handlelength=3)
    return "net volume velocity over coil velocity"


def bands_sheet(sheet: Sheet, morning: Morning) -> str:
    """Sheet with the spread of the area curve over the parts of a tolerance study, and of its figures."""
    band = next(band for band in morning.bands if band.curve == "area_m2")
    axes = sheet.axes(25, 84, 182, 108)
    _draw_band(axes, band)
    _yield_column(sheet, morning)
    _histograms(sheet, morning)
    return f"{one(band.count, 'part')} drawn"


def _draw_band(axes: Axes, band: Band) -> None:
    low, middle, high = 1e4 * band.values
    axes.fill_between(
        band.frequency_hz,
        low,
        high,
        color=pale(LINE, 0.65),
        lw=0,
        label=f"{PERCENTILES[0]:g} to {PERCENTILES[2]:g} % of parts",
    )
    axes.plot(band.frequency_hz, middle, color=LINE, lw=1.5, label="middle part")
    frequency_axis(axes, band.frequency_hz[0], band.frequency_hz[-1])
    _area_axis(axes, np.concatenate((low, high)))
    axes.legend(loc="lower left")


def _area_axis(axes: Axes, area: np.ndarray) -> None:
    """Logarithmic area axis in cm2, deep dips cut off at a thousandth of the peak."""
    top = float(np.max(area))
    axes.set_yscale("log")
    axes.set_ylim(max(float(np.min(area)) * 0.8, top / 1000), top * 1.3)
    log_ticks(axes.yaxis, *axes.get_ylim(), most=12)
    axes.set_ylabel("effective area |S|, cm²")


def _yield_column(sheet: Sheet, morning: Morning) -> None:
    y = 189.0
    sheet.text(214, y, "Yield" if morning.yields else "No limits are set", size=TEXT + 1, weight="bold")
    limits = morning.results.study.limits
    for found in morning.yields:
        words = (
            "all limits"
            if found.limit == "all limits"
            else limit_words(_figure_of(found.limit, limits), limits[_figure_of(found.limit, limits)])
        )
        y -= 7.0
        sheet.text(214, y, words, size=SMALL, color=SOFT_INK)
        y -= 4.6
        weight = "bold" if found.limit == "all limits" else "normal"
        sheet.text(
            214,
            y,
            f"{100 * found.share:.1f} %  ({100 * found.low:.1f} to {100 * found.high:.1f} %)",
            size=TEXT,
            weight=weight,
        )


def _figure_of(limit: str, limits: object) -> str:
    return next(name for name in limits if limit.startswith(f"{name} "))  # type: ignore[attr-defined]


def _histograms(sheet: Sheet, morning: Morning) -> None:
    """Spread of each figure of interest with its limits."""
    figures = morning.figures[:4]
    width = (262.0 - 8.0 * (len(figures) - 1)) / len(figures)
    for j, figure in enumerate(figures):
        name = naming(figure)
        values = name.shown(morning.results.figure(figure))
        known = values[np.isfinite(values)]
        axes = sheet.axes(25 + j * (width + 8), 32, width, 32)
        if len(known) and np.ptp(known) > 0:
            axes.hist(
                known, bins=min(max(int(np.sqrt(len(known))), 8), 40), color=pale(LINE, 0.45), edgecolor="white", lw=0.4
            )
        for limit in morning.results.study.limits.get(figure, ()):
            if limit is not None:
                axes.axvline(limit / name.factor, color=WINNER, lw=1.2, ls=(0, (4, 2)))
        axes.set_xlabel(name.label, size=SMALL)
        axes.xaxis.set_major_locator(MaxNLocator(4))
        axes.yaxis.set_major_locator(MaxNLocator(3, integer=True))
        axes.grid(axis="x", visible=False)
        if j == 0:
            axes.set_ylabel("parts", size=SMALL)


def has_neighbourhood(morning: Morning) -> bool:
    return morning.neighbourhood is not None and bool(morning.figures)


def neighbourhood_sheet(sheet: Sheet, morning: Morning) -> str:
    """Sheet with the first figure of interest around the winner: one panel for each thing that varies.

    Dots: the nearest cases; a line where cases differ from the winner in that one thing alone.
    """
    around = morning.neighbourhood
    assert around is not None  # has_neighbourhood has looked
    results, figure = morning.results, morning.figures[0]
    name = naming(figure)
    values = name.shown(results.figure(figure))
    columns = results.varying[:6]
    across = min(len(columns), 3)
    down = -(-len(columns) // across)
    width, height = (262.0 - 14.0 * (across - 1)) / across, (158.0 - 18.0 * (down - 1)) / down
    for k, column in enumerate(columns):
        i, j = divmod(k, across)
        axes = sheet.axes(25 + j * (width + 14), 34 + (down - 1 - i) * (height + 18), width, height)
        place = column.values if column.names else column_naming(column).shown(column.values)
        line = slice_through(results, around.winner, column.name)
        if len(line) > 2:
            axes.plot(
                place[line],
                values[line],
                "-" if not column.names else "s",
                color=LINE,
                lw=1.2,
                ms=4,
                label="this alone changes",
            )
        axes.plot(
            place[around.cases],
            values[around.cases],
            "o",
            color=RULE,
            mec=SOFT_INK,
            mew=0.6,
            ms=4.5,
            label="nearest cases",
        )
        axes.plot(
            place[around.winner], values[around.winner], "D", mfc="none", mec=WINNER, mew=1.4, ms=8, label="winner"
        )
        if column.names:
            axes.set_xticks(range(len(column.names)), column.names, rotation=30, ha="right", size=SMALL)
            axes.set_xlabel(column.name.replace("_", " "))
        else:
            axes.set_xlabel(column_naming(column).label)
        axes.margins(0.08)
        if j == 0:
            axes.set_ylabel(name.label)
        if k == 0:
            handles, labels = axes.get_legend_handles_labels()
    sheet.figure.legend(
        handles, labels, loc="upper right", bbox_to_anchor=(287 / sheet.width, 205 / sheet.height), ncols=3
    )
    return f"case {results.numbers[around.winner]} and its neighbours"
