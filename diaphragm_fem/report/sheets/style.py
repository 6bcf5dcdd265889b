"""The look that all figures share: type, axes, and colours by a zone's role.

The colours differ in lightness as well as hue, so that they stay apart for every kind of colour vision and in a grey
print. No global state: figures are made by hand on the Agg canvas, which is quick and safe in threads.
"""

import re
from collections.abc import Sequence
from functools import lru_cache, partial
from typing import Any

import numpy as np
from matplotlib import rc_context, rcParamsDefault
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.collections import LineCollection
from matplotlib.colors import to_hex, to_rgb
from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, NullFormatter, NullLocator

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.report.looks import zone_looks
from diaphragm_fem.report.sheets.lettering import OWN, families, spelled

INK = "#17212b"
SOFT_INK = "#56626d"
RULE = "#aab3bb"
GRID = "#e2e6ea"
ALARM = "#a4243b"
ROLE_COLOURS = {
    Role.DRIVEN: "#1c347f",
    Role.STEP: "#9c1e00",
    Role.BEYOND: "#2c86ab",
    Role.SURROUND: "#d47d0e",
    Role.COIL: "#825c5a",
}
"""At least 3:1 against white, 30 apart in CIE Lab for the usual sight and three kinds of colour-blind sight, and 8 in
lightness alone, ink among them, for a grey print."""
CYCLE = ("#1c347f", "#d47d0e", "#9c1e00", "#2c86ab", "#9800e5", "#e53972", "#721c1c", "#17212b")
"""Colours of things without a role: zones of a free meridian, designs side by side; dashes help to tell them apart."""
LOOKS = {"ink": INK} | {role.replace(" ", "-"): colour for role, colour in ROLE_COLOURS.items()} | {
    f"tone-{k}": colour for k, colour in enumerate(CYCLE)
}
LEVEL = "#2e7d6b"  # of what marks where a curve holds: low and high area, even bands, what plays
BETTER, WORSE, NEITHER = "#1c347f", "#9c1e00", "#8b949c"
SIDES = ((BETTER, "better"), (WORSE, "worse"), (NEITHER, "neither is better"))

MM = 1 / 25.4
TITLE = 9.5
TEXT = 8.0
SMALL = 8.0  # the least that is read on paper without effort (common practice, no source)
BOLD = 1.13  # width of bold type over plain, at most
DPI = 150
LOG_STEPS = ((1.0, 2.0, 5.0), (1.0, 1.5, 2.0, 3.0, 5.0, 7.0), tuple(np.arange(1.0, 10.0)), (1.0,), (1.0, 3.0))
ROUND = (1, 2, 2.5, 5, 10)  # steps of numbers on an axis: none of 0.8 or 0.15
SOLID, DASHED = "solid", (0, (4, 1.6))
DASHES: tuple[Any, ...] = (SOLID, DASHED, (0, (1.2, 1.3)), (0, (7, 1.5, 1.3, 1.5)), (0, (9, 2)))
PATCH: dict[str, Any] = {"fc": "white", "ec": "none", "pad": 0.8, "alpha": 0.85}
"""Behind words that stand on curves."""

RC: dict[str, Any] = {
    "font.family": OWN,
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
    """Context in which every figure is made and saved, whatever the caller's own settings are, or those of a
    `matplotlibrc` that lies beside a design: one may have every text set by LaTeX, with commands of its own."""
    plain = {key: value for key, value in rcParamsDefault.items() if not key.startswith("backend")}
    return rc_context({**plain, **RC})


def text_width(words: str, size: float) -> float:
    """Width in mm of a line of text, in the drawing style's type."""
    return _glyph_width(re.sub(r"\d", "0", words), size)


@lru_cache(maxsize=4096)
def _glyph_width(words: str, size: float) -> float:
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    words = spelled(words)
    type_face = FontProperties(family=families(words), size=size)
    # beside a full stop, so that blanks at the ends count too; measured as a line, 28 times quicker than as a path
    both, stop = (text_to_path.get_text_width_height_descent(f".{x}.", type_face, False)[0] for x in (words, ""))
    return float(both - stop) / MM / 72


def zone_colours(zones: Sequence[Zone]) -> dict[Zone, str]:
    """Colour of each zone; further steps are darker."""
    looks = zip(zones, zone_looks(zones), strict=True)
    return {zone: mixed(LOOKS[look], INK, 0.35 * max(zone.step - 1, 0)) for zone, look in looks}


def zone_dashes(zones: Sequence[Zone]) -> dict[Zone, Any]:
    """Line style of each zone: inner ones dashed where there are outer ones too."""
    both = {zone.side for zone in zones} >= {"inner", "outer"}
    return {zone: DASHED if both and zone.side == "inner" else SOLID for zone in zones}


def look_of(k: int) -> dict[str, Any]:
    """Colour and dash of the k-th curve of many, from 0: none in ink, which is for what they are told beside, and no
    two of 35 alike; in a grey print the dash alone tells five apart."""
    colours = [colour for colour in CYCLE if colour != INK]
    return {"color": colours[k % len(colours)], "ls": DASHES[k % len(DASHES)]}


def side_colour(side: float) -> str:
    """Of a change to the better (above 0), to the worse, or to neither side."""
    return NEITHER if not side else BETTER if side > 0 else WORSE


def pale(colour: str, share: float) -> str:
    """The colour mixed with white."""
    return mixed(colour, "#ffffff", share)


def mixed(colour: str, other: str, share: float) -> str:
    """The colour with a share of another, at most three quarters."""
    share = min(share, 0.75)
    return to_hex(tuple(c + (o - c) * share for c, o in zip(to_rgb(colour), to_rgb(other), strict=True)))


def frequency_axis(axes: Axes, low_hz: float, high_hz: float, *, label: bool = True) -> None:
    """Logarithmic frequency axis with ticks in Hz and kHz.

    What bears no number is drawn in one stroke: a tick of the library takes as long as the curve, 0.9 ms.
    """
    axes.set_xscale("log")
    axes.set_xlim(low_hz, high_hz)
    axes.xaxis.set_minor_locator(NullLocator())
    numbered, between = (_round_within(low_hz, high_hz, steps) for steps in ((1, 2, 5), (3, 4, 6, 7, 8, 9)))
    if label:
        axes.xaxis.set_major_locator(FixedLocator(numbered))
        axes.xaxis.set_major_formatter(FuncFormatter(lambda f, _: show_tick(f)))
        down = [[(0, 0), (0, -2 / 72)]]  # inches
        places = {"offsets": [(f, 0) for f in between], "offset_transform": axes.get_xaxis_transform()}
        marks = LineCollection(down, colors=SOFT_INK, linewidths=0.4, clip_on=False, **places)
        marks.set_transform(axes.figure.dpi_scale_trans)
        axes.add_artist(marks)
        axes.set_xlabel("frequency, Hz")
    else:
        axes.xaxis.set_major_locator(NullLocator())
        lines = LineCollection([[(f, 0), (f, 1)] for f in numbered], colors=GRID, linewidths=0.6, zorder=0.5)
        lines.set_transform(axes.get_xaxis_transform())
        axes.add_artist(lines)


def _round_within(low: float, high: float, steps: Sequence[float]) -> Array:
    """The numbers from low to high that are one of the steps times a power of ten."""
    decades = 10.0 ** np.arange(np.floor(np.log10(low)), np.ceil(np.log10(high)) + 1)
    return _within(low, high, np.outer(decades, steps).ravel())


def _within(low: float, high: float, values: Array) -> Array:
    return values[(values >= low * (1 - 1e-9)) & (values <= high * (1 + 1e-9))]


def log_ticks(axis: Axis, low: float, high: float, *, most: int = 8) -> None:
    """Plain numbers on a logarithmic axis: the roundest that give it three at least, however short it is."""
    inside = [_round_within(low, high, steps) for steps in LOG_STEPS]
    inside.append(_within(low, high, np.asarray(MaxNLocator(max(min(most, 6), 3)).tick_values(low, high))))
    chosen = next((ticks for ticks in inside if 3 <= len(ticks) <= most), None)
    axis.set_major_locator(FixedLocator(inside[-1] if chosen is None else chosen))
    plain = partial(np.format_float_positional, precision=6, fractional=False, trim="-")  # six digits, no power of ten
    axis.set_major_formatter(FuncFormatter(lambda value, _: plain(value)))
    axis.set_minor_formatter(NullFormatter())


def show_tick(frequency_hz: float) -> str:
    return f"{frequency_hz / 1000:g}k" if frequency_hz >= 1000 else f"{frequency_hz:g}"


def log_axis(axes: Axes, low: float, high: float, *, most: int = 8) -> None:
    """Logarithmic upward axis from low to high with plain numbers."""
    axes.set_yscale("log")
    axes.set_ylim(low, high)
    log_ticks(axes.yaxis, low, high, most=most)


def note(
    axes: Axes, words: str, place: tuple[float, float], shift: tuple[float, float], of: Any = "data", **look: Any
) -> None:
    """Small words that stand `shift` points from a place; `of` says what its coordinates are of."""
    axes.annotate(words, place, shift, xycoords=of, textcoords="offset points", **{"size": SMALL, **look})


def legend_beside(axes: Axes, right: float = 1.01, *, upward: bool = False) -> None:
    """The key outside the axes, at their upper right; `upward` for what is stacked, the first at the foot."""
    axes.legend(loc="upper left", bbox_to_anchor=(right, 1.02), fontsize=SMALL, reverse=upward)


def keyed_axis(axes: Axes, f: Array, *, label: bool, right: float = 1.01) -> None:
    """The frequency axis of curves at f (F,) in Hz, their key beside."""
    frequency_axis(axes, f[0], f[-1], label=label)
    legend_beside(axes, right)
