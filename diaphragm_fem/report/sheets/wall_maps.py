"""A map of one figure: materials down, a column per thickness, numbers where there is room for them."""

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.patches import Rectangle
from matplotlib.ticker import NullLocator

from diaphragm_fem.analysis.figures.break_up_mode import SOUGHT
from diaphragm_fem.answer.better import better
from diaphragm_fem.answer.walls.grid import WallGrid
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.library.evidence import MARK, doubtful_numbers
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.report.sheets.style import ALARM, BETTER, NEITHER, SMALL, SOFT_INK, TEXT, pale, text_width
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.walls import reached
from diaphragm_fem.report.words.words import digits

DEEPEST = 0.5  # of a tint, mixed with white: ink is read on it
NUMBER_SIZES = (6.2, 5.4)  # the smaller one only where it gives every column its number
GAP = 0.8  # between numbers, mm
ABSENT = "–"


@dataclass(frozen=True)
class Columns:
    """Columns that bear numbers, where the middle of each number stands (in columns), and the size of the type."""

    numbered: tuple[int, ...]
    place: tuple[float, ...]
    size: float


def drawn_column(grid: WallGrid) -> int | None:
    """The column next to the thickness as drawn; None where that lies outside the grid or in no material of it."""
    if grid.drawn_material not in [material.name for material in grid.materials]:
        return None
    middle = np.sqrt(grid.thickness[1:] * grid.thickness[:-1])
    low, high = (grid.thickness[k] * ratio for k, ratio in ((0, 0.9), (-1, 1.1)))
    if not low <= grid.drawn_thickness <= high:
        return None
    return int(np.searchsorted(middle, grid.drawn_thickness))


def cell_texts(grid: WallGrid, name: str) -> list[list[str]]:
    """Every cell's number; a break-up mode that was not met lies above four times the range."""
    shown = naming(name).shown(grid.figures[name])
    absent = f">{digits(SOUGHT * grid.up_to_hz / 1e3, 2)}k" if name == "break_up_mode_hz" else ABSENT
    number = naming(name).number
    return [[number(float(x), 3) if np.isfinite(x) else absent for x in row] for row in shown]


def choose_columns(grid: WallGrid, names: list[str], width: float) -> Columns:
    """Numbers in as many columns as a map of `width` mm holds, alike in all maps, the one as drawn among them.

    That column comes first, then the ends of the range, then the others outwards from it, each where it stands clear
    of those before it. Numbers of the outer columns move inwards as far as they must to stay inside the map.
    """
    count, own = len(grid.thickness), drawn_column(grid)
    texts = {text for name in names for row in cell_texts(grid, name) for text in row}
    ticks = max(text_width(tick_text(h), SMALL) for h in grid.thickness)
    for size in NUMBER_SIZES:
        need = max(ticks, *(text_width(text, size) for text in texts)) + GAP
        if need <= width / count:
            return Columns(tuple(range(count)), tuple(map(float, range(count))), size)
    size = NUMBER_SIZES[0]
    need = (max(ticks, *(text_width(text, size) for text in texts)) + GAP) * count / width
    inmost = (need - 1) / 2
    begin = own if own is not None else 0
    taken: dict[int, float] = {}
    for column in (begin, 0, count - 1, *sorted(range(count), key=lambda k: abs(k - begin))):
        place = float(np.clip(column, inmost, count - 1 - inmost))
        if column in (begin, 0, count - 1, place) and all(abs(place - other) >= need for other in taken.values()):
            taken[column] = place
    numbered = sorted(taken)
    return Columns(tuple(numbered), tuple(taken[k] for k in numbered), size)


def tick_text(thickness: float) -> str:
    return f"{1e6 * thickness:.3g}"


def tints(values: Array, side: int) -> Array:
    """How deep each cell is tinted, 0 to 1: from the worst to the best, or from low to high where neither is better.

    `side` is +1 where more is better and -1 where less is; nan stays nan.
    """
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    wide = low > 0 and high / low > 4
    scaled = np.log(values) if wide else values
    span = float(np.nanmax(scaled) - np.nanmin(scaled)) or 1.0
    depth = (scaled - np.nanmin(scaled)) / span
    return np.asarray(1 - depth if side < 0 else depth)


def draw_map(axes: Axes, grid: WallGrid, name: str, columns: Columns, *, names: bool) -> None:
    """Deep is better, in grey where neither side is; the best in bold, the wall as drawn framed."""
    words, side = naming(name), better(name)
    values = np.where(np.isfinite(grid.figures[name]), grid.figures[name], np.nan)
    beyond = name == "break_up_mode_hz"
    filled = reached(grid) if beyond else values
    depth = tints(filled, side)
    best = np.nanmax(depth) if side else np.inf
    height, width = values.shape
    own = drawn_column(grid)
    own_row = [material.name for material in grid.materials].index(grid.drawn_material) if own is not None else None
    every = len(columns.numbered) == width
    shades = LinearSegmentedColormap.from_list("tint", ("#ffffff", pale(BETTER if side else NEITHER, DEEPEST)))
    axes.pcolormesh(
        np.arange(width + 1) - 0.5, np.arange(height + 1) - 0.5, np.ma.masked_invalid(depth), cmap=shades, vmin=0.0,
        vmax=1.0, rasterized=True,
    )  # fmt: skip
    texts = cell_texts(grid, name)
    for column, place in zip(columns.numbered, columns.place, strict=True):
        for row in range(height):
            # a frame around a column narrower than its number would cross the number out: frame the number instead
            framed = (row, column) == (own_row, own) and not every
            cell = shades(depth[row, column]) if np.isfinite(depth[row, column]) else "white"
            frame = {"facecolor": cell, "edgecolor": ALARM, "linewidth": 1.2, "pad": 1.2} if framed else None
            axes.text(place, row, texts[row][column], size=columns.size, ha="center", va="center", zorder=6, bbox=frame,
                      weight="bold" if depth[row, column] == best else "normal")  # fmt: skip
    axes.set_xlim(-0.5, width - 0.5)
    axes.set_ylim(height - 0.5, -0.5)
    axes.grid(False)
    axes.set_xticks(columns.place, [tick_text(grid.thickness[k]) for k in columns.numbered])
    axes.xaxis.set_minor_locator(NullLocator())
    axes.tick_params(length=0)
    axes.set_yticks(range(height), [marked(m) if names else "" for m in grid.materials], size=TEXT)
    axes.set_title(words.label, loc="left", weight="bold", size=TEXT, pad=4)
    axes.set_xlabel("thickness, µm, a column each", size=SMALL, labelpad=1.5, color=SOFT_INK)
    for edge in ("left", "bottom"):
        axes.spines[edge].set_visible(False)
    if own is not None and own_row is not None:
        if every:
            look = {"fill": False, "ec": ALARM, "lw": 1.6, "zorder": 5, "clip_on": False}
            axes.add_patch(Rectangle((own - 0.5, own_row - 0.5), 1, 1, **look))
        axes.get_xticklabels()[columns.numbered.index(own)].set(weight="bold")


def marked(material: Material) -> str:
    return material.name + (MARK if doubtful_numbers(material) else "")
