"""Which values case k takes: a pure function of the study, whoever asks and in whatever order.

A grid counts like an odometer, what changes the shape turning slowest and what surrounds the diaphragm fastest, so
that neighbours in number share a mesh, or the solved diaphragm itself. Latin hypercube and Sobol points come from
scipy.stats.qmc, the points of a sensitivity plan (Saltelli 2002, Computer Physics Communications 145, 280: N (d + 2)
cases) from SALib; each is made from the study's seed alone.
"""

import warnings
from functools import cached_property, lru_cache
from math import erf, prod, sqrt
from typing import Any

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.plan.amount import Written, write_amount
from diaphragm_fem.study.plan.study import Study, Variable

MOST_CASES = 10**8  # the command keeps a byte for each
MOST_DRAWN = 5 * 10**7  # numbers of a plan that is drawn as a whole, 8 bytes each
KEPT_LEVELS = 100_000
Values = tuple[Written, ...]


class Sampler:
    """The cases of a study: `len(sampler)` of them, `sampler.values(k)` the values of case k, as a design file
    writes them."""

    def __init__(self, study: Study) -> None:
        self._study = study
        self._variables = study.recipe.variables
        self._free = study.free_variables
        if study.how == "sensitivity" and (study.cases or 0) < len(self._free) + 2:
            raise StudyError(
                f"{study.path}, key plan.cases: a sensitivity plan of {len(self._free)} variables needs at least "
                f"{len(self._free) + 2} cases, received {study.cases}"
            )
        if (asked := self._cases()) > MOST_CASES:
            raise StudyError(
                f"{study.path}: at most {MOST_CASES:.0e} cases make a study, here {asked:.3g} are asked for"
            )
        if study.how in ("latin hypercube", "sensitivity") and len(self) * len(self._variables) > MOST_DRAWN:
            raise StudyError(
                f'{study.path}, key plan.cases: a plan "{study.how}" is drawn as a whole, at most {MOST_DRAWN:.0e} '
                f'values, here {len(self)} cases of {len(self._variables)} values; take how = "sobol", which is drawn '
                "as it goes"
            )

    def __len__(self) -> int:
        return self._cases()

    def _cases(self) -> int:
        """How many; `len` bears no more than 9e18, and a grid may ask for more."""
        match self._study.how:
            case "grid":
                return prod(variable.count for variable in self._variables)
            case "table":
                return len(self._study.rows)
            case "sensitivity":
                return self._sensitivity_base * (len(self._free) + 2)
        return int(self._study.cases or 0)

    def values(self, number: int) -> Values:
        return self.block(number, number + 1)[0]

    def block(self, begin: int, end: int) -> list[Values]:
        """Values of the cases begin ... end - 1."""
        if not 0 <= begin <= end <= len(self):
            raise IndexError(f"cases are numbered from 0 to {len(self) - 1}, received {begin} to {end - 1}")
        match self._study.how:
            case "grid":
                return [self._grid_values(number) for number in range(begin, end)]
            case "table":
                return [self._table_values(row) for row in self._study.rows[begin:end]]
            case "sobol":
                points = self._sobol_points(begin, end)
            case "latin hypercube":
                points = self._hypercube[begin:end]
            case _:
                points = np.zeros((end - begin, len(self._variables)))  # where a single value is, any share will do
                points[:, [variable in self._free for variable in self._variables]] = self._saltelli[begin:end]
        columns = [values_at(variable, points[:, j]) for j, variable in enumerate(self._variables)]
        return list(zip(*columns, strict=True))

    @cached_property
    def _turning(self) -> list[int]:
        """Variables from the fastest wheel of the odometer to the slowest: surroundings, walls, shapes."""
        order, variables = range(len(self._variables)), self._variables
        return sorted(reversed(order), key=lambda j: (not variables[j].around_only, not variables[j].wall_only))

    def _grid_values(self, number: int) -> Values:
        chosen: list[Any] = [None] * len(self._variables)
        for j in self._turning:
            number, index = divmod(number, self._variables[j].count)
            chosen[j] = level(self._variables[j], index)
        return tuple(chosen)

    def _table_values(self, row: Values) -> Values:
        cells = iter(row)
        return tuple(next(cells) if variable.source == "table" else level(variable, 0) for variable in self._variables)

    def _sobol_points(self, begin: int, end: int) -> Array:
        from scipy.stats import qmc

        sequence = qmc.Sobol(len(self._variables), scramble=True, rng=np.random.default_rng(self._study.seed))
        if begin:
            sequence.fast_forward(begin)
        if end == begin:
            return np.empty((0, len(self._variables)))
        with warnings.catch_warnings():  # a note on balance where no power of two is drawn: blocks of a sequence
            warnings.simplefilter("ignore", UserWarning)
            return np.asarray(sequence.random(end - begin))

    @cached_property
    def _hypercube(self) -> Array:
        from scipy.stats import qmc

        sampler = qmc.LatinHypercube(len(self._variables), rng=np.random.default_rng(self._study.seed))
        return np.asarray(sampler.random(len(self)))

    @cached_property
    def _sensitivity_base(self) -> int:
        """The largest power of two whose Saltelli plan has no more cases than asked for."""
        return 1 << (max(int(self._study.cases or 0) // (len(self._free) + 2), 1).bit_length() - 1)

    @cached_property
    def _saltelli(self) -> Array:
        from SALib.sample import sobol

        names = [variable.name for variable in self._free]
        problem = {"num_vars": len(names), "names": names, "bounds": [[0.0, 1.0]] * len(names)}
        return np.asarray(sobol.sample(problem, self._sensitivity_base, calc_second_order=False, seed=self._study.seed))


def level(variable: Variable, index: int) -> Written:
    """One of the values of a variable on a grid: of its list, of equal steps of a range, of equal shares of a
    distribution."""
    return variable.numbers[index] if variable.source == "list" else _level(variable, index)


@lru_cache(KEPT_LEVELS)
def _level(variable: Variable, index: int) -> Written:
    share = (index + 0.5) / variable.count
    if variable.source in ("range", "log_range"):
        share = index / (variable.count - 1) if variable.count > 1 else 0.5
    return values_at(variable, np.array([share]))[0]


def evenly_spread(points: int, count: int) -> Array:
    """Points (points, count) spread evenly over ranges from 0 to 1: steps of powers of the root of x^(count + 1) =
    x + 1 (M. Roberts' generalised golden ratio; named from memory)."""
    root = 2.0
    for _ in range(30):
        root = (1 + root) ** (1 / (count + 1))
    return np.asarray((0.25 + np.arange(points)[:, None] * root ** -np.arange(1.0, count + 1)) % 1.0)


def wide_share(variable: Variable, x: float, deviations: float) -> float:
    """The share of a range at x = 0 ... 1; of a distribution the probability, x going evenly over its deviations."""
    return x if variable.source in ("range", "log_range") else (1 + erf((2 * x - 1) * deviations / sqrt(2))) / 2


def values_at(variable: Variable, share: Array) -> list[Written]:
    """Values at shares 0...1 of a variable's range, list or probability."""
    if variable.source == "list":
        index = np.minimum((np.asarray(share) * len(variable.numbers)).astype(int), len(variable.numbers) - 1)
        return [variable.numbers[i] for i in index]
    return [write_amount(float(number), variable.unit) for number in _numbers_at(variable, np.asarray(share, float))]


def _numbers_at(variable: Variable, share: Array) -> Array:
    numbers = [float(number) for number in variable.numbers]
    if variable.source in ("range", "uniform"):
        return numbers[0] + (numbers[1] - numbers[0]) * share
    if variable.source == "log_range":
        return numbers[0] * (numbers[1] / numbers[0]) ** share
    if variable.source == "triangular":
        low, peak, high = numbers
        return _triangular(low, peak, high, share)
    from scipy.special import ndtri

    score = ndtri(np.clip(share, 1e-12, 1 - 1e-12))  # never an infinite amount
    mean, deviation = numbers
    if variable.source == "normal":
        return np.asarray(mean + deviation * score)
    spread = sqrt(np.log1p((deviation / mean) ** 2))  # mean and deviation are those of the amount, not of its logarithm
    return np.asarray(mean * np.exp(spread * score - spread**2 / 2))


def _triangular(low: float, peak: float, high: float, share: Array) -> Array:
    turn = (peak - low) / (high - low)
    left = low + np.sqrt(share * (high - low) * (peak - low))
    right = high - np.sqrt((1 - share) * (high - low) * (high - peak))
    return np.where(share < turn, left, right)
