"""Texts that users chose, such as names and materials, made harmless for what reads them next."""

import re
from collections.abc import Iterable
from typing import Any

from diaphragm_fem.design.units.grammar import split_amount
from diaphragm_fem.errors import DesignError, plain

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠")  # what spreadsheets take for the begin of one
_MARKUP = re.compile(r"([\\`*\[\]<>|~$]|(?<![^\W_])_|_(?![^\W_]))")


def csv_cells(row: Iterable[Any]) -> list[Any]:
    """The cells of a row of a CSV file, none of which a spreadsheet runs as a formula: those begin with an apostrophe.

    Numbers stay numbers, and an amount such as "-0.3 mm" is no formula.
    """
    return [_cell(value) if isinstance(value, str) else value for value in row]


def _cell(text: str) -> str:
    shown = plain(text)
    return f"'{shown}" if text.startswith(_FORMULA) and not _is_amount(text) else shown


def _is_amount(text: str) -> bool:
    try:
        split_amount(text)
    except DesignError:
        return False
    return True


def markdown_text(text: str) -> str:
    """The text in a Markdown page: it shows the very letters, on one line, and marks nothing up."""
    return _MARKUP.sub(r"\\\1", plain(text.replace("\n", " ")))
