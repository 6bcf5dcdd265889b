"""What varies in a study: the tables of [vary] made into variables, the constraints on them, the files they name, the
table of cases."""

from collections.abc import Iterable, Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from diaphragm_fem.design.files.input_file import MOST_TABLE_BYTES, read_csv_file
from diaphragm_fem.design.files.key_path import format_path, nearest_paths, parse_path, read_path, write_path
from diaphragm_fem.design.files.named_files import FILE_KEYS
from diaphragm_fem.errors import DesignError, StudyError, echo
from diaphragm_fem.study.plan.amount import Written, amount_in_si, in_si, read_amount, same_kind, split_amount
from diaphragm_fem.study.plan.constraint import Expression, read_expression
from diaphragm_fem.study.plan.study import SPREADS, Variable
from diaphragm_fem.study.plan.study_tables import Spread, VaryTable

_SOURCES = ("list", "range", "log_range", *SPREADS, "ratio")
MOST_COLUMNS = 1000
MOST_CASES = 1_000_000  # of a table: 10 s and 1 GB of memory
MOST_VALUES = 10_000_000  # of a table


def read_variable(
    path: Path, name: str, given: VaryTable, base: Mapping[str, Any], night_count: int | None, how: str
) -> Variable:
    where = f"{path}, key vary.{name}"
    keys = tuple(_number_at(key, base) for key in ([given.key] if isinstance(given.key, str) else given.key))
    given = given.model_copy(update={"of": given.of and _number_at(given.of, base)})
    nominals = _nominals(where, keys, base)
    given_as = {source: getattr(given, "list_" if source == "list" else source) for source in _SOURCES}
    source = _source(where, name, [one for one, value in given_as.items() if value is not None], given, how)
    if source == "table":
        return Variable(name, keys, "table", (), "", given.of, 1)
    value, below = given_as[source], f"{where}.{source}"
    if source == "ratio":
        if not given.of:
            raise StudyError(f"{where}: a ratio needs `of`, the name of another thing that varies or the path of a key")
        return Variable(name, keys, "list", (float(value),), "", given.of)
    if source == "list":
        _check_list(below, value, nominals, given.of)
        return Variable(name, keys, "list", tuple(value), "", given.of, len(value))
    count = night_count or given.count
    if count is None and how == "grid":
        raise StudyError(
            f"{where}.count: must say how many values of the {source.replace('_', ' ')} a grid takes, "
            "for example count = 7"
        )
    read = _range if source in ("range", "log_range") else _distribution
    return Variable(name, keys, source, *read(below, source, value, nominals, given.of), given.of, count or 1)


def _number_at(key: str, base: Mapping[str, Any]) -> str:
    """The key under which a number stands, so that it has one name: of a table that tells its source or frequency that
    of its value. One number in place of many over frequency takes the place of all that is told of those."""
    try:
        number = read_path(base, f"{key}.value")
    except (KeyError, DesignError):  # which may be a name of the study's own, and no path
        return key
    return key if isinstance(number, list) else f"{key}.value"


def _nominals(where: str, keys: tuple[str, ...], base: Mapping[str, Any]) -> dict[str, Any]:
    """What the base design has at these keys; nothing at one of a material that it leaves to its library."""
    found = {}
    for key in keys:
        try:
            found[key] = read_amount(base, key)
        except KeyError:
            if not key.startswith("materials"):
                raise StudyError(
                    f"{where}.key: '{key}' is not in the base design{nearest(base, key)}. "
                    "Write it there first, so that its nominal value is known"
                ) from None
    return found


def _source(where: str, name: str, chosen: list[str], given: VaryTable, how: str) -> str:
    """The one key of a table of [vary] that says the values; "table" where the table of cases does."""
    if how == "table" and not chosen:
        return "table"
    if how == "table" and not (chosen == ["ratio"] or (chosen == ["list"] and len(given.list_ or ()) == 1)):
        raise StudyError(
            f"{where}: in a plan by table, the table's columns say the values; give here a single value or a ratio, or "
            f"none of {', '.join(_SOURCES)}, and a column '{name}'"
        )
    if len(chosen) != 1:
        raise StudyError(f"{where}: give exactly one of {', '.join(_SOURCES)}; received {', '.join(chosen) or 'none'}")
    return chosen[0]


def _check_list(where: str, values: list[Any], nominals: Mapping[str, Any], of: str | None) -> None:
    """Refuse values of another kind than the key has, and one that stands there twice."""
    seen: set[Any] = set()
    for one in values:
        part = split_amount(one)
        if part is not None:
            _check_kind(where, part[1], nominals, of, one)
        meant = one if part is None else f"{amount_in_si(one):.12g}"  # 30 um and 0.03 mm differ by rounding
        if meant in seen:
            raise StudyError(f"{where}: {echo(one)} stands there twice; keep one")
        seen.add(meant)


def _range(
    where: str, source: str, ends: list[Any], nominals: Mapping[str, Any], of: str | None
) -> tuple[tuple[float, ...], str]:
    """Both ends of a range, and their unit."""
    numbers, unit = _same_unit(where, ends)
    _check_kind(where, unit, nominals, of, ends)
    if source == "log_range" and min(numbers) <= 0:
        raise StudyError(f"{where}: both ends must be above 0, received {ends!r}")
    if not numbers[0] < numbers[1]:
        raise StudyError(f"{where}: must rise from its low to its high end, received {ends!r}")
    return numbers, unit


def _distribution(
    where: str, source: str, spread: Spread, nominals: Mapping[str, Any], of: str | None
) -> tuple[tuple[float, ...], str]:
    """Numbers and unit of a distribution, about the base design's own value where no middle is given."""
    differ, middle = len({amount_in_si(own) for own in nominals.values()}) > 1, _middle(source)
    if differ and of is None and middle and getattr(spread, middle) is None:
        told = ", ".join(f"{key} = {own!r}" for key, own in nominals.items())
        raise StudyError(
            f"{where}: its keys differ in the base design ({told}), so none of them can be the middle of all; "
            "let each vary under a name of its own, or give the mean or peak that all shall have"
        )
    nominal = next(iter(nominals.values()), None)
    numbers, unit = _spread(where, source, spread, nominal if of is None else 1.0)
    _check_kind(where, unit, nominals, of, spread.model_dump(exclude_none=True))
    return numbers, unit


def nearest(base: Mapping[str, Any], name: str, varying: Iterable[str] = ()) -> str:
    """What may have been meant by a name that nothing bears."""
    near = get_close_matches(name, varying, n=1) + nearest_paths(base, name)
    return f"; the nearest are {', '.join(near)}" if near else ""


def _middle(source: str) -> str | None:
    """What of a distribution may come from the base design: its mean or its peak."""
    return next((key for key in ("mean", "peak") if key in SPREADS[source]), None)


def _check_kind(where: str, unit: str, nominals: Mapping[str, Any], of: str | None, given: Any) -> None:
    """Refuse a unit of another kind than the base design has at these keys: every case would fail."""
    if of is not None:
        if unit:
            raise StudyError(f"{where}: a ratio is a plain number, received {given!r}")
        return
    for key, nominal in nominals.items():
        part = split_amount(nominal)
        if part is not None and not same_kind(unit, part[1]):
            raise StudyError(
                f"{where}: '{key}' is {nominal!r} in the base design, so {given!r} is of another kind: give "
                + (f"amounts such as {nominal!r}" if part[1] else "plain numbers without a unit")
            )


def _spread(where: str, source: str, given: Spread, nominal: Any) -> tuple[tuple[float, ...], str]:
    """Numbers and unit of a distribution; its mean or peak is the base design's own value where not given, "3 %" a
    share of it."""
    needed, middle, values = SPREADS[source], _middle(source), given.model_dump(exclude_none=True)
    if middle and middle not in values:
        if split_amount(nominal) is None:
            raise StudyError(f"{where}.{middle}: must be given, because the base design holds no number at this key")
        values[middle] = nominal
    centre = values.get(middle or "")
    amounts = {}
    for key, value in values.items():
        if isinstance(value, str) and value.strip().endswith("%"):
            if centre is None or key == middle:
                raise StudyError(
                    f"{where}.{key}: a share in % needs a mean or peak to be a share of, received {value!r}"
                )
            number, unit = split_amount(centre) or (0.0, "")
            try:
                share = float(value.strip()[:-1]) / 100 * number
            except ValueError:
                raise StudyError(f'{where}.{key}: must be a share such as "3 %", received {value!r}') from None
            amounts[key] = f"{share if key == 'deviation' else number + share!r} {unit}".strip()
        else:
            amounts[key] = value
    numbers, unit = _same_unit(where, [amounts[key] for key in needed])
    number_of = dict(zip(needed, numbers, strict=True))
    if "deviation" in number_of and not number_of["deviation"] > 0:
        raise StudyError(f"{where}.deviation: must be above 0, received {values['deviation']!r}")
    if source == "lognormal" and not number_of["mean"] > 0:
        raise StudyError(f"{where}.mean: must be above 0, received {values['mean']!r}")
    if "low" in number_of and not number_of["low"] < number_of["high"]:
        raise StudyError(f"{where}: low must be below high, received {values['low']!r} and {values['high']!r}")
    if "peak" in number_of and not number_of["low"] <= number_of["peak"] <= number_of["high"]:
        raise StudyError(f"{where}.peak: must lie from low to high, received {values['peak']!r}")
    return numbers, unit


def _same_unit(where: str, given: list[Any]) -> tuple[tuple[float, ...], str]:
    """All the numbers in the unit of the first that has one."""
    parts = []
    for value in given:
        part = split_amount(value.strip() if isinstance(value, str) else value)
        if part is None:
            raise StudyError(
                f'{where}: must be numbers, or numbers with a unit in quotes such as "1.2 mm", received {value!r}'
            )
        parts.append(part)
    unit = parts[0][1]
    if strange := next((value for value, (_, u) in zip(given, parts, strict=True) if not same_kind(u, unit)), None):
        raise StudyError(f"{where}: all its numbers must be of one kind, received {strange!r} beside {given[0]!r}")
    factor = in_si(f"1 {unit}".strip(), where)
    return tuple(n if u == unit else n * in_si(f"1 {u}".strip(), where) / factor for n, u in parts), unit


def read_constraint(
    path: Path, reason: str, text: str, variables: tuple[Variable, ...], base: Mapping[str, Any]
) -> Expression:
    """A constraint, every name of it known and amounts of one kind compared alone."""
    where = f'{path}, key keep."{reason}"'
    names = {variable.name: variable for variable in variables}

    def look(name: str) -> Any:
        variable = names.get(name)
        try:
            return read_path(base, variable.keys[0] if variable else name)
        except KeyError:
            if variable is not None:  # a number of a material that only this study sets
                return variable.numbers[0] if variable.source == "list" else f"1 {variable.unit}".strip()
            hint = nearest(base, name, names)
            raise StudyError(f"{where}: '{name}' neither varies nor stands in the base design{hint}") from None

    return read_expression(text, where, look)


def naming_files(
    base: Mapping[str, Any], variables: tuple[Variable, ...], rows: tuple[tuple[Written, ...], ...]
) -> Iterator[Mapping[str, Any]]:
    """The base design, and tables of a design in which each value stands alone of what varies and names a file."""
    yield base
    columns = dict(zip((v.name for v in variables if v.source == "table"), zip(*rows, strict=True), strict=False))
    for variable in variables:
        for key in variable.keys:
            if format_path(parse_path(key)) in FILE_KEYS:
                for value in dict.fromkeys(columns.get(variable.name, variable.numbers)):
                    alone: dict[str, Any] = {}
                    write_path(alone, key, value)
                    yield alone


def read_case_table(path: Path, table: str, variables: tuple[Variable, ...]) -> tuple[tuple[Written, ...], ...]:
    """Rows of the table of cases, a column for each thing that varies, amounts as in a design file."""
    file = path.parent / table
    before = f"{path}, key plan.table: "
    lines = read_csv_file(file, StudyError, lines=MOST_CASES, before=before, most=MOST_TABLE_BYTES)
    _, columns = next(lines, (0, []))
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
    rows: list[tuple[Written, ...]] = []
    for number, line in lines:
        if len(line) != len(columns):
            told = "; a point parts decimals" if len(line) > len(columns) else ""
            raise StudyError(
                f"{file}, line {number}: needs {len(columns)} values like the heading{told}; received {len(line)}"
            )
        if not all(line):
            raise StudyError(f"{file}, line {number}: every column needs a value, received {echo(line)}")
        if len(rows) * len(columns) >= MOST_VALUES:
            raise StudyError(f"{file}, line {number}: at most {MOST_VALUES} values are read; leave out what follows")
        rows.append(tuple(_cell(line[columns.index(name)]) for name in wanted))
    return tuple(rows)


def _cell(text: str) -> Written:
    parts = split_amount(text)
    if text.strip() in ("true", "false"):
        return text.strip() == "true"
    return parts[0] if parts and not parts[1] else text.strip()
