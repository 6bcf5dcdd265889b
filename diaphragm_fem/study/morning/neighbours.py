"""The neighbourhood of the winner: does it stand on a plateau or on a needle, and is there anybody near to tell?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.study.morning.ranking import Ranking
from diaphragm_fem.study.morning.results import Results

NEAREST = 12
NEAR = 0.03 + 1e-9  # share of the range: a step of the making; what is farther away tells nothing about it
AT_END = 0.05  # share of a range
FAR_BEHIND = 0.8  # of the best score: neighbours below it have lost what made the winner win


@dataclass(frozen=True)
class Neighbourhood:
    """Cases around the winner, inside the limits or not.

    cases     indices of the nearest, nearest first; distance is the largest step among the things that vary, in shares
              of its range, a different name counting as a whole range.
    score     of each, nan outside the limits.
    near      how many cases lie within NEAR; behind: how many of these break a limit or fall far behind.
    untold    things that vary in which no near case differs: nothing is known about a small error there.
    at_end    things of which the winner's value lies within AT_END of an end of the study's range: the best may lie
              beyond.
    """

    winner: int
    cases: Index
    distance: Array
    score: Array
    near: int
    behind: int
    untold: tuple[str, ...]
    at_end: tuple[str, ...]

    @property
    def verdict(self) -> str:
        """ "needle", "plateau", or "too far to tell" where no case is near enough in each thing that varies."""
        if self.behind:
            return "needle"
        return "too far to tell" if self.untold else "plateau"


def neighbourhood(results: Results, ranking: Ranking, winner: int) -> Neighbourhood | None:
    """Neighbours of a case, the best as drawn; None where nothing varies."""
    if not results.varying or len(results) < 2:
        return None
    steps = np.array(
        [
            (column.scaled != column.scaled[winner]).astype(float)
            if column.names
            else np.abs(column.scaled - column.scaled[winner])
            for column in results.varying
        ]
    )
    distance = steps.max(axis=0)
    order = np.lexsort((results.numbers, steps.sum(axis=0), distance))
    cases = order[order != winner][:NEAREST]
    score = np.full(len(results), np.nan)
    score[ranking.order] = ranking.score
    near = (distance <= NEAR) & (np.arange(len(results)) != winner)
    behind = near & ~(score >= FAR_BEHIND * score[winner])
    untold = tuple(
        column.name
        for column, step in zip(results.varying, steps, strict=True)
        if not column.names and not (near & (step > 0)).any()
    )
    at_end = tuple(c.name for c in results.varying if not c.names and not AT_END < c.scaled[winner] < 1 - AT_END)
    return Neighbourhood(
        winner, cases, distance[cases], score[cases], int(near.sum()), int(behind.sum()), untold, at_end
    )


def slice_through(results: Results, winner: int, name: str) -> Index:
    """Cases that differ from the winner in this variable alone, in its order, the winner among them."""
    same = np.ones(len(results), bool)
    for column in results.varying:
        if column.name != name:
            same &= column.values == column.values[winner]
    cases = np.flatnonzero(same)
    return cases[np.argsort(results.column(name).values[cases], kind="stable")]
