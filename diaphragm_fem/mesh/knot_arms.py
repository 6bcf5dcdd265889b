"""The walls that leave a joint, each cut where it lies clear of the others."""

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.meridian.outline import Point
from diaphragm_fem.errors import MeshError

Numbered = tuple[int, Piece]

APART = 0.5  # thicknesses of the thinner wall that must lie between two walls where their joint ends
BESIDE = 0.8  # thicknesses of wall between the last corner and the end of the joint
LEAD = 0.8  # thicknesses of the two cells that lead from the joint to the wall
ROOM = 0.3  # thicknesses that a joint's end keeps from the ends of a piece
FARTHEST = 60.0  # thicknesses searched along a wall


@dataclass(frozen=True)
class Arm:
    """One wall that leaves the joint: its pieces as they run away from it, `turned` where the design has them toward
    it; near (joint to the end of the drawing), lead (to where its own cells begin) and far."""

    turned: bool
    near: list[Numbered]
    lead: Numbered
    far: list[Numbered]

    def as_drawn(self, pieces: list[Numbered]) -> list[Numbered]:
        """Pieces in the order and direction of the design."""
        return turned(pieces) if self.turned else pieces


def turned(run: list[Numbered]) -> list[Numbered]:
    """The same pieces run from the other end."""
    return [(k, Piece(x.curve.reverse(), x.zone, x.wall.reverse(), x.winding)) for k, x in reversed(run)]


def thickest(piece: Piece) -> float:
    return float(piece.wall.thickness(np.array([0.0, 1.0])).max())


def _points(run: list[Numbered]) -> tuple[Array, Array, Array]:
    """Arc lengths (N,) from the joint, points (N, 2) of the mid-line and thicknesses (N,), as far as is searched."""
    places, points, thick, start = [], [], [], 0.0
    limit = FARTHEST * thickest(run[0][1])
    for _, piece in run:
        s = np.arange(0.0, piece.curve.length, thickest(piece) / 8)
        places.append(start + s)
        points.append(piece.curve.point(s))
        thick.append(piece.wall.thickness(s / piece.curve.length))
        start += piece.curve.length
        if start > limit:
            break
    return np.concatenate(places), np.concatenate(points), np.concatenate(thick)


def reach_of(run: list[Numbered], others: list[list[Numbered]]) -> float:
    """Arc length from the joint to where a wall's joint ends: a little beyond the place where it lies clear of the
    others. MeshError where it does nowhere."""
    _, at, beside = (np.concatenate(x) for x in zip(*map(_points, others), strict=True))
    for place, point, thick in zip(*_points(run), strict=True):  # most are clear after a few thicknesses
        gap = np.hypot(*(at - point).T) - (thick + beside) / 2
        if (gap > APART * np.minimum(thick, beside)).all():
            return float(place + BESIDE * thick)
    raise MeshError(
        f"the walls lie over one another all along '{run[0][1].zone.name}', beside the former; make it longer, or "
        "lead it away from the others"
    )


def runs_of(design: Design) -> list[list[Numbered]]:
    """The inner and the outer wall and the former of a design's joint, each as it runs away from it."""
    meridian, joint = list(enumerate(design.meridian)), design.joint or 0
    return [
        turned(meridian[:joint]),
        meridian[joint:],
        [(len(meridian) + k, piece) for k, piece in enumerate(design.former)],
    ]


def reach_beside(run: list[Numbered], tip: Point, clear: float) -> float:
    """Arc length from the joint beyond the place where glue or the former's top ends, by `clear` times what lies
    beyond a corner."""
    place, point, thick = _points(run)
    nearest = int(np.argmin(np.linalg.norm(point - tip, axis=1)))
    return float(place[nearest] + clear * BESIDE * thick[nearest])


def split(run: list[Numbered], reach: float, turned: bool) -> Arm:
    """Cut a wall at the end of the joint, away from the ends of its pieces. MeshError where it is too short."""
    start = 0.0
    for n, (k, piece) in enumerate(run):
        h, length = thickest(piece), piece.curve.length
        low = max(reach - start, ROOM * h if n else 0.0)
        high = low + LEAD * h
        if high + ROOM * h <= length:
            near = [*run[:n], (k, piece.part(0.0, low))]
            far = [(k, piece.part(high, length)), *run[n + 1 :]]
            return Arm(turned, near, (k, piece.part(low, high)), far)
        start += length
    name = run[0][1].zone.name
    raise MeshError(f"'{name}' is too short beside the former: it must be longer than {reach * 1e3:.3g} mm")
