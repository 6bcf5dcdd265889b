"""The cells of a joint drawn as a union, and those that lead from its ends to the walls beyond."""

from itertools import pairwise

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.meridian.curve import Line, normal
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.chain import ChainIds
from diaphragm_fem.mesh.knot_arms import Arm
from diaphragm_fem.mesh.orientation import Corners, Edge, oriented
from diaphragm_fem.mesh.rows import RowLayers, row_thickness, rows_of
from diaphragm_fem.mesh.section_plan import Plan
from diaphragm_fem.mesh.union import UnionCells

CUT_OTHERWISE = (
    "where the walls meet at the former, cells of the solid do not fit those of a wall that leads on from there; "
    "another length of overlap, or another thickness there, may do"
)
HOLLOW = 0.35  # of the way to the next point, that the middle of an end is moved into the joint


def join(
    plan: Plan, arms: list[Arm], laid: tuple[ChainIds, ...], cut: UnionCells, owners: list[tuple[int, int]],
    ends: list[list[Line]],
) -> tuple[int, int]:  # fmt: skip
    """Add the cells of the joint and those that lead to its walls; the points where its front face begins and ends."""
    walls = [laid[0].points[-1][-1], laid[1].points[0][0], laid[2].points[0][0]]
    beyond_ = [laid[0].strips[-1], laid[1].strips[0], laid[2].strips[0]]
    corners = np.unique(cut.cells[:, :4])
    number = np.full(len(cut.points), -1)
    number[corners] = plan.add_points(cut.points[corners])
    whole = number[cut.cells[:, :4]]
    cells: list[Corners] = [(a, b, c, d) for a, b, c, d in whole.tolist()]
    pieces = [owners[p] for p in cut.patch]
    sides = np.stack((whole, np.roll(whole, -1, axis=1)), axis=2).reshape(-1, 2).tolist()
    middle = dict(zip(map(frozenset, sides), cut.points[cut.cells[:, 4:8].ravel()], strict=True))
    given: list[Edge] = []
    ends_at: set[int] = set()
    for arm, wall, lines, strip in zip(arms, walls, ends, beyond_, strict=True):
        if len(wall) != len(lines) + 1:
            raise MeshError(CUT_OTHERWISE)
        tip = -1
        for j, (line, side) in enumerate(zip(lines, pairwise(wall.tolist()), strict=True)):
            rear, half, front = (
                _nearest(cut.points[corners], number[corners], place)
                for place in line.point(line.length * np.array([0.0, 0.5, 1.0]))
            )
            beyond = _hollow(plan, cells, half, (rear, front))
            for other in (rear, front, beyond):
                del middle[frozenset((half, other))]  # straight
            new, tip = _lead(plan, arm, (j, tip), side, (rear, half, front), middle)
            cells += new
            pieces += [(arm.lead[0], strip.layers[j][0])] * 2
            given.append(side)
            ends_at |= {rear, half, front}
    plan.singular += sorted(set(number[cut.singular].tolist()) - ends_at)
    first = len(plan.cells)
    for cell, (piece, layer) in zip(oriented(cells, given), pieces, strict=True):
        plan.add_sides(cell, middle)
        plan.add_cell(cell, piece, layer, False)
    plan.united = list(range(first, len(plan.cells)))
    return int(walls[0][-1]), int(walls[1][-1])


def _nearest(places: Array, number: Index, point: Array) -> int:
    apart = np.linalg.norm(places - point, axis=1)
    if apart.min() > 1e-8:
        raise MeshError(CUT_OTHERWISE)
    return int(number[np.argmin(apart)])


def _hollow(plan: Plan, cells: list[Corners], half: int, beside: tuple[int, int]) -> int:
    """Move the middle of an end, from which two sides lead off in line, into the joint; the point it moves towards."""
    around = {cell[(cell.index(half) + k) % 4] for cell in cells if half in cell for k in (1, 3)} - set(beside)
    if len(around) != 1:
        raise MeshError(CUT_OTHERWISE)
    beyond = around.pop()
    plan.points[half] = plan.points[half] + HOLLOW * (plan.points[beyond] - plan.points[half])
    return beyond


def _lead(
    plan: Plan,
    arm: Arm,
    row: tuple[int, int],
    wall: Edge,
    cut: tuple[int, int, int],
    middle: dict[frozenset[int], Array],
) -> tuple[list[Corners], int]:
    """Two cells between the side of a row of a wall (rear, front) and the two sides of a cut end (rear, half, front),
    and the point between them on one border of the row: the front one of the first row and every second one, the rear
    one of those between, which they share. row: its number, and the point of the row before.

    So a row's direction is that of the half side beside that border. Rows of parallel sides run around the points of
    the end, from the half of one side away from a point to that of the next: around the second such point they would
    join two halves that are given, against each other, however the joint is cut. Hence `MOST_ROWS`.
    """
    _, piece = arm.as_drawn([arm.lead])[0]
    length, (number, tip) = piece.curve.length, row
    own = rows_of_arm(arm)

    def face(fraction: float, border: int) -> Array:
        thick = row_thickness(piece.wall, own, np.array(fraction))
        off = float(thick[: number + border].sum() + piece.wall.rear(fraction))
        s = fraction * length
        return np.asarray(piece.curve.point(s) + off * normal(piece.curve.tangent(s)))

    up = number % 2 == 0
    near, far = (1, 0) if up else (0, 1)  # the border with the point on it, and the other
    if up:
        tip = int(plan.add_points(face(0.5, near)[None])[0])
    ends = cut[0], cut[2]
    to_wall = 0.25 if arm.turned else 0.75
    middle[frozenset((ends[far], wall[far]))] = face(0.5, far)
    middle[frozenset((tip, wall[near]))] = face(to_wall, near)
    middle[frozenset((tip, ends[near]))] = face(1 - to_wall, near)
    cells: list[Corners] = [(ends[far], wall[far], wall[near], tip), (ends[far], tip, ends[near], cut[1])]
    if arm.turned == up:  # counterclockwise
        cells = [(a, d, c, b) for a, b, c, d in cells]
    return cells, tip


def rows_of_arm(arm: Arm) -> RowLayers:
    """Rows of the wall beyond, where it begins."""
    return rows_of([piece for _, piece in arm.as_drawn(arm.far)])[-1 if arm.turned else 0]
