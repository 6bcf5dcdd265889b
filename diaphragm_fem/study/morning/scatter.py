"""What manufacturing scatter does: yield against limits, spread of every figure, bands of the area curve, and which
scatter is worth narrowing."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.study.morning.ranking import kept_cases
from diaphragm_fem.study.morning.results import Results
from diaphragm_fem.study.plan.amount import split_amount
from diaphragm_fem.study.plan.study import SPREADS, Variable
from diaphragm_fem.study.plan.wish import keeps_to
from diaphragm_fem.study.run.store_reading import read_store

PERCENTILES = (5.0, 50.0, 95.0)
MOST_CURVES = 2000
BAND_POINTS = 600


@dataclass(frozen=True)
class Yield:
    """Share of parts that keep to the limits of a figure (without one, to all limits), with its 95 % interval."""

    figure: str
    passing: int
    of: int
    low: float
    high: float

    @property
    def share(self) -> float:
        return self.passing / self.of


@dataclass(frozen=True)
class Spread:
    """Spread of one figure: mean and deviation over the parts that have it, percentiles over all but those that lack it
    for another reason than that it never comes: these stand at the end of what was searched.
    """

    figure: str
    count: int
    mean: float
    deviation: float
    percentiles: tuple[float, float, float]


@dataclass(frozen=True)
class Band:
    """Percentiles of |S| in m2 over frequency in Hz: low, middle, high (3, F), over `count` curves."""

    curve: str
    frequency_hz: Array
    values: Array
    count: int


def is_tolerance_study(results: Results) -> bool:
    """Whether all that varies does so by a distribution, so that shares of cases are shares of parts."""
    varying = [v for v in results.study.free_variables if v.of is None or v.source in SPREADS]
    return bool(varying) and all(variable.source in SPREADS for variable in varying)


def yields(results: Results) -> tuple[Yield, ...]:
    """Yield against each hard limit and against all of them, over the cases that were solved."""
    if not results.study.limits:
        return ()
    parts = results.independent
    found = [
        _yield(name, keeps_to(results.judged(name), limits)[parts]) for name, limits in results.study.limits.items()
    ]
    return (*found, _yield("", kept_cases(results)[parts]))


def _yield(figure: str, keeps: np.ndarray) -> Yield:
    """Interval of a share by Wilson (1927), Journal of the American Statistical Association 22, 209."""
    from scipy.stats import binomtest

    n, k = len(keeps), int(keeps.sum())
    interval = binomtest(k, n).proportion_ci(0.95, "wilson")
    return Yield(figure, k, n, float(interval.low), float(interval.high))


def spreads(results: Results) -> tuple[Spread, ...]:
    found = []
    for name, values in results.figures.items():
        known = values[np.isfinite(values) & results.independent]
        judged = results.judged(name)[results.independent]
        if len(known):
            low, middle, high = (float(x) for x in np.percentile(judged[np.isfinite(judged)], PERCENTILES))
            deviation = float(known.std(ddof=1)) if len(known) > 1 else 0.0
            found.append(Spread(name, len(known), float(known.mean()), deviation, (low, middle, high)))
    return tuple(found)


def bands(results: Results) -> tuple[Band, ...]:
    """Band of the size of every curve with a frequency axis; of MOST_CURVES cases spread evenly over the store at
    most.
    """
    numbers = results.numbers[results.independent]
    picked = numbers[np.unique(np.linspace(0, len(numbers) - 1, min(len(numbers), MOST_CURVES)).astype(int))]
    collected: dict[str, list[Array]] = {}
    grid: Array | None = None
    with read_store(results.store) as store:
        for number in picked:
            curves = store.curves(int(number))
            frequency = curves.pop("frequency_hz", None)
            if frequency is None:
                continue
            if grid is None:
                grid = np.geomspace(frequency[0], frequency[-1], BAND_POINTS)
            for name, curve in curves.items():
                if curve.shape == frequency.shape:
                    collected.setdefault(name, []).append(np.interp(np.log(grid), np.log(frequency), np.abs(curve)))
    if grid is None:
        return ()
    return tuple(
        Band(name, grid, np.percentile(np.array(curves), PERCENTILES, axis=0), len(curves))
        for name, curves in collected.items()
    )


@dataclass(frozen=True)
class Halved:
    """Yield against all limits if one scatter were halved; gain over it as it is, with its half-width of 95 %."""

    variable: str
    share: float
    gain: float
    error: float


def halved_yields(results: Results) -> tuple[Halved, ...]:
    """One for each scatter of a study with limits, largest gain first; none where all parts keep to them, or none.

    A part drawn with scatter p(x) stands for w = p_half(x)/p(x) parts of a line whose scatter is half as wide about the
    same middle (mean, or peak of a triangle): the yield there is sum(w k)/sum(w), k = 1 for a part that keeps to all
    limits. Since p_half lies inside p the weights stay small (a normal scatter: w = 2 exp(-3 z^2/2), as good as two
    parts in three), and no part is solved again. Importance sampling: Hammersley and Handscomb (1964), Monte Carlo
    Methods, section 5.4; the interval of the gain is that of a ratio of means by its linear influence (delta method).
    """
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


def at_once(several: int) -> float:
    """By how much intervals of 95 % are widened so that none of several is left by chance, in 95 of 100: Dunn (1961),
    Journal of the American Statistical Association 56, 52 (from memory).

    >>> [round(at_once(several), 2) for several in (1, 9)]
    [1.0, 1.41]
    """
    from scipy.stats import norm

    return float(norm.isf(0.025 / several) / norm.isf(0.025))


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
