"""The parts of joints: all that one arm's wall has of one material, so that each keeps its own losses.

With K_i a material's stiffness of a stretch, U its motions, whatever they are, and X those under unit loads at the
joint's end, the far end held, the parts of `joint.stiffness` are X^T K_i X of Z and X^T K_i U of n + R g. Summed over
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
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.model.joint.section import transport
from diaphragm_fem.model.joint.stiffness import Yield, chain, chained, from_joint, stretch_yield
from diaphragm_fem.model.joint.stretches import Stretches
from diaphragm_fem.model.shell.elasticity import WallRows
from diaphragm_fem.model.shell.line import OrderTerms


@dataclass(frozen=True, eq=False)
class Parts:
    """P parts of the arms of some stretches, arm by arm: arm (P,); rows (P, H) of their elements among those of the
    walls; joint (P,) and place (P,) there, of_joints (J, most) their numbers, -1 where there is none. Of every layer of
    every arm, in the order of `Kind.parts`, the place (L,) in its joint and the part (L,) that it belongs to."""

    stretches: Stretches
    arm: Index
    rows: Index
    joint: Index
    place: Index
    of_joints: Index
    layer: Index
    part_of_layer: Index

    @property
    def laminated(self) -> bool:
        """Whether an arm has more than one part."""
        return len(self.arm) > len(self.stretches.length)

    def gathered(self, by_layer: Array) -> Array:
        """Values (J, L, ...) of each joint's layers summed by part, as `of_joints`."""
        if self._each_layer_is_one:
            return by_layer[:, : self.of_joints.shape[1]]
        found = np.zeros((*self.of_joints.shape, *by_layer.shape[2:]))
        joint, place = self.joint[self.part_of_layer], self.place[self.part_of_layer]
        np.add.at(found, (joint, place), by_layer[joint, self.layer])
        return found

    @cached_property
    def _each_layer_is_one(self) -> bool:
        return np.array_equal(self.part_of_layer, np.arange(len(self.arm)))

    def carry(self, loads: int) -> Array:
        """What loads (J, most, N, L) each part bears, so many an arm, of the independent ones of its joint."""
        owner = self.stretches.joint_of_arm
        each = transport(tuple([len(joint.ends) for joint in self.stretches.joints]), loads)
        if not self.laminated:
            return each
        found = np.zeros((*self.of_joints.shape, *each.shape[2:]))
        found[self.joint, self.place] = each[self.joint, self.arm - np.searchsorted(owner, self.joint)]
        return found

    def yields(self, order: OrderTerms, stiffness: Array) -> Yield:
        """What each part yields of its stretch; stiffness (W, F, F) is that of all rows of the walls."""
        if not self.laminated:
            return stretch_yield(self.stretches, order, stiffness, self.rows)
        bricks = np.add.reduceat(stiffness[self.rows], np.flatnonzero(np.diff(self.arm, prepend=-1)))
        every = np.arange(bricks.shape[0] * bricks.shape[1]).reshape(bricks.shape[:2])
        return self._split(order, stiffness, stretch_yield(self.stretches, order, np.concatenate(bricks), every))

    def _split(self, order: OrderTerms, stiffness: Array, whole: Yield) -> Yield:
        """The yield (A) of whole arms told apart by part."""
        give, near, ends = whole.give[self.arm], whole.near[self.arm], whole.end_dofs[self.arm]
        loads = give.shape[-1]
        split = np.flatnonzero(np.bincount(self.arm) > 1).tolist()
        within = {arm: self._within(order, arm) for arm in split}
        room = max((len(x) for x in within.values()), default=0)
        far = np.concatenate((whole.far[self.arm], np.zeros((len(give), loads, room))), axis=-1)
        stays = np.concatenate((whole.far_dofs[self.arm], np.repeat(ends[:, :1], room, axis=1)), axis=1)
        rest = whole.far.shape[-1]
        for arm in split:
            own, long = np.flatnonzero(self.arm == arm), int(self.stretches.length[arm])
            bricks = stiffness[self.rows[own, :long]]
            each, moves = _assembled(bricks, int(self.stretches.end[arm]), order.m > 0)
            total = each.sum(axis=0)
            under = np.linalg.solve(total[:moves, :moves], np.eye(moves, loads))
            work = under.T @ each[:, :moves]
            give[own], near[own] = work[..., :moves] @ under, work[..., :loads]
            far[own, :, :rest] = work[..., moves:]
            far[own, :, rest : rest + moves - loads] = work[..., loads:moves]
            stays[own, rest : rest + moves - loads] = within[arm]
        return Yield(give, near, far, ends, stays)

    def _within(self, order: OrderTerms, arm: int) -> Index:
        """Raw degrees of freedom of an arm's stretch between its ends, in order."""
        long, end = int(self.stretches.length[arm]), int(self.stretches.end[arm])
        dofs = order.dofs[self.stretches.elements[arm, :long]]
        count = dofs.shape[1] // 3
        return dofs[:, from_joint(end, count)[1:].ravel()].ravel()[:-count]


def joint_parts(stretches: Stretches, walls: WallRows, pieces: Sequence[Piece], materials: Sequence[Material]) -> Parts:
    """The parts of the arms of some stretches, among the walls of a shell and all its pieces."""
    number, parts = {material: k for k, material in enumerate(materials)}, dict[tuple[int, int], int]()
    ends = [end for joint in stretches.joints for end in joint.ends]
    part_of_layer = []
    for arm, (piece, end) in enumerate(ends):
        wall = pieces[piece].wall
        part_of = {m: parts.setdefault((arm, number[m]), len(parts)) for m in (x.material for x in wall.layers)}
        part_of_layer += [part_of[layer.material] for layer in wall.without_fillet.layers[:: -1 if end else 1]]
    arm, material = np.array(list(parts)).T
    key = stretches.elements[arm] * len(materials) + material[:, None]
    rows = np.searchsorted(walls.elements * len(materials) + walls.material, key)
    joint = stretches.joint_of_arm[arm]
    owner = joint[part_of_layer]
    place, layer = (np.arange(len(x)) - np.searchsorted(x, x) for x in (joint, owner))
    of_joints = np.full((len(stretches.joints), int(place.max()) + 1), -1)
    of_joints[joint, place] = np.arange(len(arm))
    return Parts(stretches, arm, rows, joint, place, of_joints, layer, np.array(part_of_layer))


def _assembled(bricks: Array, end: int, around: bool) -> tuple[Array, int]:
    """Stiffness (M, D, D) of a stretch from that of its elements (M, H, F, F) of each material, as `chain` has them in
    order, and how many motions are free."""
    place, (free, held) = from_joint(end, bricks.shape[-1] // 3).ravel(), chain(bricks.shape[1], around)
    inner = np.concatenate((free, held))
    return chained(bricks[:, :, place[:, None], place])[:, inner[:, None], inner], len(free)
