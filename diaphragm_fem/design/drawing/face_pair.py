"""The middle between two curves of a wall's faces: half-way between parallel lines and concentric arcs, exactly;
between other curves through the centres of circles that touch both."""

from collections.abc import Callable
from dataclasses import dataclass
from math import hypot

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line, freeform_through, normal
from diaphragm_fem.design.meridian.foot import feet
from diaphragm_fem.errors import DesignError

CONCENTRIC = 1e-4  # of the thickness, by which the centres of two arcs may differ
EVEN = 1e-7  # of the thickness, that is rounding
ASLANT = 1e-3  # rad, by which a radius may miss the normal of the curve that its circle touches
CENTRES = 61  # circles that touch both of two curves


@dataclass(frozen=True)
class Pair:
    """The middle of two curves, lines and arcs running on beyond their ends, and the wall there.

    thickness(s) in m at arc lengths s of the middle, measured across it; negative where straight faces have crossed.
    """

    middle: Curve
    thickness: Callable[[Array], Array]


@dataclass(frozen=True)
class Middle:
    """One piece of the mid-line, its layer, and the wall's thickness in m at its ends; empty where it is not drawn.
    `sloped` where it stands for a shoulder."""

    curve: Curve
    layer: str
    thickness: tuple[float, float] | tuple[()]
    sloped: bool = False


@dataclass(frozen=True)
class Match:
    """The curves numbered i and j of the two faces that lie opposite one another, and the middle between them."""

    i: float  # half-way between two curves for a corner
    j: float
    pair: Pair
    layer: str


def pair_of(a: Curve, b: Curve) -> Pair:
    """The middle between curves of the two faces that run the same way. Raises DesignError, without a place, where they
    touch or cross."""
    if isinstance(a, Line) and isinstance(b, Line):
        return _lines(a, b)
    if isinstance(a, Arc) and isinstance(b, Arc):
        apart = hypot(a.centre[0] - b.centre[0], a.centre[1] - b.centre[1])
        if apart < CONCENTRIC * abs(a.radius - b.radius):
            return _arcs(a, b)
    return _touching(a, b)


def fan(arc: Arc) -> Pair:
    """The middle of an arc and the sharp corner at its centre, about which the other face turns."""
    return Pair(Arc(arc.centre, arc.radius / 2, arc.start, arc.sweep), lambda s: np.full(np.shape(s), arc.radius))


def _lines(a: Line, b: Line) -> Pair:
    """The bisector: each of its points is as far from either line; the thickness across it is linear."""
    t, u = a.tangent(0.0), b.tangent(0.0)
    along = (t + u) / np.linalg.norm(t + u)
    half = float(along @ t)  # cosine of half the angle between them
    start = a.point(a.length / 2)
    across = b.point(0.0) - start
    across -= (across @ u) * u  # from the middle of a to b, square to b
    apart = float(np.linalg.norm(across))
    if apart == 0:
        raise DesignError("they touch or cross")
    n = normal(t) if normal(t) @ across > 0 else -normal(t)
    centre = start + apart / (1 + float(n @ across) / apart) * n
    reach = a.length / 2
    low, high = centre - reach * along, centre + reach * along
    middle = Line((float(low[0]), float(low[1])), (float(high[0]), float(high[1])))
    first, last = (2 * float((p - start) @ n) / half for p in (low, high))
    if abs(last - first) <= EVEN * abs(first + last):
        first = last = (first + last) / 2
    return Pair(middle, lambda s: first + (last - first) * np.asarray(s) / middle.length)


def _arcs(a: Arc, b: Arc) -> Pair:
    centre = ((a.centre[0] + b.centre[0]) / 2, (a.centre[1] + b.centre[1]) / 2)
    thickness = abs(a.radius - b.radius)
    middle = Arc(centre, (a.radius + b.radius) / 2, a.start, a.sweep)
    return Pair(middle, lambda s: np.full(np.shape(s), thickness))


def _touching(a: Curve, b: Curve) -> Pair:
    """Through the centres of circles that touch a, at even steps, and b: each lies at A + rho n with rho its distance
    from b, found by passing the circle through A with its centre on A's normal through the foot on b, again and again.
    """
    from scipy.interpolate import make_interp_spline

    s = np.linspace(0.0, a.length, CENTRES)
    at, n = a.point(s), normal(a.tangent(s))
    across = b.point(np.clip(feet(b, at), 0.0, b.length)) - at
    side = np.sign((n * across).sum(axis=1))
    if not (side == side[0]).all() or side[0] == 0:
        raise DesignError("they touch or cross")
    n = side[0] * n
    rho = np.linalg.norm(across, axis=1) / 2
    for _ in range(30):
        gap = b.point(feet(b, at + rho[:, None] * n)) - at
        along = (gap * n).sum(axis=1)
        if not (along > 0).all():
            raise DesignError("they touch or cross")
        rho = (gap**2).sum(axis=1) / (2 * along)
    centre = at + rho[:, None] * n
    foot = feet(b, centre)
    aslant = np.abs(((b.point(foot) - centre) * b.tangent(foot)).sum(axis=1)) > ASLANT * rho
    touching = ~aslant if np.count_nonzero(~aslant) > 3 else np.ones(CENTRES, bool)  # not those beyond the ends of b
    centre, n, rho = centre[touching], n[touching], rho[touching]
    middle = freeform_through(centre)
    where = feet(middle, centre)
    # the faces are not quite square to the normal of the middle
    lean = np.abs((normal(middle.tangent(where)) * n).sum(axis=1))
    values = 2 * rho / lean
    return Pair(middle, make_interp_spline(where, values, k=1))


def turn_between(a: Curve, s: float, b: Curve, t: float) -> float:
    """Angle in radians between two curves at arc lengths of theirs."""
    p, q = a.tangent(s), b.tangent(t)
    return abs(float(np.arctan2(p[0] * q[1] - p[1] * q[0], p @ q)))
