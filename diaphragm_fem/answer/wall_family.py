"""Many walls on one meridian: designs that differ in material and thickness share one assembly and one small basis.

For a wall of one layer the stiffness of a zone is a sum of four matrices, each times a number: E/(1-nu^2) and
E nu/(1-nu^2) times the thickness scale (membrane) or its cube (bending); the mass is a sum of two, the density times
the scale and times its cube. Projected on the modes of a few sample designs these matrices are small and dense, and a
design costs milliseconds. Source of the idea: Quarteroni, Manzoni and Negri, Reduced Basis Methods for Partial
Differential Equations (2016), ch. 3 (named from memory); the tests and the grid of walls measure the error against
the full model at designs that did not make the basis.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.reduction import coil_first, pairs_for_reduction, reduction_vectors
from diaphragm_fem.answer.quick import QuickResult, quick_of_structure
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.errors import StudyError
from diaphragm_fem.mesh.meridian import MeridianMesh, mesh_meridian
from diaphragm_fem.model.affine_shell import STIFFNESS_TERMS, AffineShell, affine_shell, coefficients
from diaphragm_fem.model.shell import ShellModel
from diaphragm_fem.model.structure import Part, Structure

Array = NDArray[np.float64]

BASIS_CUT = 1.5e-4  # directions smaller than this share of the largest are left out of the common basis


@dataclass(frozen=True, eq=False)
class WallFamily:
    """A base design, its projected matrices and the small fixed part of everything that does not vary.

    stiffness_terms (4 Z, N N) and mass_terms (2 Z, N N) run zone by zone; the fixed parts of `small` are rings,
    windings and supports.
    """

    base: Design
    up_to_hz: float
    shell: AffineShell
    shell_mesh: MeridianMesh
    stiffness_terms: Array
    mass_terms: Array
    small: Structure

    @property
    def size(self) -> int:
        return self.small.size

    def structure(self, walls: Mapping[str, WallChoice]) -> Structure:
        """Reduced structure of the base design with some zones' walls changed."""
        complete = _complete(self.base, walls)
        chosen = [complete[zone.name] for zone in self.base.zones]
        weights = np.array([coefficients(choice.material, choice.scale) for choice in chosen])
        materials = {choice.material.name: choice.material for choice in chosen}
        made_of = np.array([[choice.material.name == name for choice in chosen] for name in materials])
        own = made_of[:, :, None] * weights
        parts = [
            Part(-1, name, stiffness, mass, material.loss_factor, material.loss_factor.constant)
            for (name, material), stiffness, mass in zip(
                materials.items(),
                self._combined(own[:, :, :STIFFNESS_TERMS], self.stiffness_terms),
                self._combined(own[:, :, STIFFNESS_TERMS:], self.mass_terms),
                strict=True,
            )
        ]
        return replace(self.small, parts=(*parts, *self.small.parts))

    def _combined(self, weights: Array, terms: Array) -> Array:
        """Matrices (M, N, N) of M materials from the weights (M, Z, T) of the terms of each zone."""
        return (weights.reshape(len(weights), -1) @ terms).reshape(-1, self.size, self.size)

    def quick(
        self, walls: Mapping[str, WallChoice], *, points: int = 400, from_hz: float = 20.0, force: bool = True
    ) -> QuickResult:
        """Figures and area curve of the base design with some zones' walls changed."""
        return quick_of_structure(self.structure(walls), self.up_to_hz, points, from_hz, force)

    def full_system(self, walls: Mapping[str, WallChoice]) -> Structure:
        """The same from the full matrices: to make the basis and to measure its error."""
        return self.shell.structure(_complete(self.base, walls))


def wall_family(base: Design, samples: Sequence[Mapping[str, WallChoice]], *, up_to_hz: float = 20e3) -> WallFamily:
    """Prepare a family around a base design from sample walls that span what is going to vary.

    The mesh serves the most demanding sample. Raises StudyError where a wall has several layers.
    """
    for piece in (*base.meridian, *base.former):
        if len(piece.wall.layers) != 1:
            raise StudyError(
                f"{piece.zone.name}: only walls of one layer can share an assembly, received {len(piece.wall.layers)}"
            )
    mesh = _finest_mesh([base, *(with_walls(base, walls) for walls in samples)], up_to_hz)
    shell = affine_shell(ShellModel(mesh))
    vectors = []
    for walls in samples:
        structure = shell.structure(_complete(base, walls))
        vectors.append(reduction_vectors(structure, up_to_hz, pairs_for_reduction(structure, up_to_hz)))
    basis = _common_basis(vectors)
    basis = coil_first(basis, basis.T @ shell.frame.pickup)
    terms = np.array([[(basis.T @ (term @ basis)).ravel() for term in zone] for zone in shell.terms])
    stiffness = terms[:, :STIFFNESS_TERMS].reshape(-1, basis.shape[1] ** 2)
    mass = terms[:, STIFFNESS_TERMS:].reshape(-1, basis.shape[1] ** 2)
    fixed = tuple(
        replace(part, stiffness=basis.T @ (part.stiffness @ basis), mass=basis.T @ (part.mass @ basis))
        for part in shell.frame.parts
    )
    frame = shell.frame
    pickup = basis.T @ frame.pickup
    pickup[1:] = 0.0  # but for rounding
    small = replace(
        frame,
        parts=fixed,
        drive=basis.T @ frame.drive,
        pickup=pickup,
        volume=frame.volume @ basis,
        draw_surface=None,
    )
    return WallFamily(base, up_to_hz, shell, mesh, stiffness, mass, small)


def _complete(base: Design, walls: Mapping[str, WallChoice]) -> dict[str, WallChoice]:
    unknown = set(walls) - {zone.name for zone in base.zones}
    if unknown:
        raise StudyError(f"no zone is called {sorted(unknown)}; the design has {[zone.name for zone in base.zones]}")
    own: dict[str, WallChoice] = {}
    for piece in (*base.meridian, *base.former):
        own.setdefault(piece.zone.name, WallChoice(piece.wall.layers[0].material, 1.0))
    return {**own, **walls}


def _finest_mesh(designs: Sequence[Design], up_to_hz: float) -> MeridianMesh:
    meshes = [mesh_meridian(design, up_to_hz) for design in designs]
    finest = tuple(max(options, key=len) for options in zip(*(mesh.stations for mesh in meshes), strict=True))
    return MeridianMesh(designs[0], finest, up_to_hz)


def _common_basis(groups: Sequence[Array]) -> Array:
    """Columns that span all groups: leading left singular vectors, each unknown against its own largest value."""
    stacked = np.hstack([group / np.linalg.norm(group, axis=0) for group in groups])
    scale = np.abs(stacked).max(axis=1, keepdims=True)
    scale[scale == 0] = 1.0
    left, size, _ = np.linalg.svd(stacked / scale, full_matrices=False)
    return left[:, size > BASIS_CUT * size[0]] * scale
