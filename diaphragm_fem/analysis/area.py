"""The area curve of a structure: the quick way, the plain way, and how far they are apart."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from diaphragm_fem.analysis.curve import Curve, curve_of
from diaphragm_fem.analysis.response import respond
from diaphragm_fem.analysis.sampling import extremes, thinned
from diaphragm_fem.analysis.solution import solve
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

    `checks` direct solves measure the error. Raises AnalysisError without a drive, for an order above 0, or for
    frequencies that are not above zero.
    """
    frequency = None if frequency_hz is None else np.atleast_1d(np.asarray(frequency_hz, float))
    if frequency is not None:
        if not np.all(frequency > 0):
            raise AnalysisError("frequencies must be above 0 Hz")
        from_hz, up_to_hz = float(frequency.min()), float(frequency.max())
    solution = solve(structure, up_to_hz, from_hz)
    curve = thinned(solution.scan, points) if frequency is None else solution.reduced.curve(frequency)
    if absolute:
        curve = solution.reduced.with_absolute(curve)
    return replace(curve, error=area_error(structure, curve, checks)) if checks else curve


def direct_area(structure: Structure, frequency_hz: ArrayLike) -> Curve:
    """Area curve the plain way, D(f) solved as it stands at each frequency; its area at rest is left out (nan)."""
    frequency = np.atleast_1d(np.asarray(frequency_hz, float))
    return curve_of(structure, frequency, respond(structure, frequency), np.full(len(structure.zones), np.nan))


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
