"""The three-way joint as the union of its pieces, for formers that find no face of the wall to hang from.

Within a few thicknesses of the joint the pieces are drawn as they are, with square ends and mitred corners (see
`draw_faces`), and united: a surround that rolls down along the former lies over it, a steep dome meets it beside its
middle. Where they overlap the stiffer material fills. Beyond, each wall goes on in cells of its own (`lay_chain`); two
cells lead from the two sides of a cut end to the one side of a wall.
"""

from collections.abc import Callable
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.drawing.faces import Faces, draw_faces, offset_curve
from diaphragm_fem.design.glued.bead import bead_section
from diaphragm_fem.design.meridian.curve import Curve, Line
from diaphragm_fem.design.meridian.foot import crossing
from diaphragm_fem.design.meridian.outline import backward, begin, end
from diaphragm_fem.design.meridian.wall import Layer, Wall
from diaphragm_fem.errors import DesignError, MeshError
from diaphragm_fem.mesh.chain import ChainIds, lay_chain
from diaphragm_fem.mesh.glued import into_wall, into_walls, top_corners
from diaphragm_fem.mesh.knot_arms import Arm, Numbered, reach_beside, reach_of, runs_of, split
from diaphragm_fem.mesh.knot_join import join, rows_of_arm
from diaphragm_fem.mesh.knot_lines import front_sides, middle_of
from diaphragm_fem.mesh.rows import row_thickness
from diaphragm_fem.mesh.section_plan import Plan, check_radius
from diaphragm_fem.mesh.section_size import Grading
from diaphragm_fem.mesh.strip_ends import lay_strips
from diaphragm_fem.mesh.tips import cut_off_tips
from diaphragm_fem.mesh.union import UnionCells, UnionPiece, cut_union

MOST_ROWS = 2  # of an arm: see `_lead`
MOST_UNEQUAL = 300.0  # thickness over thickness: cells of a film on a block would be without number
SAME = 1e-9  # of a wall's thickness


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
    tips = join(plan, arms, (inner, outer, former), cut, owners, ends)
    plan.front[met[0] : met[0]] = front_sides(plan, *tips)
    middles = [middle_of(plan, [piece for _, piece in arm.as_drawn([*arm.near, arm.lead])]) for arm in arms]
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
    return lay_chain(plan, lay_strips(arm.as_drawn(arm.far)), {}, [], grading, count, False)


def _rows(arm: Arm) -> list[float]:
    """Shares of the thickness at the end of the joint where the rows of the wall beyond meet."""
    _, near = arm.as_drawn(arm.near[-1:])[0]
    thick = row_thickness(near.wall, rows_of_arm(arm), np.array(0.0 if arm.turned else 1.0))
    return [float(x) for x in np.cumsum(thick)[:-1] / thick.sum()]


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
