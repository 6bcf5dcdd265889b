"""Slot places and areas that leave the first radial modes of a flat thin chamber unexcited.

N slots on the N nodal circles of mode N, which is then untouched whatever the flows; areas from
sum A_i phi_n(r_i) = 0, n = 1 ... N-1, sum A_i = 1. Rigid-wall modes of a disc: J1(x) = 0, phi = J0(x r/a); of an
annulus b < r < a, beta = b/a: J1(x) Y1(beta x) = Y1(x) J1(beta x). B. H. Smith, J. Acoust. Soc. Am. 25 (1953) 305 (from
memory, for the disc); the annulus is the same argument with its own modes.

A starting layout: it assumes equal flow per area, a flat chamber of even gap and a face that moves evenly. A face that
bends or decouples excites the modes itself; the loaded response is the judge.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import j0, j1, y0, y1

from diaphragm_fem.arrays import Array
from diaphragm_fem.errors import ModelError

MOST_SLOTS = 100


@dataclass(frozen=True)
class SlotLayout:
    """N slots: radius (N,) over the outer radius, area (N,) as fractions, residual (N,) of the modal condition.

    next_mode: what the layout leaves of mode N + 1, over that mode's largest value. roots (N,) are x_n = omega_n a/c.
    """

    radius: Array
    area: Array
    residual: Array
    next_mode: float
    roots: Array


def slots_by_modes(count: int, beta: float = 0.0) -> SlotLayout:
    """Layout of `count` slots for a disc (beta = 0) or an annulus of inner over outer radius beta.

    Raises ModelError for a count that is no whole number from 1 to 100, or beta outside 0 to 0.98.
    """
    if not isinstance(count, int | np.integer) or not 1 <= count <= MOST_SLOTS:
        raise ModelError(f"a layout needs a whole number of slots from 1 to {MOST_SLOTS}, received {count}")
    if not 0 <= beta <= 0.98:
        raise ModelError(f"the inner over the outer radius must lie between 0 and 0.98, received {beta:g}")
    roots = radial_roots(count + 1, beta)
    radius = _zeros(lambda r: radial_mode(roots[count - 1], beta, r), beta, 1.0, count)
    shapes = np.array([radial_mode(x, beta, radius) for x in roots])
    area = np.linalg.solve(np.vstack((shapes[: count - 1], np.ones(count))), np.eye(count)[-1])
    grid = np.linspace(beta, 1.0, 2001)
    largest = np.array([np.abs(radial_mode(x, beta, grid)).max() for x in roots])
    left = shapes @ area / largest
    return SlotLayout(radius, area, left[:count], float(left[-1]), roots[:count])


def radial_roots(count: int, beta: float = 0.0) -> Array:
    """The first roots x_n (count,) of the rigid-wall radial modes, f = x c/(2 pi a)."""
    spacing = np.pi / (1 - beta)
    if beta == 0:
        return _zeros(j1, 0.5, (count + 1.5) * spacing, count)
    return _zeros(lambda x: j1(x) * y1(beta * x) - y1(x) * j1(beta * x), 0.5 * spacing, (count + 1) * spacing, count)


def radial_mode(x: float, beta: float, r: ArrayLike) -> Array:
    """phi(r) = J0(x r) - J1(x beta)/Y1(x beta) Y0(x r), r over the outer radius."""
    r = np.asarray(r, float)
    return np.asarray(j0(x * r) if beta == 0 else j0(x * r) - j1(x * beta) / y1(x * beta) * y0(x * r))


def _zeros(f, low: float, high: float, count: int) -> Array:  # type: ignore[no-untyped-def]
    """The first `count` zeros of f between low and high, bracketed on a fine grid."""
    grid = np.linspace(low, high, 60 * (count + 2))
    value = f(grid)
    brackets = np.flatnonzero(np.sign(value[:-1]) * np.sign(value[1:]) < 0)[:count]
    from scipy.optimize import brentq

    return np.array([brentq(f, grid[k], grid[k + 1], xtol=1e-14) for k in brackets])
