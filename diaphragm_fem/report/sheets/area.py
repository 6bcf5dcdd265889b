"""The effective radiating area over frequency, with resonance, decoupling, hand-over and departure marked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import MultipleLocator, NullLocator

from diaphragm_fem.analysis.curve import Curve
from diaphragm_fem.analysis.figures import Figures
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.design.zone import Zone
from diaphragm_fem.report.figure_words import figure_lines
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import (
    ALARM,
    INK,
    ROLE_COLOURS,
    SMALL,
    SOFT_INK,
    TEXT,
    frequency_axis,
    log_ticks,
    zone_colours,
    zone_dashes,
)  # fmt: skip
from diaphragm_fem.report.words import show_area, show_bound, show_hz

SHARE_LIMITS = (-1.5, 2.5)
LEVEL = "#2e7d6b"  # of the lines that mark low and high area


@dataclass(frozen=True)
class Mark:
    """A frequency of the figures as drawn: name, Hz, colour."""

    name: str
    frequency_hz: float
    colour: str


def marks_of(figures: Figures) -> list[Mark]:
    """The figures that are frequencies and exist, from low to high."""
    from diaphragm_fem.design.zone import Role

    mode = figures.break_up_mode_hz

    step = ROLE_COLOURS[Role.STEP]
    named = (
        ("resonance", figures.fundamental_hz, INK),
        ("decoupling", figures.decoupling_hz, step),
        ("handed over", figures.handed_over_hz, step),
        ("departure", figures.departure_hz, ALARM),
        ("break-up mode", mode if mode is not None and mode < figures.top_hz else None, ALARM),
    )
    return sorted((Mark(name, float(f), colour) for name, f, colour in named if f), key=lambda mark: mark.frequency_hz)


def area_sheet(sheet: Sheet, evaluation: Answer) -> str:
    """Sheet with |S|, its phase and the in-phase share of every zone; needs an evaluation of a driven design."""
    area, figures = evaluation.area, evaluation.figures
    if area is None or figures is None:
        raise ValueError("an area curve needs a driven design")
    remark = f"{len(area.frequency_hz)} frequencies, exp(+iωt)"
    if evaluation.area_error is not None:
        remark += f", error {show_bound(evaluation.area_error)}"
    left, width = 25.0, 178.0
    magnitude = sheet.axes(left, 114.0, width, 78.0)
    phase = sheet.axes(left, 81.0, width, 28.0)
    share = sheet.axes(left, 29.0, width, 47.0)
    draw_magnitude(magnitude, area, figures)
    draw_marks(magnitude, marks_of(figures), width)
    _draw_phase(phase, area)
    zones = _draw_shares(share, area, figures.departure_hz)
    for axes in (phase, share):
        for mark in marks_of(figures):
            axes.axvline(mark.frequency_hz, color=mark.colour, lw=0.8, ls=(0, (5, 2)), zorder=1)
    for axes in (magnitude, phase, share):
        frequency_axis(axes, area.frequency_hz[0], area.frequency_hz[-1], label=axes is share)
    handles = magnitude_handles(area, figures, phase=True) + share_handles(zones, area)
    sheet.figure.legend(
        handles=handles,
        loc="upper left",
        bbox_to_anchor=(208 / sheet.width, 194 / sheet.height),
        handlelength=2.6,
        labelspacing=0.55,
        borderpad=0.2,
    )
    _figures_column(sheet, evaluation)
    return remark


def draw_magnitude(axes: Axes, area: Curve, figures: Figures) -> None:
    """|S| and the area swept in total, in cm2, with the low and high areas as level lines."""
    size = 1e4 * np.abs(area.total)
    if area.absolute is not None:
        axes.plot(area.frequency_hz, 1e4 * area.absolute, color="#9aa5ae", lw=0.9, zorder=2)
    axes.plot(area.frequency_hz, size, color=INK, lw=1.7, zorder=3)
    top = figures.decoupling_hz or figures.departure_hz or area.frequency_hz[-1]
    axes.plot(
        [area.frequency_hz[0], top], [1e4 * figures.low_area_m2] * 2, color=LEVEL, lw=1.0, ls=(0, (1.5, 1.5)), zorder=4
    )
    if figures.high_area_m2 is not None and figures.handed_over_hz is not None:
        end = figures.departure_hz or area.frequency_hz[-1]
        axes.plot([figures.handed_over_hz, end], 2 * [1e4 * figures.high_area_m2], color=LEVEL, lw=1.6, zorder=4)
    axes.set_yscale("log")
    highest = size.max() if area.absolute is None else max(size.max(), 1e4 * float(area.absolute.max()))
    axes.set_ylim(max(size.min() * 0.8, highest / 3000), highest * 1.3)
    dense = np.log10(axes.get_ylim()[1] / axes.get_ylim()[0]) < 3.3
    log_ticks(axes.yaxis, *axes.get_ylim(), most=11)
    if dense:
        axes.yaxis.set_minor_locator(NullLocator())
    axes.set_ylabel("area, cm²")


def draw_marks(axes: Axes, marks: Sequence[Mark], width: float, *, short: bool = False) -> None:
    """Vertical lines with their names over the axes (`width` mm wide), set in rows so that names never meet."""
    low, high = np.log(axes.get_xlim()) if axes.get_xscale() == "log" else (np.log(20.0), np.log(20e3))
    rows: list[float] = []
    for mark in marks:
        axes.axvline(mark.frequency_hz, color=mark.colour, lw=0.8, ls=(0, (5, 2)), zorder=1)
        words = mark.name if short else f"{mark.name} {show_hz(mark.frequency_hz)}"
        place = (np.log(mark.frequency_hz) - low) / (high - low) * width
        length = 1.35 * len(words)
        begin = min(place - 0.6, width - length)
        row = next((r for r, end in enumerate(rows) if end < begin), len(rows))
        rows[row : row + 1] = [begin + length + 2]
        axes.annotate(
            words,
            (begin / width, 1.0),
            (0, 3 + 9 * row),
            xycoords="axes fraction",
            textcoords="offset points",
            size=SMALL,
            color=mark.colour,
            annotation_clip=False,
        )


def _draw_phase(axes: Axes, area: Curve) -> None:
    angle = np.degrees(np.angle(area.total))
    breaks = np.flatnonzero(np.abs(np.diff(angle)) > 180) + 1
    axes.plot(
        np.insert(area.frequency_hz, breaks, area.frequency_hz[breaks]),
        np.insert(angle, breaks, np.nan),
        color=INK,
        lw=1.2,
    )
    axes.set_ylim(-190, 190)
    axes.yaxis.set_major_locator(MultipleLocator(90))
    axes.set_ylabel("phase, degrees")


def _draw_shares(axes: Axes, area: Curve, departure_hz: float | None) -> list[Zone]:
    """Re q per zone, thin above departure; the limits are fixed so that designs compare, peaks beyond are cut."""
    colours, dashes = zone_colours(area.zones), zone_dashes(area.zones)
    share = np.clip(area.share.real, SHARE_LIMITS[0] - 1, SHARE_LIMITS[1] + 1)  # dashes far off the page cost time
    drawn = [i for i, zone in enumerate(area.zones) if zone.radiates and np.isfinite(share[i]).all()]
    above = int(np.searchsorted(area.frequency_hz, departure_hz or np.inf))
    axes.axhline(0.0, color=SOFT_INK, lw=0.7)
    for i in drawn:
        zone = area.zones[i]
        axes.plot(area.frequency_hz[:above], share[i, :above], color=colours[zone], ls=dashes[zone], lw=1.4, zorder=3)
        axes.plot(area.frequency_hz[above - 1 :], share[i, above - 1 :], color=colours[zone], lw=0.55, zorder=2.5)
    axes.set_ylim(*SHARE_LIMITS)
    axes.yaxis.set_major_locator(MultipleLocator(0.5))
    axes.set_ylabel("zone share Re q, –")
    return [area.zones[i] for i in drawn]


def magnitude_handles(area: Curve, figures: Figures, *, phase: bool = False) -> list[Line2D]:
    """What the lines of the magnitude are; `phase` where one of the same ink is drawn below it."""
    handles = [Line2D([], [], color=INK, lw=1.7, label="effective area |S|, phase" if phase else "effective area |S|")]
    if area.absolute is not None:
        handles.append(Line2D([], [], color="#9aa5ae", lw=0.9, label="swept in total"))
    handles.append(
        Line2D([], [], color=LEVEL, lw=1.0, ls=(0, (1.5, 1.5)), label=f"low area {show_area(figures.low_area_m2)}")
    )
    if figures.high_area_m2 is not None:
        handles.append(Line2D([], [], color=LEVEL, lw=1.6, label=f"high area {show_area(figures.high_area_m2)}"))
    return handles


def share_handles(zones: Sequence[Zone], area: Curve) -> list[Line2D]:
    colours, dashes = zone_colours(area.zones), zone_dashes(area.zones)
    return [Line2D([], [], color=colours[z], ls=dashes[z], lw=1.3, label=z.name) for z in zones]


def _figures_column(sheet: Sheet, evaluation: Answer) -> None:
    """The figures in words beside the curves, and how the lower panel reads."""
    figures = evaluation.figures
    assert figures is not None  # area_figure has looked
    left, right, y = 210.0, 287.0, 103.0
    sheet.line(left, y + 5.5, right, y + 5.5)
    for name, words, _ in figure_lines(figures, all_of_them=False):
        sheet.text(left, y, name, size=TEXT, color=SOFT_INK)
        sheet.text(right, y, words, size=TEXT, ha="right", weight="bold")
        y -= 5.2
    sheet.line(left, y + 3, right, y + 3)
    for line in (
        "Zone share q: a zone's volume velocity over that",
        "of the same zone riding rigidly with the coil.",
        "1 rides along, 0 stands still, below 0 works",
        "against it. Lines are thin above departure; peaks",
        f"beyond {SHARE_LIMITS[0]:g} and {SHARE_LIMITS[1]:g} are cut.".replace("-", "−"),
    ):
        sheet.text(left, y - 2.5, line, size=SMALL, color=SOFT_INK)
        y -= 3.9
