"""The section of a joint's patch: stretches of the walls that meet there, drawn and cut as the solid draws them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.curve import Arc, Curve, Line
from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.edge import CLAMPED, FREE
from diaphragm_fem.design.material import LossFactor, Material
from diaphragm_fem.design.wall import plain_wall
from diaphragm_fem.design.zone import Zone
from diaphragm_fem.mesh.section import Section, plan_section
from diaphragm_fem.mesh.section_plan import quadrilaterals
from diaphragm_fem.mesh.section_size import Grading
from diaphragm_fem.model.solid_shapes import SIDE_CORNERS, Orders, Shapes

ARM = 3.0  # own thicknesses that an arm runs on beyond its bend and its neighbours
GRADING = Grading(up_to_hz=1e-3, corner=0.5, growth=1.9)  # flat and slow: only the corners decide
ORDERS = Orders(5, 5, 5)
FAR_OUT = 1.0  # metres from the axis, where a patch is drawn; it is solved flat
NO_LOSS = LossFactor((0.0,))


@dataclass(frozen=True)
class Arm:
    """One wall that meets a joint, seen from it.

    direction in radians (0 outward, pi/2 up); thickness in m; youngs_modulus in Pa; poisson_ratio. It may begin with a
    bend of `curvature` d(direction)/ds in 1/m over the length `bend` in m; then it runs straight.
    """

    direction: float
    thickness: float
    youngs_modulus: float
    poisson_ratio: float
    curvature: float = 0.0
    bend: float = 0.0

    def place(self, s: float) -> tuple[Array, float]:
        """Point (2,) in m from the joint, and direction, at arc length s."""
        x = min(s, self.bend)
        angle = self.direction + self.curvature * x
        chord = x * np.sinc(self.curvature * x / 2 / np.pi)
        return chord * unit(self.direction + self.curvature * x / 2) + (s - x) * unit(angle), angle

    @property
    def plane_modulus(self) -> float:
        return self.youngs_modulus / (1 - self.poisson_ratio**2)

    @property
    def shear_modulus(self) -> float:
        return self.youngs_modulus / (2 * (1 + self.poisson_ratio))


@dataclass(frozen=True)
class Kind:
    """A kind of joint: two arms end to end; three, the last a former that hangs from the rear face of the first two,
    which run on through the joint in this order; or one, whose end face is held."""

    arms: tuple[Arm, ...]

    @property
    def held(self) -> bool:
        return len(self.arms) == 1

    def reach(self, arm: Arm) -> float:
        """Length of an arm in m: its bend or half its thickest neighbour, and enough of its own thicknesses."""
        return max(arm.bend, max(other.thickness for other in self.arms) / 2) + ARM * arm.thickness

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

    @cached_property
    def shapes(self) -> Shapes:
        return Shapes(_section(self.kind), ORDERS)

    @cached_property
    def nodes(self) -> Index:
        """(K, B) of the cells' sides."""
        return self.shapes.nodes[:, : -self.shapes.inside]

    @property
    def size(self) -> int:
        """How many nodes lie on sides: they come first."""
        return self.shapes.count - self.shapes.inside * len(self.nodes)

    @cached_property
    def arm_of_cell(self) -> Index:
        section = self.shapes.section
        pieces = (*section.design.meridian, *section.design.former)
        return np.array([int(piece.zone.name) for piece in pieces])[section.plan.piece]

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


def unit(angle: float) -> Array:
    """Unit vector (2,) of a direction."""
    return np.array([np.cos(angle), np.sin(angle)])


def _section(kind: Kind) -> Section:
    runs = []
    for k, arm in enumerate(kind.arms):
        curves: list[Curve] = [_bend(arm)] if arm.bend * abs(arm.curvature) > 0 else []
        (a, _), (b, _) = arm.place(arm.bend if curves else 0.0), arm.place(kind.reach(arm))
        curves.append(Line((float(a[0]) + FAR_OUT, float(a[1])), (float(b[0]) + FAR_OUT, float(b[1]))))
        if k == 0 and not kind.held:
            curves = [curve.reverse() for curve in curves[::-1]]
        material = Material(f"material {k}", 1.0, arm.youngs_modulus, arm.poisson_ratio, NO_LOSS)
        runs.append([Piece(curve, Zone(str(k)), plain_wall(material, arm.thickness)) for curve in curves])
    meridian = [piece for run in runs[:2] for piece in run]
    former = [piece for run in runs[2:] for piece in run]
    edge, joint = (CLAMPED if kind.held else FREE), (len(runs[0]) if former else None)
    design = Design("patch", tuple(meridian), edge, FREE, joint, tuple(former))
    plan = plan_section(design, GRADING)
    return Section(design, plan, *quadrilaterals(plan))


def _bend(arm: Arm) -> Arc:
    radius, side = 1 / abs(arm.curvature), np.pi / 2 * np.sign(arm.curvature)
    r, z = radius * unit(arm.direction + side)
    return Arc((float(r) + FAR_OUT, float(z)), radius, arm.direction - side, arm.curvature * arm.bend)
