"""Enlarged details of where one wall lies on another: overlaps and collars."""

from collections.abc import Mapping

import numpy as np

from diaphragm_fem.analysis.modes.label import short_name
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.meridian.zone import Zone
from diaphragm_fem.report.sheets.names import fitted
from diaphragm_fem.report.sheets.section import axes_to_scale, draw_section, fitting_scale, trace
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import RULE, SMALL, SOFT_INK

MARGIN = 0.3  # of a detail's size, on each side of what is glued
GAP, LEAST = 3.0, 20.0  # mm between details, and the least height of one


def draw_details(
    sheet: Sheet, design: Design, colours: Mapping[Zone, str], across: tuple[float, float], down: tuple[float, float]
) -> None:
    """A framed detail to scale for each wall that lies on another, side by side in the room (left, right) and (top,
    bottom), mm of the sheet; none where there is no room.
    """
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
