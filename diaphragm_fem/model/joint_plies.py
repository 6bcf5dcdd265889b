"""Arms of joints told apart by material where the wall is a laminate, so that each keeps its own losses.

With K_i a material's stiffness of a stretch, U its motions, whatever they are, and X those under unit loads at the
joint's end, the far end held, the parts of `joint_stiffness` are X^T K_i X of Z and X^T K_i U of n + R g. Summed over
the materials they are Z and n + R g, for nothing but the far end holds against X. What a material keeps after the move,
(U - X y)^T K_i (U - X y), is an energy: none takes away stiffness that it does not have.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.material import Material
from diaphragm_fem.model.elasticity import WallRows
from diaphragm_fem.model.joint_stiffness import Yield, chain, chained, from_joint
from diaphragm_fem.model.joint_stretches import Stretches
from diaphragm_fem.model.shell_line import OrderTerms


@dataclass(frozen=True, eq=False)
class Plies:
    """The materials of the arms of some stretches, in order, among the walls of a shell and all its pieces."""

    stretches: Stretches
    walls: WallRows
    pieces: Sequence[Piece]
    materials: Sequence[Material]

    @cached_property
    def _layers(self) -> list[list[int]]:
        """The materials' numbers of every layer of every arm, in the order of `Kind.parts`."""
        number = {material: k for k, material in enumerate(self.materials)}
        ends = [end for joint in self.stretches.joints for end in joint.ends]
        return [[number[x.material] for x in self.pieces[p].wall.layers][:: -1 if end else 1] for p, end in ends]

    @cached_property
    def _own(self) -> list[tuple[int, int]]:
        """Arm and material's number of every part (P,)."""
        return [(arm, material) for arm, layers in enumerate(self._layers) for material in dict.fromkeys(layers)]

    @cached_property
    def arm(self) -> Index:
        """(P,)"""
        return np.array([arm for arm, _ in self._own])

    @cached_property
    def rows(self) -> Index:
        """Places (P, H) of the stretches' elements of each part among the rows of the walls."""
        kinds = zip(self.walls.elements.tolist(), self.walls.material.tolist(), strict=True)
        place = {kind: row for row, kind in enumerate(kinds)}
        found = [[place[x, own] for x in self.stretches.elements[arm].tolist()] for arm, own in self._own]
        return np.array(found)

    @cached_property
    def of_joints(self) -> Index:
        """(J, most) of each joint's parts, -1 where there is none."""
        joint = self.stretches.joint_of_arm[self.arm]
        most = int(np.bincount(joint).max())
        found = np.full((len(self.stretches.joints), most), -1)
        for k, row in enumerate(found):
            own = np.flatnonzero(joint == k)
            row[: len(own)] = own
        return found

    def gathered(self, by_layer: Array) -> Array:
        """Values (J, L, ...) of each joint's layers summed by material, as `of_joints`."""
        found = np.zeros((*self.of_joints.shape, *by_layer.shape[2:]))
        place = {own: k for k, own in enumerate(self._own)}
        first, slot = self.of_joints[:, 0], np.zeros(len(self.of_joints), np.int64)
        for arm, layers in enumerate(self._layers):
            joint = self.stretches.joint_of_arm[arm]
            for material in layers:
                found[joint, place[arm, material] - first[joint]] += by_layer[joint, slot[joint]]
                slot[joint] += 1
        return found

    def split(self, order: OrderTerms, stiffness: Array, whole: Yield) -> Yield:
        """The yield (A) of whole arms told apart by material (P); stiffness (E, F, F) is that of all walls'."""
        give, ends, loads = whole.give[self.arm], whole.end_dofs[self.arm], whole.give.shape[-1]
        near = np.broadcast_to(np.eye(loads), give.shape).copy()
        split = [arm for arm, layers in enumerate(self._layers) if len(set(layers)) > 1]
        within = {arm: self._within(order, arm) for arm in split}
        room = max((len(x) for x in within.values()), default=0)
        far = np.concatenate((whole.far[self.arm], np.zeros((len(give), loads, room))), axis=-1)
        stays = np.concatenate((whole.far_dofs[self.arm], np.repeat(ends[:, :1], room, axis=1)), axis=1)
        rest = whole.far.shape[-1]
        for arm in split:
            parts, long = np.flatnonzero(self.arm == arm), int(self.stretches.length[arm])
            bricks = stiffness[self.rows[parts, :long]]
            each, moves = _assembled(bricks, int(self.stretches.end[arm]), order.m > 0)
            total = each.sum(axis=0)
            under = np.linalg.solve(total[:moves, :moves], np.eye(moves, loads))
            work = under.T @ each[:, :moves]
            give[parts], near[parts] = work[..., :moves] @ under, work[..., :loads]
            far[parts, :, :rest] = work[..., moves:]
            far[parts, :, rest : rest + moves - loads] = work[..., loads:moves]
            stays[parts, rest : rest + moves - loads] = within[arm]
        return Yield(give, far, ends, stays, near)

    def _within(self, order: OrderTerms, arm: int) -> Index:
        """Raw degrees of freedom of an arm's stretch between its ends, in order."""
        long, end = int(self.stretches.length[arm]), int(self.stretches.end[arm])
        dofs = order.dofs[self.stretches.elements[arm, :long]]
        count = dofs.shape[1] // 3
        return dofs[:, from_joint(end, count)[1:].ravel()].ravel()[:-count]


def _assembled(bricks: Array, end: int, around: bool) -> tuple[Array, int]:
    """Stiffness (M, D, D) of a stretch from that of its elements (M, H, F, F) of each material, as `chain` has them in
    order, and how many motions are free."""
    place, (free, held) = from_joint(end, bricks.shape[-1] // 3).ravel(), chain(bricks.shape[1], around)
    inner = np.concatenate((free, held))
    return chained(bricks[:, :, place[:, None], place])[:, inner[:, None], inner], len(free)
