"""A drawing in DXF as curves in metres: this file reads it and is the only one of its floor that knows ezdxf.

Taken are lines, arcs, polylines with bulges, splines and ellipses, also in blocks, turned and mirrored ones among them.
Texts, dimensions, hatches and construction lines are passed over, and so is what lies on a layer that is off, frozen or
not printed. Anything else that is drawn is refused, as the part may be in it.
"""

import io
import logging
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import hypot
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from diaphragm_fem.design.drawing.curves import Drafting, curves_of
from diaphragm_fem.design.files.apart import apart
from diaphragm_fem.design.files.input_file import LONGEST_NAME, read_file_bytes, text_complaint
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.outline import Point, begin, end
from diaphragm_fem.design.units.units import EVERYDAY, LENGTH
from diaphragm_fem.errors import DesignError, echo, plain

MOST_DRAWING_BYTES = 8_000_000
MOST_PARTS = 400_000  # lines that say 0, which begin an entity or are a number: 30 us each
MOST_ENTITIES = 20_000  # looked at, those in blocks once per place they stand at
MOST_CURVES = 2_000  # that may make up the part, lines and arcs
MOST_FREE = 200  # of these that are splines or parts of ellipses
DEEPEST_BLOCK = 12  # blocks within one another
UNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 9: "mil", 13: "um"}  # what the header's $INSUNITS says
METRES = {unit: EVERYDAY[LENGTH.unit][unit] for unit in UNITS.values()}
HIDDEN_LAYER = "defpoints"  # holds the feet of dimensions and is never printed
NO_PART = frozenset({
    "TEXT", "MTEXT", "ATTDEF", "ATTRIB", "DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "LEADER",
    "MULTILEADER", "MLEADER", "TOLERANCE", "HATCH", "MPOLYGON", "POINT", "RAY", "XLINE", "VIEWPORT", "IMAGE", "WIPEOUT",
    "ACAD_TABLE", "SHAPE", "LIGHT", "SUN",
})  # fmt: skip


@dataclass(frozen=True)
class Drawn:
    """One smooth curve of a drawing, in metres, and the layer it lies on."""

    curve: Curve
    layer: str


@dataclass(frozen=True)
class Drawing:
    """What a file shows: its curves, the drawing's unit by name, where the axis at z = 0 lies in it in that unit."""

    curves: tuple[Drawn, ...]
    unit: str
    origin: Point

    def place(self, point: Point) -> str:
        """A point (r, z) in metres as the drawing has it: "x = 12.5, y = 3 (mm)"."""
        x, y = (p / METRES[self.unit] + o for p, o in zip(point, self.origin, strict=True))
        return f"x = {x:.7g}, y = {y:.7g} ({self.unit})"


def read_drawing(path: Path, unit: str | None, origin: Point, wanted: Callable[[str], bool]) -> Drawing:
    """The curves on the layers that are `wanted`.

    unit is the user's word for the drawing's unit, needed where the file has none; origin (x, y) in metres is where the
    drawing has the axis r = 0 and the height z = 0. Raises DesignError naming the file, and coordinates where it can.
    """
    place = f"profile.file: {plain(str(path))}"
    document = _open(path, place)
    unit = _unit(document, unit, place)
    shift = (origin[0] / METRES[unit], origin[1] / METRES[unit])
    empty = Drawing((), unit, shift)
    try:
        drafting = Drafting(METRES[unit], shift)
        found = tuple(_curves(document, drafting, empty, wanted, place))
    except DesignError:
        raise
    except RecursionError:
        raise DesignError(f"{place}: blocks lie too deep within one another") from None
    except Exception as error:  # ezdxf and the numbers of a damaged file raise all sorts
        raise DesignError(f"{place}: cannot be read as a drawing ({_words(error)})") from error
    return Drawing(found, unit, shift)


def layer_names(path: Path) -> list[str]:
    """The layers of a drawing on which something lies, for messages."""
    document = _open(path, f"profile.file: {plain(str(path))}")
    return sorted({plain(entity.dxf.layer) for entity in document.modelspace()})


def _open(path: Path, place: str) -> Any:
    with apart("ezdxf"):
        import ezdxf
    from ezdxf.tools.codepage import toencoding

    logging.getLogger("ezdxf").addHandler(logging.NullHandler())  # what it says of odd files is for its own authors
    data = read_file_bytes(path, before="profile.file: ", most=MOST_DRAWING_BYTES)
    if b"\x00" in data:
        raise DesignError(f"{place}: a binary file; save the drawing as DXF in text (ASCII) form")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        named = re.search(rb"\$DWGCODEPAGE\s+3\s+(\w+)", data)
        text = data.decode(toencoding(named[1].decode()) if named else "cp1252", errors="replace")
    if not re.match(r"\s*(999\r?\n[^\n]*\n\s*)*0\r?\n\s*SECTION", text):
        raise DesignError(f"{place}: no drawing in DXF; save it as DXF in text (ASCII) form")
    if len(re.findall(r"^ *0 *$", text, flags=re.MULTILINE)) > MOST_PARTS:  # each is made before any is looked at
        raise DesignError(f"{place}: more than {MOST_PARTS} entities and lines that say 0; leave the part alone")
    try:
        return ezdxf.read(io.StringIO(text.replace("\r\n", "\n")))
    except RecursionError:
        raise DesignError(f"{place}: its parts lie too deep within one another") from None
    except Exception as error:  # what a damaged file makes of it: every kind of error was seen
        raise DesignError(f"{place}: cannot be read as a drawing in DXF ({_words(error)}); save it anew") from error


def _words(error: Exception) -> str:
    """What the library says is wrong; an error of arithmetic or of a list says nothing that a draughtsman can use."""
    from ezdxf.lldxf.const import DXFError

    return echo(str(error)) if isinstance(error, DXFError | ValueError) else "its numbers do not fit together"


def _unit(document: Any, asked: str | None, place: str) -> str:
    """The drawing's unit, by its header and the user's word for it."""
    code = document.header.get("$INSUNITS", 0)
    own = UNITS.get(code)
    if own is None and asked is None:
        says = "does not say its unit" if code == 0 else f"is in a unit not known here ($INSUNITS = {echo(code)})"
        raise DesignError(f'{place}: the drawing {says}; give it in the design file, such as drawing_unit = "mm"')
    if own is not None and asked is not None and own != asked:
        raise DesignError(
            f"profile.drawing_unit: says '{asked}', but the drawing {plain(place.removeprefix('profile.file: '))} says "
            f"'{own}' ($INSUNITS = {code}); correct the one that is wrong"
        )
    return asked or own or ""


def _curves(
    document: Any, drafting: Drafting, drawing: Drawing, wanted: Callable[[str], bool], place: str
) -> Iterator[Drawn]:
    count = SimpleNamespace(seen=0)
    hidden = _hidden_layers(document)
    kept = free = 0
    for entity, layer in _flat(document.modelspace(), "", 0, count, place):
        kind = entity.dxftype()
        if kind in NO_PART or layer.lower() in hidden or entity.dxf.get("invisible", 0):
            continue
        complaint = text_complaint(layer, LONGEST_NAME) if layer.strip() else "needs a name"
        if complaint:
            raise DesignError(f"{place}: the name of a layer {complaint}; received {echo(layer)}")
        if not wanted(layer):
            continue
        try:
            curves = curves_of(entity, drafting)
        except DesignError as error:
            raise DesignError(f"{place}: layer {echo(layer)}: {error}") from None
        except Exception as error:  # the library and the numbers of a damaged curve raise all sorts
            which = f"the {kind} with handle {echo(str(entity.dxf.get('handle', 'none')))}"
            raise DesignError(f"{place}: layer {echo(layer)}: {which} cannot be read ({_words(error)})") from error
        for curve in curves:
            kept += 1
            free += not isinstance(curve, Line | Arc)
            if kept > MOST_CURVES or free > MOST_FREE:
                most = f"{MOST_CURVES} curves" if kept > MOST_CURVES else f"{MOST_FREE} splines or parts of ellipses"
                raise DesignError(
                    f"{place}: more than {most} on the layers that are read; leave the part alone, or name its "
                    "layers in profile.layers"
                )
            low, high = begin(curve), end(curve)
            if max(map(abs, (*low, *high))) > 1e3:
                raise DesignError(f"{place}: a curve reaches to {drawing.place(high)}; is the unit right?")
            yield Drawn(curve, layer)


def _hidden_layers(document: Any) -> set[str]:
    found = {HIDDEN_LAYER}
    for layer in document.layers:
        if layer.is_off() or layer.is_frozen() or not layer.dxf.get("plot", 1):
            found.add(layer.dxf.name.lower())
    return found


def _flat(entities: Any, layer: str, depth: int, count: SimpleNamespace, place: str) -> Iterator[tuple[Any, str]]:
    """Entities with their layers, those of blocks in place of the blocks; layer 0 in a block is the block's own."""
    for entity in entities:
        count.seen += max(getattr(entity, "mcount", 1), 1)  # a block of nothing may stand at as many places
        if count.seen > MOST_ENTITIES:
            raise DesignError(f"{place}: more than {MOST_ENTITIES} entities with those in blocks; leave the part alone")
        own = entity.dxf.get("layer", "0")
        at = layer if depth and own == "0" else own
        if entity.dxftype() != "INSERT":
            yield entity, at
            continue
        if depth >= DEEPEST_BLOCK:
            raise DesignError(f"{place}: blocks lie more than {DEEPEST_BLOCK} deep in one another, or in themselves")
        for single in entity.multi_insert() if entity.mcount > 1 else (entity,):
            yield from _flat(single.virtual_entities(), at, depth + 1, count, place)


def far(a: Point, b: Point) -> float:
    """The distance of two points."""
    return hypot(a[0] - b[0], a[1] - b[1])
