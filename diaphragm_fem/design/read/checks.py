"""Geometry checks of a finished meridian: end to end, right side of the axis, not through itself."""

import itertools
from collections.abc import Sequence
from math import dist

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.outline import begin, direction, end
from diaphragm_fem.design.units.units import show, show_place
from diaphragm_fem.errors import DesignError

MOST_ZONES = 100  # each is told of at every frequency and mode: 400 took 3.5 GB, 2,000 more than 8


def check_geometry(meridian: Sequence[Piece], former: Sequence[Piece]) -> None:
    """Raise DesignError where zones are too many, pieces leave gaps, bend too tightly, pass the axis or cross."""
    if (count := len({piece.zone.name for piece in meridian})) > MOST_ZONES:
        raise DesignError(f"profile: a part has at most {MOST_ZONES} zones; received {count}: let like walls share one")
    for pieces in (meridian, former):
        for a, b in itertools.pairwise(pieces):
            if dist(end(a.curve), begin(b.curve)) > 1e-9:
                raise DesignError(
                    f"profile: pieces must join end to end, but '{a.zone.name}' ends at {show_place(end(a.curve))} and "
                    f"'{b.zone.name}' begins at {show_place(begin(b.curve))}"
                )
    for piece in (*meridian, *former):
        _check_bend(piece)
    for piece in former:
        _check_beside_axis(piece)
    if all(_runs_outward(piece.curve) for piece in meridian) and begin(meridian[0].curve)[0] > -1e-9:
        return  # no radius is met twice, so nothing can cross, a former straight down included
    chains = [_chain(meridian), *([_chain(former)] if former else [])]
    lowest = min(float(points[:, 0].min()) for points, _ in chains)
    if lowest < -1e-9:
        points, owner = next((points, owner) for points, owner in chains if points[:, 0].min() == lowest)
        piece = meridian[int(owner[max(int(points[:, 0].argmin()) - 1, 0)])]
        raise DesignError(
            f"profile: the wall must stay on its own side of the axis; '{piece.zone.name}' reaches r = "
            f"{show(lowest)}: make its "
            "width smaller or the diameter larger"
        )
    _check_crossing(meridian, former, chains)


def _check_bend(piece: Piece) -> None:
    """The inside of a bend must not turn over: its radius on the mid-surface is at least half the wall."""
    thickness = piece.wall.thickest
    if not isinstance(piece.curve, Arc) or piece.curve.radius >= thickness:  # no face lies farther off than that
        return
    if piece.curve.radius < float(piece.wall.reach(np.array([0.0, 1.0])).max()) * (1 - 1e-9):
        raise DesignError(
            f"profile: '{piece.zone.name}' bends by a radius of {show(piece.curve.radius)}, less than half its "
            "thickness of "
            f"{show(thickness)}: make the wall thinner or the bend wider"
        )


def _check_beside_axis(piece: Piece) -> None:
    """A former's inner face must not lie beyond the axis."""
    for at, s, (radius, _) in ((0.0, 0.0, begin(piece.curve)), (1.0, piece.curve.length, end(piece.curve))):
        if radius >= piece.wall.thickest:
            continue
        thickness, across = float(piece.wall.thickness(at)), piece.wall.reach(at) * abs(direction(piece.curve, s)[1])
        if across > radius:
            raise DesignError(
                f"profile: the former must leave room at the axis; '{piece.zone.name}' is {show(thickness)} thick with "
                f"its middle at r = {show(radius)}, so that its inner face lies beyond the axis: make it thinner"
            )


def _runs_outward(curve: Curve) -> bool:
    """Whether the radius rises all along a line or an arc of at most half a turn."""
    if isinstance(curve, Line):
        return curve.end[0] > curve.begin[0]
    if isinstance(curve, Arc):
        ends = direction(curve, 0.0)[0], direction(curve, curve.length)[0]
        return min(ends) > -1e-12 and abs(curve.sweep) < 3.1416
    return False


def _chain(pieces: Sequence[Piece]) -> tuple[Array, Index]:
    """Points of a polyline along the pieces (P, 2), and which piece each of its P - 1 segments belongs to."""
    points: list[Array] = [np.array([begin(pieces[0].curve)])]
    owner: list[int] = []
    for i, piece in enumerate(pieces):
        curve = piece.curve
        if isinstance(curve, Line):
            points.append(np.array([curve.end]))
            owner.append(i)
            continue
        count = max(4, int(np.ceil(abs(curve.sweep) / 0.1))) if isinstance(curve, Arc) else 60
        points.append(curve.point(np.linspace(0, curve.length, count + 1)[1:]))
        owner += [i] * count
    return np.concatenate(points), np.array(owner)


def _check_crossing(meridian: Sequence[Piece], former: Sequence[Piece], chains: Sequence[tuple[Array, Index]]) -> None:
    begins = np.concatenate([points[:-1] for points, _ in chains])
    ends = np.concatenate([points[1:] for points, _ in chains])
    owner = np.concatenate([owner + offset for (_, owner), offset in zip(chains, (0, len(meridian)), strict=False)])
    hit = first_crossing(begins, ends)
    if hit is None:
        return
    names = [piece.zone.name for piece in (*meridian, *former)]
    i, j, place = hit
    raise DesignError(
        f"profile: the wall must not cross itself; '{names[owner[i]]}' and '{names[owner[j]]}' cross at "
        f"{show_place(place)}: change their widths, rises or heights"
    )


def first_crossing(begins: Array, ends: Array) -> tuple[int, int, Array] | None:
    """The first pair of segments that cross away from a shared end, and the point (r, z); None where none do.

    begins and ends are (S, 2). Segments a + s d and b + t e cross where both parameters lie in 0...1.
    """
    d = ends - begins
    low, high = np.minimum(begins, ends), np.maximum(begins, ends)
    order = np.argsort(low[:, 0])
    scale = float((high.max(0) - low.min(0)).max())
    i, j = np.nonzero(
        np.triu((low[order, None, 0] <= high[None, order, 0]) & (low[None, order, 0] <= high[order, None, 0]), 1)
    )
    i, j = order[i], order[j]
    overlap = (low[i, 1] <= high[j, 1]) & (low[j, 1] <= high[i, 1])
    i, j = i[overlap], j[overlap]
    apart = begins[j] - begins[i]
    cross = d[i, 0] * d[j, 1] - d[i, 1] * d[j, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        s = (apart[:, 0] * d[j, 1] - apart[:, 1] * d[j, 0]) / cross
        t = (apart[:, 0] * d[i, 1] - apart[:, 1] * d[i, 0]) / cross
    where = begins[i] + s[:, None] * d[i]
    shared = np.zeros(len(i), bool)
    for p in (begins[i], ends[i]):
        for q in (begins[j], ends[j]):
            shared |= np.hypot(*(p - q).T) <= 1e-9 * scale
    hits = np.flatnonzero((cross != 0) & ~shared & (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1))
    if not len(hits):
        return None
    n = hits[0]
    return int(min(i[n], j[n])), int(max(i[n], j[n])), where[n]
