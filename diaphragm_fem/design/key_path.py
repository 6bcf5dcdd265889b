"""Paths into a design file: `profile.outer.steps[0].tread`, also written `profile.outer.steps.0.tread`,
`materials."PEN film".density`."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from functools import lru_cache
from itertools import pairwise
from typing import Any

from diaphragm_fem.errors import StudyError

_PART = re.compile(
    r"""\s*(?:\.?\s*(?P<name>[A-Za-z0-9_-]+)
    | \.?\s*"(?P<quoted>[^"]+)"
    | \[\s*(?:(?P<index>\d+) | "(?P<sub>[^"]+)" | '(?P<sub1>[^']+)')\s*\])""",
    re.VERBOSE,
)

Step = str | int


@lru_cache(maxsize=1024)
def parse_path(path: str) -> tuple[Step, ...]:
    """Steps of a path: names of tables and keys, and whole numbers for the items of a list, from 0."""
    steps: list[Step] = []
    position = 0
    while position < len(path):
        match = _PART.match(path, position)
        if match is None:
            raise StudyError(
                f"'{path}' is no path of a key: write the names with dots between them, items of a list as [0], "
                'names with blanks in quotes, for example outer.steps[0].tread or materials."PEN film".density'
            )
        plain = match["index"] or match["name"]
        if plain and plain.isdigit():
            steps.append(int(plain))
        else:
            steps.append(plain or match["quoted"] or match["sub"] or match["sub1"])
        position = match.end()
    if not steps:
        raise StudyError("the path of a key is empty")
    return tuple(steps)


def all_paths(table: Any, before: str = "") -> Iterator[str]:
    """Every path that ends in a value, in the order of the file."""
    if isinstance(table, Mapping):
        for key, value in table.items():
            name = key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else f'"{key}"'
            yield from all_paths(value, f"{before}.{name}" if before else name)
    elif isinstance(table, list) and any(isinstance(item, Mapping | list) for item in table):
        for index, value in enumerate(table):
            yield from all_paths(value, f"{before}[{index}]")
    else:
        yield before


def read_path(table: Any, path: str) -> Any:
    """The value at a path; KeyError where there is none."""
    for step in parse_path(path):
        try:
            table = table[step]
        except (KeyError, IndexError, TypeError):
            raise KeyError(path) from None
    return table


def write_path(table: dict[str, Any], path: str, value: Any) -> None:
    """Set the value at a path in place; tables that are missing on the way are made, items of lists are not."""
    steps = parse_path(path)
    place: Any = table
    for step, following in pairwise(steps):
        if isinstance(step, str) and isinstance(place, dict) and step not in place and isinstance(following, str):
            place[step] = {}
        place = place[step]
    place[steps[-1]] = value


def nearest_paths(table: Any, path: str, count: int = 3) -> list[str]:
    """Known paths most like a mistaken one."""
    known = list(all_paths(table))
    near = get_close_matches(path, known, n=count, cutoff=0.5)
    last = str(parse_path(path)[-1])
    near += [other for other in known if str(parse_path(other)[-1]) == last and other not in near]
    return near[:count]
