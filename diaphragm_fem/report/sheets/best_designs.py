"""Sheet of a study's morning: response per newton and area of the best as drawn, the base design beside them."""

from collections.abc import Iterator

import numpy as np
from matplotlib.axes import Axes

from diaphragm_fem.report.sheets.morning_marks import BASE_LINE, tell_inputs
from diaphragm_fem.report.sheets.names import folded_to
from diaphragm_fem.report.sheets.scatter import area_axis
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import CYCLE, INK, PATCH, SMALL, SOFT_INK, frequency_axis, note
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.words import printed, show_hz
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.beside import Beside
from diaphragm_fem.study.morning.page import MOST_CURVES

DASHES = ("solid", (0, (5, 1.5)), (0, (1.5, 1.2)), (0, (5, 1.5, 1.2, 1.5)), (0, (8, 2)), (0, (3, 3)))
MOST_INPUTS = 4  # in the order of the study, those in which the best differ most
ALIKE = "one line for all: what was varied lies around the part and changes nothing in vacuum"
LEVELS = (-26.0, 22.0)  # dB about the plateau
AREA_REACH = 10**1.5  # 30 dB either way of the area at rest


def best_designs_sheet(sheet: Sheet, morning: Morning) -> str:
    """Above the response per newton in dB against each design's own plateau, below the effective area."""
    upper, lower = sheet.axes(25, 118, 196, 76), sheet.axes(25, 32, 196, 76)
    areas, levels = [], []
    for place, one, look in _drawn(morning):
        if (level := response_db(one)) is not None:
            upper.plot(one.found.curves["frequency_hz"], level, **look)
            levels.append(level)
            _mark_near_misses(upper, morning, place, one, level, str(look["color"]))
        areas.append(1e4 * np.abs(one.found.curves["area_m2"]))
        lower.plot(one.found.curves["frequency_hz"], areas[-1], **look)
    for axes in (upper, lower):
        frequency_axis(axes, *_span(morning), label=axes is lower)
    upper.set_ylim(*LEVELS)
    upper.set_ylabel("response per newton, dB to its plateau")
    area_axis(lower, np.concatenate(areas))
    at_rest = [area[0] for area in areas]
    low, high = lower.get_ylim()
    lower.set_ylim(max(low, min(at_rest) / AREA_REACH), min(high, max(at_rest) * AREA_REACH))
    if len(areas) > 1 and all(len(area) == len(areas[0]) and np.allclose(area, areas[0]) for area in areas):
        note(upper, ALIKE, (0.0, 1.0), (3, -9), "axes fraction", color=SOFT_INK, bbox=PATCH, zorder=15)
    _column(sheet, morning)
    tell_inputs(sheet, morning)
    return "in vacuum; volume acceleration per newton, 0 dB: low area over mass" if levels else "in vacuum"


def response_db(one: Beside) -> np.ndarray | None:
    """Level (F,) of the response per newton against low area over moving mass; None where either is missing."""
    plateau, response = one.figure("area_per_mass_m2_per_kg"), one.found.curves.get("response_m2_per_kg")
    if response is None or not plateau > 0:
        return None
    return np.asarray(20 * np.log10(np.maximum(np.abs(response), 1e-300) / plateau))


def _span(morning: Morning) -> tuple[float, float]:
    """From a third of the lowest fundamental to the top."""
    frequency = morning.best[0].found.curves["frequency_hz"]
    fundamentals = [one.figure("fundamental_hz") for _, one, _ in _drawn(morning)]
    low = min((hz for hz in fundamentals if np.isfinite(hz)), default=3 * frequency[0]) / 3
    return max(float(frequency[0]), low), float(frequency[-1])


def _drawn(morning: Morning) -> Iterator[tuple[int, Beside, dict[str, object]]]:
    """Place, design and look of every line: the base design's first, so that the best lie above it."""
    if "area_m2" in morning.base.found.curves:
        yield 0, morning.base, {**BASE_LINE, "zorder": 3}
    for place, one in enumerate(morning.best[:MOST_CURVES], start=1):
        if "area_m2" in one.found.curves:
            yield place, one, {
                "color": CYCLE[(place - 1) % len(CYCLE)], "ls": DASHES[place - 1], "lw": 1.8 if place == 1 else 1.1,
                "zorder": 10 - place,
            }  # fmt: skip


def _mark_near_misses(axes: Axes, morning: Morning, place: int, one: Beside, level: np.ndarray, colour: str) -> None:
    """A ring where a figure of the best hangs on a threshold, but for those with everything on, of another curve."""
    found = morning.near_misses[place - 1] if place else ()
    for near in (one for one in found if not one.figure.startswith("loaded_")):
        height = np.interp(np.log(near.frequency_hz), np.log(one.found.curves["frequency_hz"]), level)
        axes.plot([near.frequency_hz], [height], "o", ms=8, mfc="none", mec=colour, mew=1.0, zorder=12)


def _column(sheet: Sheet, morning: Morning) -> None:
    """Beside the curves: each line's look, its amounts, and what it may owe its place to."""
    top, varying = 192.0, [column.name for column in morning.results.varying]
    unlike = sorted(varying, key=lambda name: -len({one.amounts.get(name) for one in morning.best}))[:MOST_INPUTS]
    inputs = [name for name in varying if name in unlike]
    for place, one, look in _drawn(morning):
        head = f"{place}  case {morning.results.numbers[one.case]}" if place else "base design"
        sheet.line(226, top + 1, 236, top + 1, colour=str(look["color"]), width=1.4, ls=look["ls"])
        sheet.text(238, top, head, size=SMALL, weight="bold", color=INK)
        told = [f"{name.replace('_', ' ')} {one.amounts[name]}" for name in inputs if name in one.amounts]
        near = morning.near_misses[place - 1] if place else ()
        told += [f"○ {naming(n.figure).words}: {n.zone} {n.value:.3g} at {show_hz(n.frequency_hz)}" for n in near]
        for line in told:
            for words in folded_to(printed(line), 287.0 - 226.0, SMALL):
                top -= 4.0
                sheet.text(226, top, words, size=SMALL, color=SOFT_INK if line[0] != "○" else INK)
        top -= 7.0
