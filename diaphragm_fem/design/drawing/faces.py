"""The two faces of a wall as curves: what a drawing shows of the part and what a solid of it is bounded by."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.drawing.face_joint import with_shoulders
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line, freeform_from, normal
from diaphragm_fem.design.meridian.foot import crossing
from diaphragm_fem.design.meridian.outline import Point, begin, end, position
from diaphragm_fem.design.units.units import show_place
from diaphragm_fem.errors import HERE, DesignError

SAME = 1e-9  # m
ON_AXIS = 1e-9  # m


@dataclass(frozen=True)
class FacePart:
    """One curve of a face, the number of the piece that it bounds, and whether it leads to another thickness."""

    curve: Curve
    piece: int
    shoulder: bool = False


@dataclass(frozen=True)
class Faces:
    """Both faces from the first to the last piece's end, and the lines that close the outline there, rear to front."""

    rear: tuple[FacePart, ...]
    front: tuple[FacePart, ...]
    first: Line
    last: Line

    @property
    def outline(self) -> tuple[FacePart, ...]:
        """The closed outline, end to end: rear face outward, end face, front face back, end face."""
        back = [FacePart(part.curve.reverse(), part.piece) for part in reversed(self.front)]
        outer, inner = FacePart(self.last, self.rear[-1].piece), FacePart(self.first.reverse(), self.rear[0].piece)
        return (*self.rear, outer, *back, inner)


def draw_faces(pieces: Sequence[Piece]) -> Faces:
    """The faces of pieces that meet end to end: each half the wall off the mid-line, sharp corners mitred, but a wall
    much thicker than the next, for their turn, with a square end and a shoulder; a shoulder also in place of a slope
    that stands for one on one face, cut at the axis where the wall meets it.

    Raises DesignError where a corner leaves a face no room.
    """
    numbers, drawn = zip(*with_shoulders(pieces), strict=True)
    rear, front = (
        [replace(part, piece=numbers[part.piece]) for part in _face(drawn, side)] for side in (-1, 1)
    )  # fmt: skip
    first = Line(begin(rear[0].curve), begin(front[0].curve))
    return Faces(tuple(rear), tuple(front), first, Line(end(rear[-1].curve), end(front[-1].curve)))


def _face(pieces: Sequence[Piece], side: int) -> list[FacePart]:
    curves = [offset_curve(piece, _height(piece, side)) for piece in pieces]
    low = [0.0] * len(curves)
    high = [curve.length for curve in curves]
    shoulders: dict[int, FacePart] = {}
    for k, walls in enumerate(pairwise(pieces)):
        p, q = end(curves[k]), begin(curves[k + 1])
        if np.hypot(p[0] - q[0], p[1] - q[1]) < SAME:
            continue
        square = _square_end(walls, side)
        if square is None:
            high[k], low[k + 1] = _meeting(curves[k], curves[k + 1], walls, p)
        elif square == 0:
            across = Line(end(walls[0].curve), p)
            low[k + 1], _ = _meeting(curves[k + 1], across, walls, p, 0.0)
            shoulders[k] = FacePart(Line(p, position(curves[k + 1], low[k + 1])), k, shoulder=True)
        else:
            across = Line(begin(walls[1].curve), q)
            high[k], _ = _meeting(curves[k], across, walls, p)
            shoulders[k] = FacePart(Line(position(curves[k], high[k]), q), k + 1, shoulder=True)
    if begin(pieces[0].curve)[0] < ON_AXIS:
        low[0] = _on_axis(curves[0])
    found = []
    for k, curve in enumerate(curves):
        if high[k] - low[k] < SAME:
            raise DesignError(
                f"the corners of '{pieces[k].zone.name}'{HERE} leave a face of its wall no room; give them a radius",
                f" near {show_place(begin(curve))}",
            )
        whole = low[k] == 0.0 and high[k] == curve.length
        found.append(FacePart(curve if whole else curve.part(low[k], high[k]), k))
        if k in shoulders:
            found.append(shoulders[k])
    return found


def _square_end(walls: tuple[Piece, Piece], side: int) -> int | None:
    """Which of two walls ends square while the other's face runs up to its end: the one whose face stands out beyond
    the other's there, and none where that passes its corner, for a mitre to close. Where it just meets the corner, both
    are the same."""
    a, b = walls
    off = [float(_height(wall, side)(share)) for wall, share in ((a, 1.0), (b, 0.0))]
    straight = float(a.curve.tangent(a.curve.length) @ b.curve.tangent(0.0))
    apart = off[0] * off[1] < 0 < straight
    for k in (0, 1):
        if abs(off[1 - k]) < abs(off[k]) * straight or (apart and abs(off[1 - k]) <= abs(off[k])):
            return k
    return None


def _height(piece: Piece, side: int) -> Callable[[ArrayLike], Array]:
    return piece.wall.front if side > 0 else piece.wall.rear


def offset_curve(piece: Piece, height: Callable[[ArrayLike], Array]) -> Curve:
    """The curve beside a piece's own, by a height in m to the front at a fraction 0...1 of its length."""
    curve, even = piece.curve, piece.wall.passed[0] == piece.wall.passed[1]
    first, last = (float(height(share)) for share in (0.0, 1.0))
    if isinstance(curve, Line) and even:
        n = normal(curve.tangent(0.0))
        (r0, z0), (r1, z1) = curve.begin, curve.end
        return Line(
            (r0 + first * float(n[0]), z0 + first * float(n[1])), (r1 + last * float(n[0]), z1 + last * float(n[1]))
        )
    if isinstance(curve, Arc) and even and first == last:
        radius = curve.radius - first if curve.sweep > 0 else curve.radius + first
        if radius < SAME:
            raise DesignError(
                f"'{piece.zone.name}' bends by no more than half its thickness{HERE}: its inner face would be a "
                "point; make the bend wider",
                f" near {show_place(begin(curve))}",
            )
        return Arc(curve.centre, radius, curve.start, curve.sweep)

    def position(s: Array) -> Array:
        off = height(s / curve.length)
        return np.asarray(curve.point(s) + off[..., None] * normal(curve.tangent(s)))

    return freeform_from(position, np.linspace(0.0, curve.length, 11))


def _meeting(
    a: Curve, b: Curve, pieces: tuple[Piece, Piece], near: Point, begun: float | None = None
) -> tuple[float, float]:
    found = crossing(a, a.length if begun is None else begun, b, 0.0)
    if found is None:
        raise DesignError(
            f"the faces of the wall do not meet at the sharp corner of '{pieces[0].zone.name}'{HERE}; give it a radius",
            f" near {show_place(near)}",
        )
    return found


def _on_axis(curve: Curve) -> float:
    """Arc length at which a face meets the axis."""
    s = 0.0
    for _ in range(40):
        s -= float(curve.point(s)[0]) / float(curve.tangent(s)[0])
    return s if abs(s) > 1e-15 else 0.0
