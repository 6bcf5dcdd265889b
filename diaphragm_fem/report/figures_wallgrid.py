"""Materials by thicknesses on one meridian: trade-off lines and maps of figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, LogNorm, Normalize
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.patheffects import withStroke
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter, NullLocator

from diaphragm_fem.design.evidence import MARK, doubtful_numbers
from diaphragm_fem.design.material import Material
from diaphragm_fem.report.study_words import naming
from diaphragm_fem.report.style import CYCLE, INK, RULE, SMALL, SOFT_INK, TEXT, Sheet, drawing_style, new_sheet
from diaphragm_fem.report.words import digits, one, show_bound, show_hz
from diaphragm_fem.study.wallgrid import WallGrid

MAP_FIGURES = (
    "fundamental_hz", "break_up_hz", "usable_octaves", "moving_mass_kg", "area_per_mass_m2_per_kg", "high_area_m2",
)  # fmt: skip
DARK = "#0b2239"
SHADES = LinearSegmentedColormap.from_list("shades", ("#f3f7fa", "#9fc6e0", "#14507d", DARK))
LABELLED = 5  # thicknesses written along a line, and columns of a map with their values
NAME_HEIGHT = 0.022  # of the axes' height
MARKERS = ("o", "s", "D", "^", "v", "P", "X")


def lead_figure(grid: WallGrid) -> str:
    """What the walls are judged by: break-up, or the resonance where none breaks up below the top frequency."""
    return "break_up_hz" if np.isfinite(grid.figures["break_up_hz"]).any() else "fundamental_hz"


def trade_off_figure(grid: WallGrid, x: str = "moving_mass_kg", y: str | None = None) -> Sheet:
    """Sheet with one figure over another: a line per material along its thicknesses, and the design as drawn."""
    y = y or lead_figure(grid)
    across, up = naming(x), naming(y)
    with drawing_style():
        sheet = _new_sheet(grid, f"{_capital(up.words)} by wall")
        axes = sheet.axes(25.0, 32.0, 178.0, 162.0)
        chosen = _spaced(len(grid.thickness), LABELLED)
        ends = []
        for row, look in enumerate(_looks(grid)):
            a, b = across.shown(grid.figures[x][row]), up.shown(grid.figures[y][row])
            axes.plot(a, b, color=look.colour, ls=look.dashes, lw=1.3, zorder=3)
            axes.plot(
                a[chosen],
                b[chosen],
                ls="none",
                marker=look.marker,
                ms=4.6,
                color=look.colour,
                mec="white",
                mew=0.5,
                zorder=4,
            )
            known = np.flatnonzero(np.isfinite(a) & np.isfinite(b))
            if len(known):
                ends.append((float(a[known[-1]]), float(b[known[-1]]), grid.materials[row].name, look.colour))
        own_x, own_y = grid.as_drawn.get(x), grid.as_drawn.get(y)
        if own_x is not None and own_y is not None:
            at = (float(across.shown(own_x)), float(up.shown(own_y)))
            axes.plot(*at, ls="none", marker="o", ms=11, mfc="none", mec=INK, mew=1.4, zorder=5)
        _value_axis(axes, "x", up_to=axes.get_xlim()[1] * 1.06)
        _value_axis(axes, "y")
        axes.set_xlabel(across.label)
        axes.set_ylabel(up.label)
        _name_ends(axes, ends)
        y_end = _list_materials(sheet, grid)
        _notes(sheet, grid, (x, y), y_end)
    return sheet


def maps_figure(grid: WallGrid, figures: Sequence[str] = MAP_FIGURES) -> Sheet:
    """Sheet with a map per figure: materials down, thickness across, dark is high."""
    shown = [name for name in figures if name in grid.figures and np.isfinite(grid.figures[name]).any()]
    with drawing_style():
        sheet = _new_sheet(grid, "Figures by material and thickness")
        columns = 3 if len(shown) > 4 else 2
        lines = -(-len(shown) // columns)
        names = min(12 + 1.3 * max(len(material.name) for material in grid.materials), 44.0)
        cell = ((277.0 - names) / columns, 172.0 / lines)
        for place, name in enumerate(shown):
            across, down = place % columns, place // columns
            axes = sheet.axes(
                10 + names + across * cell[0], 24 + 172.0 - (down + 1) * cell[1] + 13, cell[0] - 6, cell[1] - 20
            )
            _draw_map(axes, grid, name, names=across == 0)
    return sheet


def _name_ends(axes: Axes, ends: Sequence[tuple[float, float, str, str]]) -> None:
    """Each line's name beside its end, raised where it would cover another."""
    points = [
        (axes.transAxes.inverted().transform(axes.transData.transform((x, y))), name, colour)
        for x, y, name, colour in ends
    ]
    placed: list[tuple[float, float, float]] = []
    for (x, y), name, colour in sorted(points, key=lambda point: point[0][1]):
        width = 0.0075 * len(name)
        while any(x < right and left < x + width and abs(y - at) < NAME_HEIGHT for left, right, at in placed):
            y += 0.2 * NAME_HEIGHT
        placed.append((x, x + width, y))
        axes.annotate(
            name, (x, y), (6, 0), xycoords="axes fraction", textcoords="offset points", va="center", size=SMALL,
            color=colour, bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.4, "alpha": 0.8}, zorder=3.5,
        )  # fmt: skip


def _draw_map(axes: Axes, grid: WallGrid, name: str, *, names: bool) -> None:
    words, value = naming(name), grid.figures[name]
    shown = words.shown(value)
    low, high = float(np.nanmin(shown)), float(np.nanmax(shown))
    wide = low > 0 and high / low > 4
    norm: Normalize = LogNorm(low, high) if wide else Normalize(low, high if high > low else low + 1)
    edges = _edges(grid.thickness) * 1e6
    beyond = name == "break_up_hz"  # a break-up that was not met lies above the top frequency
    missing = f"> {digits(float(words.shown(grid.up_to_hz)), 3)}" if beyond else "–"
    shades = SHADES.with_extremes(bad=DARK if beyond else "white")
    rows = np.arange(len(grid.materials) + 1) - 0.5
    axes.pcolormesh(edges, rows, np.ma.masked_invalid(shown), cmap=shades, norm=norm, rasterized=True)
    for column in _spaced(len(grid.thickness), LABELLED, inset=True):
        for row in range(len(grid.materials)):
            x = shown[row, column]
            dark = float(norm(x)) > 0.5 if np.isfinite(x) else beyond
            text = digits(float(x), 3) if np.isfinite(x) else missing
            colours = ("white", DARK) if dark else (INK, "white")
            axes.text(
                1e6 * grid.thickness[column], row, text, size=SMALL - 0.6, ha="center", va="center", color=colours[0],
                path_effects=[withStroke(linewidth=1.4, foreground=colours[1])],
            )  # fmt: skip
    axes.set_xscale("log")
    axes.set_xlim(edges[0], edges[-1])
    ticks = [1e6 * grid.thickness[k] for k in _spaced(len(grid.thickness), LABELLED, inset=True)]
    axes.set_xticks(ticks, [digits(t, 2 if t < 100 else 3) for t in ticks])
    axes.xaxis.set_minor_locator(NullLocator())
    axes.set_ylim(len(grid.materials) - 0.5, -0.5)
    axes.grid(False)
    axes.tick_params(length=0)
    labels = [_marked(material) for material in grid.materials] if names else [""] * len(grid.materials)
    axes.set_yticks(range(len(grid.materials)), labels, size=TEXT)
    axes.set_title(words.label, loc="left", weight="bold", size=TEXT, pad=4)
    axes.set_xlabel("thickness, µm", size=SMALL, labelpad=1.5, color=SOFT_INK)
    for side in ("left", "bottom"):
        axes.spines[side].set_visible(False)
    drawn = [k for k, material in enumerate(grid.materials) if material.name == grid.drawn_material]
    inside = edges[0] <= 1e6 * grid.drawn_thickness <= edges[-1]
    if drawn and inside:
        k = int(np.searchsorted(edges, 1e6 * grid.drawn_thickness)) - 1
        axes.add_patch(
            Rectangle(
                (edges[k], drawn[0] - 0.5), edges[k + 1] - edges[k], 1, fill=False, ec="#cc4a1b", lw=1.6, zorder=5
            )
        )


def _edges(thickness: np.ndarray) -> np.ndarray:
    """Borders of the cells (T + 1,), halfway between thicknesses on a logarithmic scale."""
    if len(thickness) == 1:
        return thickness[0] * np.array([0.9, 1.1])
    middle = np.sqrt(thickness[1:] * thickness[:-1])
    return np.concatenate(([thickness[0] ** 2 / middle[0]], middle, [thickness[-1] ** 2 / middle[-1]]))


def _spaced(count: int, most: int, *, inset: bool = False) -> list[int]:
    """Evenly spaced places, the ends among them, or half a step inside."""
    if count <= most:
        return list(range(count))
    places = (np.arange(most) + 0.5) / most * count - 0.5 if inset else np.linspace(0, count - 1, most)
    return sorted({round(float(x)) for x in places})


def _new_sheet(grid: WallGrid, subject: str) -> Sheet:
    return new_sheet(subject, grid.design.name, "one assembly: the meridian stays as drawn, only walls change")


@dataclass(frozen=True)
class _Look:
    colour: str
    marker: str
    dashes: Any


def _looks(grid: WallGrid) -> list[_Look]:
    """Colours in turn; solid, then dashed, then dotted lines where there are more materials than colours."""
    colours = [colour for colour in CYCLE if colour != CYCLE[-1]]
    dashes: list[Any] = ["solid", (0, (4, 1.4)), (0, (1, 1))]
    return [
        _Look(colours[k % len(colours)], MARKERS[k % len(MARKERS)], dashes[k // len(colours) % len(dashes)])
        for k in range(len(grid.materials))
    ]


def _marked(material: Material) -> str:
    return material.name + (MARK if doubtful_numbers(material) else "")


def _value_axis(axes: Axes, which: str, up_to: float | None = None) -> None:
    """Logarithmic where values span more than a factor of three."""
    low, _ = axes.get_xlim() if which == "x" else axes.get_ylim()
    lines = [line.get_data()[0 if which == "x" else 1] for line in axes.get_lines()]
    values = np.concatenate([np.atleast_1d(x) for x in lines])
    values = values[np.isfinite(values)]
    if not len(values) or values.min() <= 0 or values.max() / values.min() < 3:  # none where no wall has the figure
        if which == "x" and up_to:
            axes.set_xlim(low, up_to)
        return
    axis = axes.xaxis if which == "x" else axes.yaxis
    (axes.set_xscale if which == "x" else axes.set_yscale)("log")
    (axes.set_xlim if which == "x" else axes.set_ylim)(0.92 * values.min(), 1.12 * values.max())
    axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axis.set_major_formatter(FuncFormatter(lambda x, _: f"{x:g}"))
    axis.set_minor_locator(LogLocator(subs=(1.5, 3.0, 4.0, 6.0, 7.0, 8.0)))
    axis.set_minor_formatter(NullFormatter())


def _list_materials(sheet: Sheet, grid: WallGrid) -> float:
    left, right, y = 210.0, 287.0, 196.0
    sheet.text(left, y, "Material of the varied zones", size=SMALL, color=SOFT_INK)
    sheet.line(left, y - 2, right, y - 2)
    y -= 6.5
    step = min(5.2, 120 / len(grid.materials))
    for material, look in zip(grid.materials, _looks(grid), strict=True):
        sheet.figure.add_artist(Line2D(
            [left / sheet.width, (left + 4) / sheet.width, (left + 8) / sheet.width], [(y + 0.9) / sheet.height] * 3,
            color=look.colour, ls=look.dashes, lw=1.4, marker=look.marker, markevery=[1], ms=4.6, mec="white", mew=0.5,
        ))  # fmt: skip
        sheet.text(left + 10, y, _marked(material), size=TEXT)
        y -= step
    sheet.line(left, y + 2.4, right, y + 2.4, colour=RULE)
    return y


def _notes(sheet: Sheet, grid: WallGrid, figures: tuple[str, str], y: float) -> None:
    """How to read the sheet, and how far its numbers are off."""
    marks = ", ".join(digits(1e6 * grid.thickness[k], 3) for k in _spaced(len(grid.thickness), LABELLED))
    errors = [f"{show_bound(grid.error[name])} in {naming(name).words}" for name in figures if name in grid.error]
    words = [
        f"Thickness rises along each line; marks at {marks} µm",
        f"○  as drawn: {grid.drawn_material}, {digits(1e6 * grid.drawn_thickness, 3)} µm",
        f"Varied: {', '.join(grid.zones)}",
        f"{one(len(grid.materials) * len(grid.thickness), 'wall')} from one assembly; {len(grid.checked)} of them "
        f"solved again by the full model agree within {' and '.join(errors)}",
        f"{MARK} some numbers of this material have no published source",
    ]
    if np.isnan(grid.figures["break_up_hz"]).any() and "break_up_hz" in figures:
        words.insert(3, f"A wall that is missing does not break up below {show_hz(grid.up_to_hz)}")
    y -= 2.0
    for text in words:
        for n, line in enumerate(wrap(text, 62)):
            sheet.text(210.0 + (2 if n else 0), y, line, size=SMALL, color=SOFT_INK)
            y -= 3.4
        y -= 1.0


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]
