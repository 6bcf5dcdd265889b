"""The parts of joints: all that one arm's wall has of one material, so that each keeps its own losses.

With K_i a material's stiffness of a stretch, U its motions, whatever they are, and X those under unit loads at the
joint's end, the far end held, the parts of `joint.stiffness` are X^T K_i X of Z and X^T K_i U of n + R g. Summed over
the materials they are Z and n + R g, for nothing but the far end holds against X. What a material keeps after the move,
(U - X y)^T K_i (U - X y), is an energy: none takes away stiffness that it does not have.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.model.joint.joints import Joint
from diaphragm_fem.model.joint.stretches import Stretches
from diaphragm_fem.model.shell.elasticity import WallRows


class Alike(NamedTuple):
    """Joints of which as many arms are `free`, which others balance: their numbers (J,) and those of their P parts,
    arm by arm; of each part its joint among these, its place there, and its arm's."""

    free: int
    joints: Index
    parts: Index
    joint: Index
    place: Index
    arm: Index


def alike(joint_of_arm: Index, arm_of_part: Index) -> list[Alike]:
    """Joints apart by how many arms are free: side by side no array is filled up to the loads of three."""
    joint, free = joint_of_arm[arm_of_part], np.maximum(np.bincount(joint_of_arm) - 1, 1)
    place, arm = np.arange(len(joint)) - np.searchsorted(joint, joint), arm_of_part - joint_of_arm.searchsorted(joint)
    found = []
    for count in sorted(set(free.tolist())):
        joints, parts = np.flatnonzero(free == count), np.flatnonzero(free[joint] == count)
        found.append(Alike(count, joints, parts, joints.searchsorted(joint[parts]), place[parts], arm[parts]))
    return found


@dataclass(frozen=True, eq=False)
class Parts:
    """P parts of the arms of some stretches, arm by arm: arm (P,); rows (P, H) of their elements among those of the
    walls; joint (P,). Of every layer of every arm, in the order of `Kind.parts`, its place (L,) in its joint and the
    part (L,) that it belongs to."""

    arm: Index
    rows: Index
    joint: Index
    layer: Index
    part_of_layer: Index
    alike: list[Alike]

    def gathered(self, by_layer: Array) -> Array:
        """Values (J, L, ...) of each joint's layers summed by part (P, ...)."""
        each = by_layer[self.joint[self.part_of_layer], self.layer]
        if np.array_equal(self.part_of_layer, np.arange(len(self.arm))):
            return each
        found = np.zeros((len(self.arm), *by_layer.shape[2:]))
        np.add.at(found, self.part_of_layer, each)
        return found


def layers_of_arms(joints: Sequence[Joint], pieces: Sequence[Piece], materials: Sequence[Material]) -> list[list[int]]:
    """Of every arm of some joints, between pieces of one shell, the numbers of the materials of its layers in the order
    of `Kind.parts`; none where all walls are of one layer."""
    if all([len(piece.wall.layers) == 1 for piece in pieces]):
        return []
    number, found = {material: k for k, material in enumerate(materials)}, []
    for piece, end in (end for joint in joints for end in joint.ends):
        arm = pieces[piece].wall.without_fillet.layers[:: -1 if end else 1]
        found.append([number[x.material] for x in arm])
    return found


def parts_of_arms(elements: ArrayLike, walls: WallRows) -> tuple[Index, Index]:
    """The first row (A,) of the walls that some elements have, and how many: one for each material."""
    begin, end = (np.searchsorted(walls.elements, elements, side) for side in ("left", "right"))
    return begin, end - begin


def joint_parts(stretches: Stretches, walls: WallRows, layers: Sequence[Sequence[int]]) -> Parts:
    """The parts of the arms of some stretches, among the walls of shells; layers of `layers_of_arms`."""
    first, many = parts_of_arms(stretches.elements[:, 0], walls)
    arm = np.repeat(np.arange(len(many)), many)
    begin = np.cumsum(many) - many
    material = walls.material[np.arange(len(arm)) + (first - begin)[arm]]
    count = int(walls.material.max()) + 1
    key = stretches.elements[arm] * count + material[:, None]
    rows = np.searchsorted(walls.elements * count + walls.material, key)
    part_of_layer = np.arange(len(arm))
    if layers:
        own = np.repeat(part_of_layer[: len(many)], [len(x) for x in layers])
        part_of_layer = np.searchsorted(arm * count + material, own * count + np.concatenate(layers))
    joint = stretches.joint_of_arm[arm]
    owner = joint[part_of_layer]
    layer = np.arange(len(owner)) - np.searchsorted(owner, owner)
    return Parts(arm, rows, joint, layer, part_of_layer, alike(stretches.joint_of_arm, arm))
