"""Designs side by side: profiles laid over each other, curves on one axis, figures against the baseline."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator, MultipleLocator

from diaphragm_fem.analysis.figure_definitions import DEFINITIONS as DEFINED
from diaphragm_fem.answer.comparison import Comparison, FigureRow, level_difference
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.evidence import MARK
from diaphragm_fem.report.comparison_words import design_names, show_difference
from diaphragm_fem.report.figure_words import HEADLINES
from diaphragm_fem.report.sheets.designs import (
    BOLD,
    COLUMN,
    RIGHT,
    Look,
    baseline_name,
    list_designs,
    looks,
    short_names,
)
from diaphragm_fem.report.sheets.profile import bounds, trace
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import INK, SMALL, SOFT_INK, TEXT, frequency_axis, log_ticks, text_width
from diaphragm_fem.report.study_words import naming

ROOM = 0.05  # of a panel, free on every side of the profiles
LEVELS_DB = 15.0
LEAST_SPAN = 0.1  # of the largest value: small differences shall look small
MOST_PANELS = 24  # on a sheet; the page has all
MOST_LABELS = 12  # designs beyond which values are not written beside their dots


def profiles_sheet(sheet: Sheet, comparison: Comparison) -> str:
    """Sheet with the meridians laid over each other and the walls' thickness over the radius."""
    designs = [one.design for one in comparison.designs]
    boxes = np.array([bounds(design) for design in designs])
    left, width, bottom, height = 22.0, 175.0, 76.0, 118.0
    axes = sheet.axes(left, bottom, width, height)
    across, up = one_scale(boxes[:, ::2].min(axis=0), boxes[:, 1::2].max(axis=0), width, height)
    axes.set_xlim(*across)
    axes.set_ylim(*up)
    axes.set_ylabel("height z, mm")
    axes.tick_params(labelbottom=False)
    walls = sheet.axes(left, 27.0, width, 42.0)
    shared = all(_outline(design) == _outline(designs[comparison.baseline]) for design in designs)
    for d, (design, look) in enumerate(zip(designs, looks(comparison), strict=True)):
        base = d == comparison.baseline
        for piece in (*design.meridian, *design.former):
            point = 1e3 * trace(piece)[0]
            axes.plot(
                *point.T, color=look.colour, lw=2.6 if base else 1.1, zorder=look.order, solid_joinstyle="round"
            )
        _draw_thickness(walls, design, look)
    if shared:
        _say(axes, "all designs share this meridian")
    walls.set_xlim(axes.get_xlim())
    walls.set_ylim(0, 1.15 * walls.get_ylim()[1])
    walls.set_xlabel("radius r, mm")
    walls.set_ylabel("wall thickness, µm")
    list_designs(sheet, comparison, walls=True)
    return "mid-surfaces to one scale; z points to the listener"


def one_scale(low: np.ndarray, high: np.ndarray, width: float, height: float) -> np.ndarray:
    """Limits ((left, right), (foot, top)) of a drawing of that size which holds the box with room around it.

    Both directions get the scale of the one that needs more. Room is taken right of the axis of revolution first:
    there is nothing to draw at a negative radius.
    """
    panel = np.array([width, height])
    span = float(((high - low) / panel).max()) / (1 - 2 * ROOM) * panel
    begin = (low + high - span) / 2
    begin[0] = max(begin[0], min(0.0, low[0]) - ROOM * span[0])
    return np.stack((begin, begin + span), axis=1)


def _say(axes: Axes, words: str) -> None:
    """Words at the middle of the upper edge."""
    axes.annotate(words, (0.5, 0.97), xycoords="axes fraction", ha="center", va="top", size=TEXT, color=SOFT_INK)


def _outline(design: Design) -> list[tuple[float, ...]]:
    """End points of all pieces in micrometres: equal for designs that differ in wall alone."""
    pieces = (*design.meridian, *design.former)
    return [tuple(np.round(1e6 * p.curve.point(np.array([0.0, p.curve.length / 2])).ravel(), 1)) for p in pieces]


def _draw_thickness(axes: Axes, design: Design, look: Look) -> None:
    r, thick = [], []
    for piece in design.meridian:
        point, _, fraction = trace(piece)
        r += [*(1e3 * point[:, 0]), np.nan]
        thick += [*(1e6 * piece.wall.thickness(fraction)), np.nan]
    axes.plot(r, thick, color=look.colour, lw=look.width, zorder=look.order)


def curves_sheet(sheet: Sheet, comparison: Comparison) -> str:
    """Sheet with |S|, |U/F| and its level over the baseline's; the baseline is driven."""
    base = comparison.responses[comparison.baseline]
    assert base is not None  # the listing has looked
    left, width = 25.0, 172.0
    area = sheet.axes(left, 139.0, width, 55.0)
    volume = sheet.axes(left, 80.0, width, 55.0)
    level = sheet.axes(left, 29.0, width, 47.0)
    departure = comparison.row("departure_hz").values
    for d, (response, look) in enumerate(zip(comparison.responses, looks(comparison), strict=True)):
        if response is None:
            continue
        end = departure[d]
        f = response.frequency_hz
        _draw_curve(area, f, 1e4 * np.abs(response.area), look, end)
        _draw_curve(volume, f, 1e3 * np.abs(response.volume_velocity), look, end)
        if d != comparison.baseline:
            ends = [x for x in (end, departure[comparison.baseline]) if x]
            _draw_curve(level, *level_difference(response, base), look, min(ends, default=None), mark=False)
    level.axhline(0.0, color=INK, lw=2.0, zorder=3)
    _log_values(area, [1e4 * np.abs(r.area) for r in comparison.responses if r], "|S|, cm²", below=30.0, above=6.0)
    _log_values(
        volume,
        [1e3 * np.abs(r.volume_velocity) for r in comparison.responses if r],
        "|U/F|, L/s per N",
        100.0,
        30.0,
    )
    level.set_ylim(-LEVELS_DB, LEVELS_DB)
    level.yaxis.set_major_locator(MultipleLocator(5))
    level.set_ylabel(f"|U/F| over {baseline_name(comparison, 26, TEXT)}, dB")
    for axes in (area, volume, level):
        frequency_axis(axes, base.frequency_hz[0], base.frequency_hz[-1], label=axes is level)
    foot = list_designs(sheet, comparison)
    _define(sheet, foot)
    return "no air load, motor not included; thin lines: above departure"


def _draw_curve(
    axes: Axes, f: np.ndarray, value: np.ndarray, look: Look, departure: float | None, *, mark: bool = True
) -> None:
    """A curve that thins out above departure, where a mark sits."""
    above = int(np.searchsorted(f, departure or np.inf))
    axes.plot(f[:above], value[:above], color=look.colour, lw=look.width, zorder=look.order)
    axes.plot(
        f[max(above - 1, 0) :],
        value[max(above - 1, 0) :],
        color=look.colour,
        lw=0.35 * look.width,
        zorder=look.order - 1,
    )
    if mark and departure and 0 < above < len(f):
        axes.plot(
            f[above], value[above], marker="v", ms=4.6, color=look.colour, mec="white", mew=0.5, zorder=look.order + 1
        )


def _log_values(axes: Axes, curves: Sequence[np.ndarray], label: str, below: float, above: float) -> None:
    """Logarithmic values, cut where resonances would squeeze what matters."""
    middle = float(np.median(np.concatenate(curves)))
    lowest, highest = min(float(x.min()) for x in curves), max(float(x.max()) for x in curves)
    axes.set_yscale("log")
    axes.set_ylim(max(lowest * 0.85, middle / below), min(highest * 1.2, middle * above))
    log_ticks(axes.yaxis, *axes.get_ylim())
    axes.set_ylabel(label)


DEFINITIONS = (
    "▼  departure: a driven zone leaves the coil by 3 dB",
    "S  effective area: net volume velocity of the front face over coil velocity",
    "U/F  net volume velocity per newton of coil force, S v/F, from the diaphragm, its surround and coil alone: "
    "neither air load nor motor is in it, so resonances stand higher than in use; those beyond an axis are cut",
)


def _define(sheet: Sheet, y: float) -> None:
    y -= 3.0
    for words in DEFINITIONS:
        for n, line in enumerate(wrap(words, 62)):
            sheet.text(COLUMN + (3 if n else 0), y, line, size=SMALL, color=SOFT_INK)
            y -= 3.4
        y -= 1.0


def has_values(comparison: Comparison) -> bool:
    return bool(_shown_rows(comparison))


def _shown_rows(comparison: Comparison) -> list[FigureRow]:
    rows = [row for row in comparison.rows if ":" not in row.name and any(v is not None for v in row.values)]
    if len(rows) <= MOST_PANELS:
        return rows
    own = [row for row in rows if row.name in HEADLINES or row.name.removeprefix("loaded_") not in DEFINED]
    return own[:MOST_PANELS]


def values_sheet(sheet: Sheet, comparison: Comparison) -> str:
    """Sheet with a panel per figure: every design's value, and its difference to the baseline."""
    rows = _shown_rows(comparison)
    base = baseline_name(comparison, 26, SMALL)
    remark = f"differences to {base}; {MARK} no published source"
    names_width = min(5 + BOLD * max(text_width(name, TEXT) for name in design_names(comparison)), 52.0)
    columns = 3 if len(rows) > 4 else 2
    lines = -(-len(rows) // columns)
    cell = ((RIGHT - 10 - names_width) / columns, 172.0 / lines)
    for place, row in enumerate(rows):
        across, down = place % columns, place // columns
        left = 10 + names_width + across * cell[0]
        axes = sheet.axes(left, 24 + 172.0 - (down + 1) * cell[1] + 9, cell[0] - 6, cell[1] - 16)
        _draw_figure(axes, comparison, row, names_width if across == 0 else 0.0)
    return remark


def _draw_figure(axes: Axes, comparison: Comparison, row: FigureRow, names_width: float) -> None:
    """Dots over the designs, top to bottom, with value and difference beside each; names where they have a width."""
    name = naming(row.name)
    count = len(row.values)
    known = [float(v) for v in row.values if v is not None]
    shown = name.shown(known)
    span = max(float(np.ptp(shown)), LEAST_SPAN * float(np.abs(shown).max())) or 1.0
    base = row.values[row.baseline]
    if base is not None:
        axes.axvline(float(name.shown(base)), color=INK, lw=0.8, zorder=1)
    write = count <= MOST_LABELS
    for d, (value, look) in enumerate(zip(row.values, looks(comparison), strict=True)):
        if value is None:
            axes.annotate("none", (0.0, d), (4, 0), xycoords=("axes fraction", "data"), textcoords="offset points",
                          va="center", size=SMALL, color=SOFT_INK)  # fmt: skip
            continue
        x = float(name.shown(value))
        if base is not None:
            axes.plot([float(name.shown(base)), x], [d, d], color=look.colour, lw=1.6, zorder=2)
        axes.plot(x, d, "o", ms=5.5, color=look.colour, zorder=3)
        if write:
            change = "" if d == row.baseline else show_difference(row, d)
            words = f"{name.text(value, 3)}{MARK if row.doubtful[d] else ''}"
            axes.annotate(words, (1.0, d), (-46, 0), xycoords=("axes fraction", "data"), textcoords="offset points",
                          va="center", ha="right", size=SMALL)  # fmt: skip
            axes.annotate(change, (1.0, d), (0, 0), xycoords=("axes fraction", "data"), textcoords="offset points",
                          va="center", ha="right", size=SMALL, color=SOFT_INK)  # fmt: skip
    middle = (float(shown.max()) + float(shown.min())) / 2
    left, right = middle - 0.62 * span, middle + 0.62 * span
    axes.set_xlim(left, right + (1.9 if write else 0.0) * span)
    axes.set_xticks([x for x in MaxNLocator(3).tick_values(left, right) if left <= x <= right])
    axes.set_ylim(count - 0.4, -0.6)
    if names_width:
        axes.set_yticks(range(count), short_names(comparison, names_width - 4, TEXT), size=TEXT)
        axes.get_yticklabels()[row.baseline].set_weight("bold")
    else:
        axes.set_yticks(range(count), [""] * count)
    axes.tick_params(axis="y", length=0)
    axes.grid(False, axis="y")
    axes.spines["left"].set_visible(False)
    axes.set_title(name.words, loc="left", weight="bold", size=TEXT, pad=4)
    axes.set_xlabel(name.unit, size=SMALL, labelpad=0.5, loc="left", color=SOFT_INK)
