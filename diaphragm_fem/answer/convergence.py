"""Refine the shell mesh until the answers stop moving, and say how far they may still be off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.area import AreaCurve, area_error, resolved_area, scanned_area
from diaphragm_fem.analysis.eigen import Eigenpairs
from diaphragm_fem.analysis.modes import Modes, solve_modes
from diaphragm_fem.analysis.reduced import Reduced
from diaphragm_fem.analysis.reduction import pairs_for_reduction, reduce_structure
from diaphragm_fem.design.design import Design
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.shell import build_shell
from diaphragm_fem.model.structure import Structure

Array = NDArray[np.float64]

FREQUENCY_TOLERANCE = 1e-3
AREA_PER_FREQUENCY = 10.0  # the area curve may be off by ten times the frequency tolerance, of the low area
REFINEMENTS = (1, 2, 3, 4, 6)
ORDER_OF_CONVERGENCE = 4  # of a frequency with quadratic elements: twice the order of the strain
SAFETY = 2.0  # on the extrapolated error
DIRECT_CHECKS = 8  # frequencies at which the reduced area curve meets the direct solve


@dataclass(frozen=True)
class Converged:
    """The finest answers and their estimated errors (relative, per mode; area relative to the low area).

    `scan` is the area at very many frequencies, from which figures are read; `area` the resolved curve to keep.
    """

    mesh: MeridianMesh
    structures: Mapping[int, Structure]
    modes: Mapping[int, Modes]
    pairs: Eigenpairs | None
    frequency_error: Mapping[int, Array]
    scan: AreaCurve | None
    area: AreaCurve | None
    area_error: float | None
    refinement: int


class _Curves(NamedTuple):
    """The fine scan and curve, what the mesh may still change in it, and the measured error of the reduction."""

    scan: AreaCurve | None
    area: AreaCurve | None
    mesh_error: float
    reduction_error: float


@dataclass(frozen=True)
class _Pass:
    refinement: int
    mesh: MeridianMesh
    structures: Mapping[int, Structure]
    modes: Mapping[int, Modes]
    pairs: Eigenpairs | None
    reduced: Reduced | None


def converge(
    design: Design, orders: Sequence[int], up_to_hz: float, from_hz: float, points: int, tolerance: float
) -> Converged:
    """Solve on finer and finer meshes until the estimates meet the tolerance or the finest mesh is reached.

    The error of the finer of two meshes with element counts 1 : k is |f_fine - f_coarse|/(k^4 - 1) by Richardson,
    times a safety factor of two. The area curves are compared after each resonance has been moved by its own error
    (else a sharp peak's smallest shift would count as a large error), plus the measured error of the reduction.
    Source: Richardson (1911); Szabo and Babuska, Finite Element Analysis (1991), ch. 4 (named from memory).
    """
    coarse = _solve(design, orders, up_to_hz, REFINEMENTS[0])
    for refinement in REFINEMENTS[1:]:
        fine = _solve(design, orders, up_to_hz, refinement)
        shrink = SAFETY / ((refinement / coarse.refinement) ** ORDER_OF_CONVERGENCE - 1)
        error = {m: shrink * _relative_change(coarse.modes[m], fine.modes[m]) for m in orders}
        curves = _area(fine, coarse, from_hz, up_to_hz, points, shrink)
        worst = max((float(e.max()) for e in error.values() if len(e)), default=0.0)
        if worst <= tolerance and curves.mesh_error <= AREA_PER_FREQUENCY * tolerance:
            break
        coarse = fine
    return Converged(
        fine.mesh,
        fine.structures,
        fine.modes,
        fine.pairs,
        error,
        curves.scan,
        curves.area,
        None if curves.area is None else curves.mesh_error + curves.reduction_error,
        refinement,
    )


def _solve(design: Design, orders: Sequence[int], up_to_hz: float, refinement: int) -> _Pass:
    model = build_shell(design, up_to_hz=up_to_hz, refine=refinement)
    structures = {m: model.structure(m) for m in orders}
    pairs = reduced = None
    if 0 in structures:
        pairs = pairs_for_reduction(structures[0], up_to_hz)
        if np.any(structures[0].drive):
            reduced = reduce_structure(structures[0], up_to_hz, pairs)
    modes = {m: solve_modes(structure, up_to_hz, pairs if m == 0 else None) for m, structure in structures.items()}
    return _Pass(refinement, model.mesh, structures, modes, pairs, reduced)


def _relative_change(coarse: Modes, fine: Modes) -> Array:
    """Relative change of each fine frequency; a mode that crossed the top frequency is compared with the top."""
    before = np.full(len(fine), fine.up_to_hz)
    shared = min(len(coarse), len(fine))
    before[:shared] = coarse.frequency_hz[:shared]
    return np.abs(before - fine.frequency_hz) / fine.frequency_hz


def _area(fine: _Pass, coarse: _Pass, from_hz: float, up_to_hz: float, points: int, shrink: float) -> _Curves:
    if fine.reduced is None or coarse.reduced is None:
        return _Curves(None, None, 0.0, 0.0)
    structure = fine.structures[0]
    scan = scanned_area(structure, fine.reduced, from_hz, up_to_hz)
    curve = resolved_area(structure, fine.reduced, scan, points)
    moved = _move_resonances(fine.reduced, coarse.reduced, curve.frequency_hz)
    output = coarse.reduced.volume.sum(axis=0)
    other = coarse.reduced.respond(output[None], moved)[0]
    change = float(np.max(np.abs(other - curve.total)) / abs(curve.low.sum()))
    return _Curves(scan, curve, shrink * change, area_error(structure, curve, DIRECT_CHECKS))


def _move_resonances(fine: Reduced, coarse: Reduced, frequency: Array) -> Array:
    """Frequencies at which the coarse curve should be read: the fine ones, each pole carried to its coarse twin."""
    here, there = fine.blocked_poles[0], coarse.blocked_poles[0]
    top = 1.2 * frequency[-1]
    count = min(int((here < top).sum()), int((there < top).sum()))
    start = frequency[0] / 10
    known = np.concatenate(([start], here[:count], [10 * top]))
    carried = np.concatenate(([start], there[:count], [10 * top]))
    keep = np.concatenate(([True], np.diff(known) > 0))
    return np.asarray(np.interp(frequency, known[keep], carried[keep]))
