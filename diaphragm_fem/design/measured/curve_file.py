"""Measured curves from a file: a table of text whose heading declares quantity and unit, or a universal file.

A heading reads like `frequency [Hz], area [cm2], area phase [deg], velocity at 12.5 mm [dB]`: for each curve its size
alone, size and phase, or its real and imag parts. Lines that begin with # are remarks. Phases go with exp(+i omega t).
"""

from codecs import BOM_UTF8
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from re import fullmatch

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.files.input_file import read_csv_file, read_file_bytes
from diaphragm_fem.design.measured.measured import (
    MOST_CURVES,
    MOST_POINTS,
    QUANTITIES,
    MeasuredCurve,
    check_curve,
    factor_of,
)
from diaphragm_fem.design.units.units import ANGLE, COORDINATE, FREQUENCY, read_quantity
from diaphragm_fem.errors import DesignError, echo, nearest, plain

REMARKS = 1000  # lines of them and the heading
MOST_PHASE = 1e6  # rad: 1 s of delay at 159 kHz; of far more no angle is left
PARTS = ("size", "phase", "real", "imag")
EXAMPLE = "frequency [Hz], area [cm2], area phase [deg]"
APART = "commas part columns, a point decimals"


@dataclass(frozen=True)
class Column:
    """One column of the heading: the quantity's name, the radius in m it was taken at, the part of the value."""

    name: str
    radius: float | None
    part: str
    to_si: Callable[[Array], Array]


def read_measured_file(path: Path) -> list[MeasuredCurve]:
    """Every curve of a file, of either kind. Raises DesignError naming file, line and column, or data set."""
    head = read_file_bytes(path)[:400].removeprefix(BOM_UTF8).lstrip()
    if head.startswith(b"-1"):
        from diaphragm_fem.design.measured.universal_file import read_universal_file

        return read_universal_file(path)
    return _read_table(path)


def _read_table(path: Path) -> list[MeasuredCurve]:
    rows = [(n, row) for n, row in read_csv_file(path, lines=MOST_POINTS + REMARKS) if not row[0].startswith("#")]
    shown = plain(str(path))
    if not rows:
        raise DesignError(f"{shown}: holds no curve; its first line must be a heading such as `{EXAMPLE}`")
    line, heading = rows[0]
    columns = [_column(cell, k, f"{shown}, line {line}") for k, cell in enumerate(heading)]
    if len(columns) < 2:
        raise DesignError(f"{shown}, line {line}: needs the frequency and one curve at least, such as `{EXAMPLE}`")
    values = np.array([_numbers(row, heading, f"{shown}, line {n}") for n, row in rows[1:]]).reshape(-1, len(heading))
    groups: dict[tuple[str, float | None], dict[str, Array]] = {}
    for k, column in enumerate(columns[1:], start=1):
        parts = groups.setdefault((column.name, column.radius), {})
        if column.part in parts:
            raise DesignError(f"{shown}, line {line}: the column {echo(heading[k])} stands there twice")
        parts[column.part] = column.to_si(values[:, k])
    if len(groups) > MOST_CURVES:
        raise DesignError(f"{shown}: holds {len(groups)} curves; at most {MOST_CURVES} are read")
    frequency = columns[0].to_si(values[:, 0])
    return [_curve(shown, line, name, radius, frequency, parts) for (name, radius), parts in groups.items()]


def _column(cell: str, index: int, place: str) -> Column:
    match = fullmatch(r"(\w+)(?:\s+at\s+([^\[]+?))?(?:\s+(size|phase|real|imag))?\s*(?:\[([^\]]*)\])?", cell)
    if match is None:
        told = f"; {APART}" if {";", "\t"} & set(cell) else ""
        raise DesignError(f"{place}: the heading reads like `{EXAMPLE}`{told}; received {echo(cell)}")
    name, where, part, unit = match[1], match[2], match[3] or "size", match[4]
    if (index == 0) != (name == "frequency"):
        raise DesignError(f"{place}: the first column, and no other, is headed `frequency [Hz]`; received {echo(cell)}")
    if not unit:
        raise DesignError(f"{place}: the column {echo(cell)} needs its unit, as in `{EXAMPLE}`")
    try:
        if index == 0:
            factor = read_quantity(f"1 {unit}", FREQUENCY).factor
            return Column(name, None, part, lambda x: factor * x)
        if name not in QUANTITIES:
            raise DesignError(f"unknown quantity {echo(name)}; {nearest(name, QUANTITIES)}")
        quantity = QUANTITIES[name]
        if quantity.at_a_point != (where is not None):
            needed = "needs its radius" if quantity.at_a_point else "is taken of the whole and has no radius"
            raise DesignError(f"'{name}' {needed}, as in `velocity at 12.5 mm [dB]`")
        radius = None if where is None else float(read_quantity(where, COORDINATE))
        if part == "phase":
            turn = read_quantity(f"1 {unit}", ANGLE).factor
            return Column(name, radius, part, lambda x: turn * x)
        one, is_level = factor_of(unit, quantity)
        if is_level and part != "size":
            raise DesignError("a level in dB is a size; give real and imag in a unit")
        if is_level:
            return Column(name, radius, part, lambda x: one * 10 ** (np.clip(x, -2000.0, 2000.0) / 20))
        return Column(name, radius, part, lambda x: one * x)
    except DesignError as error:
        raise DesignError(f"{place}, column {echo(cell)}: {error}") from None


def _numbers(row: list[str], heading: list[str], place: str) -> list[float]:
    if len(row) != len(heading):
        told = f"; {APART}" if len(row) > len(heading) else ""
        raise DesignError(f"{place}: the line needs {len(heading)} values like the heading{told}; received {len(row)}")
    found = []
    for cell, name in zip(row, heading, strict=True):
        try:
            found.append(float(cell if "_" not in cell else ""))
        except ValueError:
            raise DesignError(f"{place}, column {echo(name)}: must be a number; received {echo(cell)}") from None
    return found


def _curve(
    shown: str, line: int, name: str, radius: float | None, frequency: Array, parts: dict[str, Array]
) -> MeasuredCurve:
    place = f"{shown}, '{name}'"
    given = set(parts)
    if given == {"real", "imag"}:
        values, phase = parts["real"] + 1j * parts["imag"], True
    elif given == {"size", "phase"}:
        if (most := np.abs(parts["phase"]).max(initial=0.0)) > MOST_PHASE:  # nan passes: it is refused as no number
            raise DesignError(f"{place}: its phase must stay within {MOST_PHASE:g} rad; received {most:.3g} rad")
        values, phase = parts["size"] * np.exp(1j * parts["phase"]), True
    elif given == {"size"}:
        values, phase = parts["size"], False
    else:
        raise DesignError(
            f"{shown}, line {line}: '{name}' needs its size, size and phase, or real and imag; received "
            f"{' and '.join(sorted(given))}"
        )
    return check_curve(MeasuredCurve(QUANTITIES[name], frequency, values, phase, place, radius))
