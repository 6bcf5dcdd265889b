"""The section that a joint has more or less than its walls have, and what it weighs and holds around.

More section sits as a ring at the joint: its mass, and the hoop strain

    (u + m v + dr (m^2 - 1) u/r + dz (b + m^2 w/r))/r

at the place (dr, dz) from it (the motion around follows from no shear in the ring): the area with the first two terms,
and of the second moments, less those of the stretches' change, what is not negative with the others. Less section, and
that the excess does not lie at the joint itself, thin or thicken the section of the stretch beside it, where a wall's
material counts

    1 + l,   l = a + b . x + c (t . x)^2,   x the place (r, z) from the joint, t the direction of the wall,

times in hoop stiffness, twist and mass, so that the integrals of 1, r, z, (t . x)^2 over the section are the joint's,
material by material in a laminate. l is held above -MOST_TAKEN everywhere, by less of the square where that is enough:
neither stiffness nor mass is ever lost. (Shear in the plane of the wall is the compliance's of the joint.) (Without the
square a former that ended in a thick wall bent around up to 0.3 % too stiffly, m = 2 to 4.)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.model.joint.shares import positive_part
from diaphragm_fem.model.joint.stretches import LOADED, Stretches
from diaphragm_fem.model.shell.assembly import distinct
from diaphragm_fem.model.shell.elasticity import WallRows
from diaphragm_fem.model.shell.numbering import AXISYMMETRIC

if TYPE_CHECKING:
    from diaphragm_fem.model.shell.line import ShellLine
    from diaphragm_fem.model.shell.shell import Walls


MOST_TAKEN = 0.8  # of a wall's section at any place
NO_SQUARE = 1e-6  # of what a square along a stretch holds; one element cannot tell it from a slope at all


class _Fibres(NamedTuple):
    """Of T walls at Q points along them, those of the stiffness first: heights and widths of F fibres (T, Q, F), places
    (T, Q, 1, 2) on the mid-line and of the fibres (T, Q, F, 2), all in m, and the weights along (T, Q)."""

    height: Array
    width: Array
    middle: Array
    place: Array
    weight: Array


@dataclass(frozen=True, eq=False)
class JointSections:
    """Excess sections (P, 6), integrals of 1, r, z, r^2, r z, z^2 from the joint, of the materials of the arms of some
    stretches; arm (P,), and rows (P, H) of their elements among those of the walls."""

    line: ShellLine
    walls: WallRows
    stretches: Stretches
    arm: Index
    rows: Index
    section: Array

    @cached_property
    def ring(self) -> Array:
        """(P,) in m2."""
        return np.maximum(self.section[:, 0], 0.0)

    @cached_property
    def _touched(self) -> tuple[Index, Index]:
        """Rows (T,) of the walls that change, in order, and the place (P, H) of each element among them."""
        return distinct(self.rows)

    @cached_property
    def _fibres(self) -> _Fibres:
        rows, points, at = self._touched[0], self.line.points, self.line.points.at
        elements = self.walls.elements[rows]
        height, width = (x[rows] for x in self.walls.fibres(at.fraction))
        middle, normal = np.empty((2, *width.shape[:2], 1, 2))
        middle[..., 0, 0], middle[..., 0, 1] = at.r[elements], points.z[elements]
        normal[..., 0, 0], normal[..., 0, 1] = -at.t_z[elements], at.t_r[elements]
        return _Fibres(height, width, middle, middle + height[..., None] * normal, at.weight[elements])

    @property
    def _count(self) -> int:
        """Points of an element at which strains are taken; the others are those of the mass."""
        return int(self.line.stiff.z.shape[1])

    @cached_property
    def _inside(self) -> Flags:
        """(P, H) whether an element is one of its stretch or weighs nothing."""
        return np.arange(self.rows.shape[1]) < self.stretches.length[self.arm, None]

    @cached_property
    def _from_joint(self) -> tuple[Array, Array]:
        """1, r, z (P, H, Q, F, 3) of the fibres of the stretches from their joint, in thicknesses, and (t . x)^2 of the
        mid-line beside them (P, H, Q, 1, 1)."""
        arm, stretches, touched, around = self.arm, self.stretches, self._touched[1], np.s_[:, None, None, None]
        joint, h = stretches.place[stretches.joint_of_arm[arm]][around], stretches.thickness[arm, None][around]
        place = np.ones((*touched.shape, *self._fibres.height.shape[1:], 3))
        place[..., 1:] = (self._fibres.place[touched] - joint) / h
        middle = (self._fibres.middle[touched] - joint) / h
        return place, (middle @ stretches.direction[arm][:, None, None, :, None]) ** 2

    @cached_property
    def _shape(self) -> tuple[Array, Array, Array]:
        """l = found . (1, r, z) + more (t . x)^2 from the joint in thicknesses, (P, 3, 1) and (P, 1, 1), and the second
        moments (P, 2, 2) in m4 that the stretches gain by it."""
        stiff, h = np.s_[:, : self._count], self.stretches.thickness[self.arm]
        area = (self._fibres.width[stiff] * self._fibres.weight[stiff][..., None])[self._touched[1]]
        area *= self._inside[..., None, None]
        place, square = (x[:, *stiff] for x in self._from_joint)
        square = np.broadcast_to(square, (*area.shape, 1)).reshape(len(h), -1, 1)
        area, place = area.reshape(len(h), -1, 1), place.reshape(len(h), -1, 3)
        moments = place.mT @ (area * place)
        wanted = np.empty((len(h), 3, 2))
        wanted[..., 0] = self.section[:, :3]
        wanted[:, 0, 0] -= self.ring
        wanted[:, 1:, 0] /= h[:, None]
        squared = area * square
        wanted[..., 1:] = place.mT @ squared
        found = np.asarray(np.linalg.solve(moments, wanted), float)
        linear, even = place @ found[..., :1], square - place @ found[..., 1:]
        own = (squared * even).sum(axis=(1, 2))
        missing = (self._along - (squared * linear).sum(axis=(1, 2)) * h**2) / h**2
        tells = (own > NO_SQUARE * (squared * square).sum(axis=(1, 2))) & (self.stretches.length[self.arm] > 1)
        more = np.where(tells, missing, 0.0)
        more = np.divide(more, own, out=np.zeros_like(own), where=more != 0)[:, None, None]
        fall = np.maximum(-more * even, 0.0) * (area > 0)
        room = np.maximum(linear + MOST_TAKEN, 0.0)
        more *= np.minimum(np.divide(room, fall, out=np.ones_like(fall), where=fall > room), 1.0).min(axis=1)[..., None]
        gain = area * (linear + more * even) * place[..., 1:]
        second = place[..., 1:].mT @ gain
        return found[..., :1] - more * found[..., 1:], more, second * (h**2)[:, None, None]

    @property
    def _along(self) -> Array:
        """(P,) the excess of the second moment along each wall, in m4."""
        t_r, t_z = self.stretches.direction[self.arm].T
        return np.asarray((self.section[:, 3:] * np.stack((t_r**2, 2 * t_r * t_z, t_z**2), axis=1)).sum(axis=1))

    @cached_property
    def _gain(self) -> Array:
        """l (T, Q, F), of an element in two stretches that of both; where it is held above -MOST_TAKEN, that of the
        middle is first, and then the slope through the wall."""
        flat, more, _ = self._shape
        place, square = self._from_joint
        own = (place @ flat[:, None, None] + more[:, None, None] * square)[..., 0]
        total = np.zeros_like(self._fibres.height)
        np.add.at(total, self._touched[1], own * self._inside[..., None, None])
        width = self._fibres.width
        if (total * (width > 0)).min() > -MOST_TAKEN:
            return total
        mean = (width * total).sum(axis=-1, keepdims=True) / width.sum(axis=-1, keepdims=True)
        through, middle = (total - mean) * (width > 0), np.maximum(mean, -MOST_TAKEN)
        fall, room = -through.min(axis=-1, keepdims=True), middle + MOST_TAKEN
        return middle + through * np.divide(room, fall, out=np.ones_like(fall), where=fall > room)

    def change(self, walls: Walls) -> None:
        """Add what the stretches gain or lose to the laws (8, 8, E, 2) and inertias (5, 5, E, 3) of the walls."""
        rows, count, at = self._touched[0], self._count, self.line.heavy.at
        modulus, nu, density = (x[rows] for x in (self.walls.modulus, self.walls.nu, self.walls.density))
        width, z = self._fibres.width, self._fibres.height
        gained = width * self._gain
        zeroth, one, two = gained.sum(axis=-1), (gained * z).sum(axis=-1), (gained * z * z).sum(axis=-1)
        mean = (width * z).sum(axis=-1) / width.sum(axis=-1)
        twist = ((two - 2 * mean * one + mean**2 * zeroth)[:, :count]) * modulus / (2 * (1 + nu))
        stiff, heavy = (
            [factor * x[:, part] for x in (zeroth, one, two)]
            for factor, part in ((modulus, slice(count)), (density, slice(count, None)))
        )
        zeroth, one, two = stiff
        _add(walls.law, rows, {(1, 1): zeroth, (1, 4): one, (4, 1): one, (4, 4): two, (5, 5): twist})
        (zeroth, one, two), elements = heavy, self.walls.elements[rows]
        couple = {(0, 3): one * at.t_r[elements], (1, 4): one, (2, 3): one * at.t_z[elements]}
        gains = {(k, k): gain for k, gain in enumerate((zeroth, zeroth, zeroth, two, two))}
        _add(walls.inertia, rows, gains | couple | {(k, i): gain for (i, k), gain in couple.items()})

    @cached_property
    def _ring_moments(self) -> Array:
        """Integrals (P, 3, 3) of E for the three terms of the rings' strain."""
        moments = np.zeros((len(self.rows), 3, 3))
        moments[:, 0, 0] = self.ring
        moments[:, 1:, 1:] = positive_part(self.section[:, [[3, 4], [4, 5]]] - self._shape[2])
        return self.walls.modulus[self.rows[:, 0], :, None] * moments

    def hoop(self, m: int) -> Array:
        """Stiffness (P, N, N) of the rings on the motions LOADED that live, per metre of circle."""
        r = self.stretches.place[self.stretches.joint_of_arm[self.arm], 0]
        strain = np.zeros((len(r), 3, 4))  # of u, w, b, v
        strain[:, 0, 0], strain[:, 0, 3], strain[:, 1, 0] = 1.0, m, (m * m - 1) / r
        strain[:, 2, 1], strain[:, 2, 2] = m * m / r, 1.0
        strain = strain[..., : sum(m > 0 or x in AXISYMMETRIC for x in LOADED)] / r[:, None, None]
        return np.asarray(strain.mT @ self._ring_moments @ strain)

    def mass(self, m: int) -> Array:
        """Mass (P, N, N) of the rings on the same motions, in kg per metre of circle."""
        moves = [1.0 * (x != "b") for x in LOADED if m or x in AXISYMMETRIC]
        return (self.walls.density[self.rows[:, 0], 0] * self.ring)[:, None, None] * np.diag(moves)


def _add(law: Array, pick: Index, gains: Mapping[tuple[int, int], Array]) -> None:
    """Add gains (T, Q) to some components of a law (C, C, E, Q) at the elements `pick` (T,), all at once."""
    rows, columns = np.array(list(gains))[..., None].swapaxes(0, 1)
    law[rows, columns, pick] += list(gains.values())
