"""A smooth curve through points that never swings beyond them: cubic Hermite pieces with slopes after Fritsch and
Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300 (named from memory; the tests hold it against SciPy's).

SciPy has the same, but loading its splines took every process 0.15 to 0.3 s: more than three cases of a sweep.
"""

from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array


class MonotoneCurve(NamedTuple):
    """Knots x (n,) and the coefficients (4, n - 1) of each piece, cubic first, in the distance from its first knot;
    the integral (n - 1,) up to there."""

    x: Array
    cubic: Array
    before: Array

    def __call__(self, x: Array) -> Array:
        """Values at places between the first and the last knot, same shape."""
        piece, t = self._place(x)
        a, b, c, d = self.cubic[:, piece]
        return np.asarray(((a * t + b) * t + c) * t + d)

    def integral(self, x: Array) -> Array:
        """Integral from the first knot to places up to the last one, same shape."""
        piece, t = self._place(x)
        a, b, c, d = self.cubic[:, piece]
        return np.asarray(self.before[piece] + (((a / 4 * t + b / 3) * t + c / 2) * t + d) * t)

    def _place(self, x: Array) -> tuple[Array, Array]:
        piece = np.minimum(np.searchsorted(self.x[1:], x), len(self.x) - 2)
        return piece, x - self.x[piece]


def monotone_curve(x: Array, y: Array) -> MonotoneCurve:
    """The curve through two or more points (n,), x rising."""
    h = np.diff(x)
    rise = np.diff(y) / h
    slope = np.full(len(x), rise[0])
    if len(x) > 2:
        after, before = h[1:] + 2 * h[:-1], 2 * h[1:] + h[:-1]
        same = rise[1:] * rise[:-1] > 0
        one, other = np.where(same, rise[:-1], 1.0), np.where(same, rise[1:], 1.0)
        slope[1:-1] = np.where(same, (before + after) / (before / one + after / other), 0.0)
        slope[0], slope[-1] = _at_end(h[0], h[1], rise[0], rise[1]), _at_end(h[-1], h[-2], rise[-1], rise[-2])
    swing = (slope[:-1] + slope[1:] - 2 * rise) / h
    cubic = np.stack((swing / h, (rise - slope[:-1]) / h - swing, slope[:-1], y[:-1]))
    whole = (((cubic[0] / 4 * h + cubic[1] / 3) * h + cubic[2] / 2) * h + cubic[3]) * h
    return MonotoneCurve(x, cubic, np.concatenate(([0.0], np.cumsum(whole)[:-1])))


def _at_end(h: float, beyond: float, rise: float, next_rise: float) -> float:
    """The slope at an end of the first piece: of the parabola through three points, held where it would swing."""
    slope = ((2 * h + beyond) * rise - h * next_rise) / (h + beyond)
    if slope * rise <= 0:
        return 0.0
    return 3 * rise if rise * next_rise < 0 and abs(slope) > 3 * abs(rise) else slope
