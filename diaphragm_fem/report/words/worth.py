"""What a step of a lever is worth: what it brings a figure against what it costs of others, and the order of the steps
that are told."""

from dataclasses import replace
from functools import partial
from math import log2

from diaphragm_fem.answer.better import WITH_AIR, times_told
from diaphragm_fem.answer.change.named_levers import (
    LEVELS,
    as_helps,
    band_judged,
    gain,
    jumps,
    named,
    sent,
    steps_had,
    throws,
)
from diaphragm_fem.answer.change.sensitivity import Sensitivities, Sensitivity
from diaphragm_fem.study.plan.study_of_levers import pays_too_much

COSTS = {
    "shelf_band_octaves": 0.1, "even_band_octaves": 0.1, "highest_peak_db": 0.5, "deepest_hole_db": 0.5,
    "break_up_mode_hz": 0.1, "area_per_mass_m2_per_kg": 0.03,
    "median_level_db": WITH_AIR, "level_spread_db": WITH_AIR, "plays_octaves": 0.1,
    "sum_median_level_db": WITH_AIR, "sum_level_spread_db": WITH_AIR, "sum_plays_octaves": 0.1,
    "loaded_departure_hz": 0.05, "efficiency": 0.07, "excursion_m": 0.12,
}  # fmt: skip
"""From here on it is told what a lever costs; levels where they are told apart: a weaker motor's +0.32 dB in the median
came with +0.43 dB of spread and a tenth less efficiency, of which 7 % are 0.3 dB; 12 % of stroke are 1 dB."""
SHARES = ("area_per_mass_m2_per_kg", "break_up_mode_hz", "loaded_departure_hz", "efficiency", "excursion_m")
"""Of these as a share."""
COSTS_TOLD = 2
SLIGHT = 1 / 3  # of what makes a cost of a level: four steps for an end took 0.8 dB of two sections' spread, untold
HALF_AN_OCTAVE = 0.5  # of what plays, or of a part's band: no level, end or mode is worth it


def ranked(found: Sensitivities, figure: str) -> list[Sensitivity]:
    """The levers named for a figure, the way that helps, the best first. Beside them the strongest step known to keep
    the hand-over, where each of theirs that helps costs it or none is as strong, for they are named by a tenth more;
    a jump among them is no measure of that where others help.

    A ring V's band grew with -10 % of a tread, after which the hand-over came about with +10 %: who followed the
    verdict changed one number to and fro. In its driver -10 % of that tread brought the spread 3.4 dB, where 3.1 dB of
    another number were told to be the strongest.
    """
    rows = [as_helps(row, figure) for row in named(found, figure)]
    if any(gain(row, figure) > 0 for row in rows):
        kept = [row for row in rows if not (loses(found, row) or dear(found, row, figure)) and gain(row, figure) > 0]
        steady = [row for row in kept if not throws(found, row, figure)]
        strongest = max((gain(row, figure) for row in steady or kept), default=0.0)
        known = (
            step for step in steps_had(found)
            if gain(step, figure) > strongest
            and not (loses(found, step) or dear(found, step, figure))
            and not (throws(found, step, figure) or faint(found, step, figure))
        )  # fmt: skip
        rows += sorted(known, key=lambda step: -gain(step, figure))[:1]
    return sorted(rows, key=lambda row: _rank(found, row, figure))


def levels_in_turn(found: Sensitivities) -> list[str]:
    """Median and spread of a driver's level, first what a step brings more: a stepped V of 11 dB of spread was told to
    bring +0.58 dB of median before -0.93 dB of that; four rounds of the first came to 11.2 dB, now to 7.4."""
    names = [sent(found, name) for name in LEVELS]
    brings = {name: max([0.0, *(_kept_gain(found, row, name) for row in ranked(found, name)[:1])]) for name in names}
    return sorted(names, key=lambda name: -brings[name])


def faint(found: Sensitivities, row: Sensitivity, figure: str) -> bool:
    """Whether what a step brings cannot be told apart: of a V +5 Hz of 806 Hz, by a tenth more of all its wall, stood
    first, since it kept the hand-over; three such rounds cost 4 % of its response."""
    before = found.base.get(figure)
    return before is not None and times_told(figure, before + gain(row, figure), before) <= 1


def loses(found: Sensitivities, row: Sensitivity) -> bool:
    return found.handed_over in row.lost


def _rank(found: Sensitivities, row: Sensitivity, figure: str) -> tuple[bool, bool, bool, bool, float]:
    """What helps first, of that what keeps the hand-over, what costs less than it brings, what is no jump, the
    strongest first."""
    brings = _kept_gain(found, row, figure)
    return gain(row, figure) <= 0, loses(found, row), dear(found, row, figure), throws(found, row, figure), -brings


def _kept_gain(found: Sensitivities, row: Sensitivity, figure: str) -> float:
    """What a step brings over the band of before and, of a level, over the other one by which it is judged, too: of a
    dome +10 % of a rear chamber's volume took 0.94 dB of spread off the old band and 0.015 off the new one, by which
    the next verdict tells it, three rounds of it 0.05 dB."""
    then = _then_judged(found, row) if figure in LEVELS else row
    return min(gain(row, figure), gain(then, figure))


def dear(found: Sensitivities, row: Sensitivity, figure: str) -> bool:
    """Whether a step helps a driver over the band of before alone, but a level where it plays longer, shortens a band,
    what plays by half an octave, pays with what the study left ready does not allow, makes a level better by no more
    than the other worse, or raises an end for what is told of level and spread together.

    For -0.83 dB of spread promised over the old band the page of the driver so changed told +0.04. A thicker surround
    raised an end and the beginning by more; the same verdict told a thinner one to be the strongest on that band. Of
    two sections 0.36 dB of median cost 1.3 dB of spread. Of a V with two firm steps 0.12 octaves came with a hole of 12
    dB, where 0.084 were to be had for nothing. Of a V in a recess +950 Hz cost 1.5 dB, and the next verdict asked for
    the step back; +800 Hz cost nothing.
    """
    levels = [sent(found, name) for name in LEVELS]
    then = _then_judged(found, row)
    costs = -sum(gain(then, name) for name in levels)
    other = sent(found, LEVELS.get(figure.removeprefix("sum_"), ""))
    return (
        (figure in row.own_band and gain(then, figure) <= 0)
        or shortens(found, row, figure)
        or stops(found, row)
        or pays_too_much(found, partial(_then_is, found, row))
        or (other != "" and gain(row, figure) + gain(row, other) <= 0)
        or (figure.endswith("_hz") and costs >= SLIGHT * WITH_AIR)
    )


def _then_is(found: Sensitivities, row: Sensitivity, figure: str) -> float | None:
    before, moved = found.base.get(figure), row.moved(figure)
    return None if before is None or moved is None else before + moved


def shortens(found: Sensitivities, row: Sensitivity, figure: str) -> bool:
    """Whether the band whose end a step moves is shorter then, by what can be told: of a dome the strongest on an upper
    end, +170 Hz, raised the beginning by more, round after round."""
    length = figure.replace("_to_hz", "_octaves")
    return length != figure and gain(row, length) < 0 and not faint(found, row, length)


def stops(found: Sensitivities, row: Sensitivity) -> bool:
    """Whether a driver then plays half an octave less, against the median of before or its new one, or a part's band is
    as much shorter: of a V before a horn +140 Hz of the upper end cost 2.2 octaves below it."""
    rows = {sent(found, "plays_octaves"): (row, over_its_band(row)), f"{band_judged(found.base)}_octaves": (row,)}
    return min(gain(one, name) for name, some in rows.items() for one in some) <= -HALF_AN_OCTAVE


def upward(found: Sensitivities, row: Sensitivity, figure: str) -> bool:
    """Whether a step makes a band grow, by its upper end for the most part and by no jump."""
    above = grown(found, row, figure.replace("_octaves", "_to_hz"))
    return above >= gain(row, figure) / 2 > 0 and not jumps(found, row, figure)


def grown(found: Sensitivities, row: Sensitivity, end: str) -> float:
    """By how many octaves a band grows at one of its ends."""
    before, moved = found.base.get(end), row.moved(end)
    if not before or not moved:
        return 0.0
    octaves = log2(1 + moved / before)
    return octaves if end.endswith("_to_hz") else -octaves


def shortened(row: Sensitivity) -> dict[str, float | None]:
    """By how much less a driver plays against the median that it then has, where that is more than against the old
    one. A slot moved outward brought 0.8 dB of median, and what plays ended at a dip at 1.39 instead of at 5.83 kHz."""
    name = "plays_octaves"
    worse = min(0.0, gain(row, name)) - gain(over_its_band(row), name)
    return {name: row.own_band.get(name)} if worse >= COSTS[name] else {}


def longer(found: Sensitivities, row: Sensitivity) -> bool:
    """Whether a driver then plays on at its upper end, by as much as is told where it plays less. Its beginning is
    another matter: +10 % of a rear chamber, 0.12 octaves more and 0.013 of them there, took 0.95 dB of spread off the
    old band and 0.01 off the new one."""
    return grown(found, row, sent(found, "plays_to_hz")) >= COSTS["plays_octaves"]


def _then_judged(found: Sensitivities, row: Sensitivity) -> Sensitivity:
    """The row with a driver's level, and what it plays, over the band by which a step is judged besides the old one:
    the new one, but its level not where the driver plays longer, which is no fault of that.

    Of a silk dome of 52 mm that plays to 3.29 kHz +10 % of its height took 1.3 dB off the spread there and added 0.35
    octaves, over which together it is 0.5 dB more: it was not told, and four rounds gained 2.9 dB of twice the spread
    and the median, where the best of 60 random cases gained 6.1.
    """
    own = {name: moved for name, moved in row.own_band.items() if name not in LEVELS or not longer(found, row)}
    return replace(row, change={**row.change, **own})


def over_its_band(row: Sensitivity) -> Sensitivity:
    """The row with a driver's level over the band that the driver then has."""
    return replace(row, change={**row.change, **row.own_band})
