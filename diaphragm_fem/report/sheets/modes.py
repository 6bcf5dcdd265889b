"""Mode shapes drawn over the profile, and all modes by their circumferential order."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.lines import Line2D
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter
from matplotlib.transforms import Transform

from diaphragm_fem.analysis.modes.label import nodal_points
from diaphragm_fem.analysis.modes.modes import Modes
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.model.structure import Surface
from diaphragm_fem.report.contents.tables import COIL_STILL_WORDS, felt_at_coil
from diaphragm_fem.report.sheets.names import folded_to
from diaphragm_fem.report.sheets.sheet import Box, Sheet
from diaphragm_fem.report.sheets.style import (
    ALARM,
    GRID,
    INK,
    PATCH,
    RULE,
    SMALL,
    SOFT_INK,
    TEXT,
    note,
    show_tick,
    text_width,
    zone_colours,
)
from diaphragm_fem.report.words.words import show_hz

Pair = tuple[float, float]

MOTION_NAMES = {0: "axisymmetric", 1: "rocking"}
AT_MOST = 12  # panels on a sheet
PATCHED = 3.7  # mm from a number to the next, on patches: nearer ones cut each other
DEFLECTION = 0.16  # of the panel's smaller measure, at the largest motion
FAINT = 0.02  # of the largest motion: sign changes among smaller motions are rounding, not nodal circles
FIELD = (10.0, 26.0, 277.0, 174.0)
STEEPEST = 1.0  # slope by which a bit of wall is turned in pictures, 45 degrees
AT_REST = "#b4bdc4"
NODE: dict[str, Any] = {"ls": "none", "marker": "o", "ms": 4.2, "mfc": "white", "mec": INK}


def name_order(m: int) -> str:
    """ "m = 0, axisymmetric", "m = 1, rocking", "m = 3, petals"."""
    return f"m = {m}, {MOTION_NAMES.get(m, 'petals')}"


def order_sheet(sheet: Sheet, evaluation: Answer, order: int) -> str:
    """The first shapes of one order: of order 0 rather those that the coil can drive than those in which it hardly
    moves; above 0 both sides of the section, which move against or with each other."""
    picks = list(range(len(evaluation.modes[order]))) if order else driven_first(evaluation)
    shown, total = sorted(picks[:AT_MOST]), len(picks)
    left, bottom, width, height = FIELD
    columns, rows = _grid(evaluation, order, len(shown), width, height)
    cell = (width / columns, height / rows)
    for place, k in enumerate(shown):
        across, down = place % columns, place // columns
        corner = (left + across * cell[0], bottom + height - (down + 1) * cell[1])
        _panel(sheet, evaluation, order, k, corner, cell)
    handles = role_handles(evaluation.design.zones)
    handles += [Line2D([], [], color=AT_REST, lw=0.8, label="at rest"), node_handle()]
    if not order:
        handles.append(Line2D([], [], ls="none", label="mass, area: modal"))
    legend_at_foot(sheet, handles)
    first = "those that the coil drives before others; " if shown != list(range(len(shown))) else ""
    count = f"{len(shown)} of {total} modes" if total > len(shown) else "all modes" if total > 1 else "the one mode"
    return f"{first}{count} up to {show_hz(evaluation.up_to_hz)}"


def driven_first(evaluation: Answer) -> list[int]:
    """Modes of order 0 in their order, those in which the coil hardly moves behind all others."""
    felt = [felt_at_coil(evaluation, 0, k)[0] == COIL_STILL_WORDS for k in range(len(evaluation.modes[0]))]
    return sorted(range(len(felt)), key=lambda k: felt[k])


def _grid(evaluation: Answer, order: int, count: int, width: float, height: float) -> tuple[int, int]:
    """Columns and rows that show the panels largest."""
    surface = evaluation.structures[order].surface
    across = 2 * float(surface.r.max()) if order else float(np.ptp(surface.r))
    up = max(float(np.ptp(surface.z)), 0.25 * across)  # a flat one is given some height for its motion
    grids = [(c, max(-(-count // c), 1)) for c in (1, 2, 3, 4, 5, 6)]
    return max(grids, key=lambda g: min(width / g[0] * up / across, height / g[1] - HEADER, 90))


HEADER = 14.0  # height of a panel's text over its shape, mm


def _panel(sheet: Sheet, evaluation: Answer, m: int, k: int, corner: Pair, cell: Pair) -> None:
    """One mode: number, frequency, modal mass and what moves, over its shape."""
    modes, (x, y), (width, height) = evaluation.modes[m], corner, cell
    top, right = y + height - 4.0, x + width - 5
    sheet.line(x, top + 3.6, right, top + 3.6, colour=RULE)
    sheet.text(x, top, f"{k + 1}   {show_hz(modes.frequency_hz[k])}", size=TEXT + 0.5, weight="bold")
    mass, area = felt_at_coil(evaluation, m, k)
    if mass:
        words = mass if mass == COIL_STILL_WORDS else f"mass {mass}, area {area}"
        sheet.text(right, top, words, size=SMALL, ha="right", color=SOFT_INK)
    lines = folded_to(modes.labels[k], width - 5, SMALL)
    for row, line in enumerate(lines if len(lines) < 3 else [lines[0], f"{lines[1]} …"]):
        sheet.text(x, top - 3.6 - 3.1 * row, line, size=SMALL, color=SOFT_INK)
    draw_shape(sheet, (x, y + 1.0, width - 5, height - HEADER), evaluation.structures[m].surface, modes, k)


def draw_shape(sheet: Sheet, box: Box, surface: Surface, modes: Modes, k: int) -> None:
    """Mode k over the profile at rest, nodal circles marked where the normal motion passes through zero; straight on
    the sheet: twelve shapes take 0.05 s to lay out, in axes that nobody sees 0.17 (processor, under load).

    Order 0 is drawn on one side of the axis; others on both, where the motion is cos(m pi) times that on the right.
    """
    radial, axial = surface.motion_r @ modes.vectors[:, k], surface.motion_z @ modes.vectors[:, k]
    factor = amplitude(surface, radial, axial)
    lead = float(axial[np.argmax(np.abs(axial))]) or 1.0
    factor *= np.sign(lead)  # the largest axial motion is drawn toward the listener
    nodes = nodal_circles(surface, radial, axial, surface.run == 0)
    sides = [(1.0, 1.0)] if modes.order == 0 else [(1.0, 1.0), (-1.0, (-1.0) ** modes.order)]
    margin = 1.15 * float(np.abs(factor) * np.hypot(radial, axial).max())
    left = -surface.r.max() if modes.order else surface.r.min()
    across, up = (left - margin, surface.r.max() + margin), (surface.z.min() - margin, surface.z.max() + margin)
    place = sheet.to_scale(box, across, up)
    for mirror, turned in sides:
        rest = np.stack((mirror * surface.r, surface.z), axis=1)
        moved = rest + factor * turned * np.stack((mirror * radial, axial), axis=1)
        for lines in _lines(surface, modes, rest, moved, place):
            sheet.figure.add_artist(lines)
        if len(nodes):
            marks = Line2D(mirror * nodes[:, 0], nodes[:, 1], mew=0.9, zorder=4, transform=place, **NODE)
            sheet.figure.add_artist(marks)


def _lines(
    surface: Surface, modes: Modes, rest: Array, moved: Array, place: Transform
) -> tuple[LineCollection, LineCollection]:
    """The profile at rest, and moved."""
    colours = zone_colours(modes.zones)
    runs = [np.flatnonzero(surface.run == run) for run in np.unique(surface.run)]
    still = LineCollection([rest[run] for run in runs], colors=AT_REST, linewidths=0.8, zorder=2, transform=place)
    segments, shades = [], []
    for run in runs:
        for piece in np.split(run, np.flatnonzero(np.diff(surface.zone[run])) + 1):
            segments.append(moved[piece])
            shades.append(colours[modes.zones[surface.zone[piece[0]]]])
    return still, LineCollection(segments, colors=shades, linewidths=1.7, zorder=3, joinstyle="round", transform=place)


def amplitude(surface: Surface, radial: Array, axial: Array) -> float:
    """What a shape is drawn with: DEFLECTION of the panel's smaller measure, and no more than what turns no bit of wall
    by more than STEEPEST, so that no zone folds over itself.

    A small motion turns a bit ds by du/ds; drawn large it is that bit plus factor du, which stands at
    arctan(factor |du|/ds) to it at most.
    """
    motion = np.stack((radial, axial), axis=1)
    box_r, box_z = float(np.ptp(surface.r)), float(np.ptp(surface.z))
    size = DEFLECTION * max(min(box_r, box_z), 0.6 * max(box_r, box_z))
    steepest = size / (float(np.hypot(radial, axial).max()) or 1.0)
    for run in np.unique(surface.run):
        here = surface.run == run
        along = np.linalg.norm(np.diff(np.stack((surface.r, surface.z), axis=1)[here], axis=0), axis=1)
        turned = np.linalg.norm(np.diff(motion[here], axis=0), axis=1)
        kept = along > 1e-9
        steepest = min(steepest, STEEPEST / max(float((turned[kept] / along[kept]).max(initial=0.0)), 1e-30))
    return steepest


def nodal_circles(surface: Surface, radial: Array, axial: Array, front: Array) -> Array:
    """Points (N, 2) of the meridian at rest, in metres, where the normal motion passes through zero.

    A jump at a kink, where the normal itself turns, is none.
    """
    normal = (surface.normal[:, 0] * radial + surface.normal[:, 1] * axial)[front]
    point = np.stack((surface.r, surface.z), axis=1)[front]
    clear = np.flatnonzero(np.abs(normal) > FAINT * np.abs(normal).max())
    found = []
    for i in nodal_points(normal[clear]):
        between = np.arange(clear[i], clear[i + 1] + 1)
        crossings = nodal_points(normal[between])
        if len(crossings) != 1:  # rounding in a stretch that hardly moves
            continue
        a = between[crossings[0]]
        b = a + 1
        if np.linalg.norm(point[b] - point[a]) < 1e-12:
            continue
        share = normal[a] / (normal[a] - normal[b])
        found.append(point[a] + share * (point[b] - point[a]))
    return np.array(found).reshape(-1, 2)


def legend_at_foot(sheet: Sheet, handles: Sequence[Line2D]) -> None:
    """The key above the title block, in as many rows as keep it on the sheet."""
    em = SMALL * 25.4 / 72  # mm; lines, gaps and room between are told in it
    wide = sum(text_width(str(handle.get_label()), SMALL) + (2.2 + 0.8 + 1.4) * em for handle in handles)
    columns = -(-len(handles) // max(-(-wide // (sheet.width - 20.0)), 1))
    sheet.legend(
        8.8, 15.6, handles, loc="lower left", ncols=max(int(columns), 1), columnspacing=1.4, borderpad=0.2,
    )  # fmt: skip


def moving_handle() -> Line2D:
    """What the colours after it tell; as a title it lay on the names of the orders where the key had two rows."""
    return Line2D([], [], ls="none", label="most of the motion is in:")


def node_handle() -> Line2D:
    return Line2D([], [], label="no normal motion", **NODE)


def role_handles(zones: Sequence[Zone], shown: Sequence[Zone] | None = None) -> list[Line2D]:
    """Legend entries by role, by name for zones that have none; only for the zones shown where those are given."""
    colours = zone_colours(zones)
    seen: dict[str, Line2D] = {}
    for zone in zones if shown is None else shown:
        name = name_role(zone, zones)
        seen.setdefault(name, Line2D([], [], color=colours[zone], lw=2.2, label=name))
    return list(seen.values())


def name_role(zone: Zone, zones: Sequence[Zone]) -> str:
    """The zone's name without its side, where the other side has a twin of its role."""
    twins = [z for z in zones if z.role is zone.role not in (Role.OTHER, Role.COIL) and z.step == zone.step]
    return zone.name.removeprefix(zone.side).strip() if zone.side and len(twins) > 1 else zone.name


def spectrum_sheet(sheet: Sheet, evaluation: Answer) -> str:
    """Sheet with every mode by order and frequency, coloured by the zone that holds most kinetic energy."""
    modes = evaluation.modes
    total = sum(len(x) for x in modes.values())
    axes = sheet.axes(24.0, 32.0, 243.0, 160.0)
    lowest = min((x.frequency_hz[0] for x in modes.values() if len(x)), default=evaluation.up_to_hz / 10)
    _draw_spectrum(axes, modes, lowest, evaluation.up_to_hz)
    _reference_lines(axes, evaluation)
    legend_at_foot(sheet, [moving_handle(), *role_handles(evaluation.design.zones, _movers(modes))])
    return f"all {total} modes up to {show_hz(evaluation.up_to_hz)}"


def _movers(modes: Mapping[int, Modes]) -> list[Zone]:
    """Zones that lead some mode, in the order of the design."""
    leads = {int(i) for x in modes.values() if len(x) for i in x.kinetic_share.argmax(axis=1)}
    zones = next(iter(modes.values())).zones
    return [zone for i, zone in enumerate(zones) if i in leads]


def _draw_spectrum(axes: Axes, modes: Mapping[int, Modes], low: float, high: float) -> None:
    frequency_axis_vertical(axes, 0.8 * low, 1.02 * high)
    axes.set_xlim(-0.5, len(modes) - 0.5)
    axes.set_xticks(range(len(modes)), [name_order(m) for m in modes], fontsize=TEXT)
    axes.grid(False, axis="x")
    axes.tick_params(axis="x", length=0)
    span = np.log(1.02 * high / (0.8 * low))
    for column, found in enumerate(modes.values()):
        colours = zone_colours(found.zones)
        shades = [colours[found.zones[int(share.argmax())]] for share in found.kinetic_share]
        bars = [[(column - 0.3, f), (column + 0.02, f)] for f in found.frequency_hz]
        axes.add_collection(LineCollection(bars, colors=shades, linewidths=2.0, capstyle="butt"))
        last = -np.inf
        for k, f in enumerate(found.frequency_hz):
            height = np.log(f / (0.8 * low)) / span * 160.0
            if height - last > PATCHED:
                words = f"{k + 1}   {show_hz(f)}"  # on a patch: no line of reference strikes it through
                axes.text(column + 0.05, f, words, size=SMALL, va="center", bbox={**PATCH, "alpha": 1.0})
                last = height
        if column:
            axes.axvline(column - 0.5, color=GRID, lw=0.8)


def frequency_axis_vertical(axes: Axes, low_hz: float, high_hz: float) -> None:
    axes.set_yscale("log")
    axes.set_ylim(low_hz, high_hz)
    axes.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda f, _: show_tick(f)))
    axes.yaxis.set_minor_formatter(NullFormatter())
    axes.set_ylabel("frequency, Hz")


def _reference_lines(axes: Axes, evaluation: Answer) -> None:
    if evaluation.figures is None or evaluation.figures.departure_hz is None:
        return
    departure = evaluation.figures.departure_hz
    axes.axhline(departure, color=ALARM, lw=0.9, ls=(0, (5, 2)), zorder=1)
    note(axes, f"departure\n{show_hz(departure)}", (1, departure), (4, 0), ("axes fraction", "data"), va="center")
