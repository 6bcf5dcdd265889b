"""Figures as they are printed: name, value, and why there is none or what nearly changed it."""

from collections.abc import Callable, Sequence
from math import log, log1p

from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.analysis.figures.zones import NearMiss
from diaphragm_fem.answer.change.named_levers import jumps, sent
from diaphragm_fem.answer.change.sensitivity import Sensitivities, Sensitivity
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.words import NONE, digits, join_words, show_bound, show_db, show_hz, signed_digits

HEADLINES = (
    "fundamental_hz", "moving_mass_kg", "low_area_m2", "held_volume_m3", "decoupling_hz", "handed_over_hz",
    "departure_hz", "break_up_mode_hz", "even_band_octaves", "shelf_band_octaves", "highest_peak_db",
    "deepest_hole_db",
)  # fmt: skip
"""The figures that a designer asks for first."""
MARKS = {
    "fundamental_hz": "resonance", "decoupling_hz": "lets go", "handed_over_hz": "handed over",
    "departure_hz": "departure", "break_up_mode_hz": "break-up mode",
}  # fmt: skip
"""The frequencies that are marked in curves, and words short enough to stand there."""
EXTREMES = ("highest_peak_db", "deepest_hole_db", "shared_null_db")
SIGNED_LEVELS = ("break_up_peak_db", "shelf_1_db", "shelf_2_db", "highest_peak_db", "deepest_hole_db", "area_ratio_db")


def figure_lines(figures: Figures, *, all_of_them: bool = True) -> list[tuple[str, str, str]]:
    """Figures as printed: name, value ("none" where it does not exist), and why it does not, or what nearly changed it.

    Without `all_of_them` the headlines alone, those that the design has; of its bands that by which it is judged.
    """
    lines = []
    for name in figures.table():
        text = figure_text(figures, name)
        idle = text == NONE or (name.startswith("shelf") and not figures.steps)
        if not all_of_them and (name not in HEADLINES or idle):
            continue
        lines.append((naming(name).words, text, figures.reason(name) or near_words(figures, name)))
    return lines


def figure_text(figures: Figures, name: str) -> str:
    """A figure's value with its unit: "5.6 octaves", "≥ 5.6 octaves" where the range ends first, "none"."""
    return value_text(name, figures.table()[name], at_least=figures.at_least(name))


def value_text(name: str, value: float | None, *, at_least: bool = False) -> str:
    """The same of any value of a figure; a peak, hole or null of 0 dB is none."""
    if value is None or is_no_extreme(name, value):
        return NONE
    stem = name.partition(":")[0].removeprefix("loaded_")
    if stem.endswith("_hz"):
        return show_hz(value)
    if stem in SIGNED_LEVELS:
        return show_db(value)
    return ("≥ " if at_least else "") + naming(name).text(value, 2 if stem.endswith("octaves") else 3)


def is_no_extreme(name: str, value: float) -> bool:
    """Whether a peak, hole or null of 0 dB stands for none at all."""
    return value == 0 and name.partition(":")[0].removeprefix("loaded_") in EXTREMES


def bound_text(name: str, error: float) -> str:
    """What a relative error of a figure stays within: "0.12 %", of an amplitude in dB, as the figure is."""
    if not name.endswith("_db"):
        return show_bound(error)
    return f"{digits(max(20 * log1p(error) / log(10), 1e-3), 2)} dB"


def near_words(figures: Figures, name: str) -> str:
    """What nearly passed a figure's threshold, or which zone it belongs to."""
    stem, _, part = name.partition(":")
    if stem == "departure_hz":
        first = figures.first_to_leave
        if not part:
            return "" if first is None else f"the {first.zone}"
        near = next(one.near_misses for one in figures.departures if one.zone == part)
        return _misses(near, lambda miss: show_db(miss.value))
    if stem == "handed_over_hz" and part:
        step = next(one for one in figures.steps if one.name == part)
        if step.near_misses:
            return _misses(step.near_misses, lambda miss: f"share {miss.value:.2f}")
        if (largest := step.largest_after) is None:
            return "falls steadily"
        return f"then at most {largest.value:.2f}, {show_hz(largest.frequency_hz)}"
    if stem == "decoupling_hz" and part:
        step = next(one for one in figures.steps if one.name == part)
        return _misses(step.near_decoupling, lambda miss: f"share {miss.value:.2f}")
    if stem == "break_up_mode_hz":
        mode = figures.break_up_mode
        near = tuple(miss for miss in mode.near_misses if miss.frequency_hz != mode.frequency_hz)
        return _misses(near, lambda miss: f"{100 * miss.value:.0f} % of its strain there")
    return ""


def _misses(near: Sequence[NearMiss], words: Callable[[NearMiss], str]) -> str:
    told = ", ".join(f"{show_hz(miss.frequency_hz)} ({words(miss)})" for miss in near[:3])
    return f"nearly at {told}" if told else ""


THEN_NONE = "then none"
A_JUMP = "* a jump: another mode, peak, hole or null decides then, and a tenth less does not do the opposite"
OVER_BAND = "Level, spread and efficiency over the band of the design as it is"
OF_BOTH = (
    "Level, spread and what plays are of both sections, by the octaves beside their crossover, all else of the first"
)
ONE_BY_ONE = (
    "A small step of one number each: a study finds what lies further, study_of_NAME.toml where examine leaves one"
)
DEEP_NULL = 40.0  # dB: a deeper one hangs on less than a hundredth of what cancels, 0.09 dB of either part
JUMP = "*"  # behind the change of a figure that is then another mode's, peak's, hole's or null's
FAINT = 0.01  # of the largest change of a figure: less is not told apart from nothing


def moved_words(row: Sensitivity, figure: str) -> str:
    """ "−1010 Hz", "+0.57 octaves": what the step that a row has taken, whichever way that was, does to a figure; "then
    none" where there is none then."""
    moved = row.moved(figure)
    if figure in row.lost or moved is None:
        return THEN_NONE
    # of an efficiency of 4.8 %, −0.43 % would be next to nothing
    return _signed(moved, figure).replace(" %", " percentage points")


def step_words(row: Sensitivity) -> str:
    """ "−10 % of wall thickness": the step that a row has taken."""
    return f"{100 * (row.taken_at or 0.0):+.0f} % of {row.lever.words}".replace("-", "−", 1)


def _signed(change: float, figure: str) -> str:
    name = naming(figure.removeprefix("loaded_"))
    return f"{signed_digits(change / name.factor, 2)} {name.unit}".strip()


def bare_change(found: Sensitivities, row: Sensitivity, figure: str, largest: float) -> str:
    """What a tenth more of a lever does, without the unit, which stands at the head of its column; a jump has a mark,
    what is lost words; "" where it cannot be told, and where it is less than a hundredth of the `largest` change."""
    change = row.change.get(figure)
    if figure in row.lost:
        return THEN_NONE
    if not change or abs(change) < FAINT * largest:
        return ""
    words = _signed(change, figure).removesuffix(naming(figure.removeprefix("loaded_")).unit).strip()
    return words + JUMP * jumps(found, row, figure)


CHANGED_FIGURES = (
    "fundamental_hz", "low_area_m2", "decoupling_hz", "handed_over_hz", "departure_hz", "break_up_mode_hz",
    "even_band_octaves", "shelf_band_octaves", "highest_peak_db", "deepest_hole_db",
)  # fmt: skip
CHANGED_OF_A_DRIVER = (
    "median_level_db", "level_spread_db", "plays_octaves", "worst_null_db", "loaded_fundamental_hz",
    "loaded_low_area_m2", "loaded_decoupling_hz", "loaded_departure_hz", "loaded_break_up_mode_hz", "efficiency",
    "excursion_m",
)  # fmt: skip


def changed_figures(found: Sensitivities) -> list[str]:
    """The figures whose changes are told, those that the design has and that some lever changes; not the depth of a
    null that is deeper than can be told: of one of 73 dB most tenths changed 10 to 27 dB."""
    moved = {name for row in found.rows for name, change in row.change.items() if change}
    asked = CHANGED_OF_A_DRIVER if found.loaded else CHANGED_FIGURES
    shown = [name for name in (sent(found, one) for one in asked) if found.base.get(name) is not None and name in moved]
    shown = [name for name in shown if name != "worst_null_db" or (found.base[name] or 0.0) <= DEEP_NULL]
    stepped = any(name.startswith("decoupling") for name in shown)
    return [name for name in shown if stepped or not name.startswith("shelf")]


def changed_in(evaluation: Answer) -> str:
    """In which state the changes are told, for a heading: "", " with everything on", " in vacuum"."""
    if evaluation.driver is None or evaluation.sensitivities is None:
        return ""
    return " with everything on" if evaluation.sensitivities.loaded else " in vacuum"


def largest_change(found: Sensitivities, figure: str) -> float:
    """Size of the largest change of a figure that is no jump, of all where each is one."""
    steady = [row for row in found.rows if not jumps(found, row, figure)]
    sizes = ([abs(row.change.get(figure) or 0.0) for row in rows] for rows in (steady, found.rows))
    return next((max(some) for some in sizes if any(some)), 0.0)


def change_lines(evaluation: Answer) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Headings and rows of the table "change per +10 %"; figures that the design has none of are left out."""
    found = evaluation.sensitivities
    if found is None:
        return (), []
    shown = changed_figures(found)
    largest = {name: largest_change(found, name) for name in shown}
    rows = [
        (row.lever.key, *(bare_change(found, row, name, largest[name]) or "–" for name in shown)) for row in found.rows
    ]
    return ("per +10 % of", *(changed_label(name) for name in shown)), rows


def change_notes(evaluation: Answer) -> list[str]:
    """What is said below that table: over which band levels are, what the mark of a jump means, of what no tenth
    more can be built, which "per +10 %" would not say, of what neither, whose row would look like no effect."""
    found = evaluation.sensitivities
    shown = changed_figures(found) if found is not None else []
    levels = [OVER_BAND] * ("median_level_db" in shown) + [OF_BOTH] * ("sum_median_level_db" in shown)
    rows = found.rows if found is not None else ()
    less = [row.lever.key for row in rows if (row.taken_at or 0.0) < 0]
    neither = [row.lever.key for row in rows if row.taken_at is None]
    told = [f"More of {join_words(less)} is refused: a tenth less was solved, its changes turned about"] if less else []
    told += [f"Neither more nor less of {join_words(neither)} alone is accepted: no numbers"] if neither else []
    far = [step_words(one) for row in rows for one in (row, row.back) if one is not None and one.touches]
    told += [f"Left out of advice, since the diaphragm would touch its plug: {join_words(far)}"] if far else []
    marked = any(cell.endswith(JUMP) for row in change_lines(evaluation)[1] for cell in row[1:])
    return levels + [A_JUMP] * marked + told + [ONE_BY_ONE] * (found is not None)


def changed_label(figure: str) -> str:
    """A figure at the head of the table of changes, whose title says the state."""
    return naming(figure.removeprefix("loaded_")).label
