"""The arc that rounds one corner between two curves, tangent to both.

Its centre lies where the two curves, each shifted by the radius toward the inside of the turn, meet. For lines and
arcs that is a meeting of lines and circles; for free curves it is found by Newton's method, from radius zero upward.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import atan2, hypot, pi, sqrt, tan

from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.outline import Point, direction, position


@dataclass(frozen=True)
class Fillet:
    """The arc and the lengths in metres it takes from the end of the first and the begin of the second curve."""

    arc: Arc
    cut_first: float
    cut_second: float


def turn(first: Curve, second: Curve) -> float:
    """Angle in radians by which the tangent turns from the end of one curve to the begin of the next, in (-pi, pi]."""
    a, b = direction(first, first.length), direction(second, 0.0)
    return atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1])


def fillet(first: Sequence[Curve], second: Sequence[Curve], radius: float) -> Fillet | None:
    """The fillet of the given radius in metres, or None where none touches both runs of curves within their length.

    Each run is smooth, its curves in the order in which they lie from the corner; the nearest that is touched is taken.
    """
    side = 1.0 if turn(first[0], second[0]) > 0 else -1.0
    pairs = [(i, j) for i in range(len(first)) for j in range(len(second))]
    for i, j in sorted(pairs, key=lambda pair: (sum(pair), pair)):
        found = _between(first[i], second[j], side, radius, i + j == 0)
        if found is not None:
            skipped = sum(x.length for x in first[:i]), sum(x.length for x in second[:j])
            return Fillet(found.arc, skipped[0] + found.cut_first, skipped[1] + found.cut_second)
    return None


def _between(first: Curve, second: Curve, side: float, radius: float, adjacent: bool) -> Fillet | None:
    if isinstance(first, Line | Arc) and isinstance(second, Line | Arc):
        if not adjacent and isinstance(first, Line) and isinstance(second, Line):
            return None
        candidates = _meetings(first, second, side * radius)
    else:
        candidates = _follow(first, second, side * radius) if adjacent else []
    slack = 1e-12 * (first.length + second.length)
    fitting = [
        (s1, s2)
        for s1, s2 in candidates
        if -slack <= s1 <= first.length + slack and -slack <= s2 <= second.length + slack
    ]
    for s1, s2 in sorted(fitting, key=lambda pair: first.length - pair[0] + pair[1]):
        arc = _arc(first, second, s1, s2, side, radius)
        if arc is not None:
            return Fillet(arc, first.length - s1, s2)
    return None


def tip_fillet(first: Line, radius: float) -> Fillet:
    """The half fillet that rounds a line's begin on the axis r = 0 against its own mirror image."""
    t = direction(first, 0.0)
    slope = atan2(t[1], t[0])
    side = 1.0 if slope > 0 else -1.0
    cut = radius * tan(abs(slope))  # line and mirror image turn by twice the slope
    touch = (cut * t[0], first.begin[1] + cut * t[1])
    centre = (0.0, touch[1] + side * radius * t[0])
    return Fillet(Arc(centre, radius, -side * pi / 2, slope), 0.0, cut)


def largest_radius(fits: Callable[[float], bool], too_large: float) -> float:
    """The largest radius below `too_large` that `fits`, by halving, to 1e-6 of it."""
    low, high = 0.0, too_large
    for _ in range(24):
        middle = (low + high) / 2
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low


def _arc(first: Curve, second: Curve, s1: float, s2: float, side: float, radius: float) -> Arc | None:
    a, b = direction(first, s1), direction(second, s2)
    sweep = atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1])
    if sweep * side <= 0:
        return None
    r, z = position(first, s1)
    centre = (r - side * radius * a[1], z + side * radius * a[0])
    return Arc(centre, radius, atan2(-side * a[0], side * a[1]), sweep)


def _meetings(first: Line | Arc, second: Line | Arc, shift: float) -> list[Point]:
    """Arc lengths (s1, s2) where the curves shifted by `shift` along their normals meet."""
    if isinstance(first, Line) and isinstance(second, Line):
        cut = abs(shift) * tan(abs(turn(first, second)) / 2)
        return [(first.length - cut, cut)]
    if isinstance(first, Line) and isinstance(second, Arc):
        centres = _line_circle(first, shift, second)
    elif isinstance(first, Arc) and isinstance(second, Line):
        centres = _line_circle(second, shift, first)
    elif isinstance(first, Arc) and isinstance(second, Arc):
        centres = _circle_circle(
            first.centre, _shifted_radius(first, shift), second.centre, _shifted_radius(second, shift)
        )
    else:
        return []
    return [(_foot(first, centre), _foot(second, centre)) for centre in centres]


def _shifted_radius(arc: Arc, shift: float) -> float:
    """The normal of an anticlockwise arc points to its centre: a shift along it makes the circle smaller."""
    return arc.radius - shift if arc.sweep > 0 else arc.radius + shift


def _line_circle(line: Line, shift: float, arc: Arc) -> list[Point]:
    centre, radius = arc.centre, _shifted_radius(arc, shift)
    if radius <= 0:
        return []
    t = direction(line, 0.0)
    r, z = line.begin[0] - shift * t[1], line.begin[1] + shift * t[0]
    along = (centre[0] - r) * t[0] + (centre[1] - z) * t[1]
    across = (centre[0] - r) * -t[1] + (centre[1] - z) * t[0]
    rest = radius * radius - across * across
    if rest < 0:
        return []
    half = sqrt(rest)
    return [(r + s * t[0], z + s * t[1]) for s in (along - half, along + half)]


def _circle_circle(c1: Point, r1: float, c2: Point, r2: float) -> list[Point]:
    if r1 <= 0 or r2 <= 0:
        return []
    dr, dz = c2[0] - c1[0], c2[1] - c1[1]
    apart = hypot(dr, dz)
    if apart == 0:
        return []
    along = (r1 * r1 - r2 * r2 + apart * apart) / (2 * apart)
    rest = r1 * r1 - along * along
    if rest < 0:
        return []
    across = sqrt(rest)
    ur, uz = dr / apart, dz / apart
    return [(c1[0] + along * ur - w * uz, c1[1] + along * uz + w * ur) for w in (across, -across)]


def _foot(curve: Line | Arc, point: Point) -> float:
    """Arc length at which the point's perpendicular meets the curve (on an arc: from its own circle's centre)."""
    if isinstance(curve, Line):
        t = direction(curve, 0.0)
        return (point[0] - curve.begin[0]) * t[0] + (point[1] - curve.begin[1]) * t[1]
    angle = atan2(point[1] - curve.centre[1], point[0] - curve.centre[0]) - curve.start
    angle = angle % (2 * pi) if curve.sweep > 0 else -angle % (2 * pi)
    beyond = 2 * pi - angle
    past_end = angle - abs(curve.sweep)
    return -curve.radius * beyond if past_end > 0 and beyond < past_end else curve.radius * angle


def _follow(first: Curve, second: Curve, shift: float, steps: int = 6) -> list[Point]:
    """As _meetings, for any smooth curves: Newton's method along rising shifts, from the corner itself."""
    s1, s2 = first.length, 0.0
    half_turn = tan(abs(turn(first, second)) / 2)
    done = 0.0
    for step in range(1, steps + 1):
        now = shift * step / steps
        s1, s2, done = s1 - abs(now - done) * half_turn, s2 + abs(now - done) * half_turn, now
        for _ in range(25):
            if not (0 <= s1 <= first.length and 0 <= s2 <= second.length):
                return []
            a, b = direction(first, s1), direction(second, s2)
            p, q = position(first, s1), position(second, s2)
            gap_r = q[0] - p[0] - now * (b[1] - a[1])
            gap_z = q[1] - p[1] + now * (b[0] - a[0])
            k1, k2 = 1 - now * float(first.curvature(s1)), 1 - now * float(second.curvature(s2))
            det = k1 * k2 * (a[1] * b[0] - a[0] * b[1])
            if k1 <= 0 or k2 <= 0 or det == 0:
                return []
            d1 = (-gap_r * k2 * b[1] + gap_z * k2 * b[0]) / det
            d2 = (k1 * a[0] * gap_z - k1 * a[1] * gap_r) / det
            s1, s2 = s1 + d1, s2 + d2
            if abs(d1) + abs(d2) < 1e-14 * (first.length + second.length):
                break
        else:
            return []
    return [(s1, s2)]


def crossings(curve: Curve, radius: float) -> list[float]:
    """Arc lengths at which a curve crosses the circle r = `radius` (m); a stretch along it counts with its two ends."""
    reach = 1e-9 * max(radius, curve.length)
    found: list[float]
    if isinstance(curve, Line):
        run = curve.end[0] - curve.begin[0]
        if abs(run) <= reach:
            found = [0.0, curve.length] if abs(curve.begin[0] - radius) <= reach else []
        else:
            found = [(radius - curve.begin[0]) / run * curve.length]
    elif isinstance(curve, Arc):
        over = (radius - curve.centre[0]) / curve.radius
        if abs(over) > 1 + 1e-12:
            return []
        up = sqrt(max(1 - over * over, 0.0)) * curve.radius
        found = [_foot(curve, (radius, curve.centre[1] + up)), _foot(curve, (radius, curve.centre[1] - up))]
    else:
        found = _sampled_crossings(curve, radius)
    return [min(max(s, 0.0), curve.length) for s in found if -reach <= s <= curve.length + reach]


def _sampled_crossings(curve: Curve, radius: float) -> list[float]:
    import numpy as np
    from scipy.optimize import brentq

    s = np.linspace(0.0, curve.length, 201)
    off = curve.point(s)[:, 0] - radius
    found = [float(s[i]) for i in (0, -1) if abs(off[i]) <= 1e-9 * radius]
    for i in np.flatnonzero(off[:-1] * off[1:] < 0):
        found.append(float(brentq(lambda x: float(curve.point(x)[0]) - radius, s[i], s[i + 1], xtol=1e-15)))
    return found
