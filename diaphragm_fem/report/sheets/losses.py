"""Modes of a driver with everything on: what each loses, and to what."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.axes import Axes

from diaphragm_fem.analysis.modes.label import short_name
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import CYCLE, INK, SMALL, SOFT_INK, legend_beside, log_axis, note
from diaphragm_fem.report.words.words import show_hz

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver.losses import LossyModes

MOST_LEVEL = 20  # numbers that have room beside each other, level
LEAST_SHARE = 0.01  # of a mode's loss: what takes less of every mode joins the rest


def losses_sheet(sheet: Sheet, found: Answer) -> str:
    """Loss factor of each mode, and below it the shares of its causes; needs a driver with modes."""
    driver = found.driver
    assert driver is not None
    modes = driver.modes
    place = np.arange(len(modes.frequency_hz))
    top = sheet.axes(22, 142, 215, 56)
    top.bar(place, modes.loss_factor, color=INK, width=0.55)
    upright = len(place) > MOST_LEVEL
    log_axis(top, modes.loss_factor.min() / 2, (6 if upright else 2) * modes.loss_factor.max(), most=9)
    for k, value in enumerate(modes.loss_factor):
        note(top, f"{value:.2g}", (k, value), (0, 3), ha="center", va="bottom", rotation=90 * upright)
    top.set_ylabel("loss factor")
    _number(top, modes, label=False)
    _draw_shares(sheet.axes(22, 52, 215, 84), modes)
    return "loss factor: one over the quality factor; source at 0 V"


def _draw_shares(axes: Axes, modes: LossyModes) -> None:
    place, bottom = np.arange(len(modes.frequency_hz)), np.zeros(len(modes.frequency_hz))
    share = {cause: 100 * loss / modes.loss_factor for cause, loss in modes.loss.items()}
    shown = [cause for cause, part in share.items() if part.max() > 100 * LEAST_SHARE]
    for j, cause in enumerate(shown):
        look = {"color": CYCLE[j % len(CYCLE)], "hatch": "////" if j >= len(CYCLE) else None, "edgecolor": "white"}
        axes.bar(place, share[cause], bottom=bottom, width=0.8, lw=0, label=cause, **look)
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
    named = zip(modes.frequency_hz, modes.moving, strict=True)
    words = [f"{show_hz(float(f))}, {short_name(zone)}" for f, zone in named]
    axes.set_xlabel("mode, and the zone that sweeps most volume in it" if label else "")
    axes.set_xticklabels(words if label else [], rotation=40, ha="right", rotation_mode="anchor", size=SMALL)
