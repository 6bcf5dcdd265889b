"""Ends and joints of the shell: what they yield more or less than its walls.

`joint_kinds` knows from a patch of the solid what a joint yields more than the walls do, `joint_shares` parts that by
the compliance S of the stretches of wall beside it. Where the joint yields less, as at a clamped end or where a wall
lies over another, the stretches become stiffer: from their deformation d under the joint's loads (`joint_loads`) the
stiffness gains d^T G d. Where it yields more, springs stand between the walls and the joint (`joint_springs`). Each arm
has its share of both, and none is negative: the whole is positive for every design and for whatever moduli the
materials have.

What section the joint has more or less is in `joint_sections`. The patch is straight; what the circle adds to the loads
is in `joint_loads`. Good for any order m.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.design.material import Material
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.assembly import Blocks
from diaphragm_fem.model.joint_kinds import excess_of
from diaphragm_fem.model.joint_loads import JointLoads
from diaphragm_fem.model.joint_patch import Excess
from diaphragm_fem.model.joint_sections import JointSections
from diaphragm_fem.model.joint_shares import parted
from diaphragm_fem.model.joint_springs import Together, spring_changes, together
from diaphragm_fem.model.joint_stretches import Stretches
from diaphragm_fem.model.joints import Joint, joints_of
from diaphragm_fem.model.structure import MASS, STIFFNESS, Elastic, Term

if TYPE_CHECKING:
    from diaphragm_fem.model.shell_line import OrderTerms, ShellLine

Array = NDArray[np.float64]
Index = NDArray[np.int64]

PLANE, AROUND = 3, 4  # loads of an arm for m = 0, (f_r, f_z, m), and with T beyond


class KnownJoint(NamedTuple):
    """A joint and what it yields more than the shell's walls."""

    joint: Joint
    excess: Excess


def known_joints(mesh: MeridianMesh) -> tuple[tuple[KnownJoint, ...], tuple[str, ...]]:
    """Joints with their excess, and a remark for each joint that the solid cannot draw: it keeps the bare theory."""
    found, remarks = [], []
    for joint in joints_of(mesh):
        try:
            found.append(KnownJoint(joint, excess_of(joint.kind)))
        except MeshError as problem:
            zone = mesh.pieces[joint.ends[0][0]].zone.name
            remarks.append(f"the joint at '{zone}' is left to the bare shell theory: {problem}")
    return tuple(found), tuple(remarks)


class _Alike(NamedTuple):
    """J joints of equally many arms: which arms (J, A) they are, the loads of each arm from the independent ones
    (A, N, L), and the joints' gains and excess compliances (J, A, L, L)."""

    arms: Index
    transport: Array
    gain: Array
    excess: Array


@dataclass(frozen=True, eq=False)
class JointChanges:
    """What the known joints of a meridian change, whatever the order."""

    line: ShellLine
    known: Sequence[KnownJoint]

    def terms(self, order: OrderTerms, by_zone: bool = True) -> list[Term]:
        """Changes of stiffness and mass, for each zone and material (zone -1: in all)."""
        if not self.known:
            return []
        owners = self._owners(by_zone)
        each = list(dict.fromkeys(owners))
        whose = np.array([each.index(owner) for owner in owners])
        blocks = Blocks(order.numbering, 2 * len(each))
        self._loads.sections.add(order, whose, whose + len(each), blocks)
        self._add_joints(order, whose, blocks)
        sums = blocks.sums()
        terms = []
        for (zone, material), k, m in zip(each, sums[: len(each)], sums[len(each) :], strict=True):
            terms.append(Term(k, Elastic(material), STIFFNESS, zone, material.name))
            terms.append(Term(m, derivatives=MASS, zone=zone, made_of=material.name))
        return terms

    def _owners(self, by_zone: bool) -> list[tuple[int, Material]]:
        """Zone (or -1) and material of each arm."""
        zone, pieces = self.line.zone_of_element[self._stretches.elements[:, 0]].tolist(), self.line.mesh.pieces
        ends = [end for joint, _ in self.known for end in joint.ends]
        return [(z if by_zone else -1, pieces[p].wall.layers[0].material) for z, (p, _) in zip(zone, ends, strict=True)]

    @cached_property
    def _stretches(self) -> Stretches:
        return Stretches(self.line, [joint for joint, _ in self.known])

    @cached_property
    def _loads(self) -> JointLoads:
        section = np.concatenate([excess.section for _, excess in self.known])
        return JointLoads(self._stretches, JointSections(self._stretches, section))

    @cached_property
    def _parted(self) -> dict[int, tuple[list[_Alike], list[Together]]]:
        """Joints and their springs by the number of loads, as far as they were asked for."""
        return {}

    def _by_loads(self, loads: int) -> tuple[list[_Alike], list[Together]]:
        if loads not in self._parted:
            counts = np.array([len(joint.ends) for joint, _ in self.known])
            first = np.cumsum(counts) - counts
            found = []
            for count in np.unique(counts).tolist():
                pick = np.flatnonzero(counts == count)
                arms = first[pick][:, None] + np.arange(count)
                carry = self.known[int(pick[0])].joint.kind.transport(loads)
                soft = carry.swapaxes(-1, -2) @ self._loads.compliance(loads)[arms] @ carry
                excess = np.stack([_whole(self.known[j].excess, loads) for j in pick.tolist()])
                found.append(_Alike(arms, carry, *parted(excess, soft)))
            springs = together([(x.arms, x.excess) for x in found], self._stretches.elements[:, 0], loads)
            self._parted[loads] = found, springs
        return self._parted[loads]

    def _add_joints(self, order: OrderTerms, whose: Index, blocks: Blocks) -> None:
        stretches, loads = self._stretches, AROUND if order.m else PLANE
        strain, dofs = self._loads.strain(order), order.dofs[stretches.elements]
        around = order.around * stretches.place[:, 0]
        deformation = self._loads.deformation(order, strain)
        alike, springs = self._by_loads(loads)
        for group in alike:
            carry, longest = group.transport, int(stretches.length[group.arms].max())
            read = deformation[group.arms][..., :longest, :].reshape(*group.arms.shape, loads, -1)
            read = np.moveaxis(carry.swapaxes(-1, -2) @ read, 1, 2).reshape(len(read), 1, carry.shape[-1], -1)
            size = around[group.arms[:, 0]][:, None, None, None]
            block = size * (read.swapaxes(-1, -2) @ group.gain @ read)
            blocks.add(whose[group.arms], dofs[group.arms, :longest].reshape(len(read), 1, -1), block)
        whole = self._loads.element_stiffness(strain)
        forces = np.take_along_axis(whole, stretches.motions(order)[:, :, None], axis=1)
        for some in springs:
            change = spring_changes(some, forces, around, stretches.motions(order))
            blocks.add(whose[some.arms], dofs[some.free, 0].reshape(len(change), 1, -1), change)


def _whole(excess: Excess, loads: int) -> Array:
    """Excess (A, L, L) of plane loads, with those around interleaved where an arm has four."""
    if loads == PLANE:
        return excess.plane
    free = excess.around.shape[1]
    whole = np.zeros((len(excess.plane), 4 * free, 4 * free))
    plane = np.concatenate([4 * a + np.arange(3) for a in range(free)])
    around = 4 * np.arange(free) + 3
    whole[:, plane[:, None], plane] = excess.plane
    whole[:, around[:, None], around] = excess.around
    return whole
