"""What a study lets vary, held against what is commonly built, before any case is drawn."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from diaphragm_fem.design.files.key_path import format_path, parse_path
from diaphragm_fem.design.read.usual import unusual_value
from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.plan.amount import write_amount
from diaphragm_fem.study.plan.study import Variable

WITH_ENDS = ("range", "log_range", "uniform", "triangular")


def check_usual_ranges(path: Path, variables: tuple[Variable, ...], base: Mapping[str, Any]) -> None:
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
            steps = parse_path(key)
            for text in written:
                found = unusual_value(steps, text)
                if found is not None and format_path(steps) not in allowed:
                    raise StudyError(
                        f"{path}, key vary.{variable.name}: {found.question}; if it is meant, write unusual = "
                        f"['{format_path(steps)}'] in the base design or in [change] of the study"
                    )
