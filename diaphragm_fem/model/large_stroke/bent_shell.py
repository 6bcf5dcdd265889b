"""The shell in equilibrium at large stroke, m = 0: inner forces, swept volume, pressure that follows; the tangent of
any order m."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.model.large_stroke.bent_joints import beside_joints, moments_at_joints, twist_at_joints
from diaphragm_fem.model.large_stroke.bent_meridian import BentMeridian, bend, motions, rate_slope, second_volume
from diaphragm_fem.model.large_stroke.bent_rings import BentRings, bent_rings, winding_law
from diaphragm_fem.model.large_stroke.drawn_order import DrawnOrder
from diaphragm_fem.model.large_stroke.strain_about import forms_about, second_order
from diaphragm_fem.model.law import Elastic, storage_at
from diaphragm_fem.model.quadrature import quadratics
from diaphragm_fem.model.shell.assembly import Numbering, element_matrices
from diaphragm_fem.model.shell.front_face import Posture, swept_volume
from diaphragm_fem.model.shell.line import LinePoints, OrderTerms, ShellLine, end_points
from diaphragm_fem.model.shell.motion import coil_pickup
from diaphragm_fem.model.shell.numbering import AXISYMMETRIC, FIELDS, B, Q, U, W, edges_about, living, numbering_about
from diaphragm_fem.model.shell.rocking import rocking
from diaphragm_fem.model.shell.shell import ShellModel
from diaphragm_fem.model.shell.strain import STRAINS, Field


class About(NamedTuple):
    """A state by its unknowns (n,), an order of the drawn shell, that order as edges lie in the state, and strains
    (8, F, E, 2) and turns (9, F, E, 2) of the local functions about the state."""

    unknowns: Array
    state: BentMeridian
    order: DrawnOrder
    terms: OrderTerms
    strains: Array
    turns: Array


STEPS_ALONG = 12  # chords of an element, where the bent wall is drawn


@dataclass(frozen=True, eq=False)
class BentShell:
    """A shell model free to move far. Unknowns (n,): the free u, w, b of the shell in order 0.

    pressure     in Pa, on the rear face: it pushes toward the front and follows the wall.
    pre_strain   by zone name: the share by which the wall is already stretched, alike in both directions, where it
                 was drawn (from forming, or from clamping a film that was pulled).
    edge_shift   radial motion in m of the held outer edge; 0 leaves it where it was drawn.
    at_hz        the frequency whose storage moduli the walls have as they are moved; None for the reference moduli.
    """

    model: ShellModel
    pressure: float = 0.0
    pre_strain: Mapping[str, float] | None = None
    edge_shift: float = 0.0
    at_hz: float | None = None
    _orders: dict[int, DrawnOrder] = field(default_factory=dict, init=False, repr=False)

    @property
    def line(self) -> ShellLine:
        return self.model.line

    def drawn(self, m: int) -> DrawnOrder:
        """Order m of the drawn shape."""
        if m not in self._orders:
            self._orders[m] = DrawnOrder(self.model, m, self._factors)
        return self._orders[m]

    @property
    def order(self) -> OrderTerms:
        return self.drawn(0).terms

    @property
    def numbering(self) -> Numbering:
        return self.order.numbering

    @property
    def size(self) -> int:
        return self.numbering.size

    @cached_property
    def drive(self) -> Array:
        """Force on the unknowns (n,) per newton on the coil, and the coil's mean axial motion per unknown: the same."""
        return coil_pickup(self.line, self.numbering)

    @cached_property
    def laws(self) -> dict[Material, Array]:
        """The wall's law (8, 8, E, 2) by material, at its reference modulus; zero where a material is not."""
        materials = self.model.design.materials
        found = {x: np.zeros((len(STRAINS), len(STRAINS), *self.weight.shape)) for x in materials}
        walls = self.model.walls
        for number, material in enumerate(materials):
            pick = walls.material == number
            found[material][:, :, walls.elements[pick]] = walls.law[:, :, pick]
        return found

    @cached_property
    def law(self) -> Array:
        """The whole law (8, 8, E, 2) of the walls, as they are moved."""
        return np.sum([factor * law for factor, law in zip(self._factors, self.laws.values(), strict=True)], axis=0)

    @cached_property
    def _factors(self) -> list[float]:
        return [storage_factor(material, self.at_hz) for material in self.model.design.materials]

    def bend(
        self, unknowns: Array, points: LinePoints | None = None, some: Index | slice = slice(None)
    ) -> BentMeridian:
        """The state at the two points per element where strains are taken, or at others, of some elements."""
        points = points or self.line.stiff
        local = self.displacements(unknowns)[self.order.dofs[some]].reshape(-1, len(AXISYMMETRIC), 3)
        value = np.einsum("ekf,feq->keq", local, points.shape)
        slope = np.einsum("ekf,feq->keq", local, points.slope)
        return bend(_field(value), _field(slope), points.at, points.aside)

    def strain(self, state: BentMeridian) -> Array:
        """Elastic strains (8, E, Q) of a state at the points of the stiffness, the pre-strain included."""
        return state.strain + self._pre_strain

    @cached_property
    def winding(self) -> Array:
        """The law (8, 8, E, 2) of windings."""
        return winding_law(self.model.mesh, self.weight.shape[1])

    @cached_property
    def rings(self) -> BentRings | None:
        """Rings of section, plain rings and beads of glue."""
        return bent_rings(self.model, lambda law: 1.0 if self.at_hz is None else storage_at(law, self.at_hz))

    def stress(self, state: BentMeridian) -> Array:
        """Resultants (8, E, Q) of walls and of the windings on them: membrane forces in N/m, moments in N, transverse
        forces in N/m."""
        strain, joints = self.strain(state), self.drawn(0).joints
        stress = np.einsum("ijeq,jeq->ieq", self.law, strain) + np.einsum("ijeq,jeq->ieq", self.winding, state.strain)
        return stress + joints.resultants(strain, self.weight) if joints else stress

    def wall_strain(self, state: BentMeridian) -> Array:
        """Elastic strains (8, E, Q) of the walls alone, less what beside joints these yield."""
        strain, joints = self.strain(state), self.drawn(0).joints
        if joints is None:
            return strain
        law, stress = self.law.transpose(2, 3, 0, 1), joints.resultants(strain, self.weight).transpose(1, 2, 0)
        return strain + np.linalg.solve(law, stress[..., None])[..., 0].transpose(2, 0, 1)

    def forces(self, unknowns: Array) -> Array:
        """Forces (n,) in N that must act from outside to hold the state: inner forces less those of the pressure."""
        inner = self._inner(self.bend(unknowns))
        held = self.numbering.vector(self.order.dofs, inner) + self.drawn(0).fixed @ unknowns
        if self.rings:
            held += self.rings.force(self.raw(unknowns), self.order)
        return np.asarray(held - self.pressure * self.pressed(unknowns) if self.pressure else held)

    def _inner(self, state: BentMeridian) -> Array:
        """Forces (E, F) in N of the walls of a state on their elements' motions of m = 0."""
        rows, _ = forms_about(state, self.line.stiff, 0)
        return np.asarray(np.einsum("ifeq,ieq->ef", rows, self.stress(state) * self.weight))

    def tangent(self, unknowns: Array, m: int = 0) -> csr_matrix:
        """Exact derivative (n, n) of `forces`, in N/m; for m > 0 what holds small motions of that order about the
        state."""
        about = self.about(unknowns, m)
        return csr_matrix(self.tangent_of_walls(about) + self.tangent_of_rest(about))

    def tangent_of_walls(self, about: About) -> csr_matrix:
        """Of it what walls, windings, their stress and the pressure hold; for m >= 2 of the second degree in m, beside
        joints of the fourth."""
        order = about.order
        blocks = element_matrices(about.strains, self.law + self.winding, order.weight)
        form = second_order(about.state, self.stress(about.state), order.m)
        blocks += element_matrices(about.turns, form, order.weight) + self.at_joints(about)
        if self.pressure:
            blocks -= self.pressure * self.second_pressed(about)
        return about.terms.numbering.matrices(about.terms.dofs, blocks)[0]

    def tangent_of_rest(self, about: About) -> csr_matrix:
        """Of it what joints, rings and supports hold."""
        held, joints = about.order.fixed, about.order.joints
        if joints:
            held = held + joints.stiffness(about.strains, about.terms)
        if self.rings:
            held = held + self.rings.stiffness(self.raw(about.unknowns), about.terms)
        return csr_matrix(held)

    def about(self, unknowns: Array, m: int) -> About:
        """A state and the small motions of order m about it."""
        state, order, mesh, line = self.bend(unknowns), self.drawn(m), self.model.mesh, self.line
        if m == 0:
            return About(unknowns, state, order, order.terms, *forms_about(state, line.stiff, m))
        u, _, w, b, _ = self.raw(unknowns)
        edges = list(edges_about(mesh, m, u, b))
        terms = order.terms._replace(numbering=numbering_about(mesh, order.terms.numbering, edges))
        forms = forms_about(state, line.stiff, m, self._rocking(u, w, b) if m == 1 else None)
        for (piece, end), _, along in edges:
            of_w, of_q, element = 3 * W + end, 3 * Q + end, mesh.elements[piece].stop - 1 if end else 0
            for own in forms:
                own[:, of_w, element] += along * own[:, of_q, element]
        twist_at_joints(self.model, m, u, forms)
        return About(unknowns, state, order, terms, *forms)

    def _rocking(self, u: Array, w: Array, b: Array) -> Array:
        """A rocking of m = 1 by the local functions (15, E) about where nodes went by u, w and b (N,)."""
        at, turned = self.line.nodal, b[self.model.mesh.nodes]
        out, up = (x[self.model.mesh.nodes] for x in (u, w))
        t_r = at.t_r * np.cos(turned) + at.t_z * np.sin(turned)
        return rocking(at.r - self.line.stiff.aside.T + out, at.z + up, t_r)

    def at_joints(self, about: About) -> Array:
        """Element matrices (E, F, F), in N/m, of what moments of the state work at joints in second order."""
        (elements, ends), m, (count, size) = self._at_joints, about.order.m, about.terms.dofs.shape
        if not m or not len(elements):
            return np.zeros((count, size, size))
        points = end_points(self.model.mesh, elements, ends)
        _, turns = forms_about(self.bend(about.unknowns, points, elements), points, m)
        moment = self._inner(about.state)[elements, 3 * AXISYMMETRIC.index("b") + ends]
        return moments_at_joints(count, elements, turns[..., 0], moment)

    @cached_property
    def _at_joints(self) -> tuple[Index, Index]:
        return beside_joints(self.model.mesh)

    def second_pressed(self, about: About) -> Array:
        """Element matrices (E, F, F), in m, of the volume that a pressure pushes on to second order, of m = 0 as the
        slope of the first: it takes as much off the stiffness."""
        heavy, m = self.line.heavy, about.order.m
        state, moved = self.bend(about.unknowns, heavy), motions(heavy, living(m))
        form = second_volume(state, m) if m else rate_slope(state)
        return element_matrices(moved, form, self.band / (2 if m else 1))

    def swept(self, unknowns: Array) -> tuple[Array, Array]:
        """Swept volume per motion about the state, (Z, n) in m2 by zone, and the area (Z,) in m2 that each zone sweeps
        per metre of axial motion of everything: of the front face as in `ShellModel.swept`."""
        return swept_volume(self.line, self.order, self.model.corrected, self.lies(unknowns))

    def pressed(self, unknowns: Array) -> Array:
        """Volume (n,) in m2 that the middle of walls that radiate sweeps per motion: what a pressure pushes on."""
        return np.asarray(swept_volume(self.line, self.order, False, self.lies(unknowns))[0].sum(axis=0))

    def lies(self, unknowns: Array) -> Posture:
        """How the meridian lies in a state."""
        stiff, raw = self.bend(unknowns), self.raw(unknowns)
        strain, _ = forms_about(stiff, self.line.stiff, 0)
        return Posture(self.bend(unknowns, self.line.heavy), stiff, strain, raw[U], raw[B])

    def lines(self, unknowns: Array) -> list[Array]:
        """The bent middle of the wall (N, 2) in m, piece by piece, smooth within each element."""
        mesh, raw = self.model.mesh, self.displacements(unknowns)
        x = np.linspace(0, 1, STEPS_ALONG + 1)
        found = []
        for piece, elements, stations in zip(mesh.pieces, mesh.elements, mesh.stations, strict=True):
            s = stations[:-1, None] + np.diff(stations)[:, None] * x
            fields = (raw[mesh.nodes[:, elements] + k * self.line.nodes] for k in (U, W))
            moved = [np.einsum("fe,fx->ex", field, quadratics(x)) for field in fields]
            found.append((piece.curve.point(s) + np.stack(moved, axis=-1)).reshape(-1, 2))
        return found

    def displacements(self, unknowns: Array) -> Array:
        """Raw degrees of freedom (fields times nodes) of a state, the shifted edge included."""
        free = self.numbering.unknown >= 0
        raw = np.zeros(len(free))
        raw[free] = unknowns[self.numbering.unknown[free]] * self.numbering.factor[free]
        if self.edge_shift:
            mesh = self.model.mesh
            outer = (len(mesh.design.meridian) - 1, 1)
            met = next(ends for ends in mesh.joints if outer in ends)  # a former may hang there
            raw[[mesh.vertex(end) for end in met]] = self.edge_shift
        return raw

    def raw(self, unknowns: Array) -> Array:
        """The same field by field (5, N)."""
        return self.displacements(unknowns).reshape(len(FIELDS), -1)

    @property
    def weight(self) -> Array:
        """Quadrature weight (E, 2) times 2 pi R ds, in m2."""
        return self.drawn(0).weight

    @cached_property
    def band(self) -> Array:
        """Quadrature weight (E, 3) times 2 pi ds, in m; zero where the wall does not radiate."""
        return np.asarray(2 * np.pi * self.line.heavy.at.weight * self.line.radiates[:, None])

    @cached_property
    def _pre_strain(self) -> Array:
        given = self.pre_strain or {}
        share = np.array([given.get(zone.name, 0.0) for zone in self.model.design.zones])
        rows = np.zeros((len(STRAINS), *self.weight.shape))
        rows[:2] = share[self.line.zone_of_element][:, None]
        return rows


def storage_factor(material: Material, at_hz: float | None) -> float:
    """Storage modulus at a frequency over the reference modulus; 1 for None."""
    return 1.0 if at_hz is None else storage_at(Elastic(material), at_hz)


def _field(values: Array) -> Field:
    return Field(**dict(zip(AXISYMMETRIC, values, strict=True)))
