"""The section that a joint has more or less than its walls have, and what it weighs and holds around.

More section sits as a ring at the joint: its mass, and the hoop strain

    (u + m v + dr (m^2 - 1) u/r + dz (b + m^2 w/r))/r

at the place (dr, dz) from it (the motion around follows from no shear in the ring): the area with the first two terms,
and of the second moments what is not negative with the others. Less section, and that the excess does not lie at the
joint itself, thin or thicken the section of the stretch beside it, where a wall's material counts

    1 + l,   l = a + b . x,   x the place (r, z) from the joint,

times in hoop stiffness and mass, so that the integrals of 1, r, z over the section are the joint's. l is held above
-MOST_TAKEN everywhere: neither hoop stiffness nor mass is ever lost.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.model.assembly import Blocks, element_matrices
from diaphragm_fem.model.joint_shares import positive_part
from diaphragm_fem.model.joint_stretches import Points, Stretches
from diaphragm_fem.model.numbering import AXISYMMETRIC

if TYPE_CHECKING:
    from diaphragm_fem.model.shell_line import OrderTerms

Array = NDArray[np.float64]
Index = NDArray[np.int64]

MOST_TAKEN = 0.8  # of a wall's section at any place
RING = ("u", "v", "w", "b")


@dataclass(frozen=True, eq=False)
class JointSections:
    """Excess sections (A, 6), integrals of 1, r, z, r^2, r z, z^2 from the joint, of the arms of some stretches."""

    stretches: Stretches
    section: Array

    @cached_property
    def _ring(self) -> Array:
        """(A,) in m2."""
        return np.maximum(self.section[:, 0], 0.0)

    @cached_property
    def _slope(self) -> Array:
        """a and b (A, 3)."""
        points, h = self.stretches.stiff, self.stretches.thickness
        place = np.concatenate((np.ones((*points.wall.shape, 1)), points.lever / h[:, None, None, None]), axis=-1)
        across = _normal(points) / h[:, None, None, None]
        through = points.wall**2 / 12
        area = (points.wall * points.at.weight)[..., None, None]
        moments = area * place[..., :, None] * place[..., None, :]
        moments[..., 1:, 1:] += area * through[..., None, None] * across[..., :, None] * across[..., None, :]
        wanted = self.section[:, :3] / np.stack((np.ones_like(h), h, h), axis=1)
        wanted[:, 0] -= self._ring
        found = np.linalg.solve(moments.sum(axis=(1, 2)), wanted[..., None])[..., 0]
        found[:, 1:] /= h[:, None]
        return found

    def excess(self, points: Points) -> tuple[Array, Array]:
        """l on the mid-line, and its slope in 1/m through the wall, (A, H, Q), where an element is in two stretches of
        them both."""
        middle = self._slope[:, 0, None, None] + np.einsum("ac,ahqc->ahq", self._slope[:, 1:], points.lever)
        slope = np.einsum("ac,ahqc->ahq", self._slope[:, 1:], _normal(points))
        middle, slope = (self._gathered(x)[self.stretches.elements] for x in (middle, slope))
        middle = np.maximum(middle, -MOST_TAKEN)
        most = 2 * (middle + MOST_TAKEN) / points.wall
        return middle, np.clip(slope, -most, most)

    def _gathered(self, values: Array) -> Array:
        """Sum (E, Q) over the stretches that an element is in."""
        inside = self.stretches.inside
        total = np.zeros((len(self.stretches.line.mesh.piece_of_element), values.shape[-1]))
        np.add.at(total, self.stretches.elements[inside], values[inside])
        return total

    @cached_property
    def hoop_law(self) -> Array:
        """What the walls' laws (8, 8, A, H, 2) gain."""
        points = self.stretches.stiff
        middle, slope = self.excess(points)
        modulus, bent = self.stretches.modulus[:, None, None], points.wall**3 / 12
        law = np.zeros((8, 8, *middle.shape))
        law[1, 1], law[4, 4] = modulus * points.wall * middle, modulus * bent * middle
        law[1, 4] = law[4, 1] = modulus * bent * slope
        return law

    @cached_property
    def _inertia(self) -> Array:
        """What the walls' inertia (5, 5, A, H, 3) gains."""
        points = self.stretches.heavy
        middle, slope = self.excess(points)
        density, bent = self.stretches.density[:, None, None], points.wall**3 / 12
        inertia = np.zeros((5, 5, *middle.shape))
        for k, moment in enumerate((points.wall, points.wall, points.wall, bent, bent)):
            inertia[k, k] = density * moment * middle
        for motion, rotation, share in ((1, 4, 1.0), (0, 3, points.at.t_r), (2, 3, points.at.t_z)):
            inertia[motion, rotation] = inertia[rotation, motion] = density * bent * slope * share
        return inertia

    def _hoop(self, order: OrderTerms) -> Array:
        """Stiffness (A, 4, 4) of the rings on (u, v, w, b) at the joint, per metre of circle."""
        m, r = order.m, self.stretches.place[:, 0]
        strain, moments = np.zeros((len(r), 3, 4)), np.zeros((len(r), 3, 3))
        strain[:, 0, 0], strain[:, 0, 1], strain[:, 1, 0] = 1.0, m, (m * m - 1) / r
        strain[:, 2, 2], strain[:, 2, 3] = m * m / r, 1.0
        strain /= r[:, None, None]
        moments[:, 0, 0] = self._ring
        moments[:, 1:, 1:] = positive_part(self.section[:, [[3, 4], [4, 5]]])
        return np.asarray(self.stretches.modulus[:, None, None] * (strain.swapaxes(-1, -2) @ moments @ strain))

    def pull(self, order: OrderTerms) -> Array:
        """Loads (A, 4, F), (f_r, f_z, m, T), of the rings from the local functions of each arm's first element."""
        hoop, at, keep = self._hoop(order), self.stretches.motions(order, RING), _living(order)
        pull, arms = np.zeros((len(at), 4, order.dofs.shape[1])), np.arange(len(at))
        for column, k in enumerate(keep.tolist()):
            pull[arms, :, at[:, column]] = hoop[:, [0, 2, 3, 1], k]
        return pull

    def add(self, order: OrderTerms, stiff: Index, heavy: Index, blocks: Blocks) -> None:
        """Add rings, and what stretches gain and lose, to the owners (A,) of each arm's stiffness and mass."""
        stretches, keep = self.stretches, _living(order)
        dofs = np.take_along_axis(order.dofs[stretches.elements[:, 0]], stretches.motions(order, RING), axis=1)
        around = order.around * stretches.place[:, 0]
        blocks.add(stiff, dofs, around[:, None, None] * self._hoop(order)[:, keep[:, None], keep])
        mass = (around * stretches.density * self._ring)[:, None, None] * np.diag(1.0 * (keep < RING.index("b")))
        blocks.add(heavy, dofs, mass)
        arm, place = np.nonzero(stretches.inside)
        elements, first = np.unique(stretches.elements[arm, place], return_index=True)
        arm, place = arm[first], place[first]
        at, line = stretches.line.heavy.at, stretches.line.stiff.at
        inertia, law = self._inertia[:, :, arm, place], self.hoop_law[1:5:3, 1:5:3, arm, place]
        band = order.around * (at.weight * at.r)[elements]
        blocks.add(heavy[arm], order.dofs[elements], element_matrices(order.motion[:, :, elements], inertia, band))
        band = order.around * (line.weight * line.r)[elements]
        hoop = element_matrices(order.strain[1:5:3, :, elements], law, band)
        blocks.add(stiff[arm], order.dofs[elements], hoop)


def _normal(points: Points) -> Array:
    """(A, H, Q, 2)."""
    return np.stack((-points.at.t_z, points.at.t_r), axis=-1)


def _living(order: OrderTerms) -> Index:
    return np.array([k for k, field in enumerate(RING) if order.m or field in AXISYMMETRIC])
