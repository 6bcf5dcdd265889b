"""Mode shapes drawn over the profile, and all modes by their circumferential order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from textwrap import wrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.lines import Line2D
from numpy.typing import NDArray

from diaphragm_fem.analysis.label import nodal_points
from diaphragm_fem.analysis.modes import Modes
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.zone import Role, Zone
from diaphragm_fem.model.structure import Surface
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import ALARM, GRID, INK, RULE, SMALL, SOFT_INK, TEXT, zone_colours
from diaphragm_fem.report.words import show_area, show_hz, show_mass

Array = NDArray[np.float64]
Pair = tuple[float, float]

MOTION_NAMES = {0: "axisymmetric", 1: "rocking"}
AT_MOST = 12  # panels on a sheet
DEFLECTION = 0.16  # of the panel's smaller measure, at the largest motion
FAINT = 0.02  # of the largest motion: sign changes among smaller motions are rounding, not nodal circles
FIELD = (10.0, 22.0, 277.0, 180.0)


def name_order(m: int) -> str:
    """ "m = 0, axisymmetric", "m = 1, rocking", "m = 3, petals"."""
    return f"m = {m}, {MOTION_NAMES.get(m, 'petals')}"


def axisymmetric_sheet(sheet: Sheet, evaluation: Answer) -> str:
    """The first shapes of order 0."""
    return order_sheet(sheet, evaluation, 0)


def order_sheet(sheet: Sheet, evaluation: Answer, order: int) -> str:
    """The first shapes of one order."""
    picks = [(order, k) for k in range(min(AT_MOST, len(evaluation.modes[order])))]
    total = len(evaluation.modes[order])
    remark = f"first {len(picks)} of {total} modes" if total > len(picks) else f"all {total} modes"
    _draw_shapes(sheet, evaluation, picks)
    return f"{remark} up to {show_hz(evaluation.up_to_hz)}"


def higher_orders_sheet(sheet: Sheet, evaluation: Answer) -> str:
    """The first shapes of every order above 0, one row for each of up to four orders."""
    orders = [m for m in evaluation.modes if m > 0 and len(evaluation.modes[m])][:4]
    each = AT_MOST // max(len(orders), 1)
    picks = [(m, k) for m in orders for k in range(min(each, len(evaluation.modes[m])))]
    _draw_shapes(sheet, evaluation, picks)
    return f"first {min(each, max((len(evaluation.modes[m]) for m in orders), default=0))} of each order"


def _draw_shapes(sheet: Sheet, evaluation: Answer, picks: Sequence[tuple[int, int]]) -> None:
    """Sheet of panels for modes picked as (order, index from 0), in reading order."""
    design, mixed = evaluation.design, len({m for m, _ in picks}) > 1
    left, bottom, width, height = FIELD
    bottom, height = bottom + 6, height - 6
    columns, rows = _grid(evaluation, len(picks), width, height, mixed)
    cell = (width / columns, height / rows)
    for place, (m, k) in enumerate(picks):
        across, down = place % columns, place // columns
        corner = (left + across * cell[0], bottom + height - (down + 1) * cell[1])
        _panel(sheet, evaluation, m, k, corner, cell, mixed)
    _shape_legend(sheet, design, left)


def _grid(evaluation: Answer, count: int, width: float, height: float, mixed: bool) -> tuple[int, int]:
    """Columns and rows that show the panels largest."""
    if mixed:
        return 3, max(-(-count // 3), 2)
    box = _extent(surface_of(evaluation, next(iter(evaluation.structures))))
    aspect = box[0] / box[1]
    grids = [(c, max(-(-count // c), 1)) for c in (1, 2, 3, 4, 5, 6)]
    return max(grids, key=lambda g: min(width / g[0] / aspect, height / g[1] - HEADER, 90))


HEADER = 13.0  # height of a panel's text over its shape, mm
BESIDE = 36.0  # width of a panel's text beside its shape, mm
STILL = 100.0  # times the moving mass: a mode that heavy at the coil is hardly driven by it


def _extent(surface: Surface) -> tuple[float, float]:
    """Width and height of the profile in metres, a flat one given some height for its motion."""
    width = float(np.ptp(surface.r))
    return width, max(float(np.ptp(surface.z)), 0.25 * width)


def surface_of(evaluation: Answer, order: int) -> Surface:
    surface = evaluation.structures[order].surface
    if surface is None:
        raise ValueError("pictures need a system that knows its surface")
    return surface


def _panel(sheet: Sheet, evaluation: Answer, m: int, k: int, corner: Pair, cell: Pair, mixed: bool) -> None:
    """One mode: its text over the shape, or to the left of it on a sheet of mixed orders."""
    modes, (x, y), (width, height) = evaluation.modes[m], corner, cell
    top, right = y + height - 4.0, x + width - 5
    sheet.line(x, top + 3.6, right, top + 3.6, colour=RULE)
    head = f"m = {m}   " if mixed else ""
    sheet.text(x, top, f"{head}{k + 1}   {show_hz(modes.frequency_hz[k])}", size=TEXT + 0.5, weight="bold")
    column, most = (BESIDE, 6) if mixed else (width - 5, 2)
    lines = wrap(modes.labels[k], int(column / 1.25))
    if len(lines) > most:
        lines = [*lines[: most - 1], f"{lines[most - 1]} …"]
    for row, line in enumerate(lines):
        sheet.text(x, top - 3.6 - 3.1 * row, line, size=SMALL, color=SOFT_INK)
    if mixed:
        axes = sheet.axes(x + BESIDE, y + 1.0, width - 5 - BESIDE, height - 3.0)
    else:
        sheet.text(right, top, _felt_at_coil(evaluation, modes, k), size=SMALL, ha="right", color=SOFT_INK)
        axes = sheet.axes(x, y + 1.0, width - 5, height - HEADER)
    draw_shape(axes, surface_of(evaluation, m), modes, k)
    axes.set_axis_off()


def _felt_at_coil(evaluation: Answer, modes: Modes, k: int) -> str:
    """Modal mass and area of an axisymmetric mode, or that the coil hardly takes part."""
    if modes.order or evaluation.static is None:
        return ""
    if not modes.modal_mass[k] < STILL * evaluation.static.moving_mass:
        return "coil nearly still"
    return f"{show_mass(modes.modal_mass[k])}, {show_area(modes.modal_area[k])}"


def draw_shape(axes: Axes, surface: Surface, modes: Modes, k: int) -> None:
    """Mode k over the profile at rest, nodal circles marked where the normal motion passes through zero."""
    radial, axial = surface.motion_r @ modes.vectors[:, k], surface.motion_z @ modes.vectors[:, k]
    largest = float(np.hypot(radial, axial).max()) or 1.0
    box_r, box_z = float(np.ptp(surface.r)), float(np.ptp(surface.z))
    size = DEFLECTION * max(min(box_r, box_z), 0.6 * max(box_r, box_z))
    front = surface.run == 0
    lead = float(axial[np.argmax(np.abs(axial))]) or 1.0
    factor = np.sign(lead) * size / largest  # the largest axial motion is drawn toward the listener
    rest = 1e3 * np.stack((surface.r, surface.z), axis=1)
    moved = rest + 1e3 * factor * np.stack((radial, axial), axis=1)
    colours = [zone_colours(modes.zones)[zone] for zone in modes.zones]
    runs = [np.flatnonzero(surface.run == run) for run in np.unique(surface.run)]
    axes.add_collection(LineCollection([rest[run] for run in runs], colors="#b4bdc4", linewidths=0.8, zorder=2))
    segments, shades = [], []
    for run in runs:
        for piece in np.split(run, np.flatnonzero(np.diff(surface.zone[run])) + 1):
            segments.append(moved[piece])
            shades.append(colours[surface.zone[piece[0]]])
    axes.add_collection(LineCollection(segments, colors=shades, linewidths=1.7, zorder=3, joinstyle="round"))
    nodes = nodal_circles(surface, radial, axial, front)
    if len(nodes):
        axes.plot(*(1e3 * nodes).T, ls="none", marker="o", ms=4.2, mfc="white", mec=INK, mew=0.9, zorder=4)
    margin = 1e3 * size * 1.15
    axes.set_xlim(rest[:, 0].min() - margin, rest[:, 0].max() + margin)
    axes.set_ylim(rest[:, 1].min() - margin, rest[:, 1].max() + margin)
    axes.set_aspect("equal", adjustable="box")


def nodal_circles(surface: Surface, radial: Array, axial: Array, front: Array) -> Array:
    """Points (N, 2) of the meridian at rest, in metres, where the normal motion passes through zero.

    A jump at a kink, where the normal itself turns, is none.
    """
    normal = (surface.normal[:, 0] * radial + surface.normal[:, 1] * axial)[front]
    point = np.stack((surface.r, surface.z), axis=1)[front]
    clear = np.flatnonzero(np.abs(normal) > FAINT * np.abs(normal).max())
    found = []
    for i in nodal_points(normal[clear]):
        a, b = clear[i], clear[i + 1]
        if np.linalg.norm(point[b] - point[a]) < 1e-12:
            continue
        share = normal[a] / (normal[a] - normal[b])
        found.append(point[a] + share * (point[b] - point[a]))
    return np.array(found).reshape(-1, 2)


def _shape_legend(sheet: Sheet, design: Design, left: float) -> None:
    handles = role_handles(design.zones)
    handles.append(Line2D([], [], color="#b4bdc4", lw=0.8, label="at rest"))
    handles.append(Line2D([], [], ls="none", marker="o", ms=4.2, mfc="white", mec=INK, label="no normal motion"))
    sheet.figure.legend(
        handles=handles,
        loc="lower left",
        bbox_to_anchor=((left - 1.2) / sheet.width, 15.6 / sheet.height),
        ncols=len(handles),
        columnspacing=1.6,
        borderpad=0.2,
    )


def role_handles(zones: Sequence[Zone], shown: Sequence[Zone] | None = None) -> list[Line2D]:
    """Legend entries by role, by name for zones that have none; only for the zones shown where those are given."""
    colours = zone_colours(zones)
    seen: dict[str, Line2D] = {}
    for zone in zones if shown is None else shown:
        name = zone.name if zone.role in (Role.OTHER, Role.COIL) else name_role(zone, zones)
        seen.setdefault(name, Line2D([], [], color=colours[zone], lw=2.2, label=name))
    return list(seen.values())


def name_role(zone: Zone, zones: Sequence[Zone]) -> str:
    """The zone's name without its side, where the other side has a twin."""
    twins = [z for z in zones if z.role is zone.role and z.step == zone.step]
    return zone.name.removeprefix(zone.side).strip() if zone.side and len(twins) > 1 else zone.name


def spectrum_sheet(sheet: Sheet, evaluation: Answer) -> str:
    """Sheet with every mode by order and frequency, coloured by the zone that holds most kinetic energy."""
    modes = {m: x for m, x in evaluation.modes.items()}
    total = sum(len(x) for x in modes.values())
    axes = sheet.axes(24.0, 32.0, 243.0, 160.0)
    lowest = min((x.frequency_hz[0] for x in modes.values() if len(x)), default=evaluation.up_to_hz / 10)
    _draw_spectrum(axes, modes, lowest, evaluation.up_to_hz)
    _reference_lines(axes, evaluation)
    handles = role_handles(evaluation.design.zones, _movers(modes))
    sheet.figure.legend(
        handles=handles,
        loc="lower left",
        bbox_to_anchor=(8.8 / sheet.width, 15.6 / sheet.height),
        ncols=max(len(handles), 1),
        columnspacing=1.6,
        borderpad=0.2,
        title="most of the motion is in",
        title_fontsize=SMALL,
        alignment="left",
    )
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
    for column, (_, found) in enumerate(modes.items()):
        colours = [zone_colours(found.zones)[zone] for zone in found.zones]
        shades = [colours[int(share.argmax())] for share in found.kinetic_share]
        bars = [[(column - 0.3, f), (column + 0.02, f)] for f in found.frequency_hz]
        axes.add_collection(LineCollection(bars, colors=shades, linewidths=2.0, capstyle="butt"))
        last = -np.inf
        for k, f in enumerate(found.frequency_hz):
            height = np.log(f / (0.8 * low)) / span * 160.0
            if height - last > 2.7:
                axes.text(column + 0.05, f, f"{k + 1}   {show_hz(f)}", size=SMALL, va="center")
                last = height
        if column:
            axes.axvline(column - 0.5, color=GRID, lw=0.8)


def frequency_axis_vertical(axes: Axes, low_hz: float, high_hz: float) -> None:
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    from diaphragm_fem.report.sheets.style import show_tick

    axes.set_yscale("log")
    axes.set_ylim(low_hz, high_hz)
    axes.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axes.yaxis.set_major_formatter(FuncFormatter(lambda f, _: show_tick(f)))
    axes.yaxis.set_minor_formatter(NullFormatter())
    axes.set_ylabel("frequency, Hz")


def _reference_lines(axes: Axes, evaluation: Answer) -> None:
    if evaluation.figures is None or evaluation.figures.departure_hz is None:
        return
    axes.axhline(evaluation.figures.departure_hz, color=ALARM, lw=0.9, ls=(0, (5, 2)), zorder=1)
    axes.annotate(
        f"departure\n{show_hz(evaluation.figures.departure_hz)}",
        (1, evaluation.figures.departure_hz),
        (4, 0),
        xycoords=("axes fraction", "data"),
        textcoords="offset points",
        va="center",
        size=SMALL,
        color=ALARM,
    )
