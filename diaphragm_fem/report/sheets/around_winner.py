"""Sheet of a study's morning: how the first figure changes when one thing alone moves away from the winner."""

import numpy as np
from matplotlib.axes import Axes

from diaphragm_fem.report.sheets.morning_marks import BASE_LINE, BEST, LINE, name_levels, tell_inputs
from diaphragm_fem.report.sheets.names import folded_to
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import RULE, SOFT_INK, TEXT, pale
from diaphragm_fem.report.words.study import column_naming, naming
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.neighbours import slice_through
from diaphragm_fem.study.morning.results import Column
from diaphragm_fem.study.plan.amount import amount_in_si

MOST_PANELS = 6
GAP, APART = 14.0, 3.0  # mm between panels, and at least between their titles
ROW_GAP, UNDER_NAMES = 18.0, 30.0  # mm between rows: below numbers, below names aslant


def has_slices(morning: Morning) -> bool:
    """Whether cases differ from the winner in one thing alone: those of a grid do, sampled ones never."""
    around = morning.neighbourhood
    return bool(around and morning.figures) and bool(_sliced(morning))


def _sliced(morning: Morning) -> list[Column]:
    results, around = morning.results, morning.neighbourhood
    assert around is not None  # has_slices has looked
    return [c for c in results.varying if len(slice_through(results, around.winner, c.name)) > 2][:MOST_PANELS]


def around_winner_sheet(sheet: Sheet, morning: Morning) -> str:
    """A panel for each thing of which a line of cases leads away from the winner; shaded is its assumed scatter."""
    around = morning.neighbourhood
    assert around is not None
    results, name = morning.results, naming(morning.figures[0])
    columns = _sliced(morning)
    across = min(len(columns), 3)
    down = -(-len(columns) // across)
    gap = UNDER_NAMES if any(column.names for column in columns[: across * (down - 1)]) else ROW_GAP
    width, height = (262.0 - GAP * (across - 1)) / across, (158.0 - gap * (down - 1)) / down
    for k, column in enumerate(columns):
        i, j = divmod(k, across)
        axes = sheet.axes(25 + j * (width + GAP), 34 + (down - 1 - i) * (height + gap), width, height)
        _draw(axes, morning, column, around.winner, width)
        if j == 0:
            axes.set_ylabel(name.label)
        if k == 0:
            handles, labels = axes.get_legend_handles_labels()
    sheet.legend(287, 205, handles, labels=labels, loc="upper right", ncols=5)
    tell_inputs(sheet, morning)
    return f"case {results.numbers[around.winner]} and what differs from it in one thing"


def _draw(axes: Axes, morning: Morning, column: Column, winner: int, width: float) -> None:
    results, name = morning.results, naming(morning.figures[0])
    values = name.shown(results.figure(morning.figures[0]))
    place = column.values if column.names else column_naming(column).shown(column.values)
    line = slice_through(results, winner, column.name)
    style = "s" if column.names else "-o"
    axes.plot(place[line], values[line], style, color=LINE, mec=SOFT_INK, mfc=RULE, mew=0.6, lw=1.2, ms=4,
              label="this alone changes")  # fmt: skip
    axes.plot(place[winner], values[winner], "D", mfc="none", mec=BEST, mew=1.4, ms=8, label="winner", ls="none")
    base = float(name.shown(morning.base.figure(morning.figures[0])))
    if np.isfinite(base):
        axes.axhline(base, label="base design", **BASE_LINE)
    if column.names:
        axes.set_xticks(range(len(column.names)))
        name_levels(axes, column.names, width / len(column.names))
        label = column.name.replace("_", " ")
    else:
        label = column_naming(column).label
        if reach := _reach(morning, column):
            axes.axvspan(*reach, color=pale(BEST, 0.8), lw=0, zorder=0, label="assumed manufacturing scatter")
            _draw_solved(axes, morning, column, reach)
    axes.set_xlabel("\n".join(folded_to(label, width + GAP - APART, TEXT)))
    axes.margins(0.08)


def _draw_solved(axes: Axes, morning: Morning, column: Column, reach: list[float]) -> None:
    """What the winner does within that scatter: a line to the next case alone would tell what was not solved."""
    around, winner = morning.neighbourhood, morning.best[0]
    assert around is not None  # has_slices has looked
    figure, amount = morning.figures[0], amount_in_si(winner.amounts[column.name])
    designs = [winner, *(near.design for near in around.neighbours if near.variable == column.name)]
    places = [(amount or 0.0) / column_naming(column).factor, *reach]
    values = [float(naming(figure).shown(one.figure(figure))) for one in designs]
    line = np.array(sorted(zip(places, values, strict=True))).T
    axes.plot(*line, "-o", color=BEST, ms=3, lw=1.2, label="solved again within it")


def _reach(morning: Morning, column: Column) -> list[float]:
    """Where the winner's neighbours lie on the axis; nothing for a ratio, whose neighbours are amounts."""
    around = morning.neighbourhood
    ratios = [variable.name for variable in morning.results.study.recipe.variables if variable.of is not None]
    if around is None or column.name in ratios:
        return []
    amounts = [near.design.amounts[column.name] for near in around.neighbours if near.variable == column.name]
    return [(amount_in_si(amount) or 0.0) / column_naming(column).factor for amount in amounts]
