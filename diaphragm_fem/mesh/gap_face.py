"""The face of a thin gap as a chain of straight pieces, and the middle between it and the plug.

A face of curves is drawn as chords; a fillet that turns toward the gap with a radius below the gap's width becomes a
sharp corner, because an offset of it would fold.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.units.units import show, show_place
from diaphragm_fem.errors import MeshError

Width = Callable[[Array], Array]
STRAIGHT = 1e-6  # rad: a kink turns by more
NEAR = 0.02  # of the gap: how far a chord may be from its curve
MOST_CUT = 0.5  # of the gap: how far off the face drawn anew what was drawn may lie where kinks become one (a choice)
ON_AXIS = 1e-9  # m
CHORD = np.radians(15.0)  # turn of a chord of a curve: its length is then 0.3 % short


@dataclass(frozen=True)
class GapFace:
    """K points of the face and of the middle of its gap, from the inner end outward.

    face, middle, plug (K, 2) in m; place (K,) distance along the middle line; width (K,) of the gap; turn (K,) turning
    angle in rad at each point, positive toward the gap, zero at the ends.
    """

    face: Array
    middle: Array
    plug: Array
    place: Array
    width: Array
    turn: Array


def gap_by_width(face: Array, width: Width) -> GapFace:
    """Gap of a width in m, a function of the distance along the face (K,), measured along the normal.

    Kinks closer together than the gap can follow become one. Raises MeshError where the gap folds for all that.
    """
    return _unfolded(lambda face, *_: np.asarray(width(along(face)), float), face)


def gap_to_plug(face: Array, plug: Array, front: Width = np.zeros_like) -> GapFace:
    """Gap between the face and a plug drawn as a chain of points (P, 2), measured along the face's normals; front: how
    far in m the wall whose middle the face is reaches toward the plug, a function of the distance along the face. The
    plug is told as if that wall had no thickness.

    Raises MeshError where a normal of the face does not meet the plug, which stands in the wall, or the gap folds.
    """

    def clear(face: Array, bisector: Array, turn: Array) -> Array:
        reach = np.array([_hit(point, way, plug) for point, way in zip(face, bisector, strict=True)])
        wall = np.asarray(front(along(face)))
        width = reach * np.cos(turn / 2) - wall
        if width.min() <= 0:
            k = int(np.argmin(width))
            raise MeshError(
                f"the plug must lie before the wall, whose front is {show(wall[k])} before its middle at "
                f"{show_place(face[k])}, and stands in it: draw it farther away"
            )
        return np.asarray(width)

    return _unfolded(clear, face)


def _unfolded(width: Callable[[Array, Array, Array], Array], face: Array) -> GapFace:
    """The gap drawn on a face, as wide (K,) as points, bisectors and turns of that ask for; where it folds between two
    kinks, these become the one in which their flanks meet."""
    drawn = face
    while True:
        bisector, turn = _bisectors(face)
        gap = _drawn(face, width(face, bisector, turn), bisector, turn)
        ahead = np.diff(face, axis=0)
        folded = [((np.diff(line, axis=0) * ahead).sum(axis=1) <= 0) for line in (gap.middle, gap.plug)]
        found = np.flatnonzero(folded[0] | folded[1])
        if not len(found):
            return gap
        k = int(found[0])
        wide = float(gap.width[k : k + 2].max())
        merged = _merged(face, k, wide)
        if merged is None or nearest_of_chain(merged, drawn)[1].max() > MOST_CUT * wide:
            raise MeshError(
                f"the gap folds over itself near {show_place(face[k])}: its width {show(gap.width[k])} is more than "
                "the face's bend there allows; narrow the gap, round that corner more (corner_radius), or draw the "
                "plug as a contour of its own"
            )
        face = merged


def _merged(face: Array, k: int, reach: float) -> Array | None:
    """The face with its points k and k + 1 made one; None at an end, or where the flanks meet further than `reach` from
    the nearer of them: no farther off the face, however long the piece between them is."""
    if k == 0 or k + 2 >= len(face):
        return None
    along_a, along_b = (step / np.linalg.norm(step) for step in (face[k] - face[k - 1], face[k + 2] - face[k + 1]))
    x = _crossing(face[k], along_a, face[k + 1], along_b, 0.02)
    if x is None:
        return None
    apex = face[k] + x[0] * along_a
    if min(abs(x)) > reach or (apex - face[k - 1]) @ along_a <= 0 or (face[k + 2] - apex) @ along_b <= 0:
        return None
    return np.vstack((face[:k], apex, face[k + 2 :]))


def face_points(curves: Sequence[Curve], fold: float) -> Array:
    """Points (K, 2) of a face of curves end to end; arcs that turn toward the gap with a radius below `fold` (m) are
    replaced by the corner of their tangents. MeshError where these do not meet."""
    points: list[Array] = []
    for folds, run in groupby(curves, lambda x: isinstance(x, Arc) and x.sweep > 0 and x.radius < fold):
        each = list(run)
        if folds:
            points += [each[0].point(0.0), _apex(each[0], each[-1]), each[-1].point(each[-1].length)]
            continue
        for curve in each:
            count = 1 if isinstance(curve, Line) else _chords(curve, fold)
            points += list(curve.point(np.linspace(0, curve.length, count + 1)))
    return _kinks(np.array(points))


def along(chain: Array) -> Array:
    """Distances (K,) in m along a chain of points (K, 2)."""
    return np.concatenate(([0.0], np.cumsum(np.linalg.norm(np.diff(chain, axis=0), axis=1))))


def nearest_of_chain(chain: Array, points: Array) -> tuple[Array, Array]:
    """Nearest place (P,) on a chain of points (K, 2) to each point (P, 2), number of the piece plus the share of it,
    and how far away (P,) in m."""
    begin, step = chain[:-1], np.diff(chain, axis=0)
    share = np.einsum("pek,ek->pe", points[:, None] - begin, step) / (step**2).sum(axis=1)
    share = np.clip(share, 0, 1)
    away = np.linalg.norm(points[:, None] - begin - share[..., None] * step, axis=2)
    best, row = np.argmin(away, axis=1), np.arange(len(points))
    return best + share[row, best], away[row, best]


def with_points(face: Array, distance: Array) -> Array:
    """The face with more points (K, 2), at distances in m along it: where a changing gap is given."""
    place = along(face)
    inside = distance[(distance > 0) & (distance < place[-1])]
    every = np.unique(np.concatenate((place, inside)))
    return np.stack([np.interp(every, place, face[:, k]) for k in range(2)], axis=1)


def _chords(curve: Curve, width: float) -> int:
    """Chords of a curve that stay within a fiftieth of the gap's width (m) of it and turn by at most CHORD."""
    s = np.linspace(0, curve.length, 41)
    turn = float(np.trapezoid(np.abs(curve.curvature(s)), s))
    return max(2, int(np.ceil(max(turn / CHORD, np.sqrt(curve.length * turn / (8 * NEAR * width))))))


def _apex(first: Curve, last: Curve) -> Array:
    """Where the tangent at the begin of one curve meets that at the end of another."""
    a, b = first.point(0.0), last.point(last.length)
    along_a, along_b = first.tangent(0.0), last.tangent(last.length)
    x = _crossing(a, along_a, b, along_b, 0.1)
    if x is None:
        raise MeshError(
            f"the gap is wider than the hollow of the face at {show_place(a)} can hold: draw the plug as "
            "a contour of its own"
        )
    return np.asarray(a + x[0] * along_a)


def _crossing(a: Array, along_a: Array, b: Array, along_b: Array, least: float) -> Array | None:
    """How far (2,) in m from points a and b along unit vectors these lines meet; None where they make an angle whose
    sine is below `least`."""
    if abs(along_a[0] * along_b[1] - along_a[1] * along_b[0]) < least:
        return None
    return np.asarray(np.linalg.solve(np.stack((along_a, -along_b), axis=1), b - a))


def _kinks(points: Array) -> Array:
    """The points without twins and without those on a straight line between their neighbours."""
    points = points[np.concatenate(([True], np.linalg.norm(np.diff(points, axis=0), axis=1) > 1e-9))]
    turn = _bisectors(points)[1]
    return points[(np.abs(turn) > STRAIGHT) | (np.arange(len(points)) % (len(points) - 1) == 0)]


def _bisectors(face: Array) -> tuple[Array, Array]:
    """Unit vectors (K, 2) that halve the normals of the neighbouring pieces, and the turn (K,) between these; on the
    axis a face meets its mirror image there: by its first chord alone the normal of a hollow dome leaned past it.
    """
    step = np.diff(face, axis=0)
    tangent = step / np.linalg.norm(step, axis=1, keepdims=True)
    mirrored = (1.0, -1.0) if face[0, 0] < ON_AXIS else (1.0, 1.0)
    before, after = np.vstack((mirrored * tangent[:1], tangent)), np.vstack((tangent, tangent[-1:]))
    turn = np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1))
    mean = before + after
    mean /= np.linalg.norm(mean, axis=1, keepdims=True)
    return np.stack((-mean[:, 1], mean[:, 0]), axis=1), turn


def _drawn(face: Array, width: Array, bisector: Array, turn: Array) -> GapFace:
    plug = face + (width / np.cos(turn / 2))[:, None] * bisector
    middle = (face + plug) / 2
    if middle[:, 0].min() < -ON_AXIS:
        raise MeshError("the middle of the gap must not pass the axis; draw the plug as a contour of its own")
    turn = np.concatenate(([0.0], turn[1:-1], [0.0]))
    return GapFace(face, middle, plug, along(middle), width, turn)


def _hit(point: Array, way: Array, plug: Array) -> float:
    """Distance from a point along `way` to the plug's chain of points."""
    begin, step = plug[:-1], np.diff(plug, axis=0)
    cross = way[0] * step[:, 1] - way[1] * step[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        away = ((begin[:, 0] - point[0]) * step[:, 1] - (begin[:, 1] - point[1]) * step[:, 0]) / cross
        along = ((begin[:, 0] - point[0]) * way[1] - (begin[:, 1] - point[1]) * way[0]) / cross
    good = (np.abs(cross) > 0) & (along >= -1e-6) & (along <= 1 + 1e-6) & (away > 0)
    if not good.any():
        raise MeshError(
            f"the plug must lie over the whole face on the listener's side: the normal at {show_place(point)} "
            "does not meet it; draw it on to where that passes"
        )
    return float(away[good].min())
