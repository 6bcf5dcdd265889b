"""The profile as a workshop drawing: section to scale, principal dimensions, walls, sizes and masses of the zones."""

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection

from diaphragm_fem.analysis.modes.label import short_name
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.glued.bead import bead_mass
from diaphragm_fem.design.library.evidence import MARK, doubtful_numbers
from diaphragm_fem.design.meridian.curve import Arc
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.design.zone_sizes import ZoneSize, zone_sizes
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.report.blocks.pages import with_units
from diaphragm_fem.report.sheets.names import fitted, folded_to, shorten_apart
from diaphragm_fem.report.sheets.section import (
    axes_to_scale,
    bounds,
    draw_nodes,
    draw_section,
    draw_supports,
    fitting_scale,
    layer_colour,
    trace,
)
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import BOLD, INK, RULE, SMALL, SOFT_INK, TEXT, note, text_width, zone_colours
from diaphragm_fem.report.words.words import name_materials, pieces_of, show_area, show_mass, show_mm, show_thickness

VIEW = (22.0, 78.0, 172.0, 120.0)  # the main drawing on the sheet, mm
CHAIN = (64.0, 14.0)  # foot and height of the chain of widths below it, mm
LEFT, RIGHT = 203.0, 287.0
COLUMNS = (("width", 245.5), ("height", 257.0), ("angle", 269.0), ("mass", RIGHT))


def profile_sheet(
    sheet: Sheet, design: Design, mesh: MeridianMesh | None = None, zone_area: Mapping[Zone, float] | None = None
) -> str:
    """The section to scale with its principal dimensions, the wall's thickness, and a table of the zones.

    zone_area maps zones to their rigid swept area in m2, shown where given; with a mesh its elements are marked.
    """
    box = bounds(design)
    scale = fitting_scale(box, VIEW[2] - 16, VIEW[3] - 14)
    colours, sizes = zone_colours(design.zones), zone_sizes(design)
    axes = axes_to_scale(sheet, box, VIEW, scale)
    axes.tick_params(labelbottom=False)
    axes.set_ylabel("height z, mm")
    draw_section(axes, design, colours)
    draw_supports(axes, design, 3.0 / scale)
    if mesh is not None:
        draw_nodes(axes, mesh, 1.1 / scale)
    if axes.get_xlim()[0] < 0 < axes.get_xlim()[1]:
        axes.axvline(0.0, color=SOFT_INK, lw=0.7, ls=(0, (10, 2, 2, 2)))
        note(axes, "axis", (0, 1), (3, -3), ("data", "axes fraction"), color=SOFT_INK, va="top")
    _draw_depth(axes, design, scale)
    _draw_chain(sheet, axes, sizes, scale)
    _thickness_panel(sheet, design, colours, axes.get_xlim())
    foot = _zone_table(sheet, design, sizes, colours, zone_area or {})
    notes = _notes(sheet, design, mesh, foot)
    draw_details(sheet, design, colours, (LEFT, RIGHT), (notes - 3, 66))
    _whole_section(sheet, design, colours, min(notes - 6, 62))
    return f"section at {scale:g}:1 on A4; z points to the listener"


def evaluated_profile(sheet: Sheet, evaluation: Answer) -> str:
    """The profile with the zones' rigid areas."""
    area = evaluation.area
    zone_area = {} if area is None else dict(zip(area.zones, map(float, area.zone_area), strict=True))
    return profile_sheet(sheet, evaluation.design, None, zone_area)


def _draw_depth(axes: Axes, design: Design, scale: float) -> None:
    """Depth of the front, without the coil, as a dimension left of the section."""
    front = 1e3 * np.concatenate([trace(p)[0] for p in design.meridian if p.zone.role is not Role.COIL])
    low, high = float(front[:, 1].min()), float(front[:, 1].max())
    if high - low < 2.0 / scale:
        return
    place = axes.get_xlim()[0] + 5.0 / scale
    for z in (low, high):
        at = float(front[np.argmin(np.abs(front[:, 1] - z)), 0])
        axes.plot([place - 1 / scale, at], [z, z], color=RULE, lw=0.5, zorder=1)
    axes.annotate("", (place, low), (place, high), arrowprops={"arrowstyle": "<->", "lw": 0.6, "shrinkA": 0,
                  "shrinkB": 0, "color": INK, "mutation_scale": 6})  # fmt: skip
    note(axes, f"{high - low:.3g}", (place, (low + high) / 2), (-2, 0), rotation=90, ha="right", va="center")


def _draw_chain(sheet: Sheet, view: Axes, sizes: Sequence[ZoneSize], scale: float) -> None:
    """The widths of the meridian's zones as one chain of dimensions, their ends carried down from the section."""
    axes = sheet.axes(VIEW[0], CHAIN[0], VIEW[2], CHAIN[1])
    axes.set_xlim(view.get_xlim())
    axes.set_ylim(0.0, CHAIN[1])
    axes.set_axis_off()
    chained = [size for size in sizes if size.zone.role is not Role.COIL and size.width * 1e3 * scale > 0.3]
    ends = sorted({(round(1e3 * r, 4), 1e3 * z) for size in chained for r, z in (size.begin, size.end)})
    line = 8.0
    foot = view.get_ylim()[0]
    view.add_collection(LineCollection([[(r, foot), (r, z)] for r, z in ends], colors=RULE, linewidths=0.5, zorder=1))
    carried = [[(r, line - 1.5), (r, CHAIN[1])] for r, _ in ends]
    axes.add_collection(LineCollection(carried, colors=RULE, linewidths=0.5))
    below = False
    for size in sorted(chained, key=lambda size: min(size.begin[0], size.end[0])):
        first, last = sorted((1e3 * size.begin[0], 1e3 * size.end[0]))
        words = f"{last - first:.3g}"
        axes.plot([first, last], [line, line], color=INK, lw=0.6, marker="|", ms=4, mew=0.8)
        fits = (last - first) * scale > text_width(words, SMALL) + 0.6
        below = not fits and not below
        axes.text((first + last) / 2, line + (1.0 if fits or not below else -1.2), words, size=SMALL, ha="center",
                  va="bottom" if fits or not below else "top")  # fmt: skip


def _thickness_panel(sheet: Sheet, design: Design, colours: Mapping[Zone, str], limits: tuple[float, float]) -> None:
    axes = sheet.axes(VIEW[0], 28.0, VIEW[2], 32.0)
    top = 0.0
    for piece in design.meridian:
        point, _, fraction = trace(piece)
        height = np.zeros(len(fraction))
        for layer in piece.wall.layers:
            foot, height = height, height + 1e6 * layer.thickness(fraction)
            colour = layer_colour(layer, piece, colours)
            axes.fill_between(1e3 * point[:, 0], foot, height, color=colour, lw=0, alpha=0.9)
        top = max(top, float(height.max()))
    axes.set_xlim(limits)
    axes.set_ylim(0, 1.15 * top)
    axes.set_xlabel("radius r, mm")
    axes.set_ylabel("wall, µm")


MADE_LINE = 3.6  # mm between lines of what a zone is made of


def _zone_table(
    sheet: Sheet, design: Design, sizes: Sequence[ZoneSize], colours: Mapping[Zone, str], area: Mapping[Zone, float]
) -> float:
    """The figure's one legend: swatch, name, sizes and mass; below them material, thickness and rigid area."""
    y = 196.0
    sheet.text(LEFT, y, "zone, in mm", size=SMALL, color=SOFT_INK)
    for words, right in COLUMNS:
        sheet.text(right, y, words, size=SMALL, color=SOFT_INK, ha="right")
    sheet.line(LEFT, y - 2, RIGHT, y - 2)
    made = [_made_of(design, size.zone, area) for size in sizes]
    masses = [size.mass for size in sizes]
    more = sum(len(lines) - 1 for lines in made) * MADE_LINE
    line = min(9.4, (125 - more) / (len(design.zones) + 0.5))
    y -= 6.5
    names = shorten_apart([short_name(size.zone.name) for size in sizes], COLUMNS[0][1] - LEFT - 13, BOLD * TEXT)
    for size, name, lines in zip(sizes, names, made, strict=True):
        sheet.box(LEFT, y - 3.4, 3.2, 6.0, colours[size.zone])
        sheet.text(LEFT + 5, y, name, size=TEXT, weight="bold")
        angle = "" if size.angle is None else f"{np.degrees(size.angle):.1f}°"
        lengths = (show_mm(x).removesuffix(" mm") for x in (size.width, size.height))
        told = (*lengths, angle, show_mass(size.mass, masses))
        for (_, right), words in zip(COLUMNS, told, strict=True):
            sheet.text(right, y, words, size=TEXT, ha="right")
        for k, words in enumerate(lines):
            sheet.text(LEFT + 5, y - 3.6 - k * MADE_LINE, words, size=SMALL, color=SOFT_INK)
        y -= line + (len(lines) - 1) * MADE_LINE
    sheet.line(LEFT, y + 3.2, RIGHT, y + 3.2)
    total = sum(masses) + (design.ring.mass if design.ring else 0.0)
    sheet.text(RIGHT, y - 0.6, f"in all {show_mass(total, masses)}", size=TEXT, ha="right")
    return y - 4.6


def _made_of(design: Design, zone: Zone, area: Mapping[Zone, float]) -> list[str]:
    """Material, thickness and rigid area of a zone, on as many lines as they take."""
    pieces, width = pieces_of(design, zone), RIGHT - LEFT - 5
    told = [f"{name_materials(pieces)}, {show_thickness(pieces)}", *([show_area(area[zone])] if area.get(zone) else [])]
    return [fitted(words, width, SMALL) for words in folded_to(with_units(", ".join(told)), width, SMALL)]


def _notes(sheet: Sheet, design: Design, mesh: MeridianMesh | None, y: float) -> float:
    """What the marks mean; returns where the words end."""
    notes = [f"ring at the coil's radius {show_mass(design.ring.mass)}, in the sum"] if design.ring else []
    if any(MARK in name_materials(pieces_of(design, zone)) for zone in design.zones):
        notes.append(f"{MARK} some numbers of this material have no published source")
    if _zones_end_in_corners(design):
        notes.append("away from the coil zones end amid rounded corners")
    if mesh is not None:
        notes.append(f"|  end of an element: {sum(len(s) - 1 for s in mesh.stations)} in all")
    if design.beads:
        material, mass = design.beads[0].material, sum(map(bead_mass, design.beads))
        mark = MARK if doubtful_numbers(material) else ""
        notes.append(f"grey: glue at the former, {material.name}{mark}, {show_mass(mass)} in the former's mass")
    if any(piece.winding for piece in design.former):
        notes.append("winding: height to scale, width a symbol")
    return sheet.lines(LEFT, y, notes, 3.8, size=SMALL, color=SOFT_INK)


def _zones_end_in_corners(design: Design) -> bool:
    """Whether anywhere but at the coil, where they end on its circle, two zones share the arc of a corner."""
    meeting = [pair for k, pair in enumerate(pairwise(design.meridian), start=1) if k != design.joint]
    apart = [(before.curve, after.curve) for before, after in meeting if before.zone != after.zone]
    return any(
        isinstance(one, Arc)
        and isinstance(other, Arc)
        and np.allclose((*one.centre, one.radius), (*other.centre, other.radius), rtol=0, atol=1e-9)
        for one, other in apart
    )


def _whole_section(sheet: Sheet, design: Design, colours: Mapping[Zone, str], top: float) -> None:
    """The whole diaphragm in small, both halves, with its main measures in words."""
    box = bounds(design)
    left, width = LEFT, RIGHT - LEFT
    scale = min(width / (2.04 * box[1]), 22.0 / max(box[3] - box[2], 1e-9))
    height = scale * (box[3] - box[2]) + 3
    axes = axes_to_scale(sheet, (0.0, 0.0, *box[2:]), (left, max(top - height, 34.0), width, height), scale)
    axes.set_axis_off()
    for mirror in (1, -1):
        lines = [1e3 * trace(piece)[0] * (mirror, 1) for piece in (*design.meridian, *design.former)]
        shades = [colours[piece.zone] for piece in (*design.meridian, *design.former)]
        axes.add_collection(LineCollection(lines, colors=shades, linewidths=1.1))
    axes.axvline(0.0, color=SOFT_INK, lw=0.6, ls=(0, (10, 2, 2, 2)))
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


MARGIN = 0.3  # of a detail's size, on each side of what is glued
GAP, LEAST = 3.0, 20.0  # mm between details, and the least height of one


def draw_details(
    sheet: Sheet, design: Design, colours: Mapping[Zone, str], across: tuple[float, float], down: tuple[float, float]
) -> None:
    """A framed detail to scale for each wall that lies on another, side by side in the room (left, right) and (top,
    bottom), mm of the sheet; none where there is no room."""
    found = _glued_places(design)
    (left, right), (top, bottom) = across, down
    if not found or top - bottom < LEAST:
        return
    width = (right - left + GAP) / len(found) - GAP
    height = min(top - bottom - 5.0, width)
    for n, ((glued, _), points) in enumerate(found.items()):
        low, high = points.min(axis=0), points.max(axis=0)
        margin = MARGIN * float((high - low).max())
        box = (low[0] - margin, high[0] + margin, low[1] - margin, high[1] + margin)
        scale, x = fitting_scale(box, width, height), left + n * (width + GAP)
        axes = axes_to_scale(sheet, box, (x, top - 4.0 - height, width, height), scale)
        axes.set_xticks([])
        axes.set_yticks([])
        for spine in axes.spines.values():
            spine.set(visible=True, color=RULE)
        draw_section(axes, design, colours, least=0.0)
        words = fitted(f"{scale:g}:1, {short_name(glued)}", width, SMALL)
        sheet.text(x, top - 2.2, words, size=SMALL, color=SOFT_INK)


def _glued_places(design: Design) -> dict[tuple[str, str], Array]:
    """Points (N, 2) in mm of the walls that carry another, by the names of the one that is glued and of its holder."""
    found: dict[tuple[str, str], list[Array]] = {}
    for piece in (*design.meridian, *design.former):
        for layer in piece.wall.layers:
            if layer.glued in design.zones:
                found.setdefault((layer.glued.name, piece.zone.name), []).append(1e3 * trace(piece)[0])
    return {names: np.concatenate(points) for names, points in found.items()}
