"""The end of a thick soft wall that a thinner stiff one holds by its middle: square, its lips free.

A small box around the middle, three cells across, takes the stress that is singular at its corners; a cell on either
side fills the lip, four more lead from the box to one cell as wide as the wall. Where walls are cut in rows, those
on the way from the middle to the wall are, too.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.mesh.orientation import Corners, Edge, oriented
from diaphragm_fem.mesh.section_plan import CORNERS, SIDES, Plan, Side, Stretch
from diaphragm_fem.mesh.strip import End, Strip

COLUMN, PER_LIP, LEAST_COLUMN = 0.6, 6.0, 0.1  # wall thicknesses that the cells of an end take; lips that it is long
BOX = 0.15  # of a lip's height that the box reaches beyond the middle, and into the wall
LEAST_BOX, LEAST_DEPTH = 0.03, 0.1  # wall thicknesses that it does at least
TOO_NEAR = 0.25  # of a column: no other station nearer to it
SHARE = 0.8  # of a strip that its lips may take
NARROW, NARROW_PER_LIP = 0.3, 3.0  # of the thickness from either face: where the second column's inner points lie


class Lips(NamedTuple):
    """What was laid: the points by which the wall is held, rear to front, and the cells there; the points on the rear
    lip from there; the mid-line and the sides of the front face in order."""

    held: Index
    rear: list[int]
    held_cells: list[int]
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

    s (2,) are the stations at the end and next to it, point (2, R + 1) their points, rear to front, held (R + 1,) the
    points of the neighbour that holds the wall, added where it is laid later. Points by their names below, from the end
    face on the left into the wall, rear above; rows lie between j and k, a and b, c and d, and across the wall:

        j_rear               r_rear
        u        p
        j        a     c
        k        b     d
        v        q
        j_front              r_front
    """
    backward = bool(s[0] > s[1])
    end = strip.end if backward else strip.begin
    thick = float(end.rows.sum())
    low = _lip(end)
    deep = max(BOX * low, LEAST_DEPTH) * thick
    box = s[0] + (s[1] - s[0]) * min(deep / abs(s[1] - s[0]), 0.4)
    lip, behind = low - min(max(BOX * low, LEAST_BOX), low / 2), (box + s[1]) / 2
    rows = len(end.rows)
    narrow = min(NARROW, NARROW_PER_LIP * low)
    levels = [
        [(place, edge + (1 - 2 * edge) * k / rows) for k in range(rows + 1)]
        for place, edge in ((s[0], low), (box, low), (behind, narrow))
    ]
    lips = [(s[0], lip), (s[0], 1 - lip), (box, lip), (box, 1 - lip)]
    places = [*lips, *levels[1], *levels[2], *(levels[0] if held is None else [])]
    added = plan.add_points(_at(strip, places)).tolist()
    u, v, p, q = added[:4]
    inner, wide, new = (added[4 + k * (rows + 1) : 4 + (k + 1) * (rows + 1)] for k in range(3))
    across = [new if held is None else held.tolist(), inner, wide, point[1].tolist()]
    (j, *_, k), (a, *_, b), (c, *_, d), (r_rear, *_, r_front) = across
    plan.singular += [j, k]
    j_rear, j_front = (int(x) for x in point[0, [0, -1]])
    last = [(s[1], x) for x in _shares(strip, float(s[1]))]
    where = dict(zip((u, v, p, q, j_rear, j_front), (*lips, (s[0], 0.0), (s[0], 1.0)), strict=True))
    for numbers, level in zip(across, (*levels, last), strict=True):
        where |= dict(zip(numbers, level, strict=True))
    cells: list[Corners] = [
        (near[n], far[n], far[n + 1], near[n + 1]) for near, far in pairwise(across) for n in range(rows)
    ]
    cells += [
        (u, p, a, j), (k, b, q, v), (j_rear, r_rear, p, u), (v, q, r_front, j_front), (p, r_rear, c, a),
        (b, d, r_front, q),
    ]  # fmt: skip
    inward = (j, a)
    if backward:
        cells, inward = [cell[::-1] for cell in cells], (a, j)
    faces = [frozenset(x) for x in ((k, v), (v, j_front), (j_front, r_front))]
    given = [(j_rear, u), (u, j), *pairwise(across[-1]), inward]
    laid, number, side_of = _add_cells(plan, strip, cells, given, where)
    front = [side_of[face] for face in faces]
    middle_row, odd = (rows - 1) // 2, rows % 2  # of an even number the mid-line is a border
    middle = [
        Stretch(number[x], *(_half(laid[x], level[middle_row + 1 - odd], level[middle_row + 1]) for level in levels_of))
        for x, levels_of in ((middle_row + n * rows, pair) for n, pair in enumerate(pairwise(across)))
    ]
    if backward:
        middle, front = [Stretch(x.cell, x.end, x.begin) for x in middle[::-1]], front[::-1]
    return Lips(np.array(across[0]), [j, u, j_rear], number[:rows], middle, front)


def _at(strip: Strip, where: Sequence[tuple[float, float]]) -> Array:
    """Points (K, 2) at arc lengths and shares of the way from the rear to the front; one call for all of them is 2 of
    the 10 ms that a joint's patch takes to draw."""
    place, share = np.array(where).T
    rear, front = strip.points(place)[:, [0, -1]].transpose(1, 0, 2)
    return np.asarray(rear + share[:, None] * (front - rear))


def _add_cells(
    plan: Plan, strip: Strip, cells: list[Corners], given: list[Edge], where: dict[int, tuple[float, float]]
) -> tuple[list[Corners], list[int], dict[frozenset[int], Side]]:
    """Add cells between points, `where` as `_at` takes them, and the sides halfway there: the cells turned so that all
    agree with the sides that are given, their numbers, and by its two points which side of which cell each is."""
    laid, number = oriented(cells, given), list[int]()
    side_of: dict[frozenset[int], Side] = {}
    sides: list[tuple[int, int]] = []
    for cell in laid:
        number.append(plan.add_cell(cell, strip.index, strip.layers[0][0], False))
        for side, (m, n) in enumerate(SIDES):
            sides.append((cell[m], cell[n]))
            side_of[frozenset(sides[-1])] = number[-1], side
    halfway = [((where[m][0] + where[n][0]) / 2, (where[m][1] + where[n][1]) / 2) for m, n in sides]
    for (m, n), middle in zip(sides, _at(strip, halfway), strict=True):
        plan.add_edge(m, n, middle)
    return laid, number, side_of


def _shares(strip: Strip, s: float) -> list[float]:
    """How far from the rear to the front the borders of the rows lie."""
    rows = strip.rows(s)
    return [0.0, *(np.cumsum(rows) / rows.sum()).tolist()[:-1], 1.0]


def _half(cell: Corners, p: int, q: int) -> tuple[float, float]:
    """Local coordinates of the middle between two corners of a cell, or of one."""
    x, y = ((CORNERS[cell.index(p)] + CORNERS[cell.index(q)]) / 2).tolist()
    return x, y
