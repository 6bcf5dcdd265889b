"""The meridian cut into line elements: every kink, joint and zone border is a node."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from math import cos

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.meridian.curve import CurveEnd
from diaphragm_fem.design.meridian.wall import Wall
from diaphragm_fem.mesh.sizing import stations

SAME_POINT = 1e-9  # metres
SAME_DIRECTION = 1e-3  # radians between tangents that count as smooth


@dataclass(frozen=True)
class MeridianMesh:
    """Line elements over the pieces (meridian first, then former), measured by arc length.

    stations[i] holds the arc lengths of the element ends of piece i. The pieces lie one after another on one axis
    without sharing vertices: where pieces meet is said by `joints`, lists of (piece, end) with end 0 for a piece's
    begin and 1 for its end, which the model ties by the rule of each unknown.
    """

    design: Design
    stations: tuple[Array, ...]
    up_to_hz: float

    @cached_property
    def pieces(self) -> tuple[Piece, ...]:
        """Those of the design; a former beside the drive circle is lifted off the line that it shares with the wall."""
        design = self.design
        if design.joint is None or not design.former or not (aside := design.former_aside):
            return design.pieces
        return (*design.meridian, *(replace(piece, wall=_aside(piece.wall, aside)) for piece in design.former))

    @cached_property
    def aside(self) -> Array:
        """By how much in m the line that each piece (P,) moves and turns about stands inside of its curve."""
        former = np.arange(len(self.pieces)) >= len(self.design.meridian)
        return np.where(former, self.design.former_aside, 0.0)

    @cached_property
    def piece_of_element(self) -> Index:
        return np.repeat(np.arange(len(self.stations)), [len(s) - 1 for s in self.stations])

    @cached_property
    def elements(self) -> tuple[slice, ...]:
        """The elements of each piece."""
        ends = np.cumsum([0, *(len(s) - 1 for s in self.stations)]).tolist()
        return tuple(slice(*pair) for pair in pairwise(ends))

    @cached_property
    def first_vertex(self) -> Index:
        """Index of the first vertex of each piece, and the number of vertices at the end."""
        return np.concatenate(([0], np.cumsum([len(s) for s in self.stations])))

    @cached_property
    def offset(self) -> Array:
        """Where each piece begins on the common axis; a gap keeps neighbours apart."""
        lengths = np.array([s[-1] for s in self.stations])
        return np.concatenate(([0.0], np.cumsum(lengths * 1.1)[:-1]))

    @cached_property
    def nodes(self) -> Index:
        """The nodes (3, E) at begin, end and middle of every element: vertices come first, then middles."""
        element = np.arange(len(self.piece_of_element))
        begin = element + self.piece_of_element
        return np.stack((begin, begin + 1, element + self.first_vertex[-1]))

    @cached_property
    def place(self) -> Array:
        """Where every node (N,) lies on the common axis, in m."""
        vertices = np.concatenate(self.stations) + np.repeat(self.offset, np.diff(self.first_vertex))
        begin, end = vertices[self.nodes[:2]]
        return np.concatenate((vertices, (end - begin) * 0.5 + begin))

    @cached_property
    def joints(self) -> tuple[tuple[tuple[int, int], ...], ...]:
        """Groups of piece ends that meet, each end in one group; lone ends are groups of one."""
        count = len(self.design.meridian)
        meet: list[list[tuple[int, int]]] = [
            [(0, 0)],
            *[[(i, 1), (i + 1, 0)] for i in range(count - 1)],
            [(count - 1, 1)],
        ]
        former = range(count, len(self.pieces))
        if former:
            meet[self.design.joint or 0].append((count, 0))
            meet += [[(i, 1), (i + 1, 0)] for i in former[:-1]] + [[(former[-1], 1)]]
        return tuple(tuple(group) for group in meet)

    def recut(self, stations: Sequence[Array]) -> MeridianMesh:
        """The same pieces with other cuts."""
        found = MeridianMesh(self.design, tuple(stations), self.up_to_hz)
        vars(found).update({name: value for name, value in vars(self).items() if name in ("pieces", "joints")})
        return found

    def smooth_groups(self, group: tuple[tuple[int, int], ...]) -> list[list[tuple[int, int]]]:
        """Split a joint into the sets of ends whose tangents run on smoothly through the joint."""
        sets: list[list[tuple[int, int]]] = []
        for end in group:
            for other in sets:
                incoming, outgoing = sorted((other[0], end), key=lambda x: -x[1])
                turn = self.tip(incoming).angle - self.tip(outgoing).angle
                if len(other) == 1 and incoming[1] != outgoing[1] and cos(turn) > cos(SAME_DIRECTION):
                    other.append(end)
                    break
            else:
                sets.append([end])
        return sets

    def tip(self, end: tuple[int, int]) -> CurveEnd:
        """Point, angle and curvature at a piece's end."""
        return self.pieces[end[0]].curve.ends[end[1]]

    def vertex(self, end: tuple[int, int]) -> int:
        """Vertex of a piece's end."""
        piece, last = end
        return int(self.first_vertex[piece + last] - last)


def _aside(wall: Wall, lift: float) -> Wall:
    """A former's wall with its middle by `lift` in m outside the line; one layer as two, since joints know of stacks
    alone how far they stand off."""
    if len(wall.layers) == 1:
        (one,) = wall.layers
        half = replace(one, begin_thickness=one.begin_thickness / 2, end_thickness=one.end_thickness / 2)
        wall = Wall((half, half))
    return Wall(wall.layers, (lift, lift))


def mesh_meridian(design: Design, up_to_hz: float = 20e3, refine: int = 1) -> MeridianMesh:
    """Cut a design's meridian for frequencies up to `up_to_hz`; `refine` multiplies every element count. Raises
    MeshError where a piece would need too many."""
    return MeridianMesh(design, tuple(stations(design.meridian, up_to_hz, refine, design.former)), up_to_hz)
