"""The solid wall around a meridian: both faces at half a thickness, mitred where two pieces meet at a kink."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.meridian.curve import normal

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ThickWall:
    """The wall of a design as a map from (arc length s, height -1...1 through the wall) to (r, z).

    `marks` are the arc lengths of the piece ends (P + 1,), `shifts` how far each piece's front face runs on beyond
    its begin and end, in half thicknesses (P, 2): zero where the meridian is smooth, the tangent of half the turn
    at a kink.
    """

    design: Design
    marks: Array
    shifts: Array

    def point(self, piece: int, s: Array, height: Array) -> Array:
        """(r, z) with a last axis of two: mid-surface plus half a thickness along the normal, sheared to the mitre."""
        part = self.design.meridian[piece]
        local = s - self.marks[piece]
        fraction = local / part.curve.length
        along = part.curve.tangent(local)
        shift = self.shifts[piece, 0] + fraction * np.diff(self.shifts[piece])
        half = height * part.wall.thickness(fraction) / 2
        return part.curve.point(local) + half[..., None] * (normal(along) + shift[..., None] * along)

    def mark_of_joint(self) -> float:
        """Arc length of the drive circle."""
        if self.design.joint is None:
            raise ValueError("the design has no drive circle")
        return float(self.marks[self.design.joint])


def thick_wall(design: Design) -> ThickWall:
    """Measure the meridian and find the mitre of every kink."""
    if design.former:
        raise ValueError("the cross-checks take designs with a plain ring, not a former")
    curves = [piece.curve for piece in design.meridian]
    marks = np.concatenate(([0.0], np.cumsum([curve.length for curve in curves])))
    shifts = np.zeros((len(curves), 2))
    for i in range(len(curves) - 1):
        before, after = curves[i].tangent(curves[i].length), curves[i + 1].tangent(0.0)
        mitre = (normal(before) + normal(after)) / (1 + before @ after)
        shifts[i, 1], shifts[i + 1, 0] = mitre @ before, mitre @ after
    return ThickWall(design, marks, shifts)


def graded(length: float, first: float, largest: float, growth: float = 1.6) -> Array:
    """Cut 0...length finer toward both ends: sizes grow from `first` by `growth` up to `largest`.

    A piece no longer than `first` stays whole.
    """
    if length <= first:
        return np.array([0.0, length])
    sizes = [first]
    while sum(sizes) < length / 2:
        sizes.append(min(sizes[-1] * growth, largest))
    cut = np.concatenate(([0.0], np.cumsum(sizes + sizes[::-1])))
    return cut * length / cut[-1]


def stations(wall: ThickWall, first: float, largest: float, growth: float = 1.6) -> list[Array]:
    """Element ends (arc lengths in m) of each piece, graded toward its ends, where corners and joints are."""
    pieces = zip(wall.marks[:-1], wall.marks[1:], strict=True)
    return [begin + graded(end - begin, first, largest, growth) for begin, end in pieces]
