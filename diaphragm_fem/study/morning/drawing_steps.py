"""A design as a drawing can say it: amounts that vary, rounded to a step or taken from a list of gauges."""

from collections.abc import Mapping
from contextlib import suppress
from typing import Any

from diaphragm_fem.design.files.key_path import copied, read_path, write_path
from diaphragm_fem.study.plan.amount import Written, amount_in_si, kinds, si_factor, split_amount, write_amount
from diaphragm_fem.study.plan.study import Recipe, last_name

LENGTH_STEP, THICKNESS_STEP = "0.01 mm", "1 um"
DIGITS = 3  # of what is no length

Steps = Mapping[str, Written | tuple[Written, ...]]  # by the name of what varies: a step, or a list of gauges


def as_drawn(recipe: Recipe, data: Mapping[str, Any], steps: Steps) -> dict[str, Any]:
    """A design with every amount that varies rounded: to the study's step or gauge for it, else to a whole 1 um
    (thicknesses), 0.01 mm (other lengths) or three digits. Names stay.
    """
    drawn = copied(data)
    for variable in recipe.variables:
        for key in variable.keys:
            amount = read_path(drawn, key)
            if split_amount(amount) is not None:
                write_path(drawn, key, _rounded(amount, last_name(key), steps.get(variable.name)))
    return drawn


def drawn_amounts(recipe: Recipe, data: Mapping[str, Any]) -> dict[str, Written]:
    """What each thing that varies is in a design: an amount or a name, never a ratio; what a base design leaves to its
    library is left out.
    """
    amounts: dict[str, Written] = {}
    for variable in recipe.variables:
        with suppress(KeyError):
            amount = read_path(data, variable.keys[0])
            amounts[variable.name] = amount["value"] if isinstance(amount, Mapping) else amount
    return amounts


def _rounded(amount: Written, name: str, step: Written | tuple[Written, ...] | None) -> Written:
    number, unit = split_amount(amount) or (0.0, "")
    size = number * (si_factor(unit) or 1.0)
    if isinstance(step, tuple):
        return min(step, key=lambda gauge: abs((amount_in_si(gauge) or 0.0) - size))
    if step is None:
        if "m" not in kinds(unit):
            return write_amount(float(f"{number:.{DIGITS}g}"), unit)
        step = THICKNESS_STEP if name == "thickness" else LENGTH_STEP
    width, unit = split_amount(step) or (1.0, "")
    return write_amount(round(size / (width * (si_factor(unit) or 1.0))) * width, unit)
