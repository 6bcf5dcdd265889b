"""The shell's matrices split into terms that material and thickness multiply: assemble once, combine at will."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from diaphragm_fem.design.design import Design
from diaphragm_fem.design.material import LossFactor, Material
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.model.shell import ShellModel, build_shell
from diaphragm_fem.model.structure import Part, Structure

Array = NDArray[np.float64]

TERMS = ("membrane", "membrane across", "bending", "bending across", "mass", "rotary mass")
STIFFNESS_TERMS = 4


def coefficients(material: Material, scale: float) -> Array:
    """The six numbers (6,) that multiply the terms of a zone: see TERMS.

    With C = E/(1-nu^2) the plane-stress law is C [[1, 0, 0], [0, 1, 0], [0, 0, 1/2]] + C nu [[0, 1, 0], [1, 0, 0],
    [0, 0, -1/2]], the second called "across". The shear modulus E/(2 (1+nu)) = (C - C nu)/2 adds nothing new.
    """
    nu = material.poisson_ratio
    plane = material.youngs_modulus / (1 - nu**2)
    stiffness = [plane * scale, plane * nu * scale, plane * scale**3, plane * nu * scale**3]
    return np.array([*stiffness, material.density * scale, material.density * scale**3])


@dataclass(frozen=True, eq=False)
class AffineShell:
    """Terms (zone by zone, six each, sparse) and the frame: everything else of the Structure, fixed parts included."""

    terms: tuple[tuple[csr_matrix, ...], ...]
    frame: Structure

    def structure(self, walls: Mapping[str, WallChoice]) -> Structure:
        """The full Structure for a wall per zone name."""
        parts = []
        for z, zone in enumerate(self.frame.zones):
            material = walls[zone.name].material
            total = [
                weight * term
                for weight, term in zip(coefficients(material, walls[zone.name].scale), self.terms[z], strict=True)
            ]
            stiffness, mass = csr_matrix(sum(total[:STIFFNESS_TERMS])), csr_matrix(sum(total[STIFFNESS_TERMS:]))
            loss = material.loss_factor
            parts.append(Part(z, material.name, stiffness, mass, loss, loss.constant))
        return replace(self.frame, parts=(*parts, *self.frame.parts))


def affine_shell(model: ShellModel) -> AffineShell:
    """Split the m = 0 matrices of a model into terms by assembling four unit materials and solving for the terms.

    The combination is exact, because the matrices are linear in the coefficients. Walls of one layer only.
    """
    trials = [(0.0, 1.0), (0.25, 1.0), (0.0, 2.0), (0.25, 2.0)]
    law = np.array([coefficients(_unit(nu), scale)[:STIFFNESS_TERMS] for nu, scale in trials])
    inverse = np.linalg.inv(law)
    structures = [
        build_shell(_all_of(model.design, WallChoice(_unit(nu), scale)), model.mesh).structure(0)
        for nu, scale in trials
    ]
    wall = [[part for part in structure.parts if part.material == "unit"] for structure in structures]
    mass_law = np.array([coefficients(_unit(0.0), scale)[STIFFNESS_TERMS:] for scale in (1.0, 2.0)])
    mass_inverse = np.linalg.inv(mass_law)
    terms = []
    for z in range(len(structures[0].zones)):
        stiffness = [next(p for p in parts if p.zone == z).stiffness for parts in wall]
        mass = [next(p for p in wall[t] if p.zone == z).mass for t in (0, 2)]
        terms.append(
            tuple(csr_matrix(sum(c * k for c, k in zip(row, stiffness, strict=True))) for row in inverse)
            + tuple(csr_matrix(sum(c * k for c, k in zip(row, mass, strict=True))) for row in mass_inverse)
        )
    fixed = tuple(part for part in structures[0].parts if part.material != "unit")
    return AffineShell(tuple(terms), replace(structures[0], parts=fixed))


def _unit(nu: float) -> Material:
    return Material("unit", 1.0, 1.0, nu, LossFactor((0.0,)))


def _all_of(design: Design, choice: WallChoice) -> Design:
    return with_walls(design, {zone.name: choice for zone in design.zones})
