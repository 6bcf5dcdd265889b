"""The effective radiating area over frequency, the response per newton below it, and what each zone does."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import FixedLocator, NullLocator

from diaphragm_fem.analysis.curve.curve import Curve, decibels
from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.analysis.figures.response_bands import Band
from diaphragm_fem.analysis.modes.label import short_name
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.report.sheets.names import fitted, on_two_lines
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import (
    ALARM,
    BOLD,
    INK,
    LEVEL,
    MM,
    PATCH,
    SMALL,
    SOFT_INK,
    TEXT,
    frequency_axis,
    log_axis,
    note,
    pale,
    text_width,
    zone_colours,
)  # fmt: skip
from diaphragm_fem.report.words.figures import MARKS, figure_lines
from diaphragm_fem.report.words.trust import LEAST_DB, curve_error_db
from diaphragm_fem.report.words.words import digits, show_octaves

TOTAL = "#7e8a94"  # of the area swept in total
ABOUT_DB = 30.0  # about the low area: what lies farther is cut
ROOM = 5.0  # mm above the curve of a panel, for a remark
BAND, BAND_SHARE = 3.25, 0.09  # height of a band's row below the response: mm, and share of the panel, at least
LEVELS_DB = (-30.0, 20.0)  # of the response per newton about its plateau, at most
ENDS = ("departure_hz", "break_up_mode_hz")  # of what a part is good for
TICK = 3.6  # mm from one number of an axis to the next, at least
STRIP = (-1.2, 2.0)  # shares shown; what lies beyond is cut
NAMES = 32.0  # mm: room for the names of strips; on two lines where a strip is as high as those
TWO_LINES = 7.0  # mm
TWO_NUMBERS = 9.5  # mm: in a strip that is no higher 0 and 1 would meet
LEFT, WIDTH, COLUMN, RIGHT = 49.0, 161.0, 220.0, 287.0
HEAD, FOOT = 192.0, 29.0
Pair = tuple[str, str]  # of texts


@dataclass(frozen=True)
class Mark:
    """A frequency of the figures as drawn: name, Hz, colour of its line."""

    name: str
    frequency_hz: float
    colour: str = SOFT_INK


def marks_of(figures: Figures) -> list[Mark]:
    """The figures that are frequencies and exist in the range, from low to high."""
    table = figures.table()
    found = [
        Mark(words, float(f), ALARM if name in ENDS else SOFT_INK)
        for name, words in MARKS.items()
        if (f := table[name]) and (name != "break_up_mode_hz" or f < figures.top_hz)
    ]
    return sorted(found, key=lambda mark: mark.frequency_hz)


def first_shown(area: Curve, figures: Figures) -> float:
    """Where frequency axes begin: a third of the fundamental, below which nothing happens."""
    bottom = float(area.frequency_hz[0])
    return bottom if figures.fundamental_hz is None else max(bottom, figures.fundamental_hz / 3)


def area_sheet(sheet: Sheet, evaluation: Answer) -> str:
    """|S|, the response per newton and a strip of every zone's in-phase share, on one axis; the figures beside."""
    area, figures = evaluation.area, evaluation.figures
    assert area is not None and figures is not None  # the listing has looked
    zones = [k for k, zone in enumerate(area.zones) if zone.radiates and np.isfinite(area.share[k]).all()]
    strips = min(14.0 * len(zones), 78.0)
    rest = HEAD - FOOT - strips
    magnitude = sheet.axes(LEFT, HEAD - 0.55 * rest, WIDTH, 0.55 * rest)
    response = sheet.axes(LEFT, FOOT + strips + 3.0, WIDTH, 0.45 * rest - 7.0)
    draw_magnitude(magnitude, area, figures)
    draw_response(response, area, figures)
    panels = [magnitude, response]
    for place, k in enumerate(zones):
        height = strips / len(zones)
        axes = sheet.axes(LEFT, FOOT + strips - (place + 1) * height, WIDTH, height)
        _draw_strip(axes, area, k, figures.break_up_mode_hz, numbers=(0.0, 1.0) if height > TWO_NUMBERS else (1.0,))
        name = short_name(area.zones[k].name)
        lines = on_two_lines(name, NAMES, SMALL) if height > TWO_LINES else [fitted(name, NAMES, SMALL)]
        axes.set_ylabel("\n".join(lines), rotation=0, ha="right", va="center", size=SMALL, labelpad=14)
        panels.append(axes)
    marks = [mark for mark in marks_of(figures) if mark.frequency_hz >= first_shown(area, figures)]
    for axes in panels:
        frequency_axis(axes, first_shown(area, figures), area.frequency_hz[-1], label=axes is panels[-1])
        if axes is not magnitude:
            _draw_lines(axes, marks)
    draw_marks(magnitude, marks, WIDTH)
    _figures_column(sheet, evaluation)
    error = curve_error_db(evaluation)
    within = "" if error is None else f", within {digits(max(error, LEAST_DB), 2)} dB below break-up"
    return f"{len(area.frequency_hz)} frequencies, no air{within}"


def draw_magnitude(axes: Axes, area: Curve, figures: Figures) -> None:
    """|S| and the area swept in total, in cm2, with the low and high areas as level lines; 30 dB about the low area."""
    size, low = 1e4 * np.abs(area.total), 1e4 * figures.low_area_m2
    shown = area.frequency_hz >= first_shown(area, figures)
    if area.absolute is not None:
        axes.plot(area.frequency_hz, 1e4 * area.absolute, color=TOTAL, lw=0.9, zorder=2)
    axes.plot(area.frequency_hz, size, color=INK, lw=1.7, zorder=3)
    top = figures.decoupling_hz or figures.departure_hz or area.frequency_hz[-1]
    axes.plot([area.frequency_hz[0], top], [low] * 2, color=LEVEL, lw=1.0, ls=(0, (1.5, 1.5)), zorder=4)
    if figures.high_area_m2 is not None and figures.handed_over_hz is not None:
        end = figures.departure_hz or area.frequency_hz[-1]
        axes.plot([figures.handed_over_hz, end], 2 * [1e4 * figures.high_area_m2], color=LEVEL, lw=1.6, zorder=4)
    lowest, highest = float(size[shown].min()) * 0.8, float(size[shown].max()) * 1.3
    if low > 0:
        ratio = 10 ** (ABOUT_DB / 20)
        cut = [words for words, is_so in (("above", highest > low * ratio), ("below", lowest < low / ratio)) if is_so]
        lowest, highest = max(lowest, low / ratio), min(highest, low * ratio)
        if cut:
            _note(axes, f"cut {' and '.join(cut)}: {ABOUT_DB:.0f} dB about the low area")
            room = ROOM / _height(axes)
            highest *= (highest / lowest) ** (room / (1 - room))
    log_axis(axes, lowest, highest, most=9)
    if np.log10(highest / lowest) < 3.3:
        axes.yaxis.set_minor_locator(NullLocator())
    axes.set_ylabel("area |S|, cm²")


def draw_response(axes: Axes, area: Curve, figures: Figures) -> None:
    """Response per newton in dB against its plateau; below it the even band, and the shelf band of a stepped design."""
    level = decibels(np.abs(area.response) / figures.plateau)
    axes.axhline(0.0, color=SOFT_INK, lw=0.7, zorder=1)
    shown = level[area.frequency_hz >= first_shown(area, figures)]
    low, high = max(float(shown.min()) - 2, LEVELS_DB[0]), min(float(shown.max()) + 2, LEVELS_DB[1])
    axes.plot(area.frequency_hz, np.where((level >= low) & (level <= high), level, np.nan), color=INK, lw=1.5, zorder=3)
    ends = ((f"above {high:+.0f}", shown.max() > high), (f"below {low:+.0f}", shown.min() < low))
    if told := " and ".join(words for words, is_so in ends if is_so):
        _note(axes, f"cut {told} dB".replace("-", "−"))
    bands = [(figures.even_band, "even within 6 dB"), (figures.shelf_band if figures.steps else None, "shelf band")]
    given = [(band, words) for band, words in bands if band is not None]
    low, high = min(low, -6.0), max(high, 6.0)
    tall = _height(axes)
    share = max(BAND_SHARE, BAND / tall)  # of the panel's height: below a long verdict bands lay on one another
    room = ROOM / tall if told else 0.0
    whole = (high - low) / (1 - share * len(given) - room)
    row = whole * share
    axes.set_ylim(low - row * len(given), high + room * whole)
    for place, (band, words) in enumerate(given):
        _draw_band(axes, band, words, low - row * (place + 0.4))
    step = 10 if high - low > 30 else 5
    ticks = np.arange(-60, 61, step if tall * step / whole > TICK else 2 * step)
    axes.yaxis.set_major_locator(FixedLocator(ticks[(ticks >= low) & (ticks <= high)]))
    axes.set_ylabel("response per\nnewton, dB")


def _height(axes: Axes) -> float:
    """In mm."""
    return float(axes.get_position().height * axes.figure.get_figheight() / MM)


def _draw_band(axes: Axes, band: Band, words: str, height: float) -> None:
    """A bar along the band with its name on it."""
    ends, shade = [band.from_hz, band.to_hz], pale(LEVEL, 0.55)
    axes.plot(ends, [height] * 2, color=shade, lw=0.87 * BAND * 72 * MM, solid_capstyle="butt", zorder=2)
    middle = np.sqrt(band.from_hz * band.to_hz)
    axes.text(middle, height, f"{words}: {show_octaves(band)}", size=SMALL, ha="center", va="center", zorder=6)


def _note(axes: Axes, words: str) -> None:
    """A remark inside the upper left corner."""
    note(axes, words, (0.0, 1.0), (3, -9), "axes fraction", color=SOFT_INK, bbox=PATCH, zorder=5)


def _draw_lines(axes: Axes, marks: Sequence[Mark]) -> None:
    for mark in marks:
        axes.axvline(mark.frequency_hz, color=mark.colour, lw=0.8, ls=(0, (5, 2)), zorder=1)


def draw_marks(axes: Axes, marks: Sequence[Mark], width: float) -> None:
    """Vertical lines with their names over the axes (`width` mm wide), set in rows so that names never meet."""
    _draw_lines(axes, marks)
    low, high = np.log(axes.get_xlim())
    rows: list[float] = []
    for mark in marks:
        words = mark.name
        place = (np.log(mark.frequency_hz) - low) / (high - low) * width
        length = text_width(words, SMALL)
        begin = min(max(place - 0.5 * length, 0.0), width - length)
        row = next((r for r, end in enumerate(rows) if end < begin), len(rows))
        rows[row : row + 1] = [begin + length + 2]
        note(axes, words, (begin / width, 1.0), (0, 3 + 9 * row), "axes fraction", annotation_clip=False)


def _draw_strip(axes: Axes, area: Curve, k: int, break_up_hz: float | None, numbers: Sequence[float]) -> None:
    """Re q of one zone up to the break-up mode: filled upward where it rides, hatched where it works against."""
    kept = area.frequency_hz <= (break_up_hz or np.inf)
    f, share = area.frequency_hz[kept], np.clip(area.share[k].real[kept], *STRIP)
    colour = zone_colours(area.zones)[area.zones[k]]
    axes.axhline(1.0, color=SOFT_INK, lw=0.5, ls=(0, (1, 2)), zorder=1)
    axes.axhline(0.0, color=SOFT_INK, lw=0.7, zorder=2)
    axes.fill_between(f, 0, np.maximum(share, 0), color=pale(colour, 0.45), lw=0, zorder=1.5)
    axes.fill_between(f, 0, np.minimum(share, 0), facecolor="white", edgecolor=ALARM, hatch="//////", lw=0, zorder=1.5)
    axes.plot(f, share, color=colour, lw=1.1, zorder=3)
    axes.set_ylim(*STRIP)
    axes.yaxis.set_major_locator(FixedLocator(numbers))
    axes.grid(False, axis="y")
    axes.spines["bottom"].set_visible(False)
    axes.tick_params(axis="x", length=0)


def magnitude_handles(area: Curve, figures: Figures) -> list[Line2D]:
    """What the lines of the magnitude are."""
    handles = [Line2D([], [], color=INK, lw=1.7, label="effective area |S|")]
    if area.absolute is not None:
        handles.append(Line2D([], [], color=TOTAL, lw=0.9, label="swept in total"))
    handles.append(Line2D([], [], color=LEVEL, lw=1.0, ls=(0, (1.5, 1.5)), label="low area"))
    if figures.high_area_m2 is not None:
        handles.append(Line2D([], [], color=LEVEL, lw=1.6, label="high area"))
    return handles


READING = (
    "Strips: in-phase share of each zone, inside to outside. 1 (dotted): rides with the coil. 0: stands still. "
    "Hatched: works against it. They end at the break-up mode.",
    "Response per newton: 0 dB is low area over moving mass.",
)


def _figures_column(sheet: Sheet, evaluation: Answer) -> None:
    """The legend, the figures in words beside the curves, and how the strips read."""
    area, figures = evaluation.area, evaluation.figures
    assert area is not None and figures is not None  # the listing has looked
    handles = magnitude_handles(area, figures)
    sheet.legend(COLUMN - 3, 196, handles, handlelength=2.6, labelspacing=0.55, borderpad=0.2)
    sheet.line(COLUMN, 173.5, RIGHT, 173.5)
    lines = [(name, words) for name, words, _ in figure_lines(figures, all_of_them=False)]
    y = list_figures(sheet, lines, (COLUMN, RIGHT), 168.0, 5.2)
    sheet.line(COLUMN, y + 3, RIGHT, y + 3)
    sheet.points(COLUMN, y - 2.5, READING, RIGHT - COLUMN, 0.0)


def list_figures(sheet: Sheet, lines: Sequence[Pair], ends: tuple[float, float], y: float, step: float) -> float:
    """Names and values of figures from y downward between two margins, a value below its name where both have no room;
    returns the height below them."""
    for name, words in lines:
        sheet.text(ends[0], y, name, size=TEXT, color=SOFT_INK)
        y -= step * (text_width(f"{name}  ", TEXT) + BOLD * text_width(words, TEXT) > ends[1] - ends[0])
        sheet.text(ends[1], y, words, size=TEXT, ha="right", weight="bold")
        y -= step
    return y
