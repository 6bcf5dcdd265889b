"""The look that all figures share: type, axes, and colours by a zone's role.

The colours differ in lightness as well as hue, so that they stay apart for every kind of colour vision and in a grey
print. No global state: figures are made by hand on the Agg canvas, which is quick and safe in threads.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import Any

import numpy as np
from matplotlib import rc_context, rcParamsDefault
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.colors import to_hex, to_rgb
from matplotlib.ticker import FixedLocator, FuncFormatter, LogLocator, MaxNLocator, NullFormatter, NullLocator

from diaphragm_fem.design.zone import Role, Zone

INK = "#17212b"
SOFT_INK = "#56626d"
RULE = "#aab3bb"
GRID = "#e2e6ea"
ALARM = "#a4243b"
ROLE_COLOURS = {
    Role.DRIVEN: "#1c347f",
    Role.STEP: "#a11f00",
    Role.BEYOND: "#3398c1",
    Role.SURROUND: "#d47d0e",
    Role.COIL: "#7b504d",
}
"""At least 3:1 against white and 25 apart in CIE Lab for the usual sight and three kinds of colour-blind sight."""
DARK_ROLE_COLOURS = {
    Role.DRIVEN: "#6fb0e8",
    Role.STEP: "#ff8a5c",
    Role.BEYOND: "#9fd3f5",
    Role.SURROUND: "#f0b94a",
    Role.COIL: "#b3b8be",
}
"""The same on DARK_GROUND, 15 apart: dashes and labels must help there."""
DARK_GROUND = "#12181e"
CYCLE = ("#1c347f", "#d47d0e", "#a11f00", "#3398c1", "#9800e5", "#e53972", "#721c1c", "#17212b")
"""Colours of things without a role: zones of a free meridian, designs side by side; dashes help to tell them apart."""
BETTER, WORSE, NEITHER = "#1c347f", "#a11f00", "#8b949c"

MM = 1 / 25.4
TITLE = 9.5
TEXT = 8.0
SMALL = 6.8
DPI = 150
LOG_STEPS = ((1.0, 2.0, 5.0), (1.0, 1.5, 2.0, 3.0, 5.0, 7.0), tuple(np.arange(1.0, 10.0)), (1.0,))
SOLID, DASHED = "solid", (0, (4, 1.6))

RC: dict[str, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": TEXT,
    "text.color": INK,
    "axes.edgecolor": SOFT_INK,
    "axes.labelcolor": INK,
    "axes.labelsize": TEXT,
    "axes.titlesize": TEXT,
    "axes.linewidth": 0.6,
    "axes.grid": True,
    "axes.axisbelow": True,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "grid.color": GRID,
    "grid.linewidth": 0.6,
    "xtick.color": SOFT_INK,
    "ytick.color": SOFT_INK,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.labelsize": SMALL,
    "ytick.labelsize": SMALL,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "xtick.minor.width": 0.4,
    "ytick.minor.width": 0.4,
    "legend.frameon": False,
    "legend.fontsize": SMALL,
    "legend.handlelength": 2.2,
    "lines.linewidth": 1.3,
    "lines.solid_capstyle": "round",
    "pdf.fonttype": 42,
    "path.simplify": True,
    "text.parse_math": False,  # a $ in a name is a letter
}


def drawing_style() -> Any:
    """Context in which every figure is made and saved, whatever the caller's own settings are."""
    return rc_context({**_plain_defaults(), **RC})


def _plain_defaults() -> dict[str, Any]:
    return {
        key: value
        for key, value in rcParamsDefault.items()
        if key.split(".")[0] in ("axes", "xtick", "ytick", "legend", "font")
    }


def text_width(words: str, size: float) -> float:
    """Width in mm of a line of text, in the drawing style's type."""
    return _glyph_width(re.sub(r"\d", "0", words), size)


@lru_cache(maxsize=4096)
def _glyph_width(words: str, size: float) -> float:
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    type_face = FontProperties(family=RC["font.family"], size=size)
    # beside a full stop, so that blanks at the ends count too; measured as a line, 28 times quicker than as a path
    both, stop = (text_to_path.get_text_width_height_descent(f".{x}.", type_face, False)[0] for x in (words, ""))
    return float(both - stop) / MM / 72


def zone_colours(zones: Sequence[Zone]) -> dict[Zone, str]:
    """Colour of each zone by its role; further steps are darker, and zones without a role go through the cycle."""
    colours: dict[Zone, str] = {}
    others = 0
    for zone in zones:
        if zone.role in ROLE_COLOURS:
            colours[zone] = mixed(ROLE_COLOURS[zone.role], INK, 0.35 * max(zone.step - 1, 0))
            if zone.role is Role.COIL and sum(z.role is Role.COIL for z in colours) > 1:
                colours[zone] = INK
        else:
            colours[zone] = CYCLE[others % len(CYCLE)]
            others += 1
    return colours


def zone_dashes(zones: Sequence[Zone]) -> dict[Zone, Any]:
    """Line style of each zone: inner ones dashed where there are outer ones too."""
    both = {zone.side for zone in zones} >= {"inner", "outer"}
    return {zone: DASHED if both and zone.side == "inner" else SOLID for zone in zones}


def pale(colour: str, share: float) -> str:
    """The colour mixed with white."""
    return mixed(colour, "#ffffff", share)


def mixed(colour: str, other: str, share: float) -> str:
    """The colour with a share of another, at most three quarters."""
    share = min(share, 0.75)
    return to_hex(tuple(c + (o - c) * share for c, o in zip(to_rgb(colour), to_rgb(other), strict=True)))


def frequency_axis(axes: Axes, low_hz: float, high_hz: float, *, label: bool = True) -> None:
    """Logarithmic frequency axis with ticks in Hz and kHz."""
    axes.set_xscale("log")
    axes.set_xlim(low_hz, high_hz)
    axes.xaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    # many small ticks take longer to draw than the curve: only where the numbers stand
    minor = LogLocator(subs=tuple(float(x) for x in range(3, 10) if x != 5)) if label else NullLocator()
    axes.xaxis.set_minor_locator(minor)
    axes.xaxis.set_major_formatter(FuncFormatter(lambda f, _: show_tick(f)))
    axes.xaxis.set_minor_formatter(NullFormatter())
    if label:
        axes.set_xlabel("frequency, Hz")
    else:
        axes.tick_params(axis="x", labelbottom=False)


def log_ticks(axis: Axis, low: float, high: float, *, most: int = 8) -> None:
    """Plain numbers on a logarithmic axis: the roundest that give it three at least, however short it is."""
    decades = 10.0 ** np.arange(np.floor(np.log10(low)), np.ceil(np.log10(high)) + 1)
    choices = [np.outer(decades, steps).ravel() for steps in LOG_STEPS]
    choices.append(np.asarray(MaxNLocator(max(min(most, 6), 3)).tick_values(low, high)))
    inside = [ticks[(ticks >= low * (1 - 1e-9)) & (ticks <= high * (1 + 1e-9))] for ticks in choices]
    chosen = next((ticks for ticks in inside if 3 <= len(ticks) <= most), None)
    axis.set_major_locator(FixedLocator(inside[-1] if chosen is None else chosen))
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axis.set_minor_formatter(NullFormatter())


def show_tick(frequency_hz: float) -> str:
    return f"{frequency_hz / 1000:g}k" if frequency_hz >= 1000 else f"{frequency_hz:g}"
