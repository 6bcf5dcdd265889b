"""Shell model: the meridian line with first-order shear deformation, any circumferential order m.

Unknowns, in global components: u radial, v circumferential, w axial, b rotation in the meridian plane, q rotation
about the meridian; u, w, b ~ cos(m theta), v, q ~ sin(m theta). Quadratic elements, two-point rule for the stiffness
(full integration locks: 6 % on the fundamental of a thin V at 1 mm elements), three-point rule for mass and volume.

Strains: `strains`. Resultants: N = A e + B k, M = B e + D k for isotropic layers, transverse shear 5/6 G h.

u, v, w, b are shared wherever pieces meet. q is not shared across a kink, because its axis, the meridian, turns there.

Sources: Kraus, Thin Elastic Shells (1967), ch. 2 (strains of a shell of revolution); Budiansky and Sanders (1963) and
Koiter (1960) for the twist; Zienkiewicz, Bauer, Morgan and Onate, Int. J. Numer. Meth. Eng. 11 (1977) 1545 for the
reduced rule; Reissner (1945) for the factor 5/6. (Named from memory; the tests check the equations against tables.)
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from skfem import Basis, ElementLineP2
from skfem.quadrature import get_quadrature

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.material import Material
from diaphragm_fem.errors import ModelError
from diaphragm_fem.mesh.meridian import MeridianMesh, mesh_meridian
from diaphragm_fem.model.assembly import Numbering, element_matrices
from diaphragm_fem.model.elasticity import layer_laws
from diaphragm_fem.model.numbering import FIELDS, number_unknowns
from diaphragm_fem.model.ring_parts import rigid_mode_count, ring_parts, support_parts, winding_parts
from diaphragm_fem.model.system import Part, Surface, System

Array = NDArray[np.float64]


class Field(NamedTuple):
    """The five unknowns, or their derivatives along s, at points; a plain 0.0 stands for an absent one."""

    u: Array | float = 0.0
    v: Array | float = 0.0
    w: Array | float = 0.0
    b: Array | float = 0.0
    q: Array | float = 0.0


@dataclass(frozen=True)
class Geometry:
    """Meridian data at points (E, Q): radius r in m, tangent (t_r, t_z), curvature kappa in 1/m, fraction of piece."""

    r: Array
    t_r: Array
    t_z: Array
    kappa: Array
    fraction: Array
    weight: Array  # quadrature weight times ds


def strains(x: Field, dx: Field, at: Geometry, m: int) -> list[Array | float]:
    """Eight strains of the fields x with derivatives dx = dx/ds for order m.

    With u_s = t.(u, w), u_n = n.(u, w), n = (-t_z, t_r) and the rotation about the normal
    omega = (v' + t_r v/r + m u_s/r)/2:
        e_s  = t_r u' + t_z w'          e_th = (u + m v)/r        g_sth = v' - t_r v/r - m u_s/r
        k_s  = b'                       k_th = (t_r b + m q)/r
        k_sth = q' - t_r q/r - m b/r + (kappa - t_z/r) omega
        g_sn = -t_z u' + t_r w' + b     g_thn = q - m u_n/r + t_z v/r
    The last term of k_sth makes a rigid turn about the axis free of strain; without it the twist of joined cones
    and cylinders is wrong in the order of thickness over radius.
    """
    r, t_r, t_z = at.r, at.t_r, at.t_z
    along = t_r * x.u + t_z * x.w
    across = -t_z * x.u + t_r * x.w
    about_normal = (dx.v + t_r * x.v / r + m * along / r) / 2
    return [
        t_r * dx.u + t_z * dx.w,
        (x.u + m * x.v) / r,
        dx.v - t_r * x.v / r - m * along / r,
        dx.b,
        (t_r * x.b + m * x.q) / r,
        dx.q - t_r * x.q / r - m * x.b / r + (at.kappa - t_z / r) * about_normal,
        -t_z * dx.u + t_r * dx.w + x.b,
        x.q - m * across / r + t_z * x.v / r,
    ]


@dataclass(frozen=True)
class ShellModel:
    """A meshed design ready to give the System of any order m: strains are evaluated once, orders share them."""

    mesh: MeridianMesh

    @property
    def design(self) -> Design:
        return self.mesh.design

    @cached_property
    def stiffness_basis(self) -> Basis:
        return Basis(self.mesh.line, ElementLineP2(), quadrature=_gauss(2))

    @cached_property
    def mass_basis(self) -> Basis:
        return Basis(self.mesh.line, ElementLineP2(), quadrature=_gauss(3))

    @cached_property
    def stiffness_geometry(self) -> Geometry:
        return _geometry(self.mesh, self.stiffness_basis)

    @cached_property
    def mass_geometry(self) -> Geometry:
        return _geometry(self.mesh, self.mass_basis)

    @cached_property
    def strain(self) -> tuple[Array, Array]:
        """Strains (8, 15, E, 2) of the local functions, split as B0 + m B1; local functions run field by field."""
        shape, slope = _shapes(self.stiffness_basis)
        at = self.stiffness_geometry
        powers = []
        for m in (0, 1):
            rows = np.zeros((8, len(FIELDS), *shape.shape))
            for index, field in enumerate(FIELDS):
                for row, value in enumerate(strains(Field(**{field: shape}), Field(**{field: slope}), at, m)):
                    rows[row, index] = value
            powers.append(rows.reshape(8, -1, *shape.shape[1:]))
        return powers[0], powers[1] - powers[0]

    @cached_property
    def motion_shapes(self) -> Array:
        """The five motions (5, 15, E, 3) of the local functions: what the inertia acts on."""
        return _motion_shapes(self.mass_basis)

    @cached_property
    def dofs(self) -> NDArray[np.int64]:
        """Raw degrees of freedom (E, 15): field times the number of nodes plus the node."""
        nodes = self.stiffness_basis.element_dofs.T
        return np.hstack([nodes + k * self.nodes for k in range(len(FIELDS))]).astype(np.int64)

    @property
    def nodes(self) -> int:
        return int(self.stiffness_basis.N)

    def system(self, m: int, *, by_zone: bool = True) -> System:
        """Stiffness, mass, drive, pick-up and volume of order m, supports applied.

        Integrals over theta are 2 pi for m = 0 and pi above. For m = 0 the torsional unknowns v, q are left out.
        With `by_zone` False the parts are gathered by material alone, in half the time: enough for an area curve,
        not for energy shares.
        Raises ModelError for a negative m.
        """
        if m < 0 or int(m) != m:
            raise ModelError(f"the circumferential order m must be 0, 1, 2, ..., received {m}")
        fields = ("u", "w", "b") if m == 0 else FIELDS
        local = np.concatenate([np.arange(3) + 3 * FIELDS.index(field) for field in fields])
        numbering = number_unknowns(self.mesh, self.stiffness_basis, m)
        around = 2 * np.pi if m == 0 else np.pi
        dofs = self.dofs[:, local]
        constant, linear = self.strain
        strain = (constant if m == 0 else constant + m * linear)[:, local]
        zone = self._zone_of_element
        parts = [
            Part(z, material.name, numbering.matrix(dofs[pick], k), numbering.matrix(dofs[pick], mass),
                 material.loss_factor.at, material.loss_factor.constant)
            for z, material, pick, k, mass in self._blocks(strain, local, around, zone if by_zone else None)
        ]
        parts += winding_parts(self, numbering, strain, local, around, zone)
        parts += ring_parts(self.design, self.mesh, numbering, self.nodes, self._vertex_node, m, around)
        parts += support_parts(self.mesh, numbering, self.nodes, self._vertex_node, around)
        pickup = self._pickup(numbering) if m == 0 else np.zeros(numbering.size)
        volume, area = self._volume(numbering, m, zone)
        return System(
            order=m, parts=tuple(parts), zones=self.design.zones, drive=pickup, pickup=pickup, volume=volume,
            zone_area=area, surface=self._surface(numbering), rigid_modes=rigid_mode_count(self.mesh, m),
        )

    @cached_property
    def _zone_of_element(self) -> NDArray[np.int64]:
        order = {zone: i for i, zone in enumerate(self.design.zones)}
        return np.array([order[piece.zone] for piece in self.mesh.pieces])[self.mesh.piece_of_element]

    def _blocks(self, strain, local, around, zone):
        """Yield (zone, material, elements, stiffness blocks, mass blocks); zone -1 stands for all of them."""
        weight = around * self.stiffness_geometry.weight * self.stiffness_geometry.r
        mass_weight = around * self.mass_geometry.weight * self.mass_geometry.r
        shape, pieces, owner = self.motion_shapes[:, local], self.mesh.pieces, self.mesh.piece_of_element
        groups: dict[tuple[int, str], tuple[Material, list[int]]] = {}
        for p, piece in enumerate(pieces):
            for layer in piece.wall.layers:
                z = -1 if zone is None else int(zone[np.searchsorted(owner, p)])
                owners = groups.setdefault((z, layer.material.name), (layer.material, []))[1]
                owners.append(p) if p not in owners else None
        for (z, _), (material, owners) in groups.items():
            pick = np.flatnonzero(np.isin(owner, owners))
            stiff, _ = layer_laws(pieces, owner[pick], self.stiffness_geometry.fraction[pick], material)
            _, inertia = layer_laws(pieces, owner[pick], self.mass_geometry.fraction[pick], material)
            yield (
                z, material, pick,
                element_matrices(strain[:, :, pick], stiff, weight[pick]),
                element_matrices(shape[:, :, pick], inertia, mass_weight[pick]),
            )

    def _pickup(self, numbering: Numbering) -> Array:
        """Mean axial motion of the winding's length, or of the joint circle: pickup @ u in m."""
        wound = np.array([piece.winding is not None for piece in self.mesh.pieces])[self.mesh.piece_of_element]
        axial = FIELDS.index("w")
        if wound.any():
            shape, _ = _shapes(self.mass_basis)
            share = self.mass_geometry.weight[wound] / self.mass_geometry.weight[wound].sum()
            values = np.einsum("feq,eq->ef", shape[:, wound], share)
            return numbering.vector(self.dofs[wound][:, 3 * axial : 3 * axial + 3], values)
        if self.design.joint is None:
            return np.zeros(numbering.size)
        node = self.mesh.vertex(self.mesh.joints[self.design.joint][0])
        dof = np.array([[self._vertex_node(node) + axial * self.nodes]])
        return numbering.vector(dof, np.ones((1, 1)))

    def _vertex_node(self, vertex: int) -> int:
        return int(self.stiffness_basis.nodal_dofs[0, vertex])

    def _volume(self, numbering: Numbering, m: int, zone) -> tuple[Array, Array]:
        """Swept volume functionals (Z, n) and rigid areas (Z,) of the front face; only m = 0 sweeps volume."""
        zones = self.design.zones
        at, (shape, _) = self.mass_geometry, _shapes(self.mass_basis)
        band = 2 * np.pi * at.r * at.weight
        volume, area = np.zeros((len(zones), numbering.size)), np.zeros(len(zones))
        for z, item in enumerate(zones):
            pick = zone == z
            if m or not item.radiates or not pick.any():
                continue
            area[z] = (band * at.t_r)[pick].sum()
            for field, n in (("u", -at.t_z), ("w", at.t_r)):
                k = FIELDS.index(field)
                values = np.einsum("feq,eq->ef", shape[:, pick], (band * n)[pick])
                volume[z] += numbering.vector(self.dofs[pick][:, 3 * k : 3 * k + 3], values)
        return volume, area

    def _surface(self, numbering: Numbering) -> Surface:
        """All nodes in order along the meridian and then the former, with nodal areas by the three-point rule."""
        nodes, elements = self._nodes_in_order
        local = self.stiffness_basis.element_dofs
        piece = self.mesh.piece_of_element[elements]
        s = self._node_arc[nodes]
        point, tangent = np.empty((len(nodes), 2)), np.empty((len(nodes), 2))
        for p in range(len(self.mesh.pieces)):
            pick = piece == p
            curve = self.mesh.pieces[p].curve
            point[pick], tangent[pick] = curve.point(s[pick]), curve.tangent(s[pick])
        at, (shape, _) = self.mass_geometry, _shapes(self.mass_basis)
        front = np.array([z.radiates for z in self.design.zones])[self._zone_of_element]
        share = np.einsum("feq,eq->fe", shape, 2 * np.pi * at.r * at.weight * front[:, None])
        area = np.bincount(local.ravel(), weights=share.ravel(), minlength=self.nodes)[nodes]
        return Surface(
            r=point[:, 0], z=point[:, 1],
            motion_r=numbering.pick(nodes), motion_z=numbering.pick(nodes + FIELDS.index("w") * self.nodes),
            normal=np.stack((-tangent[:, 1], tangent[:, 0]), axis=1), area=area,
            zone=self._zone_of_element[elements], run=(piece >= len(self.design.meridian)).astype(np.int64),
        )

    @cached_property
    def _nodes_in_order(self):
        """Node numbers along the pieces (begin, middle, begin, ... end) and an element that owns each."""
        local = self.stiffness_basis.element_dofs
        nodes, owners = [], []
        for p in range(len(self.mesh.pieces)):
            elements = np.flatnonzero(self.mesh.piece_of_element == p)
            nodes += [local[[0, 2]][:, elements].T.ravel(), local[1, elements[-1:]]]
            owners += [np.repeat(elements, 2), elements[-1:]]
        return np.concatenate(nodes).astype(np.int64), np.concatenate(owners)

    @cached_property
    def _node_arc(self) -> Array:
        """Arc length within its own piece of every node."""
        position = self.stiffness_basis.doflocs[0]
        local = self.stiffness_basis.element_dofs
        arc = np.empty(self.nodes)
        offset = self.mesh.offset[self.mesh.piece_of_element]
        arc[local] = position[local] - offset
        return arc


def build_shell(design: Design, mesh: MeridianMesh | None = None, *, up_to_hz: float = 20e3, refine: int = 1) -> ShellModel:
    """Shell model of a design on a given mesh (of the same meridian), or on one cut for frequencies up to `up_to_hz`."""
    return ShellModel(mesh_meridian(design, up_to_hz, refine) if mesh is None else replace(mesh, design=design))


def _gauss(points: int):
    """Gauss rule of the given number of points on the reference line, as scikit-fem takes it."""
    from skfem.refdom import RefLine

    return get_quadrature(RefLine, 2 * points - 1)


def _shapes(basis: Basis) -> tuple[Array, Array]:
    """Shape functions and their slopes d/ds, each (3, E, Q)."""
    values = [basis.basis[i][0] for i in range(3)]
    count = basis.dx.shape
    return (
        np.stack([np.broadcast_to(np.asarray(x), count) for x in values]),
        np.stack([np.broadcast_to(x.grad[0], count) for x in values]),
    )


def _motion_shapes(basis: Basis) -> Array:
    """The five motions (5, 15, E, Q) of the local functions: what the inertia acts on."""
    shape, _ = _shapes(basis)
    rows = np.zeros((len(FIELDS), len(FIELDS), *shape.shape))
    for k in range(len(FIELDS)):
        rows[k, k] = shape
    return rows.reshape(len(FIELDS), -1, *shape.shape[1:])


def _geometry(mesh: MeridianMesh, basis: Basis) -> Geometry:
    """Exact meridian geometry at the quadrature points, piece by piece."""
    position = basis.mapping.F(basis.X)[0]
    s = position - mesh.offset[mesh.piece_of_element][:, None]
    point, tangent = np.empty((*s.shape, 2)), np.empty((*s.shape, 2))
    kappa, fraction = np.empty_like(s), np.empty_like(s)
    for p, piece in enumerate(mesh.pieces):
        pick = mesh.piece_of_element == p
        point[pick], tangent[pick] = piece.curve.point(s[pick]), piece.curve.tangent(s[pick])
        kappa[pick] = piece.curve.curvature(s[pick])
        fraction[pick] = s[pick] / piece.curve.length
    return Geometry(point[..., 0], tangent[..., 0], tangent[..., 1], kappa, fraction, basis.dx)
