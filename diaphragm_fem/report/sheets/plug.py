"""The section with diaphragm, gap, slots and channels, and the pressure along the gap over frequency."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.report.sheets.section import draw_section
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import ALARM, INK, PATCH, SOFT_INK, frequency_axis, note, zone_colours
from diaphragm_fem.report.words.words import one

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver.driver import DriverAnswer

AIR = "#dfeaf3"
RANGE_DB = 40.0
COLUMNS = 240  # of the picture of the pressure
SHOWN = 8e-3  # m of a channel
SHADES = LinearSegmentedColormap.from_list("pressure", ["#ffffff", "#c9dbe9", "#58a6d6", "#14507d", "#17212b"])


def plug_sheet(sheet: Sheet, found: Answer) -> str:
    """Sheet with the section and, below it, the gap's pressure; needs a front."""
    driver = found.driver
    assert driver is not None and driver.loaded.around.plug is not None
    plug = driver.loaded.around.plug
    width = 1e3 * plug.face.width
    words = f"{width.min():.3g} mm" if np.ptp(width) < 1e-6 else f"{width.min():.3g} to {width.max():.3g} mm"
    _draw_plug(sheet.axes(22, 116, 250, 84), found, driver)
    if driver.curve.gap_pressure is not None:
        _draw_pressure(sheet.axes(22, 28, 225, 72), driver)
    front = driver.loaded.around.driver.front
    cut = front is not None and any(slot.length > SHOWN for slot in front.slots)
    drawn = f", channels drawn to {1e3 * SHOWN:g} mm" if cut else ""
    return f"gap {words}, {one(len(plug.mouths), 'slot')}{drawn}; pressure at {driver.curve.voltage:g} V"


def _draw_plug(axes: Axes, found: Answer, driver: DriverAnswer) -> None:
    from diaphragm_fem.load.plug import channel_area

    plug, front = driver.loaded.around.plug, driver.loaded.around.driver.front
    assert plug is not None and front is not None
    ring = 1e3 * np.vstack((plug.face.face, plug.face.plug[::-1]))
    axes.fill(ring[:, 0], ring[:, 1], color=AIR, lw=0, zorder=1)
    draw_section(axes, found.design, zone_colours(found.design.zones))
    axes.plot(*(1e3 * plug.face.plug.T), color=INK, lw=1.2, zorder=4)
    for k, slot in enumerate(front.slots):
        place = np.linspace(0, min(slot.length, SHOWN), 21)
        normal = plug.normal[k] if slot.direction == "normal" and not slot.areas else np.array((0.0, 1.0))
        mouth = plug.line.point[plug.line.slot_vertex[k]] + plug.normal[k] * plug.line.width.mean() / 2
        centre = mouth + place[:, None] * normal
        half = channel_area(plug, slot, k, place) / (4 * np.pi * centre[:, 0])
        across, away = np.array((normal[1], -normal[0])), plug.normal[k]
        walls = [centre + side * half[:, None] * across for side in (-1, 1)]
        for wall in walls:  # from the plug on, which a channel may leave at a slant
            wall[0] = wall[0] - ((wall[0] - mouth) @ away) / (normal @ away) * normal
            ahead = (wall - wall[0]) @ normal >= 0
            axes.plot(*(1e3 * wall[ahead].T), color=INK, lw=1.0, zorder=4)
        axes.plot(*(1e3 * np.stack([wall[0] for wall in walls], axis=1)), color=AIR, lw=1.8, zorder=5)
        note(axes, f"slot {k + 1}", tuple(1e3 * centre[-1]), (0, 3), ha="center")
    axes.set_aspect("equal")
    axes.set_xlim(max(ring[:, 0].min() - 8, -1.0), ring[:, 0].max() + 8)
    axes.set_xlabel("radius r, mm")
    axes.set_ylabel("height z, mm")


def _draw_pressure(axes: Axes, driver: DriverAnswer) -> None:
    from diaphragm_fem.load.thin_chamber import rigid_wall_modes

    curve, chamber = driver.curve, driver.loaded.around.chamber
    assert curve.gap_pressure is not None and curve.gap_place is not None and chamber is not None
    place = 1e3 * curve.gap_place
    # columns even in the picture: a tenth of those of the curve, and a third of the time
    f = np.geomspace(curve.frequency_hz[0], curve.frequency_hz[-1], COLUMNS)
    near = np.searchsorted(np.sqrt(curve.frequency_hz[1:] * curve.frequency_hz[:-1]), f)
    size = 20 * np.log10(np.maximum(np.abs(curve.gap_pressure[:, near]) * curve.voltage, 1e-9) / 20e-6)
    style = {"cmap": SHADES, "vmax": size.max(), "vmin": size.max() - RANGE_DB, "shading": "gouraud"}
    drawn = axes.pcolormesh(f, place, size, rasterized=True, **style)
    for k, at in enumerate(1e3 * chamber.line.vertex[chamber.line.slot_vertex]):
        axes.axhline(at, color=ALARM, lw=0.8, ls=(0, (4, 2)))
        note(axes, f"slot {k + 1}", (curve.frequency_hz[0], at), (3, 3), bbox=PATCH)
    speed = driver.loaded.around.still.sound_speed
    if chamber.patterns.shape[1] > 1:
        modes = rigid_wall_modes(chamber, min(6, chamber.patterns.shape[1]))[0][1:] * speed / (2 * np.pi)
        for n, f in enumerate(modes):
            if f < 0.97 * curve.frequency_hz[-1]:
                axes.axvline(f, color=SOFT_INK, lw=0.8, ls=(0, (1, 2)))
                note(axes, f"{n + 1}", (f, place[-1]), (3, -9), bbox=PATCH)
    axes.grid(False)
    axes.set_ylabel("along the gap from its inner end, mm")
    axes.set_title("pressure in the gap; dotted: rigid-wall modes", loc="left")
    frequency_axis(axes, curve.frequency_hz[0], curve.frequency_hz[-1])
    bar = axes.figure.colorbar(drawn, ax=axes, pad=0.01, extend="min")
    bar.set_label("pressure, dB re 20 µPa")
