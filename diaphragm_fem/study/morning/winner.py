"""The best case solved once more: what its place may be owed to, and how far its shell is from the solid."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from diaphragm_fem.analysis.figure_definitions import DEFINITIONS
from diaphragm_fem.analysis.thresholds import Threshold, threshold_of
from diaphragm_fem.answer.one_thread import one_thread
from diaphragm_fem.answer.quick import quick, quick_of
from diaphragm_fem.answer.second_opinion import differing
from diaphragm_fem.design.read import design_from
from diaphragm_fem.errors import DiaphragmError
from diaphragm_fem.study.morning.ranking import Ranking
from diaphragm_fem.study.morning.results import Results
from diaphragm_fem.study.plan.study import wanted_of


@dataclass(frozen=True)
class Winner:
    """thresholds: the nearest near miss of each wish, where there is one; differing: figures (name -> shell's, solid's)
    in which the two models of this case differ by more than 2 %; solid: whether the solid could be asked.
    """

    case: int
    thresholds: tuple[Threshold, ...]
    differing: Mapping[str, tuple[float | None, float | None]]
    solid: bool


@one_thread
def examine_winner(results: Results, ranking: Ranking) -> Winner | None:
    """The first of a ranking; None where there is none, its figures are not this program's, or it cannot be solved."""
    known = any(wish.figure.partition(":")[0] in DEFINITIONS for wish in ranking.wishes)
    if not len(ranking.order) or not known:
        return None
    case = int(ranking.order[0])
    recipe = results.study.recipe
    top = float(recipe.settings["up_to_hz"])
    try:
        data = recipe.design_of(results.written[case])
        design = design_from(data, recipe.origin, folder=Path(recipe.origin).parent)
        figures = quick(design, up_to_hz=top, wanted=wanted_of(recipe.settings)).figures
    except DiaphragmError:
        return None
    found = [threshold_of(figures, wish.figure) for wish in ranking.wishes]
    try:
        from diaphragm_fem.model.solid import build_solid

        solid = quick_of(build_solid(design, up_to_hz=top).structure(0), top).figures
    except DiaphragmError:
        solid = None
    return Winner(
        case, tuple(one for one in found if one is not None), {} if solid is None else differing(figures, solid),
        solid is not None,
    )  # fmt: skip
