"""What is wished of the cases of a study, and the hard limits that they must keep to."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf, nan
from typing import Any

import numpy as np

from diaphragm_fem.arrays import Array

Limits = tuple[float | None, float | None]  # at least, at most
Scale = tuple[float, float]  # distances from the best at which a mark is 0 and 1


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


def marks_of(lack: Array, scale: Scale | None) -> Array:
    """The marks of cases for a wish, by their distances from the best (N,)."""
    if scale is None:
        return np.zeros(len(lack))
    worst, best = scale
    marks = np.where(lack <= best, 1.0, 0.0) if worst == best else (worst - lack) / (worst - best)
    return np.where(np.isfinite(lack), marks, 0.0)


def weights_of(wishes: Sequence[Wish]) -> Array:
    weights = np.array([wish.weight for wish in wishes])
    return np.asarray(weights / weights.sum())


def keeps_to(values: Any, limits: Limits) -> Any:
    """Whether a number, or each of an array, lies within the limits; one that does not exist (nan) or has no end lies
    within none."""
    least, most = limits
    keeps = abs(values) < inf
    if least is not None:
        keeps = keeps & (values >= least)
    return keeps if most is None else keeps & (values <= most)


def is_inside(judged: Mapping[str, float | None], limits: Mapping[str, Limits]) -> bool:
    """Whether the figures of one case keep to every hard limit; those that never come as they are judged."""
    known = {name: nan if (value := judged.get(name)) is None else value for name in limits}
    return all(keeps_to(known[name], own) for name, own in limits.items())
