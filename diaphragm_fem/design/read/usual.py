"""What this trade commonly builds (usual.toml), and the values of a design that lie outside of it.

Such a value is possible, and mostly a slip of the unit: it is asked about, and taken when the design file names its
key in the list `unusual`.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from math import inf
from pathlib import Path
from typing import Any

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.files.input_file import read_toml_file
from diaphragm_fem.design.files.key_path import Step, format_path, parse_path
from diaphragm_fem.design.library.evidence import show_loss_factor, show_number
from diaphragm_fem.design.material.material import LossFactor, Material, Relaxation
from diaphragm_fem.design.meridian.outline import begin, end
from diaphragm_fem.design.units.grammar import split_amount
from diaphragm_fem.design.units.units import (
    DIMENSIONS,
    EVERYDAY,
    LENGTH,
    VOLUME,
    Dimension,
    Quantity,
    everyday_sizes,
    read_quantity,
    show,
)
from diaphragm_fem.errors import DesignError, UnusualError, echo

IMPERIAL = {"in", "inch", "mil"}  # nobody slips from these to the others
FILE = Path(__file__).with_name("usual.toml")
NEARLY = 3.0  # slips of a unit are larger
FILE_ASKED, OR_ALLOWED = "the design file", ", or give --allow-unusual"  # a study has no such option
MOST_ASKED, MOST_NAMED = 8, 40  # values that a message asks about, keys that it has a design list
RATIO, FILM, HOLE = "wall to radius", "film thickness", "hole at the axis"  # stand for keys in `unusual`
WOUND = "layers of the winding"  # another
STIFF, STIFF_FROM = "stiff wall to radius", 1.5e9  # Pa: the band of walls from that modulus on
SAID_UNIT = "another unit than the one that it says"
SHALLOW = 0.01  # of the cube of the largest radius: a layer of air of 0.003 of it; common practice, no source
FAR = 5.0  # times beyond the range of a material's base: what fills or hardens a substance makes up to two


@dataclass(frozen=True)
class Band:
    """The usual size of one kind of value: both ends in SI with their texts, the kind, and where it is known from."""

    what: str
    low: float
    high: float
    text: str
    dimension: Dimension | None
    source: str


@dataclass(frozen=True)
class Unusual:
    """A value outside its band: its key, how it was written, the band, and what was probably meant ("" unknown)."""

    key: str
    written: str
    band: Band
    meant: str = ""

    @property
    def question(self) -> str:
        """The words, and "; did you mean 0.22 g?" where that can be guessed."""
        return f"{self.words}; did you mean {self.meant}?" if self.meant else self.words

    @property
    def words(self) -> str:
        """ "coil.winding_mass = 0.22 Mg; a winding or ring commonly weighs 2 mg to 250 g"."""
        return f"{self.key} = {self.written}; {self.band.what.format(self.band.text)}"


@cache
def usual_bands() -> Mapping[str, Band]:
    """The band of each key, or last names of a key path."""
    found: dict[str, Band] = {}
    for row in read_toml_file(FILE)["band"]:
        ends = [row.get("low"), row.get("high")]
        dimension = _dimension_of(row["high"]) if split_amount(row["high"])[1] else None
        low, high = (
            None if text is None else float(text) if dimension is None else float(read_quantity(text, dimension))
            for text in ends
        )
        text = f"{ends[0]} to {ends[1]}" if ends[0] else f"up to {ends[1]}"
        for key in row["keys"]:
            bound = (low or 0.0, inf if high is None else high)
            found[key] = Band(row["what"], *bound, text, dimension, row["source"])
    return found


def _dimension_of(text: str) -> Dimension:
    known = everyday_sizes(split_amount(text)[1])
    for dimension in DIMENSIONS:
        if dimension.unit in known:
            return dimension
    raise DesignError(f"{FILE}: {echo(text)} is no quantity of a kind that the program knows")


def unusual_values(data: Mapping[str, Any]) -> Iterator[Unusual]:
    """The values of a design's data that lie outside their bands."""
    for path, text in _texts(data, ()):
        found = unusual_value(path, text)
        if found is not None:
            yield found


@lru_cache(maxsize=4096)  # in a sweep hardly one changes
def unusual_value(path: tuple[Step, ...], text: str) -> Unusual | None:
    """The value written at a key path where it lies outside its band; None where it does not, or is no amount."""
    names = [step for step in path if isinstance(step, str) and step != "value"]
    band = usual_bands().get(".".join(names[-2:])) or usual_bands().get(names[-1])
    if band is None or band.dimension is None:
        return None
    try:
        value = read_quantity(text, band.dimension)
    except DesignError:  # a word such as "held", or a name
        return None
    if not value or band.low <= abs(value) <= band.high:
        return None
    return Unusual(format_path(step for step in path if step != "value"), value.text, band, _meant(value, band))


def _texts(value: Any, path: tuple[Step, ...]) -> Iterator[tuple[tuple[Step, ...], str]]:
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, Mapping):
        for key, inner in value.items():
            if key not in ("range", "frequency"):
                yield from _texts(inner, (*path, key))
    elif isinstance(value, list | tuple):
        for index, inner in enumerate(value):
            yield from _texts(inner, (*path, index))


def _unusual_materials(data: Mapping[str, Any], design: Design) -> Iterator[Unusual]:
    """Of materials that stand in a file of their own; a number far from what its material is based on; a loss that
    nothing has."""
    for material in design.materials:
        for quantity in ("density", "youngs_modulus"):
            band, value = usual_bands()[quantity], getattr(material, quantity)
            if band.low <= value <= band.high:
                band = _near_base(material, quantity, band)
            elif quantity in data.get("materials", {}).get(material.name, {}):
                continue  # asked about as it is written
            if not band.low <= value <= band.high:
                key, written = format_path(("materials", material.name, quantity)), show_number(quantity, value)
                yield Unusual(key, written, band, _meant(read_quantity(written, band.dimension or DIMENSIONS[0]), band))
        loss, band = material.loss_factor, usual_bands()["loss_factor"]
        if isinstance(loss, LossFactor) and max(loss.values) > band.high:
            yield Unusual(format_path(("materials", material.name, "loss_factor")), show_loss_factor(loss), band)


def _near_base(material: Material, quantity: str, band: Band) -> Band:
    """The band of a number about what its material is based on; `band` where it is on nothing, or known at rest."""
    known = material.evidence.get(quantity)
    if known is None or known.before is None or isinstance(material.loss_factor, Relaxation):
        return band
    low, high = known.before
    text = " to ".join(dict.fromkeys(show_number(quantity, end) for end in (low, high)))
    what = "the material that it is based on commonly has {}"
    return Band(what, low / FAR, high * FAR, text, band.dimension, "the library's range")


def _thick_walls(data: Mapping[str, Any], design: Design) -> Iterator[Unusual]:
    """The thickest wall of all, of what is stiff, and of films, where it is thicker than any that is formed; of a drawn
    or free meridian, whose walls are seen, the first alone."""
    radius = max(max(begin(piece.curve)[0], end(piece.curve)[0]) for piece in design.meridian)
    walls = [(RATIO, piece.wall.thickest, piece.zone.name) for piece in design.meridian]
    formed = (*design.meridian, *design.former) if data.get("profile", {}).get("kind") != "free" else ()
    for piece in formed:
        for layer in piece.wall.own.layers:
            thickness, material = max(layer.begin_thickness, layer.end_thickness), layer.material
            kinds = [STIFF] if material.youngs_modulus >= STIFF_FROM else []
            kinds += [FILM] if material.name.endswith("film") else []
            walls += [(kind, thickness, piece.zone.name) for kind in kinds]
    for kind in dict.fromkeys(kind for kind, *_ in walls):
        band, (_, thickness, zone) = usual_bands()[kind], max(wall for wall in walls if wall[0] == kind)
        if thickness > band.high * (1 if kind == FILM else radius):
            written = f"{thickness / radius:.2g}: '{zone}' is {show(thickness)} thick at a radius of {show(radius)}"
            film = f"{show(thickness)} in '{zone}'"
            yield Unusual(FILM, film, band) if kind == FILM else Unusual(RATIO, written, band)
            return


def _sizes_from_a_file(data: Mapping[str, Any], design: Design) -> Iterator[Unusual]:
    """Of a meridian that stands in a file of its own: how large it is, and a hole too small to be meant."""
    file = data.get("profile", {}).get("file")
    if file is None:
        return
    radii = [end_of(piece.curve)[0] for piece in design.meridian for end_of in (begin, end)]
    low, high = min(radii), max(radii)
    within, hole = usual_bands()["r"], usual_bands()[HOLE]
    if high > within.high:
        yield Unusual("profile.file", f"{echo(file)}, which reaches a radius of {show(high)}", within, SAID_UNIT)
    if 1e-9 < low < hole.low * high:
        yield Unusual(HOLE, f"{show(low)}, where {echo(file)} begins", hole, "a meridian that begins at r = 0")


def _wound_high(data: Mapping[str, Any]) -> Iterator[Unusual]:
    """A winding whose wire lies in more layers than any that is wound, without its insulation."""
    coil, band = data.get("coil", {}), usual_bands()[WOUND]
    if (wire := coil.get("wire")) is None:
        return
    thick, high = (read_quantity(text, LENGTH) for text in (wire["diameter"], coil["winding_height"]))
    layers = wire["turns"] * thick / high
    if layers > band.high:
        written = f"{layers:.0f}: {wire['turns']} turns of {thick.text} in a winding {high.text} high"
        yield Unusual(WOUND, written, band)


def _shallow_chamber(data: Mapping[str, Any], design: Design) -> Iterator[Unusual]:
    """A rear chamber far too small for its part: cubic millimetres, written for cubic centimetres."""
    written, band = data.get("rear_chamber", {}).get("volume"), usual_bands()["volume"]
    if written is None:
        return
    radius = max(end(piece.curve)[0] for piece in design.meridian)
    volume, least = read_quantity(written, VOLUME), SHALLOW * radius**3
    if band.low <= volume < least:
        what = f"behind a radius of {show(radius)} a chamber commonly holds {{}}"
        own = Band(what, least, band.high, f"{1e6 * least:.2g} cm3 or more", VOLUME, band.source)
        yield Unusual("rear_chamber.volume", volume.text, own, _meant(volume, own))


def _meant(value: Quantity, band: Band) -> str:
    """The same number in the first everyday unit that puts it into its band, units spelled alike first; "" where it
    lies so little outside that nobody slipped."""
    assert band.dimension is not None
    if band.low / NEARLY <= abs(value) <= band.high * NEARLY:
        return ""
    usual = [example.split()[-1] for example in band.dimension.examples]
    alike = [unit for unit in EVERYDAY[band.dimension.unit] if unit.lower() == value.unit.lower()]
    for unit in dict.fromkeys((*alike, *usual, *EVERYDAY[band.dimension.unit])):
        factor = EVERYDAY[band.dimension.unit].get(unit, 0.0)
        slip = unit != value.unit and (unit in IMPERIAL) == (value.unit in IMPERIAL)
        if slip and band.low <= abs(value) / value.factor * factor <= band.high:
            return f"{value.text[: len(value.text) - len(value.unit)].strip()} {unit}"
    return ""


def check_usual(
    data: Mapping[str, Any], design: Design | None = None, written: Sequence[Unusual] | None = None
) -> tuple[str, ...]:
    """What is unusual and allowed in the data, and in the finished design where there is one, in words; `written` may
    hand in the `unusual_values` of the data.

    Raises UnusualError for what is unusual and not named in the list `unusual` of the data.
    """
    given = data.get("unusual", ())
    allowed = {*given, *(format_path(parse_path(key)) for key in given)}
    found = list(unusual_values(data) if written is None else written)
    if design is not None:
        found += [*_unusual_materials(data, design), *_thick_walls(data, design), *_sizes_from_a_file(data, design)]
        found += [*_wound_high(data), *_shallow_chamber(data, design)]
    refused = [one for one in found if one.key not in allowed]
    if refused:
        lines = [one.question for one in refused]
        names = dict.fromkeys((*given, *(one.key for one in refused)))
        keys = ", ".join(f"'{key}'" for key in names)
        ask = f"if it is meant, add to {FILE_ASKED} the line unusual = [{keys}]{OR_ALLOWED}"
        if len(names) > MOST_NAMED:
            meant = f"if all of them are meant, add to {FILE_ASKED} a list unusual that names them"
            ask = f"{len(refused)} values are unusual; {meant}{OR_ALLOWED}"
        raise UnusualError("\n".join([*lines[:MOST_ASKED], ask]), tuple(one.key for one in refused))
    return tuple(f"unusual, and allowed in the design: {one.words}" for one in found)
