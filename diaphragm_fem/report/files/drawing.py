"""A design as a drawing in DXF: mid-line and both faces on layers by zone, axis, dimensions, a table of the walls.

Millimetres; the axis stands at x = 0, one half of the section is drawn. Equal designs give equal bytes. The part is
drawn as the design file has it, not as a tool must be cut for it: springback and thinning in forming are not in it.
"""

import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import degrees
from pathlib import Path
from typing import Any

import numpy as np

from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.drawing.curves import cubic_of
from diaphragm_fem.design.drawing.drawing import FACES
from diaphragm_fem.design.drawing.dxf import HIDDEN_LAYER
from diaphragm_fem.design.drawing.faces import draw_faces
from diaphragm_fem.design.files.apart import apart
from diaphragm_fem.design.files.whole_file import write_whole
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.outline import Point, begin, end
from diaphragm_fem.design.meridian.zone import Zone
from diaphragm_fem.errors import plain
from diaphragm_fem.report.words.words import name_materials, pieces_of, show_thickness

MM = 1e3
COLOURS = (5, 1, 4, 30, 6, 3, 140, 40)  # of the DXF's own palette, by zone
LONG_ARC = 5.0  # letters: a shorter one's radius stands in the table alone
AXIS, DIMENSIONS, COIL, GLUE = "axis", "dimensions", "coil", "glue"
_NO_NAME = re.compile(r"[<>/\\\":;?*|=`'\x00-\x1f]")


def write_dxf(design: Design, path: Path) -> Path:
    """Write the drawing of a design. Raises DesignError where a face of the wall cannot be drawn."""
    return write_whole(path, dxf_text(design), newline="\n")


def dxf_text(design: Design) -> str:
    with apart("ezdxf"):
        import ezdxf
    from ezdxf import units

    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True  # no clock and no random marks in the header
    try:
        document = ezdxf.new("R2010", setup=["linetypes"], units=units.MM)
        document.header["$LUNITS"] = 2
        sheet = _Sheet(document, document.modelspace(), _size(design))
        _draw_wall(sheet, design)
        _draw_former(sheet, design)
        _dimension(sheet, design)
        _tabulate(sheet, design)
        for kind in sorted(document.entitydb.dxf_types_in_use()):  # a set, whose order is another in each process
            document.classes.add_class(kind)
        stream = io.StringIO()
        document.write(stream)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
    return stream.getvalue()


@dataclass(frozen=True)
class _Sheet:
    """Where is drawn: the document, its model space, and the size of letters in mm."""

    document: Any
    space: Any
    letter: float

    def layer(self, name: str, colour: int, linetype: str = "Continuous") -> str:
        if name not in self.document.layers:
            self.document.layers.add(name, color=colour, linetype=linetype)
        return name

    def curve(self, curve: Curve, layer: str) -> None:
        at = {"layer": layer}
        if isinstance(curve, Line):
            self.space.add_line(_mm(curve.begin), _mm(curve.end), dxfattribs=at)
        elif isinstance(curve, Arc):
            first, last = sorted((curve.start, curve.start + curve.sweep))
            self.space.add_arc(_mm(curve.centre), curve.radius * MM, degrees(first), degrees(last), dxfattribs=at)
        else:
            knots, control = cubic_of(curve)
            spline = self.space.add_open_spline([], degree=3, dxfattribs=at)
            spline.control_points = [(*_mm((float(r), float(z))), 0.0) for r, z in control]
            spline.knots = [float(k) * MM for k in knots]

    def text(self, words: str, at: Point) -> None:
        layer = self.layer(DIMENSIONS, 8)
        self.space.add_text(words, height=self.letter, dxfattribs={"layer": layer}).set_placement(at)


def _layers(zones: Iterable[Zone]) -> dict[Zone, str]:
    """The name of each zone's layer: its own without the signs that no layer may have, told apart from the drawing's
    own layers, its faces and from others, of which a capital alone makes no other."""
    found: dict[Zone, str] = {}
    taken = {AXIS, DIMENSIONS, COIL, GLUE, HIDDEN_LAYER}
    for zone in zones:
        name = _NO_NAME.sub("_", plain(zone.name))
        while name.lower() in taken or name.lower().endswith(FACES):
            name += "_"
        taken.add(name.lower())
        found[zone] = name
    return found


def _draw_wall(sheet: _Sheet, design: Design) -> None:
    colours = {zone: COLOURS[n % len(COLOURS)] for n, zone in enumerate(design.zones)}
    layers = _layers(design.zones)
    faces = draw_faces(design.meridian)
    for piece in design.meridian:
        sheet.curve(piece.curve, sheet.layer(layers[piece.zone], colours[piece.zone], "CENTER"))
    for side, parts in (("rear", faces.rear), ("front", faces.front)):
        for part in parts:
            zone = design.meridian[part.piece].zone
            sheet.curve(part.curve, sheet.layer(f"{layers[zone]} {side} face", colours[zone]))
    for line, piece in ((faces.first, design.meridian[0]), (faces.last, design.meridian[-1])):
        sheet.curve(line, sheet.layer(f"{layers[piece.zone]} end face", colours[piece.zone]))


def _draw_former(sheet: _Sheet, design: Design) -> None:
    """The former's outline from the mid-line of the wall down, and the free surfaces of its glue."""
    if not design.former:
        return
    layer = sheet.layer(COIL, 8)
    faces = draw_faces(design.former)
    for part in faces.outline:
        sheet.curve(part.curve, layer)
    for curve in (curve for bead in design.beads for curve in bead.surface):
        sheet.curve(curve, sheet.layer(GLUE, 8))


def _dimension(sheet: _Sheet, design: Design) -> None:
    """Diameters where zones begin and end, the height of the whole, the radii of its arcs."""
    letter = sheet.letter
    style = sheet.document.dimstyles.new("part")
    for name, value in (
        ("dimtxt", letter), ("dimasz", letter), ("dimexe", letter / 2), ("dimexo", letter / 2), ("dimgap", letter / 3),
        ("dimdec", 4), ("dimtad", 1), ("dimzin", 8), ("dimtih", 0), ("dimtoh", 0),
    ):  # fmt: skip
        style.set_dxf_attrib(name, value)
    layer = {"layer": sheet.layer(DIMENSIONS, 8)}
    everywhere = _all_over(design)
    bottom, top = min(everywhere, key=lambda p: p[1]), max(everywhere, key=lambda p: p[1])
    low = bottom[1] - 3 * letter
    rightmost = max(r for r, _ in everywhere)
    points = sorted({p for p in _borders(design) if p[0] > 1e-6})
    for n, (r, z) in enumerate(points):
        sheet.space.add_linear_dim(
            base=(0, low - 2.2 * n * letter), p1=(0, low), p2=(r, z), text=f"%%c{2 * r:.5g}", dimstyle="part",
            dxfattribs=layer,
        ).render()  # fmt: skip
    if top[1] - bottom[1] > 1e-6:
        sheet.space.add_linear_dim(
            base=(rightmost + 3 * letter, 0), p1=bottom, p2=top, angle=90, text=f"{top[1] - bottom[1]:.5g}",
            dimstyle="part", dxfattribs=layer,
        ).render()  # fmt: skip
    for arc in _arcs(design.meridian):
        if arc.length * MM < LONG_ARC * letter:
            continue
        sheet.space.add_radius_dim(
            center=_mm(arc.centre), radius=arc.radius * MM, angle=degrees(arc.start + arc.sweep / 2),
            text=f"R{arc.radius * MM:.5g}", dimstyle="part", override={"dimtoh": 1, "dimtmove": 1}, dxfattribs=layer,
        ).render()  # fmt: skip
    axis = sheet.layer(AXIS, 8, "CENTER")
    end_of_axis = low - 2.2 * len(points) * letter
    sheet.space.add_line((0, end_of_axis), (0, top[1] + 4 * letter), dxfattribs={"layer": axis})


def _arcs(pieces: Sequence[Piece]) -> Iterable[Arc]:
    """One arc of each radius in each zone; pieces of one fillet are drawn as several."""
    found: dict[tuple[str, int], Arc] = {}
    for piece in pieces:
        if isinstance(piece.curve, Arc):
            found.setdefault((piece.zone.name, round(piece.curve.radius * 1e9)), piece.curve)
    return found.values()


def _borders(design: Design) -> list[Point]:
    """Points in mm where zones begin and end."""
    others = [piece for before, piece in pairwise(design.meridian) if piece.zone != before.zone]
    begins = [_mm(begin(piece.curve)) for piece in (design.meridian[0], *others)]
    return [*begins, _mm(end(design.meridian[-1].curve))]


def _all_over(design: Design) -> list[Point]:
    """Points in mm along the mid-line, close enough to tell the lowest and the highest to 1e-4 of an arc's radius."""
    return [
        _mm((float(r), float(z)))
        for piece in design.meridian
        for r, z in piece.curve.point(np.linspace(0.0, piece.curve.length, 2 if isinstance(piece.curve, Line) else 201))
    ]


def _tabulate(sheet: _Sheet, design: Design) -> None:
    """Name, unit, and the wall of each zone."""
    letter = sheet.letter
    rows = [plain(design.name), "half section, mm; as drawn: neither springback nor thinning in forming is in it"]
    for zone in design.zones:
        pieces = pieces_of(design, zone)
        thick = show_thickness(pieces).replace("µ", "u")
        radii = ", ".join(f"{arc.radius * MM:.5g}" for arc in _arcs(pieces))
        bent = f", radii {radii} mm" if radii else ""
        rows.append(f"{plain(zone.name)}: {plain(name_materials(pieces))}, {thick}{bent}")
    top = max(z for _, z in _all_over(design)) + 9 * letter
    for n, row in enumerate(reversed(rows)):
        sheet.text(row, (2 * letter, top + 1.8 * n * letter))


def _size(design: Design) -> float:
    """Height of letters in mm: a part fills some 60 of them."""
    return max(_mm(end(piece.curve))[0] for piece in design.meridian) / 60


def _mm(point: Point) -> Point:
    return point[0] * MM, point[1] * MM
