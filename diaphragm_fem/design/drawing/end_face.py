"""Edges of a wall that are drawn round, in its outline: a straight end face that leaves the wall as much of itself."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from diaphragm_fem.design.drawing.dxf import Drawn, far
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.fillet import turn
from diaphragm_fem.design.meridian.outline import begin, end

HALF_ROUND = np.radians(170), np.radians(190)  # by which a rounded edge turns
SMOOTH = np.radians(5)
ROUND = 0.51  # of the wall, the largest radius that an edge of it may have
SAMPLES = 65


def squared(parts: Sequence[Drawn], closed: bool, most: int) -> list[Drawn]:
    """The curves of an outline with at most `most` of its rounded edges, those over the thinnest wall, made straight.

    The two faces run on along themselves by what the round edge holds over the thickness, 0.39 of it for a half circle.
    """
    parts = list(parts)
    if closed:  # so that no edge lies over the end of the list
        first = max(range(len(parts)), key=lambda k: parts[k].curve.length)
        parts = parts[first:] + parts[:first]
    rounded = sorted(
        _rounded(parts, closed), key=lambda run: far(begin(parts[run[0]].curve), end(parts[run[1]].curve))
    )[:most]
    for low, high in sorted(rounded, reverse=True):
        own = [part.curve for part in parts[low : high + 1]]
        far_on = _area(own) / far(begin(own[0]), end(own[-1]))
        onward = (high + 1) % len(parts)
        before, after = parts[low - 1].curve, parts[onward].curve.reverse()
        longer, other = _longer(before, far_on), _longer(after, far_on)
        if longer is not None and other is not None:
            before, after = longer, other
        parts[low - 1] = replace(parts[low - 1], curve=before)
        parts[onward] = replace(parts[onward], curve=after.reverse())
        parts[low : high + 1] = [replace(parts[low], curve=Line(end(before), end(after)))]
    return parts


def _rounded(parts: Sequence[Drawn], closed: bool) -> Iterator[tuple[int, int]]:
    """First and last place of runs of arcs, lines among them, that turn smoothly round by a half circle."""
    last = len(parts) if closed else len(parts) - 1
    for low in range(1, last):
        turned = 0.0
        for high in range(low, last):
            curve = parts[high].curve
            joins = abs(turn(parts[high - 1].curve, curve)) < SMOOTH
            if not joins or not isinstance(curve, Arc | Line):
                break
            turned += curve.sweep if isinstance(curve, Arc) else 0.0
            ends_in_arcs = isinstance(parts[low].curve, Arc) and isinstance(curve, Arc)
            onward = abs(turn(curve, parts[(high + 1) % len(parts)].curve)) < SMOOTH
            if ends_in_arcs and onward and HALF_ROUND[0] < abs(turned) < HALF_ROUND[1]:
                wall = far(begin(parts[low].curve), end(curve))
                arcs = [part.curve.radius for part in parts[low : high + 1] if isinstance(part.curve, Arc)]
                if max(arcs) <= ROUND * wall:
                    yield low, high
                break


def _area(curves: Sequence[Curve]) -> float:
    """Area in m2 between curves end to end and the straight line that closes them."""
    r, z = np.concatenate([curve.point(np.linspace(0.0, curve.length, SAMPLES)) for curve in curves]).T
    r, z = r - r[0], z - z[0]
    return abs(float(r @ np.roll(z, -1) - z @ np.roll(r, -1))) / 2


def _longer(curve: Curve, by: float) -> Curve | None:
    """A line or an arc run on beyond its end; None for others, whose going on is anybody's guess."""
    if isinstance(curve, Line):
        tip = np.asarray(curve.end) + by * curve.tangent(curve.length)
        return Line(curve.begin, (float(tip[0]), float(tip[1])))
    if isinstance(curve, Arc):
        return Arc(curve.centre, curve.radius, curve.start, curve.sweep * (1 + by / curve.length))
    return None
