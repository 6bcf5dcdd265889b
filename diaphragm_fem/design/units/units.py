"""The one door for quantities with units: a text such as "75 um", "2.5 in" or "6 GPa" becomes SI.

Everyday units are held in a small table, because a sweep reads thousands of texts and the units library takes most of a
second to load; every other unit is asked of Pint, word by word after the grammar of grammar.py has let it pass.
The tests compare the table with Pint.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cache, lru_cache
from math import floor, log10
from typing import Any

from diaphragm_fem.design.units.grammar import split_amount, unit_factors
from diaphragm_fem.errors import DesignError, echo


@dataclass(frozen=True)
class Dimension:
    """A kind of quantity: its name in messages, its SI unit, texts that show how to write it, and its limits.

    least and most are in the SI unit: a size between them, or 0, is one that the equations can be solved with in
    double precision. They lie far outside what is ever built, which is asked about elsewhere (usual.py).
    """

    name: str
    unit: str
    examples: tuple[str, ...]
    least: float
    most: float

    @property
    def a(self) -> str:
        """ "a length", "an angle"."""
        return f"{'an' if self.name[0] in 'aeiou' else 'a'} {self.name}"

    @property
    def hint(self) -> str:
        shown = [f'"{example}"' for example in self.examples]
        return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} or {shown[-1]}"


LENGTH = Dimension("length", "m", ("1.2 mm", "75 um", "2.5 in", "3 mil"), 1e-8, 1e3)
COORDINATE = replace(LENGTH, least=0.0)  # a point may lie as near to zero as it likes
ANGLE = Dimension("angle", "rad", ("15 deg",), 1e-9, 7.0)
MASS = Dimension("mass", "kg", ("2.5 g", "350 mg"), 1e-12, 1e6)
DENSITY = Dimension("density", "kg/m^3", ("1360 kg/m^3", "1.36 g/cm^3"), 1e-3, 1e8)
MODULUS = Dimension("modulus", "Pa", ("5.2 GPa", "40 MPa"), 10.0, 1e16)
FREQUENCY = Dimension("frequency", "Hz", ("100 Hz", "20 kHz"), 1e-3, 1e9)
LOWEST_HZ = 20.0  # where area curves begin: a top frequency lies above it
HIGHEST_HZ = 1e6  # of a top frequency: there the area of a stepped V of 46 mm takes 1 GB (2026-11-28)
FORCE = Dimension("force", "N", ("120 kN",), 1e-9, 1e12)
AREA = Dimension("area", "m^2", ("16 cm^2", "1600 mm2"), 1e-14, 100.0)
STIFFNESS = Dimension("stiffness", "N/m", ("0.6 N/mm",), 1e-6, 1e12)
TENSION = Dimension("tension", "N/m", ("50 N/m",), 1e-6, 1e9)
PRESSURE = Dimension("pressure", "Pa", ("200 Pa", "2 mbar"), 1e-6, 1e9)
STRESS = Dimension("stress", "Pa", ("60 MPa",), 1.0, 1e12)
SHARE = Dimension("share", "dimensionless", ("2 %",), 1e-9, 1e3)
EDGE_STIFFNESS = Dimension("stiffness per length of edge", "N/m^2", ("2 N/mm/mm", "50 kN/m/m"), 1e-6, 1e15)
EDGE_TURNING_STIFFNESS = Dimension("turning stiffness per length of edge", "N", ("0.05 N m/rad/m",), 1e-12, 1e9)
VOLUME = Dimension("volume", "m^3", ("25 cm3", "0.4 l"), 1e-14, 1e3)
TEMPERATURE = Dimension("temperature", "degC", ("20 degC",), 0.0, 1e4)
FORCE_FACTOR = Dimension("force factor", "N/A", ("9 N/A", "9 T m"), 1e-6, 1e4)
RESISTANCE = Dimension("resistance", "ohm", ("6 ohm",), 1e-6, 1e6)
INDUCTANCE = Dimension("inductance", "H", ("0.12 mH", "50 uH"), 1e-12, 1e2)
VOLTAGE = Dimension("voltage", "V", ("2.83 V",), 1e-6, 1e5)
TIME = Dimension("time", "s", ("0.2 ms", "50 us"), 1e-12, 1e3)
RESPONSE = Dimension("response per newton", "m^2/kg", ("1 m2/kg",), 1e-12, 1e12)
MOBILITY = Dimension("velocity per newton", "m/s/N", ("1 m/s/N", "1 mm/s/N"), 1e-12, 1e12)
DIMENSIONS = (
    LENGTH, ANGLE, MASS, DENSITY, MODULUS, FREQUENCY, FORCE, AREA, STIFFNESS, EDGE_STIFFNESS, EDGE_TURNING_STIFFNESS,
    VOLUME, TEMPERATURE, FORCE_FACTOR, RESISTANCE, INDUCTANCE, VOLTAGE, TIME,
    TENSION, PRESSURE, STRESS, SHARE, RESPONSE, MOBILITY,
)  # fmt: skip

EVERYDAY: dict[str, dict[str, float]] = {
    "m": {
        "m": 1.0,
        "cm": 1e-2,
        "mm": 1e-3,
        "um": 1e-6,
        "µm": 1e-6,
        "in": 0.0254,
        "inch": 0.0254,
        "ft": 0.3048,
        "mil": 2.54e-5,
    },
    "rad": {"rad": 1.0, "deg": 0.017453292519943295},
    "kg": {"kg": 1.0, "g": 1e-3, "mg": 1e-6},
    "kg/m^3": {"kg/m^3": 1.0, "kg/m3": 1.0, "g/cm^3": 1e3, "g/cm3": 1e3},
    "Pa": {"Pa": 1.0, "hPa": 1e2, "kPa": 1e3, "MPa": 1e6, "GPa": 1e9},
    "Hz": {"Hz": 1.0, "kHz": 1e3},
    "N": {"N": 1.0, "kN": 1e3, "MN": 1e6, "N m/rad/m": 1.0},
    "m^2": {"m^2": 1.0, "m2": 1.0, "cm^2": 1e-4, "cm2": 1e-4, "cm²": 1e-4, "mm^2": 1e-6, "mm2": 1e-6},
    "N/m": {"N/m": 1.0, "N/mm": 1e3, "kN/m": 1e3},
    "m^3": {"m^3": 1.0, "m3": 1.0, "cm^3": 1e-6, "cm3": 1e-6, "mm3": 1e-9, "l": 1e-3, "ml": 1e-6},
    "degC": {"degC": 1.0},
    "N/A": {"N/A": 1.0, "T m": 1.0},
    "ohm": {"ohm": 1.0},
    "H": {"H": 1.0, "mH": 1e-3, "uH": 1e-6},
    "V": {"V": 1.0, "mV": 1e-3},
    "s": {"s": 1.0, "ms": 1e-3, "us": 1e-6},
    "dimensionless": {"%": 1e-2},
    "m^2/kg": {"m^2/kg": 1.0, "m2/kg": 1.0},
    "m/s/N": {"m/s/N": 1.0, "mm/s/N": 1e-3, "m/(s N)": 1.0},
    "N/m^2": {"N/m^2": 1.0, "N/m/m": 1.0, "kN/m/m": 1e3, "N/mm/mm": 1e6, "GN/m/m": 1e9},
}


def everyday_sizes(unit: str) -> dict[str, float]:
    """What an everyday unit can be, by the SI unit of each kind of quantity that it measures its size in it; empty for
    a unit that Pint, 0.3 s to load, must be asked about."""
    return {known: table[unit] for known, table in EVERYDAY.items() if unit in table}


class Quantity(float):
    """A number in SI that remembers how it was written, so that a message can answer in the user's own unit."""

    text: str
    unit: str
    factor: float

    def __new__(cls, value: float, text: str, unit: str, factor: float) -> Quantity:
        self = super().__new__(cls, value)
        self.text, self.unit, self.factor = text, unit, factor
        return self

    def __getnewargs__(self) -> tuple[float, str, str, float]:  # type: ignore[override]
        return float(self), self.text, self.unit, self.factor


def read_quantity(given: Any, dimension: Dimension) -> Quantity:
    """The quantity in the dimension's SI unit.

    `given` is a text "number unit"; a fraction such as "1/8 in" is a number too. A Quantity passes through.
    Raises DesignError, without a place (the caller knows file and key), for a bare number, an unknown unit or a
    unit of another kind.
    """
    if isinstance(given, Quantity):
        return given
    if not isinstance(given, str):
        bare = isinstance(given, int | float) and not isinstance(given, bool)
        what = f"a bare {echo(given)}" if bare else echo(given)
        raise DesignError(
            f"{dimension.a} needs a number and its unit in quotes, such as {dimension.hint}; received {what}"
        )
    return _read_text(given, dimension)


@lru_cache(maxsize=65536)
def _read_text(text: str, dimension: Dimension) -> Quantity:
    try:
        number, unit = split_amount(text)
    except DesignError as error:
        raise DesignError(f"{dimension.a} is written like {dimension.hint}; received {echo(text)}: {error}") from None
    if not unit:
        raise DesignError(f"{dimension.a} needs its unit, such as {dimension.hint}; received {echo(text)} without one")
    factor = _factor(unit, dimension)
    value = Quantity(number * factor, text.strip(), unit, factor)
    if abs(value) > dimension.most or 0 < abs(value) < dimension.least or (number and not value):
        raise DesignError(
            f"{dimension.a} must be 0 or from {dimension.least:g} to {dimension.most:g} {dimension.unit} in size, what "
            f"can be computed with; received {echo(text)}"
        )
    return value


@cache
def _factor(unit: str, dimension: Dimension) -> float:
    """What one `unit` is in the dimension's SI unit."""
    known = EVERYDAY[dimension.unit].get(unit)
    return factor_from_pint(unit, dimension) if known is None else known


def factor_from_pint(unit: str, dimension: Dimension) -> float:
    """The same by Pint. Raises DesignError for an unknown unit and one of another kind."""
    everyday = EVERYDAY[dimension.unit]
    same = [known for known in everyday if known.lower() == unit.lower()]
    near = same or get_close_matches(unit, everyday, n=1, cutoff=0.6)
    meant = f'did you mean "{near[0]}"? ' if near else ""
    try:
        found = pint_unit(unit)
    except DesignError as error:
        raise DesignError(f"{error}; {meant}{dimension.a} is written like {dimension.hint}") from None
    if found.dimensionality != _registry().Unit(dimension.unit).dimensionality or (
        _turns(found) if dimension in (LENGTH, COORDINATE, FREQUENCY) else dimension is ANGLE and not _turns(found)
    ):  # for Pint a radian is a plain 1: 100 rad/s would be 100 Hz
        raise DesignError(
            f"{echo(unit)} is not a unit of {dimension.name}; {meant}{dimension.a} is written like {dimension.hint}"
        )
    return float(_registry().Quantity(1.0, found).to(dimension.unit).magnitude)


@lru_cache(maxsize=4096)
def pint_unit(unit: str) -> Any:
    """The unit of a text as Pint's own, made word by word: Pint is never asked to parse an expression.

    mil is a thousandth of an inch, and a word such as cm2 is cm^2. Raises DesignError for an unknown word and for
    units that are no factor (degrees Celsius, decibels, percent).
    """
    registry = _registry()
    product = registry.Unit("")
    for word, power in unit_factors(unit):
        try:
            one = registry.parse_units("thou" if word == "mil" else word)
        except Exception as error:  # whatever Pint raises: it does not know the word
            raise DesignError(f"unknown unit {echo(unit)}") from error
        if not registry.Quantity(1.0, one)._is_multiplicative or (one.dimensionless and not _turns(one)):
            raise DesignError(f"{echo(unit)} is no unit that a number is multiplied by")
        product = product * one**power
    return product


def _turns(unit: Any) -> bool:
    """Whether an angle is left in a unit: rad/s, rpm, N/rad, but not N m/m."""
    return "radian" in str(_registry().get_root_units(unit)[1])


@cache
def _registry() -> Any:
    """The registry that every Pint quantity of the program belongs to."""
    import pint

    return pint.UnitRegistry()


def pint_quantity(value: float, unit: str) -> Any:
    """A quantity of Pint in the SI unit of a Dimension, "" for a plain number; a plane angle is a kind of its own here,
    so that 15 deg is not taken for 0.26."""
    return _registry_with_angles().Quantity(value, "plane_angle" if unit == "rad" else unit)


@cache
def _registry_with_angles() -> Any:
    registry = _registry()
    registry.define("plane_angle = [plane_angle]")
    return registry


def show(value: float, like: float | None = None, dimension: Dimension = LENGTH) -> str:
    """A number in words: as it was written if it was, in the unit of `like` if that was, else in a fitting unit."""
    if isinstance(value, Quantity):
        return value.text
    if isinstance(like, Quantity):
        return f"{value / like.factor:.4g} {like.unit}"
    if dimension in (LENGTH, COORDINATE):
        return f"{value * 1e6:.4g} um" if 0 < abs(value) < 0.2e-3 else f"{value * 1e3:.4g} mm"
    return f"{value:.4g} {dimension.unit}"


def show_place(point: Iterable[float]) -> str:
    """A point (r, z) in m in words; what rounding leaves of zero is 0."""
    r, z = (0.0 if abs(x) < 1e-9 else x for x in point)
    return f"r = {r * 1e3:.4g} mm, z = {z * 1e3:.4g} mm"


def show_below(value: float, like: float | None = None) -> str:
    """A length rounded down to three digits, so that the number shown still fits."""
    factor, unit = (
        (like.factor, like.unit) if isinstance(like, Quantity) else (1e-6, "um") if value < 0.2e-3 else (1e-3, "mm")
    )
    number = value / factor
    step = 10.0 ** (floor(log10(number)) - 2) if number > 0 else 1.0
    return f"{floor(number / step * (1 + 1e-9)) * step:.10g} {unit}"
