"""Lines through the cells of a joint that is drawn as the union of its walls: mid-lines and the front face."""

from itertools import pairwise

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Piece
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.section_plan import SIDES, Plan, Side, Stretch, local_in

SEGMENT = 0.3  # thicknesses: a mid-line is cut into stretches of this length, or shorter ones
BEYOND = 0.05  # how far a stretch may reach out of its cell, whose map says nothing there
HALVINGS = 1  # of a stretch that reaches farther; then its ends are moved to the border. Four doubled the time to mesh


def middle_of(plan: Plan, pieces: list[Piece]) -> list[Stretch]:
    """The mid-line of pieces end to end through the united cells."""
    found = []
    corners = np.array([[plan.points[i] for i in plan.cells[c]] for c in plan.united])
    centre = corners.mean(axis=1)
    for piece in pieces:
        length = piece.curve.length
        count = int(np.ceil(length / (SEGMENT * float(piece.wall.thickness(0.5)))))
        ends = piece.curve.point(np.linspace(0, length, count + 1))
        for a, b in pairwise(ends):
            found += _stretches(plan, centre, a, b)
    return found


def _stretches(plan: Plan, centre: Array, a: Array, b: Array, halvings: int = HALVINGS) -> list[Stretch]:
    """The way from a to b as stretches, each in its cell; centre (C, 2) of the united cells."""
    own = _stretch(plan, centre, a, b)
    if max(map(_outside, (own.begin, own.end))) <= BEYOND:
        return [own]
    if halvings == 0:
        (p, q), (r, s) = np.clip((own.begin, own.end), 0.0, 1.0).tolist()
        return [Stretch(own.cell, (p, q), (r, s))] if (p, q) != (r, s) else []  # beside a corner: it has no normal
    halfway = (a + b) / 2
    return [x for ends in ((a, halfway), (halfway, b)) for x in _stretches(plan, centre, *ends, halvings - 1)]


def _outside(place: tuple[float, float]) -> float:
    """How far local coordinates lie beyond 0 to 1."""
    return max(*(-x for x in place), *(x - 1 for x in place), 0.0)


def _stretch(plan: Plan, centre: Array, a: Array, b: Array) -> Stretch:
    """The stretch from a to b, in the cell of the joint that holds its middle."""
    own = plan.united
    best: tuple[float, int] = (np.inf, own[0])
    for n in np.argsort(np.linalg.norm(centre - (a + b) / 2, axis=1))[:12]:
        outside = _outside(local_in(*_sides(plan, own[n]), complex(*(a + b) / 2)))
        best = min(best, (outside, own[n]))
        if outside == 0:
            break
    begin, end = (local_in(*_sides(plan, best[1]), complex(*place)) for place in (a, b))
    return Stretch(best[1], begin, end)


def _sides(plan: Plan, cell: int) -> tuple[list[complex], list[complex]]:
    """Corners of a cell and middles of its sides, r + i z."""
    corners = plan.cells[cell]
    middles = [plan.edges[corners[i], corners[k]] for i, k in SIDES]
    return [complex(*plan.points[i]) for i in corners], [complex(*middle) for middle in middles]


def front_sides(plan: Plan, first: int, last: int) -> list[Side]:
    """Sides on the border of the joint from one point to another, the joint to the right of the way. MeshError where
    the walls touch or the border is broken."""
    corners = np.array([plan.cells[c] for c in plan.united])
    sides = np.stack((corners, np.roll(corners, -1, axis=1)), axis=2).reshape(-1, 2)  # the joint to their left
    low, high = np.sort(sides, axis=1).T
    _, same, count = np.unique(low * len(plan.points) + high, return_inverse=True, return_counts=True)
    after: dict[int, tuple[int, Side]] = {}
    for k in np.flatnonzero(count[same] == 1).tolist():
        a, b = sides[k].tolist()
        if b in after:
            raise MeshError(
                "the walls touch beside the former: round the corner there more, thin them or lap them further"
            )
        after[b] = (a, (plan.united[k // 4], k % 4))
    found: list[Side] = []
    at = first
    while at != last:
        if at not in after or len(found) > len(after):
            raise MeshError("the front face is broken at the joint with the former")
        at, border = after[at]
        found.append(border)
    return found
