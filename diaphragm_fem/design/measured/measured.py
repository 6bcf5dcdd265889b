"""Measured curves over frequency: what may be measured, in which units, and one curve of it."""

from collections.abc import Mapping
from dataclasses import dataclass
from re import fullmatch
from typing import Any

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.units import units
from diaphragm_fem.errors import DesignError, echo

FEWEST = 3  # points of a curve
MOST_POINTS = 100_000  # of a curve
MOST_CURVES = 200  # of a file
LARGEST = 1e15  # value in SI, its inverse the least: farther out no page shows a curve


@dataclass(frozen=True)
class Measurable:
    """A quantity by its name in files: what it is, its SI unit, its dimension (None: a plain ratio), against what its
    levels are commonly told, and whether it is measured at a point of the face."""

    name: str
    words: str
    unit: str
    dimension: units.Dimension | None
    against: str
    at_a_point: bool = False


QUANTITIES: Mapping[str, Measurable] = {
    quantity.name: quantity
    for quantity in (
        Measurable("area", "effective radiating area", "m^2", units.AREA, "1 m2"),
        Measurable("response", "response per newton", "m^2/kg", units.RESPONSE, "1 m2/kg"),
        Measurable("impedance", "impedance at the terminals", "ohm", units.RESISTANCE, "1 ohm"),
        Measurable("level", "sound pressure at the rated voltage", "Pa", units.PRESSURE, "20 uPa"),
        Measurable("velocity", "axial velocity over the coil's", "1", None, "1", at_a_point=True),
        Measurable(
            "mobility", "axial velocity per newton of coil force", "m/s/N", units.MOBILITY, "1 m/s/N", at_a_point=True
        ),
    )
}


@dataclass(frozen=True, eq=False)
class MeasuredCurve:
    """One curve: frequency_hz (F,) rising; values (F,) in SI, complex, or sizes alone where `phase` is False.

    r and z in m are the point it was taken at, z None where it was not told; origin is the file and place in it.
    """

    quantity: Measurable
    frequency_hz: Array
    values: NDArray[Any]
    phase: bool
    origin: str
    r: float | None = None
    z: float | None = None

    @property
    def title(self) -> str:
        """ "effective radiating area", "axial velocity over the coil's at r = 12 mm"."""
        at = "" if self.r is None else f" at r = {units.show(round(self.r, 9), dimension=units.LENGTH)}"
        return f"{self.quantity.words}{at}"


def check_curve(curve: MeasuredCurve) -> MeasuredCurve:
    """The curve; DesignError where its frequencies do not rise or its values are not finite, nothing at all, or below 0
    without a phase."""
    f, place = curve.frequency_hz, curve.origin
    if not FEWEST <= len(f) <= MOST_POINTS:
        raise DesignError(f"{place}: a curve needs {FEWEST} to {MOST_POINTS} points; received {len(f)}")
    if len(curve.values) != len(f):
        raise DesignError(f"{place}: {len(f)} frequencies but {len(curve.values)} values")
    wrong = np.flatnonzero(~(np.isfinite(f) & np.isfinite(curve.values)))
    if len(wrong):
        k = wrong[0]
        raise DesignError(
            f"{place}: frequencies and values must be finite numbers; received {curve.values[k]:g} at {f[k]:g} Hz, "
            f"point {k + 1}: leave such points out"
        )
    falling = np.flatnonzero(np.diff(f) <= 0)
    if f[0] <= 0 or len(falling):
        k = int(falling[0]) + 1 if len(falling) else 0
        raise DesignError(
            f"{place}: frequencies must rise from above 0 Hz; received {f[k]:g} Hz"
            + (f" after {f[k - 1]:g} Hz" if k else "")
        )
    if not curve.phase and curve.values.min() < 0:
        k = int(np.argmin(curve.values))
        raise DesignError(
            f"{place}: values without a phase are sizes, at least 0; received one below 0 at {f[k]:g} Hz, point "
            f"{k + 1}: give the real and imaginary part, or the size with its phase"
        )
    largest = np.abs(curve.values).max()
    if not largest > 0:
        raise DesignError(f"{place}: all values are 0")
    if not 1 / LARGEST <= largest <= LARGEST or f[-1] > units.FREQUENCY.most:
        raise DesignError(
            f"{place}: the largest value must lie from {1 / LARGEST:g} to {LARGEST:g} in SI and frequencies up to "
            f"{units.FREQUENCY.most:g} Hz, what can be drawn; received {largest:.3g} and {f[-1]:.3g} Hz"
        )
    return curve


def factor_of(unit: str, quantity: Measurable) -> tuple[float, bool]:
    """What one `unit` is in the quantity's SI unit, and whether it is a level: "dB re 20 uPa" gives (20e-6, True).

    Raises DesignError, without a place, for a unit of another kind.
    """
    level = fullmatch(r"dB(?:\s+re\s+(.+))?", unit.strip())
    if quantity.dimension is None:
        plain_units = {"1": 1.0, "%": 0.01, "dB": 1.0}
        if unit.strip() not in plain_units:
            raise DesignError(f"'{quantity.name}' is a ratio, in [1], [%] or [dB]; received [{unit}]")
        return plain_units[unit.strip()], unit.strip() == "dB"
    if level:
        if level[1] is None:
            raise DesignError(
                f"a level of '{quantity.name}' needs what it is against, as in [dB re {quantity.against}]"
            )
        return float(units.read_quantity(level[1], quantity.dimension)), True
    try:
        return units.read_quantity(f"1 {unit.strip()}", quantity.dimension).factor, False
    except DesignError as error:
        raise DesignError(f"the unit {echo(unit)} of '{quantity.name}': {error}") from None
