"""The verdict on one design in plain words: what happens, what limits the part, what to change."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from diaphragm_fem.analysis.figures import Figures
from diaphragm_fem.analysis.modes import Modes
from diaphragm_fem.analysis.response_bands import Band, Extreme
from diaphragm_fem.answer.evaluate import Evaluation
from diaphragm_fem.design.zone import Role, Zone
from diaphragm_fem.report.study_words import naming
from diaphragm_fem.report.words import digits, join_words, show_area, show_band, show_db, show_hz, show_mass

OCTAVES_WANTED = 4.0  # common practice, no source
SMOOTH_WITHIN_DB = 1.0  # of its shelf: a peak or hole smaller than this is not worth a sentence
ALSO_NAMED = 0.3  # of a mode's strain: the second zone is named beside the first
POORLY_DAMPED = 0.02  # loss factor of a rocking mode: below it an uneven drive rings
NEAR_MODE = 2 ** (1 / 6)  # a peak belongs to a mode within a sixth of an octave

REMEDIES = {
    Role.COIL: "shorten the bare former or take a stiffer one",
    Role.DRIVEN: "a thicker or faster wall there, or a deeper profile, moves it up",
    Role.STEP: "its width and thickness place it, more loss in its material flattens it",
    Role.BEYOND: "a shorter or stiffer flank there moves it up, more loss flattens it",
    Role.SURROUND: "a lighter or narrower surround moves it up, more loss flattens it",
    Role.OTHER: "a stiffer wall there moves it up",
}


def verdict(evaluation: Evaluation) -> str:
    """One paragraph: from the resonance to the break-up mode, what ends its band, and what to change."""
    figures = evaluation.figures
    if figures is None:
        return _undriven(evaluation)
    sentences = (
        _piston(figures), _follows(figures), _steps(figures), _smooth(figures), _bands(figures), _break_up(figures),
        _change(evaluation, figures), _rocking(evaluation, figures), _believed(evaluation),
    )  # fmt: skip
    return " ".join(sentence for sentence in sentences if sentence)


def _undriven(evaluation: Evaluation) -> str:
    counted = ", ".join(f"{len(x)} of order m = {m}" for m, x in evaluation.modes.items())
    lowest = [x.frequency_hz[0] for x in evaluation.modes.values() if len(x)]
    begin = f"the lowest at {show_hz(min(lowest))}" if lowest else "none at all"
    why = "There is no coil to drive it" if evaluation.design.joint is None else "Order m = 0 was not asked for"
    return f"{why}, so only modes are given: {counted} up to {show_hz(evaluation.up_to_hz)}, {begin}."


def _piston(figures: Figures) -> str:
    area = show_area(figures.low_area_m2)
    if figures.fundamental_hz is None:
        return f"No fundamental resonance: {figures.reason('fundamental_hz')}. At rest it sweeps {area}."
    return (
        f"It resonates at {show_hz(figures.fundamental_hz)}, {show_mass(figures.moving_mass_kg)} on "
        f"{digits((figures.stiffness_n_per_m or 0) / 1e3)} N/mm, and sweeps {area} at rest."
    )


def _follows(figures: Figures) -> str:
    """How far the driven zones ride with the coil, and which leaves first."""
    followed = [one for one in figures.departures if one.departure_hz is not None or "follows" in one.reason]
    if not followed:
        return f"{_capital(figures.reason('departure_hz'))}."
    names = [one.zone for one in followed]
    whom = f"the {names[0]} follows" if len(names) == 1 else f"{_all_of(names)} follow"
    first = figures.first_to_leave
    if first is None:
        return f"{_capital(whom)} the coil within 3 dB up to {show_hz(figures.top_hz)}, the end of the range."
    text = f"Up to {show_hz(first.departure_hz)} {whom} the coil within 3 dB"
    if len(names) > 1:
        later = [one for one in followed if one is not first]
        told = ", ".join(
            f"the {one.zone} {f'at {show_hz(one.departure_hz)}' if one.departure_hz else 'not in the range'}"
            for one in later
        )
        text += f"; the {first.zone} leaves first, {told}"
    return text + "."


def _all_of(names: Sequence[str]) -> str:
    return "both driven zones" if len(names) == 2 else f"all {len(names)} driven zones"


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
    return (
        f"{text}: {show_area(figures.high_area_m2)}, {show_db(figures.area_ratio_db)} of the area at rest, within "
        f"{digits(figures.ripple_db or 0.0, 2)} dB."
    )


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
    against = "its shelf" if figures.shelf_2_db is None else "its shelves"
    return f"The output per newton is not smooth against {against}: {'; '.join(told)}."


def _made_by(extreme: Extreme) -> str:
    if extreme.against_zone is None:
        return f"most of it by the {extreme.with_zone}"
    return f"where the {extreme.against_zone} works against the {extreme.with_zone}"


def _bands(figures: Figures) -> str:
    if figures.even_band is None:
        return ""
    text = f"Even within 6 dB: {show_band(figures.even_band)}"
    judged = figures.even_band
    if figures.steps:
        judged = figures.shelf_band or figures.even_band
        if figures.shelf_band is not None:
            text += f"; on its shelves within 3 dB: {show_band(figures.shelf_band)}"
    enough = "at least" if judged.octaves >= OCTAVES_WANTED else "fewer than"
    return f"{text}, {enough} the four octaves that common practice asks of one diaphragm."


def _break_up(figures: Figures) -> str:
    mode = figures.break_up_mode
    if mode.frequency_hz is None:
        return f"The first break-up mode lies {mode.reason}."
    return f"First break-up mode {show_hz(mode.frequency_hz)}, {_strain_words(mode.shares)}."


def _strain_words(shares: Mapping[str, float]) -> str:
    """ "82 % of its bending in the dome and 30 % in the former"."""
    held = list(shares.items())
    told = [held[0], *(pair for pair in held[1:2] if pair[1] >= ALSO_NAMED)]
    return join_words([f"{100 * share:.0f} % of its strain in the {zone}" for zone, share in told])


def _change(evaluation: Evaluation, figures: Figures) -> str:
    """What ends the band that the design is judged by, and where the strain of that motion sits."""
    band = figures.shelf_band if figures.steps and figures.shelf_band else figures.even_band
    modes = evaluation.modes.get(0)
    if band is None or band.ended_by is None or modes is None or not len(modes):
        return ""
    ended = band.ended_by
    what = f"the {'peak' if ended.level_db > _level_inside(figures, band) else 'hole'} at {show_hz(ended.frequency_hz)}"
    index = _mode_behind(modes, ended, figures, band)
    leading = int(np.argmax(modes.strain_share[index]))
    zone, share = modes.zones[leading], float(modes.strain_share[index, leading])
    mode_hz = float(modes.frequency_hz[index])
    of = "the break-up mode" if mode_hz == figures.break_up_mode.frequency_hz else f"the mode at {show_hz(mode_hz)}"
    return f"Its band ends in {what}: {of} has {100 * share:.0f} % of its strain in the {zone.name}; {_remedy(zone)}."


def _level_inside(figures: Figures, band: Band) -> float:
    """The level about which the band runs, near enough to tell up from down."""
    shelves = figures.shelves
    if shelves is None:
        return 0.0
    above = figures.handed_over_hz is not None and band.to_hz > figures.handed_over_hz
    return shelves.second if above and shelves.second is not None else shelves.first


def _mode_behind(modes: Modes, ended: Extreme, figures: Figures, band: Band) -> int:
    """The nearest mode of a peak; of a hole the last mode below it, whose zone by then works against the others."""
    if ended.level_db > _level_inside(figures, band):
        return int(np.argmin(np.abs(np.log(modes.frequency_hz / ended.frequency_hz))))
    return max(int(np.searchsorted(modes.frequency_hz, ended.frequency_hz)) - 1, 0)


def _remedy(zone: Zone) -> str:
    return REMEDIES[zone.role]


def _rocking(evaluation: Evaluation, figures: Figures) -> str:
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


def _believed(evaluation: Evaluation) -> str:
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
