"""A family of walls on one meridian: the same terms, other factors.

For a wall of one layer the stiffness of a zone is a sum of four matrices, each times a number, its mass a sum of two.
With C = E/(1-nu^2) the plane-stress law is C [[1, 0, 0], [0, 1, 0], [0, 0, 1/2]] + C nu [[0, 1, 0], [1, 0, 0],
[0, 0, -1/2]], the second called "across"; the shear modulus E/(2 (1+nu)) = (C - C nu)/2 adds nothing new. Membrane and
shear go with the thickness, bending with its cube.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.material import LossFactor, Material
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.model.aligned import Aligned, entries_of
from diaphragm_fem.model.law import ONE, Elastic
from diaphragm_fem.model.shell import ShellModel, build_shell
from diaphragm_fem.model.structure import MASS, STIFFNESS, Structure, Term, projected

UNIT = "unit"
STIFFNESS_TERMS = 4  # of the six of a zone: membrane, across, bending, across; then mass and rotary mass
ELASTIC = np.array([1.0, 1.0, 1.0, 1.0, 0.0, 0.0])


@dataclass(frozen=True, eq=False)
class WallTerms:
    """Six matrices for each zone on one pattern, and the frame: the Structure of everything else, what does not vary
    included; whole: the frame's merged terms on the pattern of all together, places (E,) of a zone's entries in it.
    """

    zones: tuple[Aligned, ...]
    places: tuple[Index, ...]
    frame: Structure
    whole: Aligned

    def structure(self, walls: Mapping[str, WallChoice]) -> Structure:
        """The Structure for a wall per zone name."""
        terms: list[Term] = []
        rows = {(one.derivatives, one.law): row for one, row in zip(self.frame.merged, self.whole.values, strict=True)}
        for z, (zone, own, place) in enumerate(zip(self.frame.zones, self.zones, self.places, strict=True)):
            material, factor = walls[zone.name].material, coefficients(walls[zone.name])
            stiffness = Term(own.matrix(factor * ELASTIC), Elastic(material), STIFFNESS, z, material.name)
            mass = Term(own.matrix(factor * (1 - ELASTIC)), ONE, MASS, z, material.name)
            for term in (stiffness, mass):
                terms.append(term)
                row = rows.get((term.derivatives, term.law), np.zeros(self.whole.values.shape[1]))
                rows[term.derivatives, term.law] = row = row.copy()
                row[place] += term.matrix.data
        found = replace(self.frame, terms=(*terms, *self.frame.terms))
        aligned = self.whole._replace(values=np.array(list(rows.values())))
        # known already: 2 ms for a straight V
        merged = tuple(Term(aligned.of(row), law, d) for (d, law), row in zip(rows, aligned.values, strict=True))
        vars(found).update(aligned=aligned, merged=merged)
        return found

    def spanned(self, basis: Array) -> SpannedTerms:
        """The same on the span of a basis (n, N)."""
        zones = []
        for own in self.zones:
            held = np.flatnonzero(np.diff(own.starts))  # the unknowns of the zone: a sixth of all
            part = basis[held]
            zones.append([part.T @ (own.of(entries) @ basis)[held] for entries in own.values])
        return SpannedTerms(np.array(zones), projected(self.frame, basis))


@dataclass(frozen=True, eq=False)
class SpannedTerms:
    """The six matrices of each zone on a small basis (Z, 6, N, N), dense, and the frame there."""

    zones: Array
    frame: Structure

    def structure(self, walls: Mapping[str, WallChoice]) -> Structure:
        """The small Structure for a wall per zone name."""
        size, terms = self.frame.size, []
        factor = np.array([coefficients(walls[zone.name]) for zone in self.frame.zones])
        flat = self.zones.reshape(*self.zones.shape[:2], -1)
        for some, derivatives in ((slice(STIFFNESS_TERMS), STIFFNESS), (slice(STIFFNESS_TERMS, None), MASS)):
            found = (factor[:, None, some] @ flat[:, some]).reshape(-1, size, size)
            for z, (zone, matrix) in enumerate(zip(self.frame.zones, found, strict=True)):
                material = walls[zone.name].material
                law = Elastic(material) if derivatives == STIFFNESS else ONE
                terms.append(Term(matrix, law, derivatives, z, material.name))
        return replace(self.frame, terms=(*terms, *self.frame.terms))


def coefficients(wall: WallChoice) -> Array:
    """The six numbers (6,) that multiply the matrices of a zone."""
    material, scale = wall.material, wall.scale
    plane = material.youngs_modulus / (1 - material.poisson_ratio**2)
    across, density = plane * material.poisson_ratio, material.density
    once, cubed = scale, scale**3
    return np.array([plane * once, across * once, plane * cubed, across * cubed, density * once, density * cubed])


def wall_terms(model: ShellModel) -> WallTerms:
    """Split the m = 0 matrices of a model by assembling four unit materials and solving for the terms.

    The combination is exact, because the matrices are linear in the coefficients. Walls of one layer only.
    """
    trials = [(0.0, 1.0), (0.25, 1.0), (0.0, 2.0), (0.25, 2.0)]
    found = [_of_unit_walls(model, nu, scale) for nu, scale in trials]
    law = np.array([coefficients(WallChoice(_unit(nu), scale)) for nu, scale in trials])
    zones = []
    for z in range(len(found[0].zones)):
        walls = [
            [csr_matrix(term.matrix) for term in one.terms if term.zone == z and term.made_of == UNIT] for one in found
        ]
        own = entries_of([*(wall[0] for wall in walls), *(wall[1] for wall in walls[::2])]).aligned()
        stiffness = np.linalg.solve(law[:, :STIFFNESS_TERMS], own.values[:STIFFNESS_TERMS])
        mass = np.linalg.solve(law[::2, STIFFNESS_TERMS:], own.values[STIFFNESS_TERMS:])
        zones.append(own._replace(values=np.vstack((stiffness, mass))))
    frame = replace(found[0], terms=tuple(term for term in found[0].terms if term.made_of != UNIT))
    count, shape = len(frame.merged), (frame.size, frame.size)
    marks = [csr_matrix((np.ones(len(zone.columns)), zone.columns, zone.starts), shape=shape) for zone in zones]
    whole = entries_of([*(csr_matrix(term.matrix) for term in frame.merged), *marks]).aligned()
    places = tuple(np.flatnonzero(row) for row in whole.values[count:])
    return WallTerms(tuple(zones), places, frame, whole._replace(values=whole.values[:count]))


def _of_unit_walls(model: ShellModel, nu: float, scale: float) -> Structure:
    walls = {zone.name: WallChoice(_unit(nu), scale) for zone in model.design.zones}
    return build_shell(with_walls(model.design, walls), model.mesh).structure(0)


def _unit(nu: float) -> Material:
    return Material(UNIT, 1.0, 1.0, nu, LossFactor((0.0,)))
