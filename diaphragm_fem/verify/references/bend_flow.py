"""Plane potential flow round a sharp bend of a gap, by elements of fourth order graded to both corners.

Half the bend, cut at its bisector where the potential is zero; unit flow comes in through a straight piece three gaps
long. The extra resistance is what both halves resist more than straight pieces up to the inner corner do.
"""

from itertools import pairwise

import numpy as np

from diaphragm_fem.arrays import Array, Index

Points = Array
RINGS, SHRINK = 20, 0.5  # about each corner; from ring to ring
STRAIGHT = 3  # gaps: beyond, the flow is even within exp(-2 pi 3) of its energy


def bend_resistance(theta: float) -> float:
    """Extra resistance of a bend by theta in rad, both lengths measured to the inner corner; 1 is a gap's own width."""
    from skfem import Basis, BilinearForm, ElementTriP4, FacetBasis, LinearForm, MeshTri, condense, solve
    from skfem.helpers import dot, grad

    slope = np.tan(theta / 2)
    mesh = MeshTri(*_joined(_cells(slope))).refined(2)
    basis = Basis(mesh, ElementTriP4(), intorder=6)

    @BilinearForm
    def flow(p, q, _):  # type: ignore[no-untyped-def]
        return dot(grad(p), grad(q))

    @LinearForm
    def entering(q, _):  # type: ignore[no-untyped-def]
        return 1.0 * q

    bisector = mesh.facets_satisfying(lambda x: np.abs(x[0] - slope * x[1]) < 1e-12, boundaries_only=True)
    entry = mesh.facets_satisfying(lambda x: np.abs(x[0] + STRAIGHT) < 1e-12)
    source = entering.assemble(FacetBasis(mesh, ElementTriP4(), facets=entry))
    potential = solve(*condense(flow.assemble(basis), source, D=basis.get_dofs(bisector)))
    return float(2 * (source @ potential - STRAIGHT))


def _cells(slope: float) -> Points:
    """Corners (C, 3, 2) of the cells: a fan about the inner corner, one about the outer corner, the straight piece."""
    middle = [(-1.0, 0.5), (slope / 4 - 0.25, 0.5), (slope / 2, 0.5)]
    found, quads = [], []
    for corner, first in (((0.0, 0.0), (-1.0, 0.0)), ((slope, 1.0), (-1.0, 1.0))):
        rays = np.array((first, *middle)) - corner
        rings = [rays * SHRINK**k + corner for k in range(RINGS)]
        sides = range(len(middle))
        quads += [(a[i], a[i + 1], b[i + 1], b[i]) for a, b in pairwise(rings) for i in sides]
        found += [(np.array(corner), rings[-1][i], rings[-1][i + 1]) for i in sides]
    box = np.array(((0.0, 0.0), (1.0, 0.0), (1.0, 0.5), (0.0, 0.5)))
    quads += [tuple(box - np.array((k + 1.0, -y))) for k in range(1, STRAIGHT) for y in (0.0, 0.5)]
    return np.array([*found, *((a, b, c) for a, b, c, _ in quads), *((a, c, d) for a, _, c, d in quads)])


def _joined(cells: Points) -> tuple[Points, Index]:
    """Points (2, N) without twins, and cells (3, C) as their numbers."""
    flat = cells.reshape(-1, 2)
    _, first, number = np.unique(np.round(flat, 13), axis=0, return_index=True, return_inverse=True)
    return np.ascontiguousarray(flat[first].T), np.ascontiguousarray(number.reshape(-1, 3).T)
