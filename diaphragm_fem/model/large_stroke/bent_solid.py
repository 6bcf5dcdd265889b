"""The wall's section as a solid that moves far, m = 0: the second opinion on the shell, without its assumptions.

Total Lagrangian, F = 1 + grad u in (r, z) and F_th = 1 + u/r, by the law that the shell's walls have: linear on the
stretch U = sqrt(F^T F),

    W = mu |U - 1|^2 + lambda (tr U - 3)^2/2,   tr U = hypot(F_rr + F_zz, F_zr - F_rz) + F_th,

and |U - 1| = |F - R|, R the rotation of F. What parts both is then what the shell takes for granted, in sharp bends
above all: a flat strip bent to the curvature k has the moment E h^3 k/(12 (1 - nu^2)) times 12 (sinh x - x)/
(x^3 (1 + cosh x)) = 1 - x^2/5 ..., x = h k, where the shell has 1. A law on Green's strains (St. Venant and Kirchhoff)
will not do: it gives way in compression, and a soft step that a film holds by its middle is pressed so in its corners,
however fine the cells. Cells, supports and drive are those of the linear solid; winding, ring and springs stay linear.
Source: John, Commun. Pure Appl. Math. 13 (1960) 239, for the law (named from memory; the tests check the equations by
differences, in closed form and against the shell).
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.model.large_stroke.bent_shell import storage_factor
from diaphragm_fem.model.law import Elastic
from diaphragm_fem.model.solid.cells import lame
from diaphragm_fem.model.solid.lines import U, W
from diaphragm_fem.model.solid.solid import SolidModel
from diaphragm_fem.model.solid.support import Reduction
from diaphragm_fem.model.structure import Structure

RR, RZ, ZR, ZZ, TH = range(5)  # rows of F and of the stress that works on it
OF_U, OF_W = (RR, RZ, TH), (ZR, ZZ)  # which of them change with u and with w: by d/dr, d/dz and over r


@dataclass(frozen=True)
class BentCells:
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
        raw = self._reduction.to_raw @ unknowns
        found = np.zeros(len(raw))
        for cells in self.cells:
            stress = first_stress(self._deformation(cells, raw), *self._lame(cells.material)) * cells.weight
            inner = [np.einsum("ceq,cefq->ef", stress[list(x)], cells.gradient[: len(x)]) for x in (OF_U, OF_W)]
            np.add.at(found, cells.dofs, np.hstack(inner))
        return np.asarray(self._reduction.to_raw.T @ found + self.fixed @ unknowns)

    def tangent(self, unknowns: Array) -> csr_matrix:
        """Exact derivative (n, n) of `forces`, in N/m."""
        raw, pieces = self._reduction.to_raw @ unknowns, []
        for cells in self.cells:
            law = stress_slope(self._deformation(cells, raw), *self._lame(cells.material)) * cells.weight
            uu, uw, ww = (_blocks(cells, law, *x) for x in ((OF_U, OF_U), (OF_U, OF_W), (OF_W, OF_W)))
            pieces.append((0, cells.dofs, np.block([[uu, uw], [uw.transpose(0, 2, 1), ww]])))
        return csr_matrix(self._reduction.matrices(1, *pieces)[0][0] + self.fixed)

    def least_volume(self, unknowns: Array) -> float:
        """The smallest det F of all cells: at 0 and below the state says nothing, for a cell is turned inside out."""
        raw = self._reduction.to_raw @ unknowns
        states = [self._deformation(cells, raw) for cells in self.cells]
        return min(float(((f[RR] * f[ZZ] - f[RZ] * f[ZR]) * f[TH]).min()) for f in states)

    @cached_property
    def cells(self) -> list[BentCells]:
        shapes, section = self.model.shapes, self.model.section
        found = []
        for own in shapes.groups(np.column_stack((shapes.order_of_cell, section.material_of_cell))):
            material = self.model.design.materials[section.material_of_cell[own.cells[0]]]
            dofs = np.hstack((3 * own.nodes + U, 3 * own.nodes + W))
            found.append(BentCells(material, dofs, own.gradient, 2 * np.pi * own.weight))
        return found

    @cached_property
    def fixed(self) -> csr_matrix:
        """Stiffness (n, n) of winding, ring and springs."""
        own = [term for term in self.structure.terms if not (term.derivatives or isinstance(term.law, Elastic))]
        return csr_matrix(sum(term.matrix for term in own) if own else (self.size, self.size))

    @cached_property
    def _reduction(self) -> Reduction:
        return self.model.reduction(0)

    def _deformation(self, cells: BentCells, raw: Array) -> Array:
        """F (5, E, Q) of cells."""
        size = cells.gradient.shape[2]
        u, w = raw[cells.dofs[:, :size]], raw[cells.dofs[:, size:]]
        found = np.empty((5, *cells.weight.shape))
        found[list(OF_U)] = np.einsum("ef,kefq->keq", u, cells.gradient, optimize=True)
        found[list(OF_W)] = np.einsum("ef,kefq->keq", w, cells.gradient[:2], optimize=True)
        found[[RR, ZZ, TH]] += 1
        return found

    def _lame(self, material: Material) -> tuple[float, float]:
        """lambda and mu in Pa."""
        return lame(material.youngs_modulus * storage_factor(material, self.at_hz), material.poisson_ratio)


def first_stress(f: Array, lame: float, mu: float) -> Array:
    """dW/dF = 2 mu (F - R) + lambda (tr U - 3) R (5, ...) in Pa, R the rotation of F."""
    along, turn = _turn(f)
    return np.asarray(2 * mu * (f - turn) + lame * (along + f[TH] - 3) * turn)


def stress_slope(f: Array, lame: float, mu: float) -> Array:
    """d2W/dF2 (5, 5, ...) in Pa; R changes by its own turn alone."""
    along, turn = _turn(f)
    across = np.stack((turn[RZ], -turn[RR], turn[RR], turn[RZ], np.zeros_like(along)))
    found = lame * turn[:, None] * turn + (lame * (along + f[TH] - 3) - 2 * mu) / along * across[:, None] * across
    found[range(5), range(5)] += 2 * mu
    return np.asarray(found)


def _turn(f: Array) -> tuple[Array, Array]:
    """tr U in the plane, and the rotation R (5, ...), which is d tr U/dF."""
    cos, sin = f[RR] + f[ZZ], f[ZR] - f[RZ]
    along = np.hypot(cos, sin)
    cos, sin = cos / along, sin / along
    return along, np.stack((cos, -sin, sin, cos, np.ones_like(cos)))


def _blocks(cells: BentCells, law: Array, left: tuple[int, ...], right: tuple[int, ...]) -> Array:
    """Cell matrices (E, F, F) of a weighted law (5, 5, E, Q) between motions that change rows left and right of F."""
    rows, columns = cells.gradient[: len(left)], cells.gradient[: len(right)]
    weighted = np.einsum("cdeq,defq->cefq", law[np.ix_(left, right)], columns, optimize=True)
    return _flat(rows) @ _flat(weighted).transpose(0, 2, 1)


def _flat(rows: Array) -> Array:
    """(C, E, F, Q) as (E, F, C Q)."""
    strains, count, size, points = rows.shape
    return rows.transpose(1, 2, 0, 3).reshape(count, size, strains * points)
