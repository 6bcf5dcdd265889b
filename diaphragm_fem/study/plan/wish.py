"""What is wished of the cases of a study, and the hard limits that they must keep to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import Any

import numpy as np

from diaphragm_fem.analysis.figures.break_up_mode import SOUGHT
from diaphragm_fem.arrays import Array

Limits = tuple[float | None, float | None]  # at least, at most


@dataclass(frozen=True)
class Wish:
    """One line of the wish list: a figure, "high", "low" or a number in SI to come near to, and its weight."""

    figure: str
    aim: str | float = "high"
    weight: float = 1.0


NEVER_COMES = {"departure_hz": 1.0, "break_up_mode_hz": float(SOUGHT)}
"""What goes wrong at a frequency, and up to which multiple of the range it is sought: a part in which it does not come
is better there than one in which it does."""


def judged(figure: str, values: Any, up_to_hz: float) -> Any:
    """A figure, or each of an array, as wishes and limits judge it: what never comes (`NEVER_COMES`) stands at the end
    of what was searched, nan is what else does not exist.
    """
    numbers = np.array(values, float)
    times = NEVER_COMES.get(figure.partition(":")[0].removeprefix("loaded_"), np.nan)
    return np.where(np.isnan(numbers), times * up_to_hz, numbers)


def distance_from_best(values: Array, aim: str | float) -> Array:
    """Numbers that are the smaller the better, whatever the aim; nan for a figure that does not exist."""
    if aim == "high":
        return -values
    return values if aim == "low" else np.abs(values - float(aim))


def keeps_to(values: Any, limits: Limits) -> Any:
    """Whether a number, or each of an array, lies within the limits; one that does not exist (nan) or has no end lies
    within none.
    """
    least, most = limits
    keeps = abs(values) < inf
    if least is not None:
        keeps = keeps & (values >= least)
    return keeps if most is None else keeps & (values <= most)


def is_inside(figures: Mapping[str, float | None], limits: Mapping[str, Limits], up_to_hz: float) -> bool:
    """Whether the figures of one case keep to every hard limit, as they are judged."""
    return all(keeps_to(judged(name, figures.get(name), up_to_hz), own) for name, own in limits.items())
