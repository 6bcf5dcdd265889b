"""Figure of a study's morning: what the variance of each figure comes from."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Patch

from diaphragm_fem.report.sheets.names import shorten_apart
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import CYCLE, INK, SMALL, SOFT_INK, TEXT, pale
from diaphragm_fem.report.study_words import naming
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.effects import Index

ALONE, TOGETHER = CYCLE[0], pale(CYCLE[0], 0.6)
LEFT, RIGHT, FOOT, HEAD = 46.0, 287.0, 24.0, 198.0
NUMBERS = 20.0  # right of each panel, mm
OVERHEAD = 15.0  # title, ticks and label of a panel, mm
LEAST_PITCH, WIDEST_PITCH = 7.0, 24.0  # from variable to variable, mm


def sensitivity_sheet(sheet: Sheet, morning: Morning) -> str:
    """Sheet with the share of each figure's variance that each variable explains, alone and together with others."""
    figures = [figure for figure in morning.figures if any(index.figure == figure for index in morning.indices)]
    totals = any(np.isfinite(index.total) for index in morning.indices)
    remark = "Sobol indices, bars of 95 %" if totals else "first-order indices from the means of bins, bars of 95 %"
    variables = list(dict.fromkeys(index.variable for index in morning.indices))
    across = panels_across(len(figures), len(variables))
    down = -(-len(figures) // across)
    wide, high = (RIGHT - LEFT) / across, (HEAD - FOOT - 6) / down
    names = shorten_apart([v.replace("_", " ") for v in variables], LEFT - 13, TEXT)
    end = _end([index for index in morning.indices if index.figure in figures])
    for place, figure in enumerate(figures):
        i, j = divmod(place, across)
        height = min(high - OVERHEAD, WIDEST_PITCH * len(variables))
        axes = sheet.axes(LEFT + j * wide, HEAD - 4 - i * high - height, wide - NUMBERS, height)
        _draw_figure(axes, [x for x in morning.indices if x.figure == figure], variables, totals)
        axes.set_yticks(range(len(variables)), names, size=TEXT)
        axes.tick_params(axis="y", length=0, labelleft=j == 0)
        axes.set_ylim(len(variables) - 0.4, -0.6)
        axes.set_xlim(0.0, end)
        axes.grid(axis="y", visible=False)
        axes.set_title(naming(figure).words, loc="left", weight="bold")
        if place + across >= len(figures):
            axes.set_xlabel("share of variance", size=SMALL)
    handles = [Patch(color=ALONE, label="alone")]
    if totals:
        handles.append(Patch(color=TOGETHER, label="together with others"))
    place_of_key = (LEFT / sheet.width, (FOOT - 1) / sheet.height)
    sheet.figure.legend(handles=handles, loc="upper left", bbox_to_anchor=place_of_key, ncols=2, borderpad=0.0)
    return remark


def panels_across(figures: int, variables: int) -> int:
    """Fewest panels side by side that leave bars thick enough: bars are long where there are few of them."""
    for across in range(1, figures):
        down = -(-figures // across)
        if (HEAD - FOOT - 6) / down - OVERHEAD >= LEAST_PITCH * variables:
            return across
    return figures


def _end(indices: Sequence[Index]) -> float:
    """End of the axis, one for all panels, so that no interval is cut."""
    reach = [1.0]
    for index in indices:
        for share, error in ((index.first, index.first_error), (index.total, index.total_error)):
            if np.isfinite(share):
                reach.append(max(share, 0.0) + (error if np.isfinite(error) else 0.0))
    return max(1.05, 1.02 * max(reach))


def _draw_figure(axes: Axes, indices: Sequence[Index], variables: Sequence[str], totals: bool) -> None:
    for index in indices:
        row = variables.index(index.variable)
        if totals:
            _bar(axes, row + 0.19, index.total, index.total_error, TOGETHER, SOFT_INK)
        _bar(axes, row - 0.19 * totals, index.first, index.first_error, ALONE, INK)


def _bar(axes: Axes, row: float, share: float, error: float, colour: str, ink: str) -> None:
    """A bar of a share with its interval, which ends at zero, and its numbers at the end of the row."""
    if not np.isfinite(share):
        return
    share = max(share, 0.0)
    axes.barh(row, share, 0.34, color=colour)
    words = f"{100 * share:.0f} %"
    if np.isfinite(error):
        axes.errorbar(share, row, xerr=[[min(error, share)], [error]], color=ink, elinewidth=0.8, capsize=1.5)
        places = 0 if error >= 0.01 else 1
        words = f"{100 * share:.{places}f} ± {100 * error:.{places}f} %"
    axes.annotate(words, (1.0, row), (4, 0), xycoords=("axes fraction", "data"), textcoords="offset points",
                  va="center", size=SMALL, color=ink)  # fmt: skip
