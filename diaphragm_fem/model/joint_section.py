"""The section of a joint's patch: stretches of the walls that meet there, drawn and cut as the solid draws them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from math import cos, pi, remainder, sin, tan
from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import reverse_cuthill_mckee

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.bead import lay_beads
from diaphragm_fem.design.curve import Arc, Curve, Line
from diaphragm_fem.design.design import Bead, Design, Piece
from diaphragm_fem.design.edge import CLAMPED, FREE
from diaphragm_fem.design.material import LossFactor, Material
from diaphragm_fem.design.wall import Layer, Wall
from diaphragm_fem.design.zone import Zone
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.section import Section, mesh_section, plan_section
from diaphragm_fem.mesh.section_plan import quadrilaterals
from diaphragm_fem.mesh.section_size import Grading
from diaphragm_fem.model.solid_shapes import SIDE_CORNERS, Orders, Shapes

LEAST_SLOPE = 0.27  # of a fillet in an acute corner: 3.7 radii, beyond which none is drawn
ARM = 3.0  # own thicknesses that an arm runs on beyond its bend and its neighbours
LONGER = (1.0, 2.0, 4.0)  # times that, tried in turn where a former meets walls at a sharp angle
GRADING = Grading(up_to_hz=1e-3, corner=0.5, growth=1.9)  # flat and slow: only the corners decide
ORDERS, UNITED_ORDERS = Orders(5, 5, 5), Orders(3, 3, 3)  # the second where a union was cut into many small cells
FAR_OUT = 1.0  # metres from the axis, where a patch is drawn; it is solved flat
MOST_CELLS = 3_000  # 1 s and 0.3 GB; some dozens are usual, of a union some hundreds
NO_LOSS = LossFactor((0.0,))


class Ply(NamedTuple):
    """A layer of an arm: thickness in m, Young's modulus in Pa, Poisson ratio."""

    thickness: float
    youngs_modulus: float
    poisson_ratio: float


@dataclass(frozen=True)
class Arm:
    """One wall that meets a joint, seen from it.

    direction in radians (0 outward, pi/2 up); thickness in m; youngs_modulus in Pa; poisson_ratio. It may begin with a
    bend of `curvature` d(direction)/ds in 1/m over the length `bend` in m; then it runs straight. A laminate has its
    `layers` from the right hand to the left, and as its own values the sum of thicknesses and the averages over it.
    """

    direction: float
    thickness: float
    youngs_modulus: float
    poisson_ratio: float
    curvature: float = 0.0
    bend: float = 0.0
    layers: tuple[Ply, ...] = ()

    @property
    def plies(self) -> tuple[Ply, ...]:
        return self.layers or (Ply(self.thickness, self.youngs_modulus, self.poisson_ratio),)

    def place(self, s: float) -> tuple[Array, float]:
        """Point (2,) in m from the joint, and direction, at arc length s."""
        x = min(s, self.bend)
        half = self.curvature * x / 2
        angle = self.direction + 2 * half
        chord = x * (sin(half) / half if half else 1.0)
        return chord * unit(self.direction + half) + (s - x) * unit(angle), angle

    @property
    def plane_modulus(self) -> float:
        return self.youngs_modulus / (1 - self.poisson_ratio**2)

    @property
    def shear_modulus(self) -> float:
        return self.youngs_modulus / (2 * (1 + self.poisson_ratio))


def arm_of(direction: float, plies: tuple[Ply, ...], curvature: float, bend: float) -> Arm:
    """The arm of a wall of some layers."""
    if len(plies) == 1:
        return Arm(direction, *plies[0], curvature, bend)
    h = sum(ply.thickness for ply in plies)
    modulus, nu = (sum(ply.thickness * ply[n] for ply in plies) / h for n in (1, 2))
    return Arm(direction, h, modulus, nu, curvature, bend, plies)


class Glue(NamedTuple):
    """A fillet at the last arm: on the side of the first arm where inside; radius in m, Young's modulus in Pa."""

    inside: bool
    radius: float
    youngs_modulus: float
    poisson_ratio: float


@dataclass(frozen=True)
class Kind:
    """A kind of joint: two arms end to end; three, the last a former that hangs from the rear face of the first two,
    which run on through the joint in this order; or one, whose end face is held. Glue counts as the former's, which
    then points down."""

    arms: tuple[Arm, ...]
    glue: tuple[Glue, ...] = ()
    longer: float = 1.0

    @property
    def held(self) -> bool:
        return len(self.arms) == 1

    @property
    def parts(self) -> tuple[int, ...]:
        """The arm of every layer, all layers of all arms in order."""
        return tuple(k for k, arm in enumerate(self.arms) for _ in arm.plies)

    def reach(self, arm: Arm) -> float:
        """Length of an arm in m: its bend or half its thickest neighbour, and enough of its own thicknesses."""
        glued = max((self.leg(arm, glue) for glue in self.glue), default=0.0)
        beside = max(arm.bend, max(other.thickness for other in self.arms) / 2)
        return beside + self.longer * ARM * arm.thickness + glued

    def leg(self, arm: Arm, glue: Glue) -> float:
        """How far in m a fillet reaches along an arm, about: as in a straight corner; nothing on the other side."""
        walls = (self.arms[0 if glue.inside else 1], self.arms[-1])
        if arm not in walls:
            return 0.0
        half = abs(remainder(walls[0].direction - walls[1].direction, 2 * pi)) / 2
        return glue.radius / max(tan(half), LEAST_SLOPE)

    def transport(self, components: int) -> Array:
        """Loads (A, N, L) of each arm, N components each, from the independent ones; the last arm balances."""
        if self.held:
            return np.eye(components)[None]
        free = len(self.arms) - 1
        each = np.zeros((free + 1, components, components * free))
        for a in range(free):
            each[a, :, components * a : components * (a + 1)] = np.eye(components)
        each[free] = -each[:free].sum(axis=0)
        return each


@dataclass(frozen=True, eq=False)
class Patch:
    """A kind with its cut section."""

    kind: Kind
    section: Section

    @cached_property
    def shapes(self) -> Shapes:
        return Shapes(self.section, UNITED_ORDERS if self.section.plan.united else ORDERS)

    @cached_property
    def nodes(self) -> Index:
        """(K, B) of the cells' sides."""
        return self.shapes.nodes[:, : -self.shapes.inside]

    @cached_property
    def place(self) -> Index:
        """Place (N,) of each node in an order of elimination that keeps bands narrow."""
        shape, starts = (len(self.nodes), self.size), np.arange(len(self.nodes) + 1) * self.nodes.shape[1]
        holds = csr_matrix((np.ones(self.nodes.size), self.nodes.ravel(), starts), shape)
        found = np.empty(self.size, np.int64)
        found[reverse_cuthill_mckee(csr_matrix(holds.T @ holds), symmetric_mode=True)] = np.arange(self.size)
        return found

    @property
    def size(self) -> int:
        """How many nodes lie on sides: they come first."""
        return self.shapes.count - self.shapes.inside * len(self.nodes)

    @cached_property
    def arm_of_cell(self) -> Index:
        section = self.shapes.section
        pieces = (*section.design.meridian, *section.design.former)
        owner = [int(piece.zone.name) for piece in pieces] + [len(self.kind.arms) - 1] * len(section.design.beads)
        return np.array(owner)[section.plan.piece]

    @cached_property
    def _glue_of_cell(self) -> Index:
        """Number (K,) of the fillet, -1 of walls."""
        design = self.shapes.section.design
        first = len(design.meridian) + len(design.former)
        return np.maximum(np.array(self.shapes.section.plan.piece) - first, -1)

    @property
    def wall_of_cell(self) -> Index:
        """The arm (K,) that a cell is wall of, -1 of glue."""
        return np.where(self._glue_of_cell < 0, self.arm_of_cell, -1)

    @cached_property
    def part_of_cell(self) -> Index:
        """Number (K,) of the cell's layer in `Kind.parts`; glue counts as the last arm's first."""
        arms, kind, arm = self.kind.arms, self.kind, self.arm_of_cell
        first, layer = (
            np.array([kind.parts.index(k) for k in range(len(arms))]),
            np.array(self.shapes.section.plan.layer),
        )
        if not kind.held:  # the first arm is drawn towards the joint
            layer = np.where(arm == 0, len(arms[0].plies) - 1 - layer, layer)
        return first[arm] + np.where(self._glue_of_cell < 0, layer, 0)

    @property
    def elastic_of_cell(self) -> Array:
        """Young's modulus in Pa and Poisson ratio (K, 2)."""
        wall = np.array([ply[1:] for arm in self.kind.arms for ply in arm.plies])[self.part_of_cell]
        if self.kind.glue:
            glue = np.array([(glue.youngs_modulus, glue.poisson_ratio) for glue in self.kind.glue])
            wall = np.where(self._glue_of_cell[:, None] < 0, wall, glue[self._glue_of_cell])
        return wall

    def far_sides(self, index: int) -> list[tuple[int, int]]:
        """Sides (cell, side) in the far end face of an arm."""
        arm, plan = self.kind.arms[index], self.shapes.section.plan
        tip, angle = arm.place(self.kind.reach(arm))
        far = np.abs((np.array(plan.points) - [FAR_OUT, 0.0] - tip) @ unit(angle)) < 1e-4 * arm.thickness
        cells = np.array(plan.cells)
        found = []
        for side, (a, b) in enumerate(SIDE_CORNERS):
            inside = (self.arm_of_cell == index) & far[cells[:, a]] & far[cells[:, b]]
            found += [(int(cell), side) for cell in np.flatnonzero(inside)]
        return found


def patch_of(kind: Kind) -> Patch:
    """The patch of a kind, its arms longer where they part late. Raises MeshError where the solid cannot draw it."""
    for longer in LONGER:
        drawn = replace(kind, longer=longer)
        try:
            section = _section(drawn)
        except MeshError:
            if len(kind.arms) < 3 or longer == LONGER[-1]:
                raise
            continue
        if len(section.plan.cells) > MOST_CELLS:
            raise MeshError(
                f"the patch of a joint would have {len(section.plan.cells)} cells, and at most {MOST_CELLS} are "
                "solved: make its walls less unequal in thickness"
            )
        return Patch(drawn, section)
    raise MeshError("no patch was tried")


def unit(angle: float) -> Array:
    """Unit vector (2,) of a direction."""
    return np.array([cos(angle), sin(angle)])


def _section(kind: Kind) -> Section:
    runs = []
    for k, arm in enumerate(kind.arms):
        curves: list[Curve] = [_bend(arm)] if arm.bend * abs(arm.curvature) > 0 else []
        (a, _), (b, _) = arm.place(arm.bend if curves else 0.0), arm.place(kind.reach(arm))
        curves.append(Line((float(a[0]) + FAR_OUT, float(a[1])), (float(b[0]) + FAR_OUT, float(b[1]))))
        if k == 0 and not kind.held:
            curves = [curve.reverse() for curve in curves[::-1]]
        wall = Wall(
            tuple(
                Layer(Material(f"material {k}.{n}", 1.0, modulus, nu, NO_LOSS), h, h)
                for n, (h, modulus, nu) in enumerate(arm.plies)
            )
        )
        wall = wall.reverse() if k == 0 and not kind.held else wall
        runs.append([Piece(curve, Zone(str(k)), wall) for curve in curves])
    meridian = [piece for run in runs[:2] for piece in run]
    former = [piece for run in runs[2:] for piece in run]
    edge, joint = (CLAMPED if kind.held else FREE), (len(runs[0]) if former else None)
    design = Design("patch", tuple(meridian), edge, FREE, joint, tuple(former))
    if former:
        return mesh_section(replace(design, beads=_beads(kind, design)), grading=GRADING, lines=False)
    plan = plan_section(design, GRADING)
    return Section(design, plan, *quadrilaterals(plan))


def _beads(kind: Kind, design: Design) -> tuple[Bead, ...]:
    found: list[Bead] = []
    for n, glue in enumerate(kind.glue):
        material = Material(f"glue {n}", 1.0, glue.youngs_modulus, glue.poisson_ratio, NO_LOSS)
        side = "inside" if glue.inside else "outside"
        found += lay_beads(design.meridian, design.joint or 0, design.former, glue.radius, side, material)
    return tuple(found)


def _bend(arm: Arm) -> Arc:
    radius, side = 1 / abs(arm.curvature), np.pi / 2 * np.sign(arm.curvature)
    r, z = radius * unit(arm.direction + side)
    return Arc((float(r) + FAR_OUT, float(z)), radius, arm.direction - side, arm.curvature * arm.bend)
