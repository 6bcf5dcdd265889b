"""The complex effective radiating area over frequency, whole and zone by zone."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from diaphragm_fem.analysis.grid import resolved_grid, scan_frequencies
from diaphragm_fem.analysis.reduced import LEAST_LOSS, Reduced
from diaphragm_fem.analysis.reduction import reduce_structure
from diaphragm_fem.analysis.static import require_drive
from diaphragm_fem.design.zone import Zone
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.structure import Structure

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]


@dataclass(frozen=True)
class AreaCurve:
    """Effective area S(f) = net volume velocity over coil velocity, exp(+i omega t).

    frequency_hz (F,); zone (Z, F) complex in m2, their sum is the whole; zone_area (Z,) rigid swept area in m2;
    absolute (F,) the area swept in total, integral |v_n| dS/|v_c|, or None; coil_force (F,) complex N/m, the force
    per metre of coil motion; low (Z,) the zone areas in the limit f -> 0; error: largest difference from the direct
    solve at check frequencies, relative to the low area, None when not measured.
    """

    frequency_hz: Array
    zone: Complex
    zones: tuple[Zone, ...]
    zone_area: Array
    low: Array
    absolute: Array | None = None
    coil_force: Complex | None = None
    error: float | None = None

    @property
    def total(self) -> Complex:
        return np.asarray(self.zone.sum(axis=0))

    @property
    def share(self) -> Complex:
        """Zone shares (Z, F): 1 rides with the coil, 0 stands still; nan where a zone sweeps no area."""
        with np.errstate(divide="ignore", invalid="ignore"):
            sweeps = np.abs(self.zone_area) > 1e-9 * np.abs(self.zone_area).sum()
            return np.where(sweeps[:, None], self.zone / self.zone_area[:, None], np.nan)

    @property
    def cancellation(self) -> Array | None:
        """1 - |S|/S_abs: how much of the motion does no work."""
        return None if self.absolute is None else 1 - np.abs(self.total) / self.absolute


def solve_area(
    structure: Structure,
    frequency_hz: ArrayLike | None = None,
    *,
    up_to_hz: float = 20e3,
    points: int = 400,
    from_hz: float = 20.0,
    absolute: bool = True,
    checks: int = 0,
) -> AreaCurve:
    """Effective area at given frequencies in Hz, or at `points` chosen so that no peak or dip is missed.

    `checks` direct solves measure the error of the reduction. Raises AnalysisError without a drive, for an order
    above 0, or for frequencies that are not above zero.
    """
    if structure.order != 0:
        raise AnalysisError(f"only order m = 0 sweeps a volume, received a structure of order {structure.order}")
    if frequency_hz is not None:
        frequency = np.atleast_1d(np.asarray(frequency_hz, float))
        if not np.all(frequency > 0):
            raise AnalysisError("frequencies must be above 0 Hz")
        up_to_hz = float(frequency.max())
    reduced = reduce_structure(structure, up_to_hz)
    if frequency_hz is None:
        curve = resolved_area(
            structure, reduced, scanned_area(structure, reduced, from_hz, up_to_hz), points, absolute=absolute
        )
    else:
        curve = area_of_reduced(structure, reduced, frequency, absolute=absolute)
    return replace(curve, error=area_error(structure, curve, checks)) if checks else curve


def area_of_reduced(
    structure: Structure, reduced: Reduced, frequency: Array, *, absolute: bool = True, force: bool = True
) -> AreaCurve:
    """Evaluate the curve of an already reduced structure, the total area swept and the coil's force where wanted."""
    volume, swept, pull = reduced.volume, None, None
    absolute = absolute and structure.surface is not None
    if absolute or force:
        unknown = reduced.transfer(frequency)
        zone, pull = volume @ unknown, reduced.coil_force(frequency, unknown)
        if absolute:
            swept = _absolute_area(structure, reduced, unknown)
    else:
        zone = reduced.respond(volume, frequency)
    return AreaCurve(frequency, zone, structure.zones, structure.zone_area, volume @ reduced.still, swept, pull)


def scanned_area(structure: Structure, reduced: Reduced, from_hz: float, up_to_hz: float) -> AreaCurve:
    """Area curve on the fine scan, without coil force: what figures of merit are read from, too long to keep.

    A kept curve resolves the whole area. Thresholds of single zones (break-up above all) may fall between its points:
    read from 400 points, the break-up of a stepped V was found wrong by up to 60 %.
    """
    frequency = scan_frequencies(reduced, from_hz, up_to_hz)
    return area_of_reduced(structure, reduced, frequency, absolute=False, force=False)


def resolved_area(
    structure: Structure, reduced: Reduced, scan: AreaCurve, points: int, *, absolute: bool = True, force: bool = True
) -> AreaCurve:
    """Area curve at `points` frequencies chosen from its fine scan so that no peak or dip of the whole is missed."""
    frequency = resolved_grid(scan.frequency_hz, scan.total, points)
    return area_of_reduced(structure, reduced, frequency, absolute=absolute, force=force)


def _absolute_area(structure: Structure, reduced: Reduced, unknown: Complex) -> Array:
    surface = structure.surface
    assert surface is not None
    front = surface.area > 0
    motion = surface.normal[front, :1] * (surface.motion_r[front] @ reduced.basis) + surface.normal[front, 1:] * (
        surface.motion_z[front] @ reduced.basis
    )
    return surface.area[front] @ np.abs(motion @ unknown)


def direct_area(structure: Structure, frequency_hz: ArrayLike) -> Complex:
    """Zone areas (Z, F) the plain way: one sparse factorisation of K(1 + i eta) - omega^2 M per frequency."""
    require_drive(structure)
    frequency = np.atleast_1d(np.asarray(frequency_hz, float))
    result = np.empty((len(structure.zones), len(frequency)), complex)
    for k, f in enumerate(frequency):
        losses = [max(float(part.loss(np.array([f]))[0]), LEAST_LOSS) for part in structure.parts]
        stiffness = sum(part.stiffness * (1 + 1j * loss) for part, loss in zip(structure.parts, losses, strict=True))
        motion = splu(csc_matrix(stiffness - (2 * np.pi * f) ** 2 * structure.mass)).solve(
            structure.drive.astype(complex)
        )
        result[:, k] = structure.volume @ motion / (structure.pickup @ motion)
    return result


def area_error(structure: Structure, curve: AreaCurve, checks: int) -> float:
    """Largest |S - S direct| over the low area at `checks` frequencies, the peaks of |S| among them."""
    size = np.abs(curve.total)
    peaks = np.flatnonzero((size[1:-1] > size[:-2]) & (size[1:-1] > size[2:])) + 1
    tallest = peaks[np.argsort(-size[peaks])[: checks // 2]]
    spread = np.linspace(0, len(size) - 1, checks - len(tallest)).astype(int)
    chosen = np.unique(np.concatenate((tallest, spread)))
    exact = direct_area(structure, curve.frequency_hz[chosen]).sum(axis=0)
    return float(np.max(np.abs(exact - curve.total[chosen])) / abs(curve.low.sum()))
