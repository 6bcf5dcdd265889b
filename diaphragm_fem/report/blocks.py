"""Pages as a list of blocks: the same words on the screen, as Markdown and as HTML."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from diaphragm_fem.report.table import Table


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
