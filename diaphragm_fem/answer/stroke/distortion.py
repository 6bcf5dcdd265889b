"""Distortion that a bent spring, a changing area and a changing force factor make, harmonic by harmonic."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from diaphragm_fem.analysis.curve.curve import Curve
from diaphragm_fem.analysis.large_stroke.harmonic_balance import BentSpring, Pull, balance, harmonics_of
from diaphragm_fem.analysis.solution import solve
from diaphragm_fem.answer.driver.loaded import Vacuum, loaded
from diaphragm_fem.answer.stroke.chamber import Behind, chamber_behind
from diaphragm_fem.answer.stroke.path import StrokePath
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.stroke_plan import DriveLevel, MotorOverStroke
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.load.motor import braking
from diaphragm_fem.load.surroundings import surround
from diaphragm_fem.model.large_stroke.about_state import structure_about
from diaphragm_fem.model.shell.front_face import shell_face

HARMONICS = 8


@dataclass(frozen=True)
class Distortion:
    """Harmonics at one drive frequency in Hz. motion (N,) and volume (N,): amplitudes of the harmonics 1...N of the
    coil's motion in m and of the swept volume in m3; mean: shift of the mean position in m; force: amplitude in N, of a
    motor that on the coil held still at rest; foremost: how far in m toward the listener the coil comes.

    reason says why there is nothing, else it is empty.
    """

    frequency_hz: float
    motion: Complex
    volume: Complex
    mean: float
    force: float
    reason: str = ""
    foremost: float = float("nan")

    def of_motion(self, n: int) -> float:
        """Harmonic n of the motion over the first."""
        return float(abs(self.motion[n - 1]) / abs(self.motion[0])) if not self.reason else float("nan")

    def of_acceleration(self, n: int) -> float:
        """Harmonic n of the volume acceleration over the first: what a small source radiates, n^2 |V_n|/|V_1|."""
        return n**2 * float(abs(self.volume[n - 1]) / abs(self.volume[0])) if not self.reason else float("nan")


def distortion(
    path: StrokePath, drive: DriveLevel, motor: MotorOverStroke | None = None, *, changing: bool = True
) -> tuple[Distortion, ...]:
    """Harmonics at each frequency of the drive; changing: with a force factor over stroke, else what it is at rest.

    The structure about rest answers every harmonic with force per motion and area of the linear model, losses and all
    that the file puts around the part included; the spring adds F(x) - F(x0) - K0 (x - x0), and the volume gets the
    integral of S(x) - S(x0) dx on top, both slow (from the path), with what a closed chamber makes of both (`Behind`).
    The force on the coil is one sine. Of a [motor] it is that on the coil held still at rest, Bl V/Z_c of a voltage V,
    and what moves brakes by i omega Bl^2/Z_c at every harmonic. A force factor over stroke, `motor`, pulls by what it
    is on the way, and so a motion brakes (see `Pull`). A gap and an inductance that change over stroke are left out.
    """
    behind = chamber_behind(path)
    spring, area = _spring(path, behind), behind.swept_at_rest
    frequency = np.array(drive.frequency_hz)
    every = np.unique(np.outer(frequency, np.arange(1, HARMONICS + 1)))
    curve, driver = _surrounded(path, every), path.shell.model.design.driver
    held, pull = path.stiffness[path.rest] + behind.stiffness, _pull(path, motor if changing else None)
    brake = np.zeros(len(every), complex)
    if driver is not None and driver.motor is not None:
        at_rest = float(motor.curve(path.stroke[path.rest]) / motor.curve(0.0)) if motor else 1.0  # of the [motor]'s
        brake = braking(driver.motor, 2 * np.pi * every) * at_rest**2

    def extra(motion: Array) -> Array:
        return np.asarray(behind.swept(motion) - area * motion)

    found = []
    for f in frequency:
        pick = np.searchsorted(every, f * np.arange(1, HARMONICS + 1) * (1 - 1e-12))
        impedance = np.concatenate(([held + 0j], curve.coil_force[pick]))
        braked = replace(pull, brake=np.concatenate(([0j], brake[pick])))
        found.append(_at(path, float(f), impedance, curve.total[pick], spring, extra, drive, braked))
    return tuple(found)


def _pull(path: StrokePath, motor: MotorOverStroke | None) -> Pull:
    """A force factor over stroke, motions from rest; without a brake."""
    if motor is None:
        return Pull()
    rest, curve, whole = float(path.stroke[path.rest]), motor.curve, motor.curve.antiderivative()
    at_rest = curve(rest)

    def linked(motion: Array) -> Array:
        return np.asarray((whole(rest + motion) - whole(rest)) / at_rest)

    return Pull(lambda x: curve(rest + x) / at_rest, lambda x: curve(rest + x, 1) / at_rest, linked)


def _surrounded(path: StrokePath, every: Array) -> Curve:
    """The linear curve about rest at rising frequencies in Hz, with chambers, slots, exit or free air around."""
    shell, unknowns, top = path.shell, path.states[path.rest].unknowns, float(every[-1])
    model = shell.model
    face = shell_face(shell.line, shell.order, model.corrected, shell.lies(unknowns))
    rest = solve(structure_about(shell, unknowns, 0), top, float(every[0]))
    around = surround(model.design, face, up_to_hz=top)
    return loaded(model.design, Vacuum(rest, face, model.corrected), around).reduced.curve(every)


def _at(
    path: StrokePath,
    frequency: float,
    impedance: Complex,
    area: Complex,
    spring: BentSpring,
    extra: Callable[[Array], Array],
    drive: DriveLevel,
    pull: Pull,
) -> Distortion:
    nothing = np.full(HARMONICS, np.nan + 0j)
    try:
        level = drive.force if drive.motion is None else drive.motion
        found = balance(impedance, spring, level or 0.0, driven=drive.motion is None, pull=pull)
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
    mean, foremost = float(found.motion[0].real), float(reach.max())
    return Distortion(frequency, found.motion[1:], volume, mean, abs(found.force), foremost=foremost)


def _spring(path: StrokePath, behind: Behind) -> BentSpring:
    """Departure of the force from its slope at rest, of part and chamber; motions count from rest."""
    from scipy.interpolate import CubicHermiteSpline

    x = path.stroke - path.stroke[path.rest]
    begin, slope = path.force[path.rest], path.stiffness[path.rest]
    curve, held = CubicHermiteSpline(x, path.force - begin - slope * x, path.stiffness - slope), behind.stiffness

    def departure(motion: Array) -> Array:
        return np.asarray(curve(motion) + behind.force(motion) - held * motion)

    def rate(motion: Array) -> Array:
        return np.asarray(curve(motion, 1) + behind.rate(motion) - held)

    return BentSpring(departure, rate)
