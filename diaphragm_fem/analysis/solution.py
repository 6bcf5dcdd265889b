"""One driven structure of order 0 solved: its modes, its answers at rest and the scan from which all else is read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.area import with_absolute
from diaphragm_fem.analysis.curve import Curve
from diaphragm_fem.analysis.eigen import Eigenpairs
from diaphragm_fem.analysis.modes import first_resonance
from diaphragm_fem.analysis.own_modulus import eigenpairs_at_own_modulus
from diaphragm_fem.analysis.reduced import Reduced, reduce_structure
from diaphragm_fem.analysis.sampling import thinned
from diaphragm_fem.analysis.static import Static, solve_static
from diaphragm_fem.model.structure import Structure

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Solution:
    """What is known of a structure between two frequencies in Hz.

    pairs: its undamped modes below the top, each at its own moduli; static: its answers at rest, at the moduli of
    fundamental_hz, or of from_hz where there is no fundamental; reduced: its answers at any frequency; scan: the area
    curve at every frequency it takes to know it.
    """

    structure: Structure
    from_hz: float
    up_to_hz: float
    pairs: Eigenpairs
    fundamental_hz: float | None
    static: Static
    reduced: Reduced
    scan: Curve

    def curve(self, points: int, *, absolute: bool = False) -> Curve:
        """The area curve at `points` frequencies, its peaks and dips among them."""
        kept = thinned(self.scan, points)
        return with_absolute(self.reduced, kept) if absolute else kept

    @property
    def mode_hz(self) -> Array:
        """Frequencies (M,) in Hz of the modes, rigid motions left out."""
        return np.asarray(np.sqrt(np.maximum(self.pairs.squares[self.structure.rigid_modes :], 0)) / (2 * np.pi))


def solve(structure: Structure, up_to_hz: float, from_hz: float = 20.0) -> Solution:
    """Solve a driven structure of order 0. Raises AnalysisError without a drive or for a top frequency not above the
    lowest.
    """
    pairs = eigenpairs_at_own_modulus(structure, up_to_hz)
    coil = (structure.pickup @ pairs.vectors) ** 2
    fundamental = first_resonance(pairs.squares, coil, structure.rigid_modes)
    static = solve_static(structure, fundamental or from_hz)
    reduced = reduce_structure(structure, up_to_hz, static.low, pairs)
    return Solution(structure, from_hz, up_to_hz, pairs, fundamental, static, reduced, reduced.scan(from_hz))
