"""Ends and joints of the shell: what they yield more or less than its walls, brought into its matrices.

`joint.kinds` knows from a patch of the solid what a joint yields more than the walls do; `joint.shares` parts that
among the joint's arms; `joint.stiffness` makes it a change of the stiffness between the joint and the far ends of the
stretches of wall beside it; `joint.sections` has the section and torsion that the joint has more or less. No arm's
share takes away stiffness that its own stretch does not have, so the whole is positive for every design and whatever
moduli the materials have. Walls' ends move around beside a joint as that twists, by the turning of `joint.torsion`.
The patch is straight: the elements bring in what the circle does to its loads. Good for any order m.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.units.units import show_place
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.joint.joints import Joint
from diaphragm_fem.model.joint.kinds import Found, excess_of_joints, why_bare
from diaphragm_fem.model.joint.parts import Alike, Parts, joint_parts, parts_of_arms
from diaphragm_fem.model.joint.sections import JointSections
from diaphragm_fem.model.joint.stiffness import Yield, fields_of, from_joint, joint_stiffness, stretch_yield
from diaphragm_fem.model.joint.stretches import LOADED, Stretches, stretches_of
from diaphragm_fem.model.joint.torsion import twist_rate
from diaphragm_fem.model.shell.elasticity import WallRows
from diaphragm_fem.model.shell.line import OrderTerms, Quadrature
from diaphragm_fem.model.shell.numbering import B, V, W


@dataclass(frozen=True, eq=False)
class KnownJoints:
    """J joints, what each yields more than the shell's walls, and remarks on those left to the bare theory."""

    joints: tuple[Joint, ...]
    excess: Found
    remarks: tuple[str, ...]


def known_joints(mesh: MeridianMesh, joints: Sequence[Joint]) -> KnownJoints:
    """Those joints of a mesh that the solid can draw."""
    return joints_of_each([mesh], [joints])[0]


def joints_of_each(meshes: Sequence[MeridianMesh], joints: Sequence[Sequence[Joint]]) -> list[KnownJoints]:
    """The same of several meshes, all read at once."""
    found, end, each = excess_of_joints([joint.kind for own in joints for joint in own]), 0, []
    for mesh, own in zip(meshes, joints, strict=True):
        some, end = slice(end, end + len(own)), end + len(own)
        each.append(_drawn(mesh, own, found.picked(some)))
    return each


def _drawn(mesh: MeridianMesh, joints: Sequence[Joint], found: Found) -> KnownJoints:
    if found.known.all():
        return KnownJoints(tuple(joints), found, ())
    kept, bare = list[Joint](), list[Joint]()
    for joint, known in zip(joints, found.known.tolist(), strict=True):
        (kept if known else bare).append(joint)
    return KnownJoints(tuple(kept), found.picked(found.known), tuple(_left_bare(mesh, joint) for joint in bare))


def _left_bare(mesh: MeridianMesh, joint: Joint) -> str:
    """What became of a joint, in the words of its part."""
    zones = tuple(mesh.pieces[piece].zone.name for piece, _ in joint.ends)
    place = f"the joint of '{zones[0]}' at {show_place(joint.place)}"
    why = why_bare(joint.kind, zones)
    return f"{place} is left to the bare shell theory, for the solid cannot be cut there: {why}"


class PartChanges(NamedTuple):
    """Of P parts the row (P,) of the walls that each belongs to, raw degrees of freedom (P, D), and changes of
    stiffness (P, D, D)."""

    row: Index
    dofs: Index
    stiffness: Array

    def picked(self, begin: int, end: int) -> PartChanges:
        """Those of one shell, whose rows begin and end at some numbers."""
        some = slice(*self.row.searchsorted((begin, end)).tolist())
        return PartChanges(self.row[some] - begin, self.dofs[some], self.stiffness[some])


@dataclass(frozen=True, eq=False)
class JointChanges:
    """What the known joints of shells with these walls change, whatever the order. begins: of each joint, where the
    elements of its shell begin; layers: of their arms, as `layers_of_arms` tells them."""

    line: Quadrature
    known: KnownJoints
    walls: WallRows
    begins: Sequence[int]
    layers: Sequence[Sequence[int]]

    @property
    def shape(self) -> Hashable:
        """What decides how their arrays are filled up: the most elements of a stretch, layers of a joint, and of each
        joint's arms the parts and, of several, the elements."""
        each = [joint.stretches for joint in self.known.joints]
        stretches = [stretch for own in each for stretch in own]
        sizes: set[Hashable] = set(map(len, each))
        if self.layers:
            many = iter(parts_of_arms([stretch[0] for stretch in stretches], self.walls)[1].tolist())
            sizes = {tuple([(n, len(x) * (n > 1)) for x, n in zip(own, many, strict=False)]) for own in each}
        return max(map(len, stretches)), self.known.excess.plane.shape[1], frozenset(sizes)

    @cached_property
    def stretches(self) -> Stretches:
        return stretches_of(self.known.joints, self.begins)

    @cached_property
    def parts(self) -> Parts:
        return joint_parts(self.stretches, self.walls, self.layers)

    @cached_property
    def sections(self) -> JointSections:
        twist = self._twists * self.known.excess.twist
        section, twist = (self.parts.gathered(x) for x in (self.known.excess.section, twist))
        return JointSections(self.line, self.walls, self.stretches, self.parts.arm, self.parts.rows, section, twist)

    @cached_property
    def _excess(self) -> tuple[Array, Array]:
        return self.parts.gathered(self.known.excess.plane), self.parts.gathered(self.known.excess.around)

    @cached_property
    def turning(self) -> Array:
        """(A,) in m2 of each arm: how far its end moves around beside the joint, of a twist of 1 rad/m."""
        joint = self.stretches.joint_of_arm
        place = np.arange(len(joint)) - np.searchsorted(joint, joint)
        return np.pad(self._twists * self.known.excess.turning, ((0, 0), (0, 1)))[joint, place]

    @property
    def _twists(self) -> Array:
        """(J, 1) 1 for joints whose twist their patch tells: 0 where a surround lies along its former, for what ties
        the two is no wall's."""
        return 1.0 - np.array([joint.lies for joint in self.known.joints])[:, None]

    @cached_property
    def _radius(self) -> Array:
        """(P, 1, 1) in m of each part's joint."""
        return self.stretches.place[self.parts.joint, 0, None, None]

    def of_order(self, order: OrderTerms, elastic: Array) -> list[PartChanges]:
        """What order m makes of them, like joints together; elastic (R, F, F) is the walls' stiffness, whose ends
        follow twists from here on."""
        found, changes = stretch_yield(self.stretches, order, elastic, self.parts.rows, self.parts.arm), []
        if order.m:
            self._turn(order, elastic, found)
        for own in self.parts.alike:
            excess = self.under_loads(own, order.around, found.give.shape[1])
            moved = joint_stiffness(found.picked(own.parts), own, excess, self.stretches.crowded[own.joints])
            changes.append(PartChanges(self.parts.rows[own.parts, 0], *moved))
        return changes

    def _turn(self, order: OrderTerms, elastic: Array, found: Yield) -> None:
        """Let the walls' ends move around beside the joints as these twist, in the stiffness of elements there and in
        what their loads at the joint do with its motions and leave of those of a joint at their other end."""
        row, (_, w, b, v), arm = self.parts.rows[:, 0], self._near(order).T, self.parts.arm
        rate = self.turning[:, None] * twist_rate(order.m, self.stretches.place[self.stretches.joint_of_arm, :1])
        own = rate[arm]
        for k, motion in enumerate((w, b)):
            elastic[row, :, motion] += own[:, k, None] * elastic[row, :, v]
        for k, motion in enumerate((w, b)):
            elastic[row, motion] += own[:, k, None] * elastic[row, v]
        found.near[:, :, [LOADED.index("w"), LOADED.index("b")]] += found.near[:, :, [LOADED.index("v")]] * own[:, None]
        one, other = self.stretches.shared
        beyond = np.zeros_like(rate)
        beyond[one] = rate[other]
        found.far[:, :, [W, B]] += found.far[:, :, [V]] * beyond[arm, None]

    def _near(self, order: OrderTerms) -> Index:
        """Places (P, N) of the motions LOADED at the joint among those of each part's first element."""
        near = from_joint(self.stretches.end, order.dofs.shape[1] // 3)[:, 0, fields_of(order.m > 0).loads]
        return near[self.parts.arm]

    def add_rings(self, order: OrderTerms, elastic: Array, moving: Array) -> None:
        """Add the rings at the joints to stiffness and mass (R, F, F) of the elements there."""
        at, row = self._near(order), self.parts.rows[:, 0]
        own, around = (row[:, None, None], at[:, :, None], at[:, None]), order.around * self._radius
        elastic[own] += around * self.sections.hoop(order.m)
        moving[own] += around * self.sections.mass(order.m)

    def under_loads(self, own: Alike, around: float, loads: int) -> Array:
        """The excess (P, L, L) in m/N of like joints' parts over a whole circle, so many loads an arm; around is the
        integral over it per radius."""
        plane, turned = (x[own.parts] for x in self._excess)
        return under_all_loads(plane, turned, own.free, loads) / (around * self._radius[own.parts])


def all_of(each: Sequence[JointChanges], line: Quadrature, walls: WallRows, begins: Sequence[int]) -> JointChanges:
    """Those of several shells side by side, whose elements begin at some numbers."""
    excess = Found._make(np.concatenate(x) for x in zip(*(one.known.excess for one in each), strict=True))
    joints = tuple(joint for one in each for joint in one.known.joints)
    shifted = [begin for one, first in zip(each, begins, strict=False) for begin in [first] * len(one.known.joints)]
    known = KnownJoints(joints, excess, ())
    return JointChanges(line, known, walls, shifted, [own for one in each for own in one.layers])


def under_all_loads(plane: Array, around: Array, free: int, loads: int) -> Array:
    """Excess (P, L, L) of so many loads of each free arm: plane ones, with those around where there are four."""
    parts, size = len(plane), 3 * free
    if loads == 3:
        return plane[:, :size, :size]
    whole = np.zeros((parts, free, 4, free, 4))
    whole[:, :, :3, :, :3] = plane[:, :size, :size].reshape(parts, free, 3, free, 3)
    whole[:, :, 3, :, 3] = around[:, :free, :free]
    return whole.reshape(parts, 4 * free, -1)
