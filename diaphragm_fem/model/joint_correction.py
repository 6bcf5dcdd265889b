"""Ends and joints of the shell: what they yield more or less than its walls.

`joint_kinds` knows from a patch of the solid what a joint yields more than the walls do, `joint_shares` parts that
among its arms, `joint_stiffness` makes it a change of the stiffness between the joint and the far ends of the stretches
of wall beside it, `joint_sections` has the section that the joint has more or less. No arm's share of it takes away
stiffness that its own stretch does not have: the whole is positive for every design and for whatever moduli the
materials have. The patch is straight; what the circle does to its loads the elements know. Good for any order m.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.assembly import Blocks
from diaphragm_fem.model.elasticity import WallRows
from diaphragm_fem.model.joint_kinds import Found, excess_of_joints
from diaphragm_fem.model.joint_plies import Plies
from diaphragm_fem.model.joint_section import transport
from diaphragm_fem.model.joint_sections import JointSections
from diaphragm_fem.model.joint_stiffness import joint_stiffness, stretch_yield
from diaphragm_fem.model.joint_stretches import Stretches
from diaphragm_fem.model.joints import Joint

if TYPE_CHECKING:
    from diaphragm_fem.model.shell_line import OrderTerms, ShellLine


@dataclass(frozen=True, eq=False)
class KnownJoints:
    """J joints, what each yields more than the shell's walls, and remarks on those left to the bare theory."""

    joints: tuple[Joint, ...]
    excess: Found
    remarks: tuple[str, ...]


def known_joints(mesh: MeridianMesh, joints: Sequence[Joint]) -> KnownJoints:
    """Those joints of a mesh that the solid can draw."""
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
    walls: WallRows

    @cached_property
    def stretches(self) -> Stretches:
        return Stretches(self.known.joints)

    @cached_property
    def plies(self) -> Plies | None:
        """What tells the materials of laminates apart, where there are any."""
        if not any(arm.layers for joint in self.known.joints for arm in joint.kind.arms):
            return None
        mesh = self.line.mesh
        return Plies(self.stretches, self.walls, mesh.pieces, mesh.design.materials)

    @cached_property
    def arm(self) -> Index:
        """(P,) the arm of every row: all arms or, where there are laminates, each material of them."""
        return np.arange(len(self.stretches.length)) if self.plies is None else self.plies.arm

    @cached_property
    def rows(self) -> Index:
        """Places (P, H) of the stretches' elements among the rows of the walls."""
        if self.plies:
            return self.plies.rows
        return np.searchsorted(self.walls.elements, self.stretches.elements)

    @cached_property
    def sections(self) -> JointSections:
        section, own = self.known.excess.section, self.stretches.arms
        if self.plies:
            section, own = self.plies.gathered(section), self.plies.of_joints
        section = section[:, : own.shape[1]][own >= 0]
        return JointSections(self.line, self.walls, self.stretches, self.arm, self.rows, section)

    def add(self, order: OrderTerms, elastic: Array, owner: Index, blocks: Blocks) -> None:
        """Add all changes of stiffness and mass to the owners (P,) of each row; elastic (W, F, F) is the walls'."""
        stretches, plies, rows = self.stretches, self.plies, self.rows
        if plies:
            count, first = len(elastic), len(stretches.length)
            sums = np.zeros((first, rows.shape[1], *elastic.shape[1:]))
            np.add.at(sums, plies.arm, elastic[rows])
            at = count + np.arange(sums.shape[0] * sums.shape[1]).reshape(sums.shape[:2])
            whole = stretch_yield(stretches, order, np.concatenate((elastic, np.concatenate(sums))), at)
            found = plies.split(order, elastic, whole)
        else:
            found = stretch_yield(stretches, order, elastic, rows)
        circle, loads = order.around * stretches.place[:, 0], found.give.shape[1]
        arms, carry, excess = self.under_loads(order.around, loads)
        dofs, change = joint_stiffness(found, arms, carry, excess, stretches.crowded)
        around = circle[stretches.joint_of_arm[self.arm], None, None]
        change[:, :loads, :loads] += around * self.sections.hoop(order.m)
        mass = np.zeros_like(change)
        mass[:, :loads, :loads] = around * self.sections.mass(order.m)
        blocks.add(owner, dofs, change, mass)

    def under_loads(self, around: float, loads: int) -> tuple[Index, Array, Array]:
        """Of each joint the numbers (J, most) of its rows, -1 where there is none, what loads each of them bears, and
        its excess in m/N over a whole circle, with so many loads an arm; around is the integral over it per radius."""
        stretches, plies, arms = self.stretches, self.plies, self.stretches.arms
        carry = transport(tuple(len(joint.ends) for joint in self.known.joints), loads)
        size = carry.shape[-1]
        if plies:
            arms = plies.of_joints
            slot = plies.arm - stretches.arms[stretches.joint_of_arm[plies.arm], 0]
            carry = carry[np.arange(len(arms))[:, None], slot[arms]] * (arms >= 0)[..., None, None]
        excess = self._excess(loads)[:, : arms.shape[1], :size, :size]
        return arms, carry, excess / (around * stretches.place[:, 0])[:, None, None, None]

    def _excess(self, loads: int) -> Array:
        """Excess (J, P, 2 loads, 2 loads) of the loads of arms: plane ones, with those around where there are four."""
        plane, around = self.known.excess.plane, self.known.excess.around
        if self.plies:
            plane, around = self.plies.gathered(plane), self.plies.gathered(around)
        if loads == 3:
            return plane
        joints, arms = plane.shape[:2]
        whole = np.zeros((joints, arms, 2, 4, 2, 4))
        whole[:, :, :, :3, :, :3] = plane.reshape(joints, arms, 2, 3, 2, 3)
        whole[:, :, :, 3, :, 3] = around
        return whole.reshape(joints, arms, 8, 8)
