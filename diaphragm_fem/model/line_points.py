"""Quadratic line elements at their quadrature points: shape functions, slopes and the exact meridian geometry."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.curve import traced
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.shell_strain import Geometry
from diaphragm_fem.model.solid_shapes import gauss


@dataclass(frozen=True, eq=False)
class LinePoints:
    """Shape functions and their slopes d/ds (3, E, Q), local order begin, end, middle; geometry, height z and arc
    length s along the own piece (E, Q).
    """

    shape: Array
    slope: Array
    at: Geometry
    z: Array
    s: Array


def line_points(mesh: MeridianMesh, *counts: int) -> list[LinePoints]:
    """Quadratic elements of a meridian mesh at so many Gauss points each: first at those of all counts side by side,
    then at those of every count.
    """
    x, weight, functions, slopes = _reference(counts)
    owner, curves = mesh.piece_of_element, [piece.curve for piece in mesh.pieces]
    begin, end = mesh.place[mesh.nodes[:2], None]
    length = end - begin
    slope, s = 1 / length * slopes, length * x + begin - mesh.offset[owner, None]
    # laid out point by point, which sums over points hang on
    shape, ds = (functions + np.zeros(len(owner))).swapaxes(1, 2), np.multiply.outer(weight, length[:, 0]).T
    fraction = s / np.array([curve.length for curve in curves])[owner][:, None]
    at, found = traced(curves, owner, s), []
    ends = np.cumsum(counts).tolist()
    for some in (np.s_[..., :], *(np.s_[..., end - count : end] for end, count in zip(ends, counts, strict=True))):
        geometry = Geometry(*(x[some] for x in (at.r, at.t_r, at.t_z, at.kappa, fraction, ds)))
        found.append(LinePoints(shape[some], slope[some], geometry, at.z[some], s[some]))
    return found


@cache
def _reference(counts: tuple[int, ...]) -> tuple[Array, Array, Array, Array]:
    """Places and weights (Q,) on 0...1 of all the rules side by side; quadratic functions (3, Q, 1) and
    their slopes (3, 1, Q)."""
    x, weight = (np.concatenate(both) for both in zip(*(gauss(count) for count in counts), strict=True))
    functions, slopes = (1 - 3 * x + 2 * x**2, -x + 2 * x**2, 4 * x - 4 * x**2), (-3 + 4 * x, -1 + 4 * x, 4 - 8 * x)
    return x, weight, np.array(functions)[..., None], np.array(slopes)[:, None]
