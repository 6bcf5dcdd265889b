"""The stretches of wall beside joints, in arrays over all joints of a design: A arms, H elements."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Complex, Flags, Index
from diaphragm_fem.model.joint.joints import Joint

LOADED = ("u", "w", "b", "v")  # the motions that the loads (f_r, f_z, m, T) do work on


class Stretches(NamedTuple):
    """The stretches of the arms of some joints, in order.

    length: elements of each stretch (A,); elements: (A, H), away from the joint, short stretches repeat their last one,
    which then weighs nothing; end: (A,) which end of its piece an arm's joint is at, 0 begin, 1 end; place: (J, 2) of
    the joints in m; crowded: (J,) whether an element is another joint's as well; thickness: (A,) in m, at the joint;
    direction: (A,) of each arm, away from the joint, as r + i z.
    """

    joints: Sequence[Joint]
    length: Index
    elements: Index
    end: Index
    joint_of_arm: Index
    place: Array
    crowded: Flags
    thickness: Array
    direction: Complex

    @property
    def shared(self) -> tuple[Index, Index]:
        """Pairs of arms (K,), either way round, of which each begins at one end of an element that both share."""
        own, other = (2 * self.elements[:, 0] + end for end in (self.end, 1 - self.end))
        _, one, seen = np.intersect1d(own, other, return_indices=True)
        return one, seen


def stretches_of(joints: Sequence[Joint], begins: Sequence[int]) -> Stretches:
    """Those of some joints; begins: of each, where the elements of its shell begin among those of all."""
    every = [stretch for joint in joints for stretch in joint.stretches]
    length, first = np.array([(len(stretch), stretch.start) for stretch in every]).T
    arms = [arm for joint in joints for arm in joint.kind.arms]
    joint_of_arm = np.repeat(np.arange(len(joints)), [len(joint.ends) for joint in joints])
    end = np.array([end for joint in joints for _, end in joint.ends])
    along = np.minimum(np.arange(length.max()), length[:, None] - 1) * (1 - 2 * end)[:, None]
    return Stretches(
        joints,
        length,
        (first + np.array(begins)[joint_of_arm])[:, None] + along,
        end,
        joint_of_arm,
        np.array([joint.place for joint in joints]),
        np.array([joint.crowded for joint in joints]),
        np.array([arm.thickness for arm in arms]),
        np.exp(1j * np.array([arm.direction for arm in arms])),
    )
