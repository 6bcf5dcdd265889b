"""Which scatter is worth narrowing: the yield if one scatter were half as wide, from the same parts.

A part drawn with scatter p(x) stands for w = p_half(x)/p(x) parts of a line whose scatter is half as wide about the
same middle (mean, or peak of a triangle): the yield there is sum(w k)/sum(w), k = 1 for a part that keeps to all
limits. Since p_half lies inside p the weights stay small (a normal scatter: w = 2 exp(-3 z^2/2), as good as two
parts in three), and no part is solved again. Importance sampling: Hammersley and Handscomb (1964), Monte Carlo
Methods, section 5.4; the interval of the gain is that of a ratio of means by its linear influence (delta method).
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.study.morning.ranking import kept_cases
from diaphragm_fem.study.morning.results import Results
from diaphragm_fem.study.plan.amount import split_amount
from diaphragm_fem.study.plan.study import SPREADS, Variable


@dataclass(frozen=True)
class Halved:
    """Yield against all limits if one scatter were halved; gain over it as it is, with its half-width of 95 %."""

    variable: str
    share: float
    gain: float
    error: float


def halved_yields(results: Results) -> tuple[Halved, ...]:
    """One for each scatter of a study with limits, largest gain first; none where all parts keep to them, or none."""
    if not results.study.limits:
        return ()
    parts = np.flatnonzero(results.independent)
    keeps = kept_cases(results)[parts].astype(float)
    if keeps.all() or not keeps.any():
        return ()
    found = []
    for place, variable in enumerate(results.study.recipe.variables):
        if variable.source not in SPREADS:
            continue
        drawn = np.array([(split_amount(results.written[part][place]) or (np.nan,))[0] for part in parts])
        found.append(_halved(variable.name, keeps, weights_if_halved(variable, drawn)))
    return tuple(sorted(found, key=lambda one: -one.gain))


def _halved(name: str, keeps: Array, weights: Array) -> Halved:
    mean, share = float(weights.mean()), float(keeps.mean())
    if not mean > 0:
        return Halved(name, float("nan"), float("nan"), float("nan"))
    halved = float((weights * keeps).mean()) / mean
    influence = weights * (keeps - halved) / mean - (keeps - share)
    return Halved(name, halved, halved - share, 1.96 * float(influence.std()) / np.sqrt(len(keeps)))


def weights_if_halved(variable: Variable, drawn: Array) -> Array:
    """Density of the halved scatter over that of the scatter itself, at the numbers (N,) that were drawn from it."""
    whole, half = (_scatter(variable, times).pdf(drawn) for times in (1.0, 0.5))
    return np.divide(half, whole, out=np.zeros_like(whole), where=whole > 0)


def _scatter(variable: Variable, times: float) -> Any:
    """The distribution of a variable, so many times as wide about its middle."""
    from scipy import stats

    numbers = [float(number) for number in variable.numbers]
    if variable.source in ("uniform", "triangular"):
        low, *peak, high = numbers
        (middle,) = peak or ((low + high) / 2,)
        low, high = (middle + times * (end - middle) for end in (low, high))
        return stats.triang((middle - low) / (high - low), low, high - low) if peak else stats.uniform(low, high - low)
    mean, deviation = numbers
    if variable.source == "normal":
        return stats.norm(mean, times * deviation)
    wide = np.sqrt(np.log1p((times * deviation / mean) ** 2))
    return stats.lognorm(wide, scale=mean * np.exp(-(wide**2) / 2))
