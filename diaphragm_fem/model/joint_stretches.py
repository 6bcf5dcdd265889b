"""The stretches of wall beside joints, in arrays (A arms, H elements, Q points)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.model.joints import Joint
from diaphragm_fem.model.line_points import LinePoints
from diaphragm_fem.model.numbering import AXISYMMETRIC, FIELDS
from diaphragm_fem.model.shell_strain import Geometry

if TYPE_CHECKING:
    from diaphragm_fem.model.shell_line import OrderTerms, ShellLine

Array = NDArray[np.float64]
Index = NDArray[np.int64]

LOADED = ("u", "w", "b", "v")  # the motions that the loads (f_r, f_z, m, T) do work on


@dataclass(frozen=True, eq=False)
class Stretches:
    """The stretches of the arms of some joints, in order."""

    line: ShellLine
    joints: Sequence[Joint]

    @cached_property
    def length(self) -> Index:
        """(A,) elements of each stretch."""
        return np.array([len(x) for joint in self.joints for x in joint.stretches])

    @cached_property
    def elements(self) -> Index:
        """(A, H), away from the joint; short stretches repeat their last element, which then weighs nothing."""
        longest = int(self.length.max())
        stretches = [x.tolist() for joint in self.joints for x in joint.stretches]
        return np.array([x + x[-1:] * (longest - len(x)) for x in stretches])

    @cached_property
    def inside(self) -> NDArray[np.bool_]:
        """(A, H) which are no repetition."""
        return np.arange(self.elements.shape[1]) < self.length[:, None]

    @cached_property
    def end(self) -> Index:
        """(A,) which end of its piece an arm's joint is at: 0 begin, 1 end."""
        return np.array([end for joint in self.joints for _, end in joint.ends])

    @cached_property
    def place(self) -> Array:
        """(A, 2) of the joint in m."""
        return np.array([joint.place for joint in self.joints for _ in joint.ends])

    @cached_property
    def _arms(self) -> Array:
        arms = [arm for joint in self.joints for arm in joint.kind.arms]
        return np.array([(arm.youngs_modulus, arm.poisson_ratio, arm.thickness) for arm in arms])

    @property
    def modulus(self) -> Array:
        """Young's modulus (A,) in Pa."""
        return self._arms[:, 0]

    @property
    def poisson_ratio(self) -> Array:
        return self._arms[:, 1]

    @property
    def thickness(self) -> Array:
        """(A,) in m, at the joint."""
        return self._arms[:, 2]

    @cached_property
    def density(self) -> Array:
        """(A,) in kg/m3."""
        pieces = self.line.mesh.pieces
        return np.array([pieces[p].wall.layers[0].material.density for joint in self.joints for p, _ in joint.ends])

    @cached_property
    def stiff(self) -> Points:
        """Where strains are taken."""
        return self._points(self.line.stiff)

    @cached_property
    def heavy(self) -> Points:
        """Where mass is taken."""
        return self._points(self.line.heavy)

    def _points(self, points: LinePoints) -> Points:
        mesh, e, at = self.line.mesh, self.elements, points.at
        picked = Geometry(
            at.r[e], at.t_r[e], at.t_z[e], at.kappa[e], at.fraction[e], at.weight[e] * self.inside[..., None]
        )
        owner = mesh.piece_of_element[e]
        layers = [piece.wall.layers[0] for piece in mesh.pieces]
        ends = np.array([(layer.begin_thickness, layer.end_thickness) for layer in layers])
        begin, last = np.moveaxis(ends[owner], -1, 0)[..., None]
        lever = np.stack((picked.r, points.z[e]), axis=-1) - self.place[:, None, None, :]
        return Points(picked, begin + (last - begin) * picked.fraction, lever)

    def motions(self, order: OrderTerms, names: Sequence[str] = LOADED) -> Index:
        """Places (A, N) of the joint's motions among the local functions of each arm's first element."""
        fields = FIELDS if order.m else AXISYMMETRIC
        return 3 * np.array([fields.index(x) for x in names if x in fields]) + self.end[:, None]


@dataclass(frozen=True, eq=False)
class Points:
    """Geometry, thickness (A, H, Q) and place (A, H, Q, 2) from the joint at quadrature points."""

    at: Geometry
    wall: Array
    lever: Array
