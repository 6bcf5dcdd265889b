"""What to change, in words: what moves the end of a band and a break-up mode, the way that helps, and what it costs."""

from collections.abc import Sequence
from dataclasses import replace

from diaphragm_fem.analysis.figures.definitions import BAND_TO
from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.answer.better import A_PERCENT, WITH_AIR
from diaphragm_fem.answer.change.named_levers import (
    LEVELS,
    as_helps,
    band_judged,
    end_heard,
    fails_to_hand_over,
    gain,
    handing_over,
    idle,
    jumps,
    named,
    sent,
)
from diaphragm_fem.answer.change.sensitivities import of_steps
from diaphragm_fem.answer.change.sensitivity import Sensitivities, Sensitivity
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.report.words.figures import moved_words, near_words, step_words
from diaphragm_fem.report.words.heard import peak_breaks_up
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.told import NOTHING, Told, joined
from diaphragm_fem.report.words.words import join_words, show_hz, signed_digits
from diaphragm_fem.report.words.worth import (
    COSTS,
    COSTS_TOLD,
    SHARES,
    SLIGHT,
    dear,
    faint,
    grown,
    levels_in_turn,
    longer,
    loses,
    over_its_band,
    ranked,
    shortened,
    shortens,
    stops,
    upward,
)

LEVERS_TOLD, ENDS_TOLD = 3, 2
MEASURED = "moves by"
OUTSIDE = ("profile.surround.width", "profile.outer.width", "profile.outer.surround.width")
"""What changes the outer diameter, which has to suit a frame."""
JUMP_WORDS = {
    "hz": "another mode or zone decides then", "octaves": "a jump to another end", "db": "another peak or hole",
    "plays_to_hz": "a jump past a hole",
}  # fmt: skip
FAILS = "the hand-over then fails"
THEN = " then"
ENDS = ("loaded_departure_hz", "plays_octaves")
A_JUMP = ", a jump"  # "deepest hole −64 dB" read as the price of a modulus: another hole came into the range

REMEDIES = {
    Role.COIL: "a thicker former or a stiffer material of it moves it up",
    Role.DRIVEN: "a thicker wall there, a stiffer or lighter material or a deeper profile moves it up",
    Role.STEP: "its width and thickness place it, more loss flattens it",
    Role.BEYOND: "a shorter or stiffer flank there moves it up, more loss flattens it",
    Role.SURROUND: "a lighter or narrower surround moves it up, more loss flattens it",
    Role.OTHER: "a stiffer wall there moves it up",
}


def plays_on(evaluation: Answer) -> Told:
    """What moves the upper end of where a driver plays; nothing where it plays to the end of the range."""
    found = evaluation.sensitivities
    if found is None or not found.loaded or end_heard(found) != (plays := sent(found, "plays_to_hz")):
        return NOTHING
    told = handing_over(found)[:ENDS_TOLD]
    return _moved(evaluation, plays, told, 1 if told else ENDS_TOLD).within("the upper end {}")


def peak_moved(evaluation: Answer) -> Told:
    """What moves the break-up mode of a driver most where that makes the peak of its level; nothing elsewhere."""
    found, driver = evaluation.sensitivities, evaluation.driver
    if found is None or not found.loaded or driver is None or not peak_breaks_up(driver):
        return NOTHING
    return _moved(evaluation, "loaded_break_up_mode_hz", most_told=1).within("That break-up mode {}.")


def end_of_band(evaluation: Answer) -> Told:
    """What moves the frequency at which a driver's diaphragm leaves its coil, and with it the end of its band, where it
    plays to the end of the range, and where it nearly leaves it before; nothing where that was asked in vacuum alone.
    What jumps with the step that brings a failing hand-over about is told there."""
    found, driver = evaluation.sensitivities, evaluation.driver
    if found is None or not found.loaded or plays_on(evaluation):
        return NOTHING
    moved = _moved(evaluation, "loaded_departure_hz", handing_over(found)[:ENDS_TOLD], ENDS_TOLD)
    first = None if driver is None else driver.figures.loaded.first_to_leave
    near = near_words(driver.figures.loaded, f"departure_hz:{first.zone}") if driver and first else ""
    before = f"; {near.replace('nearly', 'it nearly comes', 1)}" if near else ""
    return moved.within(f"The 3 dB departure {{}}{before}.")


def strongest_levers(evaluation: Answer, figures: Figures, ends: Told) -> Told:
    """The numbers of the design file that move its band and its break-up mode most, or the level of a driver; those of
    the break-up mode where what ends the band has not told them. A level is told that a step brings by as much as makes
    a cost of it, and betters: +0.056 dB nobody hears."""
    found = evaluation.sensitivities
    if found is None:
        return NOTHING
    band = f"{band_judged(figures.table())}_octaves"
    told: dict[str, list[Told]] = {}  # by step
    silent: list[str] = []
    paid = False  # whether one of these would be brought, for more than it is worth
    kept = _kept(found)
    names = levels_in_turn(found) if found.loaded else [band, "break_up_mode_hz"]
    for name in names[: 1 if f"it {MEASURED}" in ends.words.lower() else 2]:
        if not (rows := ranked(found, name)):
            continue
        best = rows[0] if gain(rows[0], name) > 0 else named(found, name)[0]
        weak = abs(gain(best, name)) < COSTS[name] and not _then(found, best, name)
        if found.loaded and (weak or idle(best, name) or (gain(best, name) > 0 and dear(found, best, name))):
            silent.append(_short(name))
            paid |= any(gain(row, name) >= COSTS[name] for row in rows)
            continue
        if not loses(found, best) and any(loses(found, row) and gain(row, name) > 0 for row in rows):
            kept = list(dict.fromkeys([*kept, "hand-over"]))
        nothing = ["less gains nothing"] if best.back and gain(best, name) <= 0 else []
        before = "".join(one.words for one in (*told.get(step_words(best), []), ends) if best in one.steps)
        costs = [cost for cost in _costs(found, best, name) if cost == FAILS or cost not in before]
        at = _at_which_end(found, best, name)
        other = _upward(found, name, ends) if at.startswith(" downward") else NOTHING  # last: what follows is its cost
        words = [moved_words(best, name) + at, *_then(found, best, name), *costs, *nothing]
        words += [other.words] * bool(other)
        on = f"on the {_short(name)}{_in_brackets(words)}"
        told.setdefault(step_words(best), []).append(Told(on, (best, *other.steps)))
    alone = (driver := evaluation.driver) is not None and driver.sections is not None and names[0] in LEVELS
    where = " in vacuum" if driver is not None and not found.loaded else " on the first section" * alone
    by_step = [f"{step} {join_words([one.words for one in on])}" for step, on in told.items()]
    steps = joined(one for on in told.values() for one in on).steps
    strongest = f"Strongest changes of a tenth{where}, {join_words(kept)} kept: {join_words(by_step)}"
    heard = f"brings the {' or the '.join(sorted(silent))} {WITH_AIR:g} dB{' without costing more' * paid}"
    none = f"none {heard}" if told else f"No tenth{where} {heard}, {join_words(kept)} kept"
    words = [strongest] * bool(told) + [none] * bool(silent)
    return Told("; ".join(words), steps).within("{}.")


def _kept(found: Sensitivities) -> list[str]:
    return ["diameters", "motor"] if found.loaded else ["given diameters", "winding"]


def remedy(evaluation: Answer, what: str, figure: str, role: Role) -> Told:
    """What moves a frequency of the part in vacuum, or where that was not asked the rule for its zone; nothing where
    levers were asked with everything on, for they tell of other frequencies.

    A rule may mislead: where a former bends at its top alone, a shorter one changes nothing.
    """
    found = evaluation.sensitivities
    if found is not None and found.loaded:
        return NOTHING
    return _moved(evaluation, figure).within(f"{what} {{}}") or Told(REMEDIES[role])


def _moved(
    evaluation: Answer, figure: str, told_before: Sequence[Sensitivity] = (), most_told: int | None = None
) -> Told:
    """What moves a frequency most, the way that helps and as far as was solved, and what that costs, of jumps the
    strongest alone and none told before, `most_told` at most, one of them a jump that holds where there is one; where
    none of these gains, what was tried and what gains most; nothing where there is none."""
    found = evaluation.sensitivities
    if found is None:
        return NOTHING
    every = ranked(found, figure)
    rows = [row for row in every if not stops(found, row)]
    jumping = [row for row in rows if jumps(found, row, figure)]
    holding = [row for row in jumping if figure in row.held and row not in told_before][:1]
    rows = [row for row in rows if row not in jumping or (not holding and row is jumping[0] and row not in told_before)]
    useless = [row for row in rows if gain(row, figure) <= 0 and not (row.taken_at or 0.0) > 0]
    moving = [row for row in rows if row not in useless]
    told = [_gained(found, row, figure) for row in moving if not faint(found, row, figure)]
    if (moving or rows != every) and not told and not holding:
        band = "what plays" if found.loaded else naming(f"{band_judged(found.base)}_octaves").words
        kept = join_words([*_kept(found), *[band] * (rows != every)])
        return Told(f"{MEASURED} less than {A_PERCENT:g} % with any tenth, {kept} kept")
    moves = told[: None if most_told is None else most_told - len(holding)]
    jump = joined(_jumped(found, row, figure, evaluation.up_to_hz) for row in holding)
    if moves or jump or not rows:
        return joined([_listed(moves).within(f"{MEASURED} {{}}"), jump], " and ")
    less = [step_words(row) if row.taken_at else f"less of {row.lever.words} (refused)" for row in useless]
    gains = [row for row in found.strongest(figure) if gain(row, figure) > 0 and not jumps(found, row, figure)]
    most = [_gained(found, row, figure).within(", and at most {}") for row in gains if row.can_be_had]
    return joined([f"gains nothing with {join_words(less)}", *most[:1]], "")


def _listed(told: Sequence[Told]) -> Told:
    """ "a, b and c" of what is told."""
    return Told(join_words([one.words for one in told]), joined(told).steps)


def _gained(found: Sensitivities, row: Sensitivity, figure: str) -> Told:
    costs = [*_then(found, row, figure), *_costs(found, row, figure)]
    return Told(f"{moved_words(row, figure)} with {step_words(row)}{_in_brackets(costs)}", (row,))


def _jumped(found: Sensitivities, row: Sensitivity, figure: str, up_to_hz: float) -> Told:
    """ "jumps to 4.69 kHz with −10 % of outer flank width (past a hole)": of a jump that holds, to the end of the range
    it may be."""
    jump, *costs = _costs(found, row, figure)
    there = show_hz(hz := (found.base[figure] or 0.0) + gain(row, figure))
    there += ", the end of the range," * (hz >= (1 - 1e-9) * up_to_hz)
    words = f"jumps to {there} with {step_words(row)}{_in_brackets([jump.removeprefix('a jump '), *costs])}"
    return Told(words, (row,))


def _costs(found: Sensitivities, row: Sensitivity, figure: str = "") -> list[str]:
    """What the step that a row has taken for a figure costs of others, and where that is then another place's; what
    an end or a mode costs of levels, or a level of ends, from a third of other costs on: three steps for a level,
    each 4 to 5 % of the departure, took 13 % of it, untold.

    Where the hand-over comes about or what ends a driver's band moves, its level is told over the band then.
    """
    jump = JUMP_WORDS.get(figure.removeprefix("sum_")) or JUMP_WORDS.get(figure.rpartition("_")[2], "")
    told = [jump] if figure and jumps(found, row, figure) else []
    if figure and gain(row, figure) <= 0:
        return told
    told += [FAILS] * loses(found, row)
    if row.lever.key in OUTSIDE:
        told.append(f"outside {signed_digits(2e3 * (row.taken_at or 0.0) * row.lever.value, 2)} mm")
    unasked = {"shelf_band_octaves", "even_band_octaves"} - {f"{band_judged(found.base)}_octaves"}
    unasked |= {name for name in (*LEVELS, "plays_octaves", "efficiency") if sent(found, name) != name}
    then = row.own_band if figure in ("", _ends_the_band(found)) else shortened(row)
    row = replace(row, change={**row.change, **then})
    much = {name: -gain(row, name) / COSTS[name] for name in COSTS if name not in (figure, *unasked)}
    much = {name: size / (found.base.get(name) or 1.0) if name in SHARES else size for name, size in much.items()}
    if shortens(found, row, figure):
        much |= {name: max(1.0, much[name]) for name in much if name == figure.replace("_to_hz", "_octaves")}
    worst = sorted((name for name in much if much[name] >= 1), key=lambda name: -much[name])
    if "median_level_db" in worst:  # the level that falls is what a loss of efficiency comes to
        worst = [name for name in worst if name != "efficiency"]
    worst = worst[:COSTS_TOLD]
    others = {sent(found, name) for name in (ENDS if figure.removeprefix("sum_") in LEVELS else LEVELS)} & much.keys()
    dearest = max(sorted(others), key=lambda name: much[name], default="")
    if dearest and much[dearest] >= SLIGHT and not others & set(worst):
        worst.append(dearest)
    return told + [
        f"{_short(name)}{THEN * (name in then)} {moved_words(row, name)}{A_JUMP * jumps(found, row, name)}"
        for name in worst
    ]


def _ends_the_band(found: Sensitivities) -> str:
    """The figure with which the band of a driver's level ends: its departure, or where it plays to beyond that."""
    departure, end = (found.base.get(name) for name in ("loaded_departure_hz", BAND_TO))
    return "plays_to_hz" if departure and end and end > departure else "loaded_departure_hz"


def _short(figure: str) -> str:
    """Its name where a verdict counts its words."""
    words = naming(figure.removeprefix("loaded_")).words
    return words.removeprefix("largest ").replace(", both sections", " of both")


def _then(found: Sensitivities, row: Sensitivity, figure: str) -> list[str]:
    """What a step does to a driver's level over the band that it then has, or to the end of what it plays against the
    median there, where that is not the same."""
    then, change = row.own_band.get(figure), row.change.get(figure) or 0.0
    if then is None or abs(then - change) < COSTS.get(figure, abs(change) / 3):
        return []
    told = f"{moved_words(over_its_band(row), figure)} over its new band"
    further = figure in LEVELS and longer(found, row)
    return [f"{told}, as it plays {moved_words(row, sent(found, 'plays_to_hz'))} further" if further else told]


def _at_which_end(found: Sensitivities, row: Sensitivity, figure: str) -> str:
    """At which end a band grows for the most part, and where downward by what; "" where it does not grow or jumps. On
    a textile dome four tenths less of its surround's thickness, each the strongest on the band, took the fundamental
    from 627 to 396 Hz, untold, and the upper end from 6.38 to 6.29 kHz."""
    if not figure.endswith("_octaves") or gain(row, figure) <= 0 or jumps(found, row, figure):
        return ""
    if upward(found, row, figure):
        return " upward"
    below = grown(found, row, figure.replace("_octaves", "_from_hz"))
    if below <= gain(row, figure) / 2 or not row.change.get("fundamental_hz"):
        return ""
    return f" downward: fundamental {moved_words(row, 'fundamental_hz')}"


def _upward(found: Sensitivities, figure: str, before: Told) -> Told:
    """What makes a band grow upward, by what can be told, and what of its costs does not stand in `before`."""
    end = figure.replace("_octaves", "_to_hz")
    cheap = [one for one in ranked(found, end) if not (dear(found, one, end) or loses(found, one))]
    known = [one for one in cheap if upward(found, one, figure) and not faint(found, one, end)]
    if (best := max(known, key=lambda one: gain(one, figure), default=None)) is None:
        return NOTHING
    costs = [cost for cost in _costs(found, best, figure) if cost not in before.words * (best in before.steps)]
    return Told(", ".join([f"upward {moved_words(best, figure)} with {step_words(best)}", *costs]), (best,))


def what_hands_over(evaluation: Answer) -> Told:
    """With which lever a hand-over that fails would come about; nothing where none was found."""
    found = evaluation.sensitivities
    if found is None:
        return NOTHING
    ways, most = (ENDS_TOLD, 1) if found.loaded else (LEVERS_TOLD, None)  # a driver's verdict has much to tell
    rows = handing_over(found)[:ways]
    told = [f"{step_words(row)}{_in_brackets(_costs(found, row)[:most])}" for row in rows]
    against = next(filter(None, (_against(found, row) for row in rows)), NOTHING)
    return joined([Told(" or ".join(told), tuple(rows)), against], "").within("It comes about with {}.")


def _against(found: Sensitivities, row: Sensitivity) -> Told:
    """That a longer band asks for the opposite of a step that hands over; nothing where it does not."""
    band = f"{band_judged(found.base)}_octaves"
    for figure in (band, band.replace("_octaves", "_to_hz")):
        for one in (as_helps(known, figure) for known in named(found, figure)):
            if one.lever == row.lever and gain(one, figure) > 0 > (one.taken_at or 0.0) * (row.taken_at or 0.0):
                asked = f"{step_words(one)} ({moved_words(one, figure)})"
                return Told(f"; a longer {naming(band).words} asks for the opposite, {asked}", (one,))
    return NOTHING


def what_softer_costs(evaluation: Answer) -> Told:
    """Where no lever alone makes a failing hand-over come about: that, and what a tenth of the advice costs."""
    found, figures = evaluation.sensitivities, evaluation.figures
    if found is None or figures is None or not figures.steps or not fails_to_hand_over(found):
        return NOTHING
    if found.loaded:
        return Told("No number of a step or of the chamber alone brings it, up to three times or a third of it.")
    softer = [row.back for row in found.rows if row.back is not None and row.lever.key in of_steps(evaluation.design)]
    rows = [*softer, *(row for row in found.rows if row.lever.key.endswith(".tread"))]
    told = [Told(step_words(row) + _in_brackets(costs), (row,)) for row in rows if (costs := _costs(found, row))]
    alone = "One number alone is too little, up to three times or a third of it as far as that can be built"
    return joined([alone, _listed(told).within("; mind what a tenth costs: {}"), "."], "")


def _in_brackets(told: list[str]) -> str:
    return f" ({'; '.join(told)})" if told else ""
