"""Many walls on one meridian: designs that differ in material and thickness share one mesh, its matrices, small bases.

The terms of `model.wall_terms` are the same matrices with other factors, so that any wall is solved on the shared mesh
without meshing or assembling. Walls of the same materials, their thickness alone varying, lie nearly in the span of a
few samples' modes and answers, and are dense and quicker there; films of other materials do not: one span for ten films
of 25 to 100 um was off by up to 20 % of the low area at those that had not made it.
Source of the idea: Quarteroni, Manzoni and Negri, Reduced Basis Methods for Partial Differential Equations (2016),
ch. 3 (named from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TypeAlias

import numpy as np

from diaphragm_fem.analysis.eigen import eigenpairs_below, factor_symmetric
from diaphragm_fem.analysis.reduced import Reduced, reduction
from diaphragm_fem.analysis.response import respond
from diaphragm_fem.answer.quick import AS_USUAL, Quick, Wanted, quick_of
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.errors import StudyError
from diaphragm_fem.mesh.meridian import MeridianMesh, mesh_meridian
from diaphragm_fem.model.shell import ShellModel
from diaphragm_fem.model.shell_face import Face, shell_face
from diaphragm_fem.model.structure import Structure
from diaphragm_fem.model.wall_terms import SpannedTerms, WallTerms, wall_terms

Walls: TypeAlias = Mapping[str, WallChoice]  # of some zones, by their names

BASIS_CUT = 4e-5  # directions smaller than this share of the largest are left out of a span
_INERT = 0.1  # of the energy of motion at the top frequency joins that of strain: free parts have some, too
TOLERANCE = 3e-4  # of the larger of |S| and the low area: beyond it a wall's own vectors join the span


@dataclass(frozen=True, eq=False)
class WallFamily:
    """A base design, its mesh and the terms of its walls on it; face: its front."""

    base: Design
    mesh: MeridianMesh
    up_to_hz: float
    terms: WallTerms
    face: Face

    def structure(self, walls: Walls) -> Structure:
        """The structure of the base design with some zones' walls changed."""
        return self.terms.structure(self.complete(walls))

    def complete(self, walls: Walls) -> dict[str, WallChoice]:
        """The walls of all zones. Raises StudyError for a zone that is not there."""
        unknown = set(walls) - {zone.name for zone in self.base.zones}
        if unknown:
            zones = [zone.name for zone in self.base.zones]
            raise StudyError(f"no zone is called {sorted(unknown)}; the design has {zones}")
        own: dict[str, WallChoice] = {}
        for piece in (*self.base.meridian, *self.base.former):
            own.setdefault(piece.zone.name, WallChoice(piece.wall.layers[0].material, 1.0))
        return {**own, **walls}


def wall_family(base: Design, samples: Sequence[Walls], *, up_to_hz: float = 20e3) -> WallFamily:
    """Prepare a family around a base design; the mesh serves the most demanding of it and of some sample walls.

    Raises StudyError where a wall has several layers.
    """
    for piece in (*base.meridian, *base.former):
        if len(piece.wall.layers) != 1:
            raise StudyError(
                f"{piece.zone.name}: only walls of one layer can share an assembly, received {len(piece.wall.layers)}; "
                "of parts glued over one another, leave overlap and collar out to compare their walls"
            )
    mesh = _finest_mesh([base, *(with_walls(base, walls) for walls in samples)], up_to_hz)
    model = ShellModel(mesh)
    face = shell_face(model.line, model.line.order_terms(0).numbering)
    return WallFamily(base, mesh, up_to_hz, wall_terms(model), face)


@dataclass(frozen=True, eq=False)
class WallSpan:
    """A family on a small basis, where some of its walls lie; face: its front, sweeping what the small unknowns do."""

    family: WallFamily
    terms: SpannedTerms
    face: Face

    def structure(self, walls: Walls) -> Structure:
        """The small structure of the base design with some zones' walls changed."""
        return self.terms.structure(self.family.complete(walls))


def wall_span(
    family: WallFamily, samples: Sequence[Walls], tries: Sequence[Walls], patterns: Array | None = None
) -> WallSpan | None:
    """The span of a family's sample walls, held against others: those of `tries` that it misses by more than 3e-4 of
    the low area join it at once, until two in a row are met, which join it, too; None where that does not happen.

    patterns: of force (n, P), whose static answers join: what a chamber before the face does.
    """
    bases = [_own(family, walls, patterns)[0] for walls in samples]
    found, met = _span(family, bases), 0
    for walls in tries:
        basis, reduced = _own(family, walls, patterns)
        bases.append(basis)
        if _missed(found.structure(walls), reduced) < TOLERANCE:
            met += 1
            if met == 2:
                return _span(family, bases)
        else:
            found, met = _span(family, bases), 0
    return None


def quick_wall(group: WallFamily | WallSpan, walls: Walls, from_hz: float = 20.0, wanted: Wanted = AS_USUAL) -> Quick:
    """Figures of one wall of a family from its matrices or its small ones; modes beyond the range always from those."""
    family = group if isinstance(group, WallFamily) else group.family
    return quick_of(group.structure(walls), family.up_to_hz, from_hz, wanted, partial(family.structure, walls))


def _own(family: WallFamily, walls: Walls, patterns: Array | None) -> tuple[Array, Reduced]:
    """What one wall of a family moves like: a basis (n, N), and its answers."""
    structure, up_to_hz = family.structure(walls), family.up_to_hz
    stiffness, top = structure.stiffness_at(up_to_hz), (2 * np.pi * up_to_hz) ** 2
    basis, small = reduction(structure, up_to_hz, eigenpairs_below(stiffness, structure.mass, top))
    # the answer to a pressure at rest with the coil held: without it the equivalent air volume is up to 0.8 % short
    if structure.rigid_modes:
        stiffness = stiffness + 1e-4 * top * structure.mass
    loads = [structure.volume.sum(axis=0)[:, None], structure.drive[:, None], *([] if patterns is None else [patterns])]
    pushed, driven, *others = factor_symmetric(stiffness).solve(np.hstack(loads)).T
    held = pushed - driven * (structure.pickup @ pushed) / (structure.pickup @ driven)
    others = np.column_stack((held, *others))
    pull = stiffness @ others + _INERT * top * (structure.mass @ others)
    others = others / np.sqrt(np.einsum("nk,nk->k", others, pull))
    reduced = Reduced(structure, basis, small, up_to_hz, np.zeros(len(structure.zones)))
    return np.hstack((basis @ _taken(reduced), others)), reduced


def _taken(reduced: Reduced) -> Array:
    """Directions (N, N) of a small structure, as large as its modes and answers take them: those of unit energy each.

    A basis itself has no sizes: what one answer in a thousand has a trace of counts there as much as a mode, and a span
    of as many walls takes half as many unknowns again.
    """
    small, hz, top = reduced.small, reduced.knots_hz, (2 * np.pi * reduced.up_to_hz) ** 2
    energy = small.stiffness_at(reduced.up_to_hz) + _INERT * top * np.eye(small.size)
    squares, modes = np.linalg.eigh(energy)
    motion = respond(small, np.concatenate((hz, np.sqrt(hz[1:] * hz[:-1]))))
    motion = motion / np.sqrt(np.einsum("nf,nf->f", motion.conj(), energy @ motion).real)
    below = squares < (1 + _INERT) * top
    taken = np.hstack((motion.real, motion.imag, modes[:, below] / np.sqrt(squares[below])))
    left, size, _ = np.linalg.svd(taken, full_matrices=False)
    return np.asarray(left * size)


def _missed(small: Structure, own: Reduced) -> float:
    """By how much a small structure misses the area of a wall's own answers, over the larger of |S| and S at rest."""
    within = own.knots_hz[own.knots_hz <= own.up_to_hz]
    exact, found = (_area(structure, within) for structure in (own.small, small))
    return float(np.max(np.abs(found - exact) / np.maximum(np.abs(exact), np.abs(exact[0]))))


def _area(structure: Structure, frequency_hz: Array) -> Complex:
    motion = respond(structure, frequency_hz)
    return np.asarray(structure.volume.sum(axis=0) @ motion / (structure.pickup @ motion))


def _span(family: WallFamily, bases: Sequence[Array]) -> WallSpan:
    """What all bases span: leading left singular vectors, each unknown against its own largest value. By squares,
    which leave eight digits: a third of the time of singular values.
    """
    stacked = np.hstack(bases)
    scale = np.abs(stacked).max(axis=1, keepdims=True)
    scale[scale == 0] = 1.0
    even = stacked / scale
    squares, turn = np.linalg.eigh(even.T @ even)
    kept = squares > BASIS_CUT**2 * squares[-1]
    basis = stacked @ (turn[:, kept] / np.sqrt(squares[kept]))
    face = family.face
    return WallSpan(family, family.terms.spanned(basis), replace(face, sweep=face.sweep @ basis))


def _finest_mesh(designs: Sequence[Design], up_to_hz: float) -> MeridianMesh:
    meshes = [mesh_meridian(design, up_to_hz) for design in designs]
    finest = tuple(max(options, key=len) for options in zip(*(mesh.stations for mesh in meshes), strict=True))
    return MeridianMesh(designs[0], finest, up_to_hz)
