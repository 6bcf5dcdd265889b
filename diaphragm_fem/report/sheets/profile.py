"""The profile: the wall's section to scale, its zones in colour, coil, supports and mesh nodes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PolyCollection
from numpy.typing import NDArray

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.edge import CLAMPED, FREE, HINGED, Edge
from diaphragm_fem.design.evidence import MARK
from diaphragm_fem.design.zone import Role, Zone
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import INK, RULE, SMALL, SOFT_INK, zone_colours
from diaphragm_fem.report.words import name_materials, pieces_of, show_area, show_thickness

Array = NDArray[np.float64]

SCALES = (0.1, 0.2, 0.25, 0.5, 1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200)
CURVED_STEPS = 32  # chords per curved piece
VIEW = (22.0, 76.0, 175.0, 122.0)  # the main drawing on the sheet, mm


def profile_sheet(
    sheet: Sheet, design: Design, mesh: MeridianMesh | None = None, zone_area: Mapping[Zone, float] | None = None
) -> str:
    """Sheet with the section to scale, the wall's thickness over the radius, and a table of the zones.

    zone_area maps zones to their rigid swept area in m2, shown where given.
    """
    left, bottom, width, height = VIEW
    box = bounds(design)
    scale = fitting_scale(box, width - 6, height - 14)
    colours = zone_colours(design.zones)
    axes = sheet.axes(left, bottom, width, height)
    centre = ((box[0] + box[1]) / 2, (box[2] + box[3]) / 2)
    half = (width / 2 / scale, height / 2 / scale)
    axes.set_xlim(centre[0] - half[0], centre[0] + half[0])
    axes.set_ylim(centre[1] - half[1], centre[1] + half[1])
    axes.set_xlabel("radius r, mm")
    axes.set_ylabel("height z, mm")
    draw_section(axes, design, colours)
    draw_supports(axes, design, 3.0 / scale)
    if mesh is not None:
        _draw_nodes(axes, mesh, 1.1 / scale)
    _draw_axis_of_revolution(axes)
    _thickness_panel(sheet, design, colours, axes.get_xlim())
    foot = _zone_table(sheet, design, colours, mesh, zone_area or {})
    _whole_section(sheet, design, colours, min(foot - 8, 62))
    return f"section at {scale:g}:1 on A4; z points to the listener"


def draw_section(axes: Axes, design: Design, colours: Mapping[Zone, str], *, least: float = 0.5) -> None:
    """The wall between its faces, in mm; lines of `least` points keep the thinnest wall visible."""
    polygons, fills = [], []
    for piece in (*design.meridian, *design.former):
        point, normal, fraction = trace(piece)
        half = piece.wall.thickness(fraction)[:, None] / 2
        polygons.append(1e3 * np.concatenate((point + half * normal, (point - half * normal)[::-1])))
        fills.append(colours[piece.zone])
        if piece.winding is not None:
            _draw_winding(axes, point, colours[piece.zone])
        _draw_layers(axes, piece, point, normal, fraction)
    axes.add_collection(PolyCollection(polygons, facecolors=fills, edgecolors=fills, linewidths=least, zorder=3))
    if design.ring is not None and design.joint is not None:
        piece = design.meridian[min(design.joint, len(design.meridian) - 1)]
        at = piece.curve.point(0.0 if design.joint < len(design.meridian) else piece.curve.length) * 1e3
        axes.plot(*at, marker="s", ms=5, color=SOFT_INK, zorder=5)


def _draw_layers(axes: Axes, piece: Piece, point: Array, normal: Array, fraction: Array) -> None:
    """White lines where one layer of a laminate meets the next."""
    height = -piece.wall.thickness(fraction) / 2
    for layer in piece.wall.layers[:-1]:
        height = height + layer.thickness(fraction)
        axes.plot(*(1e3 * (point + height[:, None] * normal)).T, color="white", lw=0.4, zorder=4)


def _draw_winding(axes: Axes, point: Array, colour: str) -> None:
    """A hatched block outside the former; its width is a symbol, for a winding is known by mass and stiffness alone."""
    length = float(np.linalg.norm(point[-1] - point[0])) * 1e3
    outward = np.array([0.16 * length, 0.0])
    begin, end = 1e3 * point[0], 1e3 * point[-1]
    axes.add_collection(
        PolyCollection(
            [np.array([begin, begin + outward, end + outward, end])],
            facecolors="white",
            edgecolors=colour,
            hatch="xxxx",
            linewidths=0.7,
            zorder=2.5,
        )
    )


def trace(piece: Piece) -> tuple[Array, Array, Array]:
    """Points (N, 2) and normals (N, 2) along a piece in metres, and the fraction of its length (N,)."""
    curve = piece.curve
    curved = np.abs(curve.curvature(np.linspace(0, curve.length, 5))).max() * curve.length > 1e-6
    fraction = np.linspace(0, 1, CURVED_STEPS if curved else 2)
    s = fraction * curve.length
    tangent = curve.tangent(s)
    return curve.point(s), np.stack((-tangent[:, 1], tangent[:, 0]), axis=1), fraction


def bounds(design: Design) -> tuple[float, float, float, float]:
    """r from, r to, z from, z to of everything drawn, in mm."""
    point = 1e3 * np.concatenate([trace(piece)[0] for piece in (*design.meridian, *design.former)])
    return float(point[:, 0].min()), float(point[:, 0].max()), float(point[:, 1].min()), float(point[:, 1].max())


def fitting_scale(box: tuple[float, float, float, float], width: float, height: float) -> float:
    largest = min(width / max(box[1] - box[0], 1e-9), height / max(box[3] - box[2], 1e-9))
    fitting = [scale for scale in SCALES if scale <= largest]
    return fitting[-1] if fitting else largest


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
        axes.add_collection(
            LineCollection(_support_sign(edge, at, tangent, normal, size), colors=INK, linewidths=0.8, zorder=4)
        )


def _support_sign(edge: Edge, at: Array, out: Array, side: Array, size: float) -> list[Array]:
    if edge == HINGED:
        tip = [at, at + size * (0.8 * out + 0.5 * side), at + size * (0.8 * out - 0.5 * side), at]
        return [np.array(tip)]
    if edge.elastic:
        steps = np.linspace(0, 1, 9)[:, None]
        wave = np.array([0, 0.3, -0.3, 0.3, -0.3, 0.3, -0.3, 0.3, 0])[:, None]
        return [
            at + size * (steps * out + wave * side),
            np.array([at + size * (out + 0.6 * side), at + size * (out - 0.6 * side)]),
        ]
    ground = [np.array([at - size * 0.7 * side, at + size * 0.7 * side])]
    dashes = np.linspace(-0.7, 0.7, 6) if edge == CLAMPED else np.linspace(-0.7, 0.7, 3)
    return ground + [np.array([at + size * d * side, at + size * ((d - 0.25) * side + 0.35 * out)]) for d in dashes]


def _draw_nodes(axes: Axes, mesh: MeridianMesh, size: float) -> None:
    """A tick at every element end, on the rear side, so that the wall's colour stays in view."""
    ticks = []
    for piece, stations in zip(mesh.pieces, mesh.stations, strict=True):
        point, tangent = 1e3 * piece.curve.point(stations), piece.curve.tangent(stations)
        normal = np.stack((-tangent[:, 1], tangent[:, 0]), axis=1)
        thick = 1e3 * piece.wall.thickness(stations / stations[-1])[:, None] / 2
        ticks.append(np.stack((point - (size + thick) * normal, point - thick * normal), axis=1))
    axes.add_collection(
        LineCollection(np.concatenate(ticks), colors=INK, linewidths=0.35, zorder=2.8, label="mesh node")
    )


def _draw_axis_of_revolution(axes: Axes) -> None:
    if axes.get_xlim()[0] < 0 < axes.get_xlim()[1]:
        axes.axvline(0.0, color=SOFT_INK, lw=0.7, ls=(0, (10, 2, 2, 2)))
        axes.annotate(
            "axis",
            (0, 1),
            (3, -3),
            xycoords=("data", "axes fraction"),
            textcoords="offset points",
            size=SMALL,
            color=SOFT_INK,
            va="top",
        )


def _thickness_panel(sheet: Sheet, design: Design, colours: Mapping[Zone, str], limits: tuple[float, float]) -> None:
    axes = sheet.axes(VIEW[0], 27.0, VIEW[2], 34.0)
    top = 0.0
    for piece in design.meridian:
        point, _, fraction = trace(piece)
        thick = 1e6 * piece.wall.thickness(fraction)
        top = max(top, float(thick.max()))
        axes.fill_between(1e3 * point[:, 0], thick, color=colours[piece.zone], lw=0, alpha=0.9)
    axes.set_xlim(limits)
    axes.set_ylim(0, 1.15 * top)
    axes.set_xlabel("radius r, mm")
    axes.set_ylabel("wall thickness, µm")


def _zone_table(
    sheet: Sheet, design: Design, colours: Mapping[Zone, str], mesh: Any, area: Mapping[Zone, float]
) -> float:
    """The figure's one legend: swatch, name, rigid area, material and thickness. Returns where it ends."""
    from matplotlib.patches import Rectangle

    left, right, line = 206.0, 287.0, 9.4
    y = 196.0
    sheet.text(left, y, "Zone", size=SMALL, color=SOFT_INK)
    sheet.text(right, y, "rigid area" if area else "", size=SMALL, color=SOFT_INK, ha="right")
    sheet.line(left, y - 2, right, y - 2)
    line = min(line, 125 / len(design.zones))
    y -= 6.5
    marked = False
    for zone in design.zones:
        pieces = pieces_of(design, zone)
        sheet.figure.add_artist(
            Rectangle(
                (left / sheet.width, (y - 3.4) / sheet.height),
                3.2 / sheet.width,
                6.0 / sheet.height,
                color=colours[zone],
                lw=0,
                transform=sheet.figure.transFigure,
            )
        )
        sheet.text(left + 5, y, zone.name, size=TABLE_TEXT, weight="bold")
        if area.get(zone):
            sheet.text(right, y, show_area(area[zone]), size=TABLE_TEXT, ha="right")
        materials = name_materials(pieces)
        marked = marked or MARK in materials
        sheet.text(left + 5, y - 3.6, f"{materials}, {show_thickness(pieces)}", size=SMALL, color=SOFT_INK)
        y -= line
    sheet.line(left, y + 3.2, right, y + 3.2)
    notes = [f"{MARK} some numbers of this material have no published source"] if marked else []
    if mesh is not None:
        notes.append(f"|  end of an element: {sum(len(s) - 1 for s in mesh.stations)} in all")
    if any(piece.winding for piece in design.former):
        notes.append("winding: height to scale, width a symbol")
    for note in notes:
        sheet.text(left, y - 1, note, size=SMALL, color=SOFT_INK)
        y -= 4
    return y


TABLE_TEXT = 7.6


def _whole_section(sheet: Sheet, design: Design, colours: Mapping[Zone, str], top: float) -> None:
    """The whole diaphragm in small, both halves, with its main measures in words."""
    box = bounds(design)
    left, width = 206.0, 81.0
    scale = min(width / (2.04 * box[1]), 22.0 / max(box[3] - box[2], 1e-9))
    height = scale * (box[3] - box[2]) + 3
    axes = sheet.axes(left, max(top - height, 34.0), width, height)
    axes.set_axis_off()
    for mirror in (1, -1):
        lines = [1e3 * trace(piece)[0] * (mirror, 1) for piece in (*design.meridian, *design.former)]
        shades = [colours[piece.zone] for piece in (*design.meridian, *design.former)]
        axes.add_collection(LineCollection(lines, colors=shades, linewidths=1.1))
    axes.axvline(0.0, color=SOFT_INK, lw=0.6, ls=(0, (10, 2, 2, 2)))
    axes.set_xlim(-width / 2 / scale, width / 2 / scale)
    middle = (box[2] + box[3]) / 2
    axes.set_ylim(middle - height / 2 / scale, middle + height / 2 / scale)
    words = [f"outer edge Ø {2 * box[1]:.4g} mm"]
    if box[0] > 1e-3:
        words.append(f"inner edge Ø {2 * box[0]:.4g} mm")
    radius = design.joint_radius
    if radius is not None:
        words.insert(0, f"coil Ø {2e3 * radius:.4g} mm")
    front = 1e3 * np.concatenate([trace(p)[0] for p in design.meridian if p.zone.role is not Role.COIL])
    words.append(f"depth {np.ptp(front[:, 1]):.3g} mm")
    sheet.line(left, 31.5, left + width, 31.5, colour=RULE)
    half = (len(words) + 1) // 2
    sheet.text(left, 27.0, "   ".join(words[:half]), size=SMALL)
    sheet.text(left, 23.0, "   ".join(words[half:]), size=SMALL)


def evaluated_profile(sheet: Sheet, evaluation: Answer) -> str:
    """The profile with the mesh that was used and the zones' rigid areas."""
    area = evaluation.area
    zone_area = {} if area is None else dict(zip(area.zones, map(float, area.zone_area), strict=True))
    return profile_sheet(sheet, evaluation.design, evaluation.mesh, zone_area)
