"""The stretches of wall beside joints, in arrays over all joints of a design: A arms, H elements."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from diaphragm_fem.arrays import Array, Complex, Flags, Index
from diaphragm_fem.model.joint.joints import Joint

LOADED = ("u", "w", "b", "v")  # the motions that the loads (f_r, f_z, m, T) do work on


@dataclass(frozen=True, eq=False)
class Stretches:
    """The stretches of the arms of some joints, in order."""

    joints: Sequence[Joint]

    @cached_property
    def length(self) -> Index:
        """(A,) elements of each stretch."""
        return np.array([len(x) for joint in self.joints for x in joint.stretches])

    @cached_property
    def elements(self) -> Index:
        """(A, H), away from the joint; short stretches repeat their last element, which then weighs nothing."""
        longest = int(self.length.max())
        return np.array([x + x[-1:] * (longest - len(x)) for joint in self.joints for x in joint.stretches])

    @cached_property
    def end(self) -> Index:
        """(A,) which end of its piece an arm's joint is at: 0 begin, 1 end."""
        return np.array([end for joint in self.joints for _, end in joint.ends])

    @cached_property
    def joint_of_arm(self) -> Index:
        return np.repeat(np.arange(len(self.joints)), [len(joint.ends) for joint in self.joints])

    @cached_property
    def place(self) -> Array:
        """(J, 2) of the joints in m."""
        return np.array([joint.place for joint in self.joints])

    @cached_property
    def crowded(self) -> Flags:
        """(J,) whether an element is another joint's as well."""
        return np.array([joint.crowded for joint in self.joints])

    @cached_property
    def thickness(self) -> Array:
        """(A,) in m, at the joint."""
        return np.array([arm.thickness for joint in self.joints for arm in joint.kind.arms])

    @cached_property
    def direction(self) -> Complex:
        """(A,) of each arm, away from the joint, as r + i z."""
        return np.exp(1j * np.array([arm.direction for joint in self.joints for arm in joint.kind.arms]))
