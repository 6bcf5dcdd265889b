"""Axisymmetric Kirchhoff plate by cubic Hermite elements: a structure by hand, free of the package's models.

Energy 2 pi int D/2 [w''^2 + (w'/r)^2 + 2 nu w'' w'/r] r dr; unknowns w and w' at every node, slope zero on the axis,
rim clamped. The error falls with the fourth power of the element size.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array


@dataclass(frozen=True)
class HermitePlate:
    """stiffness, mass (n, n) of the free unknowns; drive (n,) deflection at the driven circle; radius (P,) of face
    points and sweep (P, n) the volume each stands for, m3 per unit of the unknowns."""

    stiffness: Array
    mass: Array
    drive: Array
    radius: Array
    sweep: Array


def clamped_plate(
    radius: float, bending: float, areal_mass: float, nu: float, driven: float, ring_mass: float, elements: int = 80
) -> HermitePlate:
    """A disc with a ring of mass (kg) on its driven circle (m), which lies on a node."""
    inner = round(elements * driven / radius)
    r = np.concatenate((np.linspace(0, driven, inner + 1), np.linspace(driven, radius, elements - inner + 1)[1:]))
    n = 2 * len(r)
    K, M = np.zeros((n, n)), np.zeros((n, n))
    x, weight = np.polynomial.legendre.leggauss(6)
    x, weight = (x + 1) / 2, weight / 2
    sweep, at = [], []
    for e, length in enumerate(np.diff(r)):
        shape = _hermite(x, length)
        radii = r[e] + length * x
        band = 2 * np.pi * radii * weight * length
        bend, turn = shape[2], shape[1] / radii
        here = slice(2 * e, 2 * e + 4)
        for a, b, factor in ((bend, bend, 1.0), (turn, turn, 1.0), (bend, turn, nu), (turn, bend, nu)):
            K[here, here] += bending * factor * (a * band) @ b.T
        M[here, here] += areal_mass * (shape[0] * band) @ shape[0].T
        row = np.zeros((len(x), n))
        row[:, here] = (shape[0] * band).T
        sweep.append(row)
        at.append(radii)
    M[2 * inner, 2 * inner] += ring_mass
    free = np.setdiff1d(np.arange(n), (1, n - 2, n - 1))
    drive = np.zeros(n)
    drive[2 * inner] = 1
    held = np.ix_(free, free)
    return HermitePlate(K[held], M[held], drive[free], np.concatenate(at), np.vstack(sweep)[:, free])


def _hermite(x: Array, length: float) -> Array:
    """Values, slopes and second derivatives (3, 4, P) of the cubic functions on (0, 1) times length."""
    one = np.ones_like(x)
    value = (1 - 3 * x**2 + 2 * x**3, length * (x - 2 * x**2 + x**3), 3 * x**2 - 2 * x**3, length * (x**3 - x**2))
    slope = ((6 * x**2 - 6 * x) / length, 1 - 4 * x + 3 * x**2, (6 * x - 6 * x**2) / length, 3 * x**2 - 2 * x)
    second = ((12 * x - 6) / length**2, (6 * x - 4 * one) / length, (6 - 12 * x) / length**2, (6 * x - 2) / length)
    return np.array((value, slope, second))
