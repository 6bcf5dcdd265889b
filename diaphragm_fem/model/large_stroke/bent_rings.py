"""Rings that move far: what section a joint has more than its walls, a plain ring, beads of glue.

A ring turns with its node by the vector (b, rest): b about the circle, the rest as the circle turns, for a ring is not
sheared. Triads d1 along the circle x(theta), d2 and d3 drawn along r and z, R its drawn radius, strain it by

    e = |x,th|/R - 1      k_r = (d2,th . d1 - |x,th|/R)/R      k_z = d3,th . d1/R      (e + dr k_r + dz k_z at (dr, dz))

and twist it by d2,th . d3/R, which no shift or turn changes and which small motions of the drawn shape make what
`joint.sections` has. Turned by b0 (C, S its cosine and sine) to the radius r, d2,th . d1 = S W_r + C W_z and d3,th . d1
= S W_z - C W_r, W the rate at which a triad turns along the circle. With y = (m u + v)/r and x = m w/r, small motions
change to first and second order

    |x,th|: u + m v,  r (x^2 + y^2)/2      W_r: -b - m x,  -(x/2 + m b) y      W_z: m y,  -(x^2 + b^2)/2 - m b x

and the twist to first order by (m b + x)/R: no state is twisted, so nothing works on its second order (derived here,
from exp(theta); `tests/model/test_bent_rings.py` turns triads).
"""

from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.glued.bead import bead_section
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.law import Constant, Elastic, Law
from diaphragm_fem.model.rings import GLUE
from diaphragm_fem.model.shell.assembly import Blocks
from diaphragm_fem.model.shell.line import OrderTerms
from diaphragm_fem.model.shell.numbering import FIELDS, B, U, living
from diaphragm_fem.model.shell.shell import ShellModel
from diaphragm_fem.model.shell.strain import STRAINS

MOVES = ("u", "v", "w", "b")


class Owner(NamedTuple):
    """Whose a ring is: number of its zone, -1 for none, the law and the name of what it is made of."""

    zone: int
    law: Law
    made_of: str


class BentRings(NamedTuple):
    """Rings (K,) of O owners: owner (K,), node (K,), drawn radius (K,) in m, moments (K, 3, 3), integrals of the
    reference modulus over products of 1, dr, dz, from N to N m2, what holds a twist (K,) in N m2, and how many times
    that is as they are moved (K,)."""

    owners: Sequence[Owner]
    owner: Index
    node: Index
    radius: Array
    moments: Array
    twist: Array
    factor: Array

    def force(self, raw: Array, order: OrderTerms) -> Array:
        """Forces (n,) in N on the unknowns of m = 0 that hold the state in which nodes moved by raw (5, N)."""
        values = self._stress(raw)[:, None] @ self._about(raw, 0)[0] * self._around(order)
        return order.numbering.vector(self._dofs(raw, 0), values[:, 0])

    def stiffness(self, raw: Array, order: OrderTerms) -> csr_matrix:
        """Tangent (n, n) of any order about such a state."""
        held, stress = self._blocks(raw, order)
        return order.numbering.matrices(self._dofs(raw, order.m), self.factor[:, None, None] * held + stress)[0]

    def by_owner(self, raw: Array, order: OrderTerms) -> Iterator[tuple[Owner, csr_matrix, csr_matrix]]:
        """The same told apart: what each owner's rings hold at the reference modulus, and what their stress does."""
        blocks = Blocks(order.numbering, len(self.owners), 2)
        blocks.add(self.owner, self._dofs(raw, order.m), *self._blocks(raw, order))
        return zip(self.owners, *blocks.sums(), strict=True)

    def _blocks(self, raw: Array, order: OrderTerms) -> tuple[Array, Array]:
        (first, second), around = self._about(raw, order.m), self._around(order)
        held = around * (first.mT @ self.moments @ first)
        if order.m:
            rate = self._twisted(raw, order.m)
            held += around * self.twist[:, None, None] * rate[:, :, None] * rate[:, None]
        return held, around * np.einsum("ki,kiab->kab", self._stress(raw), second)

    def _around(self, order: OrderTerms) -> Array:
        return np.asarray(order.around * self.radius[:, None, None])

    def strain(self, raw: Array) -> Array:
        """e, k_r and k_z (K, 3) of such a state."""
        length = self.radius + raw[U, self.node]
        state = np.stack((length, 0 * length, 0 * length + 1), axis=1)
        return np.asarray(np.einsum("kij,kj->ki", self._turned(raw), state) - (1, 0, 0))

    def _stress(self, raw: Array) -> Array:
        """What works on these, (K, 3)."""
        return np.asarray(self.factor[:, None] * np.einsum("kij,kj->ki", self.moments, self.strain(raw)))

    def _turned(self, raw: Array) -> Array:
        """What |x,th|, W_r and W_z are of the strains, (K, 3, 3)."""
        found, r, b = np.zeros((len(self.node), 3, 3)), self.radius, raw[B, self.node]
        found[:, 0, 0], found[:, 1, 0] = 1 / r, -1 / r**2
        found[:, 1, 1] = found[:, 2, 2] = np.sin(b) / r
        found[:, 1, 2] = np.cos(b) / r
        found[:, 2, 1] = -found[:, 1, 2]
        return found

    def _about(self, raw: Array, m: int) -> tuple[Array, Array]:
        """Strains (K, 3, F) of the small motions MOVES that live, to first order, and forms (K, 3, F, F) of those to
        second order: x^T form x is twice these."""
        r = (self.radius + raw[U, self.node])[:, None]
        u, v, w, b = np.broadcast_to(np.eye(len(MOVES))[:, None], (len(MOVES), len(r), len(MOVES)))
        y, x = (m * u + v) / r, m * w / r
        first = np.stack((u + m * v, -b - m * x, m * y), axis=1)
        length = r[..., None] * (_both(x, x) + _both(y, y)) / 2
        about_r, about_z = -_both(x / 2 + m * b, y), -(_both(x, x) + _both(b, b)) / 2 - m * _both(b, x)
        turned, own = self._turned(raw), [k for k, name in enumerate(MOVES) if name in living(m)]
        second = np.einsum("kij,kjab->kiab", turned, np.stack((length, about_r, about_z), axis=1))
        return (turned @ first)[..., own], second[..., own, :][..., own]

    def _twisted(self, raw: Array, m: int) -> Array:
        """The twists (K, 4) of the small motions MOVES of m > 0, in rad/m."""
        found = np.zeros((len(self.node), len(MOVES)))
        found[:, MOVES.index("b")] = m / self.radius
        found[:, MOVES.index("w")] = m / (self.radius * (self.radius + raw[U, self.node]))
        return found

    def _dofs(self, raw: Array, m: int) -> Index:
        """Raw degrees of freedom (K, F) of these motions."""
        fields = [FIELDS.index(name) for name in MOVES if name in living(m)]
        return np.asarray(self.node[:, None] + raw.shape[1] * np.array(fields))


def _both(first: Array, second: Array) -> Array:
    """The symmetric form (K, F, F) of the product of two functionals (K, F): x^T form x is twice that."""
    product = first[:, :, None] * second[:, None]
    return product + product.mT


def bent_rings(model: ShellModel, factor: Callable[[Law], float]) -> BentRings | None:
    """The rings of a shell, moduli as many times the reference ones as a law says; none where it has none."""
    found = [*_sections(model), *_plain(model), *_beads(model)]
    if not found:
        return None
    owners = list(dict.fromkeys(own for own, *_ in found))
    each, *rings = zip(*found, strict=True)
    of, factors = np.array([owners.index(own) for own in each]), np.array([factor(own.law) for own in each])
    node, radius, moments, twist = map(np.array, rings)
    return BentRings(owners, of, node, radius, moments, twist, factors)


Found = tuple[Owner, int, float, Array, float]  # and the ring's node, radius, moments and what holds a twist


def _sections(model: ShellModel) -> Iterator[Found]:
    """What joints have more than their walls."""
    changes, mesh, materials = model.joint_changes, model.mesh, model.design.materials
    if changes is None:
        return
    stretches, parts = changes.stretches, changes.parts
    moments, twist = changes.sections.ring_moments, changes.sections.ring_twist
    for k in np.flatnonzero(moments.any(axis=(1, 2)) | (twist > 0)).tolist():
        arm, first = parts.arm[k], stretches.elements[parts.arm[k], 0]
        material = materials[model.rows.material[parts.rows[k, 0]]]
        owner = Owner(int(model.line.zone_of_element[first]), Elastic(material), material.name)
        node, place = mesh.nodes[stretches.end[arm], first], stretches.place[stretches.joint_of_arm[arm]]
        yield owner, int(node), float(place[0]), moments[k], float(twist[k])


def _plain(model: ShellModel) -> Iterator[Found]:
    design, mesh = model.design, model.mesh
    if design.ring is None or design.joint is None or design.joint_radius is None:
        return
    law, moments = Constant(1 + 1j * design.ring.loss_factor), np.diag([design.ring.hoop_stiffness, 0.0, 0.0])
    yield Owner(-1, law, "ring"), mesh.vertex(mesh.joints[design.joint][0]), design.joint_radius, moments, 0.0


def _beads(model: ShellModel) -> Iterator[Found]:
    """Glue sits at its section's centroid, of the radius R + dr: strained by (|x,th| + dr d2,th . d1 + dz d3,th . d1)/
    (R + dr) - 1."""
    design, mesh = model.design, model.mesh
    for bead in design.beads:
        end = mesh.joints[design.joint or 0][0]
        r, z = mesh.tip(end).point
        area, at_r, at_z = bead_section(bead)
        arms = np.array((at_r, r * (at_r - r), r * (at_z - z)))
        moments = bead.material.youngs_modulus * area / (at_r * r) * np.outer(arms, arms)
        yield Owner(design.zones.index(bead.zone), Elastic(bead.material), GLUE), mesh.vertex(end), r, moments, 0.0


def winding_law(mesh: MeridianMesh, points: int) -> Array:
    """The law (8, 8, E, Q) of windings at so many points of an element: EA over their length on the hoop strain of
    their own middle, e_th + aside k_th of the line."""
    stiffness, hoop = np.zeros(len(mesh.piece_of_element)), np.zeros((len(STRAINS), len(mesh.piece_of_element)))
    for piece, elements in zip(mesh.pieces, mesh.elements, strict=True):
        if piece.winding is not None:
            stiffness[elements] = piece.winding.hoop_stiffness / piece.curve.length
    hoop[STRAINS.index("e_th")], hoop[STRAINS.index("k_th")] = 1.0, mesh.aside[mesh.piece_of_element]
    return np.repeat((stiffness * hoop[:, None] * hoop)[..., None], points, axis=-1)
