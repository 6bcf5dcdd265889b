"""Outgoing waves on spheres: spherical Hankel functions of the second kind, by the ratios of neighbours.

    h_n/h_(n-1) = q_n,  q_0 = i,  q_(n+1) = (2 n + 1)/x - 1/q_n,  h_0 = i exp(-i x)/x,  h_n'/h_n = 1/q_n - (n + 1)/x.

Upward recurrence is stable, since h_n grows with n; ratios neither overflow nor vanish where h_n does. Source: Olver et
al., NIST Handbook of Mathematical Functions (2010), 10.51.1 and 10.51.2 (from memory).
"""

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Complex


def ratios(most: int, x: ArrayLike) -> Complex:
    """q_n (..., most + 1) for n = 0 ... most at x > 0 of any shape."""
    x = np.asarray(x, float)
    found = np.empty((*x.shape, most + 1), complex)
    found[..., 0] = 1j
    for n in range(most):
        found[..., n + 1] = (2 * n + 1) / x - 1 / found[..., n]
    return found


def log_slope(most: int, x: ArrayLike) -> Complex:
    """h_n'(x)/h_n(x) (..., most + 1)."""
    x = np.asarray(x, float)
    return np.asarray(1 / ratios(most, x) - (np.arange(most + 1) + 1) / x[..., None])


def carried(most: int, x: ArrayLike, to: ArrayLike) -> Complex:
    """h_n(to)/h_n(x) (..., most + 1): what a wave on one sphere is on another."""
    x, to = np.asarray(x, float), np.asarray(to, float)
    steps = ratios(most, to) / ratios(most, x)
    steps[..., 0] = np.exp(1j * (x - to)) * x / to
    return np.asarray(np.cumprod(steps, axis=-1))


def carried_away(most: int, x: ArrayLike) -> Complex:
    """Limit of y exp(i y) h_n(y)/h_n(x) for large y: i^(n+1)/h_n(x) (..., most + 1); 0 where h_n overflows."""
    x = np.asarray(x, float)
    steps = 1j / ratios(most, x)
    steps[..., 0] = x * np.exp(1j * x)
    return np.asarray(np.cumprod(steps, axis=-1))
