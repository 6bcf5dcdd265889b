"""Thin circular and annular plates at rest under a uniform pressure or a ring load.

In each ring w = A + B ln r + C r^2 + E r^2 ln r + p r^4/(64 D). Source: Timoshenko and Woinowsky-Krieger, Theory of
Plates and Shells (1959), ch. 3. Exact identity: the volume swept by a unit ring load at c is the deflection at c under
a unit pressure.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.verify.references.plates import EDGE_ROWS, chain, shear_row


@dataclass(frozen=True)
class PlateAtRest:
    """centre or inner-edge deflection, deflection at the load circle, swept volume (all for D = 1, outer radius 1)."""

    at_inner: float
    at_load: float
    volume: float


def _columns(r: float, nu: float) -> Array:
    """w, slope, moment, shear (rows) of 1, ln r, r^2, r^2 ln r; for D = 1."""
    if r == 0:
        return np.array(((1, 0, 0, 0), (0, 0, 0, 0), (0, 0, 2 + 2 * nu, 0), (0, 0, 0, 0)), float)
    log = np.log(r)
    slope = np.array((0, 1 / r, 2 * r, r * (2 * log + 1)))
    second = np.array((0, -1 / r**2, 2, 2 * log + 3))
    return np.array(((1, log, r**2, r**2 * log), slope, second + nu * slope / r, (0, 0, 0, 4 / r)))


def _load(r: float, nu: float) -> Array:
    return np.array((r**4 / 64, r**3 / 16, (3 + nu) * r**2 / 16, r / 2))


def _integral(a: float, b: float) -> Array:
    """2 pi times the integral of r times each function from a to b."""

    def primitive(r: float) -> Array:
        log = np.log(r) if r else 0.0
        return np.array((r**2 / 2, r**2 / 2 * (log - 0.5), r**4 / 4, r**4 / 4 * (log - 0.25)))

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
    inner, borders = inner or "", np.unique((b, c, 1.0)).tolist()
    tables = [_columns(r, nu) for r in borders]
    count, joint = len(borders) - 1, borders.index(c)
    right = np.zeros(4 * count)
    if inner:
        right[:2] = -pressure * _load(b, nu)[list(EDGE_ROWS[inner])]
    right[-2:] = pressure * _load(1.0, nu)[list(EDGE_ROWS[outer])]
    if total:
        right[shear_row(inner, outer, count, joint)] += total / (2 * np.pi * c)
    shape = np.linalg.solve(chain(inner, outer, tables[:-1], tables[1:]), right).reshape(count, 4)

    def deflection(place: int) -> float:
        return float(tables[place][0] @ shape[min(place, count - 1)] + pressure * _load(borders[place], nu)[0])

    volume = sum(_integral(*ends) @ own for ends, own in zip(pairwise(borders), shape, strict=True))
    return PlateAtRest(deflection(0), deflection(joint), float(volume + 2 * np.pi * pressure * (1 - b**6) / 384))
