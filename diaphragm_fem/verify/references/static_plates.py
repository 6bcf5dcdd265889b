"""Thin circular and annular plates at rest under a uniform pressure or a ring load.

In each ring w = A + B r^2 + C ln r + E r^2 ln r + p r^4/(64 D). Source: Timoshenko and Woinowsky-Krieger, Theory of
Plates and Shells (1959), ch. 3. Exact identity: the volume swept by a unit ring load at c is the deflection at c under
a unit pressure.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.verify.references.plates import EDGE_ROWS


@dataclass(frozen=True)
class PlateAtRest:
    """centre or inner-edge deflection, deflection at the load circle, swept volume (all for D = 1, outer radius 1)."""

    at_inner: float
    at_load: float
    volume: float


def _columns(r: float, nu: float) -> Array:
    """w, slope, moment, shear (rows) of 1, r^2, ln r, r^2 ln r; for D = 1."""
    if r == 0:
        return np.array(((1, 0, 0, 0), (0, 0, 0, 0), (0, 2 + 2 * nu, 0, 0), (0, 0, 0, 0)), float)
    log = np.log(r)
    value = (1, r**2, log, r**2 * log)
    slope = np.array((0, 2 * r, 1 / r, r * (2 * log + 1)))
    second = np.array((0, 2, -1 / r**2, 2 * log + 3))
    return np.vstack((value, slope, second + nu * slope / r, (0, 0, 0, 4 / r)))


def _load(r: float, nu: float) -> Array:
    return np.array((r**4 / 64, r**3 / 16, (3 + nu) * r**2 / 16, r / 2))


def _integral(a: float, b: float) -> Array:
    """2 pi times the integral of r times each function from a to b."""

    def primitive(r: float) -> Array:
        if r == 0:
            return np.zeros(4)
        log = np.log(r)
        return np.array((r**2 / 2, r**4 / 4, r**2 / 2 * (log - 0.5), r**4 / 4 * (log - 0.25)))

    return 2 * np.pi * (primitive(b) - primitive(a))


def plate_at_rest(
    outer: str,
    inner: str | None,
    b: float,
    *,
    pressure: float = 0.0,
    ring: tuple[float, float] | None = None,
    nu: float = 0.3,
) -> PlateAtRest:
    """Deflection and volume of b < r < 1 (inner None: a full disc) under `pressure` and a ring (radius, force)."""
    c, total = ring if ring else ((b + 1) / 2, 0.0)
    rows, right = [], []
    zero = np.zeros(4)
    if inner is None:
        rows += [np.r_[0, 0, 1, 0, zero], np.r_[0, 0, 0, 1, zero]]
        right += [0.0, 0.0]
        b = 0.0
    else:
        for i in EDGE_ROWS[inner]:
            value = -pressure * _load(b, nu)[i]
            if c == b and i == 3:
                value += total / (2 * np.pi * b)
            rows.append(np.r_[_columns(b, nu)[i], zero])
            right.append(value)
    if b < c < 1:
        for i in range(4):
            rows.append(np.r_[-_columns(c, nu)[i], _columns(c, nu)[i]])
            right.append(total / (2 * np.pi * c) if i == 3 else 0.0)
        split = c
    else:
        split = (b + 1) / 2
        for i in range(4):
            rows.append(np.r_[-_columns(split, nu)[i], _columns(split, nu)[i]])
            right.append(0.0)
    for i in EDGE_ROWS[outer]:
        value = -pressure * _load(1.0, nu)[i]
        if c == 1 and i == 3:
            value -= total / (2 * np.pi)
        rows.append(np.r_[zero, _columns(1.0, nu)[i]])
        right.append(value)
    solution = np.linalg.solve(np.array(rows), np.array(right))
    inside, outside = solution[:4], solution[4:]

    def deflection(r: float) -> float:
        return float(_columns(r, nu)[0] @ (inside if r <= split else outside) + pressure * _load(r, nu)[0])

    volume = _integral(b, split) @ inside + _integral(split, 1) @ outside + 2 * np.pi * pressure * (1 - b**6) / 384
    return PlateAtRest(deflection(b), deflection(c), float(volume))
