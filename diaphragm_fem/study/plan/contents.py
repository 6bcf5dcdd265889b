"""What a study is made of, key by key, as a store keeps it: one that was changed is refused with what has changed."""

import hashlib
import json
from contextlib import suppress
from typing import Any

from diaphragm_fem.design.files.key_path import all_values
from diaphragm_fem.errors import echo, plain
from diaphragm_fem.study.plan.study import SPREADS, Study, Variable

MOST_TOLD = 4
_IN_FILE = {"up_to_hz": ("up_to", "Hz"), "even_db": ("even", "")}  # settings: the key that asks for them, the unit


def contents(study: Study) -> dict[str, str]:
    """Everything that a study is made of but for what is not asked, by its key as its file has it, each value as JSON.
    A table of cases and files that the design names stand there by a digest."""
    made = study.made_of
    told = {
        "vary": {one.name: _as_written(one) for one in study.recipe.variables},
        "keep": dict(made["keep"]),
        "want": dict(_as_asked(key, value) for key, value in made["want"].items()),
        "plan": {
            **{key: made[key] for key in ("how", "seed", "cases")},
            "rows": hashlib.sha256(json.dumps(made["rows"]).encode()).hexdigest() if made["rows"] else None,
        },
        "files": made.get("files", {}),
    }
    every = (item for data in (made["base"], told) for item in all_values(data))
    return {path: json.dumps(value) for path, value in every if value is not None}


def what_changed(stored: str | None, study: Study) -> str:
    """What a study has other than the one whose contents a store has kept, as words that follow a colon; "" where it
    has kept none, as those of earlier versions, or nothing that can be read."""
    with suppress(ValueError, TypeError, AttributeError, RecursionError):
        before = {plain(str(key)): str(value) for key, value in json.loads(stored or "").items()}
        now = {plain(key): value for key, value in contents(study).items()}
        found = [
            _told(key, before.get(key), now.get(key)) for key in {**now, **before} if now.get(key) != before.get(key)
        ]
        more = f"; and {len(found) - MOST_TOLD} more" if len(found) > MOST_TOLD else ""
        return "; ".join(found[:MOST_TOLD]) + more or "the order in [vary] or [keep], or an empty table"
    return ""


def _as_written(variable: Variable) -> dict[str, Any]:
    """What varies as a study file has it; numbers of one unit."""
    numbers: Any = variable.numbers
    source = variable.source
    if source == "list" and variable.of and len(numbers) == 1:
        source, numbers = "ratio", numbers[0]
    elif source != "list":
        numbers = [_amount(number, variable.unit) for number in numbers]
    if variable.source in SPREADS:
        numbers = dict(zip(SPREADS[variable.source], numbers, strict=True))
    return {
        "key": variable.keys[0] if len(variable.keys) == 1 else variable.keys,
        **({source: numbers} if variable.numbers else {}),
        **({"of": variable.of} if variable.of else {}),
        **({"count": variable.count} if variable.source != "list" else {}),
    }


def _as_asked(setting: str, value: Any) -> tuple[str, Any]:
    key, unit = _IN_FILE.get(setting, (setting, ""))
    return key, _amount(value, unit)


def _amount(number: Any, unit: str) -> Any:
    """To the last digit, unlike `write_amount`: what differs must be seen."""
    return f"{number!r} {unit}" if unit else number


def _told(key: str, before: str | None, now: str | None) -> str:
    """One key: added, gone, or what it was and is; of what stands there by a digest, that it has changed."""
    if key == "plan.rows" or key.startswith("files."):
        return f"{key} changed"
    was, now_is = (None if value is None else echo(json.loads(value)) for value in (before, now))
    if was is None:
        return f"{key} = {now_is} is new"
    return f"{key} was {was}, is {now_is or 'gone'}"
