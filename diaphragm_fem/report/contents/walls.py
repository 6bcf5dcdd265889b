"""A grid of walls in blocks: each material at its best thickness, and how far to trust it."""

import re
from collections.abc import Mapping, Sequence

import numpy as np

from diaphragm_fem.analysis.figures.break_up_mode import SOUGHT
from diaphragm_fem.answer.trust.cautions import design_cautions
from diaphragm_fem.answer.walls.grid import WallGrid
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.library.evidence import MARK, doubtful_numbers
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.report.blocks.blocks import Block, Heading, Picture, Table, Words, noticed
from diaphragm_fem.report.words.figures import bound_text, value_text
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.trust import dangers_of_many, doubt_blocks
from diaphragm_fem.report.words.walls import walls_verdict
from diaphragm_fem.report.words.words import digits, one, show_hz

HEADLINES = (
    "break_up_mode_hz", "fundamental_hz", "moving_mass_kg", "low_area_m2", "area_per_mass_m2_per_kg",
    "median_level_db", "level_spread_db", "loaded_departure_hz",
)  # fmt: skip
OF_A_LEVEL = ("median_level_db", "level_spread_db")


def wall_grid_blocks(grid: WallGrid, pictures: Sequence[Picture] = ()) -> list[Block]:
    """The page of a grid: each material's thickness for the highest break-up mode, the sheets, how far to trust it."""
    level = "median_level_db"
    heard = grid.as_drawn.get(level) is not None or bool(np.isfinite(grid.figures.get(level, np.nan)).any())
    names = [name for name in HEADLINES if name in grid.figures and (heard or name not in OF_A_LEVEL)]
    rows, listed = [], {"as drawn": grid.design}
    for i, material in enumerate(grid.materials):
        best = _best_thickness(grid.figures["break_up_mode_hz"][i])
        found = [float(grid.figures[name][i, best]) for name in names]
        values = [value_text(name, None if np.isnan(x) else x) for name, x in zip(names, found, strict=True)]
        if np.isnan(grid.figures["break_up_mode_hz"][i, best]):
            values[0] = f"above {show_hz(SOUGHT * grid.up_to_hz)}"
        rows.append([_marked(material), f"{digits(1e6 * grid.thickness[best])} µm", *values])
        choice = WallChoice(material, float(grid.thickness[best]) / grid.drawn_thickness)
        listed[f"{material.name} of {rows[-1][1]}"] = with_walls(grid.design, dict.fromkeys(grid.zones, choice))
    own = [value_text(name, grid.as_drawn.get(name)) for name in names]
    drawn = next(material for material in grid.design.materials if material.name == grid.drawn_material)
    rows.append([f"as drawn: {_marked(drawn)}", f"{digits(1e6 * grid.drawn_thickness)} µm", *own])
    span = f"{digits(1e6 * grid.thickness[0])} to {digits(1e6 * grid.thickness[-1])} µm"
    varied = f"Varied: {', '.join(grid.zones)}; thickness {span}{taper_words(grid)}."
    bounds = {name: bound_text(name, grid.error[name]) for name in names if name in grid.error}
    errors = ", ".join(f"{naming(name).words} {bound}" for name, bound in bounds.items())
    loaded = "Level, spread and loaded departure are" if heard else "The loaded departure is"
    states = f" {loaded} with everything on, all else is in vacuum." * ("loaded_departure_hz" in names)
    levels = (*grid.figures.items(), *grid.as_drawn.items())
    blocks: list[Block] = [
        Words(walls_verdict(grid)),
        *noticed("Caution", dangers_of_many((*grid.design.materials, *grid.materials), levels)),
        *noticed("Warning", _warnings(listed, grid.up_to_hz)),
        Words(f"{varied} The meridian and all other walls stay as drawn.{states}"),
        Heading("Each material at the thickness of its highest break-up mode"),
        Table(["material", "thickness", *(naming(name).words for name in names)], rows),
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


def taper_words(grid: WallGrid) -> str:
    """ ", at its thickest place; its taper to 75 % of that stays" of a wall that tapers."""
    if grid.thinnest == 1:
        return ""
    return f" at its thickest place; its taper to {digits(100 * grid.thinnest, 2)} % of that stays"


def _warnings(listed: Mapping[str, Design], up_to_hz: float) -> list[str]:
    """What the walls of the list give reason to doubt; what differs in numbers alone once, with those of the first."""
    alike: dict[str, list[str]] = {}
    for name, design in listed.items():
        for words in design_cautions(design, up_to_hz):
            alike.setdefault(re.sub(r"\d[\d.]*", "", words), []).append(f"{name}, {words}")
    return [f"{first} ({one(len(more), 'more wall')} of the list alike)" if more else first
            for first, *more in alike.values()]  # fmt: skip


def _marked(material: Material) -> str:
    return material.name + (MARK if doubtful_numbers(material) else "")


def _best_thickness(break_up: Array) -> int:
    """Place of the highest break-up mode; of the thinnest wall whose mode lies beyond reach (nan), if any."""
    unmet = np.flatnonzero(np.isnan(break_up))
    return int(unmet[0]) if len(unmet) else int(np.argmax(break_up))
