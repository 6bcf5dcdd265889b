"""The loads of joints as the shell knows them: functionals of its unknowns, from the stretches of wall beside them.

In a stretch the resultants at a Gauss point are R times the load at the joint plus what hoop forces and the like add on
the way: with l the force per area that the strains without derivative give, (r F)' = r l. That part is taken off, the
joint's own ring included. What is left is the stretch's deformation d under the joint's loads, and its compliance S:

    d = sum R^T (e - H^-1 p) ds r/r_J,    S = sum R^T H^-1 R ds r/r_J,    loads = S^-1 d

H the wall's law of (N, Q, M, T) and e the strains that belong to them. Both are sums over Gauss points of a matrix
times the strains: these matrices are made once for all stretches and orders, in arrays (A arms, H elements, 2 points).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.model.elasticity import one_layer_law
from diaphragm_fem.model.joint_sections import JointSections
from diaphragm_fem.model.joint_stretches import Stretches
from diaphragm_fem.model.thick_wall import thick_law

if TYPE_CHECKING:
    from diaphragm_fem.model.shell_line import OrderTerms

Array = NDArray[np.float64]
Index = NDArray[np.int64]

RESULTANTS = np.array([0, 6, 3, 2])  # N, Q, M, T among the strains
COLLOCATION = np.array([[0.25, 0.25 - np.sqrt(3) / 6], [0.25 + np.sqrt(3) / 6, 0.25]])  # integrals up to Gauss points


@dataclass(frozen=True, eq=False)
class JointLoads:
    """Loads of the joints of some stretches, whose sections are known."""

    stretches: Stretches
    sections: JointSections

    @cached_property
    def law(self) -> Array:
        """(A, H, 2, 8, 8) of the walls, with what thickness and the joint's section change."""
        points = self.stretches.stiff
        modulus, nu = (x[:, None, None] for x in (self.stretches.modulus, self.stretches.poisson_ratio))
        law = one_layer_law(modulus, nu, points.wall)
        law += thick_law(law, points.at, slice(None), nu)
        law += self.sections.hoop_law
        return np.ascontiguousarray(np.moveaxis(law, (0, 1), (-2, -1)))

    @cached_property
    def _reading(self) -> tuple[Array, Array, Array]:
        """Matrices (A, H, 2, 4, 8) that make d from strains, constant and times m, and the compliances S (A, 4, 4)."""
        points, end = self.stretches.stiff, self.stretches.end
        at, lever, sign = points.at, points.lever, 1.0 - 2.0 * end
        moved = _moved(at.t_r, at.t_z, lever)
        rows = self.law[..., RESULTANTS, :]
        share = at.weight * at.r / self.stretches.place[:, :1, None]
        pull = moved.swapaxes(-1, -2) @ (np.linalg.inv(rows[..., RESULTANTS]) * share[..., None, None])
        around = pull @ moved
        path = _path(at.weight, end) / at.r[..., None, None]
        gained = np.einsum("aeqhp,aeqbc->ahpbc", path, around)
        carried = np.zeros_like(moved)
        for k in range(4):
            carried[..., k, k] = at.r
        carried[..., 2, 0], carried[..., 2, 1] = at.r * lever[..., 1], -at.r * lever[..., 0]
        added = gained @ carried
        constant, with_m = _unit_strains(at.r, at.t_r, at.t_z, at.kappa)
        first = sign[:, None, None, None, None] * (pull @ rows) - added @ (constant @ self.law)
        return first, -(added @ (with_m @ self.law)), around.sum(axis=(1, 2))

    def compliance(self, count: int) -> Array:
        """S (A, N, N) under the first N loads (f_r, f_z, m, T)."""
        return self._reading[2][:, :count, :count]

    def strain(self, order: OrderTerms) -> Array:
        """Strains (A, H, 2, 8, F) of the local functions."""
        return np.ascontiguousarray(np.moveaxis(order.strain[:, :, self.stretches.elements], (0, 1), (-2, -1)))

    def deformation(self, order: OrderTerms, strain: Array) -> Array:
        """d (A, N, H, F) as rows over the local functions of the stretches."""
        count = 4 if order.m else 3
        constant, with_m, compliance = self._reading
        reading = constant[..., :count, :] + order.m * with_m[..., :count, :]
        found = (reading @ strain).sum(axis=2).swapaxes(1, 2)
        found[:, :, 0] -= compliance[:, :count, :count] @ self.sections.pull(order)[:, :count]
        return found

    def element_stiffness(self, strain: Array) -> Array:
        """Stiffness (A, F, F) of the first elements, per metre of the joint's circle."""
        at = self.stretches.stiff.at
        weight = (at.weight * at.r)[:, 0] / self.stretches.place[:, :1]
        first = strain[:, 0]
        stress = (self.law[:, 0] * weight[..., None, None]) @ first
        return np.asarray((first.swapaxes(-1, -2) @ stress).sum(axis=1))


def _moved(t_r: Array, t_z: Array, lever: Array) -> Array:
    """(N, Q, M, T) (A, H, 2, 4, 4) from loads (f_r, f_z, m, T) at the joint that act along s."""
    moved = np.zeros((*t_r.shape, 4, 4))
    moved[..., 0, 0], moved[..., 0, 1] = t_r, t_z
    moved[..., 1, 0], moved[..., 1, 1] = -t_z, t_r
    moved[..., 2, 0], moved[..., 2, 1] = -lever[..., 1], lever[..., 0]
    moved[..., 2, 2] = moved[..., 3, 3] = 1.0
    return moved


def _path(weight: Array, end: Index) -> Array:
    """Weights (A, E, Q, H, P) of the integral from the joint to point (E, Q) over the points (H, P)."""
    count = weight.shape[1]
    path = np.zeros((len(weight), count, 2, count, 2))
    within = np.stack((COLLOCATION, COLLOCATION[::-1, ::-1]))[end]
    for e in range(count):
        path[:, e, :, :e, :] = weight[:, None, :e]
        path[:, e, :, e, :] = within * weight[:, e].sum(axis=1)[:, None, None]
    return path


def _unit_strains(r: Array, t_r: Array, t_z: Array, kappa: Array) -> tuple[Array, Array]:
    """Strains (A, H, 2, 4, 8) that steady unit motions u, w, b, v give, constant and times m: what the circle makes of
    them."""
    constant, with_m = np.zeros((2, *r.shape, 4, 8))
    turn = (kappa - t_z / r) / 2
    constant[..., 0, 1] = 1 / r
    with_m[..., 0, 2], with_m[..., 1, 2] = -t_r / r, -t_z / r
    with_m[..., 0, 5], with_m[..., 1, 5] = turn * t_r / r, turn * t_z / r
    with_m[..., 0, 7], with_m[..., 1, 7] = t_z / r, -t_r / r
    constant[..., 2, 4], with_m[..., 2, 5] = t_r / r, -1 / r
    with_m[..., 3, 1], constant[..., 3, 2] = 1 / r, -t_r / r
    constant[..., 3, 5], constant[..., 3, 7] = turn * t_r / r, t_z / r
    return constant, with_m
