"""The layers of a wall as closed outlines, its ends cut where rows of cells go on from them."""

from __future__ import annotations

from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.drawing.faces import Faces, offset_curve
from diaphragm_fem.design.meridian.curve import Curve, Line
from diaphragm_fem.design.meridian.foot import crossing
from diaphragm_fem.design.meridian.outline import backward, begin, end
from diaphragm_fem.design.meridian.wall import Layer, Wall
from diaphragm_fem.errors import MeshError

SAME = 1e-9  # of a wall's thickness


def layer_outlines(
    faces: Faces, n: int, piece: Piece, first_rows: list[float], last_rows: list[float]
) -> list[list[Curve]]:
    """The closed outline of each layer, rear to front, of the n-th of the pieces whose faces were drawn.

    first_rows, last_rows: where the line across its begin and end is cut, in shares of the thickness; a wall of layers
    has no other rows than these. MeshError where a layer has no room in a corner.
    """
    rear, front = ([part.curve for part in side if part.piece == n] for side in (faces.rear, faces.front))
    if len(piece.wall.layers) == 1:
        last = _cut(Line(end(rear[-1]), end(front[-1])), last_rows)
        first = _cut(Line(begin(rear[0]), begin(front[0])), first_rows)
        return [[*rear, *last, *backward(front), *backward(first)]]
    main = [next(p.curve for p in side if p.piece == n and not p.shoulder) for side in (faces.rear, faces.front)]
    first_line, last_line = (Line(end_(main[0]), end_(main[1])) for end_ in (begin, end))
    borders = [main[0], *_borders(piece, first_line, last_line), main[1]]
    found = []
    for low, high in pairwise(borders):
        last, first = (_cut(Line(tip(low), tip(high)), []) for tip in (end, begin))
        found.append([low, *last, high.reverse(), *backward(first)])
    return found


def _borders(piece: Piece, first: Line, last: Line) -> list[Curve]:
    """Where one layer meets the next, from the line across the begin to that across the end."""
    found: list[Curve] = []
    for k in range(1, len(piece.wall.layers)):
        curve = offset_curve(piece, partial(_over, piece.wall, piece.wall.layers[:k]))
        cuts = [crossing(curve, s, line, line.length / 2) for s, line in ((0.0, first), (curve.length, last))]
        if cuts[0] is None or cuts[1] is None or cuts[1][0] - cuts[0][0] < SAME * curve.length:
            raise MeshError(
                f"a layer of '{piece.zone.name}' has no room in a corner beside the former; give that a radius"
            )
        found.append(curve.part(cuts[0][0], cuts[1][0]))
    return found


def _over(wall: Wall, below: tuple[Layer, ...], fraction: ArrayLike) -> Array:
    """Height in m of the front of some layers over the meridian."""
    return np.asarray(sum((layer.thickness(fraction) for layer in below), wall.rear(fraction)))


def _cut(line: Line, rows: list[float]) -> list[Curve]:
    """A line across a layer, cut at some shares of it; MeshError where it is a point."""
    if not line.length:
        raise MeshError("two faces of a layer meet in a point beside the former; give that corner a radius")
    return [line.part(a * line.length, b * line.length) for a, b in pairwise([0.0, *rows, 1.0])]
