"""Ends and joints of the shell: what they yield more or less than its walls.

`joint_kinds` knows from a patch of the solid what a joint yields more than the walls do, `joint_shares` parts that
among its arms, `joint_stiffness` makes it a change of the stiffness between the joint and the far ends of the stretches
of wall beside it, `joint_sections` has the section that the joint has more or less. No arm's share of it takes away
stiffness that its own stretch does not have: the whole is positive for every design and for whatever moduli the
materials have. The patch is straight; what the circle does to its loads the elements know. Good for any order m.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.assembly import Blocks
from diaphragm_fem.model.elasticity import OneLayer
from diaphragm_fem.model.joint_glued import excess_of_joints
from diaphragm_fem.model.joint_kinds import Found
from diaphragm_fem.model.joint_sections import JointSections
from diaphragm_fem.model.joint_stiffness import joint_stiffness, stretch_yield, transport
from diaphragm_fem.model.joint_stretches import Stretches
from diaphragm_fem.model.joints import Joint, joints_of

if TYPE_CHECKING:
    from diaphragm_fem.model.shell_line import OrderTerms, ShellLine


@dataclass(frozen=True, eq=False)
class KnownJoints:
    """J joints, what each yields more than the shell's walls, and remarks on those left to the bare theory."""

    joints: tuple[Joint, ...]
    excess: Found
    remarks: tuple[str, ...]


def known_joints(mesh: MeridianMesh) -> KnownJoints:
    """The joints of a mesh that the solid can draw."""
    joints = joints_of(mesh)
    found = excess_of_joints([joint.kind for joint in joints])
    if not any(found.problem):
        return KnownJoints(tuple(joints), found, ())
    remarks = [
        f"the joint at '{mesh.pieces[joint.ends[0][0]].zone.name}' is left to the bare shell theory: {problem}"
        for joint, problem in zip(joints, found.problem, strict=True)
        if problem
    ]
    known = np.array([not problem for problem in found.problem])
    kept = Found(found.plane[known], found.around[known], found.section[known], ("",) * int(known.sum()))
    return KnownJoints(tuple(joint for joint, k in zip(joints, known, strict=True) if k), kept, tuple(remarks))


@dataclass(frozen=True, eq=False)
class JointChanges:
    """What the known joints of a meridian with these walls change, whatever the order."""

    line: ShellLine
    known: KnownJoints
    walls: OneLayer

    @cached_property
    def stretches(self) -> Stretches:
        return Stretches(self.known.joints)

    @cached_property
    def sections(self) -> JointSections:
        here = self.stretches.arms >= 0
        return JointSections(self.line, self.walls, self.stretches, self.known.excess.section[:, : here.shape[1]][here])

    def add(self, order: OrderTerms, elastic: Array, stiff: Index, heavy: Index, blocks: Blocks) -> None:
        """Add all changes to the owners (A,) of each arm's stiffness and mass; elastic (W, F, F) are the walls'."""
        stretches, arms = self.stretches, self.stretches.arms
        found = stretch_yield(stretches, order, elastic, self.sections.at_walls)
        circle, loads = order.around * stretches.place[:, 0], found.give.shape[1]
        carry = transport(tuple(len(joint.ends) for joint in self.known.joints), loads)
        excess = self._excess(loads)[:, : arms.shape[1], : carry.shape[-1], : carry.shape[-1]]
        dofs, change = joint_stiffness(found, arms, carry, excess / circle[:, None, None, None], stretches.crowded)
        around = circle[stretches.joint_of_arm, None, None]
        change[:, :loads, :loads] += around * self.sections.hoop(order.m)
        blocks.add(stiff, dofs, change)
        blocks.add(heavy, found.end_dofs, around * self.sections.mass(order.m))

    def _excess(self, loads: int) -> Array:
        """Excess (J, 3, 2 loads, 2 loads) of the loads of arms: plane ones, with those around where there are four."""
        plane, around = self.known.excess.plane, self.known.excess.around
        if loads == 3:
            return plane
        joints, arms = plane.shape[:2]
        whole = np.zeros((joints, arms, 2, 4, 2, 4))
        whole[:, :, :, :3, :, :3] = plane.reshape(joints, arms, 2, 3, 2, 3)
        whole[:, :, :, 3, :, 3] = around
        return whole.reshape(joints, arms, 8, 8)
