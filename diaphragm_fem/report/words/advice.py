"""What to change, in words: what moves the end of a band and a break-up mode, the way that helps, and what it costs."""

from collections.abc import Sequence
from dataclasses import replace
from math import log2

from diaphragm_fem.analysis.figures.definitions import BAND_TO
from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.answer.better import A_PERCENT, WITH_AIR, times_told
from diaphragm_fem.answer.change.named_levers import (
    as_helps,
    band_judged,
    end_heard,
    fails_to_hand_over,
    gain,
    handing_over,
    idle,
    jumps,
    named,
    steps_had,
    throws,
)
from diaphragm_fem.answer.change.sensitivities import of_steps
from diaphragm_fem.answer.change.sensitivity import Sensitivities, Sensitivity
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.report.words.figures import moved_words, near_words, step_words
from diaphragm_fem.report.words.heard import peak_breaks_up
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.words import join_words, show_hz, signed_digits
from diaphragm_fem.study.plan.study_of_levers import KEPT, pays_too_much

LEVERS_TOLD, ENDS_TOLD = 3, 2
MEASURED = "moves by"
COSTS = {
    "shelf_band_octaves": 0.1, "even_band_octaves": 0.1, "highest_peak_db": 0.5, "deepest_hole_db": 0.5,
    "break_up_mode_hz": 0.1, "area_per_mass_m2_per_kg": 0.03,
    "median_level_db": WITH_AIR, "level_spread_db": WITH_AIR, "plays_octaves": 0.1,
    "loaded_departure_hz": 0.05, "efficiency": 0.07, "excursion_m": 0.12,
}  # fmt: skip
"""From here on it is told what a lever costs; levels where they are told apart: a weaker motor's +0.32 dB in the median
came with +0.43 dB of spread and a tenth less efficiency, of which 7 % are 0.3 dB; 12 % of stroke are 1 dB."""
SHARES = ("area_per_mass_m2_per_kg", "break_up_mode_hz", "loaded_departure_hz", "efficiency", "excursion_m")
"""Of these as a share."""
COSTS_TOLD = 2
LEVELS = {"median_level_db": "level_spread_db", "level_spread_db": "median_level_db"}
HALF_AN_OCTAVE = 0.5  # of what plays, or of a part's band: no level, end or mode is worth it
OUTSIDE = ("profile.surround.width", "profile.outer.width", "profile.outer.surround.width")
"""What changes the outer diameter, which has to suit a frame: the first advice on a ring V of 61 mm, followed four
times, made it 56 mm."""
JUMP_WORDS = {
    "hz": "another mode or zone decides then", "octaves": "a jump to another end", "db": "another peak or hole",
    "plays_to_hz": "a jump past a hole",
}  # fmt: skip
FAILS = "the hand-over then fails"
THEN = " then"
A_JUMP = ", a jump"  # "deepest hole −64 dB" read as the price of a modulus: another hole came into the range

REMEDIES = {
    Role.COIL: "a thicker former or a stiffer material of it moves it up",
    Role.DRIVEN: "a thicker wall there, a stiffer or lighter material or a deeper profile moves it up",
    Role.STEP: "its width and thickness place it, more loss flattens it",
    Role.BEYOND: "a shorter or stiffer flank there moves it up, more loss flattens it",
    Role.SURROUND: "a lighter or narrower surround moves it up, more loss flattens it",
    Role.OTHER: "a stiffer wall there moves it up",
}


def plays_on(evaluation: Answer) -> str:
    """What moves the upper end of where a driver plays; "" where it plays to the end of the range."""
    found = evaluation.sensitivities
    if found is None or not found.loaded or end_heard(found) != "plays_to_hz":
        return ""
    told = handing_over(found)[:ENDS_TOLD]
    moved = _moved(evaluation, "plays_to_hz", told, 1 if told else ENDS_TOLD)
    return f"the upper end {moved}" if moved else ""


def peak_moved(evaluation: Answer) -> str:
    """What moves the break-up mode of a driver most where that makes the peak of its level; "" elsewhere."""
    found, driver = evaluation.sensitivities, evaluation.driver
    if found is None or not found.loaded or driver is None or not peak_breaks_up(driver):
        return ""
    moved = _moved(evaluation, "loaded_break_up_mode_hz", most_told=1)
    return f"That break-up mode {moved}." if moved else ""


def end_of_band(evaluation: Answer) -> str:
    """What moves the frequency at which a driver's diaphragm leaves its coil, and with it the end of its band, where
    it plays to the end of the range, and where it nearly leaves it before; "" where that was asked in vacuum alone.
    What jumps with the step that brings a failing hand-over about is told there."""
    found, driver = evaluation.sensitivities, evaluation.driver
    if found is None or not found.loaded or plays_on(evaluation):
        return ""
    moved = _moved(evaluation, "loaded_departure_hz", handing_over(found)[:ENDS_TOLD], ENDS_TOLD)
    first = None if driver is None else driver.figures.loaded.first_to_leave
    near = near_words(driver.figures.loaded, f"departure_hz:{first.zone}") if driver and first else ""
    before = f"; {near.replace('nearly', 'it nearly comes', 1)}" if near else ""
    return f"The 3 dB departure {moved}{before}." if moved else ""


def strongest_levers(evaluation: Answer, figures: Figures, ends: str) -> str:
    """The numbers of the design file that move its band and its break-up mode most, or the level of a driver; those of
    the break-up mode where what ends the band has not told them. A level is told that a step brings by as much as makes
    a cost of it, and betters: +0.056 dB was the strongest of a dome, and nobody hears that; of a V of 2.0 dB of spread
    +2.9 dB was."""
    found = evaluation.sensitivities
    if found is None:
        return ""
    band = f"{band_judged(figures.table())}_octaves"
    told: dict[str, list[str]] = {}  # by step
    faint: list[str] = []
    dear = False  # whether one of the faint would be brought, for more than it is worth
    kept = _kept(found)
    names = ("median_level_db", "level_spread_db") if found.loaded else (band, "break_up_mode_hz")
    for name in names[: 1 if f"it {MEASURED}" in ends.lower() else 2]:
        if not (rows := _ranked(found, name)):
            continue
        best = rows[0] if gain(rows[0], name) > 0 else named(found, name)[0]
        weak = abs(gain(best, name)) < COSTS[name] and not _then(best, name)
        if found.loaded and (weak or idle(best, name) or (gain(best, name) > 0 and _dear(found, best, name))):
            faint.append(naming(name).words)
            dear |= any(gain(row, name) >= COSTS[name] for row in rows)
            continue
        if not _loses(found, best) and any(_loses(found, row) and gain(row, name) > 0 for row in rows):
            kept = list(dict.fromkeys([*kept, "hand-over"]))
        nothing = ["less gains nothing"] if best.back and gain(best, name) <= 0 else []
        before = "".join([*told.get(step_words(best), []), ends * (step_words(best) in ends)])
        costs = [cost for cost in _costs(found, best, name) if cost == FAILS or cost not in before]
        words = [moved_words(best, name) + _downward(found, best, name), *_then(best, name), *costs, *nothing]
        told.setdefault(step_words(best), []).append(f"on the {naming(name).words}{_in_brackets(words)}")
    where = "" if (driver := evaluation.driver) is None else " on the first section" * (driver.sections is not None)
    where = " in vacuum" if driver is not None and not found.loaded else where
    by_step = [f"{step} {' and '.join(on)}" for step, on in told.items()]
    strongest = f"Strongest of a tenth{where}, {join_words(kept)} kept: {', '.join(by_step)}." if told else ""
    heard = f"{WITH_AIR:g} dB{' without costing more' * dear}"
    unheard = f"No tenth{where} brings the {' or the '.join(faint)} {heard}, {join_words(kept)} kept."
    return f"{strongest} {unheard}".strip() if faint else strongest


def _kept(found: Sensitivities) -> list[str]:
    return ["diameters", "motor"] if found.loaded else ["given diameters", "winding"]


def remedy(evaluation: Answer, what: str, figure: str, role: Role) -> str:
    """What moves a frequency of the part in vacuum, or where that was not asked the rule for its zone; "" where levers
    were asked with everything on, for they tell of other frequencies.

    A rule may mislead: where a former bends at its top alone, a shorter one changes nothing.
    """
    found = evaluation.sensitivities
    if found is not None and found.loaded:
        return ""
    moved = _moved(evaluation, figure)
    return f"{what} {moved}" if moved else REMEDIES[role]


def _moved(
    evaluation: Answer, figure: str, told_before: Sequence[Sensitivity] = (), most_told: int | None = None
) -> str:
    """What moves a frequency most, the way that helps and as far as was solved, and what that costs, of jumps the
    strongest alone and none told before, `most_told` at most, one of them a jump that holds where there is one; where
    none of these gains, what was tried and what gains most; "" where there is none."""
    found = evaluation.sensitivities
    if found is None:
        return ""
    ranked = _ranked(found, figure)
    rows = [row for row in ranked if not _stops(found, row)]
    jumping = [row for row in rows if jumps(found, row, figure)]
    holding = [row for row in jumping if figure in row.held and row not in told_before][:1]
    rows = [row for row in rows if row not in jumping or (not holding and row is jumping[0] and row not in told_before)]
    useless = [row for row in rows if gain(row, figure) <= 0 and not (row.taken_at or 0.0) > 0]
    moving = [row for row in rows if row not in useless]
    told = [_gained(found, row, figure) for row in moving if not _faint(found, row, figure)]
    if (moving or rows != ranked) and not told and not holding:
        band = "what plays" if found.loaded else naming(f"{band_judged(found.base)}_octaves").words
        kept = join_words([*_kept(found), *[band] * (rows != ranked)])
        return f"{MEASURED} less than {A_PERCENT:g} % with any tenth, {kept} kept"
    moves = told[: None if most_told is None else most_told - len(holding)]
    ways = [f"{MEASURED} {join_words(moves)}"] * bool(moves)
    ways += [_jumped(found, row, figure, evaluation.up_to_hz) for row in holding]
    if ways or not rows:
        return " and ".join(ways)
    less = [step_words(row) if row.taken_at else f"less of {row.lever.key} (refused)" for row in useless]
    gains = [row for row in found.strongest(figure) if gain(row, figure) > 0 and not jumps(found, row, figure)]
    most = [f", and at most {_gained(found, row, figure)}" for row in gains if row.can_be_had]
    return f"gains nothing with {join_words(less)}{''.join(most[:1])}"


def _gained(found: Sensitivities, row: Sensitivity, figure: str) -> str:
    costs = [*_then(row, figure), *_costs(found, row, figure)]
    return f"{moved_words(row, figure)} with {step_words(row)}{_in_brackets(costs)}"


def _jumped(found: Sensitivities, row: Sensitivity, figure: str, up_to_hz: float) -> str:
    """ "jumps to 4.69 kHz with −10 % of profile.outer.width (past a hole)": of a jump that holds, to the end of the
    range it may be."""
    jump, *costs = _costs(found, row, figure)
    there = show_hz(hz := (found.base[figure] or 0.0) + gain(row, figure))
    there += ", the end of the range," * (hz >= (1 - 1e-9) * up_to_hz)
    return f"jumps to {there} with {step_words(row)}{_in_brackets([jump.removeprefix('a jump '), *costs])}"


def _ranked(found: Sensitivities, figure: str) -> list[Sensitivity]:
    """The levers named for a figure, the way that helps, the best first. Beside them the strongest step known to keep
    the hand-over, where each of theirs that helps costs it or none is as strong, for they are named by a tenth more;
    a jump among them is no measure of that where others help.

    A ring V's band grew with -10 % of a tread, after which the hand-over came about with +10 %: who followed the
    verdict changed one number to and fro. In its driver -10 % of that tread brought the spread 3.4 dB, where 3.1 dB of
    another number were told to be the strongest.
    """
    rows = [as_helps(row, figure) for row in named(found, figure)]
    if any(gain(row, figure) > 0 for row in rows):
        kept = [row for row in rows if not (_loses(found, row) or _dear(found, row, figure)) and gain(row, figure) > 0]
        steady = [row for row in kept if not throws(found, row, figure)]
        strongest = max((gain(row, figure) for row in steady or kept), default=0.0)
        known = (
            step for step in steps_had(found)
            if gain(step, figure) > strongest
            and not (step.lever.of_the_system or _loses(found, step) or _dear(found, step, figure))
            and not (throws(found, step, figure) or _faint(found, step, figure))
        )  # fmt: skip
        rows += sorted(known, key=lambda step: -gain(step, figure))[:1]
    return sorted(rows, key=lambda row: _rank(found, row, figure))


def _faint(found: Sensitivities, row: Sensitivity, figure: str) -> bool:
    """Whether what a step brings cannot be told apart: of a V +5 Hz of 806 Hz, by a tenth more of all its wall, stood
    first, since it kept the hand-over; three such rounds cost 4 % of its response."""
    before = found.base.get(figure)
    return before is not None and times_told(figure, before + gain(row, figure), before) <= 1


def _loses(found: Sensitivities, row: Sensitivity) -> bool:
    return found.handed_over in row.lost


def _rank(found: Sensitivities, row: Sensitivity, figure: str) -> tuple[bool, bool, bool, bool, float]:
    """What helps first, of that what keeps the hand-over, what costs less than it brings, what is no jump, the
    strongest first."""
    brings = gain(row, figure)
    return brings <= 0, _loses(found, row), _dear(found, row, figure), throws(found, row, figure), -brings


def _dear(found: Sensitivities, row: Sensitivity, figure: str) -> bool:
    """Whether a step helps a driver over the band of before alone, shortens a band, what plays by half an octave, pays
    with what the study left ready does not allow, or makes a level better by no more than the other worse.

    For -0.83 dB of spread promised over the old band the page of the driver so changed told +0.04. A thicker surround
    raised an end and the beginning by more; the same verdict told a thinner one to be the strongest on that band. Of
    two sections 0.36 dB of median cost 1.3 dB of spread. Of a V with two firm steps 0.12 octaves came with a hole of 12
    dB, where 0.084 were to be had for nothing.
    """
    other = LEVELS.get(figure, "")
    return (
        (figure in row.own_band and gain(_over_its_band(row), figure) <= 0)
        or _shortens(found, row, figure)
        or _stops(found, row)
        or pays_too_much(found.base, {name: _then_is(found, row, name) for name in KEPT})
        or (other != "" and gain(row, figure) + gain(row, other) <= 0)
    )


def _then_is(found: Sensitivities, row: Sensitivity, figure: str) -> float | None:
    before, change = found.base.get(figure), row.change.get(figure)
    return None if before is None or change is None else before + (change if (row.taken_at or 0.0) > 0 else -change)


def _shortens(found: Sensitivities, row: Sensitivity, figure: str) -> bool:
    """Whether the band whose end a step moves is shorter then, by what can be told: of a dome the strongest on an upper
    end, +170 Hz, raised the beginning by more, round after round."""
    length = figure.replace("_to_hz", "_octaves")
    return length != figure and gain(row, length) < 0 and not _faint(found, row, length)


def _stops(found: Sensitivities, row: Sensitivity) -> bool:
    """Whether a driver then plays half an octave less, against the median of before or its new one, or a part's band is
    as much shorter: of a V before a horn +140 Hz of the upper end cost 2.2 octaves below it, and was the one tenth told
    for that end; of another's break-up mode +170 Hz cost 2.9 octaves of its shelf, and was told to be the strongest."""
    rows = {"plays_octaves": (row, _over_its_band(row)), f"{band_judged(found.base)}_octaves": (row,)}
    return min(gain(one, name) for name, some in rows.items() for one in some) <= -HALF_AN_OCTAVE


def _costs(found: Sensitivities, row: Sensitivity, figure: str = "") -> list[str]:
    """What the step that a row has taken for a figure costs of others, and where that is then another place's.

    Where the hand-over comes about or what ends a driver's band moves, its level is told over the band then: +10 % of a
    slot's width brought the departure 2.8 kHz and the spread from 3.6 to 12.1 dB, of which the old band told 0.05 dB.
    """
    jump = JUMP_WORDS.get(figure) or JUMP_WORDS.get(figure.rpartition("_")[2], "")
    told = [jump] if figure and jumps(found, row, figure) else []
    if figure and gain(row, figure) <= 0:
        return told
    told += [FAILS] * _loses(found, row)
    if row.lever.key in OUTSIDE:
        told.append(f"outside {signed_digits(2e3 * (row.taken_at or 0.0) * row.lever.value, 2)} mm")
    unasked = {"shelf_band_octaves", "even_band_octaves"} - {f"{band_judged(found.base)}_octaves"}
    then = row.own_band if figure in ("", _ends_the_band(found)) else _shortened(row)
    row = replace(row, change={**row.change, **then})
    much = {name: -gain(row, name) / COSTS[name] for name in COSTS if name not in (figure, *unasked)}
    much = {name: size / (found.base.get(name) or 1.0) if name in SHARES else size for name, size in much.items()}
    if _shortens(found, row, figure):
        much |= {name: max(1.0, much[name]) for name in much if name == figure.replace("_to_hz", "_octaves")}
    worst = sorted((name for name in much if much[name] >= 1), key=lambda name: -much[name])
    levels = {name: much[name] for name in LEVELS if much.get(name, 0.0) > 0}
    if not worst and sum(levels.values()) >= 1:  # of a dome four such steps took 0.7 dB of each, untold
        worst = [max(levels, key=lambda name: levels[name])]
    if "median_level_db" in worst:  # the level that falls is what a loss of efficiency comes to
        worst = [name for name in worst if name != "efficiency"]
    return told + [
        f"{_short(name)}{THEN * (name in then)} {moved_words(row, name)}{A_JUMP * jumps(found, row, name)}"
        for name in worst[:COSTS_TOLD]
    ]


def _shortened(row: Sensitivity) -> dict[str, float | None]:
    """By how much less a driver plays against the median that it then has, where that is more than against the old
    one. A slot moved outward brought 0.8 dB of median, and what plays ended at a dip at 1.39 instead of at 5.83 kHz."""
    name = "plays_octaves"
    worse = min(0.0, gain(row, name)) - gain(_over_its_band(row), name)
    return {name: row.own_band.get(name)} if worse >= COSTS[name] else {}


def _ends_the_band(found: Sensitivities) -> str:
    """The figure with which the band of a driver's level ends: its departure, or where it plays to beyond that."""
    departure, end = (found.base.get(name) for name in ("loaded_departure_hz", BAND_TO))
    return "plays_to_hz" if departure and end and end > departure else "loaded_departure_hz"


def _short(figure: str) -> str:
    """Its name where a verdict counts its words."""
    return naming(figure.removeprefix("loaded_")).words.removeprefix("largest ")


def _then(row: Sensitivity, figure: str) -> list[str]:
    """What a step does to a driver's level over the band that it then has, or to the end of what it plays against the
    median there, where that is not the same."""
    then, change = row.own_band.get(figure), row.change.get(figure) or 0.0
    if then is None or abs(then - change) < COSTS.get(figure, abs(change) / 3):
        return []
    return [f"{moved_words(_over_its_band(row), figure)} over its new band"]


def _downward(found: Sensitivities, row: Sensitivity, figure: str) -> str:
    """That a band grows by a lower fundamental for the most part; "" where it does not. On a textile dome four tenths
    less of its surround's thickness, each the strongest on the band, took the fundamental from 627 to 396 Hz, untold,
    and the upper end from 6.38 to 6.29 kHz."""
    begin = figure.replace("_octaves", "_from_hz")
    before, change = found.base.get(begin), row.change.get(begin)
    if begin == figure or not before or not change or gain(row, figure) <= 0 or jumps(found, row, figure):
        return ""
    moved = change if (row.taken_at or 0.0) > 0 else -change
    if -log2(1 + moved / before) <= gain(row, figure) / 2 or not row.change.get("fundamental_hz"):
        return ""
    return f" downward: fundamental {moved_words(row, 'fundamental_hz')}"


def _over_its_band(row: Sensitivity) -> Sensitivity:
    """The row with a driver's level over the band that the driver then has."""
    return replace(row, change={**row.change, **row.own_band})


def what_hands_over(evaluation: Answer) -> str:
    """With which lever a hand-over that fails would come about; "" where none was found."""
    found = evaluation.sensitivities
    if found is None:
        return ""
    ways, most = (ENDS_TOLD, 1) if found.loaded else (LEVERS_TOLD, None)  # a driver's verdict has much to tell
    rows = handing_over(found)[:ways]
    told = [f"{step_words(row)}{_in_brackets(_costs(found, row)[:most])}" for row in rows]
    against = next(filter(None, (_against(found, row) for row in rows)), "")
    return f"It comes about with {' or '.join(told)}{against}." if told else ""


def _against(found: Sensitivities, row: Sensitivity) -> str:
    """That a longer band asks for the opposite of a step that hands over; "" where it does not."""
    band = f"{band_judged(found.base)}_octaves"
    for figure in (band, band.replace("_octaves", "_to_hz")):
        for one in (as_helps(known, figure) for known in named(found, figure)):
            if one.lever == row.lever and gain(one, figure) > 0 > (one.taken_at or 0.0) * (row.taken_at or 0.0):
                asked = f"{step_words(one)} ({moved_words(one, figure)})"
                return f"; a longer {naming(band).words} asks for the opposite, {asked}"
    return ""


def what_softer_costs(evaluation: Answer) -> str:
    """Where no lever alone makes a failing hand-over come about: that, and what a tenth of the advice costs."""
    found, figures = evaluation.sensitivities, evaluation.figures
    if found is None or figures is None or not figures.steps or not fails_to_hand_over(found):
        return ""
    if found.loaded:
        return "No number of a step or of the chamber alone brings it, up to three times or a third of it."
    softer = [row.back for row in found.rows if row.back is not None and row.lever.key in of_steps(evaluation.design)]
    rows = [*softer, *(row for row in found.rows if row.lever.key.endswith(".tread"))]
    told = [step_words(row) + _in_brackets(costs) for row in rows if (costs := _costs(found, row))]
    mind = f"; mind what a tenth costs: {join_words(told)}" if told else ""
    return f"One number alone is too little, up to three times or a third of it as far as that can be built{mind}."


def _in_brackets(told: list[str]) -> str:
    return f" ({'; '.join(told)})" if told else ""
