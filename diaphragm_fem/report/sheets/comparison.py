"""Designs side by side: profiles laid over each other, area and response on one axis, levels of drivers."""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.ticker import MultipleLocator

from diaphragm_fem.analysis.curve.curve import decibels
from diaphragm_fem.answer.comparison.comparison import Comparison, Response, level_difference
from diaphragm_fem.answer.comparison.figure_rows import shared_band
from diaphragm_fem.answer.driver.curve import DriverCurve
from diaphragm_fem.design.design import Design
from diaphragm_fem.report.sheets.designs import COLUMN, RIGHT, Look, list_designs, looks, tag, tag_curves
from diaphragm_fem.report.sheets.section import bounds, trace
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import GRID, INK, SOFT_INK, TEXT, frequency_axis, log_axis, note, pale
from diaphragm_fem.report.words.heard import LOUD

ROOM = 0.05  # of a panel, free on every side of the profiles
LEVELS_DB = 15.0  # of differences
RESPONSES_DB = (-30.0, 20.0)  # about the plateau of the baseline, at most
PAST_BREAK_UP = 1.5  # times the highest break-up mode: curves end there
NEAR = 0.25  # of the way from end to end
SHADE = "#dfe3e7"


def profiles_sheet(sheet: Sheet, comparison: Comparison) -> str:
    """The meridians laid over each other, shaded where they differ, and the walls' thickness over the radius."""
    designs = [one.design for one in comparison.designs]
    boxes = np.array([bounds(design) for design in designs])
    left, width, bottom, height = 22.0, 175.0, 76.0, 118.0
    axes = sheet.axes(left, bottom, width, height)
    across, up = one_scale(boxes[:, ::2].min(axis=0), boxes[:, 1::2].max(axis=0), width, height)
    axes.set_xlim(*across)
    axes.set_ylim(*up)
    axes.set_ylabel("height z, mm")
    axes.tick_params(labelbottom=False)
    walls = sheet.axes(left, 27.0, width, 42.0)
    base = designs[comparison.baseline]
    shared = all(_outline(design) == _outline(base) for design in designs)
    shaded = False
    for design, look in zip(designs, looks(comparison), strict=True):
        if design is not base and not shared:
            if _between_the_same_ends(base, design):
                _shade_between(axes, base, design)
                shaded = True
            tag(axes, look, *_farthest(base, design))
        for piece in (*design.meridian, *design.former):
            point = 1e3 * trace(piece)[0]
            axes.plot(*point.T, color=look.colour, ls=look.dash, lw=look.width + 0.4, zorder=look.order,
                      solid_joinstyle="round")  # fmt: skip
        _draw_thickness(walls, design, look)
    if shared:
        words = "all designs share this meridian"
        note(axes, words, (0.5, 0.97), (0, 0), "axes fraction", ha="center", va="top", size=TEXT, color=SOFT_INK)
    walls.set_xlim(axes.get_xlim())
    walls.set_ylim(0, 1.15 * walls.get_ylim()[1])
    walls.set_xlabel("radius r, mm")
    walls.set_ylabel("wall thickness, µm")
    list_designs(sheet, comparison, walls=True)
    return "mid-surfaces to one scale, z toward the listener" + "; shaded: the difference" * shaded


def one_scale(low: np.ndarray, high: np.ndarray, width: float, height: float) -> np.ndarray:
    """Limits ((left, right), (foot, top)) of a drawing of that size which holds the box with room around it.

    Both directions get the scale of the one that needs more. Room is taken right of the axis of revolution first:
    there is nothing to draw at a negative radius.
    """
    panel = np.array([width, height])
    span = float(((high - low) / panel).max()) / (1 - 2 * ROOM) * panel
    begin = (low + high - span) / 2
    begin[0] = max(begin[0], min(0.0, low[0]) - ROOM * span[0])
    return np.stack((begin, begin + span), axis=1)


def _between_the_same_ends(one: Design, other: Design) -> bool:
    """Whether two meridians begin and end near each other, so that there is a ground between them to shade."""
    curves = [(design.meridian[0].curve, design.meridian[-1].curve) for design in (one, other)]
    ends = [(first.point(0.0), last.point(last.length)) for first, last in curves]
    reach = float(np.linalg.norm(np.subtract(*ends[0])))
    return all(float(np.linalg.norm(a - b)) < NEAR * reach for a, b in zip(*ends, strict=True))


def _shade_between(axes: Axes, one: Design, other: Design) -> None:
    """The ground between two meridians."""
    lines = [1e3 * np.concatenate([trace(piece)[0] for piece in design.meridian]) for design in (one, other)]
    ring = np.concatenate((lines[0], lines[1][::-1]))
    axes.add_collection(PolyCollection([ring], facecolors=SHADE, edgecolors="none", zorder=1.5))


def _farthest(base: Design, design: Design) -> tuple[float, float]:
    """The point of a design's meridian, in mm, that lies farthest from the baseline's."""
    lines = [
        1e3 * np.concatenate([p.curve.point(np.linspace(0, p.curve.length, 24)) for p in one.meridian])
        for one in (base, design)
    ]
    away = np.linalg.norm(lines[1][:, None] - lines[0][None], axis=2).min(axis=1)
    r, z = lines[1][int(away.argmax())]
    return float(r), float(z)


def _outline(design: Design) -> list[tuple[float, ...]]:
    """End points of all pieces in micrometres: equal for designs that differ in wall alone."""
    pieces = (*design.meridian, *design.former)
    return [tuple(np.round(1e6 * p.curve.point(np.array([0.0, p.curve.length / 2])).ravel(), 1)) for p in pieces]


def _draw_thickness(axes: Axes, design: Design, look: Look) -> None:
    r, thick = [], []
    for piece in design.meridian:
        point, _, fraction = trace(piece)
        r += [*(1e3 * point[:, 0]), np.nan]
        thick += [*(1e6 * piece.wall.thickness(fraction)), np.nan]
    axes.plot(r, thick, color=look.colour, ls=look.dash, lw=look.width, zorder=look.order)


def curves_sheet(sheet: Sheet, comparison: Comparison) -> str:
    """|S|, the response per newton, and its level over the baseline's, up to 1.5 times the highest break-up mode."""
    base = comparison.responses[comparison.baseline]
    assert base is not None  # the listing has looked
    left, width = 25.0, 172.0
    panels = [sheet.axes(left, bottom, width, height) for bottom, height in ((140, 54), (82, 54), (29, 49))]
    area, response, level = panels
    figures = comparison.evaluations[comparison.baseline].figures
    plateau = 1.0 if figures is None else figures.plateau
    low, high = _range(comparison, base)
    for axes in panels:
        frequency_axis(axes, low, high, label=axes is level)
    shown = [(d, r) for d, r in enumerate(comparison.responses) if r is not None]
    every = looks(comparison)
    drawn = [every[d] for d, _ in shown]
    sizes = [(r.frequency_hz, 1e4 * np.abs(r.area)) for _, r in shown]
    responses = [(r.frequency_hz, _level(r, plateau)) for _, r in shown]
    over = [level_difference(r, base) if d != comparison.baseline else None for d, r in shown]
    for axes, curves in ((area, sizes), (response, responses), (level, over)):
        for look, curve in zip(drawn, curves, strict=True):
            if curve is not None:
                axes.plot(*curve, color=look.colour, ls=look.dash, lw=look.width, zorder=look.order)
    level.axhline(0.0, color=INK, lw=2.0, zorder=3)
    _set_limits(area, response, [_inside(c, low, high) for c in sizes], [_inside(c, low, high) for c in responses])
    level.set_ylim(-LEVELS_DB, LEVELS_DB)
    level.yaxis.set_major_locator(MultipleLocator(5))
    level.set_ylabel("over the baseline, dB")
    tag_curves(area, drawn, sizes)
    tag_curves(response, drawn, responses)
    others = [(look, curve) for look, curve in zip(drawn, over, strict=True) if curve is not None]
    tag_curves(level, [look for look, _ in others], [curve for _, curve in others])
    _mark_departures(comparison, area, every)
    sheet.points(COLUMN, list_designs(sheet, comparison) - 3.0, DEFINITIONS, RIGHT - COLUMN, 3)
    return "neither air nor motor; up to 1.5 times the highest break-up mode"


def _level(response: Response, plateau: float) -> np.ndarray:
    return decibels(2 * np.pi * response.frequency_hz * np.abs(response.volume_velocity) / plateau)


def _range(comparison: Comparison, base: Response) -> tuple[float, float]:
    """From a third of the lowest fundamental to past the highest break-up mode, within what was solved."""
    values = {name: [x for x in comparison.row(name).values if x] for name in ("fundamental_hz", "break_up_mode_hz")}
    low = max(base.frequency_hz[0], min(values["fundamental_hz"], default=0.0) / 3)
    high = PAST_BREAK_UP * max(values["break_up_mode_hz"], default=np.inf)
    return float(low), float(min(base.frequency_hz[-1], high))


def _inside(curve: tuple[np.ndarray, np.ndarray], low: float, high: float) -> np.ndarray:
    return curve[1][(curve[0] >= low) & (curve[0] <= high)]


def _set_limits(area: Axes, response: Axes, sizes: Sequence[np.ndarray], responses: Sequence[np.ndarray]) -> None:
    """Axes that hold what matters: resonances beyond are cut."""
    middle = float(np.median(np.concatenate(sizes)))
    lowest, highest = min(float(x.min()) for x in sizes), max(float(x.max()) for x in sizes)
    log_axis(area, max(lowest * 0.85, middle / 30), min(highest * 1.2, middle * 10))
    area.set_ylabel("area |S|, cm²")
    low, high = min(float(x.min()) for x in responses), max(float(x.max()) for x in responses)
    response.set_ylim(max(low - 1, RESPONSES_DB[0]), min(high + 1, RESPONSES_DB[1]))
    response.yaxis.set_major_locator(MultipleLocator(10))
    response.set_ylabel("response per newton, dB")


def _mark_departures(comparison: Comparison, axes: Axes, every: Sequence[Look]) -> None:
    departures = comparison.row("departure_hz").values
    for response, look, f in zip(comparison.responses, every, departures, strict=True):
        if response is not None and f:
            size = float(np.interp(f, response.frequency_hz, 1e4 * np.abs(response.area)))
            axes.plot(f, size, "v", ms=5, color=look.colour, mec="white", mew=0.5, zorder=look.order + 1)


DEFINITIONS = (
    "▼  departure: a driven zone leaves the coil by 3 dB",
    "S  effective area: net volume velocity of the front face over coil velocity",
    "Response per newton: volume acceleration per newton of coil force, 0 dB the baseline's low area over its moving "
    "mass. Neither air load nor motor is in it, so resonances stand higher than in use; those beyond an axis are cut",
)


DEEPEST_DB = 60.0  # below the highest level: what lies deeper is cut
DIFFERENCES_DB = 20.0


def has_levels(comparison: Comparison) -> bool:
    """Whether two designs or more have a level."""
    return sum(curve is not None for curve in _curves(comparison)) > 1


def levels_sheet(sheet: Sheet, comparison: Comparison) -> str:
    """Levels over frequency, and below them the differences where the baseline has one."""
    curves = _curves(comparison)
    base, known = curves[comparison.baseline], [curve for curve in curves if curve is not None]
    above = sheet.axes(25.0, 96.0 if base else 29.0, 172.0, 98.0 if base else 165.0)
    for curve, look in zip(curves, looks(comparison), strict=True):
        if curve is not None and curve.level_db is not None:
            above.plot(curve.frequency_hz, curve.level_db, color=look.colour, ls=look.dash, lw=look.width,
                       zorder=look.order)  # fmt: skip
    levels = np.concatenate([np.asarray(curve.level_db) for curve in known])
    above.set_ylim(max(levels.min(), levels.max() - DEEPEST_DB) - 2, levels.max() + 3)
    where = {curve.level_where for curve in known}
    above.set_ylabel(f"level {where.pop()}, dB" if len(where) == 1 else "level where each gives it, dB")
    ends = known[0].frequency_hz[[0, -1]]
    frequency_axis(above, *ends, label=base is None)
    band = shared_band(comparison.evaluations)
    compared = band is not None and band[1] > band[0]
    if band is not None and compared:
        above.axvspan(*band, color=pale(GRID, 0.5), lw=0, zorder=0.4)
    if base is not None:
        below = sheet.axes(25.0, 29.0, 172.0, 60.0)
        for curve, look in zip(curves, looks(comparison), strict=True):
            if curve is not None and curve is not base:
                below.plot(*_difference(curve, base), color=look.colour, ls=look.dash, lw=look.width, zorder=look.order)
        below.axhline(0.0, color=INK, lw=2.0, zorder=3)
        below.set_ylim(-DIFFERENCES_DB, DIFFERENCES_DB)
        below.set_ylabel("over the baseline, dB")
        frequency_axis(below, *ends)
    two = any(answer.driver is not None and answer.driver.sections is not None for answer in comparison.evaluations)
    told = ["Shaded: the band compared"] * compared + ["Of two sections the level of the first alone"] * two
    sheet.points(COLUMN, list_designs(sheet, comparison) - 3.0, told, RIGHT - COLUMN, 3)
    volts = sorted({f"{curve.voltage:g} V" for curve in known})
    return f"at {', '.join(volts)}; dB re 20 µPa; {LOUD}"


def _curves(comparison: Comparison) -> list[DriverCurve | None]:
    """Each design's curve, None where it has no level."""
    drivers = (answer.driver for answer in comparison.evaluations)
    return [None if d is None or d.curve.level_db is None else d.curve for d in drivers]


def _difference(curve: DriverCurve, base: DriverCurve) -> tuple[np.ndarray, np.ndarray]:
    """Frequencies of both, and the level over the baseline's there."""
    f = np.union1d(curve.frequency_hz, base.frequency_hz)
    levels = (np.interp(np.log(f), np.log(c.frequency_hz), np.asarray(c.level_db)) for c in (curve, base))
    one, other = levels
    return f, one - other
