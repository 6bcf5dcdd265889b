"""A design at a glance, which heads its page: what it is, how good it is, what limits it, what to change."""

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.driver.driver import Driver
from diaphragm_fem.report.words.advice import (
    end_of_band,
    peak_moved,
    plays_on,
    strongest_levers,
    what_hands_over,
    what_softer_costs,
)
from diaphragm_fem.report.words.heard import level_words, lows, plays_sentence, shared_exit
from diaphragm_fem.report.words.sentences import SOFTER, bands, capital, hand_over_fails
from diaphragm_fem.report.words.told import Told, joined
from diaphragm_fem.report.words.verdict import limit
from diaphragm_fem.report.words.words import join_words, one, show_mm, show_own_thickness

MATERIALS_NAMED = 4  # of the largest areas first
PART, GOOD, LIMIT, CHANGE = "what it is", "how good", "what limits it", "what to change"


def glance(evaluation: Answer) -> list[tuple[str, str]]:
    """Each question with its answer, those that have one. Of a driver its level with everything on answers, and what is
    of the part in vacuum is said to be."""
    told = [(PART, part_words(evaluation.design))]
    if evaluation.figures is not None:
        answers = _of_part if evaluation.driver is None else _of_driver
        told += zip((GOOD, LIMIT, CHANGE), answers(evaluation), strict=True)
    return [(question, answer) for question, answer in told if answer]


def _of_part(evaluation: Answer) -> tuple[str, str, str]:
    figures = evaluation.figures
    assert figures is not None
    ends, change = limit(evaluation)
    change = change or strongest_levers(evaluation, figures, Told(ends)).words
    fails = hand_over_fails(figures)
    comes = (_comes(evaluation) or SOFTER) if fails else ""
    return bands(figures), _joined(capital(fails), ends), _joined(comes, change)


def _of_driver(evaluation: Answer) -> tuple[str, str, str]:
    """What puts the departure off made the spread of a driver worse by 3 dB, for its band gets longer, and the level
    falls: that is told where there is no level."""
    driver, figures, found = evaluation.driver, evaluation.figures, evaluation.sensitivities
    assert driver is not None and figures is not None
    ends, change = limit(evaluation)
    fails, heard = hand_over_fails(driver.figures.loaded), driver.figures.median_level_db is not None
    alone = "" if heard else _in_vacuum(bands(figures))
    good = _joined(*shared_exit(driver), level_words(driver), *plays_sentence(driver), alone)
    if found is not None and found.loaded:
        farther, peak = plays_on(evaluation), peak_moved(evaluation)
        helps = strongest_levers(evaluation, figures, joined([farther, peak]))
        comes = _comes(evaluation) if fails else ""
        change = _joined(farther.within("{}."), comes, peak, helps) or end_of_band(evaluation).words
    change = change or strongest_levers(evaluation, figures, Told(ends)).words
    return good, _joined(*lows(driver), capital(fails), _in_vacuum(ends)), capital(change)


def _comes(evaluation: Answer) -> str:
    """With what a hand-over that fails would come about, or what the rule for that costs."""
    comes = what_hands_over(evaluation) or what_softer_costs(evaluation)
    return comes.words.replace("It comes", "A hand-over comes", 1)


def _joined(*sentences: str | Told) -> str:
    return joined(sentences).words


def _in_vacuum(told: str) -> str:
    return f"In vacuum: {told[:1].lower()}{told[1:]}" if told else ""


def part_words(design: Design) -> str:
    """ "34.4 mm across, driven on 28.0 mm; treated silk of 130 to 160 µm; in vacuum." """
    across = 2 * max(float(end.point[0]) for piece in design.meridian for end in piece.curve.ends)
    circle = "" if design.joint_radius is None else f", driven on {show_mm(2 * design.joint_radius)}"
    return f"{show_mm(across)} across{circle}; {_walls(design)}; {_around(design.driver)}."


def _walls(design: Design) -> str:
    """The materials of the wall, what covers most first, each with its thicknesses; a stack as one."""
    made_of: dict[tuple[str, ...], list[Piece]] = {}
    for piece in design.meridian:
        own = [layer.material.name for layer in piece.wall.layers if layer.glued is None]
        made_of.setdefault(tuple(own), []).append(piece)
    walls = sorted(made_of.items(), key=lambda pair: -sum(map(_area, pair[1])))
    told = [f"{' + '.join(names)} of {show_own_thickness(pieces)}" for names, pieces in walls[:MATERIALS_NAMED]]
    more = len(walls) - MATERIALS_NAMED
    return join_words([*told, *([f"{more} more"] if more > 0 else [])])


def _area(piece: Piece) -> float:
    return piece.curve.length * float(piece.curve.point(piece.curve.length / 2)[0])


def _around(driver: Driver | None) -> str:
    """What surrounds it: "in a baffle", "behind a plug with 2 slots, exit of 30.0 mm"."""
    if driver is None:
        return "in vacuum"
    told = []
    if driver.front is not None:
        slots = f" with {one(len(driver.front.slots), 'slot')}" if driver.front.slots else ""
        where = {"baffle": "in a baffle", "thin chamber": f"behind a plug{slots}"}
        told.append(where.get(driver.front.kind, f"behind a chamber of even pressure{slots}"))
    if driver.exit is not None:
        told.append(f"exit of {show_mm(driver.exit.diameter)}{' into a horn' * (driver.exit.end == 'horn')}")
    if driver.second_section is not None:
        told.append("the first of two sections")
    return ", ".join(told) or "in its driver"
