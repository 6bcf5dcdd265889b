"""The wall's section as it is drawn everywhere: faces in zone colours, layers, winding, supports, ends of elements."""

from collections.abc import Mapping

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PolyCollection

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE, HINGED, Edge
from diaphragm_fem.design.meridian.wall import Layer
from diaphragm_fem.design.meridian.zone import Zone
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import INK, SOFT_INK

SCALES = (0.1, 0.2, 0.25, 0.5, 1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200)
CURVED_STEPS = 32  # chords per curved piece

Box = tuple[float, float, float, float]  # r from, r to, z from, z to, in mm


def draw_section(axes: Axes, design: Design, colours: Mapping[Zone, str], *, least: float = 0.5) -> None:
    """The wall between its faces, in mm; lines of `least` points keep the thinnest wall visible."""
    polygons, fills = [], []
    for piece in (*design.former, *design.meridian):  # the former, which begins at the mid-line, ends behind the wall
        point, normal, fraction = trace(piece)
        height = piece.wall.rear(fraction)[:, None]
        for layer in piece.wall.layers:
            foot, height = height, height + layer.thickness(fraction)[:, None]
            polygons.append(1e3 * np.concatenate((point + height * normal, (point + foot * normal)[::-1])))
            fills.append(layer_colour(layer, piece, colours))
        if piece.winding is not None:
            _draw_winding(axes, point, colours[piece.zone], piece.winding.inside)
        _draw_layers(axes, piece, point, normal, fraction)
    for bead in design.beads:
        polygons.append(1e3 * np.concatenate([curve.point(np.linspace(0, curve.length, 13)) for curve in bead.outline]))
        fills.append(SOFT_INK)
    axes.add_collection(PolyCollection(polygons, facecolors=fills, edgecolors=fills, linewidths=least, zorder=3))
    if design.ring is not None and design.joint is not None:
        piece = design.meridian[min(design.joint, len(design.meridian) - 1)]
        at = piece.curve.point(0.0 if design.joint < len(design.meridian) else piece.curve.length) * 1e3
        axes.plot(*at, marker="s", ms=5, color=SOFT_INK, zorder=5)


def layer_colour(layer: Layer, piece: Piece, colours: Mapping[Zone, str]) -> str:
    """That of the zone whose wall it is; glue is grey."""
    return colours.get(layer.glued or piece.zone, SOFT_INK)


def _draw_layers(axes: Axes, piece: Piece, point: Array, normal: Array, fraction: Array) -> None:
    """White lines where one layer of a laminate meets the next."""
    height = piece.wall.rear(fraction)
    for layer in piece.wall.layers[:-1]:
        height = height + layer.thickness(fraction)
        axes.plot(*(1e3 * (point + height[:, None] * normal)).T, color="white", lw=0.4, zorder=4)


def _draw_winding(axes: Axes, point: Array, colour: str, inside: bool) -> None:
    """A hatched block on its face of the former; its width is a symbol, for a winding is known by mass and stiffness
    alone."""
    length = float(np.linalg.norm(point[-1] - point[0])) * 1e3
    outward = np.array([(-0.16 if inside else 0.16) * length, 0.0])
    begin, end = 1e3 * point[0], 1e3 * point[-1]
    block = [np.array([begin, begin + outward, end + outward, end])]
    look = {"facecolors": "white", "edgecolors": colour, "hatch": "xxxx", "linewidths": 0.7}
    axes.add_collection(PolyCollection(block, zorder=2.5, **look))


def trace(piece: Piece) -> tuple[Array, Array, Array]:
    """Points (N, 2) and normals (N, 2) along a piece in metres, and the fraction of its length (N,)."""
    curve = piece.curve
    curved = np.abs(curve.curvature(np.linspace(0, curve.length, 5))).max() * curve.length > 1e-6
    fraction = np.linspace(0, 1, CURVED_STEPS if curved else 2)
    s = fraction * curve.length
    tangent = curve.tangent(s)
    return curve.point(s), np.stack((-tangent[:, 1], tangent[:, 0]), axis=1), fraction


def bounds(design: Design) -> Box:
    """The box of everything drawn."""
    point = 1e3 * np.concatenate([trace(piece)[0] for piece in (*design.meridian, *design.former)])
    return float(point[:, 0].min()), float(point[:, 0].max()), float(point[:, 1].min()), float(point[:, 1].max())


def fitting_scale(box: Box, width: float, height: float) -> float:
    largest = min(width / max(box[1] - box[0], 1e-9), height / max(box[3] - box[2], 1e-9))
    fitting = [scale for scale in SCALES if scale <= largest]
    return fitting[-1] if fitting else largest


def axes_to_scale(sheet: Sheet, box: Box, place: tuple[float, float, float, float], scale: float) -> Axes:
    """Axes at a place of the sheet (left, bottom, width, height in mm), the box in their middle, scale:1."""
    axes = sheet.axes(*place)
    across, up = place[2] / scale / 2, place[3] / scale / 2
    r, z = (box[0] + box[1]) / 2, (box[2] + box[3]) / 2
    axes.set_xlim(r - across, r + across)
    axes.set_ylim(z - up, z + up)
    return axes


def draw_supports(axes: Axes, design: Design, size: float) -> None:
    """Signs at the held edges: a hatched ground for clamped, a triangle for hinged, a spring's zigzag for elastic."""
    for edge, index in ((design.inner_edge, 0), (design.outer_edge, -1)):
        if edge is None or edge == FREE:
            continue
        curve = design.meridian[index].curve
        s = 0.0 if index == 0 else curve.length
        tangent = np.asarray(curve.tangent(s)) * (-1 if index == 0 else 1)
        normal = np.array([-tangent[1], tangent[0]])
        at = 1e3 * np.asarray(curve.point(s))
        sign = _support_sign(edge, at, tangent, normal, size)
        axes.add_collection(LineCollection(sign, colors=INK, linewidths=0.8, zorder=4))


def _support_sign(edge: Edge, at: Array, out: Array, side: Array, size: float) -> list[Array]:
    if edge == HINGED:
        return [np.array([at, at + size * (0.8 * out + 0.5 * side), at + size * (0.8 * out - 0.5 * side), at])]
    if edge.elastic:
        steps = np.linspace(0, 1, 9)[:, None]
        wave = np.array([0, 0.3, -0.3, 0.3, -0.3, 0.3, -0.3, 0.3, 0])[:, None]
        foot = np.array([at + size * (out + 0.6 * side), at + size * (out - 0.6 * side)])
        return [at + size * (steps * out + wave * side), foot]
    ground = [np.array([at - size * 0.7 * side, at + size * 0.7 * side])]
    dashes = np.linspace(-0.7, 0.7, 6) if edge == CLAMPED else np.linspace(-0.7, 0.7, 3)
    return ground + [np.array([at + size * d * side, at + size * ((d - 0.25) * side + 0.35 * out)]) for d in dashes]


def draw_nodes(axes: Axes, mesh: MeridianMesh, size: float) -> None:
    """A tick at every element end, on the rear side, so that the wall's colour stays in view."""
    ticks = []
    for piece, stations in zip(mesh.pieces, mesh.stations, strict=True):
        point, tangent = 1e3 * piece.curve.point(stations), piece.curve.tangent(stations)
        normal = np.stack((-tangent[:, 1], tangent[:, 0]), axis=1)
        rear = 1e3 * piece.wall.rear(stations / stations[-1])[:, None]
        ticks.append(np.stack((point + (rear - size) * normal, point + rear * normal), axis=1))
    look = {"colors": INK, "linewidths": 0.35, "label": "mesh node"}
    axes.add_collection(LineCollection(np.concatenate(ticks), zorder=2.8, **look))
