"""Amounts as a design file writes them: "12.5 um", 0.8 or a name, and the number in SI units behind them."""

from __future__ import annotations

import contextlib
import re
from functools import cache, lru_cache
from math import isfinite
from typing import TYPE_CHECKING, Any

from diaphragm_fem.design.files.key_path import read_path
from diaphragm_fem.design.units.grammar import split_amount as split_text
from diaphragm_fem.errors import DesignError, StudyError, echo

if TYPE_CHECKING:
    from collections.abc import Mapping

    from diaphragm_fem.design.units.units import Dimension

Written = str | float | int | bool
FACTORS = "profile.thickness_factor."

_FIGURE_UNITS = {
    "_n_per_m": "STIFFNESS", "_hz": "FREQUENCY", "_m2_per_kg": "RESPONSE", "_kg": "MASS", "_m2": "AREA",
    "_m3": "VOLUME", "_m": "LENGTH",
    "efficiency": "SHARE", "_strain": "SHARE", "_used": "SHARE", "_harmonic": "SHARE",
}  # fmt: skip


def read_amount(design: Mapping[str, Any], key: str) -> Any:
    """What a design has at a key, 1 for a factor of a thickness that it leaves out. Raises KeyError without any."""
    try:
        return read_path(design, key)
    except KeyError:
        if not key.startswith(FACTORS):
            raise
        return 1.0


@cache
def _measures(unit: str) -> dict[str, float]:
    """What a unit can be: the SI unit of each kind of quantity that it measures, and its size in it."""
    from diaphragm_fem.design.units import units

    found = units.everyday_sizes(unit)
    if not found and unit:
        for dimension in (value for value in vars(units).values() if isinstance(value, units.Dimension)):
            with contextlib.suppress(DesignError):
                found[dimension.unit] = units.factor_from_pint(unit, dimension)
    return found


def si_factor(unit: str) -> float | None:
    """What a number in this unit must be multiplied by to be in SI units; None for a word that is no unit."""
    return next(iter(_measures(unit).values()), None) if unit else 1.0


def kinds(unit: str) -> frozenset[str]:
    """The kinds of quantity that a unit measures, by their SI units; none for no unit."""
    return frozenset(_measures(unit))


def same_kind(one: str, other: str) -> bool:
    """Whether two units measure the same kind of quantity; two plain numbers do."""
    return one == other or bool(kinds(one) & kinds(other))


@lru_cache(maxsize=4096)
def _split(text: str) -> tuple[float, str] | None:
    try:
        number, unit = split_text(text)
    except DesignError:
        return None
    return (number, unit) if isfinite(number) and si_factor(unit) is not None else None


def split_amount(written: Any) -> tuple[float, str] | None:
    """Number and unit of an amount, ("12.5 um" -> (12.5, "um"), 0.8 -> (0.8, "")); None for a name or a table."""
    if isinstance(written, bool):
        return None
    if isinstance(written, int | float):
        return float(written), ""
    return _split(written) if isinstance(written, str) else None


def amount_in_si(written: Any) -> float | None:
    """The number of an amount in SI units; None for a name or a table."""
    parts = split_amount(written)
    return None if parts is None else parts[0] * (si_factor(parts[1]) or 1.0)


def in_si(written: Any, where: str) -> float:
    """The number of an amount in SI units; StudyError where it is none."""
    value = amount_in_si(written)
    if value is None or not isfinite(value):
        raise StudyError(
            f'{where}: must be a number, or a number with its unit in quotes such as "12 mm", received {echo(written)}'
        )
    return value


_LEVEL = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+))\s*(dB|octaves?)\s*")


def dimension_of(figure: str) -> Dimension | None:
    """Of a figure, by the end of its name; None for levels, octaves and counts."""
    from diaphragm_fem.design.units import units

    ending = next((end for end in _FIGURE_UNITS if figure.split(":")[0].endswith(end)), None)
    return getattr(units, _FIGURE_UNITS[ending]) if ending else None


def figure_in_si(figure: str, written: Any, where: str) -> float:
    """A value for a figure, in its own kind of unit or as a plain number in SI; StudyError for another."""
    from diaphragm_fem.design.units.units import read_quantity

    if not isinstance(written, str):
        return in_si(written, where)
    plain = _LEVEL.fullmatch(written)
    if plain is not None and plain[2].rstrip("s") in figure.split(":")[0].replace("_db", "_dB"):
        return float(plain[1])
    dimension = dimension_of(figure)
    if dimension is None:
        raise StudyError(
            f"{where}: {figure} has no unit; give a plain number, or a figure's whole name, which ends in its unit as "
            f"fundamental_hz does; received {echo(written)}"
        )
    try:
        return float(read_quantity(written, dimension))
    except DesignError as error:
        raise StudyError(f"{where}: {error}") from None


def write_amount(number: float, unit: str) -> Written:
    """An amount as a design file writes it. Nine digits: finer than any drawing, and the same on every machine."""
    tidy = float(f"{number:.9g}")
    return f"{tidy!r} {unit}" if unit else tidy
