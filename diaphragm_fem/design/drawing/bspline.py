"""A free curve as a cubic B-spline of few points, for files of other programs."""

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.meridian.curve import Curve

NEAR = 2e-11  # of its length, by which the spline may leave the curve
MOST = 513  # points


def cubic_of(curve: Curve) -> tuple[Array, Array]:
    """Knots (K + 4,), the first and last four equal, and control points (K, 2) in m."""
    from scipy.interpolate import make_interp_spline

    count = 17
    while True:
        s = np.linspace(0.0, curve.length, count)
        spline = make_interp_spline(s, curve.point(s), k=3)
        between = np.linspace(0.0, curve.length, 4 * count - 3)
        off = np.abs(spline(between) - curve.point(between)).max()
        if off <= NEAR * curve.length or count >= MOST:
            return np.asarray(spline.t), np.asarray(spline.c)
        count = 2 * count - 1
