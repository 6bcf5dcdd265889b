"""Published values that cannot be computed here, each file with its source in its first lines."""

import csv
from collections.abc import Sequence
from functools import cache
from importlib.resources import files

import numpy as np

from diaphragm_fem.arrays import Array, Complex

Row = dict[str, str]
Table = tuple[Row, ...]


@cache
def rows(name: str) -> Table:
    """Rows of tables/<name>.csv; lines that begin with # tell what they are and where they come from."""
    text = (files(__package__) / f"{name}.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


@cache
def cases(name: str, *keys: str) -> dict[tuple[str, ...], Table]:
    """Rows of a table gathered by what they hold in some of its columns."""
    found: dict[tuple[str, ...], list[Row]] = {}
    for row in rows(name):
        found.setdefault(tuple(row[key] for key in keys), []).append(row)
    return {case: tuple(group) for case, group in found.items()}


def column(table: Sequence[Row], name: str) -> Array:
    return np.array([float(row[name]) for row in table])


def phasor(table: Sequence[Row], name: str) -> Complex:
    """Complex numbers from columns re_<name> and im_<name>."""
    return column(table, f"re_{name}") + 1j * column(table, f"im_{name}")
