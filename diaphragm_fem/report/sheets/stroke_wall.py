"""The wall at several strokes: its section to scale, and the strains along it."""

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from diaphragm_fem.answer.stroke.stroke import StrokeAnswer
from diaphragm_fem.arrays import Array
from diaphragm_fem.report.contents.stroke import show_stroke
from diaphragm_fem.report.sheets.section import axes_to_scale, bounds, draw_section, fitting_scale
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import ALARM, DASHED, INK, SMALL, SOFT_INK, pale, zone_colours, zone_dashes

REAR, FRONT = "#0d3a5e", "#d0501c"  # apart in a grey print, halves among them


def shown_states(answer: StrokeAnswer) -> list[int]:
    """Indices of the strokes in pictures: both ends, their halves, rest."""
    path = answer.path
    wanted = (path.stroke[0], path.stroke[0] / 2, path.stroke[path.rest], path.stroke[-1] / 2, path.stroke[-1])
    return sorted({int(np.argmin(np.abs(path.stroke - x))) for x in wanted})


def _colour(answer: StrokeAnswer, index: int) -> str:
    """Blue toward the rear, red toward the listener, ink at rest; paler for a smaller stroke."""
    path = answer.path
    if index == path.rest:
        return INK
    way = path.stroke[index] - path.stroke[path.rest]
    reach = (path.stroke[-1] if way > 0 else path.stroke[0]) - path.stroke[path.rest]
    return pale(FRONT if way > 0 else REAR, 0.45 * (1 - way / reach))


def bent_lines(answer: StrokeAnswer, index: int) -> list[Array]:
    """The bent mid-surface (N, 2) in m, piece by piece."""
    return answer.path.shell.lines(answer.path.states[index].unknowns)


def section_sheet(sheet: Sheet, answer: StrokeAnswer) -> str:
    """Sheet with the section at several strokes, to scale, the drawn wall in its zones' colours behind."""
    design, states = answer.design, shown_states(answer)
    lines = {k: bent_lines(answer, k) for k in states}
    every = 1e3 * np.concatenate([line for found in lines.values() for line in found])
    drawn = bounds(design)
    low, high = np.minimum(drawn[::2], every.min(axis=0)), np.maximum(drawn[1::2], every.max(axis=0))
    box = (low[0], high[0], low[1], high[1])
    place = (22.0, 42.0, 262.0, 150.0)
    scale = fitting_scale(box, place[2] - 6, place[3] - 10)
    axes = axes_to_scale(sheet, box, place, scale)
    axes.set_xlabel("radius r, mm")
    axes.set_ylabel("height z, mm")
    faded = {zone: pale(colour, 0.7) for zone, colour in zone_colours(design.zones).items()}
    draw_section(axes, design, faded)
    for k in states:
        for line in lines[k]:
            axes.plot(*(1e3 * line).T, color=_colour(answer, k), lw=1.1, zorder=5)
    handles = [_handle(answer, k) for k in states]
    sheet.legend(20, 18, handles, loc="lower left", ncols=len(handles))
    return f"at {scale:g}:1 on A4; nothing exaggerated"


def _handle(answer: StrokeAnswer, index: int) -> Line2D:
    words = show_stroke(answer.path.stroke[index])
    label = f"{words}, rest" if index == answer.path.rest else words
    return Line2D([], [], color=_colour(answer, index), lw=1.6, label=label)


def strain_sheet(sheet: Sheet, answer: StrokeAnswer) -> str:
    """Sheet with the largest fibre strain and the membrane strain along the meridian, and over stroke by zone."""
    design, states = answer.design, [k for k in shown_states(answer) if k != answer.path.rest or answer.plan.pre_strain]
    fibre, membrane = sheet.axes(22.0, 118.0, 160.0, 72.0), sheet.axes(22.0, 31.0, 160.0, 72.0)
    over = sheet.axes(206.0, 86.0, 80.0, 104.0)
    for k in states:
        found = answer.strength.fibres_at(k)
        _along(fibre, answer, np.nanmax(found.strain, axis=0), _colour(answer, k))
        _along(membrane, answer, found.membrane_along, _colour(answer, k))
        _along(membrane, answer, found.membrane_around, _colour(answer, k), ls=DASHED)
    for axes, label in ((fibre, "largest fibre strain, %"), (membrane, "membrane strain, % (broken: around)")):
        axes.set_ylabel(label)
        _name_zones(axes, answer, names=axes is fibre)
    fibre.set_ylim(0.0, None)
    membrane.set_xlabel("arc length along the meridian, mm")
    membrane.axhline(0.0, color=SOFT_INK, lw=0.7)
    _over_stroke(over, answer)
    colours, dashes = zone_colours(design.zones), zone_dashes(design.zones)
    zones = [Line2D([], [], color=colours[z], ls=dashes[z], label=z.name) for z in design.zones]
    by_stroke = [_blank("on the left, by stroke"), *(_handle(answer, k) for k in states)]
    by_zone = [_blank("above, by zone"), *zones]
    rows = max(len(by_stroke), len(by_zone))
    handles = [*by_stroke, *(_blank() for _ in range(rows - len(by_stroke))), *by_zone]
    handles += [_blank() for _ in range(2 * rows - len(handles))]
    sheet.legend(200, 74, handles, handlelength=2.6, ncols=2, columnspacing=1.0)
    return "fibres at both faces of each layer, along or around"


def _blank(words: str = " ") -> Line2D:
    """A row of a key without a line."""
    return Line2D([], [], lw=0, label=words)


def _along(axes: Axes, answer: StrokeAnswer, values: Array, colour: str, ls: Any = "-") -> None:
    """Values (E, 2) at the element ends over the arc length of the meridian, broken between pieces."""
    mesh, start = answer.path.shell.model.mesh, 0.0
    for p in range(len(answer.design.meridian)):
        s = mesh.stations[p]
        place = start + np.stack((s[:-1], s[1:]), axis=1).ravel()
        axes.plot(1e3 * place, 100 * values[mesh.elements[p]].ravel(), color=colour, lw=1.0, ls=ls)
        start += float(s[-1])
    axes.set_xlim(0.0, 1e3 * start)


def _name_zones(axes: Axes, answer: StrokeAnswer, *, names: bool) -> None:
    """Lines where zones meet, and bands of their colours over the axes."""
    start, colours = 0.0, zone_colours(answer.design.zones)
    pieces = answer.design.meridian
    for p, piece in enumerate(pieces):
        if p and piece.zone != pieces[p - 1].zone:
            axes.axvline(1e3 * start, color=SOFT_INK, lw=0.5, ls=(0, (1, 2)))
        end = start + piece.curve.length
        if names:
            band = {"transform": axes.get_xaxis_transform(), "clip_on": False, "lw": 0}
            axes.fill_between([1e3 * start, 1e3 * end], 1.0, 1.03, color=colours[piece.zone], **band)
        start = end


def _over_stroke(axes: Axes, answer: StrokeAnswer) -> None:
    zones, strength = answer.design.zones, answer.strength
    colours, dashes = zone_colours(zones), zone_dashes(zones)
    for z, zone in enumerate(zones):
        axes.plot(1e3 * answer.path.stroke, 100 * strength.fibre[:, z], color=colours[zone], ls=dashes[zone])
    for reached in strength.reached:
        if reached.quantity == "strain":
            axes.axhline(100 * reached.allowable, color=ALARM, lw=0.8)
            axes.text(0.01, 100 * reached.allowable, f" {reached.material}", size=SMALL, va="bottom",
                      transform=axes.get_yaxis_transform())  # fmt: skip
    axes.set_xlim(1e3 * answer.path.stroke[0], 1e3 * answer.path.stroke[-1])
    axes.set_ylim(0.0, None)
    axes.set_xlabel("stroke, mm")
    axes.set_ylabel("largest fibre strain by zone, %")
