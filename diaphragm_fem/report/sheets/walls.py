"""Materials by thicknesses on one meridian: trade-off lines and maps of figures."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import LogLocator

from diaphragm_fem.analysis.figures.break_up_mode import SOUGHT
from diaphragm_fem.answer.walls.grid import WallGrid
from diaphragm_fem.design.library.evidence import MARK
from diaphragm_fem.report.sheets.names import folded_to
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import CYCLE, INK, RULE, SMALL, SOFT_INK, TEXT, log_ticks, note
from diaphragm_fem.report.sheets.wall_maps import ABSENT, choose_columns, draw_map, drawn_column, marked
from diaphragm_fem.report.words.figures import bound_text
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.trust import cautions_of
from diaphragm_fem.report.words.walls import walls_verdict
from diaphragm_fem.report.words.words import digits, one, show_hz

MAP_FIGURES = (
    "break_up_mode_hz", "even_band_octaves", "highest_peak_db", "moving_mass_kg", "area_per_mass_m2_per_kg",
    "fundamental_hz",
)  # fmt: skip
STEPPED_FIGURES = tuple("shelf_band_octaves" if name.startswith("even") else name for name in MAP_FIGURES)
"""Those of a design with a step, which is judged by its shelves."""
HEAD, NOTE = 188.0, 3.6  # mm: below a verdict of two lines; from line to line at the foot
JUMPS = 0.02  # of a break-up mode between the two models: it is another mode
MARKED_ALL, MARKED_SOME = 10, 5  # thicknesses marked along a line: all of so many, so many of more
NAME_HEIGHT = 0.022  # of the axes' height
MARKERS = ("o", "s", "D", "^", "v", "P", "X")


ONE_MESH = "one mesh: the meridian stays as drawn, only walls change"


def trade_off_sheet(sheet: Sheet, grid: WallGrid) -> str:
    """What walls are judged by over their mass: a line per material along its thicknesses, and the design as drawn."""
    x, y = "moving_mass_kg", "break_up_mode_hz"
    if not np.isfinite(grid.figures[y]).any():  # in reach of any wall
        y = "fundamental_hz"
    across, up = naming(x), naming(y)
    head = _say_verdict(sheet, grid)
    axes = sheet.axes(25.0, 32.0, 178.0, head - 36.0)
    chosen = _marked_places(len(grid.thickness))
    ends = []
    for row, look in enumerate(_looks(grid)):
        a, b = across.shown(grid.figures[x][row]), up.shown(grid.figures[y][row])
        axes.plot(a, b, color=look["color"], ls=look["ls"], lw=1.3, zorder=3)
        axes.plot(a[chosen], b[chosen], **{**look, "ls": "none"}, zorder=4)
        known = np.flatnonzero(np.isfinite(a) & np.isfinite(b))
        if len(known):
            ends.append((float(a[known[-1]]), float(b[known[-1]]), grid.materials[row].name))
    own_x, own_y = grid.as_drawn.get(x), grid.as_drawn.get(y)
    if own_x is not None and own_y is not None:
        at = (float(across.shown(own_x)), float(up.shown(own_y)))
        axes.plot(*at, ls="none", marker="o", ms=11, mfc="none", mec=INK, mew=1.4, zorder=5)
    _value_axis(axes, "x", up_to=axes.get_xlim()[1] * 1.06)
    _value_axis(axes, "y")
    axes.set_xlabel(across.label)
    axes.set_ylabel(up.label)
    _name_ends(axes, ends)
    y_end = _list_materials(sheet, grid, head)
    _notes(sheet, grid, (x, y), y_end)
    return ONE_MESH


def maps_sheet(sheet: Sheet, grid: WallGrid, figures: Sequence[str] = ()) -> str:
    """Sheet with a map per figure, numbers and ticks at the same thicknesses in all of them."""
    stepped = np.isfinite(grid.figures.get("decoupling_hz", np.array([np.nan]))).any()
    figures = figures or (STEPPED_FIGURES if stepped else MAP_FIGURES)
    known = [name for name in figures if name in grid.figures and np.isfinite(grid.figures[name]).any()]
    # what is the same for every wall, such as a peak that none has, chooses none
    shown = [name for name in known if np.nanmax(grid.figures[name]) > np.nanmin(grid.figures[name])] or known
    head = _say_verdict(sheet, grid)
    columns = 3 if len(shown) > 4 else 2
    lines = -(-len(shown) // columns)
    names = min(12 + 1.3 * max(len(material.name) for material in grid.materials), 44.0)
    cell = ((277.0 - names) / columns, (head - 26.0) / lines)
    numbered = choose_columns(grid, shown, cell[0] - 6)
    for place, name in enumerate(shown):
        across, down = place % columns, place // columns
        axes = sheet.axes(10 + names + across * cell[0], head - (down + 1) * cell[1] + 13, cell[0] - 6, cell[1] - 20)
        draw_map(axes, grid, name, numbered, names=across == 0)
    told = [line for words in (_map_key(grid), *cautions_of(grid.materials)) for line in folded_to(words, 277.0, SMALL)]
    sheet.lines(10.0, 18.4 + NOTE * (len(told) - 1), told, NOTE, size=SMALL, color=SOFT_INK)
    return ONE_MESH


def _say_verdict(sheet: Sheet, grid: WallGrid) -> float:
    """Words at the head of a sheet; returns where what stands below begins."""
    lines = folded_to(walls_verdict(grid), 277.0, TEXT + 0.5)
    return min(HEAD, sheet.lines(10.0, 199.0, lines, 4.3, size=TEXT + 0.5) - 3.0)


def _map_key(grid: WallGrid) -> str:
    """How all maps of the sheet read, in one line."""
    words = ["deep is better, grey where neither side is", "bold: the best", f"{ABSENT} none"]
    words.append(f"{MARK} some numbers have no published source")
    own = drawn_column(grid)
    if own is not None:
        alike = np.isclose(grid.thickness[own], grid.drawn_thickness, rtol=1e-3, atol=0.0)
        framed = "as drawn" if alike else "column next to the wall as drawn"
        words.insert(0, f"framed: {framed}, {grid.drawn_material} of {digits(1e6 * grid.drawn_thickness, 3)} µm")
    if np.isnan(grid.figures["break_up_mode_hz"]).any():
        words.append("> no break-up mode up to four times the range")
    return ";  ".join(words)


def _name_ends(axes: Axes, ends: Sequence[tuple[float, float, str]]) -> None:
    """Each line's name beside its end, raised where it would cover another."""
    points = [(axes.transAxes.inverted().transform(axes.transData.transform((x, y))), name) for x, y, name in ends]
    placed: list[tuple[float, float, float]] = []
    for (x, y), name in sorted(points, key=lambda point: point[0][1]):
        width = 0.0075 * len(name)
        while any(x < right and left < x + width and abs(y - at) < NAME_HEIGHT for left, right, at in placed):
            y += 0.2 * NAME_HEIGHT
        placed.append((x, x + width, y))
        patch = {"facecolor": "white", "edgecolor": "none", "pad": 0.4, "alpha": 0.8}
        note(axes, name, (x, y), (6, 0), "axes fraction", va="center", bbox=patch, zorder=3.5)


def _marked_places(count: int) -> list[int]:
    """Which of so many thicknesses are marked: all, or some evenly spaced with the ends among them."""
    return [round(float(x)) for x in np.linspace(0, count - 1, count if count <= MARKED_ALL else MARKED_SOME)]


def _looks(grid: WallGrid) -> list[dict[str, Any]]:
    """Colours in turn; solid, then dashed, then dotted lines where there are more materials than colours; a mark."""
    colours = [colour for colour in CYCLE if colour != CYCLE[-1]]
    dashes: list[Any] = ["solid", (0, (4, 1.4)), (0, (1, 1))]
    return [
        {
            "color": colours[k % len(colours)],
            "ls": dashes[k // len(colours) % len(dashes)],
            "marker": MARKERS[k % len(MARKERS)],
            "ms": 4.6,
            "mec": "white",
            "mew": 0.5,
        }
        for k in range(len(grid.materials))
    ]


def _value_axis(axes: Axes, which: str, up_to: float | None = None) -> None:
    """Logarithmic where values span more than a factor of three."""
    axis, set_limits = getattr(axes, f"{which}axis"), getattr(axes, f"set_{which}lim")
    values = np.concatenate([np.atleast_1d(line.get_data()["xy".index(which)]) for line in axes.get_lines()])
    values = values[np.isfinite(values)]
    if not len(values) or values.min() <= 0 or values.max() / values.min() < 3:  # none where no wall has the figure
        if up_to:
            set_limits(None, up_to)
        return
    axes.set(**{f"{which}scale": "log"})
    log_ticks(axis, *set_limits(0.92 * values.min(), 1.12 * values.max()), most=10)
    axis.set_minor_locator(LogLocator(subs=(1.5, 3.0, 4.0, 6.0, 7.0, 8.0)))


def _list_materials(sheet: Sheet, grid: WallGrid, head: float) -> float:
    left, right, y = 210.0, 287.0, head - 4.0
    sheet.text(left, y, "Material of the varied zones", size=SMALL, color=SOFT_INK)
    sheet.line(left, y - 2, right, y - 2)
    y -= 6.5
    step = min(5.2, 120 / len(grid.materials))
    for material, look in zip(grid.materials, _looks(grid), strict=True):
        sheet.figure.add_artist(Line2D(
            [(left + x) / sheet.width for x in (0, 4, 8)], [(y + 0.9) / sheet.height] * 3, lw=1.4, markevery=[1], **look
        ))  # fmt: skip
        sheet.text(left + 10, y, marked(material), size=TEXT)
        y -= step
    sheet.line(left, y + 2.4, right, y + 2.4, colour=RULE)
    return y


def _notes(sheet: Sheet, grid: WallGrid, figures: tuple[str, str], y: float) -> None:
    """How to read the sheet, and how far its numbers are off."""
    places = _marked_places(len(grid.thickness))
    marks = ", ".join(digits(1e6 * grid.thickness[k], 3) for k in places)
    some = "" if len(places) == len(grid.thickness) else f"{len(places)} of {len(grid.thickness)}, "
    errors = [f"{bound_text(name, grid.error[name])} in {naming(name).words}" for name in figures if name in grid.error]
    words = [
        f"Thickness rises along each line; marks: {some}{marks} µm",
        f"○  as drawn: {grid.drawn_material}, {digits(1e6 * grid.drawn_thickness, 3)} µm",
        f"Varied: {', '.join(grid.zones)}",
        f"{one(len(grid.materials) * len(grid.thickness), 'wall')} on one mesh; {len(grid.checked)} of them "
        f"solved again one by one agree within {' and '.join(errors)}",
        f"{MARK} some numbers of this material have no published source",
    ]
    if np.isnan(grid.figures["break_up_mode_hz"]).any() and "break_up_mode_hz" in figures:
        words.insert(3, f"A wall that is missing has no break-up mode below {show_hz(SOUGHT * grid.up_to_hz)}")
    if grid.error.get("break_up_mode_hz", 0.0) > JUMPS and "break_up_mode_hz" in figures:
        words.insert(4, "A break-up mode may jump to another mode where the strain that it holds passes a half")
    sheet.points(210.0, y - 2.0, [*words, *cautions_of(grid.materials)], 77.0, 2)
