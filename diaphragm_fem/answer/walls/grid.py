"""One design in every material and every thickness asked for: a grid of figures on one mesh."""

import time
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from math import isclose
from pathlib import Path
from typing import NamedTuple, TypeAlias

import numpy as np

from diaphragm_fem.analysis.figures.definitions import AS_USUAL, difference
from diaphragm_fem.answer.driver.driver import quick_figures
from diaphragm_fem.answer.driver.loaded import Vacuum, load_design_on, loaded, patterns_of
from diaphragm_fem.answer.machine.cores import cores, on_all_cores, one_thread
from diaphragm_fem.answer.quick import Quick, quick
from diaphragm_fem.answer.walls.family import HELD, SAMPLED, TRIED, Walls, line_of, wall_family, wall_span
from diaphragm_fem.answer.walls.quick_walls import quick_walls
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.library.library import find_material, load_materials
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.design.read.read import DesignFile, read_design_file
from diaphragm_fem.design.read.usual import check_usual
from diaphragm_fem.design.units.units import LENGTH, read_quantity
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.errors import StudyError, UnusualError
from diaphragm_fem.load.surroundings import Surroundings, surround
from diaphragm_fem.model.joint.kinds import keys_of, meet, shared_with_children
from diaphragm_fem.model.shell.front_face import Face

CHECKS = 5  # cells solved again with the full model
WORTH = 24  # thicknesses of a material that pay for making its span: 16 (metal dome) to 45 (soft dome)
ALIKE = 1e-3  # of a thickness: two drawn faces tell one film's by less apart, two gauges are more

Table: TypeAlias = Mapping[str, float | None]


@dataclass(frozen=True, eq=False)
class WallGrid:
    """Figures of M materials by T thicknesses on the meridian of one design, those with everything on among them where
    its file describes surroundings: the same air, gap and slots for all walls.

    zones: those whose wall varies, the others keep theirs; thickness (T,) in m, of a wall that tapers at its thickest
    place; thinnest: its thickness at the thinnest over that, 1 of an even wall; figures: name -> (M, T) in SI units,
    nan where a figure does not exist; as_drawn: figures of the design itself, whose wall is drawn_material and
    drawn_thickness; checked: cells (row, column) solved again by the full model, and error: the largest relative
    difference found there, figure by figure; seconds: time taken, checks included.
    """

    design: Design
    zones: tuple[str, ...]
    materials: tuple[Material, ...]
    thickness: Array
    figures: Mapping[str, Array]
    as_drawn: Mapping[str, float | None]
    drawn_material: str
    drawn_thickness: float
    checked: tuple[tuple[int, int], ...]
    error: Mapping[str, float]
    seconds: float
    up_to_hz: float
    thinnest: float = 1.0


def read_wall_grid(
    design_file: str | Path,
    materials: Sequence[str],
    thicknesses: Sequence[str],
    *,
    up_to_hz: float = 20e3,
    allow_unusual: bool = False,
) -> WallGrid:
    """Grid from a design file, names of materials (the file's own among them) and thicknesses such as "60 um".

    Raises UnusualError for a wall thicker than any that is formed of its material, unless allow_unusual or the file's
    own list `unusual` says that it is meant.
    """
    file = read_design_file(design_file, allow_unusual=allow_unusual)
    extra = Path(design_file).parent / file.spec.materials_file if file.spec.materials_file else None
    known = load_materials(extra, file.spec.materials, overrides_from=str(design_file))
    found = [find_material(known, name, where="--materials") for name in materials]
    values = [float(read_quantity(text, LENGTH)) for text in thicknesses]
    if values and not allow_unusual:
        _check_usual(file, found, max(values))
    return wall_grid(file.design, found, values, up_to_hz=up_to_hz)


def _check_usual(file: DesignFile, materials: Sequence[Material], thickest: float) -> None:
    names, wall = _varied_zones(file.design)
    for material in materials:
        choice = WallChoice(material, thickest / wall.thickest)
        try:
            check_usual(file.data, with_walls(file.design, dict.fromkeys(names, choice)))
        except UnusualError as error:
            raise UnusualError(f"--thickness: of {material.name}: {error}", error.keys) from None


@one_thread
def wall_grid(
    design: Design,
    materials: Sequence[Material],
    thicknesses: Sequence[float],
    *,
    up_to_hz: float = 20e3,
    checks: int = CHECKS,
) -> WallGrid:
    """Figures of a design in every material and thickness (m), its meridian as drawn.

    All zones vary that share the wall of the first driven one; one that tapers keeps its taper, and a thickness is that
    of its thickest place. Corner radii that a design file derives from the thickness stay as drawn too.
    Raises StudyError for an empty list, what stands there twice, a thickness not above zero, or a wall of several
    layers or materials.
    """
    begun = time.perf_counter()
    _check(materials, thicknesses)
    names, wall = _varied_zones(design)
    drawn = wall.thickest
    thickness = np.sort(np.asarray(thicknesses, float))

    def walls(material: Material, h: float) -> dict[str, WallChoice]:
        return dict.fromkeys(names, WallChoice(material, h / drawn))

    shape, stiffest = (len(materials), len(thickness)), int(np.argmax([own.youngs_modulus for own in materials]))
    cells = _cells_to_check(*shape, checks, stiffest)
    alone = [design, *(with_walls(design, walls(materials[i], thickness[j])) for i, j in cells)]
    tables, (own, *exact) = _by_family(design, walls, materials, thickness, alone, up_to_hz)
    figures = {
        name: np.array([np.nan if table[name] is None else table[name] for table in tables], float).reshape(shape)
        for name in tables[0]
    }
    error = _largest_error(figures, dict(zip(cells, exact, strict=True)))
    if wall.material in materials:  # the wall as drawn has one number, its own mesh's
        row, columns = materials.index(wall.material), np.isclose(thickness, drawn, rtol=1e-6, atol=0.0)
        for name, values in figures.items():
            values[row, columns] = np.nan if own[name] is None else own[name]
    return WallGrid(
        design, names, tuple(materials), thickness, figures, own, wall.material.name, drawn,
        tuple(cells), error, time.perf_counter() - begun, up_to_hz, wall.taper,
    )  # fmt: skip


def _by_family(
    design: Design, walls: Callable[[Material, float], Walls], materials: Sequence[Material], thickness: Array,
    alone: Sequence[Design], up_to_hz: float,
) -> tuple[list[Table], list[Table]]:  # fmt: skip
    """Figures of every material in every thickness in turn, on one mesh, and of some designs each on its own."""
    ends = [walls(material, float(h)) for material in materials for h in dict.fromkeys(thickness[[0, -1]])]
    family = wall_family(design, ends, up_to_hz=up_to_hz)
    pressed = None if design.driver is None else _pressed(surround(design, family.face, up_to_hz=up_to_hz))
    low, high = np.log(thickness[[0, -1]])
    places = np.exp(low + np.array([*SAMPLED, *TRIED]) * (high - low)).tolist()

    def tables_of(material: Material, some: Array) -> list[Table]:
        made = [walls(material, h) for h in places]
        samples, tries, span = made[: len(SAMPLED)], made[len(SAMPLED) :], None
        if len(some) >= WORTH:
            vacuum = design.driver is None
            span = wall_span(family, samples, tries, pressed, expected=len(some), narrows=vacuum)
        group = span or family
        air = None if design.driver is None else surround(design, group.face, up_to_hz=up_to_hz)
        found = quick_walls(group, [walls(material, h) for h in some.tolist()])
        return [_table(design, own, group.face, air) for own in found]

    def meet_joints(_: int) -> None:  # of all materials, for those that differ in these alone share their cuts
        made = [walls(materials[0], h) for h in places]
        if len(parts[0][1]) < WORTH:
            every = (walls(material, h) for h in thickness.tolist() for material in materials)
            meet(keys_of([kind for own in every for kind in family.joint_kinds(own)]))
        elif line := line_of(family, made[: len(SAMPLED)]):
            line.meet(made[len(SAMPLED) :][:HELD], [walls(material, float(thickness[0])) for material in materials[1:]])

    turns = -(-cores() // len(materials))  # few materials are shared out by thickness, too
    parts = [(material, thickness[turn::turns]) for material in materials for turn in range(turns)]
    work = [partial(tables_of, *part) for part in parts]
    work += [partial(_full_table, one, up_to_hz) for one in alone]  # short: for whoever is free at the end
    with shared_with_children():
        on_all_cores(meet_joints, range(cores()))
        found = on_all_cores(lambda do: do(), work)
    tables = [found[k * turns + j % turns][j // turns] for k in range(len(materials)) for j in range(len(thickness))]
    return tables, [table for (table,) in found[len(parts) :]]


def _check(materials: Sequence[Material], thicknesses: Sequence[float]) -> None:
    if not len(materials) or not len(thicknesses):
        raise StudyError(
            f"a grid needs at least one material and one thickness, received {len(materials)} and {len(thicknesses)}"
        )
    for what, named in (
        ("material", [f"'{material.name}'" for material in materials]),
        ("thickness", [f"{1e6 * thickness:.9g} um" for thickness in thicknesses]),
    ):
        name, count = Counter(named).most_common(1)[0]
        if count > 1:
            raise StudyError(f"each {what} of a grid must be named once, received {name} {count} times")
    if not (thinnest := float(np.min(thicknesses))) > 0:
        raise StudyError(f"a wall's thickness must be above 0 um, received {1e6 * thinnest:g} um")


class _ZoneWall(NamedTuple):
    """The wall of a zone of one layer: what of, and how thin and thick in m it is along the zone."""

    material: Material
    thinnest: float
    thickest: float

    @property
    def taper(self) -> float:
        """The thinnest place over the thickest, 1 of an even wall."""
        return 1.0 if isclose(self.thinnest, self.thickest, rel_tol=ALIKE) else self.thinnest / self.thickest

    def is_like(self, other: "_ZoneWall") -> bool:
        ends = (self.thinnest, other.thinnest), (self.thickest, other.thickest)
        return self.material == other.material and all(isclose(*pair, rel_tol=ALIKE) for pair in ends)


def _zone_wall(pieces: Iterable[Piece]) -> _ZoneWall | None:
    """The wall of a zone's pieces, without what is glued on; None of several layers or materials."""
    layers = [piece.wall.own.layers for piece in pieces]
    if any(len(own) != 1 for own in layers) or len({own[0].material for own in layers}) != 1:
        return None
    ends = [end for (own,) in layers for end in (own.begin_thickness, own.end_thickness)]
    return _ZoneWall(layers[0][0].material, min(ends), max(ends))


def _varied_zones(design: Design) -> tuple[tuple[str, ...], _ZoneWall]:
    """Names of the zones whose wall is that of the first driven one, as thin and as thick, and that wall."""
    zones: dict[str, list[Piece]] = {}
    for piece in design.meridian:
        zones.setdefault(piece.zone.name, []).append(piece)
    lead = next((name for name, own in zones.items() if own[0].zone.role is Role.DRIVEN), next(iter(zones)))
    walls = {name: _zone_wall(own) for name, own in zones.items()}
    if (wall := walls[lead]) is None:
        raise StudyError(
            f"{lead}: a grid varies walls of one layer, and this one has several layers or materials; let a key of one "
            'layer vary in a study, such as "wall.layers[0].thickness", or try a few by `compare --try`'
        )
    return tuple(name for name, own in walls.items() if own and own.is_like(wall)), wall


def _pressed(air: Surroundings) -> Array | None:
    """What the surroundings push on: patterns (n, P) on the front face."""
    patterns = patterns_of(air)
    return np.hstack(patterns) if patterns else None


def _table(design: Design, found: Quick, face: Face, air: Surroundings | None) -> Table:
    if air is None:
        return found.figures.table()
    vacuum = Vacuum(found.solution, face, corrected=True)
    return {**found.figures.table(), **quick_figures(loaded(design, vacuum, air)).figures()}


def _full_table(design: Design, up_to_hz: float) -> list[Table]:
    if design.driver is None:
        return [quick(design, up_to_hz=up_to_hz).figures.table()]
    found = load_design_on(design, up_to_hz=up_to_hz)
    return [{**found.vacuum.quick(AS_USUAL).figures.table(), **quick_figures(found).figures()}]


def _cells_to_check(rows: int, columns: int, count: int, stiffest: int) -> list[tuple[int, int]]:
    """Cells spread over the grid, and the stiffest and thickest, where the mesh that all share is the finest for it."""
    if not count:
        return []
    places = (np.arange(count - 1) + 0.5) / max(count - 1, 1)
    across = np.roll(places, (count - 1) // 2)
    spread = [(int(a * rows), int(b * columns)) for a, b in zip(places, across, strict=True)]
    return list(dict.fromkeys((*spread, (stiffest, columns - 1))))


def _largest_error(
    figures: Mapping[str, Array], exact: Mapping[tuple[int, int], Mapping[str, float | None]]
) -> dict[str, float]:
    """Largest relative difference of each figure at the checked cells; 1 where only one of the models has it."""
    worst: dict[str, float] = {}
    for (row, column), table in exact.items():
        for name, value in table.items():
            found = float(figures[name][row, column])
            apart = difference(name, None if np.isnan(found) else found, value)
            worst[name] = max(worst.get(name, 0.0), apart)
    return worst
