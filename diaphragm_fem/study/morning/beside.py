"""Designs that rank along with the cases: the best as a drawing can say them, amounts rounded to a step or taken from a
list of gauges, solved again, and the base design."""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np

from diaphragm_fem.answer.machine.cores import one_thread
from diaphragm_fem.design.files.key_path import copied, read_path, write_path
from diaphragm_fem.errors import DiaphragmError
from diaphragm_fem.study.morning.ranking import Ranking, score_of
from diaphragm_fem.study.morning.results import Results
from diaphragm_fem.study.plan.amount import (
    Written,
    amount_in_si,
    kinds,
    read_amount,
    si_factor,
    split_amount,
    write_amount,
)
from diaphragm_fem.study.plan.study import Recipe, last_name
from diaphragm_fem.study.plan.wish import is_inside
from diaphragm_fem.study.run.case_row import CaseResult, find_evaluator

TROUBLES = (DiaphragmError, ArithmeticError, np.linalg.LinAlgError)
SPARE = 4  # cases looked at for each that is wanted: neighbours of a fine grid are the same on a drawing


@dataclass(frozen=True)
class Beside:
    """A design solved beside the store's cases.

    case     index into the results; None for the base design.
    amounts  of each thing that varies, as its file says them.
    found    what was solved; without figures where nothing could be, its curves may be empty.
    score    by the marks of the ranking (beyond 0 and 1 where it is worse or better than every case); nan unranked.
    inside   whether it keeps to all limits.
    trouble  why a best case could not be rounded (it stands as it was solved), or another design not be solved.
    """

    case: int | None
    data: Mapping[str, Any]
    amounts: Mapping[str, Written]
    found: CaseResult
    score: float
    inside: bool
    trouble: str = ""

    def figure(self, name: str) -> float:
        """A figure's value, nan where it does not exist."""
        value = self.found.figures.get(name)
        return float("nan") if value is None else value


@one_thread
def design_beside(results: Results, ranking: Ranking | None, data: Mapping[str, Any], evaluator: str) -> Beside:
    """A design that is no case, such as the base design with what [change] sets; its figures are empty where it cannot
    be solved.
    """
    trouble, found = "", CaseResult({})
    try:
        found = find_evaluator(evaluator)(data, results.recipe_beside)
    except TROUBLES as error:
        trouble = str(error)
    return _beside(results, ranking, None, data, found, trouble)


@one_thread
def best_as_drawn(results: Results, ranking: Ranking, evaluator: str) -> tuple[Beside, ...]:
    """The best cases, no two alike on a drawing, solved again as rounded and ranked by that; as many as asked for.
    Where rounding takes one beyond a limit, as it does where the best lie along it, those behind are looked at too.
    """
    study, seen = results.study, set()
    found: list[Beside] = []
    for case in ranking.order[: SPARE * study.best]:
        exact = study.recipe.design_of(results.written[case])
        drawn = as_drawn(study.recipe, exact, study.drawn)
        alike = tuple(drawn_amounts(study.recipe, drawn).values())
        if alike in seen:
            continue
        seen.add(alike)
        found.append(_drawn_case(results, ranking, int(case), exact, drawn, evaluator))
        if sum(one.inside for one in found) == study.best:
            break
    return tuple(sorted(found, key=lambda one: (not one.inside, -one.score))[: study.best])


def _drawn_case(
    results: Results, ranking: Ranking, case: int, exact: Mapping[str, Any], drawn: Mapping[str, Any], evaluator: str
) -> Beside:
    recipe = results.study.recipe
    try:
        reason = recipe.broken_constraint(drawn)
        if reason is None:
            return _beside(results, ranking, case, drawn, find_evaluator(evaluator)(drawn, results.recipe_beside), "")
        trouble = f'it breaks "{reason}"'
    except TROUBLES as error:
        trouble = str(error)
    with suppress(*TROUBLES):  # it was solved once; where another program did, its figures stand
        return _beside(results, ranking, case, exact, find_evaluator(evaluator)(exact, results.recipe_beside), trouble)
    return _beside(results, ranking, case, exact, results.of_case(case), trouble)


def _beside(
    results: Results,
    ranking: Ranking | None,
    case: int | None,
    data: Mapping[str, Any],
    found: CaseResult,
    trouble: str,
) -> Beside:
    judged = found.judged
    score = score_of(ranking, judged) if ranking is not None and judged else float("nan")
    inside = bool(judged) and is_inside(judged, results.study.limits)
    amounts = drawn_amounts(results.study.recipe, data)
    return Beside(case, data, amounts, found, score, inside, trouble)


LENGTH_STEP, THICKNESS_STEP = "0.01 mm", "1 um"
DIGITS = 3  # of what is no length

Steps = Mapping[str, Written | tuple[Written, ...]]  # by the name of what varies: a step, or a list of gauges


def as_drawn(recipe: Recipe, data: Mapping[str, Any], steps: Steps) -> dict[str, Any]:
    """A design with every amount that varies rounded: to the study's step or gauge for it, else to a whole 1 um
    (thicknesses), 0.01 mm (other lengths) or three digits. Names stay.
    """
    drawn = copied(data)
    for variable in recipe.variables:
        for key in variable.keys:
            amount = read_path(drawn, key)
            if split_amount(amount) is not None:
                write_path(drawn, key, _rounded(amount, last_name(key), steps.get(variable.name)))
    return drawn


def drawn_amounts(recipe: Recipe, data: Mapping[str, Any]) -> dict[str, Written]:
    """What each thing that varies is in a design: an amount or a name, never a ratio; what a base design leaves to its
    library is left out.
    """
    amounts: dict[str, Written] = {}
    for variable in recipe.variables:
        with suppress(KeyError):
            amount = read_amount(data, variable.keys[0])
            amounts[variable.name] = amount["value"] if isinstance(amount, Mapping) else amount
    return amounts


def _rounded(amount: Written, name: str, step: Written | tuple[Written, ...] | None) -> Written:
    number, unit = split_amount(amount) or (0.0, "")
    size = number * (si_factor(unit) or 1.0)
    if isinstance(step, tuple):
        return min(step, key=lambda gauge: abs((amount_in_si(gauge) or 0.0) - size))
    if step is None:
        if "m" not in kinds(unit):
            return _written(float(f"{number:.{DIGITS}g}"), unit)
        step = THICKNESS_STEP if name == "thickness" else LENGTH_STEP
    width, unit = split_amount(step) or (1.0, "")
    return _written(round(size / (width * (si_factor(unit) or 1.0))) * width, unit)


def _written(number: float, unit: str) -> Written:
    """An amount as a drawing says it: 138 um, not 138.0 um, which would be a tenth of it."""
    return f"{number:.9g} {unit}" if unit else write_amount(number, unit)
