"""The one door for quantities with units: a text such as "75 um", "2.5 in" or "6 GPa" becomes SI.

Everyday units are held in a small table, because a sweep reads thousands of texts and the units library takes most of a
second to load; every other unit is asked of Pint. The tests compare the table with Pint.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache
from math import floor, isfinite, log10
from typing import Any

from diaphragm_fem.errors import DesignError


@dataclass(frozen=True)
class Dimension:
    """A kind of quantity: its name in messages, its SI unit, texts that show how to write it."""

    name: str
    unit: str
    examples: tuple[str, ...]

    @property
    def hint(self) -> str:
        shown = [f'"{example}"' for example in self.examples]
        return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} or {shown[-1]}"


LENGTH = Dimension("length", "m", ("1.2 mm", "75 um", "2.5 in", "3 mil"))
ANGLE = Dimension("angle", "rad", ("15 deg",))
MASS = Dimension("mass", "kg", ("2.5 g", "350 mg"))
DENSITY = Dimension("density", "kg/m^3", ("1360 kg/m^3", "1.36 g/cm^3"))
MODULUS = Dimension("modulus", "Pa", ("5.2 GPa", "40 MPa"))
FREQUENCY = Dimension("frequency", "Hz", ("100 Hz", "20 kHz"))
FORCE = Dimension("force", "N", ("120 kN",))
AREA = Dimension("area", "m^2", ("16 cm^2", "1600 mm2"))
STIFFNESS = Dimension("stiffness", "N/m", ("0.6 N/mm",))
TENSION = Dimension("tension", "N/m", ("50 N/m",))
PRESSURE = Dimension("pressure", "Pa", ("200 Pa", "2 mbar"))
STRESS = Dimension("stress", "Pa", ("60 MPa",))
SHARE = Dimension("share", "dimensionless", ("2 %",))
EDGE_STIFFNESS = Dimension("stiffness per length of edge", "N/m^2", ("2 N/mm/mm", "50 kN/m/m"))
EDGE_TURNING_STIFFNESS = Dimension("turning stiffness per length of edge", "N", ("0.05 N m/rad/m",))

EVERYDAY: dict[str, dict[str, float]] = {
    "m": {"m": 1.0, "cm": 1e-2, "mm": 1e-3, "um": 1e-6, "µm": 1e-6, "in": 0.0254, "inch": 0.0254, "mil": 2.54e-5},
    "rad": {"rad": 1.0, "deg": 0.017453292519943295},
    "kg": {"kg": 1.0, "g": 1e-3, "mg": 1e-6},
    "kg/m^3": {"kg/m^3": 1.0, "kg/m3": 1.0, "g/cm^3": 1e3, "g/cm3": 1e3},
    "Pa": {"Pa": 1.0, "kPa": 1e3, "MPa": 1e6, "GPa": 1e9},
    "Hz": {"Hz": 1.0, "kHz": 1e3},
    "N": {"N": 1.0, "kN": 1e3, "N m/rad/m": 1.0},
    "m^2": {"m^2": 1.0, "m2": 1.0, "cm^2": 1e-4, "cm2": 1e-4, "cm²": 1e-4, "mm^2": 1e-6, "mm2": 1e-6},
    "N/m": {"N/m": 1.0, "N/mm": 1e3, "kN/m": 1e3},
    "dimensionless": {"%": 1e-2},
    "N/m^2": {"N/m^2": 1.0, "N/m/m": 1.0, "kN/m/m": 1e3, "N/mm/mm": 1e6},
}

_NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_TEXT = re.compile(rf"\s*(?P<number>{_NUMBER})\s*(?:/\s*(?P<divisor>\d+)(?=\s))?\s*(?P<unit>.*?)\s*")


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
        what = f"a bare {given!r}" if isinstance(given, int | float) and not isinstance(given, bool) else f"{given!r}"
        raise DesignError(
            f"a {dimension.name} needs a number and its unit in quotes, such as {dimension.hint}; received {what}"
        )
    return _read_text(given, dimension)


@lru_cache(maxsize=65536)
def _read_text(text: str, dimension: Dimension) -> Quantity:
    match = _TEXT.fullmatch(text)
    if match is None:
        raise DesignError(
            f"a {dimension.name} needs a number and its unit, such as {dimension.hint}; received '{text}'"
        )
    unit = match["unit"]
    if not unit:
        raise DesignError(f"a {dimension.name} needs its unit, such as {dimension.hint}; received '{text}' without one")
    number = float(match["number"])
    if match["divisor"]:
        if int(match["divisor"]) == 0:
            raise DesignError(f"a {dimension.name} cannot be divided by zero; received '{text}'")
        number /= int(match["divisor"])
    factor = _factor(unit, dimension)
    if not isfinite(number * factor):
        raise DesignError(f"a {dimension.name} must be a finite number; received '{text}'")
    return Quantity(number * factor, text.strip(), unit, factor)


@cache
def _factor(unit: str, dimension: Dimension) -> float:
    """What one `unit` is in the dimension's SI unit."""
    known = EVERYDAY[dimension.unit].get(unit)
    return factor_from_pint(unit, dimension) if known is None else known


def factor_from_pint(unit: str, dimension: Dimension) -> float:
    """The same by Pint, with mil read as a thousandth of an inch and m3, cm2 read as m^3, cm^2."""
    import pint

    spelled = re.sub(r"(?<=[A-Za-z])([23])\b", r"^\1", re.sub(r"\bmil\b", "thou", unit))
    try:
        parsed = _registry().parse_units(spelled)
    except (pint.errors.PintError, AssertionError, ValueError, TypeError, AttributeError, SyntaxError) as error:
        raise DesignError(f"unknown unit '{unit}'; a {dimension.name} is written like {dimension.hint}") from error
    try:
        return float(_registry().Quantity(1.0, parsed).to(dimension.unit).magnitude)
    except (pint.errors.PintError, ValueError) as error:
        raise DesignError(f"'{unit}' is not a unit of {dimension.name}; write it like {dimension.hint}") from error


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


def show(value: float, like: float | None = None, dimension: Dimension = LENGTH) -> str:
    """A number in words: as it was written if it was, in the unit of `like` if that was, else in a fitting unit."""
    if isinstance(value, Quantity):
        return value.text
    if isinstance(like, Quantity):
        return f"{value / like.factor:.4g} {like.unit}"
    if dimension is LENGTH:
        return f"{value * 1e6:.4g} um" if abs(value) < 0.2e-3 else f"{value * 1e3:.4g} mm"
    return f"{value:.4g} {dimension.unit}"


def show_below(value: float, like: float | None = None) -> str:
    """A length rounded down to three digits, so that the number shown still fits."""
    factor, unit = (
        (like.factor, like.unit) if isinstance(like, Quantity) else (1e-6, "um") if value < 0.2e-3 else (1e-3, "mm")
    )
    number = value / factor
    step = 10.0 ** (floor(log10(number)) - 2) if number > 0 else 1.0
    return f"{floor(number / step * (1 + 1e-9)) * step:.10g} {unit}"
