"""The diaphragm at rest: a mass on a spring at its coil, what each zone sweeps, and the volume of air as soft as it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.analysis.factors import factor_symmetric
from diaphragm_fem.analysis.response import require_drive
from diaphragm_fem.arrays import Array
from diaphragm_fem.load.air import moist_air
from diaphragm_fem.model.structure import Structure

AIR_STIFFNESS = moist_air().bulk_modulus  # in Pa, of air where no state is asked for; within 0.3 % from 0 to 30 deg C


@dataclass(frozen=True)
class Static:
    """Stiffness at the coil in N/m, moving mass in kg, low (Z,) the area of each zone at rest in m2, the frequency in
    Hz at whose storage moduli all of it holds, and the equivalent air volumes in m3, coil held and free; yields (Z,) in
    m3/Pa: what each zone sweeps under a pressure, coil held.

    For a part that nothing holds the stiffness is 0, the moving mass that of the rigid motion, the free volume None.
    """

    stiffness: float
    moving_mass: float
    low: Array
    modulus_hz: float
    held_volume: float
    free_volume: float | None
    yields: Array

    def closed_by(self, spring: float) -> Static:
        """Stiffness and areas with a closed volume behind: its pressure is `spring` (Pa/m3) times what is swept.

        By that pressure p per motion of the coil the stiffness gains p S, by reciprocity, S all of low; low loses p
        times yields, so that it falls to V/(V + held volume).
        """
        area = float(self.low.sum())
        pressure = pressure_behind(area, float(self.yields.sum()), spring)
        return replace(self, stiffness=self.stiffness + pressure * area, low=self.low - pressure * self.yields)


def pressure_behind(area: float, yields: float, spring: float) -> float:
    """Pressure in Pa per m of coil motion in a closed volume of `spring` (Pa/m3) behind an area in m2, at rest; yields
    in m3/Pa: what the part gives way to it with its coil held."""
    return spring * area / (1 + spring * yields)


def solve_static(structure: Structure, modulus_hz: float = 1.0) -> Static:
    """Static answers of a driven structure, every material at its storage modulus of the frequency `modulus_hz`.

    With x the deflection under a unit force on the coil, stiffness = 1/(pickup x), moving mass = x^T M x/(pickup x)^2,
    the mass that carries the kinetic energy of that shape, and low = volume x/(pickup x); sqrt(stiffness/mass) is
    Rayleigh's upper bound of the fundamental (Rayleigh, Theory of Sound (1894), section 88). What nothing holds stands
    on a spring at its coil, and moves rigidly.
    Under a pressure p the front sweeps the volume a^T u with K u = p a, so a volume V of air with the same compliance
    has V/(rho c^2) = a^T K^-1 a. Held: the same with the coil's motion constrained to zero by a force on the drive.
    Free = held + rho c^2 (sum of low)^2/stiffness. A chamber of volume V behind the part lowers the low area by the
    factor V/(V + held). Source: reciprocity and statics, derived here; the equivalent air volume is defined as by
    Small, J. Audio Eng. Soc. 20 (1972) 383 (named from memory).
    Raises AnalysisError without a drive.
    """
    require_drive(structure)
    stiffness, free, pickup = structure.stiffness_at(modulus_hz), structure.rigid_modes > 0, structure.pickup
    if free:
        row = pickup[None] if structure.dense else csr_matrix(pickup[None])
        stiffness = stiffness + row.T @ row * ((float(stiffness.diagonal().max()) or 1.0) / float(pickup @ pickup))
    swept = structure.volume.sum(axis=0)
    pushed, shape = factor_symmetric(stiffness).solve(np.column_stack((swept, structure.drive))).T
    coil = float(pickup @ shape)
    moving = float(shape @ (structure.mass @ shape)) / coil**2
    held = structure.volume @ (pushed - shape * (float(pickup @ pushed) / coil))
    return Static(
        stiffness=0.0 if free else 1 / coil,
        moving_mass=moving,
        low=structure.volume @ shape / coil,
        modulus_hz=modulus_hz,
        held_volume=AIR_STIFFNESS * max(float(held.sum()), 0.0),
        free_volume=None if free else AIR_STIFFNESS * float(swept @ pushed),
        yields=held,
    )
