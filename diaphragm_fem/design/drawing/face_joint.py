"""Where the middles of a wall's faces, one after the other, join: at a kink, run on straight, or over a slope where the
thickness jumps on one face alone."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.drawing.chain import JOIN
from diaphragm_fem.design.drawing.dxf import METRES, Drawing, Drawn, far
from diaphragm_fem.design.drawing.face_pair import Match, Middle, turn_between
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.foot import crossing, feet
from diaphragm_fem.design.meridian.outline import Point, begin, end, position
from diaphragm_fem.design.meridian.wall import Wall
from diaphragm_fem.errors import DesignError

KINK = 1e-3  # rad: middles that turn by more meet where they cross
ECCENTRIC = 0.02  # of the thickness, by which the middle may jump
SAME_WALL = 2e-4  # of the thickness, by which one wall may differ on both sides of where its middles meet
SLOPE = 0.7  # times the height of a shoulder on one face: how long a slope stands for it
STEEP = 0.5  # change of the wall over the length of its zone: the slope has 1.2, a taper that anybody draws a tenth


@dataclass(frozen=True)
class Joint:
    """Arc lengths at which two middles, one after the other, end and begin; `sloped` where a slope lies between."""

    before: float
    after: float
    sloped: bool = False


def joint_of(a: Match, b: Match, one: list[Drawn], other: list[Drawn], drawing: Drawing, place: str) -> Joint:
    """Where two middles join. Where the thickness jumps on one face while the other runs straight on, the middle jumps
    by half as much: it is led over a slope of SLOPE times the shoulder's height, as long before it as behind."""
    ends = []
    for before, after, face in ((a.i, b.i, one), (a.j, b.j, other)):
        if before != after:
            last = end(face[int(before)].curve)
            first = begin(face[int(np.ceil(after))].curve)
            ends.append(((last[0] + first[0]) / 2, (last[1] + first[1]) / 2))
    m, n = a.pair.middle, b.pair.middle
    if len(ends) == 2:
        s, t = edge_of(a, *ends), edge_of(b, *ends)
    else:
        s, t = (float(feet(middle, np.array(ends))[0]) for middle in (m, n))
    if turn_between(m, s, n, t) > KINK:
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


def met(before: Middle, after: Middle) -> tuple[Middle, Middle]:
    """Both, as thick as one another where they meet, if what they differ by there is how the middle of uneven walls was
    found: no joint would be solved where one wall runs on. An even one keeps its thickness."""
    walls: list[float] = [*before.thickness, *after.thickness]
    a, last, first, b = walls
    if abs(last - first) > SAME_WALL * last or (a == last and first == b):
        return before, after
    shared = last if a == last else first if first == b else (last + first) / 2
    return replace(before, thickness=(a, shared)), replace(after, thickness=(shared, b))


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
    walls beside a slope run on to its middle, where the shoulder is."""
    halves = halves_of_slopes(pieces)
    return [(k, piece) for k, piece in enumerate(steeper(pieces, 0.0)) if k not in halves]


def steeper(pieces: Sequence[Piece], share: float) -> list[Piece]:
    """The pieces with slopes that stand for shoulders only a `share` as long; the walls beside run on to them."""
    found, halves = list(pieces), halves_of_slopes(pieces)
    for k in halves:
        if k + 1 not in halves or not 0 < k < len(pieces) - 2:
            continue
        a, b = found[k - 1], found[k + 2]
        cut = [
            (1 - share) * half.curve.length * float(half.curve.tangent(0.0) @ wall.curve.tangent(at))
            for half, wall, at in ((found[k], a, a.curve.length), (found[k + 1], b, 0.0))
        ]
        found[k - 1], found[k + 2] = a, b = a.part(0.0, a.curve.length + cut[0]), b.part(-cut[1], b.curve.length)
        if share:
            found[k : k + 2] = [
                replace(found[n], curve=half.curve, wall=_as_thick(found[n].wall, *half.thickness))
                for n, half in zip((k, k + 1), slope_between(_middle(a), _middle(b)), strict=True)
            ]
    return found


def _middle(piece: Piece) -> Middle:
    return Middle(piece.curve, "", (float(piece.wall.thickness(0.0)), float(piece.wall.thickness(1.0))))


def _as_thick(wall: Wall, first: float, last: float) -> Wall:
    """The wall with its layers in their shares of another thickness at each end."""
    a, b = first / float(wall.thickness(0.0)), last / float(wall.thickness(1.0))
    layers = (replace(x, begin_thickness=a * x.begin_thickness, end_thickness=b * x.end_thickness) for x in wall.layers)
    return Wall(tuple(layers))


def halves_of_slopes(pieces: Sequence[Piece]) -> set[int]:
    """The places among pieces of the halves of slopes that stand for shoulders."""
    return {n for k in range(len(pieces) - 1) if _is_slope(pieces[k : k + 2]) for n in (k, k + 1)}


def _is_slope(halves: Sequence[Piece]) -> bool:
    """Whether two pieces are the halves of one slope: straight on, equally long, over one taper."""
    a, b = halves
    return (
        all(isinstance(half.curve, Line) and stands_for_shoulder(half) for half in halves)
        and abs(a.curve.length - b.curve.length) < JOIN
        and turn_between(a.curve, a.curve.length, b.curve, 0.0) < KINK
    )


def edge_of(match: Match, a: Point, b: Point) -> float:
    """Arc length of the middle where it crosses the line of the end face from a to b."""
    middle = match.pair.middle
    s = float(feet(middle, np.array([[(a[0] + b[0]) / 2, (a[1] + b[1]) / 2]]))[0])
    face = Line(a, b)
    found = crossing(middle, s, face, face.length / 2) if face.length > 0 else None
    return s if found is None else found[0]
