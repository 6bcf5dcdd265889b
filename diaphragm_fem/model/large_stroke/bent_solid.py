"""The wall's section as a solid that moves far, m = 0: the second opinion on the shell, without its assumptions.

Total Lagrangian: with F = 1 + grad u in (r, z) and F_th = 1 + u/r, the strains of Green E = (F^T F - 1)/2 and the law
of St. Venant and Kirchhoff S = lambda tr E + 2 mu E (the linear law on these strains; against laws of rubber it differs
by about 0.2 % in force at 4.5 % of strain). Cells, supports and drive are those of the linear solid; winding, ring and
springs stay linear. Source: Bonet and Wood, Nonlinear Continuum Mechanics for Finite Element Analysis (2008), ch. 5 to
8 (named from memory; the tests check the equations by differences, and against the shell).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import csr_matrix, identity

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.material import Material
from diaphragm_fem.model.large_stroke.bent_shell import fixed_stiffness, storage_factor
from diaphragm_fem.model.solid import SolidModel
from diaphragm_fem.model.solid_lines import U, W
from diaphragm_fem.model.solid_support import Reduction
from diaphragm_fem.model.structure import Structure

RR, ZZ, TH, RZ = range(4)  # rows of the strains E_rr, E_zz, E_th, 2 E_rz


@dataclass(frozen=True)
class SolidCells:
    """Cells of one material and order: raw degrees of freedom (E, 2 F) of u, then w; derivatives to r and z and N/r
    (3, E, F, Q); weight times 2 pi r dr dz (E, Q)."""

    material: Material
    dofs: Index
    gradient: Array
    weight: Array


@dataclass(frozen=True, eq=False)
class BentSolid:
    """A solid model free to move far. Unknowns (n,) are all that its linear structure of order 0 may have.

    at_hz: the frequency whose storage moduli the walls have as they are moved; None for the reference moduli.
    """

    model: SolidModel
    at_hz: float | None = None

    @cached_property
    def structure(self) -> Structure:
        return self.model.whole.structure(0)

    @property
    def drive(self) -> Array:
        return np.asarray(self.structure.drive)

    @property
    def size(self) -> int:
        return self.structure.size

    def forces(self, unknowns: Array) -> Array:
        """Forces (n,) in N that must act from outside to hold the state."""
        raw = self._raw @ unknowns
        found = np.zeros(len(raw))
        for cells in self.cells:
            deformation, stress = self._state(cells, raw)
            inner = np.einsum("ceq,ecfq->ef", stress * cells.weight, _strain_rows(cells, deformation), optimize=True)
            np.add.at(found, cells.dofs, inner)
        return np.asarray(self._raw.T @ found + self.fixed @ unknowns)

    def tangent(self, unknowns: Array) -> csr_matrix:
        """Exact derivative (n, n) of `forces`, in N/m."""
        raw, pieces = self._raw @ unknowns, []
        for cells in self.cells:
            deformation, stress = self._state(cells, raw)
            rows = _strain_rows(cells, deformation)
            weighted = np.einsum("cd,edfq,eq->ecfq", self._law(cells.material), rows, cells.weight, optimize=True)
            size = rows.shape[2]
            blocks = _flat(rows) @ _flat(weighted).transpose(0, 2, 1)
            blocks += _initial(cells, stress * cells.weight, size)
            pieces.append((cells.dofs, blocks))
        return csr_matrix(self._reduction.matrix(*pieces) + self.fixed)

    def energy(self, unknowns: Array) -> float:
        """Elastic energy in J."""
        raw, total = self._raw @ unknowns, 0.0
        for cells in self.cells:
            deformation, stress = self._state(cells, raw)
            total += float((_green(deformation) * stress).sum(axis=0).ravel() @ cells.weight.ravel()) / 2
        return total + float(unknowns @ (self.fixed @ unknowns)) / 2

    @cached_property
    def cells(self) -> list[SolidCells]:
        shapes, section = self.model.shapes, self.model.section
        slope = shapes.slope
        kinds = np.column_stack((section.material_of_cell, shapes.order_of_cell))
        found = []
        for material, along, across in sorted({tuple(kind) for kind in kinds.tolist()}):
            own = np.flatnonzero((kinds == (material, along, across)).all(axis=1))
            local = shapes.kept((along, across))
            pick = np.ix_(local, own)
            value, radius = shapes.value[pick], shapes.radius[own]
            gradient = np.stack((slope[0][pick], slope[1][pick], value / radius)).transpose(0, 2, 1, 3)
            nodes = shapes.nodes[own][:, local]
            dofs = np.hstack((3 * nodes + U, 3 * nodes + W))
            weight = 2 * np.pi * radius * shapes.weight[own]
            found.append(SolidCells(self.model.design.materials[material], dofs, gradient, weight))
        return found

    @cached_property
    def fixed(self) -> csr_matrix:
        """Stiffness (n, n) of winding, ring and springs."""
        return fixed_stiffness(self.structure)

    @cached_property
    def _reduction(self) -> Reduction:
        return self.model.reduction(0)

    @cached_property
    def _raw(self) -> csr_matrix:
        """Sparse map (3 N, n) from the unknowns to all raw degrees of freedom."""
        return self._reduction.map(csr_matrix(identity(len(self._reduction.unknown), format="csr")))

    def _state(self, cells: SolidCells, raw: Array) -> tuple[Array, Array]:
        """Deformation gradient (5, E, Q) of cells, F_rr, F_rz, F_zr, F_zz, F_th, and second stress (4, E, Q) in Pa."""
        size = cells.gradient.shape[2]
        u, w = raw[cells.dofs[:, :size]], raw[cells.dofs[:, size:]]
        u_r, u_z, u_th = np.einsum("ef,kefq->keq", u, cells.gradient, optimize=True)
        w_r, w_z = np.einsum("ef,kefq->keq", w, cells.gradient[:2], optimize=True)
        deformation = np.stack((1 + u_r, u_z, w_r, 1 + w_z, 1 + u_th))
        return deformation, np.einsum("cd,deq->ceq", self._law(cells.material), _green(deformation))

    def _law(self, material: Material) -> Array:
        """(4, 4) law in Pa on (E_rr, E_zz, E_th, 2 E_rz)."""
        e, nu = material.youngs_modulus * storage_factor(material, self.at_hz), material.poisson_ratio
        lame, mu = e * nu / ((1 + nu) * (1 - 2 * nu)), e / (2 * (1 + nu))
        law = np.zeros((4, 4))
        law[:3, :3] = lame
        law[[RR, ZZ, TH], [RR, ZZ, TH]] += 2 * mu
        law[RZ, RZ] = mu
        return law


def _green(deformation: Array) -> Array:
    """Green's strains (4, E, Q)."""
    rr, rz, zr, zz, th = deformation
    return np.stack(((rr**2 + zr**2 - 1) / 2, (rz**2 + zz**2 - 1) / 2, (th**2 - 1) / 2, rr * rz + zr * zz))


def _strain_rows(cells: SolidCells, deformation: Array) -> Array:
    """Variations (E, 4, 2 F, Q) of Green's strains by the local functions, those of u first."""
    rr, rz, zr, zz, th = deformation[:, :, None]
    by_r, by_z, over_r = cells.gradient
    of_u = np.stack((rr * by_r, rz * by_z, th * over_r, rr * by_z + rz * by_r), axis=1)
    of_w = np.stack((zr * by_r, zz * by_z, np.zeros_like(by_r), zr * by_z + zz * by_r), axis=1)
    return np.concatenate((of_u, of_w), axis=2)


def _flat(rows: Array) -> Array:
    """(E, C, F, Q) as (E, F, C Q)."""
    count, strains, size, points = rows.shape
    return rows.transpose(0, 2, 1, 3).reshape(count, size, strains * points)


def _initial(cells: SolidCells, stress: Array, size: int) -> Array:
    """What weighted stress (4, E, Q) adds to the cell matrices (E, 2 F, 2 F): second variations of Green's strains."""
    by_r, by_z, over_r = cells.gradient
    s_rr, s_zz, s_th, s_rz = stress[:, :, None]
    turned = (0, 2, 1)
    both = (s_rr * by_r + s_rz * by_z) @ by_r.transpose(turned) + (s_rz * by_r + s_zz * by_z) @ by_z.transpose(turned)
    blocks = np.zeros((len(both), size, size))
    half = size // 2
    blocks[:, :half, :half] = both + (s_th * over_r) @ over_r.transpose(turned)
    blocks[:, half:, half:] = both
    return blocks
