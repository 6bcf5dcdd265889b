"""The parts of joints: all that one arm's wall has of one material, so that each keeps its own losses.

With K_i a material's stiffness of a stretch, U its motions, whatever they are, and X those under unit loads at the
joint's end, the far end held, the parts of `joint.stiffness` are X^T K_i X of Z and X^T K_i U of n + R g. Summed over
the materials they are Z and n + R g, for nothing but the far end holds against X. What a material keeps after the move,
(U - X y)^T K_i (U - X y), is an energy: none takes away stiffness that it does not have.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.model.joint.joints import Joint
from diaphragm_fem.model.joint.kind import transport
from diaphragm_fem.model.joint.stretches import Stretches
from diaphragm_fem.model.shell.elasticity import WallRows


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
        each = transport([len(joint.ends) for joint in self.stretches.joints], loads)
        if not self.laminated:
            return each
        found = np.zeros((*self.of_joints.shape, *each.shape[2:]))
        found[self.joint, self.place] = each[self.joint, self.arm - np.searchsorted(owner, self.joint)]
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
    place, layer = (np.arange(len(x)) - np.searchsorted(x, x) for x in (joint, owner))
    of_joints = np.full((len(stretches.joints), int(place.max()) + 1), -1)
    of_joints[joint, place] = np.arange(len(arm))
    return Parts(stretches, arm, rows, joint, place, of_joints, layer, part_of_layer)
