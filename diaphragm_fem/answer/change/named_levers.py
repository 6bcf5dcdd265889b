"""The levers that a verdict names: those that move most what ends a design's band, which way of each helps, and whether
a figure is then still that of the same mode, peak or hole."""

from collections.abc import Iterable, Mapping
from math import log, log1p

from diaphragm_fem.answer.better import better, times_told
from diaphragm_fem.answer.change.levers import BY_ZONES, Lever
from diaphragm_fem.answer.change.sensitivity import Sensitivities, Sensitivity

LEVELS = {"median_level_db": "level_spread_db", "level_spread_db": "median_level_db"}
"""Of a driver's level what advice is on, and the other that this may cost."""
NAMED, WEAK = 3, 0.1  # so many; one with less than this of the strongest one's change is not
KEPT = 2 / 3  # of a jump that holds, by half as long a step again
MODES = ("fundamental_hz", "break_up_mode_hz")
POWERS = {
    "modulus": (-0.1, 0.75), "thickness": (-0.8, 1.8), "length": (-2.2, 1.7), "mass": (-0.6, 0.6), "volume": (-0.6, 0.1)
}  # fmt: skip
"""Of a lever in a frequency, least and most; beyond them it is another's. Of modes, whose squares are stiffness over
mass, a modulus has powers 0 to 1/2 and a thickness −1/2 to 3/2, a width −2 and a height 1, a volume of air −1/2 to 0,
a winding's mass −1/2 and, by the hoop stiffness of its wire, 1/2; the rest is for moduli over frequency, and for
corners that follow the wall. On nine designs with steps, plugs and none, halves of a tenth either way beside it, what
lay within was steady up to 1.54 (a step's thickness), the first jump at 1.76."""
PLACES = {"highest_peak_db": "highest_peak_hz", "deepest_hole_db": "deepest_hole_hz", "worst_null_db": "worst_null_hz"}
"""Of levels that are somewhere: where."""


def named_figures(found: Sensitivities) -> tuple[str, ...]:
    """The figures whose levers a verdict may name: the end and the length of the band that the design is judged by and
    its break-up mode, or of a driver the end of what it plays, level, spread and break-up mode."""
    if found.loaded:
        return end_heard(found), *(sent(found, name) for name in LEVELS), "loaded_break_up_mode_hz"
    band = band_judged(found.base)
    return f"{band}_to_hz", "break_up_mode_hz", f"{band}_octaves"


def end_heard(found: Sensitivities) -> str:
    """What ends what is heard of a driver: the upper end of where it plays or, where no tenth raises that, as where it
    plays to the end of the range, its departure. A V before a plug left its coil at 596 Hz and played up to 5.4 kHz."""
    plays = sent(found, "plays_to_hz")
    return plays if any(gain(row, plays) > 0 for row in found.rows) else "loaded_departure_hz"


def sent(found: Sensitivities, figure: str) -> str:
    """A figure of a driver's level, of two sections that of what both send, where their crossover lies within the
    range: advice on the first alone, without its filter, took the spread of both from 5.4 to 6.1 dB in four rounds."""
    both = f"sum_{figure}"
    return figure if found.base.get(both) is None else both


def band_judged(base: Mapping[str, float | None]) -> str:
    """ "shelf_band", or "even_band" where a design has no steps."""
    stepped = any(name.startswith("decoupling_hz:") for name in base) and base.get("shelf_band_to_hz") is not None
    return "shelf_band" if stepped else "even_band"


def named(found: Sensitivities, figure: str) -> list[Sensitivity]:
    """The rows that move a figure most, strongest first; of a frequency those alone that move the mode, zone or end
    which has it now: another one's place is no gain, since the one that is first still is; of a band's length, and
    of the end of what plays, no jump for the worse. None whose step that helps cannot be had.
    """
    steps = [(_steady(found, row, figure), row) for row in found.strongest(figure) if _had(row, figure)]
    sized = sorted(((_size(step, figure), row) for step, row in steps if step), key=lambda pair: -pair[0])
    strong = [(_brings(found, row, figure), row) for size, row in sized if size > WEAK * sized[0][0]]
    helping = sorted((pair for pair in strong if pair[0] > 0), key=lambda pair: -pair[0])
    return [row for _, row in helping or strong][:NAMED]


def _brings(found: Sensitivities, row: Sensitivity, figure: str) -> float:
    """What the side of a row that helps brings a figure; while less of it is not solved, or throws it, what more takes.
    By that alone what harms by 155 Hz and helps by 69 took one of three places from what helps by 161."""
    helps = as_helps(row, figure)
    brings = gain(helps, figure)
    return _size(row, figure) if not _both_solved(row) or (brings > 0 and throws(found, helps, figure)) else brings


def idle(row: Sensitivity, figure: str) -> bool:
    """Whether a row is known to help a figure neither way."""
    return _both_solved(row) and gain(as_helps(row, figure), figure) <= 0


def _both_solved(row: Sensitivity) -> bool:
    return row.back is not None or (row.taken_at or 0.0) <= 0


def _steady(found: Sensitivities, row: Sensitivity, figure: str) -> Sensitivity | None:
    """The step of a row by which it is ranked: a tenth more or, where that is a jump for the worse, the less that
    helps; None where it has none. On a V just within 3 dB a narrower step moved the end of the shelf band most, and a
    wider one threw that end an octave down; such throws hid what makes the band longer. A band may grow by a jump.
    """
    grows = figure.endswith("plays_to_hz") or not figure.endswith("_hz")
    if not throws(found, row, figure) or (gain(row, figure) > 0 and grows):
        return row
    less = row.back if gain(row, figure) < 0 else None
    return less if less is not None and gain(less, figure) > 0 and not throws(found, less, figure) else None


def _had(row: Sensitivity, figure: str) -> bool:
    if gain(row, figure) >= 0:
        return row.can_be_had
    return row.lever.can_be(-(row.taken_at or 0.0)) if row.back is None else row.back.can_be_had


def gain(row: Sensitivity, figure: str) -> float:
    """How much better a figure gets by the step that a row has taken: worse is negative, nothing known is 0."""
    return better(figure.replace("_to_hz", "_octaves")) * (row.moved(figure) or 0.0)


def as_helps(row: Sensitivity, figure: str) -> Sensitivity:
    """The row of the step that helps: of a tenth less where a tenth more does not and less was solved."""
    return row if row.back is None or gain(row, figure) > 0 else row.back


def to_turn(found: Sensitivities, softer: Iterable[str] = ()) -> list[Lever]:
    """The levers to be solved for a tenth less too: those named for a figure that a tenth more makes worse, the
    strongest of those that make it another's, and where a hand-over fails those of the keys `softer`."""
    turned: set[Lever] = set()
    for figure in named_figures(found):
        worse = [row for row in found.strongest(figure) if jumps(found, row, figure)]
        rows = [*named(found, figure), *[row for row in worse if gain(row, figure) < 0][:NAMED]]
        turned |= {row.lever for row in rows if gain(row, figure) < 0}
    if fails_to_hand_over(found):
        turned |= {row.lever for row in found.rows if row.lever.key in softer}
    unsolved = [row for row in found.rows if (row.taken_at or 0.0) > 0 and row.back is None]
    return [row.lever for row in unsolved if row.lever in turned]


def fails_to_hand_over(found: Sensitivities) -> bool:
    return found.base.get(found.handed_over, 0.0) is None


def handing_over(found: Sensitivities) -> list[Sensitivity]:
    """The steps that make a failing hand-over come about alone: of a tenth, else those of `hands_over`."""
    brings = [one for one in steps_had(found) if found.handed_over in one.gained]
    return brings or list(found.hands_over)


def steps_had(found: Sensitivities) -> list[Sensitivity]:
    """Every step that was solved, of a tenth more and less, and that can be had; no diameter, nothing of the motor."""
    rows = [row for row in found.rows if not row.lever.of_the_system]
    return [one for row in rows for one in (row, row.back) if one and one.can_be_had]


def best_jump(found: Sensitivities, figure: str) -> Sensitivity | None:
    """The step that betters the end or the length of a band most, where that is by a jump; None where it is not, and
    of a mode, for another one's place is no gain."""
    if figure.removeprefix("loaded_") in MODES:
        return None
    best = max(steps_had(found), key=lambda one: gain(one, figure), default=None)
    return best if best is not None and gain(best, figure) > 0 and jumps(found, best, figure) else None


def holds(found: Sensitivities, step: Sensitivity, half: Sensitivity, more: Sensitivity, figure: str) -> bool:
    """Whether a jump is no accident of its step: `half` of that does no harm that can be told, half as much `more`
    keeps two thirds. A narrower outer flank of a V before a plug moved the end of what plays by 150 Hz at 5 %, past a
    hole by 1.4 kHz at 10 and 1.5 kHz at 15 and 20 %; told were two levers of 180 and 140 Hz."""
    before = found.base.get(figure)
    if before is None or half.change.get(figure) is None or not jumps(found, step, figure):
        return False
    harmless = gain(half, figure) >= 0 or times_told(figure, before + gain(half, figure), before) <= 1
    return harmless and gain(more, figure) >= KEPT * gain(step, figure)


def throws(found: Sensitivities, row: Sensitivity, figure: str) -> bool:
    """Whether a step moves a figure by a jump that is not known to hold."""
    return figure not in row.held and jumps(found, row, figure)


def _size(row: Sensitivity, figure: str) -> float:
    return abs(row.change.get(figure) or 0.0)


def jumps(found: Sensitivities, row: Sensitivity, figure: str) -> bool:
    """Whether a frequency, an end of a band, or the place of a level, moves so far that it is that of another mode,
    peak or hole; also where a peak, hole or null appears or goes.

    Of a V whose hole of 3.1 dB at 1.01 kHz a tenth made one of 2.9 dB, the shelf band grew by 0.73 octaves "downward:
    fundamental -3.2 Hz" of 454 Hz.
    """
    if figure.endswith("_octaves"):
        return any(jumps(found, row, figure.replace("_octaves", end)) for end in ("_from_hz", "_to_hz"))
    end = figure.removeprefix("loaded_")
    if figure in row.jumped:
        return True
    of_modes, prefix = end in MODES, figure.removesuffix(end)
    end = prefix + PLACES.get(end, end)
    if end != figure and row.change.get(figure) and end in row.lost | row.gained:
        return True
    before, change = found.base.get(end), row.change.get(end)
    if not end.endswith("_hz") or not before or not change or row.taken_at is None:
        return False
    after = before + (change if row.taken_at > 0 else -change)
    least, most = POWERS[_sort(row.lever) if of_modes else "length"]
    return not least <= log(after / before) / log1p(row.taken_at) <= most


def _sort(lever: Lever) -> str:
    thick = lever.key.endswith("thickness") or lever.kind == BY_ZONES
    return "thickness" if thick else lever.kind if lever.kind in POWERS else "length"
