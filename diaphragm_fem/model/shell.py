"""Shell model: the meridian line with first-order shear deformation, any circumferential order m.

Unknowns, in global components: u radial, v circumferential, w axial, b rotation in the meridian plane, q rotation
about the meridian; u, w, b ~ cos(m theta), v, q ~ sin(m theta). Strains: `shell_strain`. Resultants: N = A e + B k,
M = B e + D k for isotropic layers, transverse shear 5/6 G h: `elasticity`.

Quadratic elements, two-point rule for the stiffness (full integration locks: 6 % on the fundamental of a thin V at
1 mm elements), three-point rule for mass and volume, `wave_inertia` on top of the mass. u, v, w, b are shared wherever
pieces meet. q is not shared across a kink, because its axis, the meridian, turns there.

Sources: Zienkiewicz, Bauer, Morgan and Onate, Int. J. Numer. Meth. Eng. 11 (1977) 1545 for the reduced rule; Reissner
(1945) for the factor 5/6. (Named from memory; the tests check the equations against closed forms and tables.)
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.material import Material
from diaphragm_fem.errors import ModelError
from diaphragm_fem.mesh.meridian import MeridianMesh, mesh_meridian
from diaphragm_fem.model.assembly import Numbering, element_matrices
from diaphragm_fem.model.elasticity import inertia_law, stiffness_law
from diaphragm_fem.model.line_points import LinePoints, line_points
from diaphragm_fem.model.numbering import AXISYMMETRIC, FIELDS, number_unknowns
from diaphragm_fem.model.ring_parts import rigid_mode_count, ring_parts, support_parts, winding_parts
from diaphragm_fem.model.shell_motion import coil_pickup, surface_of, swept_volume
from diaphragm_fem.model.shell_strain import STRAINS, Field, strains
from diaphragm_fem.model.structure import Part, Structure
from diaphragm_fem.model.wave_inertia import wave_inertia

Array = NDArray[np.float64]
Index = NDArray[np.int64]


class OrderTerms(NamedTuple):
    """What one order m makes of the model: strains (8, F, E, Q) of its local functions, motions (5, F, E, Q), raw
    degrees of freedom (E, F), their numbering, and the integral over theta of cos^2."""

    m: int
    strain: Array
    motion: Array
    dofs: Index
    numbering: Numbering
    around: float


class ZoneBlocks(NamedTuple):
    """Element matrices (E, F, F) of one material in one zone (-1: in all) and the elements they belong to."""

    zone: int
    material: Material
    elements: Index
    stiffness: Array
    mass: Array


@dataclass(frozen=True, eq=False)
class ShellModel:
    """A meshed design ready to give the Structure of any order m: strains are evaluated once, orders share them."""

    mesh: MeridianMesh

    @property
    def design(self) -> Design:
        return self.mesh.design

    @cached_property
    def stiff(self) -> LinePoints:
        """The two points per element at which strains are taken."""
        return line_points(self.mesh, 2)

    @cached_property
    def heavy(self) -> LinePoints:
        """The three points per element at which mass and volume are taken."""
        return line_points(self.mesh, 3)

    @property
    def nodes(self) -> int:
        return int(self.stiff.basis.N)

    def vertex_node(self, vertex: int) -> int:
        return int(self.stiff.basis.nodal_dofs[0, vertex])

    @cached_property
    def dofs(self) -> Index:
        """Raw degrees of freedom (E, 15): field times the number of nodes plus the node."""
        nodes = self.stiff.basis.element_dofs.T
        return np.hstack([nodes + k * self.nodes for k in range(len(FIELDS))]).astype(np.int64)

    @cached_property
    def zone_of_element(self) -> Index:
        order = {zone: i for i, zone in enumerate(self.design.zones)}
        return np.array([order[piece.zone] for piece in self.mesh.pieces])[self.mesh.piece_of_element]

    @cached_property
    def _strain_powers(self) -> tuple[Array, Array]:
        """Strains (8, 15, E, 2) of all local functions, split as B0 + m B1."""
        constant, with_one = self._strain(FIELDS, 0), self._strain(FIELDS, 1)
        return constant, with_one - constant

    def _strain(self, fields: Sequence[str], m: int) -> Array:
        """Strains (8, F, E, 2) of the local functions for order m; local functions run field by field."""
        shape, slope, at = self.stiff.shape, self.stiff.slope, self.stiff.at
        rows = np.zeros((len(STRAINS), len(fields), *shape.shape))
        for index, field in enumerate(fields):
            for row, value in enumerate(strains(Field(**{field: shape}), Field(**{field: slope}), at, m)):
                rows[row, index] = value
        return rows.reshape(len(STRAINS), -1, *shape.shape[1:])

    def _motion(self, fields: Sequence[str]) -> Array:
        """The five motions (5, F, E, 3) of the local functions: what the inertia acts on."""
        shape = self.heavy.shape
        rows = np.zeros((len(FIELDS), len(fields), *shape.shape))
        for index, field in enumerate(fields):
            rows[FIELDS.index(field), index] = shape
        return rows.reshape(len(FIELDS), -1, *shape.shape[1:])

    def order_terms(self, m: int) -> OrderTerms:
        """For m = 0 the torsional unknowns v, q are left out: they couple with nothing."""
        fields = FIELDS if m else AXISYMMETRIC
        local = np.concatenate([np.arange(3) + 3 * FIELDS.index(field) for field in fields])
        if m == 0:
            strain = self._strain(fields, 0)
        else:
            constant, linear = self._strain_powers
            strain = constant + m * linear
        numbering = number_unknowns(self.mesh, self.stiff.basis, m)
        around = 2 * np.pi if m == 0 else np.pi
        return OrderTerms(m, strain, self._motion(fields), self.dofs[:, local], numbering, around)

    def structure(self, m: int, *, by_zone: bool = True) -> Structure:
        """Stiffness, mass, drive, pick-up and volume of order m, supports applied.

        With `by_zone` False the parts are gathered by material alone, in half the time: enough for an area curve, not
        for energy shares. Raises ModelError for a negative m.
        """
        if m < 0 or int(m) != m:
            raise ModelError(f"the circumferential order m must be 0, 1, 2, ..., received {m}")
        terms = self.order_terms(m)
        numbering = terms.numbering
        parts = [_part(blocks, terms) for blocks in self._blocks(terms, by_zone)]
        parts += winding_parts(self, terms)
        parts += ring_parts(self, terms)
        parts += support_parts(self, terms)
        pickup = coil_pickup(self, numbering) if m == 0 else np.zeros(numbering.size)
        volume, area = swept_volume(self, numbering, m)
        return Structure(
            order=m,
            parts=tuple(parts),
            zones=self.design.zones,
            drive=pickup,
            pickup=pickup,
            volume=volume,
            zone_area=area,
            draw_surface=partial(surface_of, self, numbering),
            rigid_modes=rigid_mode_count(self.mesh, m),
        )

    def _blocks(self, terms: OrderTerms, by_zone: bool) -> Iterator[ZoneBlocks]:
        """Element matrices zone by zone and material by material, or material by material alone."""
        pieces, owner, stiff, heavy = self.mesh.pieces, self.mesh.piece_of_element, self.stiff.at, self.heavy.at
        for (zone, material), owners in self._owners(by_zone).items():
            pick = np.flatnonzero(np.isin(owner, owners))
            law = stiffness_law(pieces, owner[pick], stiff.fraction[pick], material)
            inertia = inertia_law(pieces, owner[pick], heavy.fraction[pick], material)
            band = (terms.around * heavy.weight * heavy.r)[pick]
            mass = element_matrices(terms.motion[:, :, pick], inertia, band)
            mass += wave_inertia(FIELDS if terms.m else AXISYMMETRIC, (inertia[0, 0] * band).sum(axis=1))
            stiffness = element_matrices(terms.strain[:, :, pick], law, (terms.around * stiff.weight * stiff.r)[pick])
            yield ZoneBlocks(zone, material, pick, stiffness, mass)

    def _owners(self, by_zone: bool) -> dict[tuple[int, Material], list[int]]:
        """Pieces that hold each material, by (zone or -1, material)."""
        found: dict[tuple[int, Material], list[int]] = {}
        order = {zone: i for i, zone in enumerate(self.design.zones)}
        for p, piece in enumerate(self.mesh.pieces):
            zone = order[piece.zone] if by_zone else -1
            for material in dict.fromkeys(layer.material for layer in piece.wall.layers):
                found.setdefault((zone, material), []).append(p)
        return found


def build_shell(
    design: Design, mesh: MeridianMesh | None = None, *, up_to_hz: float = 20e3, refine: int = 1
) -> ShellModel:
    """Shell model of a design on a given mesh of its meridian, or on one cut for frequencies up to `up_to_hz`."""
    return ShellModel(mesh_meridian(design, up_to_hz, refine) if mesh is None else replace(mesh, design=design))


def _part(blocks: ZoneBlocks, terms: OrderTerms) -> Part:
    dofs, loss = terms.dofs[blocks.elements], blocks.material.loss_factor
    stiffness, mass = terms.numbering.matrices(dofs, blocks.stiffness, blocks.mass)
    return Part(blocks.zone, blocks.material.name, stiffness, mass, loss, loss.constant)
