"""Published values that cannot be computed here, each file with its source in its first lines."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """Rows of tables/<name>.csv; lines that begin with # tell what they are and where they come from."""
    text = (files(__package__) / f"{name}.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
