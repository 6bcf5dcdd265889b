"""The table of cases of a study: a CSV file whose columns are what varies."""

from pathlib import Path

from diaphragm_fem.design.files.input_file import MOST_TABLE_BYTES, read_csv_file
from diaphragm_fem.errors import StudyError, echo
from diaphragm_fem.study.plan.amount import Written, split_amount
from diaphragm_fem.study.plan.study import Variable

MOST_COLUMNS = 1000
MOST_CASES = 1_000_000  # of a table: 10 s and 1 GB of memory


def read_case_table(path: Path, table: str, variables: tuple[Variable, ...]) -> tuple[tuple[Written, ...], ...]:
    """Rows of the table of cases, a column for each thing that varies, amounts as in a design file."""
    file = path.parent / table
    before = f"{path}, key plan.table: "
    lines = list(read_csv_file(file, StudyError, lines=MOST_CASES, before=before, most=MOST_TABLE_BYTES))
    columns = lines[0][1] if lines else []
    if len(columns) > MOST_COLUMNS:
        raise StudyError(f"{file}: has {len(columns)} columns; at most {MOST_COLUMNS} are read")
    wanted = [variable.name for variable in variables if variable.source == "table"]
    if missing := [name for name in wanted if name not in columns]:
        received = f"received {', '.join(columns)}" if len(missing) < len(wanted) else f"wanted are {', '.join(wanted)}"
        raise StudyError(f"{file}: column '{missing[0]}' is missing; {received}")
    if surplus := [name for name in columns if name not in wanted]:
        raise StudyError(
            f"{file}: column '{surplus[0]}' is nothing that varies in {path}; known are {', '.join(wanted)}"
        )
    if twice := next((name for name in columns if columns.count(name) > 1), None):
        raise StudyError(f"{file}: column {echo(twice)} stands there twice; keep one")
    rows = []
    for number, line in lines[1:]:
        if len(line) != len(columns) or not all(line):
            raise StudyError(f"{file}, line {number}: every column needs a value, received {echo(line)}")
        rows.append(tuple(_cell(line[columns.index(name)]) for name in wanted))
    return tuple(rows)


def _cell(text: str) -> Written:
    parts = split_amount(text)
    if text.strip() in ("true", "false"):
        return text.strip() == "true"
    return parts[0] if parts and not parts[1] else text.strip()
