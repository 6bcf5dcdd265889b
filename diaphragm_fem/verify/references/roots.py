"""Roots of a characteristic determinant, found by scanning for changes of sign."""

from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq

from diaphragm_fem.arrays import Array


def determinant_roots(
    matrix: Callable[[float], Array], count: int, begin: float, step: float, end: float = 1e4
) -> Array:
    """First `count` values x > begin where det matrix(x) changes its sign.

    Columns are scaled to unit length first, which keeps the sign and makes the determinant smooth. `step` must be
    smaller than the distance between neighbouring roots. A pole (sign change through infinity) is dropped.
    """

    def value(x: float) -> float:
        a = matrix(x)
        return float(np.linalg.det(a / np.linalg.norm(a, axis=0)))

    roots: list[float] = []
    left, f_left = begin, value(begin)
    while len(roots) < count and left < end:
        right = left + step
        f_right = value(right)
        if f_left * f_right < 0:
            root = float(brentq(value, left, right, xtol=1e-13 * right, rtol=1e-14))
            if abs(value(root)) < 0.5 * max(abs(f_left), abs(f_right)):
                roots.append(root)
        left, f_left = right, f_right
    if len(roots) < count:
        raise ValueError(f"found {len(roots)} of {count} roots below {end:g}")
    return np.array(roots)
