"""What is wished of the cases of a study, and the hard limits that they must keep to."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import inf

import numpy as np

from diaphragm_fem.arrays import Array, Flags

Limits = tuple[float | None, float | None]  # at least, at most


@dataclass(frozen=True)
class Wish:
    """One line of the wish list: a figure, "high", "low" or a number in SI to come near to, and its weight."""

    figure: str
    aim: str | float = "high"
    weight: float = 1.0


def distance_from_best(values: Array, aim: str | float) -> Array:
    """Numbers that are the smaller the better, whatever the aim; nan for a figure that does not exist."""
    if aim == "high":
        return -values
    return values if aim == "low" else np.abs(values - float(aim))


def keeps_to(values: Array, limits: Limits) -> Flags:
    """Which values lie within the limits; one that does not exist (nan) lies within none."""
    least, most = (end if given is None else given for end, given in zip((-inf, inf), limits, strict=True))
    return np.isfinite(values) & (values >= least) & (values <= most)


def inside_limits(figure: Callable[[str], Array], limits: Mapping[str, Limits]) -> Flags:
    """Whether figures, asked by name, keep to every hard limit; True where there is none."""
    inside: Flags = np.array(True)
    for name, own in limits.items():
        inside = inside & keeps_to(figure(name), own)
    return inside


def is_inside(figures: Mapping[str, float | None], limits: Mapping[str, Limits]) -> bool:
    """The same of one case by plain numbers, for every row of a running sweep: 1 us instead of 90 (under load)."""
    for name, (least, most) in limits.items():
        value = figures.get(name)
        if value is None or not (-inf if least is None else least) <= value <= (inf if most is None else most):
            return False
    return True
