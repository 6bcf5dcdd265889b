"""What each column or key of the files of numbers holds, in words: those of `columns.toml`, and of figures."""

import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from diaphragm_fem.analysis.figures.definitions import DEFINITIONS, MEASURES


@cache
def column_words(answer: str) -> Mapping[str, str]:
    """Words by name, of an answer on a "design" or a "stroke"."""
    known = tomllib.loads(Path(__file__).with_name("columns.toml").read_text(encoding="utf-8"))[answer]
    return {**known, **DEFINITIONS, **MEASURES} if answer == "design" else known


def meaning_of(answer: str, tables: Mapping[str, Mapping[str, Any]], figures: Iterable[str] = ()) -> dict[str, str]:
    """The words of every column of some tables, and of figures by name; what stands after a colon is left out."""
    used = {name.split(":")[0] for name in (*figures, *(name for columns in tables.values() for name in columns))}
    return {name: words for name, words in column_words(answer).items() if name in used}
