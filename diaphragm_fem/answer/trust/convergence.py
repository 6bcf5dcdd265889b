"""Refine the shell mesh until the answers stop moving, and say how far they may still be off."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from math import inf
from typing import NamedTuple

import numpy as np

from diaphragm_fem.analysis.curve.curve import Curve
from diaphragm_fem.analysis.curve.reduced import Reduced
from diaphragm_fem.analysis.modes.modes import Modes, solve_modes
from diaphragm_fem.analysis.solution import Solution, area_error, solve
from diaphragm_fem.answer.machine.cores import beside
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.model.structure import Structure

FREQUENCY_TOLERANCE = 1e-3
AREA_PER_FREQUENCY = 10.0  # the area curve may be off by ten times the frequency tolerance
REFINEMENTS = (1, 2, 3, 4, 6)
MOST_ENTRIES = 8e6  # of all modes' shapes; of a stepped V 6e5 on the finest mesh, of a wall of 1e8 kg/m3 13e6: 1.9 GB
SAFETY = 2.0  # on the extrapolated error


@dataclass(frozen=True, eq=False)
class Level:
    """The answers on one mesh: structures and modes by circumferential order, the solution of a driven order 0; remarks
    on joints that the model left to the bare theory."""

    refinement: int
    mesh: MeridianMesh
    structures: dict[int, Structure]
    modes: dict[int, Modes]
    solution: Solution | None
    remarks: tuple[str, ...]


class Seen(NamedTuple):
    """What is compared of a coarser mesh: frequencies in Hz by order, and its reduction."""

    refinement: int
    frequency_hz: dict[int, Array]
    reduced: Reduced | None


@dataclass(frozen=True, eq=False)
class Converged:
    """The finest level, its curve, and how far it may still be off: frequency_error by order, relative, mode by mode;
    area_change what the mesh may still move of the curve, relative to the larger of |S| and the area at rest."""

    level: Level
    area: Curve | None
    frequency_error: dict[int, Array]
    area_change: float

    @cached_property
    def area_error(self) -> float | None:
        """The same with the error of the reduction, measured when first asked for (a third of a second); None without a
        curve."""
        return None if self.area is None else self.area_change + area_error(self.level.structures[0], self.area)


def converge(
    design: Design,
    orders: Sequence[int],
    up_to_hz: float,
    points: int,
    tolerance: float,
    corrected: bool = False,
) -> Converged:
    """Solve on finer and finer meshes until the estimates meet the tolerance, or no mesh is left that is finer, or none
    on which the shapes of all modes have less than MOST_ENTRIES.

    The error of the finer of two meshes with element counts 1 : k is |f_fine - f_coarse|/(k^p - 1) by Richardson,
    times a safety factor of two; p is told by `convergence_order`. The area curves are compared after each resonance
    has been moved by its own error (else a sharp peak's smallest shift would count as a large error), plus the measured
    error of the reduction.
    Source: Richardson (1911); Szabo and Babuska, Finite Element Analysis (1991), ch. 4 (named from memory).
    """
    level = partial(_level, design, orders, up_to_hz, corrected=corrected)
    with beside(lambda: _seen(level(REFINEMENTS[0]))) as first:  # two meshes in the time of the finer: 0.4 of 7.4 s
        fine = level(REFINEMENTS[1])
        coarse = first()
    for finer in (*REFINEMENTS[2:], None):
        ratio = fine.refinement / coarse.refinement
        shrink = {m: SAFETY / (ratio ** convergence_order(design, m) - 1) for m in (0, *orders)}
        error = {m: shrink[m] * _relative_change(coarse.frequency_hz[m], fine.modes[m]) for m in orders}
        curve = None if fine.solution is None else fine.solution.curve(points, absolute=True)
        change = 0.0
        if curve is not None and coarse.reduced is not None and fine.solution is not None:
            change = shrink[0] * _area_change(coarse.reduced, fine.solution.reduced, curve)
        worst = max((float(e.max()) for e in error.values() if len(e)), default=0.0)
        entries = sum(modes.vectors.size for modes in fine.modes.values())
        close = worst <= tolerance and change <= AREA_PER_FREQUENCY * tolerance
        if finer is None or close or entries * finer > MOST_ENTRIES * fine.refinement:
            break
        coarse, fine = _seen(fine), level(finer)
    return Converged(fine, curve, error, change)


def convergence_order(design: Design, m: int) -> int:
    """Power to assume for order m between the default mesh and one twice as fine: 4, 3 or 2.

    The element's own error falls with the fourth power. For m >= 1 the twist along an edge turns into shear within a
    layer about a wall thick, which elements longer than the wall cut off: at a free edge of a flat wall, or one on
    springs, which leaves the twist as free, the power is 2.1 to 2.7, at a held one 3.4 to 3.9 (Arnold and Falk, SIAM J.
    Math. Anal. 21 (1990) 281, the edge layer; named from memory). On 20 random designs and 11 plain ones, m = 0 to 3,
    two times the change over (2^p - 1) falls short of the error of the finer mesh in 2.5 % of the modes for m = 0
    (p = 4), 2.5 % for m >= 1 between held edges (p = 3; 17 % with 4), 4 % for m >= 1 with a free edge (p = 2; 70 % with
    4), never by more than 1e-5 of a frequency.
    """
    if m == 0:
        return 4
    loose = any(edge is not None and edge.axial != inf for edge in (design.inner_edge, design.outer_edge))
    return 2 if loose else 3


def _level(design: Design, orders: Sequence[int], up_to_hz: float, refinement: int, corrected: bool) -> Level:
    model = build_shell(design, up_to_hz=up_to_hz, refine=refinement, corrected=corrected)
    structures = {m: model.structure(m) for m in orders}
    solution = None
    if 0 in structures and np.any(structures[0].drive):
        solution = solve(structures[0], up_to_hz)
    pairs = None if solution is None else solution.pairs
    modes = {m: solve_modes(one, up_to_hz, pairs if m == 0 else None) for m, one in structures.items()}
    return Level(refinement, model.mesh, structures, modes, solution, model.joints.remarks if corrected else ())


def _seen(level: Level) -> Seen:
    frequency = {m: modes.frequency_hz for m, modes in level.modes.items()}
    return Seen(level.refinement, frequency, None if level.solution is None else level.solution.reduced)


def _relative_change(coarse: Array, fine: Modes) -> Array:
    """Relative change of each fine frequency; a mode that crossed the top frequency is compared with the top."""
    before = np.full(len(fine), fine.up_to_hz)
    shared = min(len(coarse), len(fine))
    before[:shared] = coarse[:shared]
    return np.abs(before - fine.frequency_hz) / fine.frequency_hz


def _area_change(coarse: Reduced, fine: Reduced, curve: Curve) -> float:
    """Largest change of the area from mesh to mesh, over the larger of |S| and the area at rest."""
    moved = _move_resonances(fine, coarse, curve.frequency_hz)
    change = np.abs(coarse.curve(moved).total - curve.total)
    return float(np.max(change / np.maximum(np.abs(curve.total), abs(float(curve.low.sum())))))


def _move_resonances(fine: Reduced, coarse: Reduced, frequency: Array) -> Array:
    """Frequencies at which the coarse curve should be read: the fine ones, each resonance with the coil held carried
    to its coarse twin."""
    here, there = fine.held_hz, coarse.held_hz
    count = min(len(here), len(there))
    start, end = frequency[0] / 10, 10 * frequency[-1]
    known = np.concatenate(([start], here[:count], [end]))
    carried = np.concatenate(([start], there[:count], [end]))
    keep = np.concatenate(([True], np.diff(known) > 0))
    return np.interp(frequency, known[keep], carried[keep])
