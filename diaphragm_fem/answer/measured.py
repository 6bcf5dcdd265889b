"""Measured curves beside what a design is predicted to do: deviation in dB, and peaks that belong together.

At each measured frequency the equations are solved again, nothing is read between points. Everything is predicted of
the design as its file has it: in vacuum, or with all that the file puts around the diaphragm.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.curve.curve import decibels
from diaphragm_fem.analysis.curve.reduced import Reduced
from diaphragm_fem.analysis.solution import FROM_HZ
from diaphragm_fem.answer.driver.curve import DriverCurve, driver_curve
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.measured.measured import FEWEST, MeasuredCurve
from diaphragm_fem.design.units.units import show
from diaphragm_fem.errors import AnalysisError

if TYPE_CHECKING:
    from diaphragm_fem.answer.driver.driver import DriverAnswer

Predict = Callable[[Array], NDArray[Any]]

FINE = 1200  # frequencies between the measured ends at which the prediction is drawn and its peaks are sought
PROMINENCE_DB = 1.0  # by which a peak stands out of what is beside it
NOISE_REACH = 6.0  # standard deviations of its noise: what stands out by less may be noise
SAME_PEAK = 1 / 3  # octaves: peaks further apart do not belong together
OFF_THE_PART = 0.02  # of the largest radius, by which a point may lie beyond the face


class Predicting(Protocol):
    """What of an answer a prediction is made from."""

    @property
    def reduced(self) -> Reduced | None: ...
    @property
    def driver(self) -> DriverAnswer | None: ...
    @property
    def up_to_hz(self) -> float: ...


@dataclass(frozen=True)
class PeakPair:
    """A measured peak and the predicted one nearest to it: Hz, and dB of its height over the prediction's."""

    measured_hz: float
    predicted_hz: float
    higher_db: float

    @property
    def shift(self) -> float:
        """Measured over predicted frequency, less one."""
        return self.measured_hz / self.predicted_hz - 1


@dataclass(frozen=True, eq=False)
class Beside:
    """One measured curve, cut to the range of the prediction, and the prediction at its frequencies (F,) in its unit.

    deviation_db (F,) is 20 lg |measured/predicted|; fine_hz (G,) and fine (G,) draw the prediction between; pairs are
    the peaks that belong together, unmatched how many measured and predicted ones have no partner, none of both where
    measured points are too far apart; loaded says whether the prediction has everything on that the design file puts
    around the diaphragm.
    """

    curve: MeasuredCurve
    predicted: Complex
    fine_hz: Array
    fine: Complex
    pairs: tuple[PeakPair, ...]
    unmatched: tuple[int, int]
    loaded: bool = False

    @property
    def deviation_db(self) -> Array:
        return decibels(np.abs(self.curve.values)) - decibels(np.abs(self.predicted))

    @property
    def median_db(self) -> float:
        return float(np.median(self.deviation_db))

    @property
    def rms_db(self) -> float:
        """Root of the mean square of the deviation in dB."""
        return float(np.sqrt(np.mean(self.deviation_db**2)))

    @property
    def most_db(self) -> tuple[float, float]:
        """Tenth and ninetieth percentile of the deviation in dB."""
        low, high = np.percentile(self.deviation_db, (10, 90))
        return float(low), float(high)

    @property
    def worst(self) -> tuple[float, float]:
        """The largest deviation in dB and its frequency in Hz."""
        k = int(np.argmax(np.abs(self.deviation_db)))
        return float(self.deviation_db[k]), float(self.curve.frequency_hz[k])

    @property
    def octaves_apart(self) -> float:
        """Median distance between measured points."""
        return float(np.median(np.diff(np.log2(self.curve.frequency_hz))))

    @property
    def tells_peaks(self) -> bool:
        """Whether measured points lie so close that the highest of them is the place of a peak."""
        return self.octaves_apart <= SAME_PEAK / 2

    @property
    def median_shift(self) -> float | None:
        """Median shift of the peaks that belong together; None without any."""
        return float(np.median([pair.shift for pair in self.pairs])) if self.pairs else None


def put_beside(found: Predicting, curves: Sequence[MeasuredCurve]) -> tuple[Beside, ...]:
    """Each measured curve beside the prediction. Raises AnalysisError naming the curve where there is none."""
    if found.reduced is None:
        raise AnalysisError(f"{curves[0].origin}: a curve needs a driven design; give it a [coil], received none")
    reduced, loaded = as_measured(found), found.driver is not None
    return tuple(
        _beside(curve, predictor(found, reduced, curve), loaded) for curve in _in_range(curves, found.up_to_hz)
    )


def as_measured(found: Predicting) -> Reduced:
    """The equations that answer for a driven design as its file has it, in a driver with everything on."""
    assert found.reduced is not None
    return found.reduced if found.driver is None else found.driver.loaded.reduced


def _in_range(curves: Sequence[MeasuredCurve], top: float) -> list[MeasuredCurve]:
    kept = []
    for curve in curves:
        inside = (curve.frequency_hz >= FROM_HZ) & (curve.frequency_hz <= top) & (np.abs(curve.values) > 0)
        if np.count_nonzero(inside) < FEWEST:
            raise AnalysisError(
                f"{curve.origin}: needs {FEWEST} points at least between {FROM_HZ:g} Hz and {top:g} Hz that are not 0; "
                f"it runs from {curve.frequency_hz[0]:g} Hz to {curve.frequency_hz[-1]:g} Hz: set --up-to, or mend the "
                "unit of its frequencies"
            )
        kept.append(replace(curve, frequency_hz=curve.frequency_hz[inside], values=curve.values[inside]))
    return kept


def predictor(found: Predicting, reduced: Reduced, curve: MeasuredCurve) -> Predict:
    """What gives the prediction of a curve's quantity, at its point, at any frequencies."""
    name = curve.quantity.name
    if name == "area":
        return lambda f: reduced.curve(f).total
    if name == "response":
        return lambda f: reduced.curve(f).response
    if curve.quantity.at_a_point:
        row = point_row(reduced, curve)
        rows = np.vstack((row, reduced.small.pickup))
        if name == "velocity":
            return lambda f: np.divide(*reduced.outputs(rows, f))
        return lambda f: np.asarray(2j * np.pi * f * reduced.outputs(rows, f)[0])
    driver = found.driver
    if driver is None or driver.curve.terminal_impedance is None:
        raise AnalysisError(f"{curve.origin}: '{name}' needs a design with a [motor]; add it, or leave the curve out")
    if name == "impedance":
        return lambda f: np.asarray(driver_curve(driver.loaded, f, power=False).terminal_impedance)
    if pressure_of(driver.curve) is None:
        raise AnalysisError(f"{curve.origin}: '{name}' needs a [front] that is a baffle, or one with an [exit]; add it")
    return lambda f: np.asarray(pressure_of(driver_curve(driver.loaded, f, power=False)))


def pressure_of(curve: DriverCurve) -> Complex | None:
    """Sound pressure (F,) in Pa at the rated voltage, at the exit or on the axis before a baffle, or None."""
    if curve.exit_pressure is not None:
        return curve.exit_pressure * curve.voltage
    return curve.radiated[0].axis * curve.voltage if curve.radiated else None


def point_row(reduced: Reduced, curve: MeasuredCurve) -> Array:
    """The axial motion of the point of the face nearest to where a curve was taken, of the reduced unknowns (N,)."""
    point, surface = point_of(reduced, curve), reduced.structure.surface
    return np.asarray(surface.motion_z[[point]] @ reduced.basis)[0]


def point_of(reduced: Reduced, curve: MeasuredCurve) -> int:
    """The point of the surface, on the face, nearest to where a curve was taken. Raises AnalysisError off the face."""
    surface = reduced.structure.surface
    assert curve.r is not None  # its quantity is one at a point
    front = np.flatnonzero(surface.area > 0)
    r = surface.r[front]
    away = np.abs(r - curve.r) if curve.z is None else np.hypot(r - curve.r, surface.z[front] - curve.z)
    inner = round(float(r.min()), 9)
    if np.abs(r - curve.r).min() > OFF_THE_PART * r.max():
        raise AnalysisError(
            f"{curve.origin}: r = {show(curve.r)} must lie on the face, which runs from {show(max(inner, 0.0))} to "
            f"{show(float(r.max()))}"
        )
    return int(front[int(away.argmin())])


def _beside(curve: MeasuredCurve, predict: Predict, loaded: bool) -> Beside:
    f = curve.frequency_hz
    fine = np.geomspace(f[0], f[-1], FINE)
    answered, predicted = predict(fine), predict(f)
    measured = decibels(np.abs(curve.values))
    noise = NOISE_REACH * _noise(measured)
    own = _peaks(f, measured, _smoothed(measured, noise), min(noise, PROMINENCE_DB))
    theirs = _peaks(fine, smooth := decibels(np.abs(answered)), smooth, min(noise, PROMINENCE_DB))
    pairs = [
        PeakPair(hz, theirs[j][0], db - theirs[j][1])
        for i, (hz, db) in enumerate(own)
        for j in [_nearest(hz, theirs)]
        if j is not None and _nearest(theirs[j][0], own) == i and abs(np.log2(hz / theirs[j][0])) <= SAME_PEAK
    ]
    unmatched = len(own) - len(pairs), len(theirs) - len(pairs)
    found = Beside(curve, predicted, fine, answered, tuple(pairs), unmatched, loaded)
    return found if found.tells_peaks else replace(found, pairs=(), unmatched=(0, 0))


def _nearest(hz: float, peaks: Sequence[tuple[float, float]]) -> int | None:
    return min(range(len(peaks)), key=lambda k: abs(np.log(peaks[k][0] / hz)), default=None)


def _peaks(frequency: Array, level: Array, smooth: Array, depth: float) -> list[tuple[float, float]]:
    """Frequency in Hz and level in dB of each peak that stands out of the smooth levels (F,): by the parabola through
    the levels (F,) of its top, down to `depth` dB, its highest point and the next to both sides at least."""
    from scipy.signal import find_peaks

    found = []
    for k in find_peaks(smooth, prominence=PROMINENCE_DB)[0].tolist():
        below = np.flatnonzero(smooth < smooth[k] - depth)
        first = min(max(below[below < k], default=-1) + 1, k - 1)
        last = max(min(below[below > k], default=len(level)) - 1, k + 1)
        x, y = np.log(frequency[first : last + 1] / frequency[k]), level[first : last + 1]
        a, b, c = np.polyfit(x, y, 2)
        off = float(np.clip(-b / (2 * a), x[0], x[-1])) if a < 0 else 0.0
        found.append((float(frequency[k] * np.exp(off)), float(c + b * off + a * off**2)))
    return found


def _smoothed(level: Array, noise: float) -> Array:
    """The level (F,) with so much less noise that it makes no peak that stands out: by parabolas over w points, which
    leave 1.5/sqrt(w) of it (Savitzky and Golay 1964, Anal. Chem. 36, from their weights)."""
    from scipy.signal import savgol_filter

    w = 2 * int((1.5 * noise / PROMINENCE_DB) ** 2 / 2) + 1
    return savgol_filter(level, w, 2) if 3 < w < len(level) else level


def _noise(level: Array) -> float:
    """Standard deviation in dB of what jumps from point to point: second differences of white noise have 6 times its
    variance, and the median of their sizes, 0.6745 of their deviation, leaves peaks aside."""
    return float(np.median(np.abs(np.diff(level, 2)))) / (0.6745 * 6**0.5)
