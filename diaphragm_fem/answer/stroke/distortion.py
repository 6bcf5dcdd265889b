"""Distortion that a bent spring and a changing area make, harmonic by harmonic, and the threshold of rocking."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from diaphragm_fem.analysis.large_stroke.harmonic_balance import BentSpring, balance, harmonics_of
from diaphragm_fem.analysis.modes.modes import Modes
from diaphragm_fem.analysis.solution import solve_area
from diaphragm_fem.answer.stroke.path import StrokePath
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.stroke_plan import DriveLevel
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.large_stroke.about_state import structure_about

HARMONICS = 8


@dataclass(frozen=True)
class Distortion:
    """Harmonics at one drive frequency in Hz. motion (N,) and volume (N,): amplitudes of the harmonics 1...N of the
    coil's motion in m and of the swept volume in m3; mean: shift of the mean position in m; force: amplitude in N.

    reason says why there is nothing, else it is empty.
    """

    frequency_hz: float
    motion: Complex
    volume: Complex
    mean: float
    force: float
    reason: str = ""

    def of_motion(self, n: int) -> float:
        """Harmonic n of the motion over the first."""
        return float(abs(self.motion[n - 1]) / abs(self.motion[0])) if not self.reason else float("nan")

    def of_acceleration(self, n: int) -> float:
        """Harmonic n of the volume acceleration over the first: what a small source radiates, n^2 |V_n|/|V_1|."""
        return n**2 * float(abs(self.volume[n - 1]) / abs(self.volume[0])) if not self.reason else float("nan")


@dataclass(frozen=True)
class Rocking:
    """When the coil's motion feeds a rocking mode: driven at twice its frequency, above a threshold of motion.

    frequency_hz of the lowest rocking mode at rest, its loss factor, slope of the squared frequency over stroke in 1/m
    (relative), threshold: amplitude of the coil's motion in m.
    """

    frequency_hz: float
    loss_factor: float
    slope: float

    @property
    def threshold(self) -> float:
        return 2 * self.loss_factor / abs(self.slope) if self.slope else float("inf")


def distortion(path: StrokePath, drive: DriveLevel) -> tuple[Distortion, ...]:
    """Harmonics at each frequency of the drive.

    The structure about rest answers every harmonic with force per motion and area of the linear model, losses
    included; the spring adds F(x) - F(x0) - K0 (x - x0), and the volume gets the integral of S(x) - S(x0) dx on top,
    both slow (from the path). The force on the coil is one sine: a force factor that changes over stroke is left out.
    """
    spring, extra = _spring(path), _extra_volume(path)
    frequency = np.array(drive.frequency_hz)
    every = np.unique(np.outer(frequency, np.arange(1, HARMONICS + 1)))
    rest = structure_about(path.shell, path.states[path.rest].unknowns, 0)
    curve = solve_area(rest, every, absolute=False)
    found = []
    for f in frequency:
        pick = np.searchsorted(every, f * np.arange(1, HARMONICS + 1) * (1 - 1e-12))
        impedance = np.concatenate(([path.stiffness[path.rest] + 0j], curve.coil_force[pick]))
        found.append(_at(path, float(f), impedance, curve.total[pick], spring, extra, drive))
    return tuple(found)


def _at(
    path: StrokePath,
    frequency: float,
    impedance: Complex,
    area: Complex,
    spring: BentSpring,
    extra: Callable[[Array], Array],
    drive: DriveLevel,
) -> Distortion:
    nothing = np.full(HARMONICS, np.nan + 0j)
    try:
        level = drive.force if drive.motion is None else drive.motion
        found = balance(impedance, spring, level or 0.0, driven=drive.motion is None)
    except AnalysisError as trouble:
        return Distortion(frequency, nothing, nothing, np.nan, np.nan, str(trouble))
    begin = path.stroke[path.rest]
    reach = begin + found.sampled()
    if reach.min() < path.stroke[0] - 1e-9 or reach.max() > path.stroke[-1] + 1e-9:
        reason = (
            f"at this level the coil goes from {1e3 * reach.min():.3g} to {1e3 * reach.max():.3g} mm, beyond the "
            f"strokes that were found ({1e3 * path.stroke[0]:.3g} to {1e3 * path.stroke[-1]:.3g} mm)"
        )
        return Distortion(frequency, nothing, nothing, np.nan, np.nan, reason)
    volume = area * found.motion[1:] + harmonics_of(extra(found.sampled()), HARMONICS)[1:]
    return Distortion(frequency, found.motion[1:], volume, float(found.motion[0].real), abs(found.force))


def _spring(path: StrokePath) -> BentSpring:
    """Departure of the force from its slope at rest; motions count from rest."""
    from scipy.interpolate import CubicHermiteSpline

    x = path.stroke - path.stroke[path.rest]
    begin, slope = path.force[path.rest], path.stiffness[path.rest]
    curve = CubicHermiteSpline(x, path.force - begin - slope * x, path.stiffness - slope)
    return BentSpring(curve, curve.derivative())


def _extra_volume(path: StrokePath) -> Callable[[Array], Array]:
    """Integral of S(x) - S(rest) over the motion from rest, in m3."""
    from scipy.interpolate import CubicSpline

    x = path.stroke - path.stroke[path.rest]
    curve = CubicSpline(x, path.total_area - path.total_area[path.rest]).antiderivative()
    return lambda motion: curve(motion) - curve(0.0)


def rocking(path: StrokePath, modes: Sequence[tuple[int, Modes]]) -> Rocking | None:
    """The threshold of rocking from the modes of order 1 at states (indices into the path); None where none was found.

    With omega^2(x) = omega0^2 (1 + slope x) a coil moving X sin(2 omega0 t) feeds the mode where slope X > 2 eta, the
    principal instability of Mathieu's equation for light damping: Nayfeh and Mook, Nonlinear Oscillations (1979),
    section 5.3 (named from memory). An estimate: the mode is taken as of one shape, its inertia as constant.
    """
    from scipy.interpolate import CubicSpline

    known = [(path.stroke[k], found.frequency_hz[0] ** 2) for k, found in modes if len(found)]
    at_rest = [found for k, found in modes if k == path.rest and len(found)]
    if len(known) < 4 or not at_rest:
        return None
    stroke, square = np.array(known).T
    order = np.argsort(stroke)
    slope = CubicSpline(stroke[order], square[order])(path.stroke[path.rest], 1) / at_rest[0].frequency_hz[0] ** 2
    return Rocking(float(at_rest[0].frequency_hz[0]), float(at_rest[0].loss_factor[0]), float(slope))
