"""Force, stiffness, area and equivalent air volume over stroke; modes over stroke; harmonics over frequency."""

from collections.abc import Sequence
from string import ascii_lowercase

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.ticker import NullLocator

from diaphragm_fem.answer.stroke.limits import Limit
from diaphragm_fem.answer.stroke.stroke import StrokeAnswer
from diaphragm_fem.arrays import Array
from diaphragm_fem.report.contents.stroke import area_slope, drive_level, is_unstable, show_stiffness, show_stroke
from diaphragm_fem.report.sheets.modes import name_order
from diaphragm_fem.report.sheets.names import folded_to
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import (
    ALARM,
    BOLD,
    CYCLE,
    DASHED,
    INK,
    SMALL,
    SOFT_INK,
    TEXT,
    frequency_axis,
    log_axis,
    text_width,
)
from diaphragm_fem.report.words.words import digits, show_area, show_hz, show_share, signed_digits

LINEAR = "#9aa5ae"  # of what stays as at rest
MARKERS = ("o", "s", "^", "D", "v")
DOTTED = (0, (1, 2))
LEAST_SHOWN = 1e-5  # harmonics below a thousandth of a per cent
NEAR_TICK = 0.04  # of the axis: a line of the grid as near its end looks like one of the curves
LOWEST = 34.0  # mm above the page's edge, where the column of words ends
BY_ITSELF = ("a snap", "folds", "rocking by itself", "the last state")  # what the part does, not what its walls bear


def stroke_sheet(sheet: Sheet, answer: StrokeAnswer) -> str:
    """Sheet with force, stiffness, area and equivalent air volume over stroke, and the figures in words."""
    path = answer.path
    stroke, rest = 1e3 * path.stroke, path.rest
    remark = f"{len(path.stroke)} states of balance; grey: as at rest; letters: what ends the stroke"
    panels = [sheet.axes(left, bottom, 78.0, 70.0) for bottom in (116.0, 31.0) for left in (24.0, 122.0)]
    linear, volume = answer.rest_stiffness * (path.stroke - path.stroke[rest]), 1e6 * path.compliance_volume
    curves = (
        ("force on the coil, N", path.force, path.force[rest] + linear),
        ("stiffness, N/mm", path.stiffness / 1e3, np.full_like(stroke, answer.rest_stiffness / 1e3)),
        ("area, cm²", 1e4 * path.total_area, np.full_like(stroke, 1e4 * answer.rest_area)),
        ("equivalent air volume, cm³", volume, np.full_like(stroke, volume[rest])),
    )
    for axes, (label, values, as_at_rest) in zip(panels, curves, strict=True):
        axes.plot(stroke, as_at_rest, color=LINEAR, lw=0.9)
        axes.plot(stroke, values, color=INK, lw=1.6, zorder=3)
        axes.plot([stroke[rest]], [values[rest]], "o", ms=4, color=INK)
        axes.set_ylabel(label)
        axes.set_xlim(stroke[0], stroke[-1])
        _mark_limits(axes, answer)
        _trim(axes, from_zero=axes is not panels[0])
    _letter_limits(panels[0], answer)
    for axes in panels[2:]:
        axes.set_xlabel("stroke, mm")
    _words_column(sheet, answer)
    return remark


def _trim(axes: Axes, *, from_zero: bool) -> None:
    """Room about the curves, zero in sight where asked; an axis ends on its first tick where that is near."""
    low, high = axes.get_ylim()
    least, most = (float(f([line.get_ydata() for line in axes.lines[:2]])) for f in (np.min, np.max))
    if from_zero:
        low, high = min(0.0, low if least < 0 else 0.0), max(high, most + 0.06 * (most - min(0.0, least)))
    ticks = [tick for tick in axes.get_yticks() if low < tick < min(least, low + NEAR_TICK * (high - low))]
    axes.set_ylim(max(ticks, default=low), high)


def shown_limits(answer: StrokeAnswer) -> list[tuple[str, Limit]]:
    """What ends the stroke, nearest first, each with a letter."""
    return list(zip(ascii_lowercase, (limit for limit in answer.limits if limit.ends), strict=False))


def _places(answer: StrokeAnswer) -> list[tuple[float, str, Limit]]:
    """Strokes in mm of limits, by rising stroke."""
    both = [(x, letter, limit) for letter, limit in shown_limits(answer) for x in (limit.rear, limit.front)]
    return sorted(((1e3 * x, letter, limit) for x, letter, limit in both if x is not None), key=lambda found: found[:2])


def _mark_limits(axes: Axes, answer: StrokeAnswer) -> None:
    """Vertical lines where the stroke ends: broken and red where the part snaps, wrinkles or has no balance, dotted
    where a wall or its law does not bear more."""
    for stroke, _, limit in _places(answer):
        itself = limit.what.startswith(BY_ITSELF)
        look = {"color": ALARM, "lw": 0.9, "ls": DASHED} if itself else {"color": SOFT_INK, "lw": 0.8, "ls": DOTTED}
        axes.axvline(stroke, zorder=2, **look)


def _letter_limits(axes: Axes, answer: StrokeAnswer) -> None:
    """Letters above the lines; those too near each other share a place."""
    groups: list[list[tuple[float, str]]] = []
    reach = 0.05 * 1e3 * (answer.path.stroke[-1] - answer.path.stroke[0])
    for stroke, letter, _ in _places(answer):
        if groups and stroke - groups[-1][0][0] < reach:
            groups[-1].append((stroke, letter))
        else:
            groups.append([(stroke, letter)])
    for group in groups:
        middle = (group[0][0] + group[-1][0]) / 2
        axes.text(middle, 1.01, " ".join(letter for _, letter in group), size=SMALL, color=SOFT_INK, ha="center",
                  va="bottom", transform=axes.get_xaxis_transform())  # fmt: skip


def _words_column(sheet: Sheet, answer: StrokeAnswer) -> None:
    left, right, y = 212.0, 287.0, 192.0
    for name, words in _figure_lines(answer):
        if not words:
            y = _heading(sheet, left, right, y, name)
            continue
        sheet.text(left, y, name, size=SMALL, color=SOFT_INK)
        sheet.text(right, y, words, size=SMALL, ha="right", weight="bold")
        y -= 4.5
    limits = shown_limits(answer)
    y = _heading(sheet, left, right, y, "What ends the stroke" if limits else "Nothing met that ends the stroke")
    for k, (letter, limit) in enumerate(limits):
        lines = folded_to(limit.what, right - left - 4.0, SMALL)
        if y - 3.6 * len(lines) - 4.5 < LOWEST and k < len(limits) - 1:
            sheet.text(left, y, f"and {len(limits) - k} more in the tables", size=SMALL, color=SOFT_INK)
            break
        sheet.text(left, y, letter, size=SMALL, weight="bold")
        y = sheet.lines(left + 4.0, y, lines, 3.6, size=SMALL, color=SOFT_INK)
        met = _both_ways(limit.rear, limit.front)
        together = text_width(f"{lines[-1]}  ", SMALL) + BOLD * text_width(met, SMALL)
        y += 3.6 * (together < right - left - 4.0)  # beside the last words where these leave room
        sheet.text(right, y, met, size=SMALL, ha="right", weight="bold")
        y -= 4.5


def _both_ways(rear: float | None, front: float | None) -> str:
    """Where something is met on the way to the rear and to the front, "not met" where on neither."""
    return ", ".join(show_stroke(stroke) for stroke in (rear, front) if stroke is not None) or "not met"


def _heading(sheet: Sheet, left: float, right: float, y: float, words: str) -> float:
    """A heading over a line; returns the height of what follows."""
    sheet.text(left, y - 1.6, words, size=TEXT, weight="bold")
    sheet.line(left, y - 3.2, right, y - 3.2)
    return y - 7.2


def _figure_lines(answer: StrokeAnswer) -> list[tuple[str, str]]:
    """Name and value, or a heading and an empty text."""
    lines = [
        ("At rest", ""),
        ("coil", show_stroke(answer.path.stroke[answer.path.rest])),
        ("stiffness", show_stiffness(answer.rest_stiffness)),
        ("area", show_area(answer.rest_area)),
        ("area per mm of stroke", f"{signed_digits(area_slope(answer), 2)} %"),
    ]
    for quantity in dict.fromkeys(change.quantity for change in answer.changes):
        lines.append((f"{quantity.capitalize()} changed by", ""))
        for change in answer.changes:
            if change.quantity == quantity:
                lines.append((show_share(change.share), _both_ways(change.rear, change.front)))
    lines.append(("Stability", ""))
    lines += [("snaps at", show_stroke(stroke)) for stroke in answer.snaps if stroke is not None]
    for wrinkle in answer.wrinkles:
        if wrinkle is not None:
            lines.append((f"m = {wrinkle.order} grows from", show_stroke(wrinkle.stroke)))
    if not is_unstable(answer):
        lines.append(("snap, wrinkles", "none found"))
    if answer.rocking is not None:
        lines.append(("rocking fed at", show_hz(2 * answer.rocking.frequency_hz)))
        lines.append(("above an amplitude of", f"{digits(1e3 * answer.rocking.threshold, 2)} mm"))
    worst = max(answer.strength.worst_by_zone, key=lambda demand: demand.value)
    lines.append(("Largest fibre strain", ""))
    lines += [(worst.place.zone, show_share(worst.value)), ("at", show_stroke(worst.stroke))]
    for reached in answer.strength.reached:
        lines.append((f"{reached.material}, {reached.quantity} used", f"{100 * reached.used:.0f} %"))
    return lines


def modes_sheet(sheet: Sheet, answer: StrokeAnswer) -> str:
    """Sheet with the modes of every order over stroke, one panel per order."""
    orders = [m for m in answer.plan.orders if any(at.count(m) for at in answer.modes)]
    stroke = [1e3 * float(answer.path.stroke[at.index]) for at in answer.modes]
    remark = f"at {len(stroke)} strokes, up to {show_hz(answer.plan.modes_up_to_hz)}, joined by place"
    remark += "; upright: where it ends" if shown_limits(answer) else ""
    width, edge = 262.0 / len(orders), 0.03 * (stroke[-1] - stroke[0])
    top = answer.plan.modes_up_to_hz
    low = min(at.frequency(m, 0) for at in answer.modes for m in orders if at.count(m))
    for place, m in enumerate(orders):
        axes = sheet.axes(23.0 + place * width, 31.0, width - 14.0, 158.0)
        most = max(at.count(m) for at in answer.modes)
        for k in range(most):
            values = [at.frequency(m, k) for at in answer.modes]
            axes.plot(stroke, values, color=CYCLE[k % len(CYCLE)], marker=MARKERS[k % len(MARKERS)], ms=3.2)
        log_axis(axes, 0.8 * low, 1.05 * top, most=9)
        axes.yaxis.set_minor_locator(NullLocator())
        axes.set_xlim(stroke[0] - edge, stroke[-1] + edge)  # of all strokes, where an order is not stable too
        axes.set_xlabel("stroke, mm")
        axes.set_title(name_order(m), loc="left")
        if place == 0:
            axes.set_ylabel("frequency, Hz")
        _mark_limits(axes, answer)
    return remark


def distortion_sheet(sheet: Sheet, answer: StrokeAnswer) -> str:
    """Sheet with the harmonics of motion and of volume acceleration over the drive frequency, in per cent."""
    found = [x for x in answer.distortion if not x.reason]
    frequency = np.array([x.frequency_hz for x in found])
    panels = [sheet.axes(24.0, bottom, 190.0, 74.0) for bottom in (114.0, 30.0)]
    shares = [[[getattr(x, of)(n) for x in found] for n in (2, 3, 4)] for of in ("of_motion", "of_acceleration")]
    for axes, values, name in zip(panels, shares, ("motion", "volume acceleration"), strict=True):
        _harmonics(axes, frequency, values, f"harmonics of {name}, %")
    handles = [
        Line2D([], [], color=CYCLE[k], marker=MARKERS[k], ms=3.5, label=f"harmonic {n}")
        for k, n in enumerate((2, 3, 4))
    ]
    sheet.legend(220, 192, handles)
    told = (
        "Harmonics over the first. Those of the motion",
        "come from the bent force over stroke, those of",
        "the volume acceleration, which a small source",
        "radiates, from the changing area as well. Found",
        "at the marks; the lines only join them, and where",
        "a harmonic meets a mode it rises in between.",
    )
    sheet.lines(220.0, 160.0, told, 3.9, size=SMALL, color=SOFT_INK)
    factor = "over stroke" if answer.plan.motor else "constant"
    return f"at an amplitude of {drive_level(answer)}; force factor {factor}"


def _harmonics(axes: Axes, frequency: Array, values: Sequence[Sequence[float]], label: str) -> None:
    shown = np.where(np.less(values, LEAST_SHOWN), np.nan, values)
    for k, row in enumerate(shown):
        axes.plot(frequency, 100 * row, color=CYCLE[k], marker=MARKERS[k], ms=3.5)
    drawn = shown[np.isfinite(shown)] if np.isfinite(shown).any() else np.array([LEAST_SHOWN])
    log_axis(axes, 100 * float(drawn.min()) / 1.5, 100 * float(drawn.max()) * 1.5, most=7)
    if not np.isfinite(shown).any():
        axes.text(0.5, 0.6, f"all below {100 * LEAST_SHOWN:g} %", ha="center", transform=axes.transAxes)
    axes.yaxis.set_minor_locator(NullLocator())
    if len(frequency) > 1:
        frequency_axis(axes, float(frequency[0]) / 1.1, float(frequency[-1]) * 1.1)
    else:
        axes.set_xlim(frequency[0] / 2, frequency[0] * 2)
        axes.set_xlabel("frequency, Hz")
    axes.set_ylabel(label)
