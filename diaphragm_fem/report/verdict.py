"""The verdict on one design in plain words: what happens, what limits the part, what to change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from diaphragm_fem.analysis.figures import Figures
from diaphragm_fem.analysis.label import short_name
from diaphragm_fem.analysis.response_bands import Band, Extreme
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.design.zone import Role
from diaphragm_fem.report.figure_words import change_words
from diaphragm_fem.report.study_words import naming
from diaphragm_fem.report.words import digits, join_words, show_area, show_band, show_db, show_hz

OCTAVES_WANTED = 4.0  # common practice, no source
SMOOTH_WITHIN_DB = 1.0  # of its shelf: a peak or hole smaller than this is not worth a sentence
ALSO_NAMED = 0.3  # of a mode's strain: the second zone is named beside the first
POORLY_DAMPED = 0.02  # loss factor of a rocking mode: below it an uneven drive rings

REMEDIES = {
    Role.COIL: "a shorter bare former or a stiffer one moves it up",
    Role.DRIVEN: "a thicker or faster wall there, or a deeper profile, moves it up",
    Role.STEP: "its width and thickness place it, more loss flattens it",
    Role.BEYOND: "a shorter or stiffer flank there moves it up, more loss flattens it",
    Role.SURROUND: "a lighter or narrower surround moves it up, more loss flattens it",
    Role.OTHER: "a stiffer wall there moves it up",
}


def verdict(evaluation: Answer) -> str:
    """One paragraph: from the resonance to the break-up mode, what ends its band, and what to change."""
    figures = evaluation.figures
    if figures is None:
        return _undriven(evaluation)
    sentences = (
        _piston(figures), _follows(figures), _steps(figures), _smooth(figures), _bands(figures), _break_up(figures),
        _limit(evaluation, figures), _levers(evaluation, figures), _rocking(evaluation, figures), _believed(evaluation),
        *_taken(evaluation),
    )  # fmt: skip
    return " ".join(sentence for sentence in sentences if sentence)


def limit(evaluation: Answer) -> str:
    """What ends the band and what that asks for, or the break-up mode where nothing ends it; "" without a drive."""
    figures = evaluation.figures
    if figures is None:
        return ""
    band, told = _judged(figures), _limit(evaluation, figures)
    ends = band is not None and band.ended_by is not None
    return told if ends else f"{_break_up(figures)} {told}".strip()


def _undriven(evaluation: Answer) -> str:
    counted = ", ".join(f"{len(x)} of order m = {m}" for m, x in evaluation.modes.items())
    lowest = [x.frequency_hz[0] for x in evaluation.modes.values() if len(x)]
    begin = f"the lowest at {show_hz(min(lowest))}" if lowest else "none at all"
    why = "There is no coil to drive it" if evaluation.design.joint is None else "Order m = 0 was not asked for"
    modes = f"{why}, so only modes are given: {counted} up to {show_hz(evaluation.up_to_hz)}, {begin}."
    return " ".join([modes, *_taken(evaluation)])


def _taken(evaluation: Answer) -> list[str]:
    """What the file left open and was taken for it: a coil, edges, corners."""
    design = evaluation.design
    told = [f"{_capital(note)}." for note in design.notes]
    if design.joint is not None and not design.former and design.ring is None:
        told.append("No coil is given: a bare force drives the circle where one would sit, and its mass is missing.")
    return told


def _piston(figures: Figures) -> str:
    area = show_area(figures.low_area_m2)
    if figures.fundamental_hz is None:
        return f"No fundamental resonance: {figures.reason('fundamental_hz')}; {area} at rest."
    return f"Fundamental resonance {show_hz(figures.fundamental_hz)}, {area} at rest."


def _follows(figures: Figures) -> str:
    """How far the driven zones ride with the coil, and which leaves first."""
    followed = [one for one in figures.departures if one.departure_hz is not None or "follows" in one.reason]
    if not followed:
        return f"{_capital(figures.reason('departure_hz'))}."
    names = [one.zone for one in followed]
    whom = f"The {names[0]} follows" if len(names) == 1 else f"{_all_of(names)} follow"
    first = figures.first_to_leave
    if first is None:
        return f"{whom} the coil within 3 dB up to the end of the range, {show_hz(figures.top_hz)}."
    text = f"{whom} the coil within 3 dB up to {show_hz(first.departure_hz)}"
    if len(names) > 1:
        text += f"; the {first.zone.removesuffix(' driven zone')} leaves first"
    return text + "."


def _all_of(names: Sequence[str]) -> str:
    return "Both driven zones" if len(names) == 2 else f"All {len(names)} driven zones"


def _steps(figures: Figures) -> str:
    if not figures.steps:
        return ""
    lets_go = [f"the {s.name} at {show_hz(s.decoupling_hz)}" for s in figures.steps if s.decoupling_hz]
    never = [f"the {s.name}" for s in figures.steps if not s.decoupling_hz]
    words = []
    if lets_go:
        words.append(f"{join_words(lets_go)} let{'s' if len(lets_go) == 1 else ''} go")
    if never:
        words.append(f"{join_words(never)} do{'es' if len(never) == 1 else ''} not let go in the range")
    text = _capital(", ".join(words)) + "; "
    if figures.handed_over_hz is None:
        return (
            f"{text}the hand-over fails: {figures.reason('handed_over_hz')}. "
            "A softer or wider step, or more loss in it, would help."
        )
    text += f"from {show_hz(figures.handed_over_hz)} the motion is handed over"
    if figures.high_area_m2 is None:
        return f"{text}, right where it leaves the coil."
    return f"{text}, to {show_area(figures.high_area_m2)} within {digits(figures.ripple_db or 0.0, 2)} dB."


def _smooth(figures: Figures) -> str:
    """The highest peak and the deepest hole of the output per newton, and who makes them."""
    told = []
    peak, hole = next(iter(figures.peaks), None), next(iter(figures.holes), None)
    if peak is not None and peak.against_shelf_db >= SMOOTH_WITHIN_DB:
        told.append(f"{show_db(peak.against_shelf_db)} at {show_hz(peak.frequency_hz)}, {_made_by(peak)}")
    if hole is not None and hole.against_shelf_db <= -SMOOTH_WITHIN_DB:
        told.append(f"{show_db(hole.against_shelf_db)} at {show_hz(hole.frequency_hz)}, {_made_by(hole)}")
    if not told:
        return ""
    shelf = "shelf" if figures.shelf_2_db is None else "shelves"
    return f"Output per newton against its {shelf}: {'; '.join(told)}."


def _made_by(extreme: Extreme) -> str:
    if extreme.against_zone is None:
        return f"mostly from the {short_name(extreme.with_zone)}"
    return f"where the {short_name(extreme.against_zone)} works against the {short_name(extreme.with_zone)}"


def _bands(figures: Figures) -> str:
    if figures.even_band is None:
        return f"No even band: {figures.reason('even_band_octaves')}."
    text = f"Even within 6 dB: {show_band(figures.even_band)}"
    if figures.steps and figures.shelf_band is not None:
        text += f"; within 3 dB of its shelves: {show_band(figures.shelf_band)}"
    enough = "at least" if (_judged(figures) or figures.even_band).octaves >= OCTAVES_WANTED else "fewer than"
    return f"{text}; {enough} the four of common practice."


def _judged(figures: Figures) -> Band | None:
    """The band that a design is judged by: that of its shelves where it has steps."""
    return figures.shelf_band if figures.steps and figures.shelf_band is not None else figures.even_band


def _break_up(figures: Figures) -> str:
    mode = figures.break_up_mode
    if mode.frequency_hz is None:
        return f"First break-up mode {mode.reason}."
    return f"First break-up mode {show_hz(mode.frequency_hz)}, {_strain_words(mode.shares)}."


def _strain_words(shares: Mapping[str, float]) -> str:
    """ "82 % of its strain in the dome and 30 % in the former"."""
    held = list(shares.items())
    told = [held[0], *(pair for pair in held[1:2] if pair[1] >= ALSO_NAMED)]
    (zone, share), *others = told
    more = [f"{100 * other:.0f} % in the {name}" for name, other in others]
    return join_words([f"{100 * share:.0f} % of its strain in the {zone}", *more])


def _limit(evaluation: Answer, figures: Figures) -> str:
    """What ends the band that the design is judged by, where the strain of that motion sits, and what that asks for."""
    band, modes = _judged(figures), evaluation.modes.get(0)
    if band is None or band.ended_by is None or modes is None or not len(modes):
        leading_zone = next(iter(figures.break_up_mode.shares), None)
        roles = {zone.name: zone.role for zone in evaluation.design.zones}
        return "" if leading_zone is None else f"{_capital(REMEDIES[roles[leading_zone]])}."
    ended, upward = band.ended_by, band.ended_by.level_db > _level_inside(figures, band)
    # behind a peak stands the nearest mode; behind a hole the last one below it, whose zone by then works against
    if upward:
        index = int(np.argmin(np.abs(np.log(modes.frequency_hz / ended.frequency_hz))))
    else:
        index = max(int(np.searchsorted(modes.frequency_hz, ended.frequency_hz)) - 1, 0)
    leading = int(np.argmax(modes.strain_share[index]))
    zone, share, hz = modes.zones[leading], modes.strain_share[index, leading], float(modes.frequency_hz[index])
    which = "shelf" if band is figures.shelf_band else "even"
    return (
        f"The {which} band ends in the {'peak' if upward else 'hole'} at {show_hz(ended.frequency_hz)}: the mode at "
        f"{show_hz(hz)} has {100 * share:.0f} % of its strain in the {zone.name}; {REMEDIES[zone.role]}."
    )


def _level_inside(figures: Figures, band: Band) -> float:
    """The level about which a band ends, near enough to tell a peak from a hole."""
    shelves = figures.shelves
    if shelves is None:
        return 0.0
    above = figures.handed_over_hz is not None and band.to_hz > figures.handed_over_hz
    return shelves.second if above and shelves.second is not None else shelves.first


def _levers(evaluation: Answer, figures: Figures) -> str:
    """The numbers of the design file that move its band and its break-up mode most."""
    found = evaluation.sensitivities
    if found is None:
        return ""
    band = "shelf_band_octaves" if _judged(figures) is figures.shelf_band else "even_band_octaves"
    told = []
    for name in (band, "break_up_mode_hz"):
        row = found.strongest(name)
        if row is not None:
            told.append(f"{naming(name).words} most by {row.lever.key} ({change_words(row, name)})")
    return f"Per +10 %: {', '.join(told)}." if told else ""


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
    told = [
        f"{naming(name).words} {'none' if shell is None else naming(name).text(shell, 3)}"
        for name, (shell, _) in opinion.differing.items()
        if not name.endswith(("_from_hz", "_to_hz"))
    ]
    more = f" and {len(told) - 4} more" if len(told) > 4 else ""
    return f"These are the solid model's numbers; the shell differs: {', '.join(told[:4])}{more}."


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
