"""The study file: which design, what varies, how, what is wanted, what is ruled out. Read, checked, frozen.

    [study]
    base = "stepped_v.toml"             # beside the study file
    time_limit = "30 s"                 # for one case
    night = false                       # true: the numbers of [night] replace those of [plan]

    [vary.tread]                        # a name of your own
    key = "outer.steps[0].tread"        # a key of the design file, or a list of keys that get the same value
    range = ["0.8 mm", "2 mm"]          # or log_range, list, normal, uniform, triangular, lognormal, ratio + of
    count = 7                           # values of a range on a grid

    [plan]
    how = "grid"                        # latin hypercube, sobol, sensitivity, table

    [change]                            # keys of the base design that this study sets for all cases
    "profile.corner_radius" = "0.4 mm"

    [keep]                              # a case that breaks one of these is discarded before it is solved
    "the step fits on the flank" = "distance + tread < '6 mm'"

    [want]
    curves = ["area"]                   # and figures = ["fundamental_hz", ...]; all figures where not given
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from difflib import get_close_matches
from math import prod
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.amount import Written, in_si, split_amount
from diaphragm_fem.study.expression import read_expression
from diaphragm_fem.study.keypath import nearest_paths, read_path, write_path
from diaphragm_fem.study.plan import SPREADS, Recipe, Study, Variable, Wish

Amount = str | float | int


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)


class _StudyTable(_Table):
    base: str
    name: str = ""
    time_limit: Amount = "60 s"
    night: bool = False


class _Spread(_Table):
    """Numbers of a distribution: which of them are needed, plan.SPREADS says."""

    mean: Amount | None = None
    deviation: Amount | None = None
    low: Amount | None = None
    high: Amount | None = None
    peak: Amount | None = None


class _VaryTable(_Table):
    key: str | list[str]
    list_: Annotated[list[Written] | None, Field(alias="list", min_length=1)] = None
    range: Annotated[list[Amount] | None, Field(min_length=2, max_length=2)] = None
    log_range: Annotated[list[Amount] | None, Field(min_length=2, max_length=2)] = None
    normal: _Spread | None = None
    lognormal: _Spread | None = None
    uniform: _Spread | None = None
    triangular: _Spread | None = None
    ratio: float | int | None = None
    of: str | None = None
    count: Annotated[int | None, Field(ge=1)] = None


class _PlanTable(_Table):
    how: Literal["grid", "latin hypercube", "sobol", "sensitivity", "table"] = "grid"
    cases: Annotated[int | None, Field(ge=1)] = None
    seed: Annotated[int, Field(ge=0)] = 1
    table: str | None = None


class _NightTable(_Table):
    cases: Annotated[int | None, Field(ge=1)] = None
    count: dict[str, Annotated[int, Field(ge=1)]] = {}
    table: str | None = None


class _WantTable(_Table):
    figures: list[str] | None = None
    curves: list[str] = ["area"]
    modes: bool = False
    up_to: Amount = "20 kHz"
    points: Annotated[int, Field(ge=10, le=20000)] = 400
    orders: list[Annotated[int, Field(ge=0, le=40)]] = [0]


class _WishTable(_Table):
    figure: str
    aim: Literal["high", "low"] | Amount = "high"
    weight: Annotated[float | int, Field(gt=0)] = 1.0


class _LimitTable(_Table):
    above: Amount | None = None
    below: Amount | None = None


class _MorningTable(_Table):
    rank: str | None = None
    aim: Literal["high", "low"] | Amount = "high"
    wish: list[_WishTable] = []
    limits: dict[str, _LimitTable] = {}
    pareto: dict[str, Literal["high", "low"]] = {}
    best: Annotated[int, Field(ge=1, le=1000)] = 5


class _File(_Table):
    study: _StudyTable
    change: dict[str, Any] = {}
    vary: Annotated[dict[str, _VaryTable], Field(min_length=1)]
    plan: _PlanTable = _PlanTable()
    night: _NightTable = _NightTable()
    keep: dict[str, str] = {}
    want: _WantTable = _WantTable()
    morning: _MorningTable = _MorningTable()


_SOURCES = ("list", "range", "log_range", *SPREADS, "ratio")


def read_study(path: str | Path, *, night: bool | None = None) -> Study:
    """The study of a file; `night` overrules the file's own key. StudyError names file, key, received and allowed."""
    path = Path(path)
    mapping = _load(path)
    try:
        file = _File.model_validate(mapping)
    except ValidationError as error:
        raise StudyError(_tell(error, path, mapping)) from error
    by_night = file.study.night if night is None else night
    base_path = path.parent / file.study.base
    base = _load(base_path, f"{path}, key study.base: the base design ")
    for key, value in file.change.items():
        try:
            write_path(base, key, value)
        except (KeyError, IndexError, TypeError):
            raise StudyError(f"{path}, key change: '{key}' does not fit into the base design {base_path}") from None
    plan = file.plan
    table = plan.table
    cases = plan.cases
    if stray := [name for name in file.night.count if name not in file.vary]:
        known = ", ".join(file.vary)
        raise StudyError(f"{path}, key night.count.{stray[0]}: nothing of that name varies; known are {known}")
    if by_night:
        table = file.night.table or table
        cases = file.night.cases or cases
    variables = tuple(
        _variable(path, name, given, base, file.night.count.get(name) if by_night else None, plan.how)
        for name, given in file.vary.items()
    )
    _check_ties(path, variables, base)
    rows = _read_table(path, table, variables) if plan.how == "table" else ()
    if plan.how in ("latin hypercube", "sobol", "sensitivity") and cases is None:
        raise StudyError(f'{path}, key plan.cases: must say how many cases a plan "{plan.how}" takes, for example cases = 256')
    constraints = tuple((reason, _constraint(path, reason, text, variables, base)) for reason, text in file.keep.items())
    time_limit = in_si(file.study.time_limit, f"{path}, key study.time_limit") if _seconds(file.study.time_limit) is None else _seconds(file.study.time_limit)
    if not time_limit or time_limit <= 0:
        raise StudyError(f"{path}, key study.time_limit: must be above 0 s, received {file.study.time_limit!r}")
    settings = {
        "up_to_hz": _amount(path, "want.up_to", file.want.up_to),
        "points": file.want.points,
        "orders": list(file.want.orders),
        "curves": list(file.want.curves),
        "modes": file.want.modes,
        "figures": None if file.want.figures is None else list(file.want.figures),
    }
    recipe = Recipe(base=base, origin=str(base_path), variables=variables, constraints=constraints, settings=settings, alike=_alike(plan.how, variables, cases or len(rows)))
    wishes = tuple(Wish(w.figure, _aim(path, w.aim), float(w.weight)) for w in file.morning.wish)
    if file.morning.rank:
        wishes = (Wish(file.morning.rank, _aim(path, file.morning.aim), 1.0), *wishes)
    limits = {
        figure: tuple(None if x is None else _amount(path, f"morning.limits.{figure}", x) for x in (given.above, given.below))
        for figure, given in file.morning.limits.items()
    }
    return Study(
        path=path,
        name=file.study.name or path.stem,
        night=by_night,
        recipe=recipe,
        how=plan.how,
        cases=cases,
        seed=plan.seed,
        rows=rows,
        time_limit=float(time_limit),
        wishes=wishes,
        limits=limits,  # type: ignore[arg-type]
        pareto=dict(file.morning.pareto),
        best=file.morning.best,
    )


def _alike(how: str, variables: tuple[Variable, ...], cases: int) -> int:
    """How many cases differ in walls alone: on a grid the product of their counts, else all or one."""
    if how == "grid":
        return prod(variable.count for variable in variables if variable.wall_only)
    shaped = any(not v.wall_only and (v.source != "list" or len(v.numbers) > 1) for v in variables)
    return 1 if shaped else cases


def _load(path: Path, before: str = "") -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise StudyError(f"{before}{path} cannot be read: {error.strerror or error}") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise StudyError(f"{before}{path} is no valid TOML file: {error}") from error


def _tell(error: ValidationError, path: Path, mapping: Mapping[str, Any]) -> str:
    """The first complaint in the project's own words: file, key, received, allowed."""
    complaints = [c for c in error.errors() if c["type"] == "extra_forbidden"] or error.errors()
    first = complaints[0]
    where = [str(part) for part in first["loc"] if not str(part).startswith(("function-", "constrained-", "lax-or-strict"))]
    model: Any = _File
    for part in where[:-1]:
        model = _descend(model, part)
    known = _keys(model)
    key = ".".join(where)
    if first["type"] == "extra_forbidden":
        near = get_close_matches(where[-1], known, n=1)
        hint = f"did you mean '{near[0]}'? " if near else ""
        return f"{path}, key {key}: unknown key; {hint}allowed are {', '.join(known)}"
    if first["type"] == "missing":
        return f"{path}, key {key}: must be given, and is missing"
    real: Any = mapping
    spelled: list[str] = []
    for part in where:
        try:
            real = real[int(part)] if isinstance(real, list) else real[part]
        except (KeyError, IndexError, TypeError, ValueError):
            break
        spelled.append(part)
    asked = "; ".join(dict.fromkeys(c["msg"] for c in complaints if c["loc"][: len(spelled)] == first["loc"][: len(spelled)]))
    return f"{path}, key {'.'.join(spelled)}: received {real!r}; what is allowed: {asked[:1].lower() + asked[1:]}"


def _descend(model: Any, part: str) -> Any:
    if not (isinstance(model, type) and issubclass(model, BaseModel)):
        return model if part.isdigit() or model is not None else None
    for name, field in model.model_fields.items():
        if part in (name, field.alias):
            inner = field.annotation
            for candidate in (inner, *getattr(inner, "__args__", ())):
                for deep in (candidate, *getattr(candidate, "__args__", ())):
                    if isinstance(deep, type) and issubclass(deep, BaseModel):
                        return deep
            return None
    return model


def _keys(model: Any) -> list[str]:
    if isinstance(model, type) and issubclass(model, BaseModel):
        return [field.alias or name for name, field in model.model_fields.items()]
    return []


def _amount(path: Path, key: str, given: Amount) -> float:
    return in_si(given, f"{path}, key {key}")


_TIMES = {"s": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0}


def _seconds(given: Amount) -> float | None:
    if isinstance(given, int | float):
        return float(given)
    number, _, unit = given.strip().partition(" ")
    try:
        return float(number) * _TIMES[unit.strip()]
    except (ValueError, KeyError):
        return None


def _aim(path: Path, aim: str | float) -> str | float:
    return aim if aim in ("high", "low") else _amount(path, "morning.wish.aim", aim)


def _variable(path: Path, name: str, given: _VaryTable, base: Mapping[str, Any], night_count: int | None, how: str) -> Variable:
    where = f"{path}, key vary.{name}"
    keys = (given.key,) if isinstance(given.key, str) else tuple(given.key)
    nominal = None
    for key in keys:
        try:
            nominal = read_path(base, key) if nominal is None else nominal
        except KeyError:
            if not key.startswith("materials"):
                near = nearest_paths(base, key)
                hint = f"; the nearest there are {', '.join(near)}" if near else ""
                raise StudyError(
                    f"{where}.key: '{key}' is not in the base design{hint}. Write it there first, so that its nominal value is known"
                ) from None
    given_as = {source: getattr(given, "list_" if source == "list" else source) for source in _SOURCES}
    chosen = [source for source, value in given_as.items() if value is not None]
    if how == "table" and not chosen:
        return Variable(name, keys, "table", (), "", given.of, 1)
    if len(chosen) != 1:
        raise StudyError(f"{where}: give exactly one of {', '.join(_SOURCES)}; received {', '.join(chosen) or 'none'}")
    source = chosen[0]
    if (source == "ratio" or given.of) and not (given.of and source in ("ratio", "list", "range", "log_range", *SPREADS)):
        raise StudyError(f"{where}: a ratio needs `of`, the name of another thing that varies or the path of a key")
    count = night_count or given.count
    if source == "list":
        return Variable(name, keys, "list", tuple(given_as[source]), "", given.of, len(given_as[source]))
    if source == "ratio":
        return Variable(name, keys, "list", (float(given_as[source]),), "", given.of, 1)
    if count is None and how == "grid":
        raise StudyError(f"{where}.count: must say how many values of the {source.replace('_', ' ')} a grid takes, for example count = 7")
    if source in ("range", "log_range"):
        numbers, unit = _same_unit(where + "." + source, given_as[source])
        if source == "log_range" and min(numbers) <= 0:
            raise StudyError(f"{where}.log_range: both ends must be above 0, received {given_as[source]!r}")
        if not numbers[0] < numbers[1]:
            raise StudyError(f"{where}.{source}: must rise from its low to its high end, received {given_as[source]!r}")
        return Variable(name, keys, source, numbers, unit, given.of, count or 1)
    return _spread(where, name, keys, source, given_as[source], nominal if given.of is None else 1.0, given.of, count or 1)


def _spread(
    where: str, name: str, keys: tuple[str, ...], source: str, given: _Spread, nominal: Any, of: str | None, count: int
) -> Variable:
    """A distribution; its mean or peak is the base design's own value where not given, "3 %" a share of it."""
    needed = SPREADS[source]
    values = {key: value for key, value in given.model_dump().items() if value is not None}
    surplus = [key for key in values if key not in needed]
    if surplus:
        raise StudyError(f"{where}.{source}.{surplus[0]}: unknown for this distribution; allowed are {', '.join(needed)}")
    middle = next((key for key in ("mean", "peak") if key in needed), None)
    if middle and middle not in values:
        if split_amount(nominal) is None:
            raise StudyError(f"{where}.{source}.{middle}: must be given, because the base design holds no number at this key")
        values[middle] = nominal
    missing = [key for key in needed if key not in values]
    if missing:
        raise StudyError(f"{where}.{source}.{missing[0]}: must be given, for example {missing[0]} = \"0.1 mm\"")
    centre = values.get(middle) if middle else None
    amounts = {}
    for key, value in values.items():
        if isinstance(value, str) and value.strip().endswith("%"):
            if centre is None or key == middle:
                raise StudyError(f"{where}.{source}.{key}: a share in % needs a mean or peak to be a share of, received {value!r}")
            number, unit = split_amount(centre) or (0.0, "")
            share = float(value.strip()[:-1]) / 100 * number
            amounts[key] = f"{share if key == 'deviation' else number + share!r} {unit}".strip()
        else:
            amounts[key] = value
    numbers, unit = _same_unit(f"{where}.{source}", [amounts[key] for key in needed])
    number_of = dict(zip(needed, numbers, strict=True))
    if "deviation" in number_of and not number_of["deviation"] > 0:
        raise StudyError(f"{where}.{source}.deviation: must be above 0, received {values['deviation']!r}")
    if source == "lognormal" and not number_of["mean"] > 0:
        raise StudyError(f"{where}.lognormal.mean: must be above 0, received {values['mean']!r}")
    if "low" in number_of and not number_of["low"] < number_of["high"]:
        raise StudyError(f"{where}.{source}: low must be below high, received {values['low']!r} and {values['high']!r}")
    if "peak" in number_of and not number_of["low"] <= number_of["peak"] <= number_of["high"]:
        raise StudyError(f"{where}.{source}.peak: must lie from low to high, received {values['peak']!r}")
    return Variable(name, keys, source, numbers, unit, of, count)


def _same_unit(where: str, given: list[Any]) -> tuple[tuple[float, ...], str]:
    """All the numbers in the unit of the first that has one."""
    parts = []
    for value in given:
        part = split_amount(value.strip() if isinstance(value, str) else value)
        if part is None:
            raise StudyError(f"{where}: must be numbers, or numbers with a unit in quotes such as \"1.2 mm\", received {value!r}")
        parts.append(part)
    unit = parts[0][1]
    factor = in_si(f"1 {unit}".strip(), where)
    return tuple(n if u == unit else n * in_si(f"1 {u}".strip(), where) / factor for n, u in parts), unit


def _check_ties(path: Path, variables: tuple[Variable, ...], base: Mapping[str, Any]) -> None:
    names = {variable.name: variable for variable in variables}
    for variable in variables:
        if variable.of is None:
            continue
        seen = {variable.name}
        target = variable.of
        while target in names:
            if target in seen:
                raise StudyError(f"{path}, key vary.{variable.name}.of: is tied to itself through {', '.join(sorted(seen))}")
            seen.add(target)
            target = names[target].of or ""
        if variable.of in names:
            continue
        try:
            read_path(base, variable.of)
        except KeyError:
            near = get_close_matches(variable.of, names, n=1) + nearest_paths(base, variable.of)
            hint = f"; the nearest are {', '.join(near)}" if near else ""
            raise StudyError(f"{path}, key vary.{variable.name}.of: '{variable.of}' neither varies nor stands in the base design{hint}") from None


def _constraint(path: Path, reason: str, text: str, variables: tuple[Variable, ...], base: Mapping[str, Any]) -> Any:
    where = f'{path}, key keep."{reason}"'
    expression = read_expression(text, where)
    names = {variable.name for variable in variables}
    for name in expression.names:
        if name in names:
            continue
        try:
            read_path(base, name)
        except KeyError:
            near = get_close_matches(name, names, n=1) + nearest_paths(base, name)
            hint = f"; the nearest are {', '.join(near)}" if near else ""
            raise StudyError(f"{where}: '{name}' neither varies nor stands in the base design{hint}") from None
    return expression


def _read_table(path: Path, table: str | None, variables: tuple[Variable, ...]) -> tuple[tuple[Written, ...], ...]:
    """Rows of the table of cases, a column for each thing that varies, amounts as in a design file."""
    import csv

    if not table:
        raise StudyError(f'{path}, key plan.table: must name the CSV file of the cases, for example table = "cases.csv"')
    file = path.parent / table
    try:
        with open(file, newline="", encoding="utf-8-sig") as stream:
            lines = list(csv.DictReader(stream))
    except OSError as error:
        raise StudyError(f"{path}, key plan.table: {file} cannot be read: {error.strerror or error}") from error
    columns = list(lines[0]) if lines else []
    wanted = [variable.name for variable in variables if variable.source == "table"]
    if missing := [name for name in wanted if name not in columns]:
        raise StudyError(f"{file}: column '{missing[0]}' is missing; received {', '.join(map(str, columns)) or 'an empty file'}")
    if surplus := [name for name in columns if name not in wanted]:
        raise StudyError(f"{file}: column '{surplus[0]}' is nothing that varies in {path}; known are {', '.join(wanted)}")
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
