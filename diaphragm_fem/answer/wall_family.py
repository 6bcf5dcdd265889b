"""Many walls on one meridian: designs that differ in material and thickness share one assembly and one small basis.

Projected on what a few sample designs need (their modes and answers), the terms of `model.wall_terms` are small and
dense, and a design costs milliseconds. Source of the idea: Quarteroni, Manzoni and Negri, Reduced Basis Methods for
Partial Differential Equations (2016), ch. 3 (named from memory); the tests and the grid of walls measure the error
against the full model at designs that did not make the basis.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from diaphragm_fem.analysis.basis import reduction_basis
from diaphragm_fem.analysis.eigen import eigenpairs_below, factor_symmetric
from diaphragm_fem.answer.quick import AS_USUAL, Quick, Wanted, quick_of
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.errors import StudyError
from diaphragm_fem.mesh.meridian import MeridianMesh, mesh_meridian
from diaphragm_fem.model.shell import ShellModel
from diaphragm_fem.model.shell_face import Face, shell_face
from diaphragm_fem.model.structure import Structure
from diaphragm_fem.model.wall_terms import WallTerms, wall_terms

BASIS_CUT = 5e-5  # directions smaller than this share of the largest are left out of the common basis


@dataclass(frozen=True, eq=False)
class WallFamily:
    """A base design and its terms, in full and on the common basis; face: its front, sweeping what the unknowns of the
    common basis sweep.
    """

    base: Design
    mesh: MeridianMesh
    up_to_hz: float
    full: WallTerms
    small: WallTerms
    face: Face

    def structure(self, walls: Mapping[str, WallChoice], *, full: bool = False) -> Structure:
        """The small structure of the base design with some zones' walls changed, or the full one: to make the basis,
        and to measure its error.
        """
        return (self.full if full else self.small).structure(_complete(self.base, walls))


def wall_family(
    base: Design,
    samples: Sequence[Mapping[str, WallChoice]],
    *,
    up_to_hz: float = 20e3,
    pressed: Callable[[Face], Array] | None = None,
) -> WallFamily:
    """Prepare a family around a base design from sample walls that span what is going to vary.

    The mesh serves the most demanding sample. `pressed` gives patterns of force (n, P) on the front face whose static
    answers join the basis: what a chamber before it does. Raises StudyError where a wall has several layers.
    """
    for piece in (*base.meridian, *base.former):
        if len(piece.wall.layers) != 1:
            raise StudyError(
                f"{piece.zone.name}: only walls of one layer can share an assembly, received {len(piece.wall.layers)}"
            )
    mesh = _finest_mesh([base, *(with_walls(base, walls) for walls in samples)], up_to_hz)
    model = ShellModel(mesh)
    full, face = wall_terms(model), shell_face(model.line, model.line.order_terms(0).numbering)
    patterns = np.zeros((full.frame.size, 0)) if pressed is None else pressed(face)
    basis = _common_basis([_basis(full.structure(_complete(base, w)), up_to_hz, patterns) for w in samples])
    small = Face(face.point, face.place, face.length, face.sweep @ basis)
    return WallFamily(base, mesh, up_to_hz, full, full.projected(basis), small)


def quick_wall(
    family: WallFamily, walls: Mapping[str, WallChoice], from_hz: float = 20.0, wanted: Wanted = AS_USUAL
) -> Quick:
    """Figures of one wall of a family from its small structure; modes beyond the range from the full one."""
    whole = partial(family.structure, walls, full=True)
    return quick_of(family.structure(walls), family.up_to_hz, from_hz, wanted, whole)


def _basis(structure: Structure, up_to_hz: float, patterns: Array) -> Array:
    top = (2 * np.pi * up_to_hz) ** 2
    pairs = eigenpairs_below(structure.stiffness_at(up_to_hz), structure.mass, top)
    modes_and_answers = reduction_basis(structure, up_to_hz, pairs)
    # the answer to a pressure at rest with the coil held: without it the equivalent air volume is up to 0.8 % short
    stiffness = structure.stiffness_at(up_to_hz)
    if structure.rigid_modes:
        stiffness = stiffness + 1e-4 * top * structure.mass
    loads = np.column_stack((structure.volume.sum(axis=0), structure.drive, patterns))
    pushed, driven, *others = factor_symmetric(stiffness).solve(loads).T
    held = pushed - driven * (structure.pickup @ pushed) / (structure.pickup @ driven)
    return np.column_stack((modes_and_answers, held, *others))


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
