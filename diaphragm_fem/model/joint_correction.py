"""Ends and joints of the shell: what they yield more or less than its walls.

`joint_kinds` knows from a patch of the solid what a joint yields more than the walls do, `joint_shares` parts that
among its arms, `joint_stiffness` makes it a change of the stiffness between the joint and the far ends of the stretches
of wall beside it, `joint_sections` has the section that the joint has more or less. No arm's share of it takes away
stiffness that its own stretch does not have: the whole is positive for every design and for whatever moduli the
materials have. The patch is straight; what the circle does to its loads the elements know. Good for any order m.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.assembly import Blocks
from diaphragm_fem.model.elasticity import OneLayer
from diaphragm_fem.model.joint_glued import excess_of_joints
from diaphragm_fem.model.joint_kinds import Found
from diaphragm_fem.model.joint_plies import Plies
from diaphragm_fem.model.joint_section import Kind
from diaphragm_fem.model.joint_sections import JointSections
from diaphragm_fem.model.joint_stiffness import joint_stiffness, stretch_yield, transport
from diaphragm_fem.model.joint_stretches import Stretches
from diaphragm_fem.model.joints import Joint, joints_of
from diaphragm_fem.model.shell_walls import WallPart

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
    one_layer: OneLayer
    walls: Sequence[WallPart]

    @cached_property
    def stretches(self) -> Stretches:
        return Stretches(self.known.joints)

    @cached_property
    def _plain(self) -> Flags:
        """(A,) which arms have one layer."""
        return np.array([not arm.layers for joint in self.known.joints for arm in joint.kind.arms])

    @cached_property
    def plies(self) -> Plies | None:
        """What tells the materials of laminates apart, where there are any."""
        if self._plain.all():
            return None
        mesh = self.line.mesh
        return Plies(self.stretches, self.walls, mesh.pieces, mesh.design.materials)

    @cached_property
    def sections(self) -> JointSections | None:
        """Of the arms of one layer, where there are any."""
        if not self._plain.any():
            return None
        here, plain = self.stretches.arms >= 0, self._plain
        section = self.known.excess.section[:, : here.shape[1]][here][plain]
        stretches = self.stretches if plain.all() else Stretches(_with_one_layer(self.known.joints))
        return JointSections(self.line, self.one_layer, stretches, section)

    @cached_property
    def rows(self) -> Index:
        """Places of the stretches' elements in those of all walls, one after another: by arm (A, H) or, where there are
        laminates, by arm and material (P, H)."""
        if self.plies:
            return self.plies.rows
        assert self.sections is not None
        return self.sections.at_walls

    def add(self, order: OrderTerms, elastic: Array, stiff: Index, heavy: Index, blocks: Blocks) -> None:
        """Add all changes to the owners (R,) of each row's stiffness and mass; elastic (W, F, F) are the walls'."""
        stretches, arms, plies, rows = self.stretches, self.stretches.arms, self.plies, self.rows
        if plies:
            count, first = len(elastic), len(self._plain)
            sums = np.zeros((first, rows.shape[1], *elastic.shape[1:]))
            np.add.at(sums, plies.arm, elastic[rows])
            at = count + np.arange(sums.shape[0] * sums.shape[1]).reshape(sums.shape[:2])
            whole = stretch_yield(stretches, order, np.concatenate((elastic, np.concatenate(sums))), at)
            found, arms = plies.split(order, elastic, whole), plies.of_joints
        else:
            found = stretch_yield(stretches, order, elastic, rows)
        circle, loads = order.around * stretches.place[:, 0], found.give.shape[1]
        carry = transport(tuple(len(joint.ends) for joint in self.known.joints), loads)
        size = carry.shape[-1]
        if plies:
            slot = plies.arm - stretches.arms[stretches.joint_of_arm[plies.arm], 0]
            carry = carry[np.arange(len(arms))[:, None], slot[arms]] * (arms >= 0)[..., None, None]
        excess = self._excess(loads)[:, : arms.shape[1], :size, :size]
        dofs, change = joint_stiffness(found, arms, carry, excess / circle[:, None, None, None], stretches.crowded)
        if self.sections:
            plain = self._plain if plies is None else self._plain[plies.arm]
            around = circle[stretches.joint_of_arm[self._plain], None, None]
            change[plain, :loads, :loads] += around * self.sections.hoop(order.m)
            blocks.add(heavy[plain], found.end_dofs[plain], around * self.sections.mass(order.m))
        blocks.add(stiff, dofs, change)

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


def _with_one_layer(joints: Sequence[Joint]) -> list[Joint]:
    """The joints with those of their arms alone that have one layer."""
    found = []
    for joint in joints:
        keep = [k for k, arm in enumerate(joint.kind.arms) if not arm.layers]
        kind, stretches = Kind(tuple(joint.kind.arms[k] for k in keep)), tuple(joint.stretches[k] for k in keep)
        if keep:
            found.append(replace(joint, ends=tuple(joint.ends[k] for k in keep), kind=kind, stretches=stretches))
    return found
