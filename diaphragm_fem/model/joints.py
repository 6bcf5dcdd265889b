"""Where a design has joints and held ends, and what kind each one is."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import atan2, inf

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.design.design import Piece
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.joint_section import Arm, Kind
from diaphragm_fem.model.numbering import edges

Array = NDArray[np.float64]
Index = NDArray[np.int64]
End = tuple[int, int]  # a piece and its end: 0 where it begins, 1 where it ends

SMOOTH_TURN = 1e-3  # radians below which two walls run on
SAME_THICKNESS = 1e-9  # relative
LONGEST_BEND = 3.0  # thicknesses of a bend that the patch follows; beyond, the wall's own law has it
LEAST_STRETCH = 1.0  # thicknesses of wall beside a joint whose elements change
PER_OVERLAP = 0.6  # of a neighbour's thickness that the stretch is longer where the walls overlap


@dataclass(frozen=True)
class Joint:
    """The ends of pieces that meet, in the order of the arms of their kind; a held end stands alone.

    place: (r, z) in m; stretches: of each end the elements whose stiffness changes, in order away from the joint.
    """

    ends: tuple[End, ...]
    place: tuple[float, float]
    kind: Kind
    stretches: tuple[Index, ...]


def joints_of(mesh: MeridianMesh) -> Iterator[Joint]:
    """Joints of walls of one layer, and ends held in every motion of the section.

    Left alone: laminates; joints of more than three walls; edges that are hinged, elastic or held in part.
    """
    pieces = mesh.pieces
    outward = np.array([piece.curve.tangent(np.array([0.0, piece.curve.length])) for piece in pieces])
    outward[:, 1] *= -1
    groups: list[tuple[End, ...]] = [group for group in mesh.joints if 2 <= len(group) <= 3]
    groups += [
        (end,)
        for end, on_axis, edge in edges(mesh)
        if not on_axis and edge.radial == edge.axial == edge.rotation == inf
    ]
    for ends in groups:
        if all(len(pieces[p].wall.layers) == 1 for p, _ in ends) and not _runs_on(pieces, ends, outward):
            arms = tuple(_arm(pieces, ends, k, outward) for k in range(len(ends)))
            stretches = tuple(_stretch(mesh, ends, arms, k) for k in range(len(ends)))
            curve = pieces[ends[0][0]].curve
            r, z = curve.point(ends[0][1] * curve.length).tolist()
            yield Joint(ends, (r, z), Kind(arms), stretches)


def _runs_on(pieces: tuple[Piece, ...], ends: tuple[End, ...], outward: Array) -> bool:
    """Whether two ends are one wall that goes on smoothly."""
    if len(ends) != 2:
        return False
    a, b = (pieces[p].wall.layers[0] for p, _ in ends)
    if a.material != b.material or abs(_thickness(pieces, ends[0]) / _thickness(pieces, ends[1]) - 1) > SAME_THICKNESS:
        return False
    return bool(outward[ends[0]] @ outward[ends[1]] < -np.cos(SMOOTH_TURN))


def _thickness(pieces: tuple[Piece, ...], end: End) -> float:
    layer = pieces[end[0]].wall.layers[0]
    return layer.end_thickness if end[1] else layer.begin_thickness


def _arm(pieces: tuple[Piece, ...], ends: tuple[End, ...], k: int, outward: Array) -> Arm:
    p, e = ends[k]
    curve, material = pieces[p].curve, pieces[p].wall.layers[0].material
    t, h = outward[p, e].tolist(), _thickness(pieces, ends[k])
    curvature = float(curve.curvature(np.array(e * curve.length))) * (1 if e == 0 else -1)
    beside = max((_thickness(pieces, end) for end in ends if end != ends[k]), default=0.0)
    bend = min(curve.length, LONGEST_BEND * h + beside) if curvature else 0.0
    return Arm(atan2(t[1], t[0]), h, material.youngs_modulus, material.poisson_ratio, curvature, bend)


def _stretch(mesh: MeridianMesh, ends: tuple[End, ...], arms: tuple[Arm, ...], k: int) -> Index:
    """Elements beside an end, at least as long as the wall is thick and its neighbours overlap it, and of one wall."""
    least = LEAST_STRETCH * arms[k].thickness + PER_OVERLAP * _overlap(arms, k)
    place, way = ends[k][0], 1 if ends[k][1] == 0 else -1
    count, own = len(mesh.design.meridian), mesh.pieces[place].wall.layers[0].material
    line = range(count, len(mesh.pieces)) if place >= count else range(count)
    found: list[int] = []
    while place in line and len(mesh.pieces[place].wall.layers) == 1:
        if mesh.pieces[place].wall.layers[0].material != own:
            break
        elements = np.arange(mesh.elements[place].start, mesh.elements[place].stop)[::way]
        for element, length in zip(elements, np.diff(mesh.stations[place])[::way], strict=True):
            found.append(int(element))
            least -= float(length)
            if least <= 0:
                return np.array(found)
        place += way
        if place + (way < 0) == mesh.design.joint and line.start == 0:
            break
    return np.array(found)


def _overlap(arms: tuple[Arm, ...], k: int) -> float:
    """How far the walls that meet an arm lie over it, roughly, in m."""
    others = [arm for i, arm in enumerate(arms) if i != k]
    if len(others) != 1:
        return max((arm.thickness for arm in others), default=0.0)
    half_turn = abs(np.tan((arms[k].direction - others[0].direction + np.pi) / 2))
    return float(others[0].thickness * min(half_turn, 4.0))
