"""Solid model: the wall section in axisymmetric elasticity of any circumferential order m.

Unknowns u radial, v circumferential, w axial; u, w ~ cos(m theta), v ~ sin(m theta). Strains

    e_rr = u,r    e_zz = w,z    e_th = (u + m v)/r    g_rz = u,z + w,r
    g_rth = v,r - (v + m u)/r   g_zth = v,z - m w/r

and energy 1/2 integral (lambda (tr e)^2 + 2 mu e:e) r dr dz times 2 pi for m = 0, pi above. With the integrals of
products of a, b in {N,r ; N,z ; N/r} the stiffness of a cell is a handful of sums, a polynomial of degree two in m.

Cells are hierarchic quadrilaterals of order 4 along the wall and 3 across it unless asked otherwise. The front face
sweeps the volume; winding and plain ring sit on the mid-surface.

Source: Zienkiewicz and Taylor, The Finite Element Method, vol. 2, chapter on axisymmetric bodies under
non-axisymmetric load (named from memory; the tests check the equations against exact solutions).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from diaphragm_fem.design.design import Design
from diaphragm_fem.errors import ModelError
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.mesh.section import Section, mesh_section
from diaphragm_fem.mesh.section_plan import Stretch
from diaphragm_fem.model.numbering import edges, held_fields
from diaphragm_fem.model.ring_parts import rigid_mode_count
from diaphragm_fem.model.solid_lines import Face, U, V, W, face_of, front_volume, line_of, mean_along, sample_map
from diaphragm_fem.model.solid_shapes import Shapes, gauss
from diaphragm_fem.model.solid_support import Reduction, reduce_unknowns, springs
from diaphragm_fem.model.system import Part, Surface, System

Array = NDArray[np.float64]
Index = NDArray[np.int64]

BOOLE = np.array([7, 32, 12, 32, 7]) / 90  # weights of five equal steps, exact to degree five


@dataclass(frozen=True)
class Block:
    """Cells of one zone, material and kind, with the integrals of products of their functions.

    nodes (E, F); product (E, 3, F, 3, F) of (N,r ; N,z ; N/r) with itself and mass (E, F, F) of N with itself, both
    times r dr dz.
    """

    zone: int
    material: int
    nodes: Index
    product: Array
    mass: Array


@dataclass(frozen=True)
class SolidModel:
    """A meshed section ready to give the System of any order m: the integrals are done once, orders share them."""

    design: Design
    section: Section
    along: int = 4
    across: int = 3

    @cached_property
    def shapes(self) -> Shapes:
        return Shapes(self.section, self.along, self.across)

    def system(self, m: int) -> System:
        """Stiffness, mass, drive, pick-up and volume of order m, supports applied. Torsion is left out for m = 0.

        Raises ModelError for a negative m.
        """
        if m < 0 or int(m) != m:
            raise ModelError(f"the circumferential order m must be 0, 1, 2, ..., received {m}")
        around = 2 * np.pi if m == 0 else np.pi
        to_free = self._reduction(m)
        parts = [self._part(block, m, around, to_free) for block in self._blocks]
        parts += self._winding_parts(m, around, to_free) + self._ring_parts(m, around, to_free)
        parts += self._support_parts(around, to_free)
        pickup = to_free.row(self._pickup) if m == 0 else np.zeros(to_free.size)
        volume, area = self._volume(m, to_free)
        return System(
            order=m, parts=tuple(parts), zones=self.design.zones, drive=pickup, pickup=pickup, volume=volume,
            zone_area=area, surface=self._surface(to_free), rigid_modes=rigid_mode_count(self._meridian, m),
        )

    @cached_property
    def _blocks(self) -> list[Block]:
        shapes, section = self.shapes, self.section
        value, slope, radius = shapes.value, shapes.slope, shapes.radius
        weight = shapes.weight * radius
        branch = np.array(section.plan.branch)
        kinds = np.stack((section.zone_of_cell, section.material_of_cell, branch.astype(np.int64)))
        blocks = []
        for zone, material, kind in sorted(set(map(tuple, kinds.T.tolist()))):
            cells = np.flatnonzero((kinds == np.array([[zone], [material], [kind]])).all(axis=0))
            local = shapes.local_functions(bool(kind))
            pick = np.ix_(local, cells)
            n = value[pick].transpose(1, 0, 2)
            gradient = np.concatenate(
                (*(slope[k][pick].transpose(1, 0, 2) for k in range(2)), n / radius[cells][:, None]), axis=1
            )
            w = weight[cells][:, None]
            product = (gradient * w) @ gradient.transpose(0, 2, 1)
            size = len(local)
            blocks.append(
                Block(zone, material, shapes.nodes[cells][:, local], product.reshape(-1, 3, size, 3, size),
                      (n * w) @ n.transpose(0, 2, 1))
            )
        return blocks

    def _part(self, block: Block, m: int, around: float, to_free: Reduction) -> Part:
        material = self.design.materials[block.material]
        components = (U, W) if m == 0 else (U, V, W)
        stiffness = cell_stiffness(block.product, material.youngs_modulus, material.poisson_ratio, m)
        cells, size = block.nodes.shape
        dofs = np.stack([3 * block.nodes + c for c in components], axis=1).reshape(cells, -1)
        blocks = np.stack([np.concatenate([stiffness[a][b] for b in components], axis=2) for a in components], axis=1)
        mass = np.zeros((cells, len(components), size, len(components), size))
        for k in range(len(components)):
            mass[:, k, :, k] = material.density * block.mass
        shape = (cells, len(components) * size, -1)
        return Part(
            block.zone, material.name, to_free.matrix(dofs, around * blocks.reshape(shape)),
            to_free.matrix(dofs, around * mass.reshape(shape)), material.loss_factor.at, material.loss_factor.constant,
        )

    # supports

    @cached_property
    def _meridian(self) -> MeridianMesh:
        """The uncut meridian: what its two ends are."""
        return MeridianMesh(self.design, (), 0.0)

    @cached_property
    def _ends(self) -> list[tuple[Face, bool, object, list[str]]]:
        """The two end faces: face, on the axis?, support and the shell unknowns it holds."""
        found = []
        for name, (end, on_axis, edge) in zip(("inner", "outer"), edges(self._meridian), strict=True):
            curve = self.design.meridian[end[0]].curve
            face = face_of(self.shapes, self.section.plan.faces[name], curve.tangent(end[1] * curve.length))
            found.append((face, on_axis, edge, [] if on_axis else held_fields(self._meridian, end, edge)))
        return found

    def _reduction(self, m: int) -> Reduction:
        axis = [face for face, on_axis, _, _ in self._ends if on_axis]
        supported = [(face, edge, held) for face, on_axis, edge, held in self._ends if not on_axis]
        return reduce_unknowns(self.shapes.used, m, axis, supported)

    def _support_parts(self, around: float, to_free: Reduction) -> list[Part]:
        parts = []
        nothing = csr_matrix((to_free.size, to_free.size))
        for face, on_axis, edge, _ in self._ends:
            rows = [] if on_axis else springs(face, edge)
            if rows:
                stiffness = sum(around * face.radius * k * _square(to_free.row(row)) for row, k in rows)
                parts.append(Part(-1, "support", csr_matrix(stiffness), nothing, _constant(edge.loss_factor)))
        return parts

    # coil

    def _wound(self) -> list[list[Stretch]]:
        pieces = (*self.design.meridian, *self.design.former)
        owner = self.section.plan.piece
        every = [stretch for run in self.section.plan.middle for stretch in run]
        groups = [[x for x in every if owner[x.cell] == p] for p, piece in enumerate(pieces) if piece.winding]
        return [group for group in groups if group]

    def _winding_parts(self, m: int, around: float, to_free: Reduction) -> list[Part]:
        """Mass and hoop stiffness spread over the length of each wound piece: mass/(2 pi r L) per area, E A/L per length."""
        shapes, parts = self.shapes, []
        pieces = (*self.design.meridian, *self.design.former)
        position, weight = gauss(self.along + 1)
        for group in self._wound():
            winding = pieces[self.section.plan.piece[group[0].cell]].winding
            line = line_of(shapes, group, position)
            share = line.speed * weight
            length = share.sum()
            n = line.value.transpose(1, 0, 2)
            hoop = (n * (share / line.place[0])[:, None]) @ n.transpose(0, 2, 1) * (winding.hoop_stiffness * around / length)
            inertia = (n * share[:, None]) @ n.transpose(0, 2, 1) * (winding.mass * around / (2 * np.pi * length))
            parts.append(_circle_part(shapes.nodes[line.cells], hoop, inertia, m, int(self.section.zone_of_cell[line.cells[0]]),
                                      "winding", winding.loss_factor, to_free))
        return parts

    def _ring_parts(self, m: int, around: float, to_free: Reduction) -> list[Part]:
        """The plain ring on the mean motion of the joint's face: mass on u, v, w; E A on (u + m v)/r."""
        ring = self.design.ring
        if ring is None or self.design.joint is None:
            return []
        face = self._joint_face
        rows = []
        for component in (U, V, W):
            row = np.zeros((len(face.mean), 3))
            row[:, component] = face.mean
            rows.append(to_free.row(row.ravel()))
        r = float(self.design.joint_radius or 0.0)
        stiffness = ring.hoop_stiffness * around / r * _square(rows[U] + m * rows[V])
        mass = sum(ring.mass * around / (2 * np.pi) * _square(row) for row in rows)
        return [Part(-1, "ring", stiffness, csr_matrix(mass), _constant(ring.loss_factor))]

    @cached_property
    def _joint_face(self) -> Face:
        piece = self.design.meridian[min(self.design.joint or 0, len(self.design.meridian) - 1)]
        at_end = self.design.joint == len(self.design.meridian)
        tangent = piece.curve.tangent(piece.curve.length if at_end else 0.0)
        return face_of(self.shapes, self.section.plan.faces["joint"], tangent)

    @cached_property
    def _pickup(self) -> Array:
        """Mean axial motion over the winding's length, or through the wall at the joint."""
        wound = [stretch for group in self._wound() for stretch in group]
        if wound:
            return mean_along(self.shapes, wound, W)
        row = np.zeros((len(self.shapes.used), 3))
        if self.design.joint is not None:
            row[:, W] = self._joint_face.mean
        return row.ravel()

    # face

    def _volume(self, m: int, to_free: Reduction) -> tuple[Array, Array]:
        zones = self.design.zones
        volume, area = np.zeros((len(zones), to_free.size)), np.zeros(len(zones))
        if m == 0:
            for z, (row, flat) in self._front.items():
                volume[z], area[z] = to_free.row(row), flat
        return volume, area

    @cached_property
    def _front(self) -> dict[int, tuple[Array, float]]:
        zone = self.section.zone_of_cell
        front = self.section.plan.front
        return {z: front_volume(self.shapes, [c for c in front if zone[c] == z]) for z in dict.fromkeys(zone[front].tolist())}

    def _surface(self, to_free: Reduction) -> Surface:
        r, z, normal, area, zone, run, maps = self._surface_points
        motion = [to_free.map(raw) for raw in maps]
        return Surface(r, z, motion[0], motion[1], normal, area, zone, run)

    @cached_property
    def _surface_points(self):
        """Five points on each stretch of mid-surface, the last only where the next belongs to another piece."""
        plan, zones = self.section.plan, self.design.zones
        found = []
        for number, run in enumerate(plan.middle):
            if not run:
                continue
            line = line_of(self.shapes, run, np.linspace(0, 1, 5))
            zone = self.section.zone_of_cell[line.cells]
            owner = np.array(plan.piece)[line.cells]
            pick = np.ones(line.speed.shape, bool)
            pick[:-1, -1] = owner[1:] != owner[:-1]
            front = np.array([zones[k].radiates for k in zone])
            area = 2 * np.pi * line.place[0] * line.speed * BOOLE * front[:, None]
            area[1:, 0] += np.where(pick[:-1, -1], 0.0, area[:-1, -1])
            tangent = line.along / line.speed
            spread = np.broadcast_to(zone[:, None], pick.shape)
            found.append((
                line.place[0][pick], line.place[1][pick], np.stack((-tangent[1][pick], tangent[0][pick]), axis=1),
                area[pick], spread[pick], np.full(int(pick.sum()), number),
                [sample_map(self.shapes, line, component, pick) for component in (U, W)],
            ))
        from scipy.sparse import vstack

        columns = list(zip(*found, strict=True))
        maps = [csr_matrix(vstack([raw[k] for raw in columns[6]])) for k in range(2)]
        return (*(np.concatenate(x) for x in columns[:6]), maps)


def cell_stiffness(product: Array, youngs_modulus: float, nu: float, m: int) -> list[list[Array]]:
    """Stiffness blocks [a][b] (E, F, F) for a, b in (u, v, w), per radian of theta.

    product (E, 3, F, 3, F): integrals of (N,r ; N,z ; N/r) with itself times r dr dz. lambda and mu are Lame's.
    """
    lame = youngs_modulus * nu / ((1 + nu) * (1 - 2 * nu))
    mu = youngs_modulus / (2 * (1 + nu))
    stiff = lame + 2 * mu

    def p(a: int, b: int) -> Array:
        return product[:, a, :, b]

    r, z, o = range(3)  # N,r ; N,z ; N/r
    uu = stiff * (p(r, r) + p(o, o)) + lame * (p(r, o) + p(o, r)) + mu * p(z, z)
    ww = stiff * p(z, z) + mu * p(r, r)
    uw = lame * (p(r, z) + p(o, z)) + mu * p(z, r)
    if m == 0:
        zero = np.zeros(())
        return [[uu, zero, uw], [zero, zero, zero], [uw.transpose(0, 2, 1), zero, ww]]
    uu = uu + m**2 * mu * p(o, o)
    ww = ww + m**2 * mu * p(o, o)
    vv = m**2 * stiff * p(o, o) + mu * (p(r, r) - p(r, o) - p(o, r) + p(o, o) + p(z, z))
    uv = m * (stiff * p(o, o) + lame * p(r, o) + mu * (p(o, o) - p(o, r)))
    wv = m * (lame * p(z, o) - mu * p(o, z))
    t = (0, 2, 1)
    return [[uu, uv, uw], [uv.transpose(t), vv, wv.transpose(t)], [uw.transpose(t), wv, ww]]


def build_solid(
    design: Design, section: Section | None = None, *, up_to_hz: float = 20e3, along: int = 4, across: int = 3
) -> SolidModel:
    """Solid model of a design on a given section, or on one cut for frequencies up to `up_to_hz`.

    along, across: order of the cells along and through the wall.
    """
    return SolidModel(design, mesh_section(design, up_to_hz) if section is None else section, along, across)


def _circle_part(nodes, hoop, inertia, m, zone, name, loss_factor, to_free) -> Part:
    """Part of thin rings: hoop (E, F, F) acts on u + m v, inertia on u, v and w alike."""
    factor = np.outer([1.0, m, 0.0], [1.0, m, 0.0])
    cells, size = nodes.shape
    dofs = np.stack([3 * nodes + c for c in range(3)], axis=1).reshape(cells, -1)
    stiffness = np.einsum("ab,eij->eaibj", factor, hoop).reshape(cells, 3 * size, -1)
    mass = np.einsum("ab,eij->eaibj", np.eye(3), inertia).reshape(cells, 3 * size, -1)
    return Part(zone, name, to_free.matrix(dofs, stiffness), to_free.matrix(dofs, mass), _constant(loss_factor))


def _square(row: Array) -> csr_matrix:
    column = csr_matrix(row[:, None])
    return csr_matrix(column @ column.T)


def _constant(value: float):
    return lambda frequency_hz: np.full(np.shape(frequency_hz), value)
