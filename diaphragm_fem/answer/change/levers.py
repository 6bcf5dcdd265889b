"""Levers: the numbers of a design file that may be changed to mend a part, what a file of points or two drawn faces
give its zones among them, and the design with one of them changed."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from math import inf
from pathlib import Path
from typing import Any

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.files.key_path import all_paths, format_path, key_words, parse_path, read_path
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.material.viscoelastic import LossFactor
from diaphragm_fem.design.profile.meridian_file import read_meridian_file
from diaphragm_fem.design.read.outline import thick_by_points
from diaphragm_fem.design.read.read import DesignFile, design_from
from diaphragm_fem.design.spec.profile import FreeProfile
from diaphragm_fem.design.units.grammar import split_amount
from diaphragm_fem.design.units.units import (
    AREA,
    FORCE_FACTOR,
    INDUCTANCE,
    LENGTH,
    MASS,
    MODULUS,
    RESISTANCE,
    VOLUME,
    Dimension,
    everyday_sizes,
    read_quantity,
)
from diaphragm_fem.design.wall_choice import with_material
from diaphragm_fem.errors import DesignError

THINNEST, THINNEST_FORMER = 6e-6, 20e-6  # films and foils; what a coil is wound on: common practice, no source
LAND = 0.5e-3  # of a plug between two slots: common practice, no source
SHORTEST = 3.0  # thicknesses of a zone's wall along it: shorter it is a bead, not a wall


def check_buildable(design: Design, before: Design) -> None:
    """Raises DesignError with what a design has too thin, too short or too near and the one `before` has not."""
    known = dict(_unbuildable(before))
    for place, why in _unbuildable(design):
        if place not in known:
            raise DesignError(f"{place}: {why}")


def _unbuildable(design: Design) -> Iterator[tuple[str, str]]:
    """Each zone or slot that cannot be built, and why not."""
    front = design.driver.front if design.driver is not None else None
    slots = sorted(enumerate(front.slots if front is not None else ()), key=lambda one: one[1].radius)
    for (_, inner), (number, outer) in pairwise(slots):
        land = outer.radius - inner.radius - (inner.width + outer.width) / 2
        if land < LAND:
            yield (
                f"front.slots[{number}]",
                f"{1e3 * land:.2g} mm of plug before it; {1e3 * LAND:g} mm are about the least",
            )
    for pieces, thinnest in ((design.meridian, THINNEST), (design.former, THINNEST_FORMER)):
        for zone in dict.fromkeys(piece.zone for piece in pieces):
            own = [piece for piece in pieces if piece.zone == zone]
            thickest = max(piece.wall.own.thickest for piece in own)
            if thickest < thinnest:
                yield zone.name, f"a wall of {1e6 * thickest:.3g} um; {1e6 * thinnest:.3g} um are about the thinnest"
            elif (length := sum(piece.curve.length for piece in own)) < SHORTEST * thickest:
                yield zone.name, f"{1e3 * length:.3g} mm long, less than {SHORTEST:.0f} of its thicknesses"


HORN = "exit.horn.distance"  # all of them: its length
TIED = ("exit.diameter", "exit.horn.area")  # of a horn one alone is refused: it begins with the exit's own area
PLACES = ("r", "z")  # points of a drawn meridian: moving one list of coordinates is no one dimension
BESIDE_LENGTHS: Mapping[str, tuple[Dimension, ...]] = {
    "coil": (MASS,), "motor": (FORCE_FACTOR, RESISTANCE, INDUCTANCE),
    "rear_chamber": (VOLUME,), "front": (VOLUME, AREA), "exit": (AREA,),
    "second_section": (VOLUME, AREA),
}  # fmt: skip
"""What of a table may be changed besides: no voltage, climate or density, which nobody chooses to mend a part."""
NUMBERS = ("rear_chamber.filling", "rear_chamber.loss_factor", "motor.inductance.coefficient")
NUMBER, LOSS, BY_ZONES = "number", "loss", "thickness by zones"
DAMPING = 0.05  # of a loss factor: from here on a material is chosen for it; below it is what it is
MOST_LOSS = 1.2  # of what is sold for damping, where a material does not say: the most in the library
KINDS = {one.name: one for one in (LENGTH, *(one for table in BESIDE_LENGTHS.values() for one in table))}


@dataclass(frozen=True)
class Lever:
    """One number of a design that may be changed: its key (or "modulus of NAME", "loss of NAME"), its value in SI, and
    of what kind it is: the name of a dimension, "number", "loss" or "thickness by zones", which is a factor. bounds:
    between which it can be had, for there are grades of rubbers, foams and coatings, but none of a metal or film of a
    tenth more modulus.
    """

    key: str
    value: float
    kind: str
    bounds: tuple[float, float] = (0.0, inf)

    @property
    def table(self) -> str:
        """The table of the design file in which it stands."""
        return "" if self.kind in (MODULUS.name, LOSS) else str(parse_path(self.key)[0])

    @property
    def words(self) -> str:
        """What it is in plain words: "inner step tread", "modulus of butyl rubber"."""
        return key_words(self.key) if self.table else self.key

    @property
    def of_the_system(self) -> bool:
        """Whether the place of the part sets it: a diameter is no wall, step or surround to be mended. Or what drives
        it: more force factor or less of a resistance is louder whatever the part, and hides what mends that: of 17
        verdicts on six drivers 14 named a stronger motor. Of a winding the mass, too: with its force factor and
        resistance it comes from one wire, and none is lighter with both kept (R = rho L/A, m = d L A)."""
        diameter = self.kind == LENGTH.name and self.key.endswith("diameter")
        return diameter or self.table == "motor" or self.kind == MASS.name

    def can_be(self, step: float) -> bool:
        """Whether there is one of 1 + step times the value."""
        return self.bounds[0] <= (1 + step) * self.value <= self.bounds[1]


def levers(file: DesignFile) -> Iterator[Lever]:
    """Every length written in the design file, the masses of its coil, what else of its driver's tables is chosen, in
    the order of the file; what a file of points or two drawn faces give its zones; then the modulus of every material
    that it uses, and the loss of those that damp."""
    paths = tuple(all_paths(file.data))
    for path in paths:
        steps = parse_path(path)
        value = read_path(file.data, path)
        # the first of a horn's distances is none
        first = (value[-1] if path == HORN else value[0]) if isinstance(value, list) and value else value
        if path in NUMBERS and isinstance(first, int | float) and first > 0:
            yield Lever(path, float(first), NUMBER)
        if not isinstance(first, str) or steps[-1] in PLACES or (path in TIED and TIED[1] in paths):
            continue
        for kind in (LENGTH, *BESIDE_LENGTHS.get(str(steps[0]), ())):
            if size := _size(first, kind):
                yield Lever(path, size, kind.name)
    for zone, factor in _thickness_factors(file).items():
        yield Lever(format_path(("profile", "thickness_factor", zone)), factor, BY_ZONES)
    for material in file.design.materials:
        value, graded = material.youngs_modulus, _damps(material)
        bounds = _met(material, "youngs_modulus", inf) if graded else (value, value)
        yield Lever(f"modulus of {material.name}", value, MODULUS.name, bounds)
    for material in file.design.materials:
        if _damps(material) and isinstance(loss := material.loss_factor, LossFactor):
            low, high = _met(material, "loss_factor", MOST_LOSS)
            least, most = min(loss.values), max(loss.values)
            bounds = low * loss.values[0] / least, high * loss.values[0] / most
            yield Lever(f"loss of {material.name}", loss.values[0], LOSS, bounds)


def _thickness_factors(file: DesignFile) -> dict[str, float]:
    """By what the thickness is multiplied that two drawn faces or a file of points give each zone: a key that may be
    added to the file."""
    profile = file.spec.profile
    if not isinstance(profile, FreeProfile) or profile.file is None:
        return {}
    zones = {piece.zone.name: 1.0 for piece in file.design.meridian}
    if profile.is_drawing:
        return zones | (profile.thickness_factor or {}) if profile.drawn == "two faces" else {}
    known = {material.name: material for material in file.design.materials}
    try:
        points = read_meridian_file(Path(file.path or "design").parent / profile.file, known)
    except DesignError:  # of a material that a table of its zone has replaced
        return profile.thickness_factor or {}
    given = thick_by_points(points, file.spec)
    return {zone: 1.0 for zone in zones if zone in given} | (profile.thickness_factor or {})


def _damps(material: Material) -> bool:
    return not isinstance(loss := material.loss_factor, LossFactor) or max(loss.values) >= DAMPING


def _met(material: Material, number: str, most: float) -> tuple[float, float]:
    """The range in which a number of a material is met, up to `most` where none is known."""
    known = material.evidence.get(number)
    return (0.0, most) if known is None or known.range is None else known.range


def _size(text: str, kind: Dimension) -> float | None:
    """None where a text is none: an everyday unit of anything else need not be read."""
    try:
        kinds = everyday_sizes(split_amount(text)[1])
        return read_quantity(text, kind) if not kinds or kind.unit in kinds else None
    except DesignError:
        return None


def with_lever(file: DesignFile, lever: Lever, factor: float) -> Design:
    """The design of a file with one lever times a factor. Raises DesignError where that cannot be built."""
    where = Path(file.path or "design")
    changes: dict[str, Any]
    if lever.kind == BY_ZONES:
        changes = {lever.key: factor * lever.value}
    elif not lever.table:
        name = lever.key.partition(" of ")[2]
        material = next(one for one in file.design.materials if one.name == name)
        other = replace(material, youngs_modulus=factor * material.youngs_modulus)
        if lever.kind == LOSS and isinstance(loss := material.loss_factor, LossFactor):
            other = replace(material, loss_factor=replace(loss, values=tuple(factor * one for one in loss.values)))
        return with_material(file.design, other)
    else:
        value = read_path(file.data, lever.key)
        scaled: list[str | float] = [factor * lever.value]
        if lever.kind != NUMBER:
            kind, texts = KINDS[lever.kind], value if isinstance(value, list) else [value]
            scaled = [f"{factor * read_quantity(text, kind):.12g} {kind.unit}" for text in texts]
        changes = {lever.key: scaled if isinstance(value, list) else scaled[0]}
    found = design_from(file.data, str(where), folder=where.parent, changes=changes)
    check_buildable(found, file.design)
    return found
