"""What a grid of walls comes to in words: the best wall, the best of no more mass, where the range ends too soon."""

from math import ceil

import numpy as np

from diaphragm_fem.analysis.figures.break_up_mode import SOUGHT
from diaphragm_fem.answer.better import A_PERCENT
from diaphragm_fem.answer.walls.grid import WallGrid
from diaphragm_fem.arrays import Array, Flags
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.words import digits, join_words, one, show_hz, show_level, show_mass

NO_HEAVIER = 1.005  # times the mass as drawn still counts as no more mass
ALIKE = A_PERCENT / 100  # of the break-up mode: less is no difference
FALLS, NEAR = 0.05, 0.15  # by so much of it and more, over so much of a thickness: gauges scatter by as much (a choice)
POWERS = (-0.5, 1.5)  # of a thickness in the frequency of one mode: from mass alone to bending of what weighs nothing
HARDLY, FAR = 0.1, 1.5  # of it, over gauges so many times the thinnest: then something else decides

Cell = tuple[int, int]

DRIVER_FIGURES = (
    "median_level_db", "level_spread_db", "worst_null_db", "loaded_fundamental_hz", "loaded_departure_hz", "efficiency",
    "beam_narrows_hz", "directivity_index_db",
)  # fmt: skip
"""Of a wall with everything on: what page and sheet show beside its figures in vacuum."""


def grid_title(grid: WallGrid) -> str:
    """ "small dome: 2 materials by 9 thicknesses"."""
    sizes = one(len(grid.materials), "material"), one(len(grid.thickness), "thickness", "thicknesses")
    return f"{grid.design.name}: {' by '.join(sizes)}"


def walls_verdict(grid: WallGrid) -> str:
    """Two or three sentences; the break-up mode is what walls are judged by, and a mode beyond reach is the highest."""
    mode = reached(grid)
    if not np.isfinite(mode).any():
        return "No wall of the grid could be solved."
    mass = grid.figures["moving_mass_kg"]
    beyond = mode >= SOUGHT * grid.up_to_hz
    highest = _best(mode, beyond if beyond.any() else np.isfinite(mode), mass)
    where = " in vacuum" * (grid.design.driver is not None)
    among = f" within {100 * ALIKE:.0f} % of the highest break-up mode{where} ({show_hz(float(np.nanmax(mode)))})"
    if beyond.any():  # which of these is higher nobody knows
        among = f" of {beyond.sum()} whose break-up mode{where} lies beyond what was searched"
    told = [f"The lightest wall{among} is {_wall(grid, highest)}: {_told(grid, highest)}{_jump(grid, highest)}."]
    if not beyond.any() and grid.thickness[-1] > FAR * grid.thickness[0]:
        span = 1 - float(np.nanmin(mode) / np.nanmax(mode))
        told += [f"All walls lie within {ceil(100 * span)} % of it: the wall hardly decides."] * (span < HARDLY)
    own_mass, ends = grid.as_drawn.get("moving_mass_kg"), [highest]
    if own_mass is not None:
        alike = np.isclose(grid.thickness, grid.drawn_thickness, rtol=1e-6, atol=0.0)
        light = np.isfinite(mode) & (mass <= NO_HEAVIER * own_mass)
        chosen = _best(mode, light, mass) if light.any() else None
        if chosen is None:
            told.append(f"No wall is as light as that drawn ({show_mass(own_mass)}).")
        elif chosen != highest and grid.materials[chosen[0]].name == grid.drawn_material and alike[chosen[1]]:
            told.append(f"At no more mass than drawn ({show_mass(own_mass)}) none is better than the wall as drawn.")
        elif chosen != highest:
            told.append(f"At no more mass than drawn ({show_mass(own_mass)}) it is {_wall(grid, chosen)}: "
                        f"{_told(grid, chosen)}.")  # fmt: skip
            ends.append(chosen)
    own = grid.as_drawn.get("break_up_mode_hz")
    told.append(f"As drawn: {_hz(grid, np.inf if own is None else own)}.")
    told.append(_in_the_driver(grid, highest))
    return " ".join(filter(None, [*told, _ends(grid, ends)]))


def _jump(grid: WallGrid, cell: Cell) -> str:
    """Where a wall of nearly its thickness breaks up much lower, and lower than that thickness makes one mode, as
    another is then the first that counts: of a flat disc 561 Hz at 130 um were told beside 595 at 147, all on one line.
    """
    modes, gauge = reached(grid)[cell[0]], grid.thickness / grid.thickness[cell[1]]
    steady = np.minimum(1 - FALLS, np.min([gauge**power for power in POWERS], axis=0))
    lower = np.flatnonzero((np.abs(gauge - 1) <= NEAR) & (modes < steady * modes[cell[1]]))
    if not len(lower):
        return ""
    near = int(lower[np.argmin(np.abs(gauge[lower] - 1))])
    return f", beside a jump: {show_hz(float(modes[near]))} at {digits(1e6 * grid.thickness[near])} µm"


def _in_the_driver(grid: WallGrid, cell: Cell) -> str:
    """What the wall of the highest mode, which is one in vacuum, does with everything on, beside the wall as drawn; and
    which wall is then the loudest, and which follows its coil farthest."""
    names = ("median_level_db", "level_spread_db")
    if any(name not in grid.figures or grid.as_drawn.get(name) is None for name in names):
        return ""
    if not all(np.isfinite(grid.figures[name][cell]) for name in names):
        return ""
    level, spread = (show_level(grid.figures[name][cell]) for name in names)
    own_level, own_spread = (show_level(grid.as_drawn[name] or 0.0) for name in names)
    levels, leaves = grid.figures[names[0]], grid.figures["loaded_departure_hz"]
    loudest = _at_most(levels)
    best = f"the loudest is {_wall(grid, loudest)} ({show_level(np.nanmax(levels))})"
    if np.isfinite(leaves[np.isfinite(levels)]).all():  # none may leave below the top of the search
        farthest = _at_most(leaves)
        who = ", which also" if farthest == loudest else f" and {_wall(grid, farthest)}"
        best += f"{who} follows its coil farthest, up to {show_hz(np.nanmax(leaves))}"
    return (
        f"With everything on, {_wall(grid, cell)} gives a median level of {level} with a "
        f"spread of {spread}, the wall as drawn {own_level} with {own_spread}; {best}. Each is told over "
        "its own band, to its departure or where it plays."
    )


def reached(grid: WallGrid) -> Array:
    """The break-up mode of every wall (M, T), one beyond reach as the top of the search; nan where none was solved."""
    mode = grid.figures["break_up_mode_hz"]
    solved = np.isfinite(grid.figures["moving_mass_kg"])
    return np.where(np.isfinite(mode), mode, np.where(solved, SOUGHT * grid.up_to_hz, np.nan))


def _best(mode: Array, among: Flags, mass: Array) -> Cell:
    """The highest mode; of those that differ by less than ALIKE the lightest wall."""
    top = float(mode[among].max())
    alike = among & (mode >= (1 - ALIKE) * top)
    return _at_most(-np.where(alike, mass, np.inf))


def _at_most(values: Array) -> Cell:
    """The cell of the largest of some values (M, T), of which some may be nan."""
    place = int(np.nanargmax(values))
    return place // values.shape[1], place % values.shape[1]


def _wall(grid: WallGrid, cell: Cell) -> str:
    return f"{grid.materials[cell[0]].name} of {digits(1e6 * grid.thickness[cell[1]])} µm"


def _told(grid: WallGrid, cell: Cell) -> str:
    more = f", {naming('moving_mass_kg').words} {show_mass(float(grid.figures['moving_mass_kg'][cell]))}"
    return _hz(grid, float(reached(grid)[cell])) + more


def _hz(grid: WallGrid, mode: float) -> str:
    beyond = SOUGHT * grid.up_to_hz
    return f"above {show_hz(beyond)}" if mode >= beyond else show_hz(mode)


def _ends(grid: WallGrid, cells: list[Cell]) -> str:
    """Which of the walls named stand at an end of the range, so that a better one may lie beyond."""
    if len(grid.thickness) < 2:
        return ""
    last = len(grid.thickness) - 1
    sides = {0: "thinnest", last: "thickest"}
    found = dict.fromkeys((sides[j], grid.materials[i].name) for i, j in cells if j in sides)
    if not found:
        return ""
    ends = {name: " and the ".join(side for side, other in found if other == name) for _, name in found}
    words = join_words([f"{name} stands at the {side} gauge that was tried" for name, side in ends.items()])
    return f"{words[0].upper()}{words[1:]}: a better wall may lie beyond it."
