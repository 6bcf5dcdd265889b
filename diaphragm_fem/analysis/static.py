"""The diaphragm as a mass on a spring: stiffness at the coil, moving mass, resonance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.analysis.eigen import eigenpairs_below, factor_symmetric
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.structure import Structure


@dataclass(frozen=True)
class Static:
    """Stiffness at the coil in N/m, moving mass in kg, and the resonance in Hz that both give.

    For a part that nothing holds the stiffness is 0, the moving mass that of the rigid motion, the resonance None.
    """

    stiffness: float
    moving_mass: float

    @property
    def resonance_hz(self) -> float | None:
        return float(np.sqrt(self.stiffness / self.moving_mass) / (2 * np.pi)) if self.stiffness else None


def solve_static(structure: Structure) -> Static:
    """Static answers for a force on the coil.

    With x the deflection under a unit force, stiffness = 1/(pickup x) and moving mass = x^T M x/(pickup x)^2, the
    mass that carries the kinetic energy of that shape; sqrt(stiffness/mass) is Rayleigh's upper bound of the
    fundamental (Rayleigh, Theory of Sound (1894), section 88). Raises AnalysisError without a drive.
    """
    require_drive(structure)
    stiffness, mass = structure.stiffness, structure.mass
    if structure.rigid_modes:
        low = 1e-9 * stiffness.diagonal().max() / mass.diagonal().max()
        rigid = eigenpairs_below(stiffness, mass, low).vectors[:, : structure.rigid_modes]
        shape = rigid @ (rigid.T @ structure.drive)
    else:
        shape = factor_symmetric(stiffness).solve(structure.drive)
    coil = float(structure.pickup @ shape)
    moving = float(shape @ (mass @ shape)) / coil**2
    if structure.rigid_modes:
        return Static(0.0, moving)
    return Static(1 / coil, moving)


def require_drive(structure: Structure) -> None:
    """Raise AnalysisError where nothing drives the structure."""
    if not np.any(structure.drive):
        raise AnalysisError("this answer needs a coil: give the design a coil or a ring where it is driven")
