"""The cases of a study that lists them in a table."""

from __future__ import annotations

import csv
from pathlib import Path

from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.plan.amount import Written, split_amount
from diaphragm_fem.study.plan.study import Variable


def read_case_table(path: Path, table: str, variables: tuple[Variable, ...]) -> tuple[tuple[Written, ...], ...]:
    """Rows of the table of cases, a column for each thing that varies, amounts as in a design file."""
    file = path.parent / table
    try:
        with open(file, newline="", encoding="utf-8-sig") as stream:
            lines = list(csv.DictReader(stream))
    except OSError as error:
        raise StudyError(f"{path}, key plan.table: {file} cannot be read: {error.strerror or error}") from error
    except UnicodeDecodeError as error:
        raise StudyError(
            f"{path}, key plan.table: {file} is not text in UTF-8 ({error.reason} at byte {error.start}): save it as "
            "CSV in UTF-8"
        ) from error
    columns = list(lines[0]) if lines else []
    wanted = [variable.name for variable in variables if variable.source == "table"]
    if missing := [name for name in wanted if name not in columns]:
        raise StudyError(
            f"{file}: column '{missing[0]}' is missing; received {', '.join(map(str, columns)) or 'an empty file'}"
        )
    if surplus := [name for name in columns if name not in wanted]:
        raise StudyError(
            f"{file}: column '{surplus[0]}' is nothing that varies in {path}; known are {', '.join(wanted)}"
        )
    rows = []
    for number, line in enumerate(lines, start=2):
        if any(not (line[name] or "").strip() for name in wanted):
            raise StudyError(f"{file}, line {number}: every column needs a value, received {line!r}")
        rows.append(tuple(_cell(line[name]) for name in wanted))
    return tuple(rows)


def _cell(text: str) -> Written:
    parts = split_amount(text)
    if text.strip() in ("true", "false"):
        return text.strip() == "true"
    return parts[0] if parts and not parts[1] else text.strip()
