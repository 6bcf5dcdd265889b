"""The neighbourhood of the winner: does it stand on a plateau or on a needle?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.study.morning.ranking import Ranking
from diaphragm_fem.study.morning.results import Array, Results

NEAREST = 12
AT_END = 0.05  # share of a range


@dataclass(frozen=True)
class Neighbourhood:
    """Nearest cases around the winner, inside the limits or not.

    cases     indices into the results, nearest first; distance in shares of each variable's range (root of the
              mean square), a different name counting as a whole range.
    score     of each, nan outside the limits.
    inside    share of the neighbours that keep to all limits.
    worst     the lowest score among those that do; nan where none does.
    at_end    things of which the winner's value lies within AT_END of an end of the study's range: the best may lie
              beyond.
    """

    winner: int
    cases: NDArray[np.int64]
    distance: Array
    score: Array
    inside: float
    worst: float
    at_end: tuple[str, ...]


def neighbourhood(results: Results, ranking: Ranking) -> Neighbourhood | None:
    """Neighbours of the best case; None where nothing is ranked or nothing varies."""
    if not len(ranking.order) or not results.varying or len(results) < 2:
        return None
    winner = int(ranking.order[0])
    steps = []
    for column in results.varying:
        scaled = column.scaled
        steps.append((scaled != scaled[winner]).astype(float) if column.names else scaled - scaled[winner])
    distance = np.sqrt(np.mean(np.square(steps), axis=0))
    order = np.lexsort((results.numbers, distance))
    cases = order[order != winner][:NEAREST]
    score = np.full(len(results), np.nan)
    score[ranking.order] = ranking.score
    near = score[cases]
    known = np.isfinite(near)
    worst = float(near[known].min()) if known.any() else float("nan")
    at_end = tuple(c.name for c in results.varying if not c.names and not AT_END < c.scaled[winner] < 1 - AT_END)
    return Neighbourhood(winner, cases, distance[cases], near, float(known.mean()), worst, at_end)


def slice_through(results: Results, winner: int, name: str) -> NDArray[np.int64]:
    """Cases that differ from the winner in this variable alone, in its order, the winner among them."""
    same = np.ones(len(results), bool)
    for column in results.varying:
        if column.name != name:
            same &= column.values == column.values[winner]
    cases = np.flatnonzero(same)
    return cases[np.argsort(results.column(name).values[cases], kind="stable")]
