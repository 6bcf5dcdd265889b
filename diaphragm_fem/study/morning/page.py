"""Everything the morning has to tell about a study, gathered; `report.morning` writes it down."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.figures.thresholds import Threshold
from diaphragm_fem.study.morning.beside import Beside, best_as_drawn, design_beside
from diaphragm_fem.study.morning.effects import Effect, Index, Pair, main_effect, sensitivity, strongest_pair
from diaphragm_fem.study.morning.neighbours import Neighbourhood, neighbourhood
from diaphragm_fem.study.morning.ranking import Ranking, pareto_front, rank
from diaphragm_fem.study.morning.results import Results, load_results
from diaphragm_fem.study.morning.scatter import (
    Band,
    Halved,
    Spread,
    Yield,
    bands,
    halved_yields,
    is_tolerance_study,
    spreads,
    yields,
)
from diaphragm_fem.study.morning.winner import FinerMesh, Opinion, known_off, near_misses, on_finer_mesh, opinion_of
from diaphragm_fem.study.plan.study import Study
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.plan.wish import Wish
from diaphragm_fem.study.run.case_row import EVALUATOR

USUAL_FIGURES = ("even_band_octaves", "break_up_mode_hz", "low_area_m2", "fundamental_hz")
MOST_FIGURES = 4
MOST_CURVES = 6  # of the best: designs that are drawn and asked for their near misses


@dataclass(frozen=True)
class Morning:
    """What a study came to.

    ranking and neighbourhood are None where the study has no wishes, or all that varies scatters; opinion and
    finer_mesh too where the winner cannot be solved again; best holds the best cases as a drawing says them, best
    first, and near_misses of each what its place may be owed to; base_breaks is the constraint of [keep] that the base
    design breaks, if any; front is empty without pareto figures; yields, halved and bands are empty unless something
    varies by a distribution; pair is the strongest of the first figure.
    """

    results: Results
    figures: tuple[str, ...]
    ranking: Ranking | None
    aims: Mapping[str, str]
    front: NDArray[np.int64]
    effects: tuple[Effect, ...]
    indices: tuple[Index, ...]
    pair: Pair | None
    tolerance: bool
    yields: tuple[Yield, ...]
    halved: tuple[Halved, ...]
    spreads: tuple[Spread, ...]
    bands: tuple[Band, ...]
    neighbourhood: Neighbourhood | None
    base: Beside
    base_breaks: str
    best: tuple[Beside, ...]
    near_misses: tuple[tuple[Threshold, ...], ...]
    opinion: Opinion | None
    finer_mesh: FinerMesh | None


def morning(
    study: str | Path | Study,
    *,
    store: str | Path | None = None,
    night: bool | None = None,
    rank_by: str | None = None,
    aim: str | float = "high",
    evaluator: str = EVALUATOR,
) -> Morning:
    """Evaluate the store of a study, finished or still running.

    rank_by and aim ("high", "low" or a number in SI) overrule the study's wish list. StudyError where nothing was
    solved, the store is another's, or a figure is unknown.
    """
    study = read_study(study, night=night)
    results = load_results(study, store)
    wishes = (Wish(rank_by, aim),) if rank_by else study.wishes
    aims = study.pareto
    tolerance = is_tolerance_study(results)  # of parts that only scatter nobody chooses the best
    ranking = rank(results, wishes) if wishes and (rank_by or not tolerance) else None
    front = pareto_front(results, aims) if len(aims) > 1 else np.empty(0, np.int64)
    figures = _figures_of_interest(results, wishes, aims)
    effects = [main_effect(results, column, figure) for figure in figures for column in results.varying]
    best = best_as_drawn(results, ranking, evaluator) if ranking else ()
    judged = [*(wish.figure for wish in wishes), *study.limits]
    opinion = opinion_of(study.recipe, best[0]) if best else None
    finer = on_finer_mesh(results, judged, best[0]) if best else None
    if ranking is not None:
        ranking = replace(ranking, off=known_off(opinion, finer))
    return Morning(
        results=results,
        figures=figures,
        ranking=ranking,
        aims=aims,
        front=front,
        effects=tuple(effect for effect in effects if effect is not None),
        indices=tuple(index for figure in figures for index in sensitivity(results, figure)),
        pair=strongest_pair(results, figures[0]) if figures else None,
        tolerance=tolerance,
        yields=yields(results) if tolerance else (),
        halved=halved_yields(results) if tolerance else (),
        spreads=spreads(results),
        bands=bands(results) if tolerance else (),
        neighbourhood=neighbourhood(results, ranking, best, evaluator) if ranking and best else None,
        base=design_beside(results, ranking, study.recipe.base, evaluator),
        base_breaks=study.recipe.broken_constraint(study.recipe.base) or "",
        best=best,
        near_misses=tuple(
            near_misses(one, [wish.figure for wish in wishes], study.limits) for one in best[:MOST_CURVES]
        ),
        opinion=opinion,
        finer_mesh=finer,
    )


def _figures_of_interest(results: Results, wishes: tuple[Wish, ...], aims: Mapping[str, str]) -> tuple[str, ...]:
    named = dict.fromkeys([*(wish.figure for wish in wishes), *aims, *results.study.limits])
    chosen = [name for name in named or USUAL_FIGURES if name in results.figures] or list(results.figures)
    return tuple(chosen if named else chosen[:MOST_FIGURES])
