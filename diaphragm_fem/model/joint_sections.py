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

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.elasticity import OneLayer
from diaphragm_fem.model.joint_shares import positive_part
from diaphragm_fem.model.joint_stretches import LOADED, Stretches
from diaphragm_fem.model.numbering import AXISYMMETRIC

if TYPE_CHECKING:
    from diaphragm_fem.model.shell_line import ShellLine


MOST_TAKEN = 0.8  # of a wall's section at any place


@dataclass(frozen=True, eq=False)
class JointSections:
    """Excess sections (A, 6), integrals of 1, r, z, r^2, r z, z^2 from the joint, of the arms of some stretches; first
    (A,) is the place of an arm's first element among the walls."""

    line: ShellLine
    walls: OneLayer
    stretches: Stretches
    section: Array

    @cached_property
    def at_walls(self) -> Index:
        """Places (A, H) of the stretches' elements among the walls."""
        return np.searchsorted(self.walls.elements, self.stretches.elements)

    @cached_property
    def ring(self) -> Array:
        """(A,) in m2."""
        return np.maximum(self.section[:, 0], 0.0)

    @cached_property
    def _spread(self) -> tuple[Index, Array, Array]:
        """Places (E,) of elements among the walls, l on their mid-line and its slope in 1/m through the wall (E, 5), at
        the points of stiffness, then those of mass; where an element is in two stretches, of them both."""
        stretches, line, elements = self.stretches, self.line, self.stretches.elements
        both = (line.stiff, line.heavy)
        r, z, t_r, t_z = (
            np.concatenate([pick(x)[elements] for x in both], axis=-1)
            for pick in (lambda x: x.at.r, lambda x: x.z, lambda x: x.at.t_r, lambda x: x.at.t_z)
        )
        h = stretches.thickness
        inverse = (1 / h)[:, None, None]
        origin = stretches.place[stretches.joint_of_arm]
        place = np.stack(
            (np.ones_like(r), (r - origin[:, :1, None]) * inverse, (z - origin[:, 1:, None]) * inverse), axis=-1
        )
        across = np.stack((np.zeros_like(r), -t_z * inverse, t_r * inverse), axis=-1)
        wall = self.walls.stiff[self.at_walls]
        inside = np.arange(elements.shape[1]) < stretches.length[:, None]
        area = wall * line.stiff.at.weight[elements] * inside[..., None]

        first, second = ((x[..., :2, :] * 1.0).reshape(len(h), -1, 3) for x in (place, across))
        area, through = area.reshape(len(h), -1, 1), (wall**2 / 12).reshape(len(h), -1, 1)
        moments = first.swapaxes(-1, -2) @ (area * first) + second.swapaxes(-1, -2) @ (area * through * second)
        wanted = self.section[:, :3] / np.stack((np.ones_like(h), h, h), axis=1)
        wanted[:, 0] -= self.ring
        slope = np.linalg.solve(moments, wanted[..., None])[:, None]
        touched, number = np.unique(self.at_walls[inside], return_inverse=True)
        total = np.zeros((2, len(touched), r.shape[-1]))
        for own, value in zip(total, (place, across), strict=True):
            np.add.at(own, number, (value @ slope)[inside][..., 0])
        wall = np.concatenate((self.walls.stiff[touched], self.walls.heavy[touched]), axis=1)
        middle = np.maximum(total[0], -MOST_TAKEN)
        most = 2 * (middle + MOST_TAKEN) / wall
        return touched, middle, np.clip(total[1], -most, most)

    def change(self, law: Array, inertia: Array) -> None:
        """Add what the stretches gain or lose to law (8, 8, W, 2) and inertia (5, 5, W, 3) of the walls."""
        touched, middle, slope = self._spread
        pick = self.walls.elements[touched]
        h = self.walls.stiff[touched]
        hoop, bent = self.walls.modulus[touched] * h, self.walls.modulus[touched] * (h**3 / 12)
        law[1, 1, touched] += hoop * middle[:, :2]
        law[4, 4, touched] += bent * middle[:, :2]
        for i, k in ((1, 4), (4, 1)):
            law[i, k, touched] += bent * slope[:, :2]
        h, at = self.walls.heavy[touched], self.line.heavy.at
        mass, bent = self.walls.density[touched] * h, self.walls.density[touched] * (h**3 / 12)
        for k in range(5):
            inertia[k, k, touched] += (mass if k < 3 else bent) * middle[:, 2:]
        bent = bent * slope[:, 2:]
        for motion, rotation, gain in ((1, 4, bent), (0, 3, bent * at.t_r[pick]), (2, 3, bent * at.t_z[pick])):
            inertia[motion, rotation, touched] += gain
            inertia[rotation, motion, touched] += gain

    def hoop(self, m: int) -> Array:
        """Stiffness (A, N, N) of the rings on the motions LOADED that live, per metre of circle."""
        r = self.stretches.place[self.stretches.joint_of_arm, 0]
        strain, moments = np.zeros((len(r), 3, 4)), np.zeros((len(r), 3, 3))  # of u, w, b, v
        strain[:, 0, 0], strain[:, 0, 3], strain[:, 1, 0] = 1.0, m, (m * m - 1) / r
        strain[:, 2, 1], strain[:, 2, 2] = m * m / r, 1.0
        strain /= r[:, None, None]
        moments[:, 0, 0] = self.ring
        moments[:, 1:, 1:] = positive_part(self.section[:, [[3, 4], [4, 5]]])
        modulus = self.walls.modulus[self.at_walls[:, 0]]
        whole = modulus[..., None] * (strain.swapaxes(-1, -2) @ moments @ strain)
        keep = len([x for x in LOADED if m or x in AXISYMMETRIC])
        return np.asarray(whole[:, :keep, :keep])

    def mass(self, m: int) -> Array:
        """Mass (A, N, N) of the rings on the same motions, in kg per metre of circle."""
        moves = [1.0 * (x != "b") for x in LOADED if m or x in AXISYMMETRIC]
        return (self.walls.density[self.at_walls[:, 0], 0] * self.ring)[:, None, None] * np.diag(moves)
