"""Modes followed through the designs of a comparison: lines that cross where modes change places."""

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from diaphragm_fem.analysis.modes.pairing import LEAST_LIKENESS
from diaphragm_fem.answer.comparison.comparison import Comparison
from diaphragm_fem.answer.comparison.mode_tracks import SURE_LIKENESS, Track
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.meridian.zone import Zone
from diaphragm_fem.report.contents.comparison import FOLLOWED_AGAINST
from diaphragm_fem.report.sheets.designs import RIGHT, short_names
from diaphragm_fem.report.sheets.modes import frequency_axis_vertical, legend_at_foot, moving_handle, name_role
from diaphragm_fem.report.sheets.names import fitted, without_shared_beginning
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import BOLD, GRID, INK, SMALL, SOFT_INK, text_width, zone_colours
from diaphragm_fem.report.words.differences import design_names
from diaphragm_fem.report.words.words import show_hz

DASHES = (0, (2.2, 1.4))
LINE_OF_TEXT = 3.4  # mm
FOOT, HEAD = 41.0, 190.0
FRESH = "not in the designs nearer the baseline"
NAMES_DEPTH = 14.0  # below the panels, down to the legend, mm
ASLANT = ((30, 5.5), (50, 3.8), (90, 0.0))  # degrees, and the least room from name to name, mm


def modes_sheet(sheet: Sheet, comparison: Comparison) -> str:
    """Sheet with the axisymmetric modes through all designs, named at the right."""
    left, width = 24.0, 140.0
    axes = sheet.axes(left, FOOT, width, HEAD - FOOT)
    movers = _draw_tracks(axes, comparison, width)
    _name_tracks(sheet, axes, comparison, left + width + 4)
    _draw_legend(sheet, movers)
    return f"shapes laid {FOLLOWED_AGAINST}"


def _draw_tracks(axes: Axes, comparison: Comparison, width: float) -> dict[Zone, str]:
    """Lines of the tracks in a panel `width` mm wide; returns the zones that lead a mode, and their colours."""
    tracks, count = comparison.tracks[0], len(comparison.designs)
    lowest = min(f for track in tracks for f in track.frequency_hz if f)
    frequency_axis_vertical(axes, 0.85 * lowest, 1.03 * comparison.up_to_hz)
    axes.set_xlim(-0.35, count - 0.65)
    _name_designs(axes, comparison, width / count)
    axes.get_xticklabels()[comparison.baseline].set_weight("bold")
    axes.tick_params(axis="x", length=0)
    axes.grid(False, axis="x")
    for d in range(count):
        axes.axvline(d, color=SOFT_INK if d == comparison.baseline else GRID, lw=0.8, zorder=0)
    movers: dict[Zone, str] = {}
    for track in tracks:
        zone = leading_zone(comparison, track)
        movers[zone] = zone_colours(comparison.designs[track.first].design.zones)[zone]
        _draw_track(axes, track, movers[zone], comparison.baseline)
    return movers


def _name_designs(axes: Axes, comparison: Comparison, room: float) -> None:
    """Names of the designs under their lines, `room` mm apart: aslant only where that leaves more of them."""
    whole = design_names(comparison)
    for names in (whole, without_shared_beginning(whole)):
        if max(BOLD * text_width(name, SMALL) for name in names) <= room - 1.5:
            axes.set_xticks(range(len(names)), names, fontsize=SMALL)
            return
    angle = next(angle for angle, least in ASLANT if room >= least)
    length = NAMES_DEPTH / np.sin(np.radians(angle))
    if room - 1.5 >= length:
        axes.set_xticks(range(len(whole)), short_names(comparison, room - 1.5, SMALL), fontsize=SMALL)
        return
    names = short_names(comparison, length, SMALL)
    axes.set_xticks(range(len(names)), names, fontsize=SMALL, rotation=angle, ha="right", va="center",
                    rotation_mode="anchor")  # fmt: skip


def leading_zone(comparison: Comparison, track: Track) -> Zone:
    """The zone with most kinetic energy where the mode was first seen."""
    modes = comparison.evaluations[track.first].modes[track.order]
    place = track.index[track.first]
    assert place is not None  # a track begins where its mode was seen
    return modes.zones[int(modes.kinetic_share[place].argmax())]


def _draw_track(axes: Axes, track: Track, colour: str, baseline: int) -> None:
    """Solid where the shape is the same, dashed where it is less alike; an open mark where a track begins anew."""
    seen = [d for d, f in enumerate(track.frequency_hz) if f]
    for a, b in pairwise(seen):
        later = b if a >= baseline else a  # likeness is kept at the design farther from the baseline
        likeness = track.likeness[later]
        sure = likeness is not None and likeness >= SURE_LIKENESS
        axes.plot([a, b], [track.frequency_hz[a], track.frequency_hz[b]], color=colour, lw=1.5 if sure else 1.0,
                  ls="solid" if sure and b == a + 1 else DASHES, zorder=3)  # fmt: skip
    for d in seen:
        inside = "white" if d == track.first and d != baseline else colour
        axes.plot(d, track.frequency_hz[d], "o", ms=3.8, mfc=inside, mec=colour, mew=0.9, zorder=4)


def _name_tracks(sheet: Sheet, axes: Axes, comparison: Comparison, left: float) -> None:
    """Numbers in the last design's list and words of each mode at its height, spread so that no two meet."""
    last = len(comparison.designs) - 1
    found = sorted((float(f), track) for track in comparison.tracks[0] if (f := track.frequency_hz[last]))
    low, high = np.log(axes.get_ylim())
    wanted = [FOOT + (np.log(f) - low) / (high - low) * (HEAD - FOOT) for f, _ in found]
    heights = _spread(wanted, LINE_OF_TEXT, HEAD)
    sheet.text(left + 4, HEAD + 3, f"in {short_names(comparison, 60, SMALL)[last]}", size=SMALL, color=SOFT_INK)
    numbers = [_number_told(track, last, comparison.baseline) for _, track in found]
    behind = left + 5.0 + max((BOLD * text_width(number, SMALL) for number in numbers), default=0.0)
    for (f, track), number, at, height in zip(found, numbers, wanted, heights, strict=True):
        sheet.line(left - 12, at, left - 6, at, colour=GRID)
        sheet.line(left - 6, at, left + 2, height, colour=GRID)
        place = track.index[last]
        assert place is not None  # it has a frequency there
        label = comparison.evaluations[last].modes[0].labels[place]
        sheet.text(left + 3, height - 0.9, number, size=SMALL, weight="bold")
        sheet.text(behind, height - 0.9, fitted(f"{show_hz(f)}  {label}", RIGHT - behind, SMALL), size=SMALL, color=INK)


def _number_told(track: Track, last: int, baseline: int) -> str:
    """ "7", "7 (5)" where it is the baseline's fifth, "7 (new)"."""
    place, was = track.index[last], track.index[baseline]
    assert place is not None  # it has a frequency there
    moved = f" ({was + 1})" if was is not None and was != place else " (new)" if was is None else ""
    return f"{place + 1}{moved}"


def _spread(wanted: Sequence[float], gap: float, top: float) -> Array:
    """Heights near the wanted ones (rising), at least `gap` apart and none above `top`."""
    steps = gap * np.arange(len(wanted))
    return np.minimum(np.maximum.accumulate(wanted - steps), top - gap * (len(wanted) - 1)) + steps


def _draw_legend(sheet: Sheet, movers: Mapping[Zone, str]) -> None:
    handles: dict[str, Line2D] = {}
    for zone, colour in movers.items():
        words = name_role(zone, list(movers))
        handles.setdefault(words, Line2D([], [], color=colour, lw=2.2, label=words))
    lines = [
        moving_handle(),
        *handles.values(),
        Line2D([], [], color=SOFT_INK, lw=1.5, label=f"same shape (MAC ≥ {SURE_LIKENESS:g})"),
        Line2D([], [], color=SOFT_INK, lw=1.0, ls=DASHES, label=f"changed (MAC ≥ {LEAST_LIKENESS:g})"),
        Line2D([], [], ls="none", marker="o", ms=3.8, mfc="white", mec=SOFT_INK, label=FRESH),
    ]
    legend_at_foot(sheet, lines)
