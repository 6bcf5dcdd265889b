"""The verdict on one design in plain words: what happens, what limits the part, what to change."""

import re
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.analysis.figures.response_bands import Band
from diaphragm_fem.analysis.modes.modes import Modes
from diaphragm_fem.answer.change.sensitivity import Sensitivity
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.report.words.advice import (
    end_of_band,
    peak_moved,
    plays_on,
    remedy,
    strongest_levers,
    what_hands_over,
    what_softer_costs,
)
from diaphragm_fem.report.words.driver import moves_loaded
from diaphragm_fem.report.words.heard import heard
from diaphragm_fem.report.words.sentences import break_up, capital, in_vacuum, judged, strain_words, what_happens
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.told import NOTHING, Sentences, Told, joined
from diaphragm_fem.report.words.words import digits, join_words, show_hz

ONE_MODE = 0.01  # of its frequency: so near the mode that ends a band is the break-up mode
LEFT_OUT = "Of the part in vacuum alone: its driver is left out, the first warning says why."
AN_OCTAVE, FAIR_PART = 1.0, 0.25  # of what the mode that sweeps most within an octave of a peak or hole does there
POORLY_DAMPED = 0.02  # loss factor of a rocking mode: below it an uneven drive rings


def verdict(evaluation: Answer) -> str:
    """The points of the verdict in one paragraph."""
    return " ".join(points(evaluation))


def points(evaluation: Answer) -> list[str]:
    """What happens, how even the response is, what ends it, what to change, what to know besides: a point each.

    Of a driver what it does with everything on leads, and what is of the part in vacuum is said to be.
    """
    return [point.words for point in _points(evaluation)]


def told_steps(evaluation: Answer) -> tuple[Sensitivity, ...]:
    """The steps of levers that the verdict tells, in its order."""
    return () if evaluation.sensitivities is None else joined(_points(evaluation)).steps


def _points(evaluation: Answer) -> list[Told]:
    figures = evaluation.figures
    if figures is None:
        return [Told(one) for one in (_undriven(evaluation), *_taken(evaluation))]
    happens = _of_part(evaluation, figures) if evaluation.driver is None else _of_driver(evaluation, figures)
    besides = [_rocking(evaluation, figures), _believed(evaluation), *_taken(evaluation)]
    return [point for sentences in (*happens, besides) if (point := joined(sentences))]


def _keys(told: Iterable[str | Told]) -> str:
    """What the design file calls the numbers of the steps that are told, in that order."""
    keys = dict.fromkeys(one.lever.key for one in joined(told).steps if one.lever.table)
    return f"Keys: {join_words(list(keys))}." if keys else ""


def _of_part(evaluation: Answer, figures: Figures) -> list[Sentences]:
    ends = joined(_limit(evaluation, figures), "; ")
    ends = replace(ends, words=capital(ends.words)).within("{}.")
    moves, response = what_happens(figures, what_hands_over(evaluation), what_softer_costs(evaluation))
    left_out = [LEFT_OUT] * (evaluation.design.driver is not None)
    changes = strongest_levers(evaluation, figures, ends)
    keys = _keys([*moves, ends, changes])
    return [[*left_out, *moves], response, [break_up(figures), ends], [changes, keys]]


def _of_driver(evaluation: Answer, figures: Figures) -> list[Sentences]:
    driver, found = evaluation.driver, evaluation.sensitivities
    assert driver is not None  # points has looked
    farther, peak = plays_on(evaluation), peak_moved(evaluation)
    changes = [peak, strongest_levers(evaluation, figures, joined([farther, peak])), end_of_band(evaluation)]
    first = found is not None and found.loaded
    comes = (what_hands_over(evaluation) or what_softer_costs(evaluation)) if first else NOTHING
    changes.append(Told(_keys([farther, comes, *changes])))
    both, own = heard(driver, farther)
    moves, alone = moves_loaded(driver, comes), [in_vacuum(figures)]
    if both:  # one point then is of the first section
        return [both, changes, [*own, *moves, *alone]]
    return [own, moves, changes, alone] if first else [own, moves, alone, changes]


def limit(evaluation: Answer) -> tuple[str, str]:
    """What ends the band, or the break-up mode where nothing ends it, and what moves that; "" without a drive, and
    where nothing is known to."""
    figures = evaluation.figures
    if figures is None:
        return "", ""
    ends, asked = _limit(evaluation, figures)
    told = f"{ends}." if ends else ""
    whole = told if told.startswith("The ") else f"{break_up(figures)} {told}".strip()
    return whole, capital(asked.within("{}.").words)


def _undriven(evaluation: Answer) -> str:
    counted = join_words([f"{len(x)} of order m = {m}" for m, x in evaluation.modes.items()])
    lowest = [x.frequency_hz[0] for x in evaluation.modes.values() if len(x)]
    begin = f"the lowest at {show_hz(min(lowest))}" if lowest else "none at all"
    why = "The edge holds the circle where the coil would drive it"
    if evaluation.design.joint is None:
        why = "There is no coil to drive it"
    elif 0 not in evaluation.modes:
        why = "Order m = 0 was not asked for"
    modes = f"{why}, so only modes are given: {counted} up to {show_hz(evaluation.up_to_hz)}, {begin}."
    return modes


def _taken(evaluation: Answer) -> list[str]:
    """What the file left open and was taken for it: a coil, edges, corners."""
    design = evaluation.design
    keyed = [re.match(r"\w+[.\[][^:]*:", note) for note in design.notes]  # a key stays as it is written
    told = [f"{note if key else capital(note)}." for note, key in zip(design.notes, keyed, strict=True)]
    if design.joint is not None and not design.former and design.ring is None:
        told.append("No coil is given: a bare force drives the circle where one would sit, and its mass is missing.")
    return told


def _limit(evaluation: Answer, figures: Figures) -> tuple[str, Told]:
    """What ends the band that the design is judged by, where the strain of that motion sits, and what that asks for;
    "" where nothing ends it or nothing is asked.

    Behind the sentence on the break-up mode: where that ends the band, or nothing does, it goes on about it.
    """
    band, modes, mode = judged(figures), evaluation.modes.get(0), figures.break_up_mode
    roles = {zone.name: zone.role for zone in evaluation.design.zones}
    leading_zone = next(iter(mode.shares), None)
    if band is None or band.ended_by is None or modes is None or not len(modes):
        asked = NOTHING if leading_zone is None else remedy(evaluation, "it", "break_up_mode_hz", roles[leading_zone])
        return "", asked
    ended, upward = band.ended_by, band.ended_by.level_db > _level_inside(figures, band)
    which = "shelf" if band is figures.shelf_band else "even"
    peak = f"in the {'peak' if upward else 'hole'} at {show_hz(ended.frequency_hz)}"
    # the fundamental, on which the band stands, is not what ends it
    first = int(np.searchsorted(modes.frequency_hz, (figures.fundamental_hz or 0.0) * (1 + ONE_MODE)))
    index = _behind(modes, ended.frequency_hz, min(first, len(modes) - 1), upward)
    hz = float(modes.frequency_hz[index])
    solid = evaluation.second_opinion is not None and bool(evaluation.second_opinion.differing)
    if solid:  # its modes are not in this list: of a dome about a soft core one at 5.19 kHz was blamed for its 5.66
        hz = ended.frequency_hz
    if leading_zone is not None and mode.frequency_hz is not None and abs(hz / mode.frequency_hz - 1) < ONE_MODE:
        told = f"It ends the {which} band at {show_hz(band.to_hz)}, {peak}"
        # of the end, not of the mode: +354 Hz of a V's mode were +140 Hz of the end, where another mode then stood
        asked = remedy(evaluation, "that end", f"{which}_band_to_hz", roles[leading_zone])
    elif solid:
        return f"The {which} band ends at {show_hz(band.to_hz)}, {peak}", NOTHING
    else:
        leading = int(np.argmax(modes.strain_share[index]))
        zone, share = modes.zones[leading], modes.strain_share[index, leading]
        mode_words = f"the mode at {show_hz(hz)} makes ({100 * share:.0f} % of its strain in the {zone.name})"
        told = f"The {which} band ends at {show_hz(band.to_hz)}, {peak} that {mode_words}"
        asked = remedy(evaluation, "that end", f"{which}_band_to_hz", zone.role)
    return told, asked


def _behind(modes: Modes, hz: float, first: int, upward: bool) -> int:
    """Which mode from `first` on makes a peak (else a hole) at a frequency in Hz: of those that move a fair part of the
    air there, for the nearest of all may move none, the nearest to a peak, the last one below a hole, whose zone by
    then works against."""
    away, swept = np.log2(modes.frequency_hz / hz), modes.swept(hz)
    swept[:first] = -1.0
    most = swept[np.abs(away) < AN_OCTAVE].max(initial=0.0) or swept.max()
    fair = np.flatnonzero(swept >= FAIR_PART * most)
    if upward:
        return int(fair[np.argmin(np.abs(away[fair]))])
    return int(fair[max(int(np.searchsorted(away[fair], 0.0)) - 1, 0)])


def _level_inside(figures: Figures, band: Band) -> float:
    """The level about which a band ends, near enough to tell a peak from a hole."""
    shelves = figures.shelves
    if shelves is None:
        return 0.0
    above = figures.handed_over_hz is not None and band.to_hz > figures.handed_over_hz
    return shelves.second if above and shelves.second is not None else shelves.first


def _rocking(evaluation: Answer, figures: Figures) -> str:
    """Rocking is told only where hardly anything damps it: then an uneven drive rings, and more loss helps."""
    rocking = evaluation.modes.get(1)
    if rocking is None or not len(rocking) or rocking.loss_factor[0] >= POORLY_DAMPED:
        return ""
    if figures.departure_hz is not None and rocking.frequency_hz[0] > figures.departure_hz:
        return ""
    shares = {rocking.zones[k].name: float(rocking.strain_share[0, k]) for k in np.argsort(-rocking.strain_share[0])}
    return (
        f"Rocking (m = 1) at {show_hz(float(rocking.frequency_hz[0]))} is poorly damped (loss factor "
        f"{digits(float(rocking.loss_factor[0]), 2)}; {strain_words(shares)}, where more loss would "
        "help): keep the drive even and the coil centred."
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
    told = [*told[:4], *[f"{len(told) - 4} more"] * (len(told) > 4)]
    which = "These are" if evaluation.driver is None else "Those in vacuum are"
    return f"{which} the solid model's numbers; the shell's are: {join_words(told)}."
