"""What every page is made of, the same words on the screen, as Markdown and as HTML: blocks, tables among them.

A table becomes Markdown and HTML in `pages.py`, lines of a terminal in `terminal.py`, CSV here.
"""

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isfinite
from pathlib import Path
from typing import Any, ClassVar, TypeAlias

import numpy as np

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.files.plain_text import csv_cells
from diaphragm_fem.design.files.whole_file import whole_file

Columns: TypeAlias = Mapping[str, Sequence[Any]]  # of one length, by name


@dataclass(frozen=True)
class Table:
    """A head and rows: texts with their units where people read it, plain values in SI where it goes into a file.

    Columns from `numbers_from` on are set to the right, but for those in `words`; `note` stands below the rows.
    """

    head: Sequence[str]
    rows: Sequence[Sequence[Any]]
    numbers_from: int = 1
    words: Sequence[int] = ()
    note: str = ""
    kind: ClassVar[str] = "table"

    @property
    def is_number(self) -> list[bool]:
        """Column by column, whether it is set to the right."""
        return [place >= self.numbers_from and place not in self.words for place in range(len(self.head))]


def from_columns(columns: Columns) -> Table:
    """A table of named columns."""
    return Table(list(columns), list(zip(*columns.values(), strict=True)))


def plain_columns(columns: Mapping[str, Any]) -> dict[str, list[Any]]:
    """Columns of arrays as lists of plain numbers."""
    return {name: np.asarray(values).tolist() for name, values in columns.items()}


def stacked(tables: Iterable[Columns]) -> dict[str, list[Any]]:
    """Columns of several tables one under another."""
    columns: dict[str, list[Any]] = {}
    for table in tables:
        for name, values in table.items():
            columns.setdefault(name, []).extend(values)
    return columns


def parts(name: str, unit: str, values: Complex) -> dict[str, Array]:
    """Complex values as two columns."""
    return {f"{name}_real_{unit}": values.real, f"{name}_imag_{unit}": values.imag}


def columns_of(names: Sequence[str], rows: Sequence[Sequence[Any]]) -> dict[str, list[Any]]:
    """The columns of rows by their names; empty without rows."""
    return {name: list(values) for name, values in zip(names, zip(*rows, strict=True), strict=True)} if rows else {}


def write_csv(path: Path, table: Table) -> Path:
    """The table as CSV; numbers in full precision, an empty cell where a value does not exist. Returns the path."""
    with whole_file(path) as draft, draft.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(csv_cells(table.head))
        writer.writerows(csv_cells(["" if is_absent(value) else value for value in row]) for row in table.rows)
    return path


def is_absent(value: Any) -> bool:
    return value is None or (isinstance(value, float) and not isfinite(value))


@dataclass(frozen=True)
class Heading:
    words: str
    depth: int = 2
    kind: ClassVar[str] = "heading"


@dataclass(frozen=True)
class Words:
    text: str
    kind: ClassVar[str] = "words"


@dataclass(frozen=True)
class Points:
    """Short points one under another."""

    lines: Sequence[str]
    kind: ClassVar[str] = "points"


@dataclass(frozen=True)
class Notices:
    """What must not be overlooked, each line under its lead: "Warning", "Caution", "Note"."""

    lead: str
    lines: Sequence[str]
    kind: ClassVar[str] = "notices"


@dataclass(frozen=True)
class Picture:
    file: str
    words: str
    kind: ClassVar[str] = "picture"


Block = Heading | Words | Points | Notices | Table | Picture


def noticed(lead: str, lines: Sequence[str]) -> list[Block]:
    """Notices under their lead; nothing without lines."""
    return [Notices(lead, lines)] if lines else []


def said_in(blocks: Iterable[Block]) -> list[str]:
    """Every point and paragraph among blocks."""
    told = [x.lines if isinstance(x, Points) else [x.text] for x in blocks if isinstance(x, Points | Words)]
    return [line for lines in told for line in lines]


def notices_of(blocks: Iterable[Block]) -> list[tuple[str, str]]:
    """Every line of the notices among blocks, with its lead."""
    return [(block.lead, line) for block in blocks if isinstance(block, Notices) for line in block.lines]


def titled_tables(blocks: Iterable[Block]) -> list[tuple[str, Table]]:
    """The tables that stand right under a heading, each with its words."""
    return [(a.words, b) for a, b in pairwise(blocks) if isinstance(a, Heading) and isinstance(b, Table)]
