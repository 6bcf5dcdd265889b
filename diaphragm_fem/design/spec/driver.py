"""Tables of what surrounds the diaphragm: [air], [motor], [rear_chamber], [front]."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from pydantic import Discriminator, Field, StrictBool, Tag, model_validator

from diaphragm_fem.design.spec import quantities as kinds
from diaphragm_fem.design.spec.quantities import ListsTable, Table, maybe, refuse, told

Fraction = Annotated[float, Field(ge=0, le=1)]
MOST_SLOTS, MOST_POINTS = 40, 200  # of a front; 3,000 slots or 20,000 points of a gap took minutes


class AirSpec(Table):
    """State of the air; where the table is absent 20 degC, 50 %, 101325 Pa."""

    temperature: kinds.Temperature | None = maybe('Temperature, "20 degC" where absent; 0 to 30 degC.')
    humidity: Fraction = told("Relative humidity, from 0 to 1.", default=0.5)
    static_pressure: kinds.StaticPressure | None = maybe('Static pressure, "101325 Pa" where absent; 75 to 102 kPa.')


class InductanceSpec(Table):
    """Inductance of the coil, one of four laws."""

    kind: Literal["ideal", "two-stage", "power law", "semi-inductance"] = told(
        '"ideal": i w L. "two-stage": i w L and, in series, i w L2 parallel to R. "power law": '
        'K (i w)^n. "semi-inductance": i w L and, in series, K (i w)^0.5 parallel to R.'
    )
    inductance: kinds.Henry | None = maybe("L of the ideal, two-stage and semi-inductance laws.")
    second_inductance: kinds.Henry | None = maybe("L2 of the two-stage law.")
    resistance: kinds.PositiveOhm | None = maybe("R of the two-stage and semi-inductance laws.")
    coefficient: Annotated[kinds.Number, Field(gt=0)] | None = maybe(
        "K of the power law (ohm s^n) and of the semi-inductance (ohm s^0.5), a plain number."
    )
    exponent: Annotated[float, Field(ge=0.5, le=1)] | None = maybe("n of the power law, from 0.5 to 1.")

    @model_validator(mode="after")
    def _complete(self) -> InductanceSpec:
        needed = {
            "ideal": ("inductance",),
            "two-stage": ("inductance", "second_inductance", "resistance"),
            "power law": ("coefficient", "exponent"),
            "semi-inductance": ("inductance", "coefficient", "resistance"),
        }[self.kind]
        given = [name for name in type(self).model_fields if name != "kind" and getattr(self, name) is not None]
        if set(given) != set(needed):
            raise refuse(f"the law '{self.kind}' needs {', '.join(needed)}; received {', '.join(given) or 'none'}")
        return self


class MotorSpec(Table):
    """The motor: what turns a voltage into a force on the coil. Small signals, cold coil."""

    force_factor: kinds.ForceFactor = told("Force per current, Bl.")
    coil_resistance: kinds.PositiveOhm = told("Direct-current resistance of the cold coil.")
    voltage: kinds.Voltage | None = maybe('Rated voltage of the source, rms; "2.83 V" where absent.')
    source_resistance: kinds.Ohm | None = maybe("Resistance of the source and of the leads.")
    inductance: InductanceSpec | None = maybe("Inductance of the coil; none where absent.")


class LeakSpec(Table):
    """A round leak out of the rear chamber."""

    diameter: kinds.PositiveLength = told("Diameter of the leak.")
    length: kinds.PositiveLength = told("Length of the leak.")


class RearChamberSpec(Table):
    """The closed volume behind the diaphragm."""

    volume: kinds.PositiveVolume = told("Air volume behind the diaphragm.")
    filling: Fraction = told(
        "0 for an empty box (adiabatic), 1 for one filled so that its air stays at one temperature.", default=0.0
    )
    loss_factor: Annotated[float, Field(ge=0, lt=1)] = told("Loss factor of the filling.", default=0.0)
    leak: LeakSpec | None = maybe("A leak, with its diameter and length.")
    depth: kinds.PositiveLength | None = maybe(
        "How far behind the face a straight chamber ends, hard and flat: waves then stand in it. Where "
        "absent the chamber is a spring."
    )


class ChannelSpec(Table):
    """The channel from a slot to the exit."""

    length: kinds.PositiveLength = told("Length of the channel from the gap to where the channels meet.")
    areas: tuple[kinds.Area, ...] | None = maybe(
        "Areas at even distances along the channel, straight between them, the first within a "
        "fifth of the slot's own; where absent the width stays."
    )
    direction: Literal["normal", "axial"] = told(
        "Without areas: whether the channel goes on normal to the face or along the axis.", default="normal"
    )


class SlotSpec(Table):
    """A ring slot in the plug."""

    radius: kinds.PositiveLength = told("Radius of the slot's centre at the middle of the gap.")
    side: Literal["inner", "outer"] | None = maybe(
        "Side of the drive circle; needed where the face meets the radius on both."
    )
    width: kinds.PositiveLength = told("Width of the slot; at most twice the gap.")
    channel: ChannelSpec = told("The channel that leads on from the slot.")


class GapSpec(ListsTable):
    """A gap that changes along the face."""

    distance: tuple[kinds.Distance, ...] = told("Distances along the face from its inner end.", max_length=MOST_POINTS)
    width: tuple[kinds.PositiveLength, ...] = told("Width of the gap at each distance; straight between them.")


Gap = Annotated[
    Annotated[kinds.PositiveLength, Tag("width")] | Annotated[GapSpec, Tag("table")],
    Discriminator(lambda given: "table" if isinstance(given, dict | GapSpec) else "width"),
]


class PlugSpec(ListsTable):
    """The plug as a contour of its own: straight lines between points, from the inner end of the face outward."""

    rising: ClassVar[bool] = False

    r: tuple[kinds.Length, ...] = told("Radius of each point.", max_length=MOST_POINTS)
    z: tuple[kinds.Length, ...] = told("Height of each point.")


class FrontSpec(Table):
    """What lies before the diaphragm."""

    kind: Literal["baffle", "even pressure", "thin chamber"] = told(
        '"even pressure": a chamber in which the pressure is everywhere the same. "thin chamber": the '
        'real gap along the face. "baffle": free air before an endless wall.'
    )
    gap: Gap | None = maybe(
        "Width of the gap between the wall's front and the plug, or a table of widths at distances along the face."
    )
    plug: PlugSpec | None = maybe(
        "The plug as a contour of its own, in place of a gap: needed where the face is hollow."
    )
    volume: kinds.PositiveVolume | None = maybe("Volume of an even-pressure chamber, in place of a gap; no loss in it.")
    slots: tuple[SlotSpec, ...] = told(
        "Slots in the plug, from which channels lead to the exit.", default=(), max_length=MOST_SLOTS
    )
    losses: StrictBool = told("Viscous and thermal loss in gap, slots and channels.", default=True)
    flange_depth: kinds.Distance | None = maybe(
        "In a baffle: how far its plane lies before the face's outer edge; flush where absent."
    )
    mounting_ring: kinds.Distance | None = maybe(
        "In a baffle: width of a flat rigid ring around the face's outer edge; none where absent."
    )
    open_rear: StrictBool = told(
        "In a baffle: free air behind too, in a half space of its own, in place of a rear chamber.", default=False
    )
    level_distance: kinds.PositiveLength | None = maybe(
        'In a baffle: distance of the level from the middle of the opening, "1 m" where absent.'
    )

    @model_validator(mode="after")
    def _kind(self) -> FrontSpec:
        if self.kind == "baffle":
            return self._in_baffle()
        for key in IN_BAFFLE:
            if key in self.model_fields_set:
                raise refuse(f'\'{key}\' belongs to kind = "baffle"; received kind = "{self.kind}"', key=key)
        given = [key for key in ("gap", "plug", "volume") if getattr(self, key) is not None]
        if len(given) != 1 or (self.kind == "thin chamber" and given == ["volume"]):
            words = "gap or plug" if self.kind == "thin chamber" else "gap, plug or volume"
            raise refuse(
                f"a front of the kind '{self.kind}' needs one of {words}; received {' and '.join(given) or 'none'}"
            )
        if not self.slots:
            raise refuse("a front needs its slots: without one no sound reaches the exit", key="slots")
        return self

    def _in_baffle(self) -> FrontSpec:
        for key in ("gap", "plug", "volume", "slots", "losses"):
            if key in self.model_fields_set:
                raise refuse(f"a face in a baffle has no '{key}': take it out, or take another kind", key=key)
        return self


IN_BAFFLE = ("flange_depth", "mounting_ring", "open_rear", "level_distance")
