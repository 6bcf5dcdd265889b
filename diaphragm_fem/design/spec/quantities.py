"""The kinds of value a key of the design file may hold: lengths, masses, angles, thicknesses, edge motions."""

from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import cache
from itertools import pairwise
from math import inf, isinf
from typing import Annotated, Any, ClassVar, Self, get_args

from pydantic import BaseModel, ConfigDict, Field, PlainValidator, ValidationError, WithJsonSchema, model_validator
from pydantic.fields import FieldInfo
from pydantic_core import PydanticCustomError

from diaphragm_fem.design.units import units
from diaphragm_fem.design.units.units import Dimension, Quantity, read_quantity
from diaphragm_fem.errors import DesignError, echo, nearest

UNKNOWN = "unknown key"


Number = Annotated[float, Field(ge=-1e12, le=1e12)]  # a plain one: what follows from larger ones may have no end


class Table(BaseModel):
    """A table of the file: unknown keys are refused, values cannot be changed afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)

    @model_validator(mode="before")
    @classmethod
    def _known_and_complete(cls, given: Any) -> Any:
        """Refuse keys this table does not know, and name the missing ones with what they are for."""
        if isinstance(given, cls):
            return given
        known, required = cls._keys()
        if not isinstance(given, Mapping):
            raise refuse(f"must be a table{cls._meant(given)}; received {echo(given)}")
        for key in given:
            if key not in known:
                raise refuse(f"{UNKNOWN} {echo(key)}; {nearest(str(key), known)}", key=str(key))
        for key in required:
            if key not in given:
                raise refuse(f"'{key}' is missing; it says: {known[key].description}", key=key)
        return given

    @classmethod
    def _meant(cls, given: Any) -> str:
        """The table that a single value was probably meant as, else the keys of one: words of a refusal."""
        known, required = cls._keys()
        kinds = get_args(known["kind"].annotation) if "kind" in known else ()
        for key in sorted(known, key=lambda key: known[key].annotation in (str, str | None)) if given else ():
            for table in ({key: given}, *({"kind": kind, key: given} for kind in kinds)):
                with suppress(ValidationError):
                    cls.model_validate(table)
                    return f", such as {{ {', '.join(f'{name} = {echo(value)}' for name, value in table.items())} }}"
        others = [key for key in known if key not in required]
        must = f" with {', '.join(required)}" if required else ""
        return f"{must}; its {'other ' if must else ''}keys are {', '.join(others)}" if others else must

    @classmethod
    @cache
    def _keys(cls) -> tuple[Mapping[str, FieldInfo], tuple[str, ...]]:
        """The table's keys, and those of them that must be given."""
        known = {about.alias or name: about for name, about in cls.model_fields.items()}
        return known, tuple(key for key, about in known.items() if about.is_required())


def told(about: str, **more: Any) -> Any:
    """A key of a table, with what it is for."""
    return Field(description=about, **more)


def maybe(about: str, **more: Any) -> Any:
    """A key that may be left out, with what it is for."""
    return told(about, default=None, **more)


def in_si(spec: Table | None, *apart: str) -> dict[str, Any]:
    """What a table gives in plain SI by its keys, but for those set apart; none of what it leaves out, and nothing of a
    table that is absent."""
    given = {} if spec is None else {key: getattr(spec, key) for key in type(spec).model_fields if key not in apart}
    return {key: plain(value) for key, value in given.items() if value is not None}


def plain(value: Any) -> Any:
    """A quantity, or each of several, as a number alone."""
    if isinstance(value, tuple):
        return tuple(map(plain, value))
    return float(value) if isinstance(value, Quantity) else value


def refuse(message: str, key: str = "") -> PydanticCustomError:
    """An error of one value, or of one `key` of a table; `{` and `}` may stand in the message."""
    return PydanticCustomError("design", "{message}", {"message": message, "key": key})


def reader(dimension: Dimension, lowest: float = -inf, *, lowest_allowed: bool = True) -> Callable[[Any], Quantity]:
    limit = "at least" if lowest_allowed else "above"

    def read(given: Any) -> Quantity:
        try:
            value = read_quantity(given, dimension)
        except DesignError as error:
            raise refuse(str(error)) from error
        if value < lowest or (value == lowest and not lowest_allowed):
            raise refuse(f"must be {limit} {lowest:g}; received {value.text}")
        return value

    return read


def any_size(dimension: Dimension) -> PlainValidator:
    return PlainValidator(reader(dimension))


def from_zero(dimension: Dimension) -> PlainValidator:
    return PlainValidator(reader(dimension, 0.0))


def above_zero(dimension: Dimension) -> PlainValidator:
    return PlainValidator(reader(dimension, 0.0, lowest_allowed=False))


def schema(dimension: Dimension) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "pattern": r"^\s*[-+]?[0-9.].*\S", "examples": list(dimension.examples)})


LONGEST_NAME = 120


def _name(given: Any) -> str:
    if not isinstance(given, str):
        raise refuse(f"must be a text in quotes; received {echo(given)}")
    if len(given) > LONGEST_NAME or "\n" in given or "\t" in given:
        raise refuse(f"a name is one line of at most {LONGEST_NAME} letters; received {echo(given)}")
    return given


Name = Annotated[str, PlainValidator(_name), WithJsonSchema({"type": "string", "maxLength": LONGEST_NAME})]
Length = Annotated[Quantity, any_size(units.LENGTH), schema(units.LENGTH)]
Coordinate = Annotated[Quantity, any_size(units.COORDINATE), schema(units.LENGTH)]
Radius = Annotated[Quantity, from_zero(units.COORDINATE), schema(units.LENGTH)]
Distance = Annotated[Quantity, from_zero(units.LENGTH), schema(units.LENGTH)]
PositiveLength = Annotated[Quantity, above_zero(units.LENGTH), schema(units.LENGTH)]
Mass = Annotated[Quantity, from_zero(units.MASS), schema(units.MASS)]
PositiveMass = Annotated[Quantity, above_zero(units.MASS), schema(units.MASS)]
HoopStiffness = Annotated[Quantity, from_zero(units.FORCE), schema(units.FORCE)]
Angle = Annotated[Quantity, from_zero(units.ANGLE), schema(units.ANGLE)]
Area = Annotated[Quantity, above_zero(units.AREA), schema(units.AREA)]
PositiveVolume = Annotated[Quantity, above_zero(units.VOLUME), schema(units.VOLUME)]
StaticPressure = Annotated[Quantity, above_zero(units.PRESSURE), schema(units.PRESSURE)]
Frequency = Annotated[Quantity, above_zero(units.FREQUENCY), schema(units.FREQUENCY)]
ForceFactor = Annotated[Quantity, above_zero(units.FORCE_FACTOR), schema(units.FORCE_FACTOR)]
Ohm = Annotated[Quantity, from_zero(units.RESISTANCE), schema(units.RESISTANCE)]
PositiveOhm = Annotated[Quantity, above_zero(units.RESISTANCE), schema(units.RESISTANCE)]
Henry = Annotated[Quantity, above_zero(units.INDUCTANCE), schema(units.INDUCTANCE)]
Voltage = Annotated[Quantity, above_zero(units.VOLTAGE), schema(units.VOLTAGE)]
Seconds = Annotated[Quantity, from_zero(units.TIME), schema(units.TIME)]


def _celsius(given: Any) -> Quantity:
    """A temperature in deg C: a scale with a zero of its own, so no other unit is a mere factor away."""
    if isinstance(given, str) and not given.strip().endswith("degC"):
        raise refuse(f"a temperature is written in degrees Celsius, such as {units.TEMPERATURE.hint}; received {given}")
    return reader(units.TEMPERATURE)(given)


Temperature = Annotated[Quantity, PlainValidator(_celsius), schema(units.TEMPERATURE)]
Pressure = Annotated[Quantity, any_size(units.PRESSURE), schema(units.PRESSURE)]
Tension = Annotated[Quantity, any_size(units.TENSION), schema(units.TENSION)]
Share = Annotated[Quantity, any_size(units.SHARE), schema(units.SHARE)]
PositiveShare = Annotated[Quantity, above_zero(units.SHARE), schema(units.SHARE)]
PositiveStress = Annotated[Quantity, above_zero(units.STRESS), schema(units.STRESS)]
PositiveForce = Annotated[Quantity, above_zero(units.FORCE), schema(units.FORCE)]


def _pair(read: Callable[[Any], Quantity], what: str, example: str) -> Callable[[Any], tuple[Quantity, Quantity]]:
    def both(given: Any) -> tuple[Quantity, Quantity]:
        if isinstance(given, list | tuple):
            if len(given) != 2:
                raise refuse(f"must be one {what} or a list of two, such as {example}; received {len(given)} of them")
            return read(given[0]), read(given[1])
        one = read(given)
        return one, one

    return both


def _pair_schema(examples: list[str]) -> WithJsonSchema:
    one = {"type": "string"}
    return WithJsonSchema(
        {"anyOf": [{**one, "examples": examples}, {"type": "array", "items": one, "minItems": 2, "maxItems": 2}]}
    )


Thickness = Annotated[
    tuple[Quantity, Quantity],
    PlainValidator(_pair(reader(units.LENGTH, 0.0, lowest_allowed=False), "thickness", '["80 um", "60 um"]')),
    _pair_schema(["60 um", "3 mil"]),
]
CornerRadii = Annotated[
    tuple[Quantity, Quantity],
    PlainValidator(_pair(reader(units.LENGTH, 0.0), "radius", '["0.2 mm", "0.4 mm"]')),
    _pair_schema(["0.3 mm", "0 mm"]),
]


def _motion(dimension: Dimension) -> Callable[[Any], float]:
    read = reader(dimension, 0.0)

    def motion(given: Any) -> float:
        if isinstance(given, str) and given in ("held", "free"):
            return inf if given == "held" else 0.0
        if isinstance(given, float) and isinf(given):
            return inf
        try:
            return read(given)
        except PydanticCustomError as error:
            raise refuse(f'must be "held", "free" or a stiffness: {error.message()}') from error

    return motion


def _motion_schema(dimension: Dimension) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "examples": ["held", "free", *dimension.examples]})


Motion = Annotated[float, PlainValidator(_motion(units.EDGE_STIFFNESS)), _motion_schema(units.EDGE_STIFFNESS)]
TurningMotion = Annotated[
    float, PlainValidator(_motion(units.EDGE_TURNING_STIFFNESS)), _motion_schema(units.EDGE_TURNING_STIFFNESS)
]


class ListsTable(Table):
    """A table of lists that belong together, two or more values each; those of the first rise unless it says not."""

    rising: ClassVar[bool] = True

    @model_validator(mode="after")
    def _together(self) -> Self:
        first, *others = type(self).model_fields
        counts = [len(values) for _, values in self]
        if len(set(counts)) > 1 or counts[0] < 2:
            received = f"{', '.join(map(str, counts[:-1]))} and {counts[-1]}"
            raise refuse(f"needs two or more values of {first} and as many of {', '.join(others)}; received {received}")
        for one, two in pairwise(getattr(self, first)) if self.rising else ():
            if two <= one:
                raise refuse(f"the values of {first} must rise; received {one.text} and then {two.text}", key=first)
        return self
