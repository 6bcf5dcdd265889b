"""Smaller cells about corners where the stress is singular, in a plan that is laid.

A cell that has one such corner is divided in three, the smallest at the corner; one that has two, side by side, in
seven, so that the cells beyond stay as they are.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.mesh.orientation import Corners, oriented
from diaphragm_fem.mesh.section_plan import Plan, Side, Stretch

CLOSER = 0.15  # of the shortest side that meets a corner: length of the cells that are left there
LEAST, MOST = 0.1, 0.3  # of any side
HALFWAY = 0.6  # across a cell with two corners: how far its division reaches
NONE = 1e-9  # of a stretch
ONE = ((0, 4, 6, 5), (4, 1, 2, 6), (5, 6, 2, 3))
TWO = ((0, 4, 8, 6), (4, 5, 9, 8), (5, 1, 7, 9), (6, 8, 10, 3), (8, 9, 11, 10), (9, 7, 2, 11), (10, 11, 2, 3))
SIDES = ((0, 1), (1, 2), (3, 2), (0, 3))
UNIT = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])


class _Part(NamedTuple):
    """A part of a divided cell: its number, its corners, and their local coordinates (4, 2) in that cell."""

    cell: int
    corners: Corners
    at: Array


def refine_corners(plan: Plan, levels: int) -> None:
    """Divide the cells at `plan.singular`, as often as asked. Corners of a cell that has more than two of them, or two
    opposite ones, stay as they are."""
    for _ in range(levels):
        corners = _fit(plan)
        if corners:
            _divide(plan, corners)


def _fit(plan: Plan) -> set[int]:
    found = set(plan.singular)
    for cell in plan.cells:
        held = [k for k, x in enumerate(cell) if x in found]
        if len(held) > 2 or held in ([0, 2], [1, 3]):
            found -= {cell[k] for k in held}
    return found


def _divide(plan: Plan, corners: set[int]) -> None:
    nearest = _nearest(plan, corners)
    number: dict[tuple[int, int], int] = {}  # of the point on a side, near its first end
    cells: list[Corners] = []
    owner: list[int] = []
    at: list[Array] = []
    middles: dict[frozenset[int], Array] = {}
    old = [n for n, cell in enumerate(plan.cells) if corners.intersection(cell)]
    for n in old:
        turn, two = _turn(plan.cells[n], corners)
        cell = [plan.cells[n][turn - k] for k in (0, 3, 2, 1)]
        nodes = _nodes(plan, cell)
        sides = [(cell[i], cell[k]) for i, k in (((0, 1), (1, 0), (0, 3), (1, 2)) if two else ((0, 1), (0, 3)))]
        places = _places([_share(plan, nearest, *side) for side in sides])
        known, parts = list(cell), TWO if two else ONE
        halfway = [(places[part[i]] + places[part[k]]) / 2 for part in parts for i, k in SIDES]
        where = _points(nodes, np.array([*places, *halfway]))
        for k in range(4, len(places)):
            side = sides[k - 4] if k - 4 < len(sides) else (-n - 1, k)
            if side not in number:
                number[side] = int(plan.add_points(where[k][None])[0])
            known.append(number[side])
        between = iter(where[len(places) :])
        for part in parts:
            a, b, c, d = (known[k] for k in part)
            cells.append((a, b, c, d))
            owner.append(n)
            at.append(places[list(part)])
            for i, k in SIDES:
                middles.setdefault(frozenset((cells[-1][i], cells[-1][k])), next(between))
            x, y = at[-1].T[:, :, None]
            at[-1] = UNIT[turn] + x * (UNIT[turn - 3] - UNIT[turn]) + y * (UNIT[turn - 1] - UNIT[turn])
    _replace(plan, old, cells, owner, at, middles)


def _nearest(plan: Plan, corners: set[int]) -> dict[int, float]:
    """Length of the shortest side at each corner."""
    found: dict[int, float] = {}
    for edge in plan.edges:
        for x in corners.intersection(edge):
            length = float(np.linalg.norm(plan.points[edge[0]] - plan.points[edge[1]]))
            found[x] = min(found.get(x, np.inf), length)
    return found


def _share(plan: Plan, nearest: dict[int, float], corner: int, other: int) -> float:
    """Where a side is divided, from its end at a corner."""
    length = float(np.linalg.norm(plan.points[other] - plan.points[corner]))
    return float(np.clip(CLOSER * nearest[corner] / length, LEAST, MOST))


def _turn(cell: Corners, corners: set[int]) -> tuple[int, bool]:
    """Which corner of a cell to begin with, and whether the next one is singular too."""
    for k in range(4):
        if cell[k] in corners and cell[k - 1] not in corners:
            return k, cell[k - 3] in corners
    raise AssertionError("a cell without a corner")


def _nodes(plan: Plan, cell: Sequence[int]) -> Array:
    """Points (3, 3, 2) of a cell: along its first axis, its second."""
    p = [plan.points[x] for x in cell]
    m = [plan.edges[edge if (edge := (cell[i], cell[k])) in plan.edges else edge[::-1]] for i, k in SIDES]
    centre = (m[0] + m[1] + m[2] + m[3]) / 2 - (p[0] + p[1] + p[2] + p[3]) / 4
    return np.array([[p[0], m[3], p[3]], [m[0], centre, m[2]], [p[1], m[1], p[2]]])


def _points(nodes: Array, places: Array) -> Array:
    """Points (K, 2) of a cell at local coordinates (K, 2): all that divide it at once, 2 of a patch's 10 ms."""
    x, y = (np.stack(((1 - t) * (1 - 2 * t), 4 * t * (1 - t), t * (2 * t - 1))) for t in places.T)
    return np.asarray(np.einsum("ik,jk,ijc->kc", x, y, nodes))


def _places(share: list[float]) -> Array:
    """Local coordinates of a cell's corners and of what divides it: on its sides first, in the order of their shares,
    then inside."""
    if len(share) == 2:
        x, y = share
        return np.array([*UNIT, (x, 0), (0, y), (x, y)])
    left, right, rise, other = share
    near = [(left, 0), (1 - right, 0), (0, rise), (1, other), (left, rise), (1 - right, other)]
    return np.array([*UNIT, *near, (1 / 3, HALFWAY), (2 / 3, HALFWAY)])


def _replace(
    plan: Plan,
    old: list[int],
    cells: list[Corners],
    owner: list[int],
    at: list[Array],
    middles: dict[frozenset[int], Array],
) -> None:
    """Put the parts in place of the divided cells, and lead the mid-line and the faces through them."""
    divided = {frozenset((plan.cells[n][i], plan.cells[n][k])) for n in old for i, k in SIDES} - set(middles)
    plan.edges = {edge: middle for edge, middle in plan.edges.items() if frozenset(edge) not in divided}
    parts: defaultdict[int, list[_Part]] = defaultdict(list)
    for cell, n, where, turned in zip(cells, owner, at, oriented(cells, _given(plan, middles)), strict=True):
        shift = cell.index(turned[0])
        for i, k in SIDES:
            plan.add_edge(turned[i], turned[k], middles[frozenset((turned[i], turned[k]))])
        place = n
        if parts[n]:
            place = plan.add_cell(turned, plan.piece[n], plan.layer[n], plan.branch[n])
        parts[n].append(_Part(place, turned, np.roll(where, -shift, axis=0)))
    whole = {n: plan.cells[n] for n in old}
    for n in old:
        plan.cells[n] = parts[n][0].corners
    for run in plan.middle:
        run[:] = [x for own in run for x in (_led(own, parts[own.cell]) if own.cell in whole else [own])]
    for faces in (plan.front, *plan.faces.values()):
        faces[:] = [x for side in faces for x in (_parted(side, whole, parts) if side[0] in whole else [side])]


def _given(plan: Plan, middles: dict[frozenset[int], Array]) -> list[tuple[int, int]]:
    """Sides that stay, as they run."""
    return [edge for edge in plan.edges if frozenset(edge) in middles]


def _led(stretch: Stretch, parts: list[_Part]) -> list[Stretch]:
    """A stretch of mid-line through the parts of its cell."""
    begin, end = np.array(stretch.begin), np.array(stretch.end)
    found: list[tuple[float, float, Stretch]] = []
    for part in parts:
        low, high = 0.0, 1.0
        for a, b in zip(part.at, np.roll(part.at, -1, axis=0), strict=True):
            side = b - a
            height, climb = (side[0] * v[1] - side[1] * v[0] for v in (begin - a, end - begin))
            if abs(climb) > NONE:
                low, high = (max(low, -height / climb), high) if climb > 0 else (low, min(high, -height / climb))
            elif height < -NONE:
                high = low
        if high - low > NONE:
            first, last = (_local(part.at, begin + t * (end - begin)) for t in (low, high))
            found.append((low, high, Stretch(part.cell, first, last)))
    found.sort(key=lambda x: x[:2])
    kept, reached = [], 0.0
    for low, high, own in found:
        if low > reached - NONE:  # along the side of two parts: in one of them
            kept.append(own)
            reached = high
    return kept


def _local(corners: Array, point: Array) -> tuple[float, float]:
    """Local coordinates of a point in a quadrilateral (4, 2), by Newton's method."""
    (a, b), (c, d) = corners[0].tolist(), (corners[1] - corners[0]).tolist()
    (e, f), (g, h) = (corners[3] - corners[0]).tolist(), (corners[0] - corners[1] + corners[2] - corners[3]).tolist()
    x, y, (p, q) = 0.5, 0.5, point.tolist()
    for _ in range(30):
        along, across = (c + y * g, d + y * h), (e + x * g, f + x * h)
        gap = p - (a + x * c + y * e + x * y * g), q - (b + x * d + y * f + x * y * h)
        area = along[0] * across[1] - along[1] * across[0]
        step = (gap[0] * across[1] - gap[1] * across[0]) / area, (along[0] * gap[1] - along[1] * gap[0]) / area
        x, y = x + step[0], y + step[1]
        if max(map(abs, step)) < 1e-14:
            break
    return x, y


def _parted(side: Side, whole: dict[int, Corners], parts: dict[int, list[_Part]]) -> list[Side]:
    """The sides of parts that make up a side, in order along it: fronts and begins from its first point to its last,
    others against that, as `front` runs."""
    cell, k = side
    first, last = (whole[cell][i] for i in SIDES[k])
    sides = {}
    for part in parts[cell]:
        for n, (i, j) in enumerate(SIDES):
            sides[frozenset((part.corners[i], part.corners[j]))] = part.cell, n
    corner = {x: part.at[i] for part in parts[cell] for i, x in enumerate(part.corners)}
    a, b = corner[first], corner[last]
    on = {x: float((p - a) @ (b - a)) for x, p in corner.items() if abs(np.linalg.det([b - a, p - a])) < NONE}
    line = sorted(on, key=lambda x: on[x])
    found = [sides[frozenset(pair)] for pair in pairwise(line)]
    return found if k >= 2 else found[::-1]
