"""The wall section cut into curved quadrilaterals of second order.

Walls are laid out in cells by themselves; where a coil former meets walls that offer it no face to hang from, the joint
is drawn as the union of the pieces and cut by gmsh (`mesh/knot.py`). A former at an edge of the meridian is one wall
with it that goes on round the corner.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from math import inf
from typing import TYPE_CHECKING

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.foot import crossing
from diaphragm_fem.design.meridian.outline import begin, direction, end
from diaphragm_fem.design.units.units import show, show_place
from diaphragm_fem.errors import HERE, MeshError
from diaphragm_fem.mesh.branch import hang_former
from diaphragm_fem.mesh.chain import lay_chain, name_faces
from diaphragm_fem.mesh.corners import refine_corners
from diaphragm_fem.mesh.former_top import top_of_former
from diaphragm_fem.mesh.knot import tie_knot
from diaphragm_fem.mesh.knot_arms import Numbered, turned
from diaphragm_fem.mesh.meridian import SAME_POINT
from diaphragm_fem.mesh.section_plan import FLATTEST, Plan, check_radius, flatness, quadrilaterals
from diaphragm_fem.mesh.section_size import Grading
from diaphragm_fem.mesh.strip_ends import lay_strips

if TYPE_CHECKING:
    from skfem import MeshQuad2

STEEPEST = 0.2  # cosine between a wall and the radius: a steeper one does not run on to the former


@dataclass(frozen=True)
class Section:
    """A meshed wall section.

    points (2, N) in m, corners first; cells (9, n): corners counterclockwise, the middles of the sides they bound in
    order (rear, end, front, begin) and the centre. The plan says what each cell, side and stretch of mid-surface is.
    """

    design: Design
    plan: Plan
    points: Array
    cells: Index

    @cached_property
    def mesh(self) -> MeshQuad2:
        """The scikit-fem mesh, cells and their first corners in the same order."""
        from skfem import Dofs, ElementQuad2, MeshQuad1, MeshQuad2

        vertices = np.ascontiguousarray(self.points[:, : len(self.plan.points)])
        corners = MeshQuad1(vertices, np.ascontiguousarray(self.cells[:4]), sort_t=False, validate=False)
        numbers = Dofs(corners, ElementQuad2()).element_dofs
        places = np.empty((2, int(numbers.max()) + 1))
        places[:, numbers] = self.points[:, self.cells]
        return MeshQuad2(places, corners.t, sort_t=False, validate=False)

    @cached_property
    def zone_of_cell(self) -> Index:
        """Index into design.zones."""
        order = {zone: i for i, zone in enumerate(self.design.zones)}
        zones = [piece.zone for piece in self.design.pieces] + [bead.zone for bead in self.design.beads]
        return np.array([order[zone] for zone in zones])[self.plan.piece]

    @cached_property
    def material_of_cell(self) -> Index:
        """Index into design.materials."""
        order = {material: i for i, material in enumerate(self.design.materials)}
        layers = [[order[layer.material] for layer in piece.wall.layers] for piece in self.design.pieces]
        layers += [[order[bead.material]] for bead in self.design.beads]
        return np.array([layers[p][k] for p, k in zip(self.plan.piece, self.plan.layer, strict=True)])


def mesh_section(design: Design, up_to_hz: float = 20e3, grading: Grading | None = None) -> Section:
    """Cut a design's wall for frequencies up to `up_to_hz`; a `grading` of one's own overrides the sizes.

    Raises MeshError where the wall cannot be cut, or gmsh is needed and cannot be loaded.
    """
    grading = grading or Grading(up_to_hz=up_to_hz)
    section, under = lay_section(design, grading)
    if section:
        return section
    plan = tie_knot(design, grading, under)
    refine_corners(plan, grading.levels)
    return _checked(design, plan)


def lay_section(design: Design, grading: Grading) -> tuple[Section | None, bool]:
    """The section of walls that are laid out by themselves; nothing where their joint is drawn as a union, then whether
    the former ends `under` rear faces. Raises MeshError where neither can be."""
    plan = None
    try:
        plan = plan_section(design, grading)
        hung = _checked(design, plan)
        if not design.beads:
            return hung, True
    except MeshError:
        if not hangs(design):
            raise
    if not hangs(design):
        raise MeshError("glue at a former is drawn where the wall goes on to both sides of it; leave coil.fillet out")
    # a former that finds rear faces ends there, too, where only its cells would be flat: a mode would jump by 1 %
    return None, plan is not None


def _checked(design: Design, plan: Plan) -> Section:
    points, cells = quadrilaterals(plan)
    _check_jacobian(points, cells, plan, design)
    return Section(design, plan, points, cells)


def hangs(design: Design) -> bool:
    """Whether a former is joined within the meridian, not at one of its ends."""
    return bool(design.former) and design.joint is not None and 0 < design.joint < len(design.meridian)


def reach_of_top(design: Design) -> float | None:
    """How far a former's top reaches from its middle, in thicknesses of the former: beyond 0.5 + OVER its joint is
    drawn as a union. None where it could not hang however far it reached."""
    if not hangs(design) or design.beads:
        return None
    try:
        strips, former = (lay_strips(pieces) for pieces in chain_and_former(design))
        return top_of_former(design, strips, former, widest=inf).aside
    except MeshError:
        return None


def plan_section(design: Design, grading: Grading) -> Plan:
    """Lay a design's wall out in cells.

    A former joined within the meridian hangs from the rear face (see `hang_former`); one that is joined at an end of
    the meridian carries the wall on round the corner. Layers become rows, one cell each; a wall with fewer layers than
    another has its thickest layers split.

    Raises MeshError where walls cannot be laid (see `lay_strips`, `hang_former`).
    """
    chain, former = chain_and_former(design)
    strips = lay_strips(chain)
    plan = Plan()
    if hangs(design):
        branch = lay_strips(former)
        top = top_of_former(design, strips, branch)
        ids = lay_chain(plan, strips, top.breaks, top.seeds, grading, len(design.meridian), False)
        hang_former(plan, top, ids, grading)
    else:
        ids = lay_chain(plan, strips, {}, [], grading, len(design.meridian), bool(former) and design.joint == 0)
    name_faces(plan, design, ids)
    refine_corners(plan, grading.levels)
    check_radius(plan)
    return plan


def _check_jacobian(points: Array, cells: Index, plan: Plan, design: Design) -> None:
    flat = flatness(points, cells)
    worst = int(np.argmin(flat))
    if flat[worst] < FLATTEST:
        pieces = (*design.pieces, *design.former[:1] * len(design.beads))
        piece = pieces[plan.piece[worst]]
        thickness = float(piece.wall.thickness(0.5))
        raise MeshError(
            f"a cell of zone '{piece.zone.name}'{HERE} turns inside out; give the corner there a radius of at least "
            f"{show(2 * thickness)} or make the wall thinner than {show(thickness)}",
            f" near {show_place(points[:, cells[8, worst]])}",
        )


def chain_and_former(design: Design) -> tuple[list[Numbered], list[Numbered]]:
    """The pieces of the meridian, carried on by a former at its end, and those of the former, all numbered.

    A former beside the drive circle is met by the wall in its middle: the wall ends there, or runs on as it comes.
    Raises MeshError where a wall falls too steeply to reach a former beside it.
    """
    every, count = list(enumerate(design.pieces)), len(design.meridian)
    meridian, former = every[:count], every[count:]
    if former and design.joint == count:
        run, hung = _met(meridian, former)
        return [*run, *hung], former
    if former and design.joint == 0:
        run, hung = _met(turned(meridian), former)
        return [*turned(hung), *turned(run)], former
    return meridian, former


def _met(run: list[Numbered], former: list[Numbered]) -> tuple[list[Numbered], list[Numbered]]:
    """A run of wall that ends at the drive circle, and the former, until they meet."""
    (k, last), (n, first) = run[-1], former[0]
    place, top = end(last.curve), begin(first.curve)
    gap = top[0] - place[0]
    if np.hypot(gap, top[1] - place[1]) < SAME_POINT:
        return run, former
    length = last.curve.length
    back = gap * direction(last.curve, length)[0] < 0
    low, high = (0.0, length) if back else (length, length + abs(gap) / STEEPEST)
    met = crossing(last.curve, length, first.curve, 0.0) if back or isinstance(last.curve, Line | Arc) else None
    if met is None or not low <= met[0] <= high:
        raise MeshError(
            f"'{last.zone.name}' is too steep or too short to meet a former beside the drive circle at an edge; leave "
            "coil.side out"
        )
    wall = last.part(0.0, met[0])
    return [*run[:-1], (k, wall)], [(n, replace(first, curve=Line(end(wall.curve), end(first.curve)))), *former[1:]]
