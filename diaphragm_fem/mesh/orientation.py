"""Local axes of quadrilaterals such that neighbours agree on the direction of every side they share.

Opposite sides of a cell run the same way; so the sides of a mesh fall into rows of parallel ones, and each row has one
direction that is free, unless a side of it is given. In the plane that always works out (Agelek, Anderson, Bangerth
and Barth, ACM Trans. Math. Softw. 44 (2017) 5, from memory).
"""

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
    parallel: defaultdict[Edge, list[Edge]] = defaultdict(list)  # as sides run around cells; their reverses do so, too
    for a, b, c, d in cells:
        parallel[a, b].append((d, c))
        parallel[c, d].append((b, a))
        parallel[b, c].append((a, d))
        parallel[d, a].append((c, b))
    forward: dict[Edge, bool] = {}
    fixed = dict.fromkeys(given)
    for start in (*fixed, *parallel):
        if start in forward:
            if not forward[start] and start in fixed:
                raise MeshError(
                    "the cells of a joint cannot agree on the direction of their sides; of walls of several layers "
                    "leave some out, or the overlap, collar or glue beside the former"
                )
            continue
        waiting = [start]
        while waiting:
            edge = waiting.pop()
            if edge not in forward:
                back = edge[::-1]
                forward[edge], forward[back] = True, False
                waiting += parallel.get(edge, ())
                waiting += [(b, a) for a, b in parallel.get(back, ())]
    turned = []
    for cell in cells:
        a, b, c, d = cell
        if forward[b, c]:
            turned.append(cell if forward[a, b] else (b, c, d, a))
        else:
            turned.append((d, a, b, c) if forward[a, b] else (c, d, a, b))
    return turned
