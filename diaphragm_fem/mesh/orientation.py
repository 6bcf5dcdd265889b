"""Local axes of quadrilaterals such that neighbours agree on the direction of every side they share.

Opposite sides of a cell run the same way; so the sides of a mesh fall into rows of parallel ones, and each row has one
direction that is free, unless a side of it is given. In the plane that always works out (Agelek, Anderson, Bangerth
and Barth, ACM Trans. Math. Softw. 44 (2017) 5, from memory).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from diaphragm_fem.errors import MeshError

Corners = tuple[int, int, int, int]
Edge = tuple[int, int]


def oriented(cells: list[Corners], given: Iterable[Edge]) -> list[Corners]:
    """The same cells, corners counterclockwise, each turned so that its first corner is where both axes begin.

    given: sides whose direction is fixed, from their first to their second point. Raises MeshError where two of them
    in one row contradict each other.
    """
    parallel: defaultdict[Edge, list[Edge]] = defaultdict(list)
    for a, b, c, d in cells:
        for one, other in (((a, b), (d, c)), ((b, c), (a, d))):
            for p, q in ((one, other), (other, one), (one[::-1], other[::-1]), (other[::-1], one[::-1])):
                parallel[p].append(q)
    forward: dict[Edge, bool] = {}
    for start in (*given, *parallel):
        if start in forward:
            if start in given and not forward[start]:
                raise MeshError(
                    "the cells of a joint cannot agree on the direction of their sides; of walls of several layers "
                    "leave some out, or the overlap, collar or glue beside the former"
                )
            continue
        waiting = [start]
        while waiting:
            edge = waiting.pop()
            if edge not in forward:
                forward[edge], forward[edge[::-1]] = True, False
                waiting += parallel[edge]
    turned = []
    for cell in cells:
        k = next(k for k in range(4) if forward[cell[k], cell[(k + 1) % 4]] and forward[cell[k], cell[k - 1]])
        turned.append((cell[k], cell[(k + 1) % 4], cell[(k + 2) % 4], cell[(k + 3) % 4]))
    return turned
