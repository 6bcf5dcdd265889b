"""From pydantic's errors to ours: where in the file, what must hold, what was received."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from diaphragm_fem.design.key_path import format_path
from diaphragm_fem.design.spec.quantities import nearest
from diaphragm_fem.errors import DesignError, echo

SHOWN = 8
KINDS = {
    "profile": ("v", "dome", "free"),
    "surround": ("flat", "half-roll", "rolls"),
    "coil": ("former", "ring", "none"),
}


def refusal(error: ValidationError, data: Mapping[str, Any], origin: str) -> DesignError:
    """One DesignError for all errors of a design file, a line each."""
    lines = [f"{origin}: {_line(one, data)}" for one in error.errors(include_url=False)]
    if len(lines) > SHOWN:
        lines = [*lines[:SHOWN], f"... and {len(lines) - SHOWN} more"]
    return DesignError("\n".join(lines))


def _line(error: Any, data: Mapping[str, Any]) -> str:
    keys = _keys(error["loc"], data)
    given, context = error["input"], error.get("ctx", {})
    match error["type"]:
        case "design":
            text = context["message"]
            keys += [context["key"]] if context["key"] else []
        case "union_tag_not_found":
            allowed = KINDS.get(str(keys[-1]), ()) if keys else ()
            text = f"'kind' is missing; allowed are {', '.join(allowed)}"
        case "union_tag_invalid":
            allowed = KINDS.get(str(keys[-1]), ())
            keys.append("kind")
            text = f"unknown kind {echo(context['tag'])}; {nearest(str(context['tag']), allowed)}"
        case "literal_error":
            text = f"must be {context['expected']}; received {echo(given)}"
        case "model_type" | "model_attributes_type" | "dict_type":
            text = f"must be a table; received {echo(given)}"
        case "string_type":
            text = f"must be a text in quotes; received {echo(given)}"
        case "tuple_type":
            text = f"must be a list; received {echo(given)}"
        case _:
            text = f"{error['msg'].replace('Input should', 'must')}; received {echo(given)}"
    return f"{format_path(keys)}: {text}" if keys else text


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
