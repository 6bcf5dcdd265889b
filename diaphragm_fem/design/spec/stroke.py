"""Tables of large stroke: how far the coil is moved, what acts on the part before, what is asked on the way."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from diaphragm_fem.design.spec import quantities as kinds
from diaphragm_fem.design.spec.quantities import ListsTable, Table, maybe, refuse, told

MOST_STEPS, MOST_POINTS = 2000, 200
MOST_ORDERS = 8  # side by side on a sheet, on which 20 left no room for any
Order = Annotated[int, Field(ge=0, le=50, strict=True)]


class AllowableSpec(Table):
    """What a material of yours may bear; none is shipped, because none was found published for thin formed films."""

    strain: kinds.PositiveShare | None = maybe('Largest fibre strain, such as "2 %".')
    stress: kinds.PositiveStress | None = maybe('Largest equivalent fibre stress, such as "60 MPa".')

    @model_validator(mode="after")
    def _one_at_least(self) -> AllowableSpec:
        if self.strain is None and self.stress is None:
            raise refuse("an allowable needs its strain, its stress or both")
        return self


class DriveSpec(Table):
    """The level at which distortion is asked: the coil's motion or the force on it, both as amplitudes."""

    motion: kinds.PositiveLength | None = maybe("Amplitude of the coil's motion at the drive frequency.")
    force: kinds.PositiveForce | None = maybe(
        "Amplitude of the force on the coil, in place of the motion; of a [motor] on the coil held still."
    )
    frequency: tuple[kinds.Frequency, ...] = told('Drive frequencies, such as ["100 Hz", "400 Hz"].', max_length=200)

    @model_validator(mode="after")
    def _one_level(self) -> DriveSpec:
        if (self.motion is None) == (self.force is None):
            raise refuse("a drive level needs its motion or its force, and not both")
        if not self.frequency:
            raise refuse('must list one frequency at least, such as ["400 Hz"]; received []', key="frequency")
        return self


class MotorOverStrokeSpec(ListsTable):
    """The force factor over the stroke, as measured; its shape counts, its size is that of the [motor]."""

    stroke: tuple[kinds.Length, ...] = told(
        "Strokes from where the coil is drawn, rising, over all that is asked for.", max_length=MOST_POINTS
    )
    force_factor: tuple[kinds.ForceFactor, ...] = told(
        "Force factor at each, a cubic spline between (three points: a parabola); scaled to that of the [motor] where "
        "the coil is drawn."
    )


class StrokeSpec(Table):
    """Large stroke. Strokes are motions of the coil from where it is drawn, positive toward the listener."""

    rearmost: kinds.Length = told(
        'Stroke away from the listener, such as "-1 mm".', default="-1 mm", validate_default=True
    )
    foremost: kinds.Length = told('Stroke toward the listener, such as "1 mm".', default="1 mm", validate_default=True)
    steps: Annotated[int, Field(ge=1, le=MOST_STEPS, strict=True)] = told(
        "Steps from the rearmost to the foremost stroke; where the stiffness turns within one, more are taken.",
        default=40,
    )
    orders: tuple[Order, ...] = told(
        "Orders whose modes are found over stroke; [] for none.", default=(0, 1, 2), max_length=MOST_ORDERS
    )
    mode_states: Annotated[int, Field(ge=2, le=200, strict=True)] = told(
        "Strokes at which modes and stability are found, evenly from the rearmost to the foremost.", default=9
    )
    modes_up_to: kinds.Frequency = told(
        "Top frequency of the modes over stroke.", default="5 kHz", validate_default=True
    )
    pressure: kinds.Pressure = told(
        'Static pressure behind the diaphragm, such as "200 Pa"; it pushes toward the listener.',
        default="0 Pa",
        validate_default=True,
    )
    coil_offset: kinds.Length = told(
        "Where the coil rests in place of where it is drawn: a spider or a magnet gap may put it there.",
        default="0 mm",
        validate_default=True,
    )
    edge_tension: kinds.Tension = told(
        "Pull on the outer edge along the radius, per length of edge, before it was clamped.",
        default="0 N/m",
        validate_default=True,
    )
    pre_strain: dict[str, kinds.Share] = told(
        'Stretch left by forming, by zone, alike both ways: "inner step" = "0.5 %".', default_factory=dict
    )
    allowable: dict[str, AllowableSpec] = told(
        'What a material may bear, by its name: [stroke.allowable."PEN film"] strain = "2 %".', default_factory=dict
    )
    changes: tuple[kinds.PositiveShare, ...] = told(
        "Shares of stiffness, area and force factor: the stroke is told at which each has changed so far.",
        default=("10 %", "20 %", "50 %"),
        validate_default=True,
        max_length=20,
    )
    motor: MotorOverStrokeSpec | None = maybe("Force factor over the stroke; the same at every stroke where absent.")
    drive: DriveSpec | None = maybe("Level and frequencies at which distortion is found.")

    @model_validator(mode="after")
    def _about_rest(self) -> StrokeSpec:
        if not self.rearmost <= self.coil_offset <= self.foremost or self.rearmost == self.foremost:
            raise refuse(
                "rearmost and foremost must lie on either side of where the coil rests "
                f"({self.coil_offset.text}); received {self.rearmost.text} and {self.foremost.text}"
            )
        return self
