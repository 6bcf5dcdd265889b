"""Plain data as JSON: numbers that do not exist are null, and nothing in it steers a terminal."""

import json
import re
from collections.abc import Mapping
from math import isfinite
from pathlib import Path
from typing import Any

import numpy as np

from diaphragm_fem.design.files.whole_file import write_whole

_C1 = re.compile("[\x7f-\x9f\u202a-\u202e\u2066-\u2069]")  # JSON escapes the other control characters itself


def to_json(data: Any) -> str:
    """JSON text in which numbers that do not exist (nan, infinity) are null, and nothing steers a terminal."""
    return _C1.sub(lambda found: f"\\u{ord(found[0]):04x}", _lines(_plain(data), ""))


def _lines(data: Any, indent: str) -> str:
    """Tables over several lines, lists on one."""
    if not isinstance(data, dict) or not data:
        return json.dumps(data, ensure_ascii=False)
    deeper = indent + "  "
    items = [f"{deeper}{json.dumps(key, ensure_ascii=False)}: {_lines(value, deeper)}" for key, value in data.items()]
    return "{\n" + ",\n".join(items) + f"\n{indent}}}"


def write_json(path: Path, data: Any) -> Path:
    return write_whole(path, to_json(data) + "\n")


def _plain(data: Any) -> Any:
    if isinstance(data, Mapping):
        return {str(key): _plain(value) for key, value in data.items()}
    if isinstance(data, np.generic):
        data = data.item()
    if isinstance(data, str) or data is None or isinstance(data, bool | int):
        return data
    if isinstance(data, float):
        return data if isfinite(data) else None
    data = list(data)
    if all(type(value) is float and isfinite(value) for value in data):
        return data
    return [_plain(value) for value in data]
