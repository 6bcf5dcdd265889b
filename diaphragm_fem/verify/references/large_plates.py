"""Clamped circular plates beyond small deflection: tension in their plane, and von Karman's equations under pressure.

Outer radius a = 1, Poisson ratio nu.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy.optimize import brentq
from scipy.special import ive as scaled_i
from scipy.special import jn_zeros, jv, jvp

from diaphragm_fem.arrays import Array

BUCKLING = -(float(jn_zeros(1, 1)[0]) ** 2)  # T a^2/D of a clamped plate, m = 0: J1(x) = 0


@cache
def tensioned_plate(tension: float, m: int, count: int = 3) -> tuple[float, ...]:
    """omega a^2 sqrt(rho h/D) of the first modes of m nodal diameters at the edge tension T a^2/D (positive pulls).

    J_m(p) q I_m'(q) - p J_m'(p) I_m(q) = 0 with q^2 - p^2 = T a^2/D and omega = p q, thin plate, edge clamped
    (problem of Wah, J. Acoust. Soc. Am. 34 (1962) 275, named from memory; the equation is derived here: D lap^2 w -
    T lap w = rho h omega^2 w, w = J_m(p r) and I_m(q r)).
    """

    def value(p: float) -> float:
        q = np.sqrt(p * p + tension)
        slope = (scaled_i(m - 1, q) + scaled_i(m + 1, q)) / 2
        return float(jv(m, p) * q * slope - p * jvp(m, p) * scaled_i(m, q))

    found: list[float] = []
    left = max(1e-6, np.sqrt(max(-tension, 0.0)) * (1 + 1e-9)) + 1e-6
    step = 0.02
    while len(found) < count:
        if value(left) * value(left + step) < 0:
            p = float(brentq(value, left, left + step, xtol=1e-14))
            found.append(p * float(np.sqrt(p * p + tension)))
        left += step
    return tuple(found)


@cache
def pressed_plate(deflection: float, nu: float = 0.3, points: int = 40) -> float:
    """q a^4/(E h^4) of a clamped plate with immovable edge at a centre deflection in thicknesses, by von Karman.

    With slope y = w' and radial force r N, h = E = 1: D (y'' + y'/r - y/r^2) = N y + q r/2 and
    r^2 N'' + 3 r N' + y^2/2 = 0, y = 0 and r N' + (1 - nu) N = 0 at the edge, both even or odd at the axis.
    Newton's method on Chebyshev collocation. Source: von Karman (1910) as in Timoshenko and Woinowsky-Krieger, Theory
    of Plates and Shells (1959), section 97, solved here.
    """
    x = np.cos(np.pi * np.arange(points) / (points - 1))  # 1 ... -1
    r, d = (1 + x) / 2, 2 * _chebyshev(points, x)
    rigidity = 1 / 12 / (1 - nu**2)
    inside = r > 1e-12
    with np.errstate(divide="ignore", invalid="ignore"):
        bending = np.where(inside[:, None], rigidity * (d @ d + d / r[:, None] - np.diag(1 / r**2)), np.eye(points))
    stretching = np.diag(r) @ d @ d + 3 * d
    mean = _integral(d)
    y, n = -2 * deflection * r * (1 - r**2) * 2, np.zeros(points)
    load = deflection
    for _ in range(60):
        first = bending @ y - np.where(inside, n * y + load * r / 2, 0.0)
        over_r = np.where(inside, y**2 / np.maximum(r, 1e-300), 0.0)
        second = stretching @ n + over_r / 2
        first[0], second[0] = y[0], d[0] @ n + (1 - nu) * n[0]
        third = mean @ y + deflection
        slope = np.zeros((2 * points + 1, 2 * points + 1))
        slope[:points, :points] = bending - np.diag(np.where(inside, n, 0.0))
        slope[:points, points:-1] = -np.diag(np.where(inside, y, 0.0))
        slope[:points, -1] = -np.where(inside, r / 2, 0.0)
        slope[points:-1, :points] = np.diag(np.where(inside, y / np.maximum(r, 1e-300), 0.0))
        slope[points:-1, points:-1] = stretching
        slope[0], slope[points] = 0.0, 0.0
        slope[0, 0] = 1.0
        slope[points, points:-1] = d[0]
        slope[points, points] += 1 - nu
        slope[-1, :points] = mean
        change = np.linalg.solve(slope, np.concatenate((first, second, [third])))
        y, n, load = y - change[:points], n - change[points:-1], load - float(change[-1])
        if np.abs(change).max() < 1e-10 * (1 + abs(load)):
            break
    return load


def _chebyshev(points: int, x: Array) -> Array:
    """Differentiation matrix on Chebyshev points (Trefethen, Spectral Methods in Matlab (2000), ch. 6)."""
    weight = np.where((np.arange(points) == 0) | (np.arange(points) == points - 1), 2.0, 1.0)
    weight *= (-1.0) ** np.arange(points)
    gap = x[:, None] - x[None, :] + np.eye(points)
    matrix = np.outer(weight, 1 / weight) / gap
    return np.asarray(matrix - np.diag(matrix.sum(axis=1)))


def _integral(d: Array) -> Array:
    """Weights of the integral from the axis (last point) to the edge: the first row of d's inverse, axis held."""
    return np.asarray(np.append(np.linalg.inv(d[:-1, :-1])[0], 0.0))
