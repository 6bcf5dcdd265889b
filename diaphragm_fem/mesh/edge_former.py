"""A former at an edge of the meridian: one wall that goes on round the corner.

A former beside the drive circle is met by the wall in its middle: the wall ends there, or runs on to it as it comes.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.outline import begin, direction, end, position
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.knot_arms import Numbered, turned
from diaphragm_fem.mesh.meridian import SAME_POINT

STEEPEST = 0.2  # cosine between a wall and the radius: a steeper one does not run on to the former


def chain_and_former(design: Design) -> tuple[list[Numbered], list[Numbered]]:
    """The pieces of the meridian, carried on by a former at its end, and those of the former, all numbered.

    Raises MeshError where a wall falls too steeply to reach a former beside it.
    """
    every, count = list(enumerate(design.pieces)), len(design.meridian)
    meridian, former = every[:count], every[count:]
    if former and design.joint == count:
        run, hung = _met(meridian, former)
        return [*run, *hung], former
    if former and design.joint == 0:
        run, hung = _met(turned(meridian), former)
        return [*turned(hung), *turned(run)], former
    return meridian, former


def _met(run: list[Numbered], former: list[Numbered]) -> tuple[list[Numbered], list[Numbered]]:
    """A run of wall that ends at the drive circle, and the former, until they meet."""
    (k, last), (n, first) = run[-1], former[0]
    place, top = end(last.curve), begin(first.curve)
    gap = top[0] - place[0]
    if np.hypot(gap, top[1] - place[1]) < SAME_POINT:
        return run, former
    length = last.curve.length
    back = gap * direction(last.curve, length)[0] < 0
    low, high = (0.0, length) if back else (length, length + abs(gap) / STEEPEST)
    if not back and not isinstance(last.curve, Line | Arc):
        raise MeshError(_too_steep(last))

    def beyond(s: float) -> float:
        return (position(last.curve, s)[0] - top[0]) * gap

    rising = beyond(high) > beyond(low)
    if beyond(low) * beyond(high) > 0:
        raise MeshError(_too_steep(last))
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if (beyond(middle) > 0) == rising else (middle, high)
    run = [*run[:-1], (k, last.part(0.0, low))]
    corner = end(run[-1][1].curve)
    return run, [(n, replace(first, curve=Line(corner, end(first.curve)))), *former[1:]]


def _too_steep(piece: Piece) -> str:
    return (
        f"'{piece.zone.name}' is too steep or too short to meet a former beside the drive circle at an edge; leave "
        "coil.side out"
    )
