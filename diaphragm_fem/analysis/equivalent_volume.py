"""The air volume as compliant as the diaphragm: rho c^2 a^T K^-1 a, with the coil held and free."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.analysis.eigen import factor_symmetric
from diaphragm_fem.analysis.static import Static
from diaphragm_fem.arrays import Array
from diaphragm_fem.model.structure import Structure

AIR_STIFFNESS = 1.419e5  # rho c^2 in Pa: dry air at 20 deg C and 101.3 kPa, 1.204 kg/m3 and 343.2 m/s (ISO 9613-1)


class EquivalentVolume(NamedTuple):
    """Volumes in m3; free is None for a part that nothing holds: it gives way without end."""

    held: float
    free: float | None


def equivalent_volume(structure: Structure, static: Static) -> EquivalentVolume:
    """Equivalent air volume of a driven part, coil held and free, at the moduli of its static answers.

    Under a pressure p the front sweeps the volume a^T u with K u = p a, so a volume V of air with the same compliance
    has V/(rho c^2) = a^T K^-1 a. Held: the same with the coil's motion pickup^T u constrained to zero by a force on
    the drive. Free = held + rho c^2 S_low^2/stiffness at the coil. A chamber of volume V behind the part lowers the
    low area by the factor V/(V + held).
    Source: reciprocity and statics, derived here; the equivalent volume is defined as by Small, J. Audio Eng. Soc. 20
    (1972) 383 (named from memory).
    """
    factors, drive, pickup, swept = static.factors, structure.drive, structure.pickup, structure.volume.sum(axis=0)
    if factors is None:  # any spring on the coil makes it solvable; with the coil held it carries nothing
        matrix = structure.stiffness_at(static.modulus_hz)
        spring = np.outer(pickup, pickup) if structure.dense else _outer(pickup)
        factors = factor_symmetric(matrix + float(matrix.diagonal().max()) / float(pickup @ pickup) * spring)
    pushed, driven = factors.solve(np.column_stack((swept, drive))).T
    held = float(swept @ pushed - (swept @ driven) * (pickup @ pushed) / (pickup @ driven))
    free = None if static.factors is None else AIR_STIFFNESS * float(swept @ pushed)
    return EquivalentVolume(AIR_STIFFNESS * max(held, 0.0), free)


def _outer(vector: Array) -> csr_matrix:
    row = csr_matrix(vector[None])
    return csr_matrix(row.T @ row)
