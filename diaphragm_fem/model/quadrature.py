"""Places and weights at which integrals are summed."""

from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array


@cache
def gauss(points: int) -> tuple[Array, Array]:
    """Gauss's rule on 0...1, places and weights (Q,): exact for polynomials of degree 2 Q - 1."""
    x, w = np.polynomial.legendre.leggauss(points)
    return (x + 1) / 2, w / 2


def quadratics(x: ArrayLike) -> Array:
    """Quadratic functions (3, ...) of an element at places on 0...1: of its begin, end and middle."""
    x = np.asarray(x)
    return np.array((1 - 3 * x + 2 * x**2, -x + 2 * x**2, 4 * x - 4 * x**2))


def quadratic_slopes(x: ArrayLike) -> Array:
    """Their derivatives (3, ...)."""
    x = np.asarray(x)
    return np.array((-3 + 4 * x, -1 + 4 * x, 4 - 8 * x))
