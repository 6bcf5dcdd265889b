"""Pages as a list of blocks: the same words on the screen, as Markdown and as HTML."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import ClassVar

from diaphragm_fem.report.blocks.table import Table


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
    """What must not be overlooked, each line under its lead: "Warning", "Caution"."""

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


def notices_of(blocks: Iterable[Block]) -> list[tuple[str, str]]:
    """Every line of the notices among blocks, with its lead."""
    return [(block.lead, line) for block in blocks if isinstance(block, Notices) for line in block.lines]


def titled_tables(blocks: Iterable[Block]) -> list[tuple[str, Table]]:
    """The tables that stand right under a heading, each with its words."""
    return [(a.words, b) for a, b in pairwise(blocks) if isinstance(a, Heading) and isinstance(b, Table)]
