"""The verdict on one design in plain words: what happens, what limits the part, what to change."""

from __future__ import annotations

import numpy as np

from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.analysis.figures.response_bands import Band
from diaphragm_fem.answer.change.named_levers import as_helps, band_judged, gain, handing_over, jumps, named
from diaphragm_fem.answer.change.sensitivities import of_steps
from diaphragm_fem.answer.change.sensitivity import Sensitivities, Sensitivity
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.design.meridian.zone import Role
from diaphragm_fem.report.words.driver import loaded_sentences
from diaphragm_fem.report.words.figures import moved_words, step_words
from diaphragm_fem.report.words.sentences import break_up, capital, in_vacuum, judged, what_happens
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.words import digits, join_words, show_hz

ONE_MODE = 0.01  # of its frequency: so near the mode that ends a band is the break-up mode
LEVERS_TOLD = 3
MEASURED = "moves by"
COSTS = {
    "shelf_band_octaves": 0.1, "even_band_octaves": 0.1, "highest_peak_db": 0.5, "deepest_hole_db": 0.5,
    "break_up_mode_hz": 0.1, "area_per_mass_m2_per_kg": 0.03,
    "median_level_db": 0.5, "level_spread_db": 0.5, "loaded_departure_hz": 0.05,
}  # fmt: skip
"""From here on it is told what a lever costs."""
SHARES = ("area_per_mass_m2_per_kg", "break_up_mode_hz", "loaded_departure_hz")  # of these as a share
COSTS_TOLD = 2
JUMP_WORDS = {"hz": "another mode or zone then", "octaves": "a jump to another end", "db": "another peak or hole"}
POORLY_DAMPED = 0.02  # loss factor of a rocking mode: below it an uneven drive rings

REMEDIES = {
    Role.COIL: "a thicker former or a stiffer material of it moves it up",
    Role.DRIVEN: "a thicker wall there, a stiffer or lighter material or a deeper profile moves it up",
    Role.STEP: "its width and thickness place it, more loss flattens it",
    Role.BEYOND: "a shorter or stiffer flank there moves it up, more loss flattens it",
    Role.SURROUND: "a lighter or narrower surround moves it up, more loss flattens it",
    Role.OTHER: "a stiffer wall there moves it up",
}


def verdict(evaluation: Answer) -> str:
    """One paragraph: from the resonance to the break-up mode, what ends its band, and what to change.

    Of a driver what it does with everything on leads, and what is of the part in vacuum is said to be.
    """
    figures = evaluation.figures
    if figures is None:
        return _undriven(evaluation)
    if evaluation.driver is not None:
        found = evaluation.sensitivities
        changes = [end_of_band(evaluation), _levers(evaluation, figures, "")]
        first = found is not None and found.loaded
        happens = [*loaded_sentences(evaluation.driver), *changes * first, in_vacuum(figures), *changes * (not first)]
    else:
        ends = _limit(evaluation, figures)
        told = what_happens(figures, _hands_over(evaluation), _softer(evaluation))
        happens = [_left_out(evaluation), *told, ends, _levers(evaluation, figures, ends)]
    sentences = (*happens, _rocking(evaluation, figures), _believed(evaluation), *_taken(evaluation))
    return " ".join(sentence for sentence in sentences if sentence)


def _left_out(evaluation: Answer) -> str:
    """That a driver is told without what surrounds it, where its file describes that."""
    left = evaluation.design.driver is not None
    return "Of the part in vacuum alone: its driver is left out, the first warning says why." if left else ""


def limit(evaluation: Answer) -> str:
    """What ends the band and what that asks for, or the break-up mode where nothing ends it; "" without a drive."""
    figures = evaluation.figures
    if figures is None:
        return ""
    told = _limit(evaluation, figures)
    return told if told.startswith("The ") else f"{break_up(figures)} {told}".strip()


def _undriven(evaluation: Answer) -> str:
    counted = ", ".join(f"{len(x)} of order m = {m}" for m, x in evaluation.modes.items())
    lowest = [x.frequency_hz[0] for x in evaluation.modes.values() if len(x)]
    begin = f"the lowest at {show_hz(min(lowest))}" if lowest else "none at all"
    why = "The edge holds the circle where the coil would drive it"
    if evaluation.design.joint is None:
        why = "There is no coil to drive it"
    elif 0 not in evaluation.modes:
        why = "Order m = 0 was not asked for"
    modes = f"{why}, so only modes are given: {counted} up to {show_hz(evaluation.up_to_hz)}, {begin}."
    return " ".join([modes, *_taken(evaluation)])


def _taken(evaluation: Answer) -> list[str]:
    """What the file left open and was taken for it: a coil, edges, corners."""
    design = evaluation.design
    keyed = [note.partition(":")[0].count(".") > 0 for note in design.notes]  # a key stays as it is written
    told = [f"{note if key else capital(note)}." for note, key in zip(design.notes, keyed, strict=True)]
    if design.joint is not None and not design.former and design.ring is None:
        told.append("No coil is given: a bare force drives the circle where one would sit, and its mass is missing.")
    return told


def _limit(evaluation: Answer, figures: Figures) -> str:
    """What ends the band that the design is judged by, where the strain of that motion sits, and what that asks for.

    Behind the sentence on the break-up mode: where that ends the band, or nothing does, it goes on about it.
    """
    band, modes, mode = judged(figures), evaluation.modes.get(0), figures.break_up_mode
    roles = {zone.name: zone.role for zone in evaluation.design.zones}
    leading_zone = next(iter(mode.shares), None)
    if band is None or band.ended_by is None or modes is None or not len(modes):
        remedy = "" if leading_zone is None else _remedy(evaluation, "it", "break_up_mode_hz", roles[leading_zone])
        return f"{capital(remedy)}." if remedy else ""
    ended, upward = band.ended_by, band.ended_by.level_db > _level_inside(figures, band)
    which = "shelf" if band is figures.shelf_band else "even"
    where = f"the {which} band in the {'peak' if upward else 'hole'} at {show_hz(ended.frequency_hz)}"
    # behind a peak stands the nearest mode; behind a hole the last one below it, whose zone by then works against; the
    # fundamental, on which the band stands, is neither
    first = int(np.searchsorted(modes.frequency_hz, (figures.fundamental_hz or 0.0) * (1 + ONE_MODE)))
    if upward:
        index = int(np.argmin(np.abs(np.log(modes.frequency_hz / ended.frequency_hz))))
    else:
        index = max(int(np.searchsorted(modes.frequency_hz, ended.frequency_hz)) - 1, 0)
    index = max(index, min(first, len(modes) - 1))
    hz = float(modes.frequency_hz[index])
    if leading_zone is not None and mode.frequency_hz is not None and abs(hz / mode.frequency_hz - 1) < ONE_MODE:
        told = [f"It ends {where}", _remedy(evaluation, "it", "break_up_mode_hz", roles[leading_zone])]
        return f"{'; '.join(filter(None, told))}."
    leading = int(np.argmax(modes.strain_share[index]))
    zone, share = modes.zones[leading], modes.strain_share[index, leading]
    told = [f"The mode at {show_hz(hz)}, {100 * share:.0f} % of its strain in the {zone.name}, ends {where}",
            _remedy(evaluation, "that end", f"{which}_band_to_hz", zone.role)]  # fmt: skip
    return f"{'; '.join(filter(None, told))}."


def _remedy(evaluation: Answer, what: str, figure: str, role: Role) -> str:
    """What moves a frequency of the part in vacuum, or where that was not asked the rule for its zone; "" where levers
    were asked with everything on, for they tell of other frequencies.

    A rule may mislead: where a former bends at its top alone, a shorter one changes nothing.
    """
    found = evaluation.sensitivities
    if found is not None and found.loaded:
        return ""
    moved = _moved(found, figure)
    return f"{what} {moved}" if moved else REMEDIES[role]


def _moved(found: Sensitivities | None, figure: str) -> str:
    """What moves a frequency most, the way that helps and as far as was solved, and what that costs; where nothing
    gains, what was tried; "" where there is none.
    """
    if found is None:
        return ""
    rows = sorted((as_helps(row, figure) for row in named(found, figure)), key=lambda row: -gain(row, figure))
    idle = [row for row in rows if gain(row, figure) <= 0 and not (row.taken_at or 0.0) > 0]
    told = [
        f"{moved_words(row, figure)} with {step_words(row)}{_in_brackets(_costs(found, row, figure))}"
        for row in rows if row not in idle
    ]  # fmt: skip
    if told or not rows:
        return f"{MEASURED} {join_words(told)}" if told else ""
    less = [step_words(row) if row.taken_at else f"less of {row.lever.key} (refused)" for row in idle]
    return f"gains nothing with {join_words(less)}"


def _costs(found: Sensitivities, row: Sensitivity, figure: str = "") -> list[str]:
    """What the step that a row has taken for a figure costs of others, and where that is then another place's."""
    told = [JUMP_WORDS[figure.rpartition("_")[2]]] if figure and jumps(found, row, figure) else []
    if figure and gain(row, figure) <= 0:
        return told
    told += ["the hand-over then fails"] * bool({"handed_over_hz", "loaded_handed_over_hz"} & row.lost)
    idle = {"shelf_band_octaves", "even_band_octaves"} - {f"{band_judged(found.base)}_octaves"}
    much = {name: -gain(row, name) / COSTS[name] for name in COSTS if name not in (figure, *idle)}
    much = {name: size / (found.base.get(name) or 1.0) if name in SHARES else size for name, size in much.items()}
    worst = sorted((name for name in much if much[name] >= 1), key=lambda name: -much[name])
    return told + [
        f"{naming(name.removeprefix('loaded_')).words} {moved_words(row, name)}" for name in worst[:COSTS_TOLD]
    ]


def _in_brackets(told: list[str]) -> str:
    return f" ({'; '.join(told)})" if told else ""


def _hands_over(evaluation: Answer) -> str:
    """With which lever a hand-over that fails would come about; "" where none was found."""
    found = evaluation.sensitivities
    if found is None:
        return ""
    rows = handing_over(found)[:LEVERS_TOLD]
    told = [f"{step_words(row)}{_in_brackets(_costs(found, row))}" for row in rows]
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


def _softer(evaluation: Answer) -> str:
    """Where no lever alone makes a failing hand-over come about: that, and what a tenth of the advice costs."""
    found, figures = evaluation.sensitivities, evaluation.figures
    if found is None or found.loaded or figures is None or not figures.steps or figures.handed_over_hz is not None:
        return ""
    softer = [row.back for row in found.rows if row.back is not None and row.lever.key in of_steps(evaluation.design)]
    rows = [*softer, *(row for row in found.rows if row.lever.key.endswith(".tread"))]
    told = [step_words(row) + _in_brackets(costs) for row in rows if (costs := _costs(found, row))]
    mind = f"; mind what a tenth costs: {join_words(told)}" if told else ""
    return f"One number alone is too little, up to three times or a third of it as far as that can be built{mind}."


def end_of_band(evaluation: Answer) -> str:
    """What moves the frequency at which a driver's diaphragm leaves its coil, and with it the end of its band; "" where
    that was asked in vacuum alone.
    """
    found = evaluation.sensitivities
    moved = _moved(found, "loaded_departure_hz") if found is not None and found.loaded else ""
    return f"The 3 dB departure {moved}." if moved else ""


def _level_inside(figures: Figures, band: Band) -> float:
    """The level about which a band ends, near enough to tell a peak from a hole."""
    shelves = figures.shelves
    if shelves is None:
        return 0.0
    above = figures.handed_over_hz is not None and band.to_hz > figures.handed_over_hz
    return shelves.second if above and shelves.second is not None else shelves.first


def _levers(evaluation: Answer, figures: Figures, ends: str) -> str:
    """The numbers of the design file that move its band and its break-up mode most, or the level of a driver; those of
    the break-up mode where what ends the band has not told them.
    """
    found = evaluation.sensitivities
    if found is None:
        return ""
    band = f"{band_judged(figures.table())}_octaves"
    told: dict[str, list[str]] = {}  # by step
    names = ("median_level_db", "level_spread_db") if found.loaded else (band, "break_up_mode_hz")
    for name in names[: 1 if f"it {MEASURED}" in ends.lower() else 2]:
        if not (known := named(found, name)):
            continue
        rows = [as_helps(row, name) for row in known]
        best = max(rows, key=lambda row: gain(row, name))
        best = best if gain(best, name) > 0 else known[0]
        nothing = ["less gains nothing"] if best.back and gain(best, name) <= 0 else []
        costs = _costs(found, best, name) if step_words(best) not in ends else []  # told there already
        words = [moved_words(best, name), *costs, *nothing]
        told.setdefault(step_words(best), []).append(f"on the {naming(name).words}{_in_brackets(words)}")
    where = " in vacuum" if evaluation.driver is not None and not found.loaded else ""
    by_step = [f"{step} {' and '.join(on)}" for step, on in told.items()]
    return f"Strongest{where} of a tenth, diameters kept: {', '.join(by_step)}." if told else ""


def _rocking(evaluation: Answer, figures: Figures) -> str:
    """Rocking is told only where hardly anything damps it: then an uneven drive rings."""
    rocking = evaluation.modes.get(1)
    if rocking is None or not len(rocking) or rocking.loss_factor[0] >= POORLY_DAMPED:
        return ""
    if figures.departure_hz is not None and rocking.frequency_hz[0] > figures.departure_hz:
        return ""
    return (
        f"Rocking (m = 1) at {show_hz(float(rocking.frequency_hz[0]))} is poorly damped (loss factor "
        f"{digits(float(rocking.loss_factor[0]), 2)}): keep the drive even and the coil centred."
    )


def _believed(evaluation: Answer) -> str:
    """Where the solid's numbers stand above in place of the shell's."""
    opinion = evaluation.second_opinion
    if opinion is None or not opinion.differing:
        return ""
    ends = [name for name in opinion.differing if name.endswith(("_from_hz", "_to_hz"))]
    names = [name for name in opinion.differing if name not in ends] or ends  # a band's length tells of its ends
    shells = [opinion.differing[name][0] for name in names]
    told = [
        f"{naming(name).words} {'none' if shell is None else naming(name).text(shell)}"
        for name, shell in zip(names, shells, strict=True)
    ]
    more = f" and {len(told) - 4} more" if len(told) > 4 else ""
    which = "These are" if evaluation.driver is None else "Those in vacuum are"
    return f"{which} the solid model's numbers; the shell's are: {', '.join(told[:4])}{more}."
