"""The hard contour that free air meets on one side of a diaphragm: rigid centre, face, mounting ring, flange.

It runs from the axis outward to the baffle's plane, air on its left. The face is where the diaphragm moves; all the
rest is rigid. Equal contours compare equal, so that the air before them can be kept.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.meridian.curve import Arc, Curve, Freeform, Line
from diaphragm_fem.design.meridian.outline import begin, end
from diaphragm_fem.errors import MeshError

NO_LENGTH = 1e-9  # m


@dataclass(frozen=True)
class OpenContour:
    """Curves end to end: `before` and `after` the face are rigid; the last ends on the baffle's plane."""

    before: tuple[Curve, ...]
    face: tuple[Curve, ...]
    after: tuple[Curve, ...] = ()

    @cached_property
    def begins(self) -> Array:
        """Distance along the face (C + 1,) in m at which each of its curves begins, and its whole length."""
        return np.concatenate(([0.0], np.cumsum([curve.length for curve in self.face])))

    @property
    def length(self) -> float:
        """Of the face, m."""
        return float(self.begins[-1])

    @cached_property
    def plane(self) -> float:
        """Height in m of the baffle's plane."""
        return end(self.every[-1])[1]

    @cached_property
    def every(self) -> tuple[Curve, ...]:
        return (*self.before, *self.face, *self.after)

    @property
    def starts_on_axis(self) -> bool:
        """Whether the face itself does."""
        return not self.before

    def point(self, place: ArrayLike) -> Array:
        """Points (..., 2) of the face at distances along it."""
        place = np.asarray(place, float)
        owner = np.clip(np.searchsorted(self.begins, place, side="right") - 1, 0, len(self.face) - 1)
        found = np.empty((*place.shape, 2))
        for k, curve in enumerate(self.face):
            found[owner == k] = curve.point(place[owner == k] - self.begins[k])
        return found

    def reach(self, plane: float) -> float:
        """Largest distance in m of what lies above a plane from the point where the axis meets it."""
        points = np.vstack([curve.point(np.linspace(0, curve.length, 65)) for curve in self.every])
        points = points[points[:, 1] >= plane - NO_LENGTH]
        return float(np.hypot(points[:, 0], points[:, 1] - plane).max())


def front_contour(design: Design, flange_depth: float = 0.0, mounting_ring: float = 0.0) -> OpenContour:
    """The front of a design: its face, a flat ring of some width around it, a flange that rises to the baffle; m.

    Within an inner edge lies a flat rigid disc at that edge's height. Raises MeshError for a face that ends on the
    axis, or reaches beyond its outer edge.
    """
    face = tuple(piece.curve for piece in design.meridian)
    r, z = begin(face[0])
    before = (Line((0.0, z), (r, z)),) if r > NO_LENGTH else ()
    after: tuple[Curve, ...] = ()
    r, z = end(face[-1])
    if r < NO_LENGTH:
        raise MeshError("a face in a baffle needs an outer edge away from the axis; this one ends on the axis")
    if mounting_ring > 0:
        after += (Line((r, z), (r + mounting_ring, z)),)
    if flange_depth > 0:
        after += (Line((r + mounting_ring, z), (r + mounting_ring, z + flange_depth)),)
    return OpenContour(before, face, after)


def rear_contour(design: Design) -> OpenContour:
    """The rear of a design seen from behind: its face upside down, flush with a baffle of its own. MeshError as for its
    front."""
    contour = front_contour(design)
    return OpenContour(*(tuple(_upside_down(c) for c in part) for part in (contour.before, contour.face)))


def _upside_down(curve: Curve) -> Curve:
    if isinstance(curve, Line):
        return Line((curve.begin[0], -curve.begin[1]), (curve.end[0], -curve.end[1]))
    if isinstance(curve, Arc):
        return Arc((curve.centre[0], -curve.centre[1]), curve.radius, -curve.start, -curve.sweep)
    assert isinstance(curve, Freeform)
    return Freeform(curve.knots, tuple((r, -z) for r, z in curve.points), curve.window, curve.backward)
