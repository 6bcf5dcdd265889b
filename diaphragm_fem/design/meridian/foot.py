"""Where points and curves meet curves: feet of perpendiculars, crossings, and how a curve runs on beyond its ends."""

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array, Flags
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line

SAMPLES = 801
NEWTON = 12
CROSSED = 1e-9  # m
RUN_ON = 0.1  # of its length, by which a free curve runs on as the cubic it ends with


def feet(curve: Curve, points: Array) -> Array:
    """Arc lengths (P,) of the feet of points (P, 2), beyond the ends of lines and arcs too; of other curves within.

    On an arc the foot is the one on the points' own side of the centre, and beyond its ends the nearer way round.
    """
    points = np.atleast_2d(points)
    if isinstance(curve, Line):
        return np.asarray((points - curve.begin) @ curve.tangent(0.0))
    if isinstance(curve, Arc):
        way = np.sign(curve.sweep)
        angle = np.arctan2(points[:, 1] - curve.centre[1], points[:, 0] - curve.centre[0])
        middle = curve.start + curve.sweep / 2
        off = (angle - middle + np.pi) % (2 * np.pi) - np.pi
        return np.asarray(curve.length / 2 + way * off * curve.radius)
    from scipy.spatial import cKDTree

    s = np.linspace(0.0, curve.length, SAMPLES)
    found = s[cKDTree(curve.point(s)).query(points)[1]]
    for _ in range(NEWTON):
        gap, t = points - curve.point(found), curve.tangent(found)
        normal_gap = gap[:, 1] * t[:, 0] - gap[:, 0] * t[:, 1]
        slope = np.maximum(1 - curve.curvature(found) * normal_gap, 0.1)
        found = np.clip(found + (gap * t).sum(axis=1) / slope, 0.0, curve.length)
    return np.asarray(found)


@dataclass(frozen=True)
class Feet:
    """Of P points: arc lengths of their feet, distances from the curve between its ends, whether the foot is inside."""

    foot: Array
    away: Array
    inside: Flags


def distances(curve: Curve, points: Array) -> Feet:
    """Feet of points (P, 2) on a curve, and how far away they are."""
    s = feet(curve, points)
    slack = 1e-9 * curve.length
    near = curve.point(np.clip(s, 0.0, curve.length))
    away = np.linalg.norm(np.atleast_2d(points) - near, axis=1)
    return Feet(s, away, (s > slack) & (s < curve.length - slack))


def crossing(a: Curve, s: float, b: Curve, t: float) -> tuple[float, float] | None:
    """Arc lengths at which two curves cross, within them or as they run on beyond their ends, by Newton's method from
    (s, t); None where they do not cross near there."""
    for _ in range(40):
        gap, p, q = b.point(t) - a.point(s), a.tangent(s), b.tangent(t)
        det = float(p[1] * q[0] - p[0] * q[1])
        if det == 0 or max(_beyond(a, s), _beyond(b, t)) > 0:
            return None
        s, t = s + float(gap[1] * q[0] - gap[0] * q[1]) / det, t + float(p[0] * gap[1] - p[1] * gap[0]) / det
    return (s, t) if np.linalg.norm(b.point(t) - a.point(s)) < CROSSED else None


def _beyond(curve: Curve, s: float) -> float:
    """How far in m an arc length lies beyond where the curve may be run on to: a free one is none far from its ends."""
    reach = (3.0 if isinstance(curve, Line | Arc) else RUN_ON) * curve.length
    return max(-reach - s, s - curve.length - reach)
