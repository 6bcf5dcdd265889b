"""One design as quickly as its figures and its area curve can be had: what a sweep runs a hundred thousand times."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.area import AreaCurve, resolved_area, scanned_area
from diaphragm_fem.analysis.eigen import Eigenpairs
from diaphragm_fem.analysis.merit import Merit, figures_of_merit
from diaphragm_fem.analysis.modes import first_resonance
from diaphragm_fem.analysis.reduced import Reduced
from diaphragm_fem.analysis.reduction import MODES_BEYOND_TOP, pairs_for_reduction, reduce_structure
from diaphragm_fem.analysis.static import solve_static
from diaphragm_fem.design.design import Design
from diaphragm_fem.model.shell import build_shell
from diaphragm_fem.model.structure import Structure

Array = NDArray[np.float64]


@dataclass(frozen=True)
class QuickResult:
    """Area curve and figures of merit of one design, on one mesh."""

    area: AreaCurve
    merit: Merit
    modes: Callable[[], Array]

    @cached_property
    def mode_hz(self) -> Array:
        """Frequencies (M,) in Hz of the m = 0 modes."""
        return self.modes()


def quick(
    design: Design, *, up_to_hz: float = 20e3, points: int = 400, from_hz: float = 20.0, force: bool = True
) -> QuickResult:
    """Figures of merit and a resolved area curve of a driven design from the shell model, m = 0, one mesh.

    `force` says whether the curve holds the force on the coil too. Raises AnalysisError without a drive; design and
    mesh errors pass through.
    """
    structure = build_shell(design, up_to_hz=up_to_hz).structure(0, by_zone=False)
    return quick_of_structure(structure, up_to_hz, points, from_hz, force)


def quick_of_structure(
    structure: Structure, up_to_hz: float, points: int, from_hz: float, force: bool = True
) -> QuickResult:
    """The same from an assembled structure of order 0."""
    scanned = _scan(structure, up_to_hz, from_hz)
    area = resolved_area(structure, scanned.reduced, scanned.area, points, absolute=False, force=force)

    def modes() -> Array:
        top = (2 * np.pi * up_to_hz) ** 2
        squares = scanned.reduced.free_modes(top)[0] if scanned.pairs is None else scanned.pairs.squares
        elastic = squares[structure.rigid_modes : int(np.searchsorted(squares, top))]
        return np.asarray(np.sqrt(np.maximum(elastic, 0)) / (2 * np.pi))

    return QuickResult(area, scanned.merit, modes)


def quick_merit(structure: Structure, up_to_hz: float, from_hz: float) -> Merit:
    """The figures of merit alone, from an assembled structure of order 0."""
    return _scan(structure, up_to_hz, from_hz).merit


class _Scanned(NamedTuple):
    pairs: Eigenpairs | None
    reduced: Reduced
    area: AreaCurve
    merit: Merit


def _scan(structure: Structure, up_to_hz: float, from_hz: float) -> _Scanned:
    """Modes (a dense structure's come from its reduction), reduction, area on its fine scan, figures read from that."""
    pairs = None if isinstance(structure.stiffness, np.ndarray) else pairs_for_reduction(structure, up_to_hz)
    reduced = reduce_structure(structure, up_to_hz, pairs)
    if pairs is None:
        squares, coil = reduced.free_modes((2 * np.pi * up_to_hz * MODES_BEYOND_TOP) ** 2, low_ones=True)
    else:
        squares, coil = pairs.squares, (structure.pickup @ pairs.vectors) ** 2
    area = scanned_area(structure, reduced, from_hz, up_to_hz)
    static = solve_static(structure) if structure.rigid_modes else reduced.static
    merit = figures_of_merit(static, area, first_resonance(squares, coil, structure.rigid_modes))
    return _Scanned(pairs, reduced, area, merit)
