"""A family of walls on one meridian: the same terms, other factors.

For a wall of one layer the stiffness of a zone is a sum of four matrices, each times a number, its mass a sum of two.
With C = E/(1-nu^2) the plane-stress law is C [[1, 0, 0], [0, 1, 0], [0, 0, 1/2]] + C nu [[0, 1, 0], [1, 0, 0],
[0, 0, -1/2]], the second called "across"; the shear modulus E/(2 (1+nu)) = (C - C nu)/2 adds nothing new. Membrane and
shear go with the thickness, bending with its cube.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.material import LossFactor, Material
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.model.shell import ShellModel, build_shell
from diaphragm_fem.model.structure import MASS, ONE, STIFFNESS, Elastic, Matrix, Structure, Term, projected

UNIT = "unit"
STIFFNESS_TERMS = 4  # of the six of a zone: membrane, across, bending, across; then mass and rotary mass


@dataclass(frozen=True, eq=False)
class WallTerms:
    """Six matrices for each zone, and the frame: the Structure of everything else, what does not vary included."""

    matrices: tuple[Sequence[csr_matrix] | Array, ...]
    frame: Structure

    def structure(self, walls: Mapping[str, WallChoice]) -> Structure:
        """The Structure for a wall per zone name."""
        terms = []
        for z, (zone, matrices) in enumerate(zip(self.frame.zones, self.matrices, strict=True)):
            material, scale = walls[zone.name].material, walls[zone.name].scale
            factor, elastic = coefficients(material, scale), slice(STIFFNESS_TERMS)
            stiffness = _weighted(matrices[elastic], factor[elastic])
            mass = _weighted(matrices[STIFFNESS_TERMS:], factor[STIFFNESS_TERMS:])
            terms.append(Term(stiffness, Elastic(material), STIFFNESS, z, material.name))
            terms.append(Term(mass, ONE, MASS, z, material.name))
        return replace(self.frame, terms=(*terms, *self.frame.terms))

    def projected(self, basis: Array) -> WallTerms:
        """The same on the span of a basis (n, N)."""
        turned = basis.T
        small = tuple(np.stack([turned @ (matrix @ basis) for matrix in zone]) for zone in self.matrices)
        return WallTerms(small, projected(self.frame, basis))


def coefficients(material: Material, scale: float) -> tuple[float, ...]:
    """The six numbers that multiply the matrices of a zone, its thickness `scale` times the base design's."""
    plane = material.youngs_modulus / (1 - material.poisson_ratio**2)
    across, density = plane * material.poisson_ratio, material.density
    return plane * scale, across * scale, plane * scale**3, across * scale**3, density * scale, density * scale**3


def wall_terms(model: ShellModel) -> WallTerms:
    """Split the m = 0 matrices of a model by assembling four unit materials and solving for the terms.

    The combination is exact, because the matrices are linear in the coefficients. Walls of one layer only.
    """
    trials = [(0.0, 1.0), (0.25, 1.0), (0.0, 2.0), (0.25, 2.0)]
    found = [_of_unit_walls(model, nu, scale) for nu, scale in trials]
    law = np.array([coefficients(_unit(nu), scale) for nu, scale in trials])
    to_stiffness = np.linalg.inv(law[:, :STIFFNESS_TERMS])
    to_mass = np.linalg.inv(law[::2, STIFFNESS_TERMS:])
    matrices = []
    for z in range(len(found[0].zones)):
        walls = [[term.matrix for term in one.terms if term.zone == z and term.made_of == UNIT] for one in found]
        stiffness, mass = [wall[0] for wall in walls], [wall[1] for wall in walls[::2]]
        matrices.append((*_combined(to_stiffness, stiffness), *_combined(to_mass, mass)))
    added = tuple(term for term in found[0].terms if term.made_of != UNIT)
    return WallTerms(tuple(matrices), replace(found[0], terms=added))


def _weighted(matrices: Sequence[csr_matrix] | Array, factors: Sequence[float]) -> Matrix:
    if isinstance(matrices, np.ndarray):
        return np.tensordot(factors, matrices, axes=1)
    return csr_matrix(sum(factor * matrix for matrix, factor in zip(matrices, factors, strict=True)))


def _combined(rows: Array, matrices: list[Matrix]) -> list[csr_matrix]:
    return [csr_matrix(sum(c * k for c, k in zip(row, matrices, strict=True))) for row in rows]


def _of_unit_walls(model: ShellModel, nu: float, scale: float) -> Structure:
    walls = {zone.name: WallChoice(_unit(nu), scale) for zone in model.design.zones}
    return build_shell(with_walls(model.design, walls), model.mesh).structure(0)


def _unit(nu: float) -> Material:
    return Material(UNIT, 1.0, 1.0, nu, LossFactor((0.0,)))
