"""Places on a line between which something smooth is read by a polynomial."""

import numpy as np

from diaphragm_fem.arrays import Array


def chebyshev(begin: float, end: float, count: int) -> Array:
    """Chebyshev's points (P,) between two places, with both of them."""
    found = (begin + end - (end - begin) * np.cos(np.pi * np.arange(count) / (count - 1))) / 2
    found[[0, -1]] = begin, end  # to the bit: the next stretch begins there
    return np.asarray(found)


def lagrange(places: Array, place: float) -> Array:
    """What the values at places (P,) count at another, read by the polynomial through them."""
    own = np.eye(len(places), dtype=bool)
    return np.asarray((np.where(own, 1.0, place - places) / (places[:, None] - places + own)).prod(axis=1))


def widest(places: Array) -> float:
    """The middle of the widest gap between places (P,)."""
    k = int(np.diff(places).argmax())
    return float(places[k : k + 2].mean())
