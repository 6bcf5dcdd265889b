"""Writing a design's data as a TOML file."""

import json
from collections.abc import Mapping
from datetime import date, datetime, time
from math import isnan
from pathlib import Path
from re import fullmatch
from typing import Any

from diaphragm_fem.design.files.whole_file import write_whole
from diaphragm_fem.design.units.units import Quantity
from diaphragm_fem.errors import DesignError


def write_design(data: Mapping[str, Any], path: str | Path, remark: str = "") -> Path:
    """Write a design's data as TOML, a remark on top where given; return the path.

    Raises DesignError naming the key whose value TOML cannot hold; then nothing is written.
    """
    path = Path(path)
    head = "".join(f"# {line}\n" for line in remark.splitlines())
    text = head + to_toml(data)
    try:
        return write_whole(path, text)
    except OSError as error:
        raise DesignError(f"{path}: the file cannot be written: {error.strerror or error}") from error


def to_toml(data: Mapping[str, Any]) -> str:
    """The data as TOML text: plain values first, then tables, then lists of tables; None is left out."""
    lines: list[str] = []
    _table(data, (), lines)
    return "\n".join(lines).strip("\n") + "\n"


def _table(data: Mapping[str, Any], path: tuple[str, ...], lines: list[str]) -> None:
    later = []
    for key, value in data.items():
        if isinstance(value, Mapping) or _is_table_list(value):
            later.append((key, value))
        elif value is not None:
            lines.append(f"{_key(key)} = {_value(value, (*path, key))}")
    for key, value in later:
        here = (*path, key)
        heading = ".".join(map(_key, here))
        if isinstance(value, Mapping):
            only_tables = value and all(isinstance(x, Mapping) or _is_table_list(x) for x in value.values())
            lines += [] if only_tables else ["", f"[{heading}]"]
            _table(value, here, lines)
        else:
            for item in value:
                lines += ["", f"[[{heading}]]"]
                _table(item, here, lines)


def _is_table_list(value: Any) -> bool:
    return isinstance(value, list | tuple) and len(value) > 0 and all(isinstance(item, Mapping) for item in value)


def _key(key: str) -> str:
    return key if fullmatch(r"[A-Za-z0-9_-]+", key) else _text(key)


def _text(text: str) -> str:
    """A basic string: JSON's escapes are TOML's, but for one character that TOML alone escapes."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


def _value(value: Any, path: tuple[str, ...]) -> str:
    if hasattr(value, "tolist") and not isinstance(value, list | tuple):
        value = value.tolist()
    if isinstance(value, Quantity):
        return _text(value.text)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(str(value))
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return "nan" if isnan(value) else repr(value)
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, list | tuple):
        return f"[{', '.join(_value(item, path) for item in value)}]"
    if isinstance(value, Mapping):
        return f"{{ {', '.join(f'{_key(k)} = {_value(v, (*path, k))}' for k, v in value.items() if v is not None)} }}"
    raise DesignError(
        f"{'.'.join(path)}: TOML cannot hold a {type(value).__name__}; give a text, a number, a list or a table"
    )
