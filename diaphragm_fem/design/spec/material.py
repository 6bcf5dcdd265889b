"""Tables of a material: its numbers, how each is known, and what modulus and loss are over frequency.

    ["PEN film"]
    density = { value = "1360 kg/m^3", kind = "handbook", source = "..." }
    youngs_modulus = { value = "5.2 GPa", kind = "handbook", source = "...", range = ["5 GPa", "5.5 GPa"] }
    poisson_ratio = { value = 0.4, kind = "assumed", source = "..." }
    loss_factor = { value = [0.01, 0.02], frequency = ["100 Hz", "10 kHz"], kind = "paper", source = "..." }
    note = "..."        # optional, and so is `caution`

Modulus and loss over frequency (`viscoelastic` has the laws):

    youngs_modulus = { value = "4 MPa", frequency = "100 Hz" }                          # follows its loss from there
    youngs_modulus = { value = ["4 MPa", "7 MPa"], frequency = ["100 Hz", "1 kHz"] }    # measured, as is the loss
    relaxation = { rise = 50, frequency = "30 kHz", exponent = 0.5 }                    # in place of loss_factor

With a relaxation youngs_modulus is the modulus at rest. A number given bare over one known at frequencies is taken at
the first of them, and the rise stays; `frequency = []` makes it the same at every frequency.

`range` is the spread met between grades and sources: a guide to how far the number may move, not a tolerance.
A user may write a number bare (`youngs_modulus = "5.2 GPa"`, `loss_factor = 0.02`): it is then 'assumed', its source
the file it stands in. `based_on = "PEN film"` takes every number not given from that material; a table that bears the
name of a known material changes only the numbers it gives.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import isfinite
from typing import TYPE_CHECKING, Annotated, Any, Self

from pydantic import ConfigDict, PlainValidator, RootModel, WithJsonSchema, model_validator

from diaphragm_fem.design.material.material import Evidence, Kind, LossFactor, Relaxation, Stiffening
from diaphragm_fem.design.spec.quantities import Frequency, Name, Table, above_zero, maybe, reader, refuse, schema, told
from diaphragm_fem.design.units.units import DENSITY, FREQUENCY, MODULUS
from diaphragm_fem.errors import MaterialError, echo

if TYPE_CHECKING:
    from pydantic import GetJsonSchemaHandler
    from pydantic.json_schema import JsonSchemaValue
    from pydantic_core import CoreSchema


def _text(given: Any) -> str:
    if not isinstance(given, str) or not given.strip():
        raise refuse(f"must be a text that is not empty; received {echo(given)}")
    return given


def _plain(given: Any) -> float:
    if isinstance(given, bool) or not isinstance(given, int | float) or not isfinite(given):
        raise refuse(f"must be a plain number without unit and quotes, such as 0.38; received {echo(given)}")
    return float(given)


def _each(read: Callable[[Any], float]) -> Callable[[Any], tuple[float, ...]]:
    return lambda given: tuple(map(read, given)) if isinstance(given, list | tuple) else (read(given),)


def _each_schema(kind: str) -> WithJsonSchema:
    return WithJsonSchema({"anyOf": [{"type": kind}, {"type": "array", "items": {"type": kind}}]})


Text = Annotated[str, PlainValidator(_text), WithJsonSchema({"type": "string", "minLength": 1})]
Plain = Annotated[float, PlainValidator(_plain), WithJsonSchema({"type": "number"})]
Plains = Annotated[tuple[float, ...], PlainValidator(_each(_plain)), _each_schema("number")]
Density = Annotated[float, above_zero(DENSITY), schema(DENSITY)]
Modulus = Annotated[float, above_zero(MODULUS), schema(MODULUS)]
Moduli = Annotated[
    tuple[float, ...], PlainValidator(_each(reader(MODULUS, 0.0, lowest_allowed=False))), _each_schema("string")
]
Frequencies = Annotated[tuple[float, ...], PlainValidator(_each(reader(FREQUENCY))), _each_schema("string")]

VALUE = "The number"
SEVERAL = "The number, or a list of its values over frequency"
MET = "Lowest and highest value met between grades or sources."


class Known(Table):
    """Something known of a material, and how."""

    kind: Kind | None = maybe("How it is known; assumed where absent.")
    source: Text | None = maybe("Where it comes from.")

    @property
    def law(self) -> LossFactor | Relaxation | Stiffening | None:
        """What it says of the course over frequency. Raises MaterialError where no substance is such."""
        return None

    @model_validator(mode="after")
    def _possible(self) -> Self:
        try:
            _ = self.law
        except MaterialError as error:
            raise refuse(str(error)) from error
        return self

    def evidence(self, default_source: str) -> Evidence:
        return Evidence(self.kind or Kind.ASSUMED, self.source or default_source)


class Number(Known):
    """A number of a material; bare where only its value is given."""

    value: Any
    range: Any = None

    @model_validator(mode="before")
    @classmethod
    def _bare(cls, given: Any) -> Any:
        return given if isinstance(given, Mapping | cls) else {"value": given}

    @classmethod
    def __get_pydantic_json_schema__(cls, core: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        place = handler(core)
        words = handler.resolve_ref_schema(place)
        table = dict(words)
        words.clear()
        words["anyOf"] = [table["properties"]["value"], table]
        return place

    @property
    def numbers(self) -> tuple[float, ...]:
        """The value, or the values over frequency."""
        return self.value if isinstance(self.value, tuple) else (self.value,)

    @model_validator(mode="after")
    def _in_range(self) -> Self:
        if self.range and not all(self.range[0] <= one <= self.range[1] for one in self.numbers):
            shown = [getattr(one, "text", f"{one:g}") for one in (*self.range, *self.numbers)]
            received = f"range {shown[0]} to {shown[1]} and value {', '.join(shown[2:])}"
            raise refuse(
                f"range must rise from its lowest to its highest value and hold the value; received {received}"
            )
        return self

    def evidence(self, default_source: str) -> Evidence:
        known = super().evidence(default_source)
        return Evidence(known.kind, known.source, self.range and (float(self.range[0]), float(self.range[1])))


class DensityNumber(Number):
    value: Density = told(f'{VALUE}, for example "1360 kg/m^3".')
    range: tuple[Density, Density] | None = maybe(MET)


class ModulusNumber(Number):
    value: Moduli = told(f'{SEVERAL}, for example "5.2 GPa".')
    range: tuple[Modulus, Modulus] | None = maybe(MET)
    frequency: Frequencies | None = maybe(
        "The frequency at which the modulus was measured (from there it rises as its loss asks), or one "
        "for each value of a table; an empty list: the same at every frequency."
    )

    @property
    def law(self) -> Stiffening | None:
        if len(self.value) == 1 and not self.frequency:
            return None
        return Stiffening(_floats(self.frequency or ()), tuple(one / self.value[0] for one in self.value))


class PoissonNumber(Number):
    value: Plain = told(f"{VALUE}, for example 0.38.")
    range: tuple[Plain, Plain] | None = maybe(MET)


class LossNumber(Number):
    value: Plains = told(f"{SEVERAL}, for example 0.02.")
    range: tuple[Plain, Plain] | None = maybe(MET)
    frequency: Frequencies = told('A frequency for each value of a table, such as ["100 Hz", "10 kHz"].', default=())

    @property
    def law(self) -> LossFactor:
        return LossFactor(self.value, _floats(self.frequency))


class RelaxationTable(Known):
    rise: Plain = told("Modulus far above the relaxation over youngs_modulus, the modulus at rest.")
    frequency: Frequency = told('Where the modulus goes from one to the other, such as "30 kHz".')
    exponent: Plain = told("How steeply, above 0 to 1; 0.4 to 0.7 for most polymers (from memory), such as 0.5.")

    @property
    def law(self) -> Relaxation:
        return Relaxation(self.rise, float(self.frequency), self.exponent)


def _floats(quantities: tuple[float, ...]) -> tuple[float, ...]:
    return tuple(map(float, quantities))


class MaterialSpec(Table, defer_build=False):  # built once for both tables that hold it: with the next 2 % of a start
    """A material of your own, or a known one with changed numbers."""

    density: DensityNumber | None = maybe('Density, for example "1360 kg/m^3"')
    youngs_modulus: ModulusNumber | None = maybe('Young\'s modulus, for example "5.2 GPa"')
    poisson_ratio: PoissonNumber | None = maybe("Poisson ratio, for example 0.38")
    loss_factor: LossNumber | None = maybe("Loss factor, for example 0.02")
    relaxation: RelaxationTable | None = maybe(
        "Modulus and loss over frequency by one law, the fractional Zener, in place of loss_factor."
    )
    based_on: Text | None = maybe("A known material from which every number not given here is taken.")
    note: Text | None = maybe("A remark for the reader.")
    caution: Text | None = maybe("What a person handling the substance must know.")

    @model_validator(mode="after")
    def _one_loss(self) -> Self:
        if self.relaxation and self.loss_factor:
            raise refuse("a relaxation says what the loss is; leave one of the two out", key="loss_factor")
        return self


class MaterialsSpec(RootModel):  # `RootModel[...]` would build it at once, and twice
    """A file of materials, a table for each."""

    model_config = ConfigDict(defer_build=True)

    root: dict[Name, MaterialSpec]
