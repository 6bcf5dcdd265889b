"""Solid model: the wall section in axisymmetric elasticity of any circumferential order m.

Unknowns u radial, v circumferential, w axial; u, w ~ cos(m theta), v ~ sin(m theta). Strains

    e_rr = u,r    e_zz = w,z    e_th = (u + m v)/r    g_rz = u,z + w,r
    g_rth = v,r - (v + m u)/r   g_zth = v,z - m w/r

and energy integral (lambda (tr e)^2/2 + mu e:e) r dr dz times 2 pi for m = 0, pi above. With the integrals of products
of N,r , N,z and N/r the stiffness of a cell is a handful of sums, a polynomial of degree two in m.

Cells are hierarchic quadrilaterals (see `Orders`). The front face sweeps the volume; winding and plain ring sit on the
mid-surface; supports are read as `diaphragm_fem.model.solid.support` says.

Source: Zienkiewicz and Taylor, The Finite Element Method, vol. 2, chapter on axisymmetric bodies under
non-axisymmetric load (named from memory; the tests check the equations against exact solutions).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design, Winding
from diaphragm_fem.design.meridian.edge import Edge
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.mesh.section import Section, mesh_section
from diaphragm_fem.mesh.section_plan import Stretch
from diaphragm_fem.model.law import Elastic
from diaphragm_fem.model.quadrature import gauss
from diaphragm_fem.model.rings import ring_terms, support_term, winding_blocks, winding_terms
from diaphragm_fem.model.shell.numbering import around_circle, edges, held_fields, rigid_mode_count
from diaphragm_fem.model.solid.cells import CellIntegrals, integrals_of
from diaphragm_fem.model.solid.inside import CellMatrices, Following, matrices_of, what_follows
from diaphragm_fem.model.solid.lines import CrossFace, U, V, W, face_of, front_volumes, line_of, mean_along, raw_surface
from diaphragm_fem.model.solid.shapes import Orders, Shapes
from diaphragm_fem.model.solid.support import Reduction, reduce_unknowns, springs
from diaphragm_fem.model.structure import Structure, Surface, Term, body


class MeridianEnd(NamedTuple):
    """One end of the meridian: its face, whether it lies on the axis, its support and the shell unknowns this holds."""

    face: CrossFace
    on_axis: bool
    edge: Edge
    held: list[str]


@dataclass(frozen=True)
class SolidModel:
    """A meshed section ready to give the Structure of any order m: the integrals are done once, orders share them.

    up_to_hz: what a cell has to itself and rings far above it has no unknowns of its own (see `solid.inside`).
    """

    design: Design
    section: Section
    orders: Orders = field(default_factory=Orders)
    up_to_hz: float = 20e3

    @cached_property
    def shapes(self) -> Shapes:
        return Shapes(self.section, self.orders)

    @property
    def whole(self) -> SolidModel:
        """The same model with unknowns of their own inside all cells."""
        found = replace(self, up_to_hz=np.inf)
        vars(found)["shapes"] = self.shapes
        return found

    def structure(self, m: int) -> Structure:
        """Stiffness, mass, drive, pick-up and volume of order m, supports applied; no torsion for m = 0. ModelError for
        a negative m."""
        around = around_circle(m)
        cells, to_free = self.walls(m)
        terms = self._wall_terms(cells, to_free)
        for winding, stretches in self._wound:
            terms += self._winding_terms(winding, stretches, m, around, to_free)
        if self.design.ring is not None and self.design.joint is not None:
            u, v, w = (to_free.row(self._joint_face.mean_of(component)) for component in (U, V, W))
            terms += ring_terms(self.design.ring, u, v, w, float(self.design.joint_radius or 0.0), m, around)
        terms += self._support_terms(around, to_free)
        pickup = to_free.row(self._pickup) if m == 0 else np.zeros(to_free.size)
        volume, area = self._volume(m, to_free)
        return Structure(
            order=m, terms=tuple(terms), zones=self.design.zones, drive=pickup, pickup=pickup, volume=volume,
            zone_area=area, draw_surface=partial(self._surface, to_free),
            rigid_modes=rigid_mode_count(self._meridian, m),
        )  # fmt: skip

    @cached_property
    def _integrals(self) -> list[CellIntegrals]:
        """Cells, what they have to themselves without unknowns but for those a winding goes through."""
        wound = [stretch.cell for _, stretches in self._wound for stretch in stretches]
        return integrals_of(self.shapes, what_follows(self.shapes, self.up_to_hz, np.array(wound, np.int64)))

    def walls(self, m: int) -> tuple[list[CellMatrices], Reduction]:
        """Cells, and what leads from raw degrees of freedom to their unknowns."""
        cells = [matrices_of(own, m, around_circle(m)) for own in self._integrals]
        return cells, self.reduction(m, tuple(x.following for x in cells if x.following.own.size))

    def _wall_terms(self, cells: list[CellMatrices], to_free: Reduction) -> list[Term]:
        """Stiffness and mass of each zone and material."""
        section = self.section
        kinds, owner = np.unique(
            np.column_stack((section.zone_of_cell, section.material_of_cell)), axis=0, return_inverse=True
        )
        owner, terms = owner.ravel(), list[Term]()
        matrices = to_free.matrices(len(kinds), *((owner[x.cells], x.dofs, x.stiffness, x.mass) for x in cells))
        for (zone, number), elastic, inert in zip(kinds.tolist(), *matrices, strict=True):
            material = self.design.materials[number]
            terms += body(elastic, inert, Elastic(material), material.name, zone)
        return terms

    def _winding_terms(
        self, winding: Winding, stretches: list[Stretch], m: int, around: float, to_free: Reduction
    ) -> tuple[Term, Term]:
        position, weight = gauss(self.shapes.top + 1)
        line = line_of(self.shapes, stretches, position)
        share = line.speed * weight
        points = (line.value, share)
        blocks = winding_blocks(winding, float(share.sum()), m, around, (*points, line.place[0]), points)
        nodes = self.shapes.nodes[line.cells]
        dofs = np.stack([3 * nodes + c for c in range(3)], axis=1).reshape(len(nodes), -1)
        (stiffness,), (mass,) = to_free.matrices(1, (0, dofs, *blocks))
        return winding_terms(winding, int(self.section.zone_of_cell[line.cells[0]]), stiffness, mass)

    @cached_property
    def _meridian(self) -> MeridianMesh:
        """The uncut meridian, which knows what its two ends are."""
        return MeridianMesh(self.design, (), 0.0)

    @cached_property
    def _ends(self) -> list[MeridianEnd]:
        found = []
        for name, (end, on_axis, edge) in zip(("inner", "outer"), edges(self._meridian), strict=True):
            curve = self.design.meridian[end[0]].curve
            face = face_of(self.shapes, self.section.plan.faces[name], curve.tangent(end[1] * curve.length))
            held = [] if on_axis else held_fields(self._meridian, end, edge)
            found.append(MeridianEnd(face, on_axis, edge, held))
        return found

    def reduction(self, m: int, following: tuple[Following, ...] = ()) -> Reduction:
        """From raw degrees of freedom to the free unknowns of order m, supports applied."""
        axis = [end.face for end in self._ends if end.on_axis]
        supported = [(end.face, end.held) for end in self._ends if not end.on_axis]
        return reduce_unknowns(self.shapes, following, m, axis, supported)

    def _support_terms(self, around: float, to_free: Reduction) -> list[Term]:
        terms = []
        for end in self._ends:
            if not end.on_axis and end.edge.elastic:
                rows = [(to_free.row(row), k) for row, k in springs(end.face, end.edge)]
                terms.append(support_term(rows, end.face.radius, around, end.edge.loss_factor))
        return terms

    @cached_property
    def _wound(self) -> list[tuple[Winding, list[Stretch]]]:
        """Windings and their stretches of mid-surface."""
        owner = self.section.plan.piece
        every = [stretch for run in self.section.plan.middle for stretch in run]
        groups = [
            (piece.winding, [x for x in every if owner[x.cell] == p])
            for p, piece in enumerate(self.design.pieces)
            if piece.winding is not None
        ]
        return [(winding, group) for winding, group in groups if group]

    @cached_property
    def _joint_face(self) -> CrossFace:
        joint, last = self.design.joint or 0, len(self.design.meridian) - 1
        curve = self.design.meridian[min(joint, last)].curve
        tangent = curve.tangent(curve.length if joint > last else 0.0)
        return face_of(self.shapes, self.section.plan.faces["joint"], tangent)

    @cached_property
    def _pickup(self) -> Array:
        """Mean axial motion over the winding's length, or through the wall at the joint."""
        wound = [stretch for _, group in self._wound for stretch in group]
        if wound:
            return mean_along(self.shapes, wound, W)
        if self.design.joint is not None:
            return self._joint_face.mean_of(W)
        return np.zeros(3 * len(self.shapes.used))

    def _volume(self, m: int, to_free: Reduction) -> tuple[Array, Array]:
        """Swept volume functionals (Z, n) and rigid areas (Z,)."""
        if m:
            return np.zeros((len(self.design.zones), to_free.size)), np.zeros(len(self.design.zones))
        volume, area = front_volumes(self.shapes, self.section.plan.front)
        return np.stack([to_free.row(row) for row in volume]), area

    def _surface(self, to_free: Reduction) -> Surface:
        raw = self._raw_surface
        r, t, z = (to_free.map(motion) for motion in (raw.motion_r, raw.motion_t, raw.motion_z))
        return replace(raw, motion_r=r, motion_t=t, motion_z=z)

    @cached_property
    def _raw_surface(self) -> Surface:
        return raw_surface(self.shapes)


def build_solid(
    design: Design, section: Section | None = None, *, up_to_hz: float = 20e3, orders: Orders | None = None
) -> SolidModel:
    """Solid model of a design on a given section, or on one cut for frequencies up to `up_to_hz`.

    Raises MeshError where the wall cannot be cut or the mesher gmsh cannot be loaded.
    """
    section = mesh_section(design, up_to_hz) if section is None else section
    return SolidModel(design, section, orders or Orders(), up_to_hz)
