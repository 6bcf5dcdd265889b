"""A driver over frequency: level, impedance, excursions, area under load, power by cause, losses, two sections."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes

from diaphragm_fem.analysis.modes.label import short_name
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.report.sheets.names import folded_to
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import (
    ALARM,
    CYCLE,
    INK,
    LEVEL,
    RULE,
    SMALL,
    SOFT_INK,
    keyed_axis,
    legend_beside,
    log_axis,
    look_of,
    note,
    text_width,
    zone_colours,
    zone_dashes,
)  # fmt: skip
from diaphragm_fem.report.words.heard import LOUD, PLAYING, lowest_words, overlap_words, plays_words, spots
from diaphragm_fem.report.words.words import digits, show_hz, show_level

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver.driver import DriverAnswer
    from diaphragm_fem.answer.driver.losses import LossyModes
    from diaphragm_fem.answer.driver.sections import Sections


_finish = partial(keyed_axis, right=1.06)
DEEPEST_DB = 60.0  # below the highest level: what lies deeper is cut
LEFT, WIDTH = 22.0, 190.0
KEYED = 50.0  # mm of words in the key beside


def _driver(found: Answer) -> DriverAnswer:
    assert found.driver is not None  # the listing has looked
    return found.driver


def level_sheet(sheet: Sheet, found: Answer) -> str:
    """Level at the exit with each slot's share and the even-pressure curve, impedance, excursions against the gap."""
    driver = _driver(found)
    if driver.curve.level_db is not None:
        _draw_level(sheet.axes(LEFT, 122, WIDTH, 76), driver)
    _draw_impedance(sheet.axes(LEFT, 78, WIDTH, 38), driver)
    _draw_excursion(sheet.axes(LEFT, 28, WIDTH, 42), driver)
    return f"{driver.curve.voltage:g} V; dB re 20 µPa {driver.curve.level_where}; {LOUD}"


def _draw_level(axes: Axes, driver: DriverAnswer) -> None:
    curve, f = driver.curve, driver.curve.frequency_hz
    level = curve.level_db
    assert level is not None
    slots = () if curve.slot_level_db is None else curve.slot_level_db
    if driver.even_level_db is not None:
        axes.plot(f, driver.even_level_db, color=SOFT_INK, lw=1.0, ls=(0, (4, 2)), label="even pressure in front")
    for j, row in enumerate(slots):
        if len(slots) > 1:
            axes.plot(f, row, **look_of(j), lw=1.0, label=f"slot {j + 1} alone")
    draw_heard(axes, driver)
    axes.set_ylabel("level, dB")
    _finish(axes, f, label=False)


def whose_level(driver: DriverAnswer) -> str:
    """ "level at the exit", of two sections "level at the exit, first section alone"."""
    alone = "" if driver.sections is None else ", first section alone"
    return f"level {driver.curve.level_where}{alone}"


def draw_heard(axes: Axes, driver: DriverAnswer) -> None:
    """The level with what the words tell of it: its bands, its peak and where it is low."""
    f, level = driver.curve.frequency_hz, driver.curve.level_db
    assert level is not None  # who calls has looked
    axes.plot(f, level, color=INK, lw=1.7, label=whose_level(driver))
    floor = max(level.min(), level.max() - DEEPEST_DB)
    bottom, top = min(floor, level.max() - 30) - 3, level.max() + 5
    _draw_bands(axes, driver, bottom + 0.02 * (top - bottom))
    for spot in spots(driver):
        place = (spot.frequency_hz, max(float(np.interp(spot.frequency_hz, f, level)), floor))
        mark, colour = ("^", LEVEL) if spot.name == "highest" else ("v", ALARM)
        words = _keyed(spot.words)  # in the key: among curves they hide some
        axes.plot(*place, mark, color=colour, ms=7, mec="white", mew=0.6, ls="none", zorder=6, label=words)
    axes.set_ylim(bottom, top)


def _draw_bands(axes: Axes, driver: DriverAnswer, foot: float) -> None:
    """The band of the median shaded, the median in it, and a bar at a height along what the driver plays."""
    figures = driver.figures
    if figures.band_hz is None or figures.median_level_db is None:
        return
    axes.axvspan(*figures.band_hz, color=RULE, alpha=0.35, lw=0, zorder=0, label="band of the median level")
    median = f"median level {show_level(figures.median_level_db)}"
    axes.plot(figures.band_hz, 2 * [figures.median_level_db], color=SOFT_INK, lw=0.9, ls=":", zorder=1, label=median)
    if figures.plays_hz is not None and figures.plays_hz[0] < figures.plays_hz[1]:
        words = f"plays {plays_words(figures.plays_hz, driver.curve.frequency_hz)}: {PLAYING}"
        axes.plot(figures.plays_hz, 2 * [foot], color=LEVEL, lw=5, solid_capstyle="butt", zorder=3, label=_keyed(words))


def _keyed(words: str) -> str:
    """Words in lines that have room in the key."""
    return "\n".join(folded_to(words, KEYED, SMALL))


def _draw_impedance(axes: Axes, driver: DriverAnswer) -> None:
    curve, f = driver.curve, driver.curve.frequency_hz
    if curve.terminal_impedance is None:
        axes.text(0.5, 0.5, "no motor: no impedance", transform=axes.transAxes, ha="center", color=SOFT_INK)
        return
    axes.plot(f, np.abs(curve.terminal_impedance), color=INK, lw=1.4, label="impedance, size")
    if driver.sections is not None:
        size = np.abs(driver.sections.impedance)
        axes.plot(f, size, color=INK, lw=1.0, ls=(0, (4, 2)), label="with the second section")
    axes.set_ylabel("impedance, ohm")
    axes.set_ylim(0, None)
    beside = axes.twinx()
    beside.grid(False)
    beside.plot(f, np.degrees(np.angle(curve.terminal_impedance)), color=CYCLE[3], lw=1.0, label="phase")
    beside.set_ylabel("phase, degrees")
    beside.set_ylim(-95, 95)
    beside.set_yticks([-90, -45, 0, 45, 90])
    beside.spines["right"].set_visible(True)
    axes.plot([], [], color=CYCLE[3], lw=1.0, label="phase")
    _finish(axes, f, label=False)


def _draw_excursion(axes: Axes, driver: DriverAnswer) -> None:
    curve, f = driver.curve, driver.curve.frequency_hz
    if curve.excursion is None or curve.zone_excursion is None:
        axes.text(0.5, 0.5, "no motor: no excursion", transform=axes.transAxes, ha="center", color=SOFT_INK)
        return
    peak = np.sqrt(2) * curve.voltage * 1e6
    zones = curve.area.zones
    colours, dashes = zone_colours(zones), zone_dashes(zones)
    for zone, row in zip(zones, curve.zone_excursion, strict=True):
        if zone.radiates and np.isfinite(row).all():
            axes.plot(f, peak * np.abs(row), color=colours[zone], ls=dashes[zone], lw=1.0, label=zone.name)
    coil = peak * np.abs(curve.excursion)
    axes.plot(f, coil, color=INK, lw=1.5, label="coil")
    plug, top = driver.loaded.around.plug, 3 * coil.max()
    if plug is not None:
        gap = 1e6 * float(plug.face.width.min())
        for share, words in ((1.0, "gap"), (1 / 3, "gap/3")):
            axes.axhline(share * gap, color=ALARM, lw=0.9, ls=(0, (5, 2)))
            note(axes, words, (f[-1], share * gap), (4, 0), ha="left", va="center", annotation_clip=False)
        top = max(top, 2 * gap)
    log_axis(axes, coil.max() / 1e4, top, most=7)
    axes.set_ylabel("peak excursion, µm")
    _finish(axes, f, label=True)


def load_sheet(sheet: Sheet, found: Answer) -> str:
    """Area with everything on beside that in vacuum, and where the power goes."""
    driver = _driver(found)
    curve = driver.curve
    f = curve.frequency_hz
    axes = sheet.axes(LEFT, 112, WIDTH, 86)
    if found.area is not None:
        axes.plot(found.area.frequency_hz, 1e4 * np.abs(found.area.total), color=SOFT_INK, lw=1.0, label="in vacuum")
    size = 1e4 * np.abs(curve.area.total)
    axes.plot(f, size, color=INK, lw=1.7, label="with everything on")
    log_axis(axes, max(size.min() * 0.8, size.max() / 1e3), 2 * size.max(), most=9)
    axes.set_ylabel("effective area |S|, cm²")
    _finish(axes, f, label=False)
    _draw_power(sheet.axes(LEFT, 28, WIDTH, 76), driver)
    return "shares of the power that the terminals take"


def _draw_power(axes: Axes, driver: DriverAnswer) -> None:
    from diaphragm_fem.answer.driver.losses import RADIATED

    curve, f = driver.curve, driver.curve.frequency_hz
    if curve.electrical_power is None:
        axes.text(0.5, 0.5, "no motor: no power", transform=axes.transAxes, ha="center", color=SOFT_INK)
        return
    causes = [n for n, watts in curve.power.items() if np.max(watts / curve.electrical_power) > 1e-3]
    for j, cause in enumerate(causes):
        share = np.maximum(100 * curve.power[cause] / curve.electrical_power, 1e-6)
        look = {"color": INK, "lw": 1.7} if cause in ("exit", RADIATED) else look_of(j) | {"lw": 1.1}
        axes.plot(f, share, label=cause, **look)
    log_axis(axes, 1e-2, 130, most=9)
    axes.set_ylabel("share of the power, %")
    _finish(axes, f, label=True)


def sections_sheet(sheet: Sheet, found: Answer) -> str:
    """Two sections, their sum over the crossover, the branch's impedance and the reflections."""
    sections = _driver(found).sections
    assert sections is not None
    f = sections.frequency_hz
    axes = sheet.axes(LEFT, 104, WIDTH, 94)
    upper, lower, bare = {"color": CYCLE[0]}, {"color": CYCLE[1]}, {"lw": 1.0, "ls": (0, (4, 2))}
    axes.plot(f, sections.upper_db, label="upper section, no filter", **upper, **bare)
    axes.plot(f, sections.lower_db, label="lower section, no filter", **lower, **bare)
    axes.plot(f, sections.filtered_upper_db, lw=1.2, label="upper section, filtered", **upper)
    axes.plot(f, sections.filtered_lower_db, lw=1.2, label="lower section, filtered", **lower)
    axes.plot(f, sections.turned_db, color=SOFT_INK, lw=1.0, ls=":", label="sum, other polarity")
    axes.plot(f, sections.sum_db, color=INK, lw=1.8, label="sum")
    top = float(max(sections.sum_db.max(), sections.upper_db.max(), sections.lower_db.max()))
    _draw_crossing(axes, sections)
    axes.set_ylim(top - DEEPEST_DB, top + 4)
    axes.set_ylabel("level at the exit, dB")
    _finish(axes, f, label=False)
    below = sheet.axes(LEFT, 28, WIDTH, 68)
    below.plot(f, sections.branch, color=INK, lw=1.3, label="branch over ρc/S")
    below.plot(f, np.abs(sections.reflection_upper), lw=1.0, label="reflection, upper path", **upper)
    below.plot(f, np.abs(sections.reflection_lower), lw=1.0, label="reflection, lower path", **lower)
    below.plot(sections.minima_hz, np.interp(sections.minima_hz, f, sections.branch), "v", color=ALARM, ms=4,
               label="minima of the branch")  # fmt: skip
    ratios = np.concatenate([sections.branch, np.abs(sections.reflection_upper), np.abs(sections.reflection_lower)])
    log_axis(below, max(float(ratios.min()), 1e-3) / 1.3, 1.3 * float(ratios.max()))
    below.set_ylabel("ratio")
    _finish(below, f, label=True)
    return f"{_driver(found).curve.voltage:g} V; dB re 20 µPa at the exit; {LOUD}"


def _draw_crossing(axes: Axes, sections: Sections) -> None:
    """The crossover and where about it the sum lies lowest, as far as the range goes; the octaves that both play."""
    if sections.crosses:
        words = _keyed(f"lowest about it: {lowest_words(sections)}")
        axes.axvline(sections.crossover_hz, color=SOFT_INK, lw=0.9, ls=(0, (5, 2)), zorder=1,
                     label=f"crossover, {show_hz(sections.crossover_hz)}")  # fmt: skip
        axes.plot(*sections.lowest, "v", color=ALARM, ms=7, mec="white", mew=0.6, ls="none", zorder=6, label=words)
    words = _keyed(f"overlap: {overlap_words(sections)}")
    if sections.plays_hz is not None and (sections.overlap or 0.0) > 0:
        axes.axvspan(*sections.plays_hz, color=RULE, alpha=0.35, lw=0, zorder=0, label=words)
    else:
        axes.plot([], [], ls="none", label=words)


MOST_LEVEL = 20  # numbers that have room beside each other, level
SLANT, LOSSES_RIGHT = 40, 237.0  # degrees of the modes' words; where their axes end, mm
LEAST_SHARE = 0.01  # of a mode's loss: what takes less of every mode joins the rest


def losses_sheet(sheet: Sheet, found: Answer) -> str:
    """Loss factor of each mode, and below it the shares of its causes; needs a driver with modes."""
    modes = _driver(found).modes
    place, left = np.arange(len(modes.frequency_hz)), _left_of_losses(modes)
    top = sheet.axes(left, 144, LOSSES_RIGHT - left, 54)
    top.bar(place, modes.loss_factor, color=INK, width=0.55)
    upright = len(place) > MOST_LEVEL
    log_axis(top, modes.loss_factor.min() / 2, (6 if upright else 2) * modes.loss_factor.max(), most=9)
    for k, value in enumerate(modes.loss_factor):
        note(top, digits(float(value), 2), (k, value), (0, 3), ha="center", va="bottom", rotation=90 * upright)
    top.set_ylabel("loss factor")
    _number(top, modes, label=False)
    _draw_shares(sheet.axes(left, 58, LOSSES_RIGHT - left, 80), modes)
    return "loss factor: one over the quality factor; source at 0 V"


def _left_of_losses(modes: LossyModes) -> float:
    """Where the axes begin, mm: the first mode's words, slanted, reach to the margin; they stood beyond it."""
    reach = 12.0 + text_width(_mode_words(modes)[0], SMALL) * np.cos(np.radians(SLANT))  # and their height, aslant
    before = 0.7 / len(modes.frequency_hz)  # of the width: where the first mode stands
    return max(25.0, float((reach - before * LOSSES_RIGHT) / (1 - before)))


def _mode_words(modes: LossyModes) -> list[str]:
    named = zip(modes.frequency_hz, modes.moving, strict=True)
    return [f"{show_hz(float(f))}, {short_name(zone)}" for f, zone in named]


def _draw_shares(axes: Axes, modes: LossyModes) -> None:
    place, bottom = np.arange(len(modes.frequency_hz)), np.zeros(len(modes.frequency_hz))
    share = {cause: 100 * loss / modes.loss_factor for cause, loss in modes.loss.items()}
    shown = [cause for cause, part in share.items() if part.max() > 100 * LEAST_SHARE]
    for j, cause in enumerate(shown):
        look = {"color": CYCLE[j % len(CYCLE)], "hatch": "////" if j >= len(CYCLE) else None, "edgecolor": "white"}
        axes.bar(place, share[cause], bottom=bottom, width=0.8, lw=0.5, label=cause, **look)
        bottom = bottom + share[cause]
    if len(shown) < len(share):
        axes.bar(place, 100 - bottom, bottom=bottom, color=SOFT_INK, width=0.8, label="the rest")
    axes.set_ylim(0, 100)
    axes.set_ylabel("share of its loss, %")
    _number(axes, modes, label=True)
    legend_beside(axes, upward=True)


def _number(axes: Axes, modes: LossyModes, *, label: bool) -> None:
    axes.set_xlim(-0.7, len(modes.frequency_hz) - 0.3)
    axes.grid(False, axis="x")
    axes.set_xticks(np.arange(len(modes.frequency_hz)))
    axes.set_xlabel("mode, and the zone that sweeps most volume in it" if label else "")
    axes.set_xticklabels(
        _mode_words(modes) if label else [], rotation=SLANT, ha="right", rotation_mode="anchor", size=SMALL
    )
