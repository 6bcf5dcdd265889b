"""A grid of walls in blocks: each material at its best thickness, and how far to trust it."""

import re
from collections.abc import Sequence
from itertools import product

import numpy as np

from diaphragm_fem.analysis.figures.break_up_mode import SOUGHT
from diaphragm_fem.answer.trust.cautions import design_cautions
from diaphragm_fem.answer.walls.grid import WallGrid
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.library.evidence import MARK, doubtful_numbers
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.report.blocks.blocks import Block, Heading, Picture, Table, Words, noticed
from diaphragm_fem.report.terminal import FIRST_LINES, block_lines
from diaphragm_fem.report.words.figures import bound_text, value_text
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.trust import dangers_of_many, doubt_blocks
from diaphragm_fem.report.words.walls import Cell, reached, walls_verdict
from diaphragm_fem.report.words.words import digits, join_words, one, show_hz

HEADLINES = (
    "break_up_mode_hz", "fundamental_hz", "moving_mass_kg", "low_area_m2", "area_per_mass_m2_per_kg",
    "median_level_db", "level_spread_db", "loaded_departure_hz",
)  # fmt: skip
AT_THEIR_BEST = Heading("Each material at the thickness of its highest break-up mode")
OF_A_LEVEL = ("median_level_db", "level_spread_db")


def wall_grid_blocks(grid: WallGrid, pictures: Sequence[Picture] = ()) -> list[Block]:
    """The page of a grid: each material's thickness for the highest break-up mode, the sheets, how far to trust it."""
    names, found = _headlines(grid), _at_their_best(grid)
    span = f"{digits(1e6 * grid.thickness[0])} to {digits(1e6 * grid.thickness[-1])} µm"
    varied = f"{_varied(grid)}; thickness {span}{taper_words(grid)}."
    bounds = {name: bound_text(name, grid.error[name]) for name in names if name in grid.error}
    errors = ", ".join(f"{naming(name).words} {bound}" for name, bound in bounds.items())
    loaded = "Level, spread and loaded departure are" if _heard(grid) else "The loaded departure is"
    states = f" {loaded} with everything on, all else is in vacuum." * ("loaded_departure_hz" in names)
    blocks: list[Block] = [
        Words(walls_verdict(grid)),
        *_cautions(grid),
        *noticed("Warning", _warnings(grid)),
        Words(f"{varied} The meridian and all other walls stay as drawn.{states}"),
        AT_THEIR_BEST,
        _table(grid, found, names),
        *pictures,
        Heading("How far to trust it"),
        Words(
            f"All {len(grid.materials) * len(grid.thickness)} walls come from one mesh of the shell with its ends and "
            "joints and, where there are many thicknesses, from a common reduced basis of each material. Solved again "
            f"each by itself, {len(grid.checked)} cells spread over the grid differ by at most: {errors}. The break-up "
            "mode is the first that holds half its strain in driven zones, former and winding, so it may jump from one "
            "to the next where that share passes a half."
        ),
    ]
    return blocks + doubt_blocks(doubtful_numbers(*grid.materials))


def brief_wall_blocks(grid: WallGrid, width: int) -> list[Block]:
    """What a designer reads first, on 24 lines of 80 letters with the lines on what was written: verdict, what may
    harm, and as many materials, the highest break-up mode first, and figures of theirs as there is room for."""
    names, found, warnings = _headlines(grid), _at_their_best(grid), len(_warnings(grid))
    highest = sorted(found, key=lambda cell: -reached(grid)[cell])
    before: list[Block] = [Words(walls_verdict(grid)), *_cautions(grid)]
    for rows, columns in sorted(product(range(1, len(found) + 1), range(1, len(names) + 1)), reverse=True):
        table = _table(grid, [cell for cell in found if cell in highest[:rows]], names[:columns])
        more = {"further material": len(found) - rows, "further figure": len(names) - columns, "warning": warnings}
        told = [one(count, words) for words, count in more.items() if count]
        notes = [f"{_varied(grid)}."]
        notes += [f"{MARK} some numbers without a published source."] * any(MARK in row[0] for row in table.rows)
        notes += [f"{join_words(told)} by --all and in walls.md."] if told else []
        blocks = [*before, AT_THEIR_BEST, table, Words(" ".join(notes))]
        if len(block_lines(blocks, width)) <= FIRST_LINES:
            return blocks
    return [*before, Words("Every table by --all and in walls.md.")]


def _varied(grid: WallGrid) -> str:
    return f"Varied: {', '.join(grid.zones)}"


def _headlines(grid: WallGrid) -> list[str]:
    return [name for name in HEADLINES if name in grid.figures and (_heard(grid) or name not in OF_A_LEVEL)]


def _heard(grid: WallGrid) -> bool:
    level = "median_level_db"
    return grid.as_drawn.get(level) is not None or bool(np.isfinite(grid.figures.get(level, np.nan)).any())


def _at_their_best(grid: WallGrid) -> list[Cell]:
    return [(i, _best_thickness(modes)) for i, modes in enumerate(grid.figures["break_up_mode_hz"])]


def _table(grid: WallGrid, cells: Sequence[Cell], names: Sequence[str]) -> Table:
    """Figures of some walls, and of the wall as drawn below them."""
    rows = []
    for cell in cells:
        found = [float(grid.figures[name][cell]) for name in names]
        values = [value_text(name, None if np.isnan(x) else x) for name, x in zip(names, found, strict=True)]
        if np.isnan(grid.figures["break_up_mode_hz"][cell]):
            values[0] = f"above {show_hz(SOUGHT * grid.up_to_hz)}"
        rows.append([_marked(grid.materials[cell[0]]), _gauge(grid.thickness[cell[1]]), *values])
    own = [value_text(name, grid.as_drawn.get(name)) for name in names]
    drawn = next(material for material in grid.design.materials if material.name == grid.drawn_material)
    rows.append([f"as drawn: {_marked(drawn)}", _gauge(grid.drawn_thickness), *own])
    return Table(["material", "thickness", *(naming(name).words for name in names)], rows)


def _gauge(thickness: float) -> str:
    return f"{digits(1e6 * thickness)} µm"


def _cautions(grid: WallGrid) -> list[Block]:
    levels = (*grid.figures.items(), *grid.as_drawn.items())
    return noticed("Caution", dangers_of_many((*grid.design.materials, *grid.materials), levels))


def taper_words(grid: WallGrid) -> str:
    """ ", at its thickest place; its taper to 75 % of that stays" of a wall that tapers."""
    if grid.thinnest == 1:
        return ""
    return f" at its thickest place; its taper to {digits(100 * grid.thinnest, 2)} % of that stays"


def _warnings(grid: WallGrid) -> list[str]:
    """What the walls of the list give reason to doubt; what differs in numbers alone once, with those of the first."""
    listed = {"as drawn": grid.design}
    for i, j in _at_their_best(grid):
        choice = WallChoice(grid.materials[i], float(grid.thickness[j]) / grid.drawn_thickness)
        walls = with_walls(grid.design, dict.fromkeys(grid.zones, choice))
        listed[f"{grid.materials[i].name} of {_gauge(grid.thickness[j])}"] = walls
    alike: dict[str, list[str]] = {}
    for name, design in listed.items():
        for words in design_cautions(design, grid.up_to_hz):
            alike.setdefault(re.sub(r"\d[\d.]*", "", words), []).append(f"{name}, {words}")
    return [f"{first} ({one(len(more), 'more wall')} of the list alike)" if more else first
            for first, *more in alike.values()]  # fmt: skip


def _marked(material: Material) -> str:
    return material.name + (MARK if doubtful_numbers(material) else "")


def _best_thickness(break_up: Array) -> int:
    """Place of the highest break-up mode; of the thinnest wall whose mode lies beyond reach (nan), if any."""
    unmet = np.flatnonzero(np.isnan(break_up))
    return int(unmet[0]) if len(unmet) else int(np.argmax(break_up))
