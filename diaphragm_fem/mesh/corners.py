"""Smaller cells about corners where the stress is singular, in a plan that is laid.

A cell that has one such corner is divided in three, the smallest at the corner; one that has two, side by side, in
seven, so that the cells beyond stay as they are.
"""

from collections import defaultdict
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.mesh.orientation import Corners, oriented
from diaphragm_fem.mesh.section_plan import CORNERS, SIDES, Plan, Side, Stretch, local_in

CLOSER = 0.15  # of the shortest side that meets a corner: length of the cells that are left there
LEAST, MOST = 0.1, 0.3  # of any side
HALFWAY = 0.6  # across a cell with two corners: how far its division reaches
NONE = 1e-9  # of a stretch
_FIRST, _LAST = np.array(SIDES).T
_AROUND = np.arange(4)


class _Shape(NamedTuple):
    """How a cell is divided whose first corner is singular, or its first two: its parts (P, 4) by their corners, which
    are those of the cell, then what divides its sides (S, 2), near their first ends, then what lies inside."""

    two: bool
    parts: Index
    sides: Index

    def places(self, share: Array) -> Array:
        """Local coordinates (n, K, 2) of all corners; share (n, S) of a side that its first end keeps."""
        zero, one = np.zeros(len(share)), np.ones(len(share))
        if not self.two:
            x, y = share.T
            found = [(x, zero), (zero, y), (x, y)]
        else:
            x, far, rise, other = share.T
            found = [(x, zero), (1 - far, zero), (zero, rise), (one, other), (x, rise), (1 - far, other)]
            found += [(one / 3, HALFWAY * one), (2 * one / 3, HALFWAY * one)]
        corners = np.broadcast_to(CORNERS, (len(share), 4, 2))
        return np.concatenate((corners, np.moveaxis(np.array(found), -1, 0)), axis=1)


_ONE = _Shape(False, np.array([(0, 4, 6, 5), (4, 1, 2, 6), (5, 6, 2, 3)]), np.array([(0, 1), (0, 3)]))
_TWO = _Shape(
    True,
    np.array([(0, 4, 8, 6), (4, 5, 9, 8), (5, 1, 7, 9), (6, 8, 10, 3), (8, 9, 11, 10), (9, 7, 2, 11), (10, 11, 2, 3)]),
    np.array([(0, 1), (1, 0), (0, 3), (1, 2)]),
)


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
    points, nearest = np.array(plan.points), _nearest(plan, corners)
    number: dict[tuple[int, int], int] = {}  # of the point on a side, near its first end
    found: list[_Part] = []
    middles: dict[frozenset[int], Array] = {}
    turns = {n: _turn(cell, corners) for n, cell in enumerate(plan.cells) if corners.intersection(cell)}
    for shape in (_ONE, _TWO):
        old = [n for n, (_, two) in turns.items() if two is shape.two]
        if not old:
            continue
        turn = np.array([turns[n][0] for n in old])
        cell = np.array([plan.cells[n] for n in old])[np.arange(len(old))[:, None], (turn[:, None] - [0, 3, 2, 1]) % 4]
        sides = cell[:, shape.sides]
        length = np.linalg.norm(points[sides[..., 0]] - points[sides[..., 1]], axis=2)
        first = np.array([[nearest[x] for x in own] for own in sides[..., 0].tolist()])
        places = shape.places(np.clip(CLOSER * first / length, LEAST, MOST))
        parts = places[:, shape.parts]
        halfway = (parts[:, :, _FIRST] + parts[:, :, _LAST]) / 2
        count = places.shape[1]
        where = _points(_nodes(plan, points, cell), np.concatenate((places, halfway.reshape(len(old), -1, 2)), axis=1))
        origin, along, across = (CORNERS[(turn - k) % 4][:, None, None] for k in (0, 3, 1))
        turned = origin + parts[..., :1] * (along - origin) + parts[..., 1:] * (across - origin)
        for n, own, ends, place, local in zip(old, cell.tolist(), sides.tolist(), where, turned, strict=True):
            known = own
            for k in range(4, count):
                side = (ends[k - 4][0], ends[k - 4][1]) if k - 4 < len(ends) else (-n - 1, k)
                if side not in number:
                    number[side] = int(plan.add_points(place[k][None])[0])
                known.append(number[side])
            between = iter(place[count:])
            for (a, b, c, d), at in zip(shape.parts.tolist(), local, strict=True):
                corner = known[a], known[b], known[c], known[d]
                found.append(_Part(n, corner, at))
                for i, k in SIDES:
                    middles.setdefault(frozenset((corner[i], corner[k])), next(between))
    _replace(plan, found, middles)


def _nearest(plan: Plan, corners: set[int]) -> dict[int, float]:
    """Length of the shortest side at each corner."""
    found: dict[int, float] = {}
    for edge in plan.edges:
        for x in corners.intersection(edge):
            length = float(np.linalg.norm(plan.points[edge[0]] - plan.points[edge[1]]))
            found[x] = min(found.get(x, np.inf), length)
    return found


def _turn(cell: Corners, corners: set[int]) -> tuple[int, bool]:
    """Which corner of a cell to begin with, and whether the next one is singular too."""
    k = next(k for k in range(4) if cell[k] in corners and cell[k - 1] not in corners)
    return k, cell[k - 3] in corners


def _nodes(plan: Plan, points: Array, cells: Index) -> Array:
    """Points (n, 3, 3, 2) of cells (n, 4): along their first axis, their second."""
    sides = [[(cell[i], cell[k]) for i, k in SIDES] for cell in cells.tolist()]
    m = np.array([[plan.edges[x if x in plan.edges else x[::-1]] for x in own] for own in sides])
    p, found = points[cells], np.empty((len(cells), 3, 3, 2))
    found[:, [0, 2, 2, 0], [0, 0, 2, 2]] = p
    found[:, [1, 2, 1, 0], [0, 1, 2, 1]] = m
    found[:, 1, 1] = m.sum(axis=1) / 2 - p.sum(axis=1) / 4
    return found


def _points(nodes: Array, places: Array) -> Array:
    """Points (n, K, 2) of cells at local coordinates (n, K, 2)."""
    x, y = (np.stack(((1 - t) * (1 - 2 * t), 4 * t * (1 - t), t * (2 * t - 1))) for t in np.moveaxis(places, -1, 0))
    return np.asarray(np.einsum("ink,jnk,nijc->nkc", x, y, nodes, optimize=True))


def _replace(plan: Plan, found: list[_Part], middles: dict[frozenset[int], Array]) -> None:
    """Put parts, told with the cells that they are of, in place of these, and lead mid-line and faces through them."""
    old = sorted({part.cell for part in found})
    divided = {frozenset((plan.cells[n][i], plan.cells[n][k])) for n in old for i, k in SIDES} - set(middles)
    plan.edges = {edge: middle for edge, middle in plan.edges.items() if frozenset(edge) not in divided}
    stay = [edge for edge in plan.edges if frozenset(edge) in middles]  # and run as they do
    parts: defaultdict[int, list[_Part]] = defaultdict(list)
    for (n, cell, at), turned in zip(found, oriented([part.corners for part in found], stay), strict=True):
        plan.add_sides(turned, middles)
        place = plan.add_cell(turned, plan.piece[n], plan.layer[n], plan.branch[n]) if parts[n] else n
        parts[n].append(_Part(place, turned, at[(cell.index(turned[0]) + _AROUND) % 4]))
    whole = {n: plan.cells[n] for n in old}
    united = set(plan.united).intersection(old)
    plan.united += [part.cell for n in old if n in united for part in parts[n][1:]]
    for n in old:
        plan.cells[n] = parts[n][0].corners
    for run in plan.middle:
        run[:] = [x for own in run for x in (_led(own, parts[own.cell]) if own.cell in whole else [own])]
    for faces in (plan.front, *plan.faces.values()):
        faces[:] = [x for side in faces for x in (_parted(side, whole, parts) if side[0] in whole else [side])]


def _led(stretch: Stretch, parts: list[_Part]) -> list[Stretch]:
    """A stretch of mid-line through the parts of its cell, along the way that it took: straight in each of them it
    would leave that by up to a twelfth of the wall, and be 2e-4 too long."""
    corners = np.array([part.at for part in parts])
    side = np.roll(corners, -1, axis=1) - corners
    bulge = np.array(stretch.bulge)
    away, way = np.array(stretch.begin) - corners, np.array(stretch.end) - stretch.begin + bulge
    # heights (P, 4) over the sides at t of the stretch: c + b t + a t^2
    c, b, a = (side[..., 0] * v[..., 1] - side[..., 1] * v[..., 0] for v in (away, way, -bulge))
    with np.errstate(divide="ignore", invalid="ignore"):
        far = -(b + np.copysign(np.sqrt(b**2 - 4 * a * c), b)) / 2
        met = np.concatenate((far / a, c / far))[np.tile(np.abs(c) + np.abs(b) + np.abs(a) > NONE, (2, 1))]
    met = np.unique(np.concatenate(([0.0], met[(met > NONE) & (met < 1 - NONE)], [1.0])))
    met = np.append(met[:-1][np.diff(met) > NONE], 1.0)
    middle = (met[1:] + met[:-1])[:, None, None] / 2
    inside = (c + b * middle + a * middle**2).min(axis=2).argmax(axis=1)  # along the side of two: in one of them
    borders = [0, *(np.flatnonzero(np.diff(inside)) + 1).tolist(), len(inside)]
    found = []
    for low, high in pairwise(borders):
        part, begin, end = parts[inside[low]], met[low], met[high]
        first, half, last = (_local(part.at, stretch.at(t)) for t in (begin, (begin + end) / 2, end))
        x, y = (4 * h - 2 * (f + l) for f, h, l in zip(first, half, last, strict=True))
        found.append(Stretch(part.cell, first, last, (x, y)))
    return found


def _local(corners: Array, point: Array) -> tuple[float, float]:
    """Local coordinates of a point in a quadrilateral (4, 2)."""
    p = [complex(*corner) for corner in corners.tolist()]
    return local_in(p, [(p[i] + p[k]) / 2 for i, k in SIDES], complex(*point))


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
