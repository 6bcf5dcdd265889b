"""Quadratic line elements at their quadrature points: shape functions, slopes and the exact meridian geometry."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from skfem import Basis, ElementLineP2
from skfem.quadrature import get_quadrature
from skfem.refdom import RefLine

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.curve import traced
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.shell_strain import Geometry


@dataclass(frozen=True, eq=False)
class LinePoints:
    """Shape functions and their slopes d/ds (3, E, Q), local order begin, end, middle; geometry, height z and arc
    length s along the own piece (E, Q). The basis is that of all points evaluated together.
    """

    basis: Basis
    shape: Array
    slope: Array
    at: Geometry
    z: Array
    s: Array


def line_points(mesh: MeridianMesh, *counts: int) -> list[LinePoints]:
    """Quadratic elements of a meridian mesh at so many Gauss points each, once for every count.

    All are evaluated together: 0.5 instead of 0.9 ms for a stepped V.
    """
    basis, owner = Basis(mesh.line, ElementLineP2(), quadrature=_gauss(counts)), mesh.piece_of_element
    size, functions, curves = basis.dx.shape, [basis.basis[i][0] for i in range(3)], [x.curve for x in mesh.pieces]
    shape = np.stack([np.broadcast_to(np.asarray(function), size) for function in functions])
    slope = np.stack([np.broadcast_to(function.grad[0], size) for function in functions])
    s = basis.mapping.F(basis.X)[0] - mesh.offset[owner][:, None]
    fraction = s / np.array([curve.length for curve in curves])[owner][:, None]
    at, found = traced(curves, owner, s), []
    for end, count in zip(np.cumsum(counts).tolist(), counts, strict=True):
        some = np.s_[..., end - count : end]
        geometry = Geometry(*(x[some] for x in (at.r, at.t_r, at.t_z, at.kappa, fraction, basis.dx)))
        found.append(LinePoints(basis, shape[some], slope[some], geometry, at.z[some], s[some]))
    return found


@cache
def _gauss(counts: tuple[int, ...]) -> tuple[Array, Array]:
    """Places (1, Q) and weights (Q,) of all the rules side by side."""
    rules = [get_quadrature(RefLine, 2 * count - 1) for count in counts]
    return np.hstack([place for place, _ in rules]), np.concatenate([weight for _, weight in rules])
