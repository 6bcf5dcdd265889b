"""Where the middles of a wall's faces, one after the other, join: at a kink, run on straight, or over a slope where the
thickness jumps on one face alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from diaphragm_fem.design.curve import Curve, Line
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.drawing_chain import JOIN
from diaphragm_fem.design.drawing_file import METRES, Drawing, Drawn, far
from diaphragm_fem.design.face_pair import Match, Middle, turn_between
from diaphragm_fem.design.foot import crossing, feet
from diaphragm_fem.design.outline import Point, begin, end, position
from diaphragm_fem.errors import DesignError

KINK = 1e-3  # rad: middles that turn by more meet where they cross
ECCENTRIC = 0.02  # of the thickness, by which the middle may jump
SLOPE = 0.7  # times the height of a shoulder on one face: how long a slope stands for it
STEEP = 0.5  # change of the wall over the length of its zone: the slope has 1.2, a taper that anybody draws a tenth
NOT_DRAWN = (
    "a slope stands there for a shoulder on one face of the drawing, and no solid is made of it; to have one, let the "
    "thickness jump alike on both faces"
)


@dataclass(frozen=True)
class Joint:
    """Arc lengths at which two middles, one after the other, end and begin; `sloped` where a slope lies between."""

    before: float
    after: float
    sloped: bool = False


def joint_of(a: Match, b: Match, one: list[Drawn], other: list[Drawn], drawing: Drawing, place: str) -> Joint:
    """Where two middles join. Where the thickness jumps on one face while the other runs straight on, the middle jumps
    by half as much: it is led over a slope of SLOPE times the shoulder's height, as long before it as behind.
    """
    ends = []
    for before, after, face in ((a.i, b.i, one), (a.j, b.j, other)):
        if before != after:
            last = end(face[int(before)].curve)
            first = begin(face[int(np.ceil(after))].curve)
            ends.append(((last[0] + first[0]) / 2, (last[1] + first[1]) / 2))
    near = np.array(ends).mean(axis=0)[None]
    m, n = a.pair.middle, b.pair.middle
    if len(ends) == 1:
        near = np.array(ends)
    s, t = float(feet(m, near)[0]), float(feet(n, near)[0])
    if turn_between(m, float(np.clip(s, 0.0, m.length)), n, float(np.clip(t, 0.0, n.length))) > KINK:
        found = crossing(m, s, n, t)
        if found is not None:
            return Joint(*found)
    jump = far(position(m, s), position(n, t))
    walls = [float(x.pair.thickness(np.array(at))) for x, at in ((a, s), (b, t))]
    if jump > max(ECCENTRIC * min(walls), JOIN):
        height = abs(walls[1] - walls[0])
        if abs(jump - height / 2) <= ECCENTRIC * min(walls):
            return Joint(s - SLOPE * height / 2, t + SLOPE * height / 2, True)
        unit = drawing.unit
        raise DesignError(
            f"{place}: the middle of the wall jumps by {jump / METRES[unit]:.3g} {unit} near "
            f"{drawing.place(position(m, s))}; let the thickness change alike on both faces there, or over a taper"
        )
    return Joint(s, t)


def slope_between(before: Middle, after: Middle) -> list[Middle]:
    """From one middle to the next, half of the way in either's layer, the thickness across it linear along it."""
    a, b = end(before.curve), begin(after.curve)
    half = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
    way = Line(a, b)
    across = float(way.tangent(0.0) @ before.curve.tangent(before.curve.length))
    first, last = (across * wall for wall in (*before.thickness, *after.thickness)[1:3])
    mean = (first + last) / 2
    return [
        Middle(Line(a, half), before.layer, (first, mean), sloped=True),
        Middle(Line(half, b), after.layer, (mean, last), sloped=True),
    ]


def stands_for_shoulder(piece: Piece) -> bool:
    """Whether a piece of the meridian is a half of such a slope."""
    first, last = (float(piece.wall.thickness(share)) for share in (0.0, 1.0))
    return abs(last - first) > STEEP * piece.curve.length


def with_shoulders(pieces: Sequence[Piece]) -> list[tuple[int, Piece]]:
    """Pieces and their numbers, with the shoulders that were drawn in place of the slopes that stand for them: the
    walls beside a slope run on to its middle, where the shoulder is.
    """
    halves = {n for k in range(len(pieces) - 1) if _is_slope(pieces[k : k + 2]) for n in (k, k + 1)}
    if not halves:
        return list(enumerate(pieces))
    return [
        (k, _run_on(piece, *(pieces[n].curve if n in halves else None for n in (k - 1, k + 1))))
        for k, piece in enumerate(pieces)
        if k not in halves
    ]


def _is_slope(halves: Sequence[Piece]) -> bool:
    """Whether two pieces are the halves of one slope: straight on, equally long, over one taper."""
    a, b = halves
    return (
        all(isinstance(half.curve, Line) and stands_for_shoulder(half) for half in halves)
        and abs(a.curve.length - b.curve.length) < JOIN
        and turn_between(a.curve, a.curve.length, b.curve, 0.0) < KINK
    )


def _run_on(piece: Piece, before: Curve | None, after: Curve | None) -> Piece:
    """The piece as far as the other ends of the half slopes before and after it lie along its own way."""
    curve, length = piece.curve, piece.curve.length
    first, last = (
        0.0 if slope is None else float(abs(slope.tangent(0.0) @ curve.tangent(at))) * slope.length
        for slope, at in ((before, 0.0), (after, length))
    )
    if not first and not last:
        return piece
    wall = piece.wall.part(-first / length, 1 + last / length)
    return replace(piece, curve=curve.part(-first, length + last), wall=wall)


def edge_of(match: Match, a: Point, b: Point) -> float:
    """Arc length of the middle where it crosses the line of the end face from a to b."""
    middle = match.pair.middle
    s = float(feet(middle, np.array([[(a[0] + b[0]) / 2, (a[1] + b[1]) / 2]]))[0])
    face = Line(a, b)
    found = crossing(middle, s, face, face.length / 2) if face.length > 0 else None
    return s if found is None else found[0]
