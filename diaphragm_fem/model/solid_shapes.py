"""Shape functions of the wall section: hierarchic quadrilaterals, of full order along the wall, lower across it.

Leaving a hierarchic function out of one cell and of its neighbours lowers the order there and keeps the field continuous:
so the wall may be resolved finely along the meridian and still cheaply through its thickness.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from skfem import Basis, ElementQuad2, ElementQuadP

from diaphragm_fem.mesh.section import Section

Array = NDArray[np.float64]
Index = NDArray[np.int64]

SIDE_CORNERS = ((0, 1), (1, 2), (3, 2), (0, 3))  # rear, end, front, begin; each from the rear or the begin


@dataclass(frozen=True)
class Shapes:
    """Functions of a section: order along the wall and order across it (both 3 or more is safe for nu near 0.5)."""

    section: Section
    along: int
    across: int

    @cached_property
    def element(self) -> ElementQuadP:
        return ElementQuadP(self.along)

    @cached_property
    def basis(self) -> Basis:
        """The scikit-fem basis, Gauss rule of along + 1 points each way."""
        point, weight = gauss(self.along + 1)
        grid = np.stack([x.ravel() for x in np.meshgrid(point, point, indexing="ij")])
        return Basis(self.section.mesh, self.element, quadrature=(grid, np.outer(weight, weight).ravel()))

    @cached_property
    def value(self) -> Array:
        """Functions (F, n, Q) at the quadrature points; the same in every cell."""
        return np.stack([np.broadcast_to(x[0].value, self.weight.shape) for x in self.basis.basis])

    @cached_property
    def slope(self) -> Array:
        """Derivatives (2, F, n, Q) to r and z at the quadrature points."""
        return np.stack([x[0].grad for x in self.basis.basis], axis=1)

    @property
    def weight(self) -> Array:
        """Quadrature weight times dr dz (n, Q)."""
        return self.basis.dx

    @cached_property
    def radius(self) -> Array:
        """r (n, Q) at the quadrature points."""
        return self.basis.mapping.F(self.basis.X)[0]

    @property
    def nodes(self) -> Index:
        """Scalar degrees of freedom (n, F) of the cells."""
        return self.basis.element_dofs.T.astype(np.int64)

    @cached_property
    def orders(self) -> Index:
        """Polynomial orders (F, 2) of the local functions along the two local axes."""
        p = self.along
        inner = range(2, p + 1)
        edge = [[(k, 1) for k in inner], [(1, k) for k in inner]] * 2
        return np.array([(1, 1)] * 4 + [pair for side in edge for pair in side] + [(i, j) for i in inner for j in inner])

    def kept(self, branch: bool) -> Index:
        """Local functions in use: those of at most the order `across` through the wall."""
        axis = 0 if branch else 1
        return np.flatnonzero(self.orders[:, axis] <= self.across)

    @cached_property
    def used(self) -> NDArray[np.bool_]:
        """Which scalar degrees of freedom are in use; at the top of a former the meridian's order wins."""
        used = np.zeros(int(self.basis.N), bool)
        branch = np.array(self.section.plan.branch)
        for kind in (False, True):
            used[self.nodes[branch == kind][:, self.kept(kind)]] = True
        return used

    def local_functions(self, branch: bool) -> Index:
        """Local functions to assemble for a kind of cell; a former's cells take all, the unused ones drop out later."""
        return np.arange(len(self.orders)) if branch else self.kept(False)

    def at(self, local: Array) -> Array:
        """Functions (F, K, Q) at local points (2, K, Q)."""
        flat = local.reshape(2, -1)
        return np.stack([self.element.lbasis(flat, i)[0] for i in range(len(self.orders))]).reshape(-1, *local.shape[1:])

    def place(self, cells: Index, local: Array) -> tuple[Array, Array]:
        """Points (2, K, Q) and derivatives d(r, z)/d(local) (2, 2, K, Q) at local points (2, K, Q) of the cells (K,)."""
        flat = local.reshape(2, -1)
        element = ElementQuad2()
        shape, slope = zip(*(element.lbasis(flat, i) for i in range(9)), strict=True)
        corner = self.section.points[:, self.section.cells[:, cells]]
        value = np.array(shape).reshape(9, *local.shape[1:])
        gradient = np.array(slope).reshape(9, 2, *local.shape[1:])
        return np.einsum("cik,ikq->ckq", corner, value), np.einsum("cik,idkq->cdkq", corner, gradient)

    def side_nodes(self, cell: int, side: int) -> tuple[Index, Index]:
        """Scalar degrees of freedom of a side in use: its two corners, and its inner ones."""
        inner = 4 + side * (self.along - 1) + np.arange(self.along - 1)
        own = self.nodes[cell]
        inside = own[inner]
        return own[list(SIDE_CORNERS[side])], inside[self.used[inside]]


def gauss(points: int) -> tuple[Array, Array]:
    """Gauss rule on 0...1."""
    x, w = np.polynomial.legendre.leggauss(points)
    return (x + 1) / 2, w / 2


def side_points(sides: list[tuple[int, int]], points: int) -> tuple[Index, Array, Array]:
    """Cells (K,), local Gauss points (2, K, Q) and weights (Q,) on sides, each run from its first corner."""
    corner = np.array([(0, 0), (1, 0), (1, 1), (0, 1)], float)
    x, w = gauss(points)
    ends = np.array([[corner[k] for k in SIDE_CORNERS[side]] for _, side in sides])
    local = ends[:, 0, :, None] * (1 - x) + ends[:, 1, :, None] * x
    return np.array([cell for cell, _ in sides]), local.transpose(1, 0, 2), w
