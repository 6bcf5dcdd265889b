"""Curves of a drawing joined end to end: open or closed chains, and what is wrong with them told by coordinates."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from math import cos, hypot, pi, sin

import numpy as np

from diaphragm_fem.design.drawing.curves import arc_between
from diaphragm_fem.design.drawing.dxf import METRES, Drawing, Drawn, far
from diaphragm_fem.design.meridian.curve import Arc, Curve, Freeform, Line
from diaphragm_fem.design.meridian.outline import Point, begin, end, position
from diaphragm_fem.errors import DesignError

JOIN = 1e-6  # m: ends no further apart are one point, what a drawing of four decimals in inches rounds to
EXACT = 1e-12  # m: ends that differ by less are left as they are; a wall of 1 mm would cross itself by more


@dataclass(frozen=True)
class Chain:
    """Curves end to end; `closed` where the last one ends where the first begins."""

    parts: tuple[Drawn, ...]
    closed: bool

    @property
    def ends(self) -> tuple[Point, Point]:
        return begin(self.parts[0].curve), end(self.parts[-1].curve)

    def turned(self) -> Chain:
        return Chain(tuple(replace(p, curve=p.curve.reverse()) for p in reversed(self.parts)), self.closed)


def chains_of(drawing: Drawing, place: str) -> list[Chain]:
    """The chains that the curves make, each as long as it goes.

    Raises DesignError for an empty drawing, curves that lie on one another, points where three meet, and for what lies
    beyond the axis.
    """
    if not drawing.curves:
        raise DesignError(f"{place}: nothing is drawn on the layers that are read")
    for drawn in drawing.curves:
        _check_side(drawn.curve, drawing, place)
    node = _nodes(drawing)
    _check_doubles(drawing, node, place)
    meeting: dict[int, list[int]] = {}
    for i, (a, b) in enumerate(node):
        meeting.setdefault(a, []).append(i)
        meeting.setdefault(b, []).append(i)
    for curves in meeting.values():
        if len(curves) > 2:
            shared = next(n for n in node[curves[0]] if all(n in node[i] for i in curves))
            first = drawing.curves[curves[0]].curve
            at = begin(first) if node[curves[0]][0] == shared else end(first)
            raise DesignError(
                f"{place}: {len(curves)} curves meet at {drawing.place(at)}; a wall runs on from curve to curve: "
                "remove the others, or name the part's own layers in profile.layers"
            )
    left = set(range(len(node)))
    starts = [i for i in left if any(len(meeting[n]) == 1 for n in node[i])]
    found = []
    for start in [*starts, *range(len(node))]:
        if start in left:
            found.append(_follow(drawing, node, meeting, start, left))
    return found


def _follow(
    drawing: Drawing, node: list[tuple[int, int]], meeting: dict[int, list[int]], start: int, left: set[int]
) -> Chain:
    a, b = node[start]
    at = a if len(meeting[a]) == 1 or len(meeting[b]) != 1 else b
    first, parts, now = at, [], start
    while True:
        left.discard(now)
        drawn = drawing.curves[now]
        forward = node[now][0] == at
        parts.append(drawn if forward else replace(drawn, curve=drawn.curve.reverse()))
        at = node[now][1] if forward else node[now][0]
        onward = [i for i in meeting[at] if i in left]
        if not onward:
            return Chain(tuple(_joined(parts, at == first)), at == first)
        now = onward[0]


def _joined(parts: list[Drawn], closed: bool) -> list[Drawn]:
    """The curves with ends that differ by rounding moved onto one point, those on the axis onto it."""
    points = [begin(parts[0].curve)]
    for a, b in pairwise(parts):
        points.append(_between(end(a.curve), begin(b.curve)))
    last = end(parts[-1].curve)
    if closed:
        points[0] = last = _between(last, points[0])
    points.append(last)
    points = [(0.0, z) if abs(r) < JOIN else (r, z) for r, z in points]
    return [replace(p, curve=moved(p.curve, a, b)) for p, (a, b) in zip(parts, pairwise(points), strict=True)]


def _between(a: Point, b: Point) -> Point:
    return a if far(a, b) < EXACT else ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)


def moved(curve: Curve, a: Point, b: Point) -> Curve:
    """The curve between two points that its ends lie near to: an arc keeps its sweep, a free curve gives way evenly."""
    shift = (a[0] - begin(curve)[0], a[1] - begin(curve)[1]), (b[0] - end(curve)[0], b[1] - end(curve)[1])
    if max(hypot(*s) for s in shift) < EXACT:
        return curve
    if isinstance(curve, Line):
        return Line(a, b)
    if isinstance(curve, Arc):
        return arc_between(a, b, curve.sweep)
    assert isinstance(curve, Freeform)
    low, high = curve.window
    share = ((np.array(curve.knots) - low) / (high - low))[:, None]
    first, last = (shift[1], shift[0]) if curve.backward else shift
    points = np.array(curve.points) + (1 - share) * first + share * last
    return Freeform(curve.knots, tuple((float(r), float(z)) for r, z in points), curve.window, curve.backward)


def _nodes(drawing: Drawing) -> list[tuple[int, int]]:
    """For each curve the numbers of the points where it begins and ends; ends within JOIN are one point."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    ends = np.array([p for drawn in drawing.curves for p in (begin(drawn.curve), end(drawn.curve))])
    pairs = cKDTree(ends).query_pairs(JOIN, output_type="ndarray")
    near = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(len(ends), len(ends)))
    names = connected_components(near, directed=False)[1].tolist()
    return list(zip(names[::2], names[1::2], strict=True))


def _check_doubles(drawing: Drawing, node: list[tuple[int, int]], place: str) -> None:
    """Raise DesignError where two curves lie on one another, the whole way or in part."""
    seen: dict[tuple[int, int], list[int]] = {}
    for i, (a, b) in enumerate(node):
        for j in seen.setdefault((min(a, b), max(a, b)), []):
            one, other = drawing.curves[i].curve, drawing.curves[j].curve
            if far(position(one, one.length / 2), position(other, other.length / 2)) < JOIN:
                raise _double(drawing, one, place)
        seen[min(a, b), max(a, b)].append(i)
    lines = [d.curve for d in drawing.curves if isinstance(d.curve, Line)]
    if len(lines) < 2:
        return
    starts, stops = np.array([x.begin for x in lines]), np.array([x.end for x in lines])
    along = (stops - starts) / np.linalg.norm(stops - starts, axis=1)[:, None]
    for i in range(len(lines) - 1):
        off = np.stack((starts[i + 1 :] - starts[i], stops[i + 1 :] - starts[i]))
        across = np.abs(off[..., 0] * along[i, 1] - off[..., 1] * along[i, 0])
        s = np.sort(off @ along[i], axis=0)
        shared = np.minimum(s[1], lines[i].length) - np.maximum(s[0], 0)
        hits = np.flatnonzero((across.max(axis=0) < JOIN) & (shared > 2 * JOIN))
        if len(hits):
            raise _double(drawing, lines[i + 1 + int(hits[0])], place)


def _double(drawing: Drawing, curve: Curve, place: str) -> DesignError:
    ends = f"from {drawing.place(begin(curve))} to {drawing.place(end(curve))}"
    return DesignError(f"{place}: a curve {ends} is drawn twice, or lies on another in part; remove one of the two")


def _check_side(curve: Curve, drawing: Drawing, place: str) -> None:
    """Raise DesignError where a curve lies beyond the axis, or along it."""
    points = [begin(curve), end(curve)]
    if isinstance(curve, Arc):
        turns = (pi - curve.start) % (2 * pi) if curve.sweep > 0 else (curve.start - pi) % (2 * pi)
        if turns < abs(curve.sweep):
            points.append((curve.centre[0] + curve.radius * cos(pi), curve.centre[1] + curve.radius * sin(pi)))
    elif isinstance(curve, Freeform):
        points += [(float(r), float(z)) for r, z in curve.point(np.linspace(0, curve.length, 200))]
    lowest = min(points)
    if lowest[0] < -JOIN:
        raise DesignError(
            f"{place}: all must lie on the axis' right side, but a curve reaches r = "
            f"{lowest[0] / METRES[drawing.unit]:.6g} {drawing.unit} at {drawing.place(lowest)}; draw the half "
            "on that side alone, and give profile.origin where the axis is not at x = 0"
        )


def gap_between(chains: list[Chain], drawing: Drawing) -> str:
    """Where the nearest ends of two chains are, in words."""
    ends = [(i, p) for i, chain in enumerate(chains) for p in ([] if chain.closed else chain.ends)]
    pairs = [(far(p, q), p, q) for n, (i, p) in enumerate(ends) for j, q in ends[n + 1 :] if i != j]
    if not pairs:
        return f"one of them begins at {drawing.place(chains[1].ends[0])}"
    gap, p, q = min(pairs)
    return (
        f"the nearest ends are {gap / METRES[drawing.unit]:.4g} {drawing.unit} apart, at {drawing.place(p)} and at "
        f"{drawing.place(q)}"
    )
