"""Paths into a design file: `profile.outer.steps[0].tread`, also written `profile.outer.steps.0.tread`,
`materials."PEN film".density`."""

import re
from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches
from functools import lru_cache
from typing import Any

from diaphragm_fem.errors import DesignError, echo

_PART = re.compile(
    r"""\s*(?:(?:^|\.)\s*(?:(?P<name>[A-Za-z0-9_-]+(?:\ +[A-Za-z0-9_-]+)*) | "(?P<quoted>(?:[^"]|"")+)")
    | \[\s*(?:(?P<index>[0-9]{1,9}) | "(?P<sub>(?:[^"]|"")+)" | '(?P<sub1>[^']+)')\s*\])\s*""",
    re.VERBOSE,
)

LONGEST = 400  # letters of a path
_ONE_OF = {"steps": "step", "slots": "slot", "layers": "layer"}
_BARE = re.compile(r"[A-Za-z0-9_-]+")

Step = str | int


@lru_cache(maxsize=1024)
def parse_path(path: str) -> tuple[Step, ...]:
    """Steps of a path: names of tables and keys, and whole numbers for the items of a list, from 0. In a name between
    double quotes a double quote is written twice.

    Raises DesignError for a text that is no path.
    """
    if len(path) > LONGEST:
        raise DesignError(f"the path of a key has at most {LONGEST} letters; received {echo(path)}")
    steps: list[Step] = []
    position = 0
    while position < len(path):
        match = _PART.match(path, position)
        if match is None:
            raise DesignError(
                f"{echo(path)} is no path of a key: write the names with dots between them, items of a list as [0], "
                'names with blanks in quotes, for example outer.steps[0].tread or materials."PEN film".density'
            )
        plain = match["index"] or match["name"]
        if plain and plain.isdigit() and plain.isascii():
            steps.append(int(plain))
        else:
            steps.append(plain or match["sub1"] or (match["quoted"] or match["sub"]).replace('""', '"'))
        position = match.end()
    if not steps:
        raise DesignError("the path of a key is empty")
    return tuple(steps)


def format_path(steps: Iterable[Step]) -> str:
    """The path of these steps as people write it: profile.outer.steps[0].tread, materials."PEN film".density."""
    path = ""
    for step in steps:
        if isinstance(step, int):
            path += f"[{step}]"
        elif '"' in step and "'" not in step:
            path += f"['{step}']"
        else:
            doubled = step.replace('"', '""')
            name = step if _BARE.fullmatch(step) and not step.isdigit() else f'"{doubled}"'
            path += f".{name}" if path else name
    return path


def key_words(path: str) -> str:
    """What a key is called in words; a step's number as its zone has it, none for a flank's first.

    >>> key_words("profile.outer.steps[1].tread"), key_words("profile.inner.width"), key_words("front.slots[0].radius")
    ('outer step 2 tread', 'inner flank width', 'slot 1 radius')
    >>> key_words('profile.thickness_factor."inner step"')
    'inner step thickness factor'
    >>> key_words("zones.inner.thickness"), key_words("zones.wall.thickness"), key_words("wall.thickness")
    ('inner thickness', 'wall zone thickness', 'wall thickness')
    """
    steps = list(parse_path(path))
    of_zone = steps[0] == "zones" or "thickness_factor" in steps
    if steps[:2] == ["zones", "wall"]:
        steps[1] = "wall zone"
    if "thickness_factor" in steps:
        steps = [steps[-1], "thickness_factor"]
    elif len(steps) > 2 and (steps[0] in ("profile", "zones") or steps[:2] == ["front", "slots"]):
        steps = steps[1:]
    words: list[str] = []
    for step, after in zip(steps, [*steps[1:], None], strict=True):
        if isinstance(step, int):
            words += [str(step + 1)] * (step > 0 or words[-1] != "step")
        elif step in ("inner", "outer") and after == steps[-1] and not of_zone:
            words.append(f"{step} flank")
        else:
            words.append(_ONE_OF.get(step, step) if isinstance(after, int) else step)
    return " ".join(dict.fromkeys(words)).replace("_", " ")


def all_paths(table: Any) -> Iterator[str]:
    """Every path that ends in a value, in the order of the file."""
    return (path for path, _ in all_values(table))


def all_values(table: Any, before: tuple[Step, ...] = ()) -> Iterator[tuple[str, Any]]:
    """Every path that ends in a value, and that value, in the order of the file."""
    if isinstance(table, Mapping):
        for key, value in table.items():
            yield from all_values(value, (*before, key))
    elif isinstance(table, list) and any(isinstance(item, Mapping | list) for item in table):
        for index, value in enumerate(table):
            yield from all_values(value, (*before, index))
    else:
        yield format_path(before), table


def read_path(table: Any, path: str) -> Any:
    """The value at a path; KeyError where there is none."""
    for step in parse_path(path):
        try:
            table = table[step]
        except (KeyError, IndexError, TypeError):
            raise KeyError(path) from None
    return table


def copied(data: Any) -> Any:
    """A copy in which no two places share a table, unlike deepcopy's."""
    if isinstance(data, Mapping):
        return {key: copied(value) for key, value in data.items()}
    return [copied(item) for item in data] if isinstance(data, list | tuple) else data


def write_path(table: dict[str, Any], path: str, value: Any) -> None:
    """Set the value at a path in place; tables that are missing on the way are made, items of lists are not. A number
    in place of one that is known at a frequency is known there, too: set to 16 MPa, a rubber's modulus of 1 kHz was one
    of 100 Hz, 1.7 times as stiff. Who found the number that stood there and within which range is not told of the new
    one.

    Raises DesignError, without a place, where the path does not fit into the data.
    """
    steps = parse_path(path)
    place: Any = table
    for n, step in enumerate(steps):
        here = format_path(steps[: n + 1])
        if isinstance(place, list):
            if not isinstance(step, int) or step >= len(place):
                raise DesignError(f"{here}: '{step}' must number one of the {len(place)} items there, counted from 0")
        elif not isinstance(place, dict):
            raise DesignError(f"{path}: {format_path(steps[:n])} is a value, not a table, so it has no '{step}'")
        index: Any = step if isinstance(place, list) else str(step)
        if n == len(steps) - 1:
            old = place[index] if isinstance(place, list) else place.get(index)
            place[index] = {"value": value, "frequency": old["frequency"]} if _stays_there(old, value) else value
            if index == "value" and not isinstance(value, dict):
                for told in ("kind", "source", "range"):
                    place.pop(told, None)
        else:
            place = place[index] if isinstance(place, list) else place.setdefault(index, {})


def _stays_there(old: Any, value: Any) -> bool:
    """Whether a value is put in place of one number with its frequency, not of a table over several."""
    known = isinstance(old, dict) and "frequency" in old and not isinstance(old.get("value", []), list)
    return known and not isinstance(value, dict | list)


def nearest_paths(table: Any, path: str) -> list[str]:
    """The three known paths most like a mistaken one."""
    known = list(all_paths(table))
    near = get_close_matches(path, known, n=3, cutoff=0.5)
    last = str(parse_path(path)[-1])
    near += [other for other in known if str(parse_path(other)[-1]) == last and other not in near]
    return near[:3]
