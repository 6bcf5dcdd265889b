"""The three-way joint as the union of its pieces, for formers that find no face of the wall to hang from.

Within a few thicknesses of the joint the pieces are drawn as they are, with square ends and mitred corners (see
`draw_faces`), and united: a surround that rolls down along the former lies over it, a steep dome meets it beside its
middle. Where they overlap the stiffer material fills. Beyond, each wall goes on in cells of its own (`lay_chain`); two
cells lead from the two sides of a cut end to the one side of a wall.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from itertools import pairwise

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.drawing.faces import Faces, draw_faces
from diaphragm_fem.design.glued.bead import bead_section
from diaphragm_fem.design.meridian.curve import Line, normal
from diaphragm_fem.design.meridian.outline import begin, end
from diaphragm_fem.errors import DesignError, MeshError
from diaphragm_fem.mesh.chain import ChainIds, lay_chain
from diaphragm_fem.mesh.glued import into_wall, into_walls, top_corners
from diaphragm_fem.mesh.knot_arms import Arm, Numbered, reach_beside, reach_of, runs_of, split
from diaphragm_fem.mesh.knot_layers import layer_outlines
from diaphragm_fem.mesh.knot_lines import front_sides, traced
from diaphragm_fem.mesh.orientation import Corners, Edge, oriented
from diaphragm_fem.mesh.rows import layers_of_rows, row_thickness, rows_of
from diaphragm_fem.mesh.section_plan import Plan, check_radius
from diaphragm_fem.mesh.section_size import Grading
from diaphragm_fem.mesh.strip import lay_strips
from diaphragm_fem.mesh.tips import cut_off_tips
from diaphragm_fem.mesh.union import UnionCells, UnionPiece, cut_union

MOST_ROWS = 2  # of an arm: see `_lead`
MOST_UNEQUAL = 300.0  # thickness over thickness: cells of a film on a block would be without number
CUT_OTHERWISE = (
    "where the walls meet at the former, cells of the solid do not fit those of a wall that leads on from there; "
    "another length of overlap, or another thickness there, may do"
)
HOLLOW = 0.35  # of the way to the next point, that the middle of an end is moved into the joint


def tie_knot(design: Design, grading: Grading, under: bool = False) -> Plan:
    """The plan of a section whose former is joined within the meridian; `under` walls whose rear faces it could hang
    from, it ends at these.

    Raises MeshError where walls near the joint are too short or too unequal, or their faces cannot be drawn.
    """
    arms, rows = _arms(design)
    cut, owners, ends = _draw(design, arms, rows, under, partial(cut_union, finer=grading.refine))
    count, plan = len(design.meridian), Plan()
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


def cut_in_triangles(design: Design, under: bool = False) -> tuple[UnionCells, list[tuple[int, int]]]:
    """The same joint in triangles, of walls that end before long, to their ends; piece and layer of each patch.
    MeshError as above."""
    _arms(design)  # what the solid's section cannot be cut for has no patch either
    whole = [Arm(k == 0, run, run[-1], []) for k, run in enumerate(runs_of(design))]

    def cut(name: str, patches: list[UnionPiece], ends: list[Line]) -> UnionCells:
        return cut_off_tips(cut_union(name, patches, ends, corners=3), ends)

    found, owners, _ = _draw(design, whole, [[], [], []], under, cut)
    return found, owners


def _arms(design: Design) -> tuple[list[Arm], list[list[float]]]:
    """The inner and the outer wall and the former, each as it leaves the joint, and the `_rows` of each."""
    walls = [piece.wall.thickness(np.array([0.0, 1.0])) for piece in (*design.meridian, *design.former)]
    thin, thick = np.min(walls), np.max(walls)
    if thick > MOST_UNEQUAL * thin:
        raise MeshError(
            f"walls of {1e6 * thick:.3g} and {1e6 * thin:.3g} um cannot be cut in one piece beside the former: make "
            f"the thick at most {MOST_UNEQUAL:g} times as thick as the thin"
        )
    runs = runs_of(design)
    reach = [reach_of(run, [other for other in runs if other is not run]) for run in runs]
    if len(design.former[0].wall.layers) == 1:
        for k, tip in zip((1, 0), (corners := top_corners(design))[:: len(corners) - 1], strict=True):
            reach[k] = max(reach[k], reach_beside(runs[k], tip, 1.0))
    for bead in design.beads:
        for k, tip in ((0 if bead.inside else 1, begin(bead.surface[0])), (2, end(bead.surface[-1]))):
            reach[k] = max(reach[k], reach_beside(runs[k], tip, 2.0))
    arms = [split(run, s, turned=k == 0) for k, (run, s) in enumerate(zip(runs, reach, strict=True))]
    rows = [_rows(arm) for arm in arms]
    if (most := 1 + max(map(len, rows))) > MOST_ROWS:
        raise MeshError(
            f"walls with {most} layers, with what is glued on, meet at the former, and at most {MOST_ROWS} can be cut "
            "in one piece there: leave some out, or the overlap, collar or glue beside the former"
        )
    return arms, rows


def _draw(
    design: Design, arms: list[Arm], rows: list[list[float]], under: bool,
    cut: Callable[[str, list[UnionPiece], list[Line]], UnionCells],
) -> tuple[UnionCells, list[tuple[int, int]], list[list[Line]]]:  # fmt: skip
    """The cut union, piece and layer of each of its patches, and the ends of the three arms row by row, rear to front;
    `rows` are the shares of the thickness where the rows of an arm's wall meet."""
    inner, outer, former = (arm.as_drawn(arm.near) for arm in arms)
    try:
        drawn = [(inner + outer, _faces(inner + outer)), (former, _faces(former))]
    except DesignError:  # no mitre where they meet: square ends there
        try:
            drawn = [(pieces, _faces(pieces)) for pieces in (inner, outer, former)]
        except DesignError as problem:
            raise MeshError(*problem.told) from problem
    patches, owners = [], list[tuple[int, int]]()
    first, last = arms[0].near[-1][0], [arm.near[-1][0] for arm in arms[1:]]
    for pieces, faces in drawn:
        for n, (k, piece) in enumerate(pieces):
            begins = rows[0] if k == first and n == 0 else []
            stops = rows[1 + last.index(k)] if k in last and n == len(pieces) - 1 else []
            for layer, outline in enumerate(layer_outlines(faces, n, piece, begins, stops)):
                if k == len(design.meridian) and len(piece.wall.layers) == 1:
                    outline = into_wall(design, outline)
                modulus = piece.wall.layers[layer].material.youngs_modulus
                thick = float(piece.wall.layers[layer].thickness(np.array([0.0, 1.0])).max())
                below = under and k >= len(design.meridian)
                patches.append(UnionPiece(outline, thick, modulus, 0.0 if below else -modulus))
                owners.append((k, layer))
    for n, bead in enumerate(design.beads):
        thick, modulus = bead_section(bead)[0] ** 0.5, bead.material.youngs_modulus
        patches.append(UnionPiece(into_walls(design, bead), thick, modulus, np.inf))
        owners.append((len(design.meridian) + len(design.former) + n, 0))
    across = (drawn[0][1].first, drawn[-2][1].last, drawn[-1][1].last)
    ends = [
        [line.part(a * line.length, b * line.length) for a, b in pairwise([0.0, *own, 1.0])]
        for line, own in zip(across, rows, strict=True)
    ]
    return cut(design.name, patches, [x for end_ in ends for x in end_]), owners, ends


def _faces(pieces: list[Numbered]) -> Faces:
    return draw_faces([piece for _, piece in pieces])


def _lay(plan: Plan, arm: Arm, grading: Grading, count: int) -> ChainIds:
    """The cells of a wall beyond the joint."""
    pieces = arm.as_drawn(arm.far)
    strips = lay_strips(pieces)
    return lay_chain(plan, strips, {}, [], grading, count, False)


def _rows(arm: Arm) -> list[float]:
    """Shares of the thickness at the end of the joint where the rows of the wall beyond meet."""
    (_, near), (_, lead) = arm.near[-1], arm.lead
    thick = row_thickness(near.wall, layers_of_rows(lead.wall, _count(arm)), np.array(1.0))
    shares = [float(x) for x in np.cumsum(thick)[:-1] / thick.sum()]
    return [1 - x for x in reversed(shares)] if arm.turned else shares


def _count(arm: Arm) -> int:
    """Rows of the wall beyond, where it begins."""
    return rows_of([piece for _, piece in arm.as_drawn(arm.far)])[-1 if arm.turned else 0]


def _join(
    plan: Plan, arms: list[Arm], laid: tuple[ChainIds, ...], cut: UnionCells, owners: list[tuple[int, int]],
    ends: list[list[Line]],
) -> tuple[int, int]:  # fmt: skip
    """Add the cells of the joint and those that lead to its walls; the points where its front face begins and ends."""
    walls = [laid[0].points[-1][-1], laid[1].points[0][0], laid[2].points[0][0]]
    beyond_ = [laid[0].strips[-1], laid[1].strips[0], laid[2].strips[0]]
    corners = np.unique(cut.cells[:, :4])
    number = np.full(len(cut.points), -1)
    number[corners] = plan.add_points(cut.points[corners])
    whole = number[cut.cells[:, :4]]
    cells: list[Corners] = [(a, b, c, d) for a, b, c, d in whole.tolist()]
    pieces = [owners[p] for p in cut.patch]
    sides = np.stack((whole, np.roll(whole, -1, axis=1)), axis=2).reshape(-1, 2).tolist()
    middle = dict(zip(map(frozenset, sides), cut.points[cut.cells[:, 4:8].ravel()], strict=True))
    given: list[Edge] = []
    ends_at: set[int] = set()
    for arm, wall, lines, strip in zip(arms, walls, ends, beyond_, strict=True):
        if len(wall) != len(lines) + 1:
            raise MeshError(CUT_OTHERWISE)
        tip = -1
        for j, (line, side) in enumerate(zip(lines, pairwise(wall.tolist()), strict=True)):
            rear, half, front = (
                _nearest(cut.points[corners], number[corners], place)
                for place in line.point(line.length * np.array([0.0, 0.5, 1.0]))
            )
            beyond = _hollow(plan, cells, half, (rear, front))
            for other in (rear, front, beyond):
                del middle[frozenset((half, other))]  # straight
            new, tip = _lead(plan, arm, (j, tip), side, (rear, half, front), middle)
            cells += new
            pieces += [(arm.lead[0], strip.layers[j][0])] * 2
            given.append(side)
            ends_at |= {rear, half, front}
    plan.singular += sorted(set(number[cut.singular].tolist()) - ends_at)
    first = len(plan.cells)
    for cell, (piece, layer) in zip(oriented(cells, given), pieces, strict=True):
        plan.add_sides(cell, middle)
        plan.add_cell(cell, piece, layer, False)
    plan.united = list(range(first, len(plan.cells)))
    return int(walls[0][-1]), int(walls[1][-1])


def _nearest(places: Array, number: Index, point: Array) -> int:
    apart = np.linalg.norm(places - point, axis=1)
    if apart.min() > 1e-8:
        raise MeshError(CUT_OTHERWISE)
    return int(number[np.argmin(apart)])


def _hollow(plan: Plan, cells: list[Corners], half: int, beside: tuple[int, int]) -> int:
    """Move the middle of an end, from which two sides lead off in line, into the joint; the point it moves towards."""
    around = {cell[(cell.index(half) + k) % 4] for cell in cells if half in cell for k in (1, 3)} - set(beside)
    if len(around) != 1:
        raise MeshError(CUT_OTHERWISE)
    beyond = around.pop()
    plan.points[half] = plan.points[half] + HOLLOW * (plan.points[beyond] - plan.points[half])
    return beyond


def _lead(
    plan: Plan,
    arm: Arm,
    row: tuple[int, int],
    wall: Edge,
    cut: tuple[int, int, int],
    middle: dict[frozenset[int], Array],
) -> tuple[list[Corners], int]:
    """Two cells between the side of a row of a wall (rear, front) and the two sides of a cut end (rear, half, front),
    and the point between them on one border of the row: the front one of the first row and every second one, the rear
    one of those between, which they share. row: its number, and the point of the row before.

    So a row's direction is that of the half side beside that border. Rows of parallel sides run around the points of
    the end, from the half of one side away from a point to that of the next: around the second such point they would
    join two halves that are given, against each other, however the joint is cut. Hence `MOST_ROWS`.
    """
    _, piece = arm.as_drawn([arm.lead])[0]
    length, (number, tip) = piece.curve.length, row
    own = layers_of_rows(piece.wall, _count(arm))

    def face(fraction: float, border: int) -> Array:
        thick = row_thickness(piece.wall, own, np.array(fraction))
        off = float(thick[: number + border].sum() + piece.wall.rear(fraction))
        s = fraction * length
        return np.asarray(piece.curve.point(s) + off * normal(piece.curve.tangent(s)))

    up = number % 2 == 0
    near, far = (1, 0) if up else (0, 1)  # the border with the point on it, and the other
    if up:
        tip = int(plan.add_points(face(0.5, near)[None])[0])
    ends = cut[0], cut[2]
    to_wall = 0.25 if arm.turned else 0.75
    middle[frozenset((ends[far], wall[far]))] = face(0.5, far)
    middle[frozenset((tip, wall[near]))] = face(to_wall, near)
    middle[frozenset((tip, ends[near]))] = face(1 - to_wall, near)
    cells: list[Corners] = [(ends[far], wall[far], wall[near], tip), (ends[far], tip, ends[near], cut[1])]
    if arm.turned == up:  # counterclockwise
        cells = [(a, d, c, b) for a, b, c, d in cells]
    return cells, tip
