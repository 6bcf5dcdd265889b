"""What sticks to a wall, the former's top and beads of glue, as faces for gmsh's kernel: they reach into the wall and
are cut by it. Of faces that merely touch along curves the kernel makes slivers."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from diaphragm_fem.design.design import Bead, Design
from diaphragm_fem.design.meridian.curve import Curve, Line, normal
from diaphragm_fem.design.meridian.outline import Point, backward, begin, end

STEEPEST = 3.0  # of half the former's thickness: so far up it does not reach for a wall that leaves it steeply, and
# from half of that on less and less: where it fell back at once, yields jumped by .4 of the walls'
DEPTH = 0.3  # of the thinnest wall there, that a bead reaches into it
SAG = 0.3  # of that depth, by which a chord may fall short of it


def top_corners(design: Design) -> list[Point]:
    """Outer and inner corner of the former's top, in the middle of the wall above where that lies near, and between
    them the joint where that lies above the former."""
    joint, former = design.joint or 0, design.former[0]
    place = begin(design.meridian[joint].curve) if joint < len(design.meridian) else end(design.meridian[-1].curve)
    (middle, top), half = begin(former.curve), float(former.wall.thickness(np.array(0.0))) / 2

    def corner(r: float) -> Point:
        way = 1 if r >= place[0] else -1
        for piece in design.meridian[joint:] if way > 0 else design.meridian[:joint][::-1]:
            s = np.linspace(0.0, piece.curve.length, 2 if isinstance(piece.curve, Line) else 33)
            points = piece.curve.point(s)[::way]
            beyond = np.flatnonzero((points[:, 0] - r) * way >= 0)
            if len(beyond):
                k = max(int(beyond[0]), 1)
                (a, z_a), (b, z_b) = points[k - 1], points[k]
                z = float(z_a + (z_b - z_a) * (r - a) / (b - a)) if b != a else float(z_a)  # upright on the corner
                rise = abs(z - top)
                return r, top + float(np.copysign(max(min(rise, STEEPEST * half - rise), 0.0), z - top))
        return r, top

    between = [place] if abs(place[0] - middle) < half else []
    return [corner(middle + half), *between, corner(middle - half)]


def into_wall(design: Design, outline: Sequence[Curve]) -> list[Curve]:
    """The outline of the former's first piece, which begins with its inner and ends with its top face, the top along
    the middle of the wall where that lies near."""
    inner, low, outer, _ = outline
    corners = top_corners(design)
    sides = [Line(a, b) for a, b in pairwise(corners)]
    return [Line(corners[-1], end(inner)), low, Line(begin(outer), corners[0]), *sides]


def into_walls(design: Design, bead: Bead) -> list[Curve]:
    """The closed outline of a bead that reaches into its walls, run like those of `draw_faces`: of faces that look
    either way the kernel makes no whole."""
    joint, (r, _) = design.joint or 0, begin(design.former[0].curve)
    walls = [*design.meridian[max(joint - 1, 0) : joint + 1], design.former[0]]
    deep = DEPTH * min(float(piece.wall.thickness(0.5)) for piece in walls)
    high, low = begin(bead.surface[0]), end(bead.surface[-1])
    inner = low[0] + (r - low[0]) * DEPTH
    faces = bead.faces[1:]
    path = [low, (inner, low[1]), (inner, begin(faces[0])[1] + deep)]
    for k, curve in enumerate(faces):
        bend = float(np.abs(curve.curvature(curve.length / 2)))
        count = 1 + int(curve.length * np.sqrt(bend / (8 * SAG * deep)))
        s = np.linspace(0.0, curve.length, count + 1)[1:]
        point, inward = curve.point(s), (-1 if bead.inside else 1) * normal(curve.tangent(s))
        if k + 1 < len(faces):  # to the bisector of a corner
            after = (-1 if bead.inside else 1) * normal(faces[k + 1].tangent(0.0))
            inward[-1] = (inward[-1] + after) / max(1 + inward[-1] @ after, 0.5)
        path += [(float(x), float(z)) for x, z in point + deep * inward]
    sides = [Line(a, b) for a, b in pairwise([*path, high])]
    outline = [*bead.surface, *(line for line in sides if line.length > 1e-9)]
    return outline if bead.inside else backward(outline)
