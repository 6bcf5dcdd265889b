"""JSON schema of a file, from which an editor completes and checks it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diaphragm_fem.design.files.whole_file import write_whole
from diaphragm_fem.design.spec.file import DesignSpec

if TYPE_CHECKING:
    from pydantic import BaseModel

ABSENT, NEEDED = "where absent", "Needed."
DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema() -> dict[str, Any]:
    """The schema of the design file as data; the first line `#:schema design.schema.json` of a file makes many editors
    use it."""
    return schema_of(DesignSpec, "Diaphragm design")


def schema_of(tables: type[BaseModel], title: str) -> dict[str, Any]:
    """The schema of a file by the model of its tables, in the words of TOML."""
    schema = _without_null(tables.model_json_schema())
    return {"$schema": DIALECT, **schema, "title": title}


def key_list(schema: dict[str, Any]) -> list[tuple[str, str]]:
    """Every key of a schema by its path, with what it is for, which words it may be, what it is where absent and
    whether its table needs it; `[0]` is an item of a list, `NAME` a name."""
    found: dict[str, list[dict[str, Any]]] = {}
    _list_keys(schema, schema["$defs"], "", found)
    return [(key, _told(places)) for key, places in found.items()]


def _list_keys(node: Any, definitions: dict[str, Any], path: str, found: dict[str, list[dict[str, Any]]]) -> None:
    node = _resolved(node, definitions)
    for choice in (*node.get("anyOf", ()), *node.get("oneOf", ())):
        _list_keys(choice, definitions, path, found)
    if isinstance(node.get("items"), dict):
        _list_keys(node["items"], definitions, f"{path}[0]", found)
    if isinstance(node.get("additionalProperties"), dict):
        _list_keys(node["additionalProperties"], definitions, f"{path}.NAME", found)
    for key, value in node.get("properties", {}).items():
        here = f"{path}.{key}".lstrip(".")
        told = {**_resolved(value, definitions), **value, "needed": key in node.get("required", ())}
        if told not in found.setdefault(here, []):
            found[here].append(told)
        _list_keys(value, definitions, here, found)


def _resolved(node: Any, definitions: dict[str, Any]) -> Any:
    return definitions[node["$ref"].rsplit("/", 1)[1]] if "$ref" in node else node


def _told(places: list[dict[str, Any]]) -> str:
    """A key in words, from all the tables that may stand in its place; what each kind of them is, one by one."""
    first = places[0]
    if "const" in first:
        kinds = [(f'"{place["const"]}": ' if "const" in place else "") + place["description"] for place in places]
        return " ".join([*dict.fromkeys(kinds), NEEDED])
    words = first.get("description", "")
    more = []
    many = first.get("items", {})
    options = [json.dumps(one) for one in first.get("enum", many.get("enum", ()))]
    if not all(one in words for one in options):
        more.append(f"{'Each one' if many else 'One'} of {', '.join(options)}.")
    default = first.get("default")
    if default not in (None, "", [], {}) and ABSENT not in words:
        more.append(f"{json.dumps(default, ensure_ascii=False)} {ABSENT}.")
    if first["needed"]:
        more.append(NEEDED)
    return " ".join([words, *more])


def write_schema(path: str | Path, schema: dict[str, Any]) -> Path:
    return write_whole(Path(path), json.dumps(schema, indent=2, ensure_ascii=False) + "\n")


def _without_null(node: Any) -> Any:
    """TOML knows no null: drop that choice, and the default that says it."""
    if isinstance(node, list):
        return [_without_null(item) for item in node]
    if not isinstance(node, dict):
        return node
    node = {key: _without_null(value) for key, value in node.items() if not (key == "default" and value is None)}
    choices = [choice for choice in node.get("anyOf", []) if choice != {"type": "null"}]
    if "anyOf" in node:
        node["anyOf"] = choices
        if len(choices) == 1:
            node.pop("anyOf")
            node = {**choices[0], **node}
    return node
