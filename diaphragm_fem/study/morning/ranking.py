"""Ranking by a wish list within hard limits, and the front of cases that no other beats in everything.

Score of a case: the weighted mean of its marks. The mark of a wish is 0 for the worst and 1 for the best value
among the cases inside all limits, in proportion between; for a number to come near to, 1 at the number and 0 at the
farthest. A figure that does not exist for a case gets the mark 0, but for what never comes (`Figures.never`). Cases
outside a limit are not ranked.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from diaphragm_fem.answer.better import times_told
from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.study.morning.results import Results
from diaphragm_fem.study.plan.wish import Scale, Wish, distance_from_best, keeps_to, marks_of, weights_of


@dataclass(frozen=True)
class Ranking:
    """Cases from best to worst (indices into the results), their scores and marks (wish, case) in the same order.

    scales: of each wish the distances from the best at which its mark is 0 and 1; None where no case has the figure.
    off: by how many times what can be told figures are known to be off here.
    """

    wishes: tuple[Wish, ...]
    order: Index
    score: Array
    marks: Array
    inside: Flags
    scales: tuple[Scale | None, ...]
    off: Mapping[str, float] = field(default_factory=dict)

    def alike(self, figure: str, one: float | None, other: float | None) -> bool:
        """Whether two values of a figure cannot be told apart."""
        return times_told(figure, one, other) <= max(1.0, self.off.get(figure, 0.0))

    def as_good(self, one: Mapping[str, float | None], other: Mapping[str, float | None]) -> bool:
        """Whether of two designs, by their figures as they are judged, all that is wished for is alike."""
        return all(self.alike(wish.figure, one.get(wish.figure), other.get(wish.figure)) for wish in self.wishes)


def kept_cases(results: Results) -> Flags:
    """Which cases keep to every hard limit."""
    inside = np.ones(len(results), bool)
    for name, limits in results.study.limits.items():
        inside &= keeps_to(results.judged(name), limits)
    return inside


def rank(results: Results, wishes: tuple[Wish, ...]) -> Ranking:
    """All cases inside the limits, best first; ties in order of their numbers."""
    inside = kept_cases(results)
    lacks = [distance_from_best(results.judged(wish.figure), wish.aim) for wish in wishes]
    scales = tuple(_scale(lack[inside & np.isfinite(lack)]) for lack in lacks)
    marks = np.array([marks_of(lack, scale) for lack, scale in zip(lacks, scales, strict=True)])
    score = weights_of(wishes) @ marks
    candidates = np.flatnonzero(inside)
    order = candidates[np.argsort(-score[candidates], kind="stable")]
    return Ranking(wishes, order, score[order], marks[:, order], inside, scales)


def score_of(ranking: Ranking, judged: Mapping[str, float | None]) -> float:
    """The score of a design that is no case, of its figures as they are judged, by the marks of the cases: below 0 or
    above 1 where it is worse or better than all of them."""
    marks = []
    for wish, scale in zip(ranking.wishes, ranking.scales, strict=True):
        lack = distance_from_best(np.array([judged.get(wish.figure)], float), wish.aim)
        marks.append(float(marks_of(lack, scale)[0]))
    return float(weights_of(ranking.wishes) @ np.array(marks))


def _scale(lack: Array) -> Scale | None:
    return (float(lack.max()), float(lack.min())) if len(lack) else None


def pareto_front(results: Results, aims: Mapping[str, str]) -> Index:
    """Indices of the cases inside the limits that no other case beats in one figure without losing in another.

    Sorted by the first figure. A case that lacks one of the figures is on no front.
    """
    names = list(aims)
    cost = np.array([distance_from_best(results.judged(name), aims[name]) for name in names]).T
    candidates = np.flatnonzero(kept_cases(results) & np.isfinite(cost).all(axis=1))
    order = candidates[np.lexsort(cost[candidates].T[::-1])]
    front: list[int] = []
    kept = np.empty((0, len(names)))
    for index in order:  # in this order a later case never beats an earlier one
        beaten = (kept <= cost[index]).all(axis=1) & (kept < cost[index]).any(axis=1)
        if not beaten.any():
            front.append(int(index))
            kept = np.vstack((kept, cost[index]))
    return np.array(front, dtype=np.int64)
