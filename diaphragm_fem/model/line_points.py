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
    """Shape functions and their slopes d/ds (3, E, Q), local order begin, end, middle; geometry and height z (E, Q)."""

    basis: Basis
    shape: Array
    slope: Array
    at: Geometry
    z: Array


def line_points(mesh: MeridianMesh, count: int) -> LinePoints:
    """Quadratic elements of a meridian mesh at `count` Gauss points each."""
    basis = Basis(mesh.line, ElementLineP2(), quadrature=_gauss(count))
    functions = [basis.basis[i][0] for i in range(3)]
    size = basis.dx.shape
    shape = np.stack([np.broadcast_to(np.asarray(function), size) for function in functions])
    slope = np.stack([np.broadcast_to(function.grad[0], size) for function in functions])
    return LinePoints(basis, shape, slope, *_geometry(mesh, basis))


@cache
def _gauss(count: int) -> tuple[Array, Array]:
    return get_quadrature(RefLine, 2 * count - 1)


def _geometry(mesh: MeridianMesh, basis: Basis) -> tuple[Geometry, Array]:
    """Geometry and height z of the points."""
    position, curves = basis.mapping.F(basis.X)[0], [piece.curve for piece in mesh.pieces]
    s = position - mesh.offset[mesh.piece_of_element][:, None]
    at = traced(curves, mesh.piece_of_element, s)
    fraction = s / np.array([curve.length for curve in curves])[mesh.piece_of_element][:, None]
    return Geometry(at.r, at.t_r, at.t_z, at.kappa, fraction, basis.dx), at.z
