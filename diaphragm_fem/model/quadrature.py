"""Places and weights at which integrals are summed."""

from __future__ import annotations

from functools import cache

import numpy as np

from diaphragm_fem.arrays import Array


@cache
def gauss(points: int) -> tuple[Array, Array]:
    """Gauss's rule on 0...1, places and weights (Q,): exact for polynomials of degree 2 Q - 1."""
    x, w = np.polynomial.legendre.leggauss(points)
    return (x + 1) / 2, w / 2
