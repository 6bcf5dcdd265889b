"""What all that varies in a study must keep: no key twice, nothing that is never built, no tie that cannot be."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from diaphragm_fem.design.files.input_file import DEEPEST
from diaphragm_fem.design.files.key_path import format_path, parse_path, read_path
from diaphragm_fem.design.read.usual import unusual_value
from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.plan.amount import same_kind, split_amount, write_amount
from diaphragm_fem.study.plan.study import Variable
from diaphragm_fem.study.plan.variables import nearest

WITH_ENDS = ("range", "log_range", "uniform", "triangular")


def check_variables(path: Path, variables: tuple[Variable, ...], base: Mapping[str, Any]) -> None:
    """Raise StudyError for the first of `variables` that does not go with the others or with the base design."""
    _check_keys(path, variables)
    _check_usual_ranges(path, variables, base)
    _check_ties(path, variables, base)


def _check_keys(path: Path, variables: tuple[Variable, ...]) -> None:
    """Refuse a key that varies under two names: the later one would win without a word."""
    seen: dict[str, str] = {}
    for variable in variables:
        for key in variable.keys:
            place = str(parse_path(key))
            if place in seen:
                raise StudyError(
                    f"{path}, key vary.{variable.name}.key: '{key}' varies already, as vary.{seen[place]}; keep one"
                )
            seen[place] = variable.name


def _check_usual_ranges(path: Path, variables: tuple[Variable, ...], base: Mapping[str, Any]) -> None:
    """Raise StudyError where a range ends, or a list has a value, outside what is commonly built.

    Keys in the list `unusual` of the base design are meant, and ratios and tables of cases are left to their cases.
    """
    allowed = {format_path(parse_path(key)) for key in base.get("unusual", ()) if isinstance(key, str)}
    for variable in variables:
        if variable.of is not None:
            continue
        written = [text for text in variable.numbers if isinstance(text, str)] if variable.source == "list" else []
        if variable.source in WITH_ENDS:
            ends = [number for number in variable.numbers if isinstance(number, int | float)]
            written = [str(write_amount(number, variable.unit)) for number in (min(ends), max(ends))]
        for key in variable.keys:
            for text in written:
                found = unusual_value(parse_path(key), text)
                if found is not None and found.key not in allowed:
                    raise StudyError(
                        f"{path}, key vary.{variable.name}: {found.question}; if it is meant, write unusual = "
                        f"['{found.key}'] in the base design or in [change] of the study"
                    )


def _check_ties(path: Path, variables: tuple[Variable, ...], base: Mapping[str, Any]) -> None:
    """Refuse a share of nothing, of itself round a ring, or of what is of another kind."""
    names = {variable.name: variable for variable in variables}
    for variable in variables:
        if variable.of is None:
            continue
        seen = {variable.name}
        target = variable.of
        while target in names:
            if target in seen:
                raise StudyError(
                    f"{path}, key vary.{variable.name}.of: is tied to itself through {', '.join(sorted(seen))}"
                )
            seen.add(target)
            target = names[target].of or ""
            if len(seen) > DEEPEST:
                raise StudyError(
                    f"{path}, key vary.{variable.name}.of: is tied to a thing that is tied to another, and so on over "
                    f"more than {DEEPEST}; tie it to one further on"
                )
        try:
            tied_to = read_path(base, names[variable.of].keys[0] if variable.of in names else variable.of)
        except KeyError:
            if variable.of in names:  # a number of a material that only this study sets
                continue
            raise StudyError(
                f"{path}, key vary.{variable.name}.of: '{variable.of}' neither varies "
                f"nor stands in the base design{nearest(base, variable.of, names)}"
            ) from None
        for key in variable.keys:
            _check_tied_kind(path, variable, key, base, tied_to)


def _check_tied_kind(path: Path, variable: Variable, key: str, base: Mapping[str, Any], tied_to: Any) -> None:
    """Refuse a share of an amount of another kind than the key has: every case would fail."""
    try:
        own, other = split_amount(read_path(base, key)), split_amount(tied_to)
    except KeyError:
        return
    if own is not None and other is not None and not same_kind(own[1], other[1]):
        raise StudyError(
            f"{path}, key vary.{variable.name}.of: '{variable.of}' is {tied_to!r} and '{key}' is "
            f"{read_path(base, key)!r} in the base design, which is of another kind: neither is a ratio to the other"
        )
