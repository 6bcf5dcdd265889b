"""In which part of a study cases could not be solved: the one thing that varies, and the side of it, that tells them
best from those that were."""

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.study.morning.results import Column, Results, column_of

LEAST_CASES, LEAST_APART = 5, 0.5


@dataclass(frozen=True)
class Where:
    """`unsolved` of the cases that were not solved and `solved` of those that were have this name, or a value of at
    most, or at least, this many in SI (`side` "<=" or ">=")."""

    column: Column
    side: str
    value: float
    unsolved: int
    solved: int


def where_unsolved(results: Results) -> Where | None:
    """The part of one range, or the name, in which the share of the unsolved exceeds that of the solved most, by half
    at least (the index of Youden (1950), Cancer 3, 32, from memory); None for a few cases, or where nothing tells."""
    count = len(results.unsolved)
    if count < LEAST_CASES:
        return None
    found = []
    for place, variable in enumerate(results.study.recipe.variables):
        column = column_of(variable, [case[place] for case in (*results.unsolved, *results.written)])
        levels, level = np.unique(column.values, return_inverse=True)
        bad, good = (np.bincount(part, minlength=len(levels)) for part in (level[:count], level[count:]))
        sides = [("==", bad, good)] if column.names else [
            ("<=", bad.cumsum(), good.cumsum()), (">=", bad[::-1].cumsum()[::-1], good[::-1].cumsum()[::-1]),
        ]  # fmt: skip
        for side, unsolved, solved in sides:
            apart = unsolved / count - solved / len(results)
            best = int(np.argmax(apart))
            where = Where(column, side, float(levels[best]), int(unsolved[best]), int(solved[best]))
            found.append((float(apart[best]), where))
    most, where = max(found, key=lambda one: one[0])
    return where if most >= LEAST_APART else None
