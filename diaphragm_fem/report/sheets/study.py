"""Figures of a study's morning: the trade-off and main effects."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from math import ceil

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from diaphragm_fem.report.sheets.callouts import number_points
from diaphragm_fem.report.sheets.names import folded_to, shorten_apart
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import CYCLE, INK, RULE, SMALL, log_ticks, pale, text_width
from diaphragm_fem.report.study_words import column_naming, naming
from diaphragm_fem.report.words import one
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.effects import MOST_LEVELS, Effect

CLOUD, FRONT, BEST = "#b4bdc6", CYCLE[0], CYCLE[2]
MOST_POINTS = 20000
MOST_PANELS = 6
ASLANT_ROOM = 24.0  # mm along a name at 35 degrees, down to the title block


def has_trade_off(morning: Morning) -> bool:
    """Whether two figures are at stake and some case has both."""
    if len(names := _traded(morning)) < 2 or (morning.ranking is None and not morning.aims):
        return False
    both = [np.isfinite(morning.results.figure(name)) for name in names[:2]]
    return bool((both[0] & both[1]).any())


def _traded(morning: Morning) -> list[str]:
    return list(morning.aims) if len(morning.aims) > 1 else list(morning.figures)


def trade_off_sheet(sheet: Sheet, morning: Morning) -> str:
    """Sheet with every case over two figures: the cloud, the front that nothing beats, the best ones by number."""
    results = morning.results
    x_name, y_name = _traded(morning)[:2]
    x, y = naming(x_name), naming(y_name)
    across, up = x.shown(results.figure(x_name)), y.shown(results.figure(y_name))
    known = np.flatnonzero(np.isfinite(across) & np.isfinite(up))
    axes = sheet.axes(25, 32, 190, 160)
    shown = known[:: max(ceil(len(known) / MOST_POINTS), 1)]
    inside = np.ones(len(results), bool) if morning.ranking is None else morning.ranking.inside
    size = float(np.clip(60 / np.sqrt(len(known)), 2.2, 5.0))
    within, without = shown[inside[shown]], shown[~inside[shown]]
    if len(without):
        axes.plot(
            across[without],
            up[without],
            "x",
            ms=0.8 * size,
            color=pale(CLOUD, 0.3),
            mew=0.7,
            label="outside a limit",
        )
    axes.plot(across[within], up[within], "o", ms=size, color=CLOUD, mew=0, label="a case")
    if len(morning.front) and len(morning.aims) == 2:
        style = {"color": FRONT, "ms": 3.4, "lw": 1.0, "marker": "o", "where": "post"}
        axes.step(across[morning.front], up[morning.front], label="nothing is better in both", **style)
    elif len(morning.front):
        axes.plot(
            across[morning.front],
            up[morning.front],
            "o",
            color=FRONT,
            ms=3.4,
            label=f"nothing is better in all {len(_traded(morning))}",
        )
    best = [case for case in morning.best if np.isfinite(across[case]) and np.isfinite(up[case])]
    if best:
        axes.plot(
            across[best],
            up[best],
            "D",
            ms=6.5,
            mfc="none",
            mec=BEST,
            mew=1.3,
            label="best by the wish list",
            ls="none",
        )
    axes.set_xlabel(_with_aim(morning, x_name))
    axes.set_ylabel(_with_aim(morning, y_name))
    axes.margins(0.05)
    axes.autoscale_view()
    if best:
        points = np.column_stack((across, up))
        number_points(axes, points[best], points[shown], BEST)
    sheet.figure.legend(loc="upper left", bbox_to_anchor=(222 / sheet.width, 194 / sheet.height), labelspacing=0.7)
    _best_column(sheet, morning)
    return f"{one(len(known), 'case')} that have both figures"


def _with_aim(morning: Morning, figure: str) -> str:
    aim = morning.aims.get(figure)
    return f"{naming(figure).label}  ({aim} is wanted)" if aim else naming(figure).label


def _best_column(sheet: Sheet, morning: Morning) -> None:
    """The best cases in words beside the cloud."""
    y = 150.0
    for place, case in enumerate(morning.best[:5], start=1):
        lines = [f"{place}  case {morning.results.numbers[case]}"]
        lines += [
            f"{naming(name).words} {naming(name).text(morning.results.figure(name)[case])}"
            for name in morning.figures[:3]
        ]
        for line, words in enumerate(lines):
            bold = {"weight": "bold", "color": BEST} if line == 0 else {"color": INK}
            sheet.text(224, y, words, size=SMALL, **bold)
            y -= 4.2
        y -= 2.2


def effects_sheet(sheet: Sheet, morning: Morning) -> str:
    """Sheet with the mean of each figure over each thing that varies, bars of two standard errors."""
    variables = list(dict.fromkeys(effect.variable for effect in morning.effects))[:MOST_PANELS]
    groups = " or ".join(sorted({"in one bin" if _binned(morning, v) else "at one level" for v in variables}))
    rows, columns = len(morning.figures), len(variables)
    left, right, bottom, top = 28.0, 287.0, 34.0, 196.0
    gap = 5.0
    width, height = (right - left - gap * (columns - 1)) / columns, (top - bottom - gap * (rows - 1)) / rows
    found = {(effect.figure, effect.variable): effect for effect in morning.effects}
    for i, figure in enumerate(morning.figures):
        row = [found[figure, variable] for variable in variables if (figure, variable) in found]
        if not row:
            continue
        shown = [(naming(figure).shown(e.mean), 2 * naming(figure).shown(e.error)) for e in row]
        limits = _span(np.concatenate([part for mean, error in shown for part in (mean - error, mean + error)]))
        for j, variable in enumerate(variables):
            if (figure, variable) not in found:
                continue
            axes = sheet.axes(left + j * (width + gap), bottom + (rows - 1 - i) * (height + gap), width, height)
            _draw_effect(axes, morning, found[figure, variable], last=i == rows - 1, width=width)
            axes.set_ylim(*limits)
            axes.yaxis.set_major_locator(MaxNLocator(4))
            if j == 0:
                axes.set_ylabel(_folded(naming(figure).label, 22), size=SMALL)
            else:
                axes.tick_params(axis="y", labelleft=False)
    return f"means {groups}; bars: two standard errors"


def _span(values: np.ndarray) -> tuple[float, float]:
    low, high = float(np.min(values)), float(np.max(values))
    room = 0.06 * (high - low) or 0.05 * abs(high) or 1.0
    return low - room, high + room


def _binned(morning: Morning, variable: str) -> bool:
    """Whether a variable has too many values for a level each, so that its cases are taken together in bins."""
    column = morning.results.column(variable)
    return not column.names and len(np.unique(column.values)) > MOST_LEVELS


def _draw_effect(axes: Axes, morning: Morning, effect: Effect, *, last: bool, width: float) -> None:
    """One panel, `width` mm wide."""
    column = morning.results.column(effect.variable)
    name, figure = column_naming(column), naming(effect.figure)
    mean, error = figure.shown(effect.mean), 2 * figure.shown(effect.error)
    if effect.labels:
        place = np.arange(len(effect.labels), dtype=float)
        axes.errorbar(place, mean, error, fmt="s", ms=4, color=FRONT, elinewidth=0.8, capsize=1.5)
        axes.set_xlim(-0.6, len(place) - 0.4)
        axes.set_xticks(place)
        if last:
            _name_levels(axes, effect.labels, width / len(place))
        else:
            axes.tick_params(axis="x", labelbottom=False)
        axes.grid(axis="x", visible=False)
    else:
        place = name.shown(effect.place)
        axes.errorbar(place, mean, error, fmt="-o", ms=2.8, lw=1.0, color=FRONT, elinewidth=0.8, capsize=1.5)
        most = max(int(width / 12), 3)
        if column.log and place.min() > 0:
            axes.set_xscale("log")
            log_ticks(axes.xaxis, *axes.get_xlim(), most=most)
        else:
            axes.xaxis.set_major_locator(MaxNLocator(min(most, 7)))
        axes.tick_params(axis="x", labelbottom=last)
    axes.axhline(np.average(mean, weights=effect.count), color=RULE, lw=0.8, zorder=1)
    if last and not effect.labels:
        bins = f"  ({len(place)} bins)" if _binned(morning, effect.variable) else ""
        axes.set_xlabel(name.label + bins, size=SMALL)


def _name_levels(axes: Axes, labels: Sequence[str], room: float) -> None:
    """Names under their marks, `room` mm each: level and folded where every word fits, else aslant."""
    folded = [folded_to(label, room - 1.5, SMALL) for label in labels]
    if max(text_width(line, SMALL) for words in folded for line in words) <= room - 1.5:
        axes.set_xticklabels(["\n".join(words) for words in folded])
    else:
        short = shorten_apart(labels, ASLANT_ROOM, SMALL)
        axes.set_xticklabels(short, rotation=35, ha="right", rotation_mode="anchor")


def _folded(words: str, most: int) -> str:
    return "\n".join(textwrap.wrap(words, most))
