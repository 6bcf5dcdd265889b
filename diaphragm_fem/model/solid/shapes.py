"""Shape functions of the wall section: hierarchic quadrilaterals whose order is chosen cell by cell.

Long cells bend like a plate: order 5 along the wall and 3 across it. Short cells lie at kinks, joints and supports,
where the stress is truly two-dimensional: they take the full order both ways. Leaving a hierarchic function out of all
cells that share it lowers the order there and keeps the field continuous.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import reverse_cuthill_mckee
from skfem import Dofs, ElementQuad2, ElementQuadP

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.mesh.section import Section
from diaphragm_fem.mesh.section_plan import CORNERS, SIDES
from diaphragm_fem.model.quadrature import gauss

SHORT_CELL = 1.6  # wall thicknesses: cells up to this length take the full order


@dataclass(frozen=True)
class Orders:
    """Polynomial orders: along and across the wall in long cells, both ways in short ones and in those of a joint that
    is drawn as the union of its pieces, which are many and small.

    Any of 3 and more across the wall is safe for Poisson ratios near 0.5.
    """

    along: int = 5
    across: int = 3
    short: int = 5
    united: int = 4


class CellGroup(NamedTuple):
    """Cells (E,) of one order: their functions (F,) of those of all cells and numbers (E, F) of these; values (E, F, Q)
    and N,r ; N,z ; N/r (3, E, F, Q) at the quadrature points, and the weight times r dr dz (E, Q)."""

    cells: Index
    local: Index
    nodes: Index
    value: Array
    gradient: Array
    weight: Array


@dataclass(frozen=True)
class Shapes:
    """The functions of a section."""

    section: Section
    chosen: Orders

    sides = SIDES
    local_corners = CORNERS

    @cached_property
    def corner(self) -> Array:
        """Corners (n, 4, 2) of the cells in m."""
        return self.section.points[:, self.section.cells[:4]].T

    @property
    def ways(self) -> Array:
        """From each corner to the next (n, 4, 2) in m."""
        return np.roll(self.corner, -1, axis=1) - self.corner

    @property
    def top(self) -> int:
        """The highest order in use."""
        return max(self.chosen.along, self.chosen.across, self.chosen.short)

    @cached_property
    def _dofs(self) -> Dofs:
        return Dofs(self.section.mesh, ElementQuadP(self.top))

    @property
    def count(self) -> int:
        """N, how many scalar degrees of freedom there are; those inside cells come last."""
        return int(self._dofs.N)

    @property
    def inside(self) -> int:
        """How many functions live inside a cell alone: its last ones."""
        return (self.top - 1) ** 2

    @cached_property
    def _local(self) -> Array:
        """Gauss points (2, n, Q) of the cells, top + 1 each way, the same in all."""
        point, _ = gauss(self.top + 1)
        grid = np.stack([x.ravel() for x in np.meshgrid(point, point, indexing="ij")])
        return np.broadcast_to(grid[:, None], (2, self.section.cells.shape[1], grid.shape[1]))

    @property
    def slope(self) -> Array:
        """Derivatives (2, F, n, Q) to r and z at the quadrature points; made anew each time, as large as they are.

        A third of what a scikit-fem basis takes, which asks function by function: 1.5 ms of a joint's patch.
        """
        (a, b), (c, d) = self._mapped[1]
        turned = np.array([[d, -c], [-b, a]]) / (a * d - b * c)
        _, slope = _functions(self.top, self._local[:, 0].tobytes())
        return np.einsum("kdnq,fdq->kfnq", turned, slope, optimize=True)

    @cached_property
    def slopes(self) -> Array:
        """Integrals (n, 2, F, 2, F) over each cell of the products of its functions' derivatives to r and z."""
        gradient = self.slope.transpose(2, 0, 1, 3)
        cells, _, count, points = gradient.shape
        flat = gradient.reshape(cells, 2 * count, points)
        product = (flat * self.weight[:, None]) @ flat.transpose(0, 2, 1)
        return np.asarray(product.reshape(cells, 2, count, 2, count))

    def swirl(self, centre: float) -> Array:
        """Integrals (n, F) over each cell of N,r z - N,z r, r from a centre: what a turn about it works on N."""
        r, z = self.points
        across = np.stack((z, centre - r)) * self.weight
        return np.asarray(np.einsum("xfnq,xnq->nf", self.slope, across, optimize=True))

    @cached_property
    def weight(self) -> Array:
        """Quadrature weight times dr dz (n, Q)."""
        (a, b), (c, d) = self._mapped[1]
        _, weight = gauss(self.top + 1)
        return np.abs(a * d - b * c) * np.outer(weight, weight).ravel()

    @property
    def points(self) -> Array:
        """r and z (2, n, Q) of the quadrature points."""
        return self._mapped[0]

    @cached_property
    def _mapped(self) -> tuple[Array, Array]:
        return self.place(np.arange(self.section.cells.shape[1]), self._local)

    @cached_property
    def nodes(self) -> Index:
        """Scalar degrees of freedom (n, F) of the cells: of corners, sides, and inside."""
        return self._dofs.element_dofs.T.astype(np.int64)

    @cached_property
    def orders(self) -> Index:
        """Polynomial orders (F, 2) of the local functions along the two local axes."""
        p = self.top
        inner = range(2, p + 1)
        edge = [[(k, 1) for k in inner], [(1, k) for k in inner]] * 2
        sides = [pair for side in edge for pair in side]
        return np.array([*[(1, 1)] * 4, *sides, *((i, j) for i in inner for j in inner)])

    @cached_property
    def order_of_cell(self) -> Index:
        """Orders (n, 2) along the two local axes of each cell."""
        plan = self.section.plan
        branch, side = np.array(plan.branch), np.linalg.norm(self.ways, axis=2).T
        length = np.where(branch, np.maximum(side[1], side[3]), np.maximum(side[0], side[2]))
        design = self.section.design
        own = [*(float(piece.wall.thickness(0.5)) for piece in design.pieces), *[0.0] * len(design.beads)]
        thickness = np.array(own)[plan.piece]
        chosen = self.chosen
        long_cell = np.where(branch[:, None], (chosen.across, chosen.along), (chosen.along, chosen.across))
        order = np.where((length > SHORT_CELL * thickness)[:, None], long_cell, chosen.short)
        order[plan.united] = min(chosen.united, chosen.short)
        return order

    def groups(self, kinds: NDArray) -> Iterator[CellGroup]:
        """The cells of each kind, a row of `kinds` (n, K) that begins with their orders."""
        value, slope, radius = self.at(self._local), self.slope, self.points[0]
        weight = self.weight * radius
        found, kind = np.unique(kinds, axis=0, return_inverse=True)
        for number, (along, across, *_) in enumerate(found.tolist()):
            cells = np.flatnonzero(kind.ravel() == number)
            local = np.flatnonzero((self.orders <= (along, across)).all(axis=1))
            n, d_r, d_z = (x[np.ix_(local, cells)].transpose(1, 0, 2) for x in (value, *slope))
            gradient = np.stack((d_r, d_z, n / radius[cells][:, None]))
            yield CellGroup(cells, local, self.nodes[cells][:, local], n, gradient, weight[cells])

    @cached_property
    def used(self) -> Flags:
        """Which scalar degrees of freedom are in use: those that every cell which has them keeps."""
        dropped = np.zeros(self.count, bool)
        too_high = (self.orders[None] > self.order_of_cell[:, None]).any(axis=2)
        dropped[self.nodes[too_high]] = True
        return ~dropped

    @cached_property
    def elimination(self) -> Index:
        """Place (N,) of each scalar degree of freedom in the order of elimination: cell by cell along the wall."""
        cells, count = self.section.cells, self.section.points.shape[1]
        corner, starts = cells[:4].T.ravel(), 4 * np.arange(cells.shape[1] + 1)
        holds = csr_matrix((np.ones(len(corner)), corner, starts), shape=(cells.shape[1], count))
        met = np.empty(cells.shape[1], np.int64)
        met[reverse_cuthill_mckee(csr_matrix(holds @ holds.T), symmetric_mode=True)] = np.arange(len(met))
        found = np.zeros(self.count, np.int64)
        np.maximum.at(found, self.nodes, met[:, None])
        return found

    def at(self, local: Array) -> Array:
        """Functions (F, K, Q) at local points (2, K, Q)."""
        points = _shared(local)
        values = _functions(self.top, points.tobytes())[0].reshape(-1, *points.shape[1:])
        return np.broadcast_to(values, (len(values), *local.shape[1:]))

    def place(self, cells: Index, local: Array) -> tuple[Array, Array]:
        """Points (2, K, Q) and derivatives d(r, z)/d(local) (2, 2, K, Q) at local points (2, K, Q) of cells (K,)."""
        points = _shared(local)
        shape, slope = _functions(0, points.tobytes())
        corner = self.section.points[:, self.section.cells[:, cells]]
        value = np.broadcast_to(shape.reshape(9, *points.shape[1:]), (9, *local.shape[1:]))
        gradient = np.broadcast_to(slope.reshape(9, 2, *points.shape[1:]), (9, 2, *local.shape[1:]))
        return np.einsum("cik,ikq->ckq", corner, value), np.einsum("cik,idkq->cdkq", corner, gradient)

    def side_nodes(self, cell: int, side: int) -> tuple[Index, Index]:
        """Scalar degrees of freedom of a side in use: its two corners, and its inner ones."""
        inner = 4 + side * (self.top - 1) + np.arange(self.top - 1)
        own = self.nodes[cell]
        inside = own[inner]
        return own[list(SIDES[side])], inside[self.used[inside]]


@lru_cache(maxsize=64)
def _functions(order: int, points: bytes) -> tuple[Array, Array]:
    """Functions (F, Q) of an order, or of geometry (order 0), and their slopes (F, 2, Q) at local points (2, Q) of
    float64, kept: sides and middles ask for the same ones in any part."""
    local = np.frombuffer(points).reshape(2, -1)
    element, count = (ElementQuadP(order), (order + 1) ** 2) if order else (ElementQuad2(), 9)
    value, slope = zip(*(element.lbasis(local, i) for i in range(count)), strict=True)
    return np.array(value), np.array(slope)


def _shared(local: Array) -> Array:
    """Local points (2, K, Q), cut to one cell (2, 1, Q) where all cells have the same."""
    return local[:, :1] if (local == local[:, :1]).all() else local


def side_points(sides: list[tuple[int, int]], points: int) -> tuple[Index, Array, Array]:
    """Cells (K,), local Gauss points (2, K, Q) and weights (Q,) on sides, each run from its first corner."""
    x, w = gauss(points)
    ends = np.array([CORNERS[list(SIDES[side])] for _, side in sides])
    local = ends[:, 0, :, None] * (1 - x) + ends[:, 1, :, None] * x
    return np.array([cell for cell, _ in sides]), local.transpose(1, 0, 2), w
