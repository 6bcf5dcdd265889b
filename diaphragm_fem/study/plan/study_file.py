"""The study file: which design, what varies, how, what is wanted, what is ruled out. Read, checked, frozen.

README.md has an example, `study_tables` every key.
"""

from math import prod
from pathlib import Path
from re import fullmatch
from typing import Any

from pydantic import ValidationError

from diaphragm_fem.analysis.figures.definitions import third_octave
from diaphragm_fem.design.files.input_file import expect_kind, kind_of, read_toml_file
from diaphragm_fem.design.files.key_path import parse_path, write_path
from diaphragm_fem.design.files.named_files import file_digests
from diaphragm_fem.design.spec.refusal import refusal
from diaphragm_fem.design.units.units import HIGHEST_HZ, LOWEST_HZ
from diaphragm_fem.errors import DesignError, StudyError, echo
from diaphragm_fem.study.plan.amount import figure_in_si, in_si, same_kind, split_amount
from diaphragm_fem.study.plan.check_variables import check_variables
from diaphragm_fem.study.plan.study import Recipe, Study, Variable
from diaphragm_fem.study.plan.study_tables import AboutTable, Amount, LimitTable, MorningTable, StudyFile, WantTable
from diaphragm_fem.study.plan.variables import naming_files, read_case_table, read_constraint, read_variable
from diaphragm_fem.study.plan.wish import Wish

LONGEST_LIMIT = 24 * 3600.0  # s; ten times that is waited for on the clock, and a wait of 25 days is none to the system
MODES_OVER_STROKE = tuple(("stroke", key) for key in ("orders", "mode_states", "modes_up_to"))


def read_study(path: str | Path | Study, *, night: bool | None = None) -> Study:
    """The study of a file; `night` overrules the file's own key. StudyError names file, key, received and allowed.

    A study that was read already is handed back as it is.
    """
    if isinstance(path, Study):
        return path
    path = Path(path)
    mapping = read_toml_file(path, StudyError)
    expect_kind(mapping, "study", path)
    try:
        file = StudyFile.model_validate(mapping)
    except ValidationError as error:
        raise StudyError(refusal(error, mapping, f"{path}, key ", StudyFile)) from error
    by_night = file.study.night if night is None else night
    base_path = path.parent / file.study.base
    base = _base_design(path, file, base_path)
    plan = file.plan
    cases, table = _size_of_plan(path, file, by_night)
    variables = tuple(
        read_variable(path, name, given, base, file.night.count.get(name) if by_night else None, plan.how)
        for name, given in file.vary.items()
    )
    check_variables(path, variables, base)
    rows = read_case_table(path, table, variables) if plan.how == "table" and table else ()
    recipe = Recipe(
        base=base,
        origin=str(base_path),
        variables=variables,
        constraints=tuple(
            (reason, read_constraint(path, reason, text, variables, base)) for reason, text in file.keep.items()
        ),
        settings=_settings(path, file.want),
        alike=_alike(plan.how, variables, cases or len(rows)),
        scattered=0 if plan.how in ("grid", "table") else cases or 0,
        files=file_digests(naming_files(base, variables, rows), base_path.parent),
    )
    for variable in variables:
        if why := _moves_nothing(recipe, variable):
            raise StudyError(f"{path}, key vary.{variable.name}.key: '{variable.keys[0]}' {why}")
    return Study(
        path=path,
        name=file.study.name or path.stem,
        night=by_night,
        recipe=recipe,
        how=plan.how,
        cases=cases,
        seed=plan.seed,
        rows=rows,
        time_limit=_time_limit(path, file.study.time_limit),
        wishes=_wishes(path, file.morning),
        limits={figure: _limit(path, figure, given) for figure, given in file.morning.limits.items()},
        pareto=dict(file.morning.pareto),
        best=file.morning.best,
        drawn={name: _drawn(path, name, given, variables) for name, given in file.morning.drawn.items()},
    )


def _moves_nothing(recipe: Recipe, variable: Variable) -> str:
    """Why what varies moves no figure, and what to do; "" where it may move one."""
    places = [parse_path(key) for key in variable.keys]
    if recipe.in_vacuum and variable.around_only:
        return "changes nothing of a part in vacuum; take out want.in_vacuum, or what varies"
    if all(place[0] == "second_section" for place in places) and not recipe.asks_both:
        return "moves no figure that want.figures keeps; add one of both sections, such as sum_lost_db, or take it out"
    if all(place[:2] in MODES_OVER_STROKE for place in places):
        return "moves no figure of a study: none is of modes over stroke; `stroke` with --set tells those"
    end = recipe.base.get("exit")
    if all(place == ("exit", "diameter") for place in places) and isinstance(end, dict) and "table" in end:
        return "moves no figure where exit.table says what the channels meet; let the table vary, or take it out"
    return ""


def _base_design(path: Path, file: StudyFile, base_path: Path) -> dict[str, Any]:
    """The data of the base design with what [change] sets."""
    base = read_toml_file(base_path, StudyError, before=f"{path}, key study.base: the base design ")
    if (kind := kind_of(base)) not in ("design", ""):
        wanted = "must name a design file, with a [profile]"
        raise StudyError(f"{path}, key study.base: {wanted}; {base_path} is a {kind} file")
    for key, value in file.change.items():
        try:
            write_path(base, key, value)
        except DesignError as error:
            raise StudyError(f"{path}, key change: does not fit into the base design {base_path}: {error}") from None
    return base


def _size_of_plan(path: Path, file: StudyFile, by_night: bool) -> tuple[int | None, str | None]:
    """How many cases are drawn, and the table that lists them; None where the plan says neither."""
    if stray := [name for name in file.night.count if name not in file.vary]:
        known = ", ".join(file.vary)
        raise StudyError(f"{path}, key night.count.{stray[0]}: nothing of that name varies; known are {known}")
    how, cases, table = file.plan.how, file.plan.cases, file.plan.table
    if by_night:
        cases, table = file.night.cases or cases, file.night.table or table
    if how == "table" and not table:
        raise StudyError(
            f'{path}, key plan.table: must name the CSV file of the cases, for example table = "cases.csv"'
        )
    if how in ("latin hypercube", "sobol", "sensitivity") and cases is None:
        raise StudyError(
            f'{path}, key plan.cases: must say how many cases a plan "{how}" takes, for example cases = 256'
        )
    return cases, table


def _settings(path: Path, want: WantTable) -> dict[str, Any]:
    """What every case is asked, as the store keeps it."""
    top = _top_frequency(path, want.up_to)
    return {
        "up_to_hz": top,
        "points": want.points,
        "orders": list(dict.fromkeys(want.orders)),
        "curves": list(want.curves),
        "modes": want.modes,
        "figures": None if want.figures is None else list(want.figures),
        "bands": {name: _band(path, name, given, top) for name, given in want.bands.items()},
        "even_db": float(want.even),
        **({"in_vacuum": True} if want.in_vacuum else {}),
        **({"joints": True} if want.joints else {}),  # studies of the bare shell keep their identity
    }


def _time_limit(path: Path, given: Amount) -> float:
    """Seconds that a case may take."""
    limit = _seconds(given)
    if limit is None or not 0 < limit <= LONGEST_LIMIT:
        raise StudyError(
            f'{path}, key study.time_limit: must be a time above 0 such as "30 s", "2 min" or "1 h", and at most '
            f"{LONGEST_LIMIT / 3600:g} h, received {echo(given)}"
        )
    return limit


def _wishes(path: Path, morning: MorningTable) -> tuple[Wish, ...]:
    """The wish list, before it the one figure that is ranked by where that is named."""
    listed = tuple(
        Wish(w.figure, _aim(f"{path}, key morning.wish[{n}].aim", w.figure, w.aim), float(w.weight))
        for n, w in enumerate(morning.wish)
    )
    if not (figure := morning.rank):
        return listed
    return (Wish(figure, _aim(f"{path}, key morning.aim", figure, morning.aim), 1.0), *listed)


def _alike(how: str, variables: tuple[Variable, ...], cases: int) -> int:
    """How many cases differ in walls alone: on a grid the product of their counts, else all or one."""
    if how == "grid":
        return prod(variable.count for variable in variables if variable.wall_only)
    shaped = any(not v.wall_only and not v.is_one_value for v in variables)
    return 1 if shaped else cases


def _top_frequency(path: Path, given: Amount) -> float:
    value = figure_in_si("_hz", given, f"{path}, key want.up_to")
    if not LOWEST_HZ < value <= HIGHEST_HZ:
        raise StudyError(
            f"{path}, key want.up_to: must lie above {LOWEST_HZ:g} Hz, where area curves begin, and be at most "
            f"{HIGHEST_HZ / 1e6:g} MHz, received {echo(given)}"
        )
    return value


def _band(path: Path, name: str, given: list[Amount] | AboutTable, top: float) -> list[float]:
    """Ends of a named band in Hz: two frequencies, or a third of an octave about one."""
    where = f"{path}, key want.bands.{name}"
    if not fullmatch(r"[A-Za-z0-9_ -]+", name):
        raise StudyError(f"{where}: a band's name is of letters, digits, blanks, - and _, received '{name}'")
    if isinstance(given, AboutTable):
        ends = third_octave(figure_in_si("_hz", given.about, f"{where}.about"))
    elif len(given) == 2:
        ends = figure_in_si("_hz", given[0], where), figure_in_si("_hz", given[1], where)
    else:
        raise StudyError(f'{where}: must be two frequencies such as ["200 Hz", "4 kHz"], received {given!r}')
    if not LOWEST_HZ <= ends[0] < ends[1] <= top:
        raise StudyError(
            f"{where}: must rise and lie within {LOWEST_HZ:g} Hz to want.up_to, {top:g} Hz, received "
            f"{ends[0]:g} to {ends[1]:g} Hz"
        )
    return list(ends)


def _limit(path: Path, figure: str, given: LimitTable) -> tuple[float | None, float | None]:
    where = f"{path}, key morning.limits.{figure}"
    above, below = (
        None if value is None else figure_in_si(figure, value, f"{where}.{side}")
        for side, value in (("above", given.above), ("below", given.below))
    )
    if above is not None and below is not None and not above < below:
        raise StudyError(f"{where}: nothing is above {echo(given.above)} and below {echo(given.below)}")
    return above, below


def _drawn(path: Path, name: str, given: Amount | list[Amount], variables: tuple[Variable, ...]) -> Any:
    """A drawing step or a list of gauges for something that varies, of the kind that it is."""
    where = f"{path}, key morning.drawn.{name}"
    variable = next((variable for variable in variables if variable.name == name), None)
    if variable is None:
        known = ", ".join(variable.name for variable in variables)
        raise StudyError(f"{where}: nothing of that name varies; known are {known}")
    for amount in given if isinstance(given, list) else [given]:
        if not in_si(amount, where) > 0:
            raise StudyError(f"{where}: a step or gauge must be above 0, received {echo(amount)}")
        unit = (split_amount(amount) or (0, ""))[1]
        if variable.of is None and variable.unit and not same_kind(unit, variable.unit):
            raise StudyError(f"{where}: must be of the kind of '{variable.unit}', received {echo(amount)}")
    return tuple(given) if isinstance(given, list) else given


_TIMES = {"s": 1.0, "ms": 1e-3, "min": 60.0, "h": 3600.0}


def _seconds(given: Amount) -> float | None:
    if isinstance(given, int | float):
        return float(given)
    match = fullmatch(r"\s*([\d.]+(?:e[-+]?\d+)?)\s*([a-z]+)\s*", given)
    try:
        return None if match is None else float(match[1]) * _TIMES[match[2]]
    except (ValueError, KeyError):
        return None


def _aim(where: str, figure: str, aim: str | float) -> str | float:
    if aim in ("high", "low"):
        return aim
    if split_amount(aim) is None and not any(letter.isdigit() for letter in str(aim)):
        raise StudyError(f'{where}: must be "high", "low", or a value to come near to; received {echo(aim)}')
    return figure_in_si(figure, aim, where)
