"""The area curve of a structure: the quick way, the plain way, and how far they are apart."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from diaphragm_fem.analysis.curve import Curve, curve_of
from diaphragm_fem.analysis.reduced import Reduced, reduce_structure
from diaphragm_fem.analysis.response import respond
from diaphragm_fem.analysis.sampling import extremes, thinned
from diaphragm_fem.analysis.static import solve_static
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.structure import Structure

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]


def solve_area(
    structure: Structure,
    frequency_hz: ArrayLike | None = None,
    *,
    up_to_hz: float = 20e3,
    points: int = 400,
    from_hz: float = 20.0,
    absolute: bool = True,
    checks: int = 0,
) -> Curve:
    """Area curve at given frequencies in Hz, or at `points` chosen so that its peaks and dips are among them.

    The area at rest takes the storage moduli of the lowest frequency. `checks` direct solves measure the error.
    Raises AnalysisError without a drive, for an order above 0, or for frequencies that are not above zero.
    """
    if structure.order != 0:
        raise AnalysisError(f"only order m = 0 sweeps a volume, received a structure of order {structure.order}")
    frequency = None if frequency_hz is None else np.atleast_1d(np.asarray(frequency_hz, float))
    if frequency is not None:
        if not np.all(frequency > 0):
            raise AnalysisError("frequencies must be above 0 Hz")
        from_hz, up_to_hz = float(frequency.min()), float(frequency.max())
    reduced = reduce_structure(structure, up_to_hz, solve_static(structure, from_hz).low)
    curve = thinned(reduced.scan(from_hz), points) if frequency is None else reduced.curve(frequency)
    if absolute:
        curve = with_absolute(reduced, curve)
    return replace(curve, error=area_error(structure, curve, checks)) if checks else curve


def direct_area(structure: Structure, frequency_hz: ArrayLike) -> Curve:
    """Area curve the plain way, D(f) solved as it stands at each frequency; its area at rest is left out (nan)."""
    frequency = np.atleast_1d(np.asarray(frequency_hz, float))
    return curve_of(structure, frequency, respond(structure, frequency), np.full(len(structure.zones), np.nan))


def with_absolute(reduced: Reduced, curve: Curve) -> Curve:
    """The curve with the area swept in total, every patch of the front with its absolute normal velocity."""
    surface = reduced.structure.surface
    if surface is None:
        return curve
    front = surface.area > 0
    motion = surface.normal[front, :1] * (surface.motion_r[front] @ reduced.basis) + surface.normal[front, 1:] * (
        surface.motion_z[front] @ reduced.basis
    )
    moved = np.abs(reduced.outputs(motion, curve.frequency_hz) * curve.coil_force)
    return replace(curve, absolute=surface.area[front] @ moved)


def area_error(structure: Structure, curve: Curve, checks: int) -> float:
    """Largest |S - S direct| at `checks` frequencies, over the larger of |S| and the area at rest: the tallest peaks
    and deepest dips, and the middles of even stretches of the curve.
    """
    size = np.abs(curve.total)
    found = extremes(size)
    place = np.log(size[found] / np.median(size))
    marked = found[np.argsort(-np.abs(place))[: checks // 2]]
    spread = (np.arange(checks - len(marked)) + 0.5) / max(checks - len(marked), 1) * (len(size) - 1)
    chosen = np.unique(np.concatenate((marked, spread.astype(int))))
    exact = direct_area(structure, curve.frequency_hz[chosen]).total
    scale = np.maximum(np.abs(exact), abs(float(curve.low.sum())))
    return float(np.max(np.abs(exact - curve.total[chosen]) / scale))
