"""One design as quickly as its figures and its area curve can be had: what a sweep runs a hundred thousand times."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.area import AreaCurve, area_of_reduced, resolved_area
from diaphragm_fem.analysis.eigen import Eigenpairs
from diaphragm_fem.analysis.equivalent_volume import equivalent_volume
from diaphragm_fem.analysis.figures import Figures, figures_of
from diaphragm_fem.analysis.grid import scan_frequencies
from diaphragm_fem.analysis.modes import Modes, first_resonance, solve_modes
from diaphragm_fem.analysis.reduced import Reduced
from diaphragm_fem.analysis.reduction import MODES_BEYOND_TOP, pairs_for_reduction, reduce_structure
from diaphragm_fem.analysis.static import solve_static
from diaphragm_fem.design.design import Design
from diaphragm_fem.model.shell import build_shell
from diaphragm_fem.model.structure import Structure

Array = NDArray[np.float64]
Bands = Mapping[str, tuple[float, float]]


@dataclass(frozen=True)
class QuickResult:
    """Area curve and figures of one design, on one mesh."""

    area: AreaCurve
    figures: Figures
    modes: Callable[[], Array]

    @cached_property
    def mode_hz(self) -> Array:
        """Frequencies (M,) in Hz of the m = 0 modes."""
        return self.modes()


def quick(
    design: Design,
    *,
    up_to_hz: float = 20e3,
    points: int = 400,
    from_hz: float = 20.0,
    force: bool = True,
    bands: Bands | None = None,
) -> QuickResult:
    """Figures and a resolved area curve of a driven design from the shell model, m = 0, one mesh.

    `force` says whether the curve holds the force on the coil too; `bands` are named bands in Hz for smooth measures.
    Raises AnalysisError without a drive; design and
    mesh errors pass through.
    """
    structure = build_shell(design, up_to_hz=up_to_hz).structure(0)
    return quick_of_structure(structure, up_to_hz, points, from_hz, force, bands)


def quick_of_structure(
    structure: Structure,
    up_to_hz: float,
    points: int,
    from_hz: float,
    force: bool = True,
    bands: Bands | None = None,
) -> QuickResult:
    """The same from an assembled structure of order 0."""
    scanned = _scan(structure, up_to_hz, from_hz, bands)
    area = resolved_area(structure, scanned.reduced, scanned.area, points, absolute=False, force=force)

    def modes() -> Array:
        top = (2 * np.pi * up_to_hz) ** 2
        squares = scanned.reduced.free_modes(top)[0] if scanned.pairs is None else scanned.pairs.squares
        elastic = squares[structure.rigid_modes : int(np.searchsorted(squares, top))]
        return np.asarray(np.sqrt(np.maximum(elastic, 0)) / (2 * np.pi))

    return QuickResult(area, scanned.figures, modes)


def quick_figures(structure: Structure, up_to_hz: float, from_hz: float, bands: Bands | None = None) -> Figures:
    """The figures alone, from an assembled structure of order 0."""
    return _scan(structure, up_to_hz, from_hz, bands).figures


class _Scanned(NamedTuple):
    pairs: Eigenpairs | None
    reduced: Reduced
    area: AreaCurve
    figures: Figures


def _scan(structure: Structure, up_to_hz: float, from_hz: float, bands: Bands | None) -> _Scanned:
    """Modes (a dense structure's come from its reduction), reduction, area on its fine scan, figures read from that."""
    pairs = None if isinstance(structure.stiffness, np.ndarray) else pairs_for_reduction(structure, up_to_hz)
    reduced = reduce_structure(structure, up_to_hz, pairs)
    if pairs is None:
        squares, coil = reduced.free_modes((2 * np.pi * up_to_hz * MODES_BEYOND_TOP) ** 2, low_ones=True)
    else:
        squares, coil = pairs.squares, (structure.pickup @ pairs.vectors) ** 2
    area = area_of_reduced(structure, reduced, scan_frequencies(reduced, from_hz, up_to_hz), absolute=False)
    static = solve_static(structure) if structure.rigid_modes else reduced.static
    swept = structure.volume.sum(axis=0)
    volume = equivalent_volume(structure.stiffness, structure.drive, structure.pickup, swept, structure.rigid_modes)

    def respond(frequency: Array) -> AreaCurve:
        return area_of_reduced(structure, reduced, frequency, absolute=False)

    def modes(top: float) -> Modes:
        return solve_modes(structure, top, pairs if top <= up_to_hz else None)

    fundamental = first_resonance(squares, coil, structure.rigid_modes)
    figures = figures_of(static, volume, area, respond, modes, fundamental, bands=bands)
    return _Scanned(pairs, reduced, area, figures)
