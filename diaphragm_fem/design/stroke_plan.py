"""What is asked about large stroke, in SI: made from the [stroke] table of a design file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.spec.quantities import in_si, plain
from diaphragm_fem.design.spec.stroke import StrokeSpec
from diaphragm_fem.design.units.units import show
from diaphragm_fem.errors import DesignError, nearest

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

MOST_BEYOND = 0.1  # of the largest force factor told, beyond two neighbours: a top between three points has less


@dataclass(frozen=True)
class Allowable:
    """What a material may bear: fibre strain as a share, equivalent fibre stress in Pa; None where nothing is said."""

    strain: float | None = None
    stress: float | None = None


@dataclass(frozen=True)
class DriveLevel:
    """Amplitude of the coil's motion in m or of the force on it in N, the other None; frequencies in Hz."""

    motion: float | None
    force: float | None
    frequency_hz: tuple[float, ...]

    def at(self, hz: float) -> DriveLevel:
        """The same level at one frequency alone."""
        return replace(self, frequency_hz=(hz,))


@dataclass(frozen=True)
class MotorOverStroke:
    """Force factor in N/A at rising strokes in m, a cubic spline between: three points are a parabola."""

    stroke: tuple[float, ...]
    force_factor: tuple[float, ...]

    @cached_property
    def curve(self) -> CubicSpline:
        from scipy.interpolate import CubicSpline

        return CubicSpline(self.stroke, self.force_factor)


@dataclass(frozen=True)
class StrokePlan:
    """Lengths in m from where the coil is drawn, pressure in Pa, tension in N/m, shares of one, frequency in Hz.

    pre_strain by zone name, allowable by material name; steps from rearmost to foremost; orders whose modes are found
    at mode_states strokes up to modes_up_to_hz; changes of stiffness, area and force factor whose stroke is told;
    motor: None where the force factor is the same at every stroke.
    """

    rearmost: float
    foremost: float
    steps: int
    orders: tuple[int, ...]
    mode_states: int
    modes_up_to_hz: float
    pressure: float
    coil_offset: float
    edge_tension: float
    pre_strain: tuple[tuple[str, float], ...]
    allowable: tuple[tuple[str, Allowable], ...]
    changes: tuple[float, ...]
    drive: DriveLevel | None
    motor: MotorOverStroke | None = None

    @property
    def strokes(self) -> Array:
        """Strokes (steps + 1,) in m, evenly, without rounding's dust about zero."""
        share = np.arange(self.steps + 1) / self.steps
        strokes = self.rearmost * (1 - share) + self.foremost * share
        return np.where(np.abs(strokes) < 1e-9 * (self.foremost - self.rearmost), 0.0, strokes)


def plan_stroke(spec: StrokeSpec | None, design: Design) -> StrokePlan:
    """The plan of a [stroke] table, or of an empty one.

    Raises DesignError where it names a zone or a material that the design has not, or where the force factor is not
    told over all strokes, or too seldom.
    """
    spec = StrokeSpec.model_validate({}) if spec is None else spec
    zones = [zone.name for zone in design.zones]
    for name in spec.pre_strain:
        if name not in zones:
            raise DesignError(f"stroke.pre_strain: there is no zone '{name}'; {nearest(name, zones)}")
    materials = [material.name for material in design.materials]
    for name in spec.allowable:
        if name not in materials:
            raise DesignError(f"stroke.allowable: no wall of this design is of '{name}'; {nearest(name, materials)}")
    drive, apart = spec.drive, ("orders", "modes_up_to", "pre_strain", "allowable", "changes", "drive", "motor")
    return StrokePlan(
        **in_si(spec, *apart),
        orders=tuple(sorted(set(spec.orders))),
        modes_up_to_hz=float(spec.modes_up_to),
        pre_strain=tuple((name, float(share)) for name, share in spec.pre_strain.items()),
        allowable=tuple((name, Allowable(**in_si(told))) for name, told in spec.allowable.items()),
        changes=tuple(sorted({float(share) for share in spec.changes})),
        drive=DriveLevel(plain(drive.motion), plain(drive.force), plain(drive.frequency)) if drive else None,
        motor=_motor_of(spec),
    )


def _motor_of(spec: StrokeSpec) -> MotorOverStroke | None:
    if spec.motor is None:
        return None
    motor = MotorOverStroke(**in_si(spec.motor))
    stroke = motor.stroke
    if not stroke[0] <= min(spec.rearmost, 0.0) <= max(spec.foremost, 0.0) <= stroke[-1]:
        told = spec.motor.stroke
        raise DesignError(
            f"stroke.motor.stroke: must reach over all strokes asked for, {spec.rearmost.text} to {spec.foremost.text},"
            f" and where the coil is drawn; received {told[0].text} to {told[-1].text}"
        )
    _check_between(motor)
    return motor


def _check_between(motor: MotorOverStroke) -> None:
    """Refuse values so far apart that the spline through them makes a hump or a hollow of its own."""
    place = motor.curve.derivative().roots(extrapolate=False)
    place = place[np.isfinite(place)]  # nan where it is level
    told, found = np.array(motor.force_factor), motor.curve(place)
    right = np.searchsorted(motor.stroke, place).clip(1, len(told) - 1)
    ends = np.sort([told[right - 1], told[right]], axis=0)
    beyond = np.where(found > 0, np.abs(found - np.clip(found, *ends)), np.inf)
    if beyond.max(initial=0.0) > MOST_BEYOND * told.max():
        k = int(np.argmax(beyond))
        raise DesignError(
            f"stroke.motor.force_factor: the smooth curve through these values goes to {found[k]:.3g} N/A at "
            f"{show(round(float(place[k]), 9) + 0.0)}, between {told[right[k] - 1]:.3g} and {told[right[k]]:.3g} N/A "
            "beside it: give values in between"
        )
