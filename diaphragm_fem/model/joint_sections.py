"""The section that a joint has more or less than its walls have, and what it weighs and holds around.

More section sits as a ring at the joint: its mass, and the hoop strain

    (u + m v + dr (m^2 - 1) u/r + dz (b + m^2 w/r))/r

at the place (dr, dz) from it (the motion around follows from no shear in the ring): the area with the first two terms,
and of the second moments, less those of the stretches' change, what is not negative with the others. Less section, and
that the excess does not lie at the joint itself, thin or thicken the section of the stretch beside it, where a wall's
material counts

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
    from diaphragm_fem.model.line_points import LinePoints
    from diaphragm_fem.model.shell_line import ShellLine


MOST_TAKEN = 0.8  # of a wall's section at any place


@dataclass(frozen=True, eq=False)
class JointSections:
    """Excess sections (A, 6), integrals of 1, r, z, r^2, r z, z^2 from the joint, of the arms of some stretches, and
    the W walls of one layer that these are among."""

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
    def _slope(self) -> tuple[Array, Array]:
        """a, and b in 1/m (A, 3), and the second moments (A, 2, 2) in m4 that the stretches gain by them."""
        stretches, elements, points = self.stretches, self.stretches.elements, self.line.stiff
        inside = np.arange(elements.shape[1]) < stretches.length[:, None]
        wall, h = self.walls.stiff[self.at_walls], stretches.thickness
        place, across = np.ones((*wall.shape, 3)), np.empty((*wall.shape, 2))
        place[..., 1:] = -stretches.place[stretches.joint_of_arm][:, None, None]
        place[..., 1] += points.at.r[elements]
        place[..., 2] += points.z[elements]
        across[..., 0], across[..., 1] = -points.at.t_z[elements], points.at.t_r[elements]
        place[..., 1:] /= h[:, None, None, None]
        across *= (wall / (np.sqrt(12) * h[:, None, None]))[..., None]
        area = (wall * points.at.weight[elements] * inside[..., None]).reshape(len(h), -1, 1)
        place, across = place.reshape(len(h), -1, 3), across.reshape(len(h), -1, 2)
        moments = place.swapaxes(-1, -2) @ (area * place)
        moments[:, 1:, 1:] += across.swapaxes(-1, -2) @ (area * across)
        wanted = self.section[:, :3].copy()
        wanted[:, 0] -= self.ring
        wanted[:, 1:] /= h[:, None]
        found = np.asarray(np.linalg.solve(moments, wanted[..., None]), float)
        middle, slope, place = area * (place @ found), area * (across @ found[:, 1:]), place[..., 1:]
        mixed = place.swapaxes(-1, -2) @ (slope * across)
        second = place.swapaxes(-1, -2) @ (middle * place) + across.swapaxes(-1, -2) @ (middle * across)
        second += mixed + mixed.swapaxes(-1, -2)
        found[:, 1:] /= h[:, None, None]
        return found[..., 0], second * (h**2)[:, None, None]

    @cached_property
    def _by_wall(self) -> Array:
        """l = c . (1, r, z) of every wall (W, 3), of an element in two stretches that of both."""
        stretches, slope = self.stretches, self._slope[0].copy()
        slope[:, 0] -= (slope[:, 1:] * stretches.place[stretches.joint_of_arm]).sum(axis=1)
        arm = np.repeat(np.arange(len(slope)), stretches.length)
        inside = np.arange(self.at_walls.shape[1]) < stretches.length[:, None]
        total = np.zeros((len(self.walls.elements), 3))
        np.add.at(total, self.at_walls[inside], slope[arm])
        return total

    def change(self, law: Array, inertia: Array) -> None:
        """Add what the stretches gain or lose to law (8, 8, W, 2) and inertia (5, 5, W, 3) of the walls."""
        walls, stiff = self.walls, self.walls.stiff
        middle, slope = self._spread(self.line.stiff, stiff)
        hoop, bent = walls.modulus * stiff, walls.modulus / 12 * stiff**3
        law[1, 1] += hoop * middle
        law[4, 4] += bent * middle
        bent *= slope
        law[1, 4] += bent
        law[4, 1] += bent
        heavy, at, pick = walls.heavy, self.line.heavy.at, walls.elements
        middle, slope = self._spread(self.line.heavy, heavy)
        mass, bent = walls.density * heavy, walls.density / 12 * heavy**3
        diagonal = np.einsum("kkeq->keq", inertia)
        diagonal[:3] += mass * middle
        diagonal[3:] += bent * middle
        bent *= slope
        for motion, rotation, gain in ((1, 4, bent), (0, 3, bent * at.t_r[pick]), (2, 3, bent * at.t_z[pick])):
            inertia[motion, rotation] += gain
            inertia[rotation, motion] += gain

    def _spread(self, points: LinePoints, wall: Array) -> tuple[Array, Array]:
        """l on the mid-line of every wall, and its slope in 1/m through the wall, (W, Q)."""
        c, pick = self._by_wall[:, :, None], self.walls.elements
        middle = np.maximum(c[:, 0] + c[:, 1] * points.at.r[pick] + c[:, 2] * points.z[pick], -MOST_TAKEN)
        slope = c[:, 2] * points.at.t_r[pick] - c[:, 1] * points.at.t_z[pick]
        most = 2 * (middle + MOST_TAKEN) / wall
        return middle, np.maximum(np.minimum(slope, most), -most)

    def hoop(self, m: int) -> Array:
        """Stiffness (A, N, N) of the rings on the motions LOADED that live, per metre of circle."""
        r = self.stretches.place[self.stretches.joint_of_arm, 0]
        strain, moments = np.zeros((len(r), 3, 4)), np.zeros((len(r), 3, 3))  # of u, w, b, v
        strain[:, 0, 0], strain[:, 0, 3], strain[:, 1, 0] = 1.0, m, (m * m - 1) / r
        strain[:, 2, 1], strain[:, 2, 2] = m * m / r, 1.0
        strain /= r[:, None, None]
        moments[:, 0, 0] = self.ring
        moments[:, 1:, 1:] = positive_part(self.section[:, [[3, 4], [4, 5]]] - self._slope[1])
        modulus = self.walls.modulus[self.at_walls[:, 0]]
        whole = modulus[..., None] * (strain.swapaxes(-1, -2) @ moments @ strain)
        keep = len([x for x in LOADED if m or x in AXISYMMETRIC])
        return np.asarray(whole[:, :keep, :keep])

    def mass(self, m: int) -> Array:
        """Mass (A, N, N) of the rings on the same motions, in kg per metre of circle."""
        moves = [1.0 * (x != "b") for x in LOADED if m or x in AXISYMMETRIC]
        return (self.walls.density[self.at_walls[:, 0], 0] * self.ring)[:, None, None] * np.diag(moves)
