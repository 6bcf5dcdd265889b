"""From pydantic's errors to our words: where in the file, what must hold, what was received."""

import re
from collections.abc import Mapping, Sequence
from functools import cache
from typing import Any

from pydantic import BaseModel, ValidationError

from diaphragm_fem.design.files.key_path import format_path
from diaphragm_fem.design.spec.quantities import UNKNOWN
from diaphragm_fem.errors import echo, nearest

SHOWN = 8
MOST_HOMES = 3  # that are named, of the tables which know a key
AT_THE_TOP = "the top of the file, before its first table"
PLAIN_NUMBER = "must be a plain number, without unit and quotes"
PERCENT = re.compile(r"([0-9]{1,9}(?:\.[0-9]{1,9})?) *%")
WHOLE_NUMBER = "must be a whole number, without quotes"
KINDS = {
    "profile": ("v", "dome", "free"),
    "surround": ("flat", "half-roll", "rolls"),
    "coil": ("former", "ring", "none"),
}


def refusal(error: ValidationError, data: Mapping[str, Any], origin: str, tables: type[BaseModel]) -> str:
    """All errors of a file, a line each that begins with `origin`: its name, and what parts that from a key."""
    lines = [f"{origin}{line}" for line in complaints(error, data, tables)]
    return "\n".join([*lines[:SHOWN], *([f"... and {len(lines) - SHOWN} more"] if len(lines) > SHOWN else [])])


def complaints(error: ValidationError, data: Mapping[str, Any], tables: type[BaseModel]) -> list[str]:
    """What is wrong with a file's data, a line for each key; our own, which are the most definite, first.

    A key that the file's `tables` know elsewhere is told where.
    """
    found: dict[tuple[str, str], list[str]] = {}
    for one in sorted(error.errors(include_url=False), key=lambda one: one["type"] != "design"):
        keys, what, received = _complaint(one, data)
        if what.startswith(UNKNOWN):
            head, _, hint = what.partition("; ")
            home = _at_home(str(keys[-1]), tables)
            what = f"{head}{home}; {hint.rpartition('? ')[2] if home else hint}"  # one guess is enough
        found.setdefault((format_path(keys) if keys else "", received), []).append(what)
    lines = []
    for (place, received), whats in found.items():  # several where a key may hold one of several kinds
        whats = [what for what in whats if what != WHOLE_NUMBER or PLAIN_NUMBER not in whats]
        text = (
            ", or ".join([whats[0], *(what.removeprefix("must be ") for what in dict.fromkeys(whats[1:]))]) + received
        )
        lines.append(f"{place}: {text}" if place else text)
    return lines


def _at_home(key: str, tables: type[BaseModel]) -> str:
    """The tables of a file that know a key, for one that stands in a wrong one: ", which belongs to [plan]"."""
    homes = [f"[{table}]" if table else AT_THE_TOP for table, _, name in _known_keys(tables) if name == key]
    if not homes:
        return ""
    more = f" and {len(homes) - MOST_HOMES} more tables" if len(homes) > MOST_HOMES else ""
    return f", which belongs to {', '.join(homes[:MOST_HOMES])}{more}"


@cache
def _known_keys(tables: type[BaseModel]) -> list[tuple[str, str, str]]:
    """Every key of a file as its table, a dot and its name. Kept, for the schema takes 0.1 s."""
    from diaphragm_fem.design.spec.schema import key_list, schema_of  # here: a refusal alone needs it

    return [path.rpartition(".") for path, _ in key_list(schema_of(tables, ""))]


def _complaint(error: Any, data: Mapping[str, Any]) -> tuple[list[str | int], str, str]:
    """The keys of the place, what must hold there, and what was received."""
    keys = _keys(error["loc"], data)
    context, received = error.get("ctx", {}), f"; received {echo(error['input'])}"
    if error["type"].endswith("_parsing") and (percent := PERCENT.fullmatch(str(error["input"]))):
        received += f"; write {float(percent[1]) / 100:g}"
    match error["type"]:
        case "design":
            return keys + ([context["key"]] if context["key"] else []), context["message"], ""
        case "union_tag_not_found":
            allowed = KINDS.get(str(keys[-1]), ()) if keys else ()
            return keys, f"'kind' is missing; allowed are {', '.join(allowed)}", ""
        case "union_tag_invalid":
            hint = nearest(str(context["tag"]), KINDS.get(str(keys[-1]), ()))
            return [*keys, "kind"], f"unknown kind {echo(context['tag'])}; {hint}", ""
        case "literal_error":
            return keys, f"must be {context['expected']}", received
        case "model_attributes_type":
            kinds = " or ".join(f'"{kind}"' for kind in KINDS.get(str(keys[-1]), ()))
            return keys, f"must be a table whose kind is {kinds}", received
        case "model_type":
            return keys, "must be a table", received
        case "dict_type":
            return keys, "must be a table of names with a value each, { name = ... }", received
        case "float_parsing" | "float_type":
            return keys, PLAIN_NUMBER, received
        case "int_parsing" | "int_type" | "int_from_float":
            return keys, WHOLE_NUMBER, received
        case "bool_type":
            return keys, "must be true or false, without quotes", received
        case "string_type":
            return keys, "must be a text in quotes", received
        case "list_type" | "tuple_type":
            return keys, "must be a list", received
        case "too_short":
            return keys, f"must hold at least {context['min_length']}", received
        case "too_long":
            return keys, f"must hold no more than {context['max_length']}", f"; received {len(error['input'])}"
    return keys, error["msg"].replace("Input should", "must"), received


def _keys(loc: Sequence[str | int], data: Any) -> list[str | int]:
    """The keys of an error's place, without the names of union branches that pydantic mixes in."""
    keys: list[str | int] = []
    branch_due = False
    for key in loc:
        if branch_due and key == data.get("kind"):
            branch_due = False
            continue
        if _holds(data, key):
            data = data[key]
        else:
            continue
        keys.append(key)
        branch_due = key in KINDS and isinstance(data, Mapping)
    return keys


def _holds(data: Any, key: str | int) -> bool:
    if isinstance(data, Mapping):
        return key in data
    return isinstance(data, list | tuple) and isinstance(key, int) and key < len(data)
