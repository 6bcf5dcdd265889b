"""The section that a joint has more or less than its walls have, and what it weighs and holds around.

More section sits as a ring at the joint: its mass, and the hoop strain

    (u + m v + dr (m^2 - 1) u/r + dz (b + m^2 w/r))/r

at the place (dr, dz) from it (the motion around follows from no shear in the ring): the area with the first two terms,
and of the second moments, less those of the stretches' change, what is not negative with the others. Less section, and
that the excess does not lie at the joint itself, thin or thicken the section of the stretch beside it, where a wall's
material counts

    1 + l,   l = a + b . x + c (t . x)^2,   x the place (r, z) from the joint, t the direction of the wall,

times in hoop stiffness and mass, so that the integrals of 1, r, z, (t . x)^2 over the section are the joint's,
material by material in a laminate. l is held above -MOST_TAKEN everywhere, by less of the square where that is enough:
neither stiffness nor mass is ever lost. What the joint holds of a twist m (b + w/r)/r more than its walls the ring
does; what it holds less the stretch twists the more for. (Shear in the plane of the wall is the compliance's.)
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.model.joint.shares import positive_part
from diaphragm_fem.model.joint.stretches import LOADED, Stretches
from diaphragm_fem.model.joint.torsion import twist_rate
from diaphragm_fem.model.shell.elasticity import WallRows, add_inertia
from diaphragm_fem.model.shell.numbering import AXISYMMETRIC

if TYPE_CHECKING:
    from diaphragm_fem.model.shell.line import Quadrature
    from diaphragm_fem.model.shell.walls import Walls


MOST_TAKEN = 0.8  # of a wall's section at any place
MOST_TWISTED = 0.4  # of what a wall holds of a twist, that one joint takes: two may share an element
NO_SQUARE = 1e-6  # of what a square along a stretch holds; one element cannot tell it from a slope at all


@dataclass(frozen=True, eq=False)
class JointSections:
    """Excess sections (P, 6), integrals of 1, r, z, r^2, r z, z^2 from the joint, and what holds a twist (P,) in N m2,
    of the materials of the arms of some stretches; arm (P,), and rows (P, H) of their elements among those of the
    walls; line: its quadrature."""

    line: Quadrature
    walls: WallRows
    stretches: Stretches
    arm: Index
    rows: Index
    section: Array
    twist: Array

    @cached_property
    def ring(self) -> Array:
        """(P,) in m2."""
        return np.maximum(self.section[:, 0], 0.0)

    @cached_property
    def _own(self) -> tuple[Index, Index]:
        """The T rows of the walls that lie in a stretch, and which of them those of the parts are (P, H)."""
        own, place = np.unique(self.rows, return_inverse=True)
        return own, place.reshape(self.rows.shape)

    @cached_property
    def _across(self) -> tuple[Array, Array]:
        """Heights and widths (T, Q, F) in m of the fibres of these rows."""
        return self.walls.fibres(self.line.points.at.fraction, self._own[0])

    @property
    def _count(self) -> int:
        """Points of an element at which strains are taken; the others are those of the mass."""
        return int(self.line.stiff.z.shape[1])

    @cached_property
    def _inside(self) -> Flags:
        """(P, H, 1, 1) whether an element is one of its stretch or weighs nothing."""
        return (np.arange(self.rows.shape[1]) < self.stretches.length[self.arm, None])[..., None, None]

    @cached_property
    def _from_joint(self) -> tuple[Array, Array]:
        """1, r, z of the fibres of the stretches from their joint, in thicknesses, and (t . x)^2 of the mid-line beside
        them, (P, H, Q, F, 4); and the area (P, H C F, 1) in m2 that those at the C points of strains stand for."""
        stretches, points, around = self.stretches, self.line.points, np.s_[:, None, None, None]
        joint, h = stretches.place[stretches.joint_of_arm[self.arm]] @ (1, 1j), stretches.thickness[self.arm]
        (height, width), at, (own, place), strained = self._across, points.at, self._own, np.s_[:, : self._count]
        elements = self.walls.elements[own]
        middle, normal, weight = (x[elements, :, None] for x in (at.r + 1j * points.z, 1j * at.t_r - at.t_z, at.weight))
        height = height - self.walls.aside[own, :, None]  # from the curve
        fibre, middle = ((x[place] - joint[around]) / h[around] for x in (middle + height * normal, middle))
        terms = np.ones((*fibre.shape, 4))
        terms[..., 1], terms[..., 2] = fibre.real, fibre.imag
        terms[..., 3] = (middle * stretches.direction[self.arm].conj()[around]).real ** 2
        area = np.asarray((width[strained] * weight[strained])[place] * self._inside, float)
        return terms, area.reshape(len(h), -1, 1)

    @cached_property
    def _shape(self) -> tuple[Array, Array]:
        """l (P, H, Q, F) of the fibres of the stretches, and second moments (P, 2, 2) in m4 that they gain by it."""
        (every, area), h = self._from_joint, self.stretches.thickness[self.arm]
        terms = every[:, :, : self._count].reshape(len(h), -1, 4)
        moments = terms.mT @ (area * terms)
        turn = self._fit(moments)
        fitted = terms @ turn
        square, place = self._square(terms, fitted, moments), terms[..., 1:3]
        gain = fitted[..., :1] + square * fitted[..., 1:]
        second = place.mT @ (area * gain * place) * (h**2)[:, None, None]
        whole = every.reshape(len(h), -1, 4) @ turn
        return (whole[..., 0] + square[..., 0] * whole[..., 1]).reshape(every.shape[:-1]), second

    def _fit(self, moments: Array) -> Array:
        """By how much of each term (P, 4, 2) a + b . x brings the joint's 1, r and z, and the square is without what 1,
        r and z have of it; moments (P, 4, 4) of the terms over the stretches."""
        h = self.stretches.thickness[self.arm]
        wanted, turn = np.empty((len(h), 3, 2)), np.zeros((len(h), 4, 2))
        wanted[..., 0], wanted[..., 1] = self.section[:, :3], moments[:, :3, 3]
        wanted[:, 0, 0] -= self.ring
        wanted[:, 1:, 0] /= h[:, None]
        turn[:, :3], turn[:, 3, 1] = np.linalg.solve(moments[:, :3, :3], wanted) * (1, -1), 1.0
        return turn

    def _square(self, terms: Array, fitted: Array, moments: Array) -> Array:
        """How much (P, 1, 1) of the square brings the joint's second moment along, less where l would fall below
        -MOST_TAKEN."""
        area, h = self._from_joint[1], self.stretches.thickness[self.arm]
        there, own = (area * terms[..., 3:] * fitted).sum(axis=1).T
        tells = (own > NO_SQUARE * moments[:, 3, 3]) & (self.stretches.length[self.arm] > 1)
        more = np.where(tells, self._along / h**2 - there, 0.0)
        more = np.divide(more, own, out=np.zeros_like(own), where=more != 0)[:, None, None]
        fall = np.maximum(-more * fitted[..., 1:], 0.0) * (area > 0)
        room = np.maximum(fitted[..., :1] + MOST_TAKEN, 0.0)
        more *= np.minimum(np.divide(room, fall, out=np.ones_like(fall), where=fall > room), 1.0).min(axis=1)[..., None]
        return np.asarray(more)

    @property
    def _along(self) -> Array:
        """(P,) the excess of the second moment along each wall, in m4."""
        t, (rr, rz, zz) = self.stretches.direction[self.arm], self.section[:, 3:].T
        return np.asarray(t.real**2 * rr + 2 * t.real * t.imag * rz + t.imag**2 * zz)

    @cached_property
    def _gain(self) -> Array:
        """l (T, Q, F), of an element in two stretches that of both; where it is held above -MOST_TAKEN, that of the
        middle is first, and then the slope through the wall."""
        width, (_, place) = self._across[1], self._own
        total = np.zeros_like(width)
        np.add.at(total, place, self._shape[0] * self._inside)
        some = (total * (width > 0)).min(axis=(1, 2)) <= -MOST_TAKEN
        if not some.any():
            return total
        own, width = total[some], width[some]
        mean = (width * own).sum(axis=-1, keepdims=True) / width.sum(axis=-1, keepdims=True)
        through, middle = (own - mean) * (width > 0), np.maximum(mean, -MOST_TAKEN)
        fall, room = -through.min(axis=-1, keepdims=True), middle + MOST_TAKEN
        total[some] = middle + through * np.divide(room, fall, out=np.ones_like(fall), where=fall > room)
        return total

    def change(self, walls: Walls) -> None:
        """Add what the stretches gain or lose to the laws (8, 8, R, 2) and inertias (5, 5, R, 3) of the walls."""
        (z, width), (own, _), count = self._across, self._own, self._count
        powers = np.array((np.ones_like(z), z, z * z))
        moments = np.einsum("rqf,krqf->krq", self._gain * width, powers)
        zeroth, one, two = moments[:, :, :count] * self.walls.modulus[own]
        for i, k, gain in ((1, 1, zeroth), (1, 4, one), (4, 1, one), (4, 4, two)):
            walls.law[i, k, own] += gain
        self._take_twist(walls.law)
        add_inertia(walls.inertia, self.walls, self.line.heavy.at, moments[:, :, count:] * self.walls.density[own], own)

    def _take_twist(self, law: Array) -> None:
        """Take off the law (8, 8, R, 2) of the walls what joints hold less of a twist than these."""
        inside = self._inside[..., 0]
        bends = (law[5, 5] - law[2, 5] ** 2 / law[2, 2])[self.rows] * inside
        held = 4 * (bends * self.line.stiff.at.weight[self.walls.elements[self.rows]]).sum(axis=(1, 2))
        share = np.clip(-self.twist / held, 0.0, MOST_TWISTED)
        np.subtract.at(law[5, 5], self.rows, share[:, None, None] * bends)

    @property
    def ring_twist(self) -> Array:
        """What the rings hold of a twist, (P,) in N m2."""
        return np.maximum(self.twist, 0.0)

    @cached_property
    def ring_moments(self) -> Array:
        """Integrals (P, 3, 3) of E for the three terms of the rings' strain."""
        moments = np.zeros((len(self.rows), 3, 3))
        moments[:, 0, 0] = self.ring
        moments[:, 1:, 1:] = positive_part(self.section[:, [[3, 4], [4, 5]]] - self._shape[1])
        return self.walls.modulus[self.rows[:, 0], :, None] * moments

    def hoop(self, m: int) -> Array:
        """Stiffness (P, N, N) of the rings on the motions LOADED that live, per metre of circle."""
        r = self.stretches.place[self.stretches.joint_of_arm[self.arm], 0]
        strain = np.zeros((len(r), 3, 4))  # of u, w, b, v
        strain[:, 0, 0], strain[:, 0, 3], strain[:, 1, 0] = 1.0, m, (m * m - 1) / r
        strain[:, 2, 1], strain[:, 2, 2] = m * m / r, 1.0
        strain = strain[..., : sum(m > 0 or x in AXISYMMETRIC for x in LOADED)] / r[:, None, None]
        found = np.asarray(strain.mT @ self.ring_moments @ strain)
        if m:
            rate = np.zeros((len(r), 1, len(LOADED)))
            rate[..., [LOADED.index("w"), LOADED.index("b")]] = twist_rate(m, r[:, None, None])
            found += self.ring_twist[:, None, None] * rate.mT * rate
        return found

    def mass(self, m: int) -> Array:
        """Mass (P, N, N) of the rings on the same motions, in kg per metre of circle."""
        moves = [1.0 * (x != "b") for x in LOADED if m or x in AXISYMMETRIC]
        return (self.walls.density[self.rows[:, 0], 0] * self.ring)[:, None, None] * np.diag(moves)
