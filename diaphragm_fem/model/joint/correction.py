"""Ends and joints of the shell: what they yield more or less than its walls, brought into its matrices.

`joint.kinds` knows from a patch of the solid what a joint yields more than the walls do; `joint.shares` parts that
among the joint's arms; `joint.stiffness` makes it a change of the stiffness between the joint and the far ends of the
stretches of wall beside it; `joint.sections` has the section that the joint has more or less. No arm's share takes away
stiffness that its own stretch does not have, so the whole is positive for every design and whatever moduli the
materials have. The patch is straight: the elements bring in what the circle does to its loads. Good for any order m.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.units.units import show_place
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.joint.joints import Joint
from diaphragm_fem.model.joint.kinds import Found, excess_of_joints, why_bare
from diaphragm_fem.model.joint.parts import Parts, joint_parts, parts_of_arms
from diaphragm_fem.model.joint.sections import JointSections
from diaphragm_fem.model.joint.stiffness import joint_stiffness, stretch_yield
from diaphragm_fem.model.joint.stretches import Stretches, stretches_of
from diaphragm_fem.model.shell.elasticity import WallRows
from diaphragm_fem.model.shell.line import OrderTerms, Quadrature


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
    """Of P parts the row (P,) of the walls that each belongs to, raw degrees of freedom (P, D), changes of stiffness
    and mass (P, D, D)."""

    row: Index
    dofs: Index
    stiffness: Array
    mass: Array

    def picked(self, some: slice, begin: int) -> PartChanges:
        """Those of some parts, whose shell's rows begin at a number."""
        return PartChanges(self.row[some] - begin, self.dofs[some], self.stiffness[some], self.mass[some])


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
    def shape(self) -> tuple[int, ...]:
        """What decides how their arrays are filled up: the most elements of a stretch, arms and parts of a joint,
        elements of an arm in several parts, and layers of a joint."""
        joints = self.known.joints
        stretches = [stretch for joint in joints for stretch in joint.stretches]
        arms, length = [len(joint.ends) for joint in joints], [len(stretch) for stretch in stretches]
        most, split = max(arms), 0
        if self.layers:
            many = parts_of_arms([stretch[0] for stretch in stretches], self.walls)[1]
            most = int(np.bincount(np.repeat(np.arange(len(arms)), arms), many).max())
            split = int((np.array(length) * (many > 1)).max())
        return max(length), max(arms), most, split, self.known.excess.plane.shape[1]

    @cached_property
    def stretches(self) -> Stretches:
        return stretches_of(self.known.joints, self.begins)

    @cached_property
    def parts(self) -> Parts:
        return joint_parts(self.stretches, self.walls, self.layers)

    @cached_property
    def sections(self) -> JointSections:
        section = self.parts.gathered(self.known.excess.section)[self.parts.joint, self.parts.place]
        return JointSections(self.line, self.walls, self.stretches, self.parts.arm, self.parts.rows, section)

    def of_order(self, order: OrderTerms, elastic: Array) -> PartChanges:
        """What order m makes of them; elastic (R, F, F) is the walls' stiffness."""
        found = stretch_yield(self.stretches, order, elastic, self.parts.rows, self.parts.arm)
        loads = found.give.shape[1]
        carry, excess = self.under_loads(order.around, loads)
        dofs, change = joint_stiffness(found, self.parts.of_joints, carry, excess, self.stretches.crowded)
        around = order.around * self.stretches.place[self.parts.joint, 0, None, None]
        change[:, :loads, :loads] += around * self.sections.hoop(order.m)
        mass = np.zeros_like(change)
        mass[:, :loads, :loads] = around * self.sections.mass(order.m)
        return PartChanges(self.parts.rows[:, 0], dofs, change, mass)

    def under_loads(self, around: float, loads: int) -> tuple[Array, Array]:
        """What loads (J, most, N, L) each part of each joint bears, so many an arm, and its excess (J, most, L, L) in
        m/N over a whole circle; around is the integral over it per radius."""
        carry, excess = self.parts.carry(loads), self.known.excess
        size, circle = carry.shape[-1], (around * self.stretches.place[:, 0])[:, None, None, None]
        plane, turned = (self.parts.gathered(x) for x in (excess.plane, excess.around))
        return carry, under_all_loads(plane, turned, loads)[..., :size, :size] / circle


def all_of(each: Sequence[JointChanges], line: Quadrature, walls: WallRows, begins: Sequence[int]) -> JointChanges:
    """Those of several shells side by side, whose elements begin at some numbers."""
    excess = Found._make(np.concatenate(x) for x in zip(*(one.known.excess for one in each), strict=True))
    joints = tuple(joint for one in each for joint in one.known.joints)
    shifted = [begin for one, first in zip(each, begins, strict=False) for begin in [first] * len(one.known.joints)]
    known = KnownJoints(joints, excess, ())
    return JointChanges(line, known, walls, shifted, [own for one in each for own in one.layers])


def under_all_loads(plane: Array, around: Array, loads: int) -> Array:
    """Excess (J, P, 2 loads, 2 loads) of the loads of arms: plane ones, with those around where there are four."""
    if loads == 3:
        return plane
    joints, parts = plane.shape[:2]
    whole = np.zeros((joints, parts, 2, 4, 2, 4))
    whole[:, :, :, :3, :, :3] = plane.reshape(joints, parts, 2, 3, 2, 3)
    whole[:, :, :, 3, :, 3] = around
    return whole.reshape(joints, parts, 8, 8)
