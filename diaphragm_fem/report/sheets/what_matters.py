"""Sheet of a study's morning: what each figure's variance comes from, and its mean over what matters most."""

from collections.abc import Sequence

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator

from diaphragm_fem.report.contents.scatter import TOO_FEW, are_exact, too_few_words
from diaphragm_fem.report.sheets.morning_marks import BASE_MARK, LINE, name_levels, tell_inputs
from diaphragm_fem.report.sheets.names import folded_to, shorten_apart
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import INK, ROUND, RULE, SMALL, SOFT_INK, log_ticks, note, pale
from diaphragm_fem.report.words.study import column_naming, naming
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.effects import Effect, Index
from diaphragm_fem.study.plan.amount import amount_in_si

ALONE, TOGETHER = LINE, pale(LINE, 0.6)
MOST_PANELS, MOST_FIGURES = 4, 6  # across and down
BARS = (46.0, 42.0)  # left and width of the bars, mm
NUMBERS = 20.0  # right of the bars
EFFECTS = (130.0, 287.0)
FOOT, HEAD, ROW_GAP, GAP = 38.0, 194.0, 8.0, 5.0
APART = 3.0  # mm at least between titles of axes side by side


def what_matters_sheet(sheet: Sheet, morning: Morning) -> str:
    """Row by row a figure: bars of the share of its variance that each variable explains, alone and together with
    others, and its mean over the variables that matter most; bars and lines of error are of 95 %."""
    known = {index.figure for index in morning.indices} | {effect.figure for effect in morning.effects}
    figures = [name for name in morning.figures if name in known][:MOST_FIGURES]
    totals = any(np.isfinite(index.total) for index in morning.indices)
    shares, variables = _shares(morning), [column.name for column in morning.results.varying]
    variables.sort(key=lambda name: -shares.get(name, 0.0))
    shown = variables[:MOST_PANELS]
    height = (HEAD - FOOT - ROW_GAP * (len(figures) - 1)) / len(figures)
    names = shorten_apart([name.replace("_", " ") for name in variables], BARS[0] - 13, SMALL)
    end = _end([index for index in morning.indices if index.figure in figures])
    for place, figure in enumerate(figures):
        bottom, last = HEAD - height - place * (height + ROW_GAP), place == len(figures) - 1
        axes = sheet.axes(BARS[0], bottom, BARS[1], height)
        _draw_figure(axes, [x for x in morning.indices if x.figure == figure], variables, totals)
        axes.set_yticks(range(len(variables)), names, size=SMALL)
        axes.tick_params(axis="y", length=0)
        axes.tick_params(axis="x", labelbottom=last)
        axes.set_ylim(max(len(variables), 3) - 0.4, -0.6)
        axes.set_xlim(0.0, end)
        axes.grid(axis="y", visible=False)
        axes.set_title(naming(figure).words, loc="left", weight="bold")
        if last:
            axes.set_xlabel("share of its variance", size=SMALL)
        _draw_effects(sheet, morning, figure, shown, bottom, height, last=last)
    handles: list[Artist] = [Patch(color=ALONE, label="alone")]
    if totals:
        handles.append(Patch(color=TOGETHER, label="together with others"))
    handles.append(Line2D([], [], **{**BASE_MARK, "ms": 5}, label="base design"))
    handles.append(Line2D([], [], color=RULE, lw=0.8, label="mean of all cases"))
    sheet.legend(12, 29, handles, ncols=len(handles), borderpad=0.0)
    if few := too_few_words(morning):
        sheet.text(12, 20.5, few, size=SMALL, color=SOFT_INK)
    tell_inputs(sheet, morning)
    binned = {effect.binned for effect in morning.effects if effect.variable in shown}
    groups = " or ".join(sorted("in one bin" if each else "at one level" for each in binned))
    most = "" if len(variables) <= MOST_PANELS else f", the {MOST_PANELS} that matter most"
    bars = "all exact for this grid" if are_exact(morning) else "bars 95 %"
    return f"left: {'Sobol indices' if totals else 'shares of variance'}; right: means {groups}{most}; {bars}"


def _shares(morning: Morning) -> dict[str, float]:
    """The largest share of each variable in any figure's variance."""
    found: dict[str, float] = {}
    for index in morning.indices:
        share = index.total if np.isfinite(index.total) else index.first
        found[index.variable] = max(found.get(index.variable, 0.0), share if np.isfinite(share) else 0.0)
    return found


def _draw_effects(
    sheet: Sheet, morning: Morning, figure: str, variables: Sequence[str], bottom: float, height: float, *, last: bool
) -> None:
    """The row of one figure: its means on one axis, the base design among them."""
    found = {effect.variable: effect for effect in morning.effects if effect.figure == figure}
    drawn = [(place, found[name]) for place, name in enumerate(variables) if name in found]
    if not drawn:
        return
    width = (EFFECTS[1] - EFFECTS[0] - GAP * (len(variables) - 1)) / len(variables)
    shown = [(naming(figure).shown(e.mean), naming(figure).shown(e.interval)) for _, e in drawn]
    reach = np.concatenate([part for mean, error in shown for part in (mean, mean - error, mean + error)])
    limits = _span(reach[np.isfinite(reach)])
    for place, effect in drawn:
        axes = sheet.axes(EFFECTS[0] + place * (width + GAP), bottom, width, height)
        if not effect.labels:
            _lay_out_amounts(axes, morning, effect.variable, width)
        _draw_effect(axes, morning, effect, last=last, width=width)
        axes.set_ylim(*limits)
        _mark_base(axes, morning, effect, limits)
        axes.yaxis.set_major_locator(MaxNLocator(4, steps=ROUND))
        if place == drawn[0][0]:
            axes.set_ylabel("\n".join(folded_to(naming(figure).label, height + ROW_GAP - APART, SMALL)), size=SMALL)
        else:
            axes.tick_params(axis="y", labelleft=False)


def _mark_base(axes: Axes, morning: Morning, effect: Effect, limits: tuple[float, float]) -> None:
    """The base design where it stands; at the panel's edge, and open, where its figure lies beyond."""
    column, amount = morning.results.column(effect.variable), morning.base.amounts.get(effect.variable)
    value = naming(effect.figure).shown(morning.base.figure(effect.figure))
    place: float | None
    if column.names:
        place = effect.labels.index(str(amount)) if str(amount) in effect.labels else None
    else:
        size = amount_in_si(amount)
        place = None if size is None or column.unit == "" else size / column_naming(column).factor
    low, high = axes.get_xlim()
    if place is None or not np.isfinite(value) or not low <= place <= high:
        return
    inside = limits[0] <= value <= limits[1]
    mark = {**BASE_MARK, "ms": 5} | ({} if inside else {"marker": "^" if value > limits[1] else "v"})
    axes.plot([place], [float(np.clip(value, *limits))], clip_on=False, zorder=6, **mark)


def _lay_out_amounts(axes: Axes, morning: Morning, variable: str, width: float) -> None:
    """The axis of a variable alike in every row, for the lowest alone bears numbers, though a figure that some cases
    lack has its means at other places; panels are `width` mm wide."""
    column, most = morning.results.column(variable), max(int(width / 12), 3)
    places = [column_naming(column).shown(effect.place) for effect in morning.effects if effect.variable == variable]
    reach = np.concatenate(places)
    if column.log and reach.min() > 0:
        axes.set_xscale("log")
        low, high = np.exp(_span(np.log(reach)))
        axes.set_xlim(low, high)
        log_ticks(axes.xaxis, low, high, most=most)
    else:
        axes.set_xlim(*_span(reach))
        axes.xaxis.set_major_locator(MaxNLocator(min(most, 7), steps=ROUND))


def _span(values: np.ndarray) -> tuple[float, float]:
    low, high = float(np.min(values)), float(np.max(values))
    room = 0.06 * (high - low) or 0.05 * abs(high) or 1.0
    return low - room, high + room


def _draw_effect(axes: Axes, morning: Morning, effect: Effect, *, last: bool, width: float) -> None:
    """One panel, `width` mm wide."""
    column = morning.results.column(effect.variable)
    name, figure = column_naming(column), naming(effect.figure)
    mean, error = figure.shown(effect.mean), figure.shown(effect.interval)
    if effect.labels:
        place = np.arange(len(effect.labels), dtype=float)
        axes.errorbar(place, mean, error, fmt="s", ms=4, color=LINE, elinewidth=0.8, capsize=1.5)
        axes.set_xlim(-0.6, len(place) - 0.4)
        axes.set_xticks(place)
        if last:
            name_levels(axes, effect.labels, width / len(place))
        else:
            axes.tick_params(axis="x", labelbottom=False)
        axes.grid(axis="x", visible=False)
    else:
        place = name.shown(effect.place)
        axes.errorbar(place, mean, error, fmt="-o", ms=2.8, lw=1.0, color=LINE, elinewidth=0.8, capsize=1.5)
        axes.tick_params(axis="x", labelbottom=last)
    axes.axhline(np.average(mean, weights=effect.count), color=RULE, lw=0.8, zorder=1)
    if last and not effect.labels:
        bins = f"\n({len(place)} bins)" if effect.binned else ""
        axes.set_xlabel("\n".join(folded_to(name.label, width + GAP - APART, SMALL)) + bins, size=SMALL)


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
        if not index.told:
            note(axes, TOO_FEW, (0.0, row), (4, 0), ("data", "data"), va="center", color=SOFT_INK)
            continue
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
    if np.isfinite(error) and error > 0:
        axes.errorbar(share, row, xerr=[[min(error, share)], [error]], color=ink, elinewidth=0.8, capsize=1.5)
        places = 0 if error >= 0.01 else 1
        words = f"{100 * share:.{places}f} ± {100 * error:.{places}f} %"
    note(axes, words, (1.0, row), (4, 0), ("axes fraction", "data"), va="center", color=ink)
