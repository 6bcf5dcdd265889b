"""The ladder at a glance: every check as a point, its difference against what it may be."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

from diaphragm_fem.report.sheets.names import folded_to
from diaphragm_fem.report.sheets.sheet import Listed, Sheet
from diaphragm_fem.report.sheets.style import ALARM, CYCLE, INK, RULE, SMALL, SOFT_INK
from diaphragm_fem.report.words.words import one
from diaphragm_fem.verify.check import CheckResult
from diaphragm_fem.verify.ladder import RungSummary, percent, summarise

LEAST, MOST = 1e-8, 1.0  # relative differences shown; smaller ones sit on the left border
AGAINST = 209.0  # mm: where the words begin on what a rung is held against
MODEL_COLOURS = {"shell": CYCLE[0], "solid": CYCLE[2], "analysis": CYCLE[1], "load": CYCLE[3]}
MODEL_MARKS = {"shell": "o", "solid": "s", "analysis": "^", "load": "D"}
FAILED = {"marker": "x", "ms": 6.0, "mew": 1.6, "color": ALARM}  # no red alone: passed checks of the solid are red too


def ladder_sheet(sheet: Sheet, results: Sequence[CheckResult]) -> str:
    """Sheet with one row per rung: each check's worst difference, and a tick where it would fail."""
    table = summarise(results)
    passed = sum(result.passed for result in results)
    remark = f"{passed} of {one(len(results), 'check')} passed, {sum(r.reference.size for r in results)} values"
    axes = sheet.axes(62, 27, 114, 160)
    for row, summary in enumerate(table):
        _row(axes, row, [r for r in results if r.check.rung == summary.rung])
    _frame(axes, table)
    _columns(sheet, table)
    _legend(sheet)
    return remark


def _row(axes: Axes, row: int, members: Sequence[CheckResult]) -> None:
    """The checks of a rung, spread a little up and down so that they do not hide each other."""
    shift = np.linspace(0.28, -0.28, len(members)) if len(members) > 1 else np.zeros(1)
    for result, offset in zip(members, shift, strict=True):
        size = float(np.clip(abs(result.difference), LEAST, MOST))
        allowed = float(np.clip(result.check.allowed, LEAST, MOST))
        y, model = row + offset, result.check.model
        axes.plot([size, allowed], [y, y], color=RULE, lw=0.4, zorder=1)
        axes.plot([allowed], [y], marker="|", ms=4, mew=0.8, color=SOFT_INK, zorder=2)
        look = {"marker": MODEL_MARKS[model], "ms": 3.0, "mew": 0, "color": MODEL_COLOURS[model]}
        axes.plot([size], [y], **(look if result.passed else FAILED), zorder=3)


def _frame(axes: Axes, table: Sequence[RungSummary]) -> None:
    axes.set_xscale("log")
    axes.set_xlim(LEAST * 0.7, MOST)
    axes.set_ylim(len(table) - 0.5, -0.5)
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.grid(axis="x")
    for border in range(1, len(table)):
        axes.axhline(border - 0.5, color=RULE, lw=0.4)
    axes.xaxis.set_major_locator(FixedLocator([10.0**k for k in range(-8, 1)]))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.xaxis.set_major_formatter(FuncFormatter(lambda x, _: _tick(x)))
    axes.set_xlabel("largest relative difference from the reference")


def _tick(value: float) -> str:
    if value <= LEAST:
        return "none"
    return "" if round(np.log10(value)) % 2 else f"{value * 100:g} %"  # of every second decade, or they touch


def _columns(sheet: Sheet, table: Sequence[RungSummary]) -> None:
    """Names at the left; values, worst difference and what the rung is held against at the right."""
    height = 160 / len(table)
    top = 27 + 160
    for left, words in ((178, "values"), (190, "worst"), (AGAINST, "held against")):
        sheet.text(left, top + 3, words, size=SMALL, color=SOFT_INK)
    for row, summary in enumerate(table):
        y = top - (row + 0.5) * height
        sheet.text(60, y, summary.rung, ha="right", va="center", color=INK)
        sheet.text(188, y, str(summary.values), ha="right", va="center", size=SMALL)
        weight = "normal" if summary.passed else "bold"
        sheet.text(190, y, percent(summary.worst), va="center", size=SMALL, weight=weight)
        look = {"size": SMALL, "color": SOFT_INK, "linespacing": 1.1}
        sheet.text(AGAINST, y, "\n".join(folded_to(summary.against, 287.0 - AGAINST, SMALL)), va="center", **look)


def _legend(sheet: Sheet) -> None:
    handles = [
        Line2D([], [], ls="none", marker=MODEL_MARKS[model], ms=4, mew=0, color=colour, label=f"{model} check")
        for model, colour in MODEL_COLOURS.items()
    ]
    handles.append(Line2D([], [], ls="none", label="failed", **FAILED))
    handles.append(Line2D([], [], ls="none", marker="|", ms=6, mew=1, color=SOFT_INK, label="allowed"))
    sheet.legend(60, 201, handles, ncols=6, columnspacing=1.2)


OF_THE_LADDER = (Listed("verification", "Verification", ladder_sheet, lambda _: "the ladder of checks"),)
"""Listed here and nowhere else: it brings the whole ladder of checks."""
