"""Smooth patterns of pressure on a face: orthonormal polynomials of the distance along it.

integral of psi_i psi_j 2 pi r ds = delta_ij,   psi_j a combination of Legendre polynomials P_0 ... P_j of
x = 2 s/L - 1, or of x = 2 (s/L)^2 - 1 on a face that begins on the axis, where a smooth pressure is even in s.
"""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import legendre

from diaphragm_fem.arrays import Array
from diaphragm_fem.mesh.open_contour import OpenContour


@dataclass(frozen=True)
class FacePatterns:
    """length in m of the face; mix (N, N): psi = P(x) @ mix."""

    length: float
    even: bool
    mix: Array

    def __call__(self, place: Array) -> Array:
        """Values (P, N) in 1/m at distances (P,) in m along the face."""
        share = place / self.length
        x = 2 * share**2 - 1 if self.even else 2 * share - 1
        return np.asarray(legendre.legvander(x, len(self.mix) - 1) @ self.mix)


def face_patterns(contour: OpenContour, count: int) -> FacePatterns:
    """The first `count` patterns on the face of a contour."""
    plain = FacePatterns(contour.length, contour.starts_on_axis, np.eye(count))
    place, weight = face_rule(contour, 2 * count)
    values = plain(place)
    factor = np.linalg.qr(np.sqrt(weight)[:, None] * values, mode="r")
    mix = np.linalg.inv(factor * np.sign(np.diagonal(factor))[:, None])
    return FacePatterns(contour.length, contour.starts_on_axis, mix)


def face_rule(contour: OpenContour, points: int) -> tuple[Array, Array]:
    """Gauss points on every curve of the face: distances (Q,) in m along it, and 2 pi r ds (Q,) in m2."""
    nodes, weights = legendre.leggauss(points)
    length = np.diff(contour.begins)[:, None]
    place = (contour.begins[:-1, None] + (nodes + 1) / 2 * length).ravel()
    return place, 2 * np.pi * contour.point(place)[:, 0] * (weights / 2 * length).ravel()
