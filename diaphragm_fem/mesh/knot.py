"""The three-way joint as the union of its pieces, for formers that find no face of the wall to hang from.

Within a few thicknesses of the joint the pieces are drawn as they are, with square ends and mitred corners (see
`draw_faces`), and united: a surround that rolls down along the former lies over it, a steep dome meets it beside its
middle. Where they overlap the stiffer material fills. Beyond, each wall goes on in cells of its own (`lay_chain`); two
cells lead from the two sides of a cut end to the one side of a wall.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.bead import bead_section
from diaphragm_fem.design.curve import Curve, Line, normal
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.faces import FacePart, Faces, draw_faces
from diaphragm_fem.design.outline import Point, begin, end
from diaphragm_fem.errors import DesignError, MeshError
from diaphragm_fem.mesh.chain import ChainIds, lay_chain
from diaphragm_fem.mesh.glued import into_wall, into_walls
from diaphragm_fem.mesh.knot_lines import SIDES, front_sides, traced
from diaphragm_fem.mesh.orientation import Corners, Edge, oriented
from diaphragm_fem.mesh.section_plan import Plan, check_radius
from diaphragm_fem.mesh.section_size import Grading
from diaphragm_fem.mesh.strip import lay_strips
from diaphragm_fem.mesh.union import Cut, Patch, cut_union

Numbered = tuple[int, Piece]

APART = 0.5  # thicknesses of the thinner wall that must lie between two walls where their joint ends
BESIDE = 0.8  # thicknesses of wall between the last corner and the end of the joint
LEAD = 0.8  # thicknesses of the two cells that lead from the joint to the wall
ROOM = 0.3  # thicknesses that a joint's end keeps from the ends of a piece
FARTHEST = 60.0  # thicknesses searched along a wall
HOLLOW = 0.35  # of the way to the next point, that the middle of an end is moved into the joint
LAYERED = (
    "walls of several layers beside the former are drawn only where they offer it a level rear face; leave the overlap "
    "or collar there out, or give the corner at the joint a radius"
)


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
        return [(k, _turned(piece)) for k, piece in reversed(pieces)] if self.turned else pieces


def tie_knot(design: Design, grading: Grading, under: bool = False) -> Plan:
    """The plan of a section whose former is joined within the meridian; `under` walls whose rear faces it could hang
    from, it ends at these.

    Raises MeshError where walls near the joint have several layers or are too short, or their faces cannot be drawn.
    """
    count, joint = len(design.meridian), design.joint or 0
    meridian = list(enumerate(design.meridian))
    runs = [
        [(k, _turned(piece)) for k, piece in reversed(meridian[:joint])],
        meridian[joint:],
        [(count + k, piece) for k, piece in enumerate(design.former)],
    ]
    reach = [_reach(run, [other for other in runs if other is not run]) for run in runs]
    for bead in design.beads:
        for k, tip in ((0 if bead.inside else 1, begin(bead.surface[0])), (2, end(bead.surface[-1]))):
            reach[k] = max(reach[k], _beside(runs[k], tip))
    arms = [_split(run, s, turned=k == 0) for k, (run, s) in enumerate(zip(runs, reach, strict=True))]
    cut, owners, ends = _draw(design, arms, grading, under)
    plan = Plan()
    inner = _lay(plan, arms[0], grading, count)
    met = len(plan.front), len(plan.middle[0])
    outer, former = (_lay(plan, arm, grading, count) for arm in arms[1:])
    tips = _join(plan, arms, (inner, outer, former), cut, owners, ends)
    plan.front[met[0] : met[0]] = front_sides(plan, *tips)
    middles = [traced(plan, [piece for _, piece in arm.as_drawn([*arm.near, arm.lead])]) for arm in arms]
    plan.middle[0][met[1] : met[1]] = middles[0] + middles[1]
    plan.middle[1][:0] = middles[2]
    plan.faces["inner"] = [(int(c), 3) for c in inner.cells[0][0]]
    plan.faces["outer"] = [(int(c), 1) for c in outer.cells[-1][-1]]
    plan.faces["joint"] = [(int(c), 3) for c in former.cells[0][0]]  # the wall itself has no face there
    check_radius(plan)
    return plan


def _turned(piece: Piece) -> Piece:
    return Piece(piece.curve.reverse(), piece.zone, piece.wall.reverse(), piece.winding)


def _thickness(piece: Piece) -> float:
    return float(piece.wall.thickness(np.array([0.0, 1.0])).max())


def _points(run: list[Numbered]) -> tuple[Array, Array, Array]:
    """Arc lengths (N,) from the joint, points (N, 2) of the mid-line and thicknesses (N,), as far as is searched."""
    places, points, thick, start = [], [], [], 0.0
    limit = FARTHEST * _thickness(run[0][1])
    for _, piece in run:
        s = np.arange(0.0, piece.curve.length, _thickness(piece) / 8)
        places.append(start + s)
        points.append(piece.curve.point(s))
        thick.append(piece.wall.thickness(s / piece.curve.length))
        start += piece.curve.length
        if start > limit:
            break
    return np.concatenate(places), np.concatenate(points), np.concatenate(thick)


def _reach(run: list[Numbered], others: list[list[Numbered]]) -> float:
    """Arc length from the joint at which a wall lies clear of the others."""
    place, point, thick = _points(run)
    clear = np.ones(len(place), bool)
    for other in others:
        _, at, beside = _points(other)
        gap = np.linalg.norm(point[:, None] - at, axis=2) - (thick[:, None] + beside) / 2
        clear &= (gap > APART * np.minimum(thick[:, None], beside)).all(axis=1)
    if not clear.any():
        raise MeshError(
            f"the walls lie over one another all along '{run[0][1].zone.name}', beside the former; make it longer, or "
            "lead it away from the others"
        )
    first = int(np.argmax(clear))
    return float(place[first] + BESIDE * thick[first])


def _beside(run: list[Numbered], tip: Point) -> float:
    """Arc length from the joint beyond the place on a face where glue ends."""
    place, point, thick = _points(run)
    nearest = int(np.argmin(np.linalg.norm(point - tip, axis=1)))
    return float(place[nearest] + 2 * BESIDE * thick[nearest])


def _split(run: list[Numbered], reach: float, turned: bool) -> Arm:
    """Cut a wall at the end of the joint, away from the ends of its pieces."""
    start = 0.0
    for n, (k, piece) in enumerate(run):
        h, length = _thickness(piece), piece.curve.length
        low = max(reach - start, ROOM * h if n else 0.0)
        high = low + LEAD * h
        if high + ROOM * h <= length:
            near = [*run[:n], (k, _part(piece, 0.0, low))]
            far = [(k, _part(piece, high, length)), *run[n + 1 :]]
            if any(len(x.wall.layers) > 1 for _, x in near):
                raise MeshError(LAYERED)
            return Arm(turned, near, (k, _part(piece, low, high)), far)
        start += length
    name = run[0][1].zone.name
    raise MeshError(f"'{name}' is too short beside the former: it must be longer than {reach * 1e3:.3g} mm")


def _part(piece: Piece, low: float, high: float) -> Piece:
    length = piece.curve.length
    return Piece(piece.curve.part(low, high), piece.zone, piece.wall.part(low / length, high / length), piece.winding)


def _draw(design: Design, arms: list[Arm], grading: Grading, under: bool) -> tuple[Cut, list[int], list[Line]]:
    """The cut union, the piece of each of its patches, and the ends of the three arms, rear to front."""
    inner, outer, former = (arm.as_drawn(arm.near) for arm in arms)
    try:
        drawn = [(inner + outer, _faces(inner + outer)), (former, _faces(former))]
    except DesignError:  # no mitre where they meet: square ends there
        try:
            drawn = [(pieces, _faces(pieces)) for pieces in (inner, outer, former)]
        except DesignError as problem:
            raise MeshError(str(problem)) from problem
    patches, owners = [], []
    for pieces, faces in drawn:
        for n, (k, piece) in enumerate(pieces):
            modulus = piece.wall.layers[0].material.youngs_modulus
            outline = _outline(faces, n)
            if k == len(design.meridian):
                outline = into_wall(design, outline)
            last = under and k >= len(design.meridian)
            patches.append(Patch(outline, _thickness(piece), 0.0 if last else -modulus))
            owners.append(k)
    for n, bead in enumerate(design.beads):
        patches.append(Patch(into_walls(design, bead), bead_section(bead)[0] ** 0.5, np.inf))
        owners.append(len(design.meridian) + len(design.former) + n)
    ends = [drawn[0][1].first, drawn[-2][1].last, drawn[-1][1].last]
    return cut_union(design.name, patches, ends, grading.refine), owners, ends


def _faces(pieces: list[Numbered]) -> Faces:
    return draw_faces([piece for _, piece in pieces])


def _outline(faces: Faces, n: int) -> list[Curve]:
    """The closed outline of one of the pieces whose faces were drawn."""

    def own(parts: tuple[FacePart, ...]) -> list[Curve]:
        return [part.curve for part in parts if part.piece == n]

    rear, front = own(faces.rear), own(faces.front)
    last = Line(end(rear[-1]), end(front[-1]))
    first = Line(begin(front[0]), begin(rear[0]))
    return [*rear, last, *(curve.reverse() for curve in reversed(front)), first]


def _lay(plan: Plan, arm: Arm, grading: Grading, count: int) -> ChainIds:
    """The cells of a wall beyond the joint."""
    pieces = arm.as_drawn(arm.far)
    strips = lay_strips(pieces, max(len(piece.wall.layers) for _, piece in pieces))
    return lay_chain(plan, strips, {}, [], grading, count, False)


def _join(
    plan: Plan, arms: list[Arm], laid: tuple[ChainIds, ...], cut: Cut, owners: list[int], ends: list[Line]
) -> tuple[int, int]:
    """Add the cells of the joint and those that lead to its walls; the points where its front face begins and ends."""
    walls = [laid[0].points[-1][-1], laid[1].points[0][0], laid[2].points[0][0]]
    if any(len(wall) != 2 for wall in walls):
        raise MeshError(LAYERED)
    corners = np.unique(cut.cells[:, :4])
    number = np.full(len(cut.points), -1)
    number[corners] = plan.add_points(cut.points[corners])
    cells: list[Corners] = [tuple(number[row[:4]].tolist()) for row in cut.cells]
    pieces = [owners[p] for p in cut.patch]
    middle = {}
    for row in cut.cells:
        for a, b, m in zip(row[:4], np.roll(row[:4], -1), row[4:8], strict=True):
            middle[frozenset((int(number[a]), int(number[b])))] = cut.points[m]
    for arm, wall, line in zip(arms, walls, ends, strict=True):
        rear, half, front = (
            _nearest(plan, number[corners], place) for place in line.point(line.length * np.array([0.0, 0.5, 1.0]))
        )
        beyond = _hollow(plan, cells, half, (rear, front))
        for other in (rear, front, beyond):
            del middle[frozenset((half, other))]  # straight
        cells += _lead(plan, arm, (int(wall[0]), int(wall[1])), (rear, half, front), middle)
        pieces += [arm.lead[0]] * 2
    given = [(int(wall[0]), int(wall[1])) for wall in walls]
    first = len(plan.cells)
    for cell, piece in zip(oriented(cells, given), pieces, strict=True):
        for i, k in SIDES:
            plan.add_edge(cell[i], cell[k], middle.get(frozenset((cell[i], cell[k]))))
        plan.add_cell(cell, piece, 0, False)
    plan.united = range(first, len(plan.cells))
    return int(walls[0][1]), int(walls[1][1])


def _nearest(plan: Plan, among: Index, point: Array) -> int:
    places = np.array([plan.points[i] for i in among])
    apart = np.linalg.norm(places - point, axis=1)
    if apart.min() > 1e-8:
        raise MeshError("the end of a joint was cut otherwise than its wall")
    return int(among[np.argmin(apart)])


def _hollow(plan: Plan, cells: list[Corners], half: int, beside: tuple[int, int]) -> int:
    """Move the middle of an end, from which two sides lead off in line, into the joint; the point it moves towards."""
    around = {cell[(cell.index(half) + k) % 4] for cell in cells if half in cell for k in (1, 3)} - set(beside)
    if len(around) != 1:
        raise MeshError("the end of a joint was cut otherwise than its wall")
    beyond = around.pop()
    plan.points[half] = plan.points[half] + HOLLOW * (plan.points[beyond] - plan.points[half])
    return beyond


def _lead(
    plan: Plan, arm: Arm, wall: Edge, cut: tuple[int, int, int], middle: dict[frozenset[int], Array]
) -> list[Corners]:
    """Two cells between the side of a wall (rear, front) and the two sides of a cut end (rear, half, front)."""
    _, piece = arm.as_drawn([arm.lead])[0]
    length = piece.curve.length

    def face(fraction: float, side: int) -> Array:
        off = side * float(piece.wall.thickness(fraction)) / 2
        s = fraction * length
        return np.asarray(piece.curve.point(s) + off * normal(piece.curve.tangent(s)))

    tip = int(plan.add_points(face(0.5, 1)[None])[0])
    to_wall = 0.25 if arm.turned else 0.75
    middle[frozenset((cut[0], wall[0]))] = face(0.5, -1)
    middle[frozenset((tip, wall[1]))] = face(to_wall, 1)
    middle[frozenset((tip, cut[2]))] = face(1 - to_wall, 1)
    cells = [(cut[0], wall[0], wall[1], tip), (cut[0], tip, cut[2], cut[1])]
    if arm.turned:
        cells = [(a, d, c, b) for a, b, c, d in cells]
    return cells
