"""The end of a thick soft wall that a thinner stiff one holds by its middle: square, its lips free.

A small box around the middle, three cells across, takes the stress that is singular at its corners; a cell on either
side fills the lip, four more lead from the box to one cell as wide as the wall.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.mesh.orientation import Corners, oriented
from diaphragm_fem.mesh.section_plan import Plan, Side, Stretch
from diaphragm_fem.mesh.strip import End, Strip

COLUMN, PER_LIP, LEAST_COLUMN = 0.6, 6.0, 0.1  # wall thicknesses that the cells of an end take; lips that it is long
BOX = 0.15  # of a lip's height that the box reaches beyond the middle, and into the wall
LEAST_BOX, LEAST_DEPTH = 0.03, 0.1  # wall thicknesses that it does at least
TOO_NEAR = 0.25  # of a column: no other station nearer to it
SHARE = 0.8  # of a strip that its lips may take
NARROW, NARROW_PER_LIP = 0.3, 3.0  # of the thickness from either face: where the second column's inner points lie
CORNER = ((0, 0), (1, 0), (1, 1), (0, 1))


class Lips(NamedTuple):
    """What was laid: the points by which the wall is held, rear and front, and the cell there; the points on the rear
    lip from there; the mid-line and the sides of the front face in order."""

    held: Index
    rear: list[int]
    held_cell: int
    middle: list[Stretch]
    front: list[Side]


def with_columns(s: Array, strip: Strip, breaks: list[float]) -> Array:
    """Stations with a column for the lips at either end of a strip in place of what lay there; a break that lies within
    it ends the column."""
    if not any(strip.lips):
        return s
    begin, end = (_column(end) * has for end, has in zip((strip.begin, strip.end), strip.lips, strict=True))
    scale = min(1.0, SHARE * strip.length / (begin + end))
    reach = scale * (1 + TOO_NEAR)
    low = min([x for x in breaks if 0 < x < reach * begin], default=scale * begin)
    high = max([x for x in breaks if 0 < strip.length - x < reach * end], default=strip.length - scale * end)
    inner = s[1:-1]
    kept = inner[(inner > low + TOO_NEAR * scale * begin) & (inner < high - TOO_NEAR * scale * end)]
    return np.concatenate((s[:1], [low] if begin else [], kept, [high] if end else [], s[-1:]))


def _lip(end: End) -> float:
    """Height of a lip in thicknesses of its wall."""
    return (1 - end.held / float(end.rows.sum())) / 2


def _column(end: End) -> float:
    """Length in m that the cells of an end with lips take."""
    return float(end.rows.sum()) * min(COLUMN, max(PER_LIP * _lip(end), LEAST_COLUMN))


def lay_lips(plan: Plan, strip: Strip, s: Array, point: Index, held: Index | None) -> Lips:
    """Add the cells of the end.

    s (2,) are the stations at the end and next to it, point (2, 2) their rear and front points, held the points of the
    neighbour that holds the wall, added where it is laid later.
    """
    backward = bool(s[0] > s[1])
    end = strip.end if backward else strip.begin
    thick = float(end.rows.sum())
    low = _lip(end)
    deep = max(BOX * low, LEAST_DEPTH) * thick
    box = s[0] + (s[1] - s[0]) * min(deep / abs(s[1] - s[0]), 0.4)
    lip, behind = low - min(max(BOX * low, LEAST_BOX), low / 2), (box + s[1]) / 2

    def at(where: Sequence[tuple[float, float]]) -> Array:
        """Points (K, 2) at arc lengths and shares of the way from the rear to the front; one call for all of them is
        2 of the 10 ms that a joint's patch takes to draw."""
        place, share = np.array(where).T
        rear, front = strip.points(place).transpose(1, 0, 2)
        return np.asarray(rear + share[:, None] * (front - rear))

    narrow = min(NARROW, NARROW_PER_LIP * low)
    on_end, rest = [(s[0], low), (s[0], 1 - low)], [(s[0], lip), (s[0], 1 - lip)]
    rest += [*((box, x) for x in (lip, low, 1 - low, 1 - lip)), (behind, narrow), (behind, 1 - narrow)]
    added = plan.add_points(at(rest if held is not None else [*on_end, *rest])).tolist()
    j, k, u, v, p, a, b, q, c, d = added if held is None else [*held.tolist(), *added]
    plan.singular += [j, k]
    (j_rear, j_front), (r_rear, r_front) = point.tolist()
    faces_of = [(s[i], x) for i in (0, 1) for x in (0.0, 1.0)]
    where = dict(zip((j, k, u, v, p, a, b, q, c, d, *point.ravel().tolist()), (*on_end, *rest, *faces_of), strict=True))
    cells: list[Corners] = [
        (u, p, a, j), (j, a, b, k), (k, b, q, v), (j_rear, r_rear, p, u), (v, q, r_front, j_front),
        (p, r_rear, c, a), (a, c, d, b), (b, d, r_front, q), (c, r_rear, r_front, d),
    ]  # fmt: skip
    inward = (j, a)
    if backward:
        cells, inward = [cell[::-1] for cell in cells], (a, j)
    faces = [frozenset(x) for x in ((k, v), (v, j_front), (j_front, r_front))]
    passed = [(1, (j, k), (a, b)), (6, (a, b), (c, d)), (8, (c, d), (r_rear, r_front))]
    laid, number = oriented(cells, [(j_rear, u), (u, j), (r_rear, r_front), inward]), []
    on_front: dict[frozenset[int], Side] = {}
    sides: list[tuple[int, int]] = []
    for cell in laid:
        number.append(plan.add_cell(cell, strip.index, strip.layers[0][0], False))
        for side, (m, n) in enumerate(((0, 1), (1, 2), (3, 2), (0, 3))):
            sides.append((cell[m], cell[n]))
            on_front[frozenset(sides[-1])] = number[-1], side
    halfway = [((where[m][0] + where[n][0]) / 2, (where[m][1] + where[n][1]) / 2) for m, n in sides]
    for (m, n), middle_of_side in zip(sides, at(halfway), strict=True):
        plan.add_edge(m, n, middle_of_side)
    front = [on_front[face] for face in faces]
    middle = [Stretch(number[n], _half(laid[n], *entry), _half(laid[n], *exit)) for n, entry, exit in passed]
    if backward:
        middle, front = [Stretch(x.cell, x.end, x.begin) for x in middle[::-1]], front[::-1]
    return Lips(np.array([j, k]), [j, u, j_rear], number[1], middle, front)


def _half(cell: Corners, p: int, q: int) -> tuple[float, float]:
    """Local coordinates of the middle between two corners of a cell."""
    (x, y), (u, v) = CORNER[cell.index(p)], CORNER[cell.index(q)]
    return (x + u) / 2, (y + v) / 2
