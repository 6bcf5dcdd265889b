"""Designs that rank along with the cases: the best as a drawing says them, solved again, and the base design."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np

from diaphragm_fem.answer.machine.one_thread import one_thread
from diaphragm_fem.errors import DiaphragmError
from diaphragm_fem.study.morning.drawing_steps import as_drawn, drawn_amounts
from diaphragm_fem.study.morning.ranking import Ranking, score_of
from diaphragm_fem.study.morning.results import Results
from diaphragm_fem.study.plan.amount import Written
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
