"""A face in a baffle: levels at angles, beam and directivity index over frequency; directivity as map and as curves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes
from matplotlib.projections.polar import PolarAxes

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import INK, SMALL, frequency_axis, keyed_axis, look_of
from diaphragm_fem.report.words.heard import LOUD
from diaphragm_fem.report.words.words import show_hz

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver.curve import DriverCurve
    from diaphragm_fem.answer.driver.radiated import Radiated

LEFT, WIDTH = 22.0, 190.0
ANGLES = (0, 30, 45, 60, 90)
DEEPEST_DB = 50.0  # below the highest level: what lies deeper is cut
MOST_DB = 24.0  # below the axis, that the curves show
RAISED_DB = 6.0  # above the axis, where a lobe beside it is stronger
CURVES_HZ = (1e3, 2e3, 5e3, 10e3, 15e3, 20e3)
BANDS_DB = (-60, -24, -18, -12, -9, -6, -3, 0.5, 3, 60)  # of the map: half a decibel above the axis counts as level
SHADES = ("#ffffff", "#f3f7fa", "#e2ecf4", "#c9dbe9", "#abcbe2", "#86b6d9", "#58a6d6", "#f2cf8d", "#e6a62e")
COLUMNS = 240  # of the map, evenly over log f
FROM_HZ = 200.0  # where the map begins: below it a face of this trade radiates evenly


def _curve(found: Answer) -> tuple[DriverCurve, Radiated]:
    assert found.driver is not None and found.driver.curve.radiated  # the listing has looked
    return found.driver.curve, found.driver.curve.radiated[0]


def radiation_sheet(sheet: Sheet, found: Answer) -> str:
    """Levels on the axis and off it, width of the beam, directivity index."""
    curve, front = _curve(found)
    f, driven = curve.frequency_hz, curve.current is not None
    axes = sheet.axes(LEFT, 112, WIDTH, 86)
    levels = curve.levels_at(ANGLES)
    for k, angle in enumerate(ANGLES):
        look = {"color": INK, "lw": 1.7} if angle == 0 else look_of(k - 1) | {"lw": 1.0}
        axes.plot(f, levels[:, k], label="on the axis" if angle == 0 else f"{angle}° off", **look)
    top = float(levels.max())
    axes.set_ylim(max(float(levels.min()), top - DEEPEST_DB) - 2, top + 4)
    axes.set_ylabel(f"level at {front.distance:.3g} m, dB" if driven else "level against the axis, dB")
    keyed_axis(axes, f, label=False)
    _draw_beam(sheet.axes(LEFT, 70, WIDTH, 36), front)
    _draw_index(sheet.axes(LEFT, 28, WIDTH, 36), front)
    remark = "endless baffle"
    return f"{curve.voltage:g} V; dB re 20 µPa; {remark}; {LOUD}" if driven else remark


def _draw_beam(axes: Axes, front: Radiated) -> None:
    wide = np.where(np.isnan(front.beam_degrees), 180.0, front.beam_degrees)
    axes.plot(front.frequency_hz, wide, color=INK, lw=1.4, label="full angle to −6 dB;\n180°: never falls so far")
    axes.set_ylim(0, 190)
    axes.set_yticks([0, 45, 90, 135, 180])
    axes.set_ylabel("beam, degrees")
    keyed_axis(axes, front.frequency_hz, label=False)


def _draw_index(axes: Axes, front: Radiated) -> None:
    index = front.directivity_index_db
    axes.plot(front.frequency_hz, index, color=INK, lw=1.4, label="against the half space")
    axes.set_ylim(max(min(-1.0, float(index.min()) - 1), -20.0), max(float(index.max()) + 1, 4.0))
    axes.set_ylabel("directivity\nindex, dB")
    keyed_axis(axes, front.frequency_hz, label=True)


def directivity_sheet(sheet: Sheet, found: Answer) -> str:
    """The far level over frequency and angle against the axis, and as curves at a few frequencies."""
    _, front = _curve(found)
    _draw_map(sheet.axes(LEFT, 106, 225, 92), front)
    _draw_curves(sheet, front)
    return "far level against that on the axis; endless baffle"


def _draw_map(axes: Axes, front: Radiated) -> None:
    from diaphragm_fem.answer.driver.radiated import DEGREES

    f, level = front.frequency_hz, front.directivity_db
    even = np.geomspace(min(max(f[0], FROM_HZ), f[-1] / 4), f[-1], COLUMNS)
    rows = np.stack([np.interp(np.log(even), np.log(f), level[:, a]) for a in range(len(DEGREES))])
    both = np.concatenate((-DEGREES[:0:-1], DEGREES))
    level = np.vstack((rows[:0:-1], rows))
    drawn = axes.contourf(even, both, level, BANDS_DB, colors=SHADES)
    for value, style in ((-3, "dotted"), (-6, "solid"), (-12, "dashed")):
        axes.contour(even, both, level, [value], colors=INK, linewidths=0.8, linestyles=style)
        axes.plot([], [], color=INK, lw=0.8, ls=style, label=f"−{-value} dB")
    axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=3, borderpad=0.2)
    axes.grid(False)
    axes.set_yticks(range(-90, 91, 30))
    axes.set_ylabel("angle from the axis, degrees")
    frequency_axis(axes, even[0], even[-1])
    bar = axes.figure.colorbar(drawn, ax=axes, pad=0.01, spacing="uniform", ticks=BANDS_DB[1:-1])
    bar.ax.set_yticklabels([f"{value:g}".replace("-", "−") for value in BANDS_DB[1:-1]])
    bar.set_label("dB against the axis")


def _draw_curves(sheet: Sheet, front: Radiated) -> None:
    from diaphragm_fem.answer.driver.radiated import DEGREES

    axes = sheet.axes(40, 12, 165, 92, projection="polar")
    assert isinstance(axes, PolarAxes)
    axes.set_theta_zero_location("N")
    axes.set_thetamin(-90)
    axes.set_thetamax(90)
    f = front.frequency_hz
    both = np.radians(np.concatenate((-DEGREES[:0:-1], DEGREES)))
    for j, hz in enumerate([hz for hz in CURVES_HZ if f[0] <= hz <= f[-1] * (1 + 1e-9)] or [f[-1]]):
        row = front.directivity_db[int(np.argmin(np.abs(np.log(f / hz))))]
        row = np.clip(row, -MOST_DB, RAISED_DB)
        axes.plot(both, np.concatenate((row[:0:-1], row)), **look_of(j), lw=1.2, label=show_hz(hz))
    axes.set_rlim(-MOST_DB, RAISED_DB)
    axes.set_rticks([-18, -12, -6, 0])
    axes.set_yticklabels(["−18", "−12", "−6", "0 dB"])
    around = range(-90, 91, 30)
    axes.set_thetagrids(around, [f"{abs(a)}°" for a in around])
    axes.tick_params(labelsize=SMALL)
    axes.legend(loc="upper left", bbox_to_anchor=(1.12, 0.86), fontsize=SMALL)
