"""The section that a joint has more or less than its walls have, and what it weighs and holds around.

More section sits as a ring at the joint: its mass, and the hoop strain

    (u + m v + dr (m^2 - 1) u/r + dz (b + m^2 w/r))/r

at the place (dr, dz) from it (the motion around follows from no shear in the ring): the area with the first two terms,
and of the second moments, less those of the stretches' change, what is not negative with the others. Less section, and
that the excess does not lie at the joint itself, thin or thicken the section of the stretch beside it, where a wall's
material counts

    1 + l,   l = a + b . x + c (t . x)^2,   x the place (r, z) from the joint, t the direction of the wall,

times in hoop stiffness, twist and mass, so that the integrals of 1, r, z, (t . x)^2 over the section are the joint's. l
is held above -MOST_TAKEN everywhere, by less of the square where that is enough: neither stiffness nor mass is ever
lost. (Shear in the plane of the wall is the compliance's of the joint.) (Without the square a former that ended in a
thick wall bent around up to 0.3 % too stiffly, m = 2 to 4.)
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
NO_SQUARE = 1e-6  # of what a square along a stretch holds: one element is too short to tell it from a slope


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
    def _shape(self) -> tuple[Array, Array]:
        """l = found . (1, r, z, r^2, r z, z^2) from the joint (A, 6), in 1/m and 1/m2, and the second moments (A, 2, 2)
        in m4 that the stretches gain by it."""
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
        square = (place[..., 1:] @ stretches.direction[..., None]) ** 2
        wanted = np.empty((len(h), 3, 2))
        wanted[..., 0] = self.section[:, :3]
        wanted[:, 0, 0] -= self.ring
        wanted[:, 1:, 0] /= h[:, None]
        wanted[..., 1:] = place.swapaxes(-1, -2) @ (area * square)
        found = np.asarray(np.linalg.solve(moments, wanted), float)
        linear, even = place @ found[..., :1], square - place @ found[..., 1:]
        own = (area * square * even).sum(axis=(1, 2))
        missing = (self._along - (area * square * linear).sum(axis=(1, 2)) * h**2) / h**2
        more = np.where(own > NO_SQUARE * (area * square**2).sum(axis=(1, 2)), missing, 0.0)
        more = np.divide(more, own, out=np.zeros_like(own), where=more != 0)[:, None, None]
        fall = np.maximum(-more * even, 0.0)
        room = np.maximum(linear + MOST_TAKEN, 0.0)
        more *= np.minimum(np.divide(room, fall, out=np.ones_like(fall), where=fall > room), 1.0).min(axis=1)[..., None]
        middle, flat = area * (linear + more * even), found[..., 0] - more[..., 0] * found[..., 1]
        slope, place = area * (across @ flat[:, 1:, None]), place[..., 1:]
        mixed = place.swapaxes(-1, -2) @ (slope * across)
        second = place.swapaxes(-1, -2) @ (middle * place) + across.swapaxes(-1, -2) @ (middle * across)
        second += mixed + mixed.swapaxes(-1, -2)
        t_r, t_z = stretches.direction.T
        curved = more[:, :, 0] * np.stack((t_r * t_r, 2 * t_r * t_z, t_z * t_z), axis=1)
        flat[:, 1:] /= h[:, None]
        return np.hstack((flat, curved / h[:, None] ** 2)), second * (h**2)[:, None, None]

    @property
    def _along(self) -> Array:
        """(A,) the excess of the second moment along each wall, in m4."""
        t_r, t_z = self.stretches.direction.T
        return np.asarray((self.section[:, 3:] * np.stack((t_r**2, 2 * t_r * t_z, t_z**2), axis=1)).sum(axis=1))

    @cached_property
    def _by_wall(self) -> Array:
        """l = c . (1, r, z, r^2, r z, z^2) of every wall (W, 6), of an element in two stretches that of both."""
        stretches, shape = self.stretches, self._shape[0].copy()
        r, z = stretches.place[stretches.joint_of_arm].T
        _, b_r, b_z, rr, rz, zz = self._shape[0].T
        shape[:, 0] += -b_r * r - b_z * z + rr * r * r + rz * r * z + zz * z * z
        shape[:, 1] -= 2 * rr * r + rz * z
        shape[:, 2] -= 2 * zz * z + rz * r
        arm = np.repeat(np.arange(len(shape)), stretches.length)
        inside = np.arange(self.at_walls.shape[1]) < stretches.length[:, None]
        total = np.zeros((len(self.walls.elements), 6))
        np.add.at(total, self.at_walls[inside], shape[arm])
        return total

    def change(self, law: Array, inertia: Array) -> None:
        """Add what the stretches gain or lose to law (8, 8, W, 2) and inertia (5, 5, W, 3) of the walls."""
        walls, stiff = self.walls, self.walls.stiff
        middle, slope = self._spread(self.line.stiff, stiff)
        hoop, bent = walls.modulus * stiff, walls.modulus / 12 * stiff**3
        law[1, 1] += hoop * middle
        law[4, 4] += bent * middle
        law[5, 5] *= 1 + middle
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
        c, pick = self._by_wall.T[:, :, None], self.walls.elements
        r, z = points.at.r[pick], points.z[pick]
        whole = c[0] + c[1] * r + c[2] * z + c[3] * r * r + c[4] * r * z + c[5] * z * z
        middle = np.maximum(whole, -MOST_TAKEN)
        slope = (c[2] + c[4] * r + 2 * c[5] * z) * points.at.t_r[pick]
        slope -= (c[1] + 2 * c[3] * r + c[4] * z) * points.at.t_z[pick]
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
        moments[:, 1:, 1:] = positive_part(self.section[:, [[3, 4], [4, 5]]] - self._shape[1])
        modulus = self.walls.modulus[self.at_walls[:, 0]]
        whole = modulus[..., None] * (strain.swapaxes(-1, -2) @ moments @ strain)
        keep = len([x for x in LOADED if m or x in AXISYMMETRIC])
        return np.asarray(whole[:, :keep, :keep])

    def mass(self, m: int) -> Array:
        """Mass (A, N, N) of the rings on the same motions, in kg per metre of circle."""
        moves = [1.0 * (x != "b") for x in LOADED if m or x in AXISYMMETRIC]
        return (self.walls.density[self.at_walls[:, 0], 0] * self.ring)[:, None, None] * np.diag(moves)
