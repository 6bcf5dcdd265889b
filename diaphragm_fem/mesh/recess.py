"""Beside the lip of a thick wall a former reaches up to the thin wall that the lip stands out from."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.mesh.chain import ChainIds
from diaphragm_fem.mesh.section_plan import Plan
from diaphragm_fem.mesh.strip import Strip


@dataclass(frozen=True)
class Recess:
    """What lies between a thin wall and the lip of a thick one beside it: levels of points from the thin wall down, the
    top of the former below it, and the column with which the levels begin."""

    levels: list[list[int]]
    below: list[int]
    column: int


def recess_beside(plan: Plan, down: Array, found: list[int], step: int | None, ids: ChainIds) -> Recess | None:
    """The recess at a step between two of the points found for the top of a former that leads along `down` (2,); None
    without a step."""
    if step is None:
        return None
    left, right = found[step], found[step + 1]
    first = bool((plan.points[right] - plan.points[left]) @ down > 0)  # the thin wall comes first
    thin, thick = (left, right) if first else (right, left)
    plan.singular.append(found[-1] if first else found[0])
    levels = [found[: step + 1] if first else found[step + 1 :]]
    free = levels[0][:-1] if first else levels[0][1:]
    for point in (ids.lips[thin, thick], thick):
        shift = plan.points[point] - plan.points[thin]
        new = plan.add_points(np.array([plan.points[i] + shift for i in free]).reshape(-1, 2)).tolist()
        levels.append([*new, point] if first else [point, *new])
    rest = found[step + 2 :] if first else found[:step]
    return Recess(levels, levels[-1] + rest if first else rest + levels[-1], 0 if first else step)


def fill_recess(plan: Plan, strip: Strip, recess: Recess, owner: Index) -> None:
    """Add its edges, and its cells in the layers of the former's columns (C,) below."""
    for upper, lower in pairwise(recess.levels):
        for a, b in zip(lower, upper, strict=True):
            plan.add_edge(a, b)
        for k, ((a, b), (d, c)) in enumerate(zip(pairwise(lower), pairwise(upper), strict=True)):
            plan.add_edge(a, b)
            plan.add_cell((a, b, c, d), strip.index, strip.layers[owner[recess.column + k]][0], True)
