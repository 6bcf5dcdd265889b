"""The diaphragm as a mass on a spring: stiffness at the coil, moving mass, resonance, and what each zone sweeps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.analysis.eigen import Factors, eigenpairs_below, factor_symmetric
from diaphragm_fem.analysis.response import require_drive
from diaphragm_fem.arrays import Array
from diaphragm_fem.model.structure import Structure


@dataclass(frozen=True)
class Static:
    """Stiffness at the coil in N/m, moving mass in kg, low (Z,) the area of each zone at rest in m2, and the frequency
    in Hz at whose storage moduli all of it holds; factors of the stiffness there, for more answers at rest.

    For a part that nothing holds the stiffness is 0, the moving mass that of the rigid motion, the resonance None, and
    there are no factors.
    """

    stiffness: float
    moving_mass: float
    low: Array
    modulus_hz: float
    factors: Factors | None = None

    @property
    def resonance_hz(self) -> float | None:
        return float(np.sqrt(self.stiffness / self.moving_mass) / (2 * np.pi)) if self.stiffness else None


def solve_static(structure: Structure, modulus_hz: float = 1.0) -> Static:
    """Static answers for a force on the coil, every material at its storage modulus of the frequency `modulus_hz`.

    With x the deflection under a unit force, stiffness = 1/(pickup x), moving mass = x^T M x/(pickup x)^2, the mass
    that carries the kinetic energy of that shape, and low = volume x/(pickup x); sqrt(stiffness/mass) is Rayleigh's
    upper bound of the fundamental (Rayleigh, Theory of Sound (1894), section 88). Raises AnalysisError without a drive.
    """
    require_drive(structure)
    stiffness, mass, factors = structure.stiffness_at(modulus_hz), structure.mass, None
    if structure.rigid_modes:
        nearly_zero = 1e-9 * stiffness.diagonal().max() / mass.diagonal().max()
        rigid = eigenpairs_below(stiffness, mass, nearly_zero).vectors[:, : structure.rigid_modes]
        shape = rigid @ (rigid.T @ structure.drive)
    else:
        factors = factor_symmetric(stiffness)
        shape = factors.solve(structure.drive)
    coil = float(structure.pickup @ shape)
    moving = float(shape @ (mass @ shape)) / coil**2
    low = structure.volume @ shape / coil
    return Static(0.0 if structure.rigid_modes else 1 / coil, moving, low, modulus_hz, factors)
