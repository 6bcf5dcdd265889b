"""The plan of a wall section: corner points, curved edges and cells, before the mesher sees them.

Every cell is a quadrilateral with its first local axis along the meridian and its second from the rear to the front
face; in a former that hangs from the rear face they run across its wall (outward) and upward. So neighbours always
agree on the direction of the edge they share.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.units.units import show_place
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.meridian import SAME_POINT

FLATTEST = 0.02  # smallest over largest Jacobian that a cell may have

SETTLED, ROUNDING = 1e-14, 1e-15  # last step of Newton's method in local coordinates, and gap in m before it

Side = tuple[int, int]  # a cell and its local side: 0 rear, 1 end, 2 front, 3 begin
SIDES = ((0, 1), (1, 2), (3, 2), (0, 3))  # a side's corners, each from the rear or the begin
CORNERS = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])  # local coordinates


@dataclass(frozen=True)
class Stretch:
    """A cell's share of the mid-surface: the cell, the local coordinates where the mid-surface enters and leaves, and
    by how much it bulges between: t of its way on it is at begin + t (end - begin) + t (1 - t) bulge."""

    cell: int
    begin: tuple[float, float]
    end: tuple[float, float]
    bulge: tuple[float, float] = (0.0, 0.0)

    def at(self, t: float) -> Array:
        """Local coordinates (2,) there."""
        begin = np.array(self.begin)
        return np.asarray(begin + t * (np.array(self.end) - begin) + t * (1 - t) * np.array(self.bulge))


@dataclass
class Plan:
    """Points (r, z) in m; edges by their two points with their middle; cells by corners, piece and layer.

    piece counts those of the meridian and of the former, then beads of glue. branch marks cells whose first axis runs
    across the wall. middle lists the mid-surface run by run (0 meridian, 1 former) from begin to end; front the sides
    on the front face of zones that radiate; faces the sides at "inner", "outer" and "joint"; united the cells of a
    joint drawn as the union of its pieces; singular the points about which cells are to be smaller (`corners.py`).
    """

    points: list[Array] = field(default_factory=list)
    edges: dict[tuple[int, int], Array] = field(default_factory=dict)
    cells: list[tuple[int, int, int, int]] = field(default_factory=list)
    piece: list[int] = field(default_factory=list)
    layer: list[int] = field(default_factory=list)
    branch: list[bool] = field(default_factory=list)
    middle: tuple[list[Stretch], list[Stretch]] = field(default_factory=lambda: ([], []))
    front: list[Side] = field(default_factory=list)
    faces: dict[str, list[Side]] = field(default_factory=dict)
    united: list[int] = field(default_factory=list)
    singular: list[int] = field(default_factory=list)

    def add_points(self, points: Array) -> Index:
        first = len(self.points)
        self.points += list(points.reshape(-1, 2))
        return np.arange(first, len(self.points)).reshape(points.shape[:-1])

    def add_edge(self, a: int, b: int, middle: Array | None = None) -> None:
        """An edge by its two points; straight where no middle is given."""
        self.edges.setdefault((int(a), int(b)), (self.points[a] + self.points[b]) / 2 if middle is None else middle)

    def add_sides(self, corners: tuple[int, int, int, int], middles: Mapping[frozenset[int], Array]) -> None:
        """The sides of a cell by the middles of those that are not straight."""
        a, b, c, d = corners
        for side in ((a, b), (b, c), (d, c), (a, d)):
            if side not in self.edges:
                self.add_edge(*side, middles.get(frozenset(side)))

    def add_cell(self, corners: tuple[int, int, int, int], piece: int, layer: int, branch: bool) -> int:
        a, b, c, d = (int(corner) for corner in corners)
        self.cells.append((a, b, c, d))
        self.piece.append(piece)
        self.layer.append(layer)
        self.branch.append(branch)
        return len(self.cells) - 1


def quadrilaterals(plan: Plan) -> tuple[Array, Index]:
    """Points (2, N) and cells (9, n) of a plan: corners, middles of sides, centres.

    A centre is half the sum of the side middles less a quarter of the sum of the corners, as in transfinite maps.
    """
    corners, sides = np.array(plan.points), list(plan.edges)
    number = {side: i for i, side in enumerate(sides)}
    middles, cells = np.array([plan.edges[side] for side in sides]), np.array(plan.cells)
    middle = np.array([[number[a, b], number[b, c], number[d, c], number[a, d]] for a, b, c, d in plan.cells])
    centres = middles[middle].sum(axis=1) / 2 - corners[cells].sum(axis=1) / 4
    first = len(corners)
    centre = first + len(sides) + np.arange(len(cells))
    points = np.concatenate((corners, middles, centres))
    return points.T, np.concatenate((cells, first + middle, centre[:, None]), axis=1).T.astype(np.int64)


def jacobians(points: Array, cells: Index) -> Array:
    """Jacobian determinants (n, Q) of the biquadratic cells (9, n) or quadratic triangles (6, n) at local points of a
    5 x 5 grid."""
    from skfem import ElementQuad2, ElementTriP2

    grid = np.stack(np.meshgrid(*[np.linspace(0, 1, 5)] * 2)).reshape(2, -1)
    element, grid = (ElementQuad2(), grid) if len(cells) == 9 else (ElementTriP2(), grid[:, grid.sum(axis=0) <= 1])
    slope = np.array([element.lbasis(grid, i)[1] for i in range(len(cells))])
    jacobian = np.einsum("cin,idq->ncdq", points[:, cells], slope)
    return jacobian[:, 0, 0] * jacobian[:, 1, 1] - jacobian[:, 0, 1] * jacobian[:, 1, 0]


def flatness(points: Array, cells: Index) -> Array:
    """Smallest over largest Jacobian (n,) of the cells: 1 for a parallelogram or a straight triangle, 0 without area,
    negative inside out."""
    det = jacobians(points, cells)
    return det.min(axis=1) / np.maximum(np.abs(det).max(axis=1), np.finfo(float).tiny)


def local_in(p: Sequence[complex], m: Sequence[complex], aim: complex) -> tuple[float, float]:
    """Local coordinates of a point in a cell of corners p and middles m of `SIDES`, all as complex numbers: by Newton's
    method on its transfinite map."""
    x = y = 0.5
    for _ in range(30):
        (low, d_low), (end_, d_end), (high, d_high), (first, d_first) = (
            _parabola(p[i], m[n], p[k], t) for n, ((i, k), t) in enumerate(zip(SIDES, (x, y, x, y), strict=True))
        )
        flat = (1 - x) * (1 - y) * p[0] + x * (1 - y) * p[1] + x * y * p[2] + (1 - x) * y * p[3]
        place = (1 - y) * low + y * high + (1 - x) * first + x * end_ - flat
        dx = (1 - y) * d_low + y * d_high - first + end_ - ((1 - y) * (p[1] - p[0]) + y * (p[2] - p[3]))
        dy = high - low + (1 - x) * d_first + x * d_end - ((1 - x) * (p[3] - p[0]) + x * (p[2] - p[1]))
        gap = aim - place
        det = _cross(dx, dy)
        if det == 0 or max(abs(x), abs(y)) > 10:
            break
        step = _cross(gap, dy) / det, _cross(dx, gap) / det
        x, y = x + step[0], y + step[1]
        if max(map(abs, step)) < SETTLED or max(abs(gap.real), abs(gap.imag)) < ROUNDING:
            break
    return x, y


def _cross(a: complex, b: complex) -> float:
    return a.real * b.imag - a.imag * b.real


def _parabola(a: complex, m: complex, b: complex, t: float) -> tuple[complex, complex]:
    """Point and derivative on the parabola through a, m, b at 0, 1/2, 1."""
    return (
        a * (1 - t) * (1 - 2 * t) + m * 4 * t * (1 - t) + b * t * (2 * t - 1),
        a * (4 * t - 3) + m * (4 - 8 * t) + b * (4 * t - 1),
    )


def check_radius(plan: Plan) -> None:
    """Raise MeshError where a face of the wall lies beyond the axis."""
    points = np.array(plan.points)
    worst = points[np.argmin(points[:, 0])]
    if worst[0] < -SAME_POINT:
        raise MeshError(
            f"the wall must stay on its side of the axis: a face reaches {show_place(worst)}; make the wall thinner or "
            "keep it further out"
        )
