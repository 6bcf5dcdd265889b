"""What matters: main effects of everything that varies, and its share in the variance of a figure.

Main effect: the mean of a figure over all cases at one level (or in one bin) of a variable, with its standard
error. First-order index S1 = Var(E(figure | variable)) / Var(figure): the share of the variance that the variable
explains alone; total index ST: alone and together with others (Sobol 1993; Saltelli 2002, Computer Physics
Communications 145, 280). A sensitivity plan gives both through SALib. A whole grid gives S1 exactly, by the means of
its levels (analysis of variance; Fisher 1925). Any other plan gives it from the means of levels, or from a line with
kinks at even shares of the cases (means of bins lose what a figure does within a bin: a tenth of normal scatter in
five), freed of the share that pure chance would explain (Kelley 1935, Proc. Nat. Acad. Sci. 21, 554). Where all is
drawn independently the lines of all variables are fitted at once: what one explains is no chance of another's.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from math import prod

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.arrays import Array, Flags
from diaphragm_fem.study.morning.results import ALL_BUT_FEW, Column, Results

MOST_LEVELS = 12
MOST_KNOTS, MOST_FITTED, BLOCKS, DRAWS = 16, 20000, 64, 60
DRAWN = ("latin hypercube", "sobol")
BINS = 10
IN_A_BIN = 3  # cases at least, in the mean
TOLD_WITHIN = 0.1  # of the variance: one less certain, and less than twice its interval, is not told


@dataclass(frozen=True)
class Effect:
    """Mean figure over the levels or bins of one variable: place (L,) in SI or index of a name, mean, standard
    error (nothing on a whole grid, nan of one case), cases; binned: whether values lie in bins, for want of levels.
    """

    variable: str
    figure: str
    place: Array
    labels: tuple[str, ...]
    mean: Array
    error: Array
    count: NDArray[np.int64]
    binned: bool

    @property
    def interval(self) -> Array:
        """Half-width of the 95 % interval of each mean, by Student's t: of three cases 4.3 standard errors, not two."""
        from scipy.special import stdtrit

        return np.asarray(stdtrit(np.maximum(self.count - 1, 1), 0.975) * self.error)


@dataclass(frozen=True)
class Index:
    """Sensitivity of a figure to one variable: S1 and ST with the half-width of their 95 % interval; nan where not
    to be had, nothing on a whole grid. cases: on how many it rests; groups: how many means, or numbers of a line, are
    fitted to these, 0 for a sensitivity plan.
    """

    variable: str
    figure: str
    first: float
    first_error: float
    total: float
    total_error: float
    cases: int = 0
    groups: int = 0

    @property
    def error(self) -> float:
        """The larger half-width of the two, infinite where there is none."""
        known = [e for e in (self.first_error, self.total_error) if np.isfinite(e)]
        return max(known) if known and np.isfinite(self.first) else np.inf

    @property
    def told(self) -> bool:
        """Whether cases tell it: it is at least twice its interval (75 ± 40 % tells little), or that is narrow."""
        largest = max((x for x in (self.first, self.total) if np.isfinite(x)), default=0.0)
        return self.error <= TOLD_WITHIN or largest >= 2 * self.error

    @property
    def wanted(self) -> int:
        """How many cases would tell it within TOLD_WITHIN: as many as chance alone asks for, and where there is an
        interval, which goes with one over their root, as many as that does.
        """
        n = self.groups + 1
        while by_chance(n, self.groups) > TOLD_WITHIN:
            n += 1
        return max(n, int(np.ceil(self.cases * (self.error / TOLD_WITHIN) ** 2)) if np.isfinite(self.error) else 0)


@dataclass(frozen=True)
class Pair:
    """Two variables, and the share of a figure's variance that they explain together beyond what each does alone."""

    figure: str
    variables: tuple[str, str]
    share: float


def by_chance(cases: int, groups: int) -> float:
    """Half of the 95 % interval of a share that is nothing, n cases in k groups: 1.96 sqrt(2 (k - 1)/((n - k)(n + 1))).

    The F test's: eta squared is then of the beta distribution of (k - 1)/2 and (n - k)/2, and a share is that with its
    mean taken away. nan where no case is to spare.
    """
    spare = cases - groups
    return 1.96 * float(np.sqrt(2 * max(groups - 1, 0) / (spare * (cases + 1)))) if spare > 0 else float("nan")


def main_effect(results: Results, column: Column, figure: str) -> Effect | None:
    """Effect of one variable on one figure; None where no case has the figure."""
    values = results.figure(figure)
    known = np.isfinite(values) & results.independent
    if not known.any():
        return None
    group, place = _groups(column, known)
    whole = _is_whole_grid(results, known)
    values = values[known]
    count = np.bincount(group, minlength=len(place))
    used = count > 0
    mean = np.bincount(group, values, len(place))[used] / count[used]
    spread = (
        np.bincount(group, (values - values.mean()) ** 2, len(place))[used] / count[used] - (mean - values.mean()) ** 2
    )
    spare = np.where(count[used] > 1, count[used] - 1.0, np.nan)
    error = np.zeros(len(mean)) if whole else np.sqrt(np.maximum(spread, 0) / spare)
    labels = tuple(column.names[int(p)] for p in place[used]) if column.names else ()
    binned = len(place) < len(np.unique(column.values[known]))
    return Effect(column.name, figure, place[used], labels, mean, error, count[used], binned)


def sensitivity(results: Results, figure: str) -> tuple[Index, ...]:
    """Index of every variable for one figure, largest first; empty where the figure does not vary."""
    values = results.figure(figure)
    known = np.isfinite(values)
    if known.sum() < 3 or np.ptp(values[known]) == 0:
        return ()
    if results.study.how == "sensitivity":
        found = _by_plan(results, values, figure)
    elif _is_whole_grid(results, known):
        found = [_exact(column, values, figure) for column in results.varying]
    else:
        columns = results.varying
        # what varies then varies independently in the cases that are there, else each is asked alone
        drawn = results.study.how in DRAWN and not results.has_gaps and known.mean() > ALL_BUT_FEW
        alone = not drawn or len(columns) >= known.sum() // IN_A_BIN
        groups = [[column] for column in columns] if alone else [list(columns)]
        found = [index for group in groups for index in _by_lines(group, values, known, figure)]
    return tuple(sorted(found, key=lambda index: -(index.total if np.isfinite(index.total) else index.first)))


def _is_whole_grid(results: Results, known: Flags) -> bool:
    """Whether every case of a grid has the figure: at each level the others then take all their values alike, and
    means of levels owe nothing to chance.
    """
    study = results.study
    return study.how == "grid" and int(known.sum()) == prod(variable.count for variable in study.recipe.variables)


def strongest_pair(results: Results, figure: str) -> Pair | None:
    """The pair that explains most of a figure beyond what each does alone; None but on a whole grid of three or more
    variables, and where the figure does not vary.
    """
    values, columns = results.figure(figure), results.varying
    if len(columns) < 3 or not _is_whole_grid(results, np.isfinite(values)) or np.ptp(values) == 0:
        return None
    alone = {column.name: _share(values, column)[0] for column in columns}
    pairs = [
        Pair(figure, (one.name, other.name), _share(values, one, other)[0] - alone[one.name] - alone[other.name])
        for one, other in combinations(columns, 2)
    ]
    return max(pairs, key=lambda pair: pair.share)


def _exact(column: Column, values: Array, figure: str) -> Index:
    share, levels = _share(values, column)
    return Index(column.name, figure, share, 0.0, np.nan, np.nan, len(values), levels)


def _share(values: Array, *columns: Column) -> tuple[float, int]:
    """The share of variance of the means at the levels of columns, each with each, and how many these are."""
    levels = np.stack([column.values for column in columns], axis=1)
    _, group, count = np.unique(levels, axis=0, return_inverse=True, return_counts=True)
    group = group.ravel()
    return float(np.var((np.bincount(group, values) / count)[group]) / values.var()), len(count)


def _by_lines(columns: Sequence[Column], values: Array, known: Flags, figure: str) -> list[Index]:
    """Shares by lines of all these columns at once, of MOST_FITTED cases at most; intervals by resampling them, as if
    they were drawn by lot: wide for a Sobol sequence, but lines lag behind jumps by as much.
    """
    picked = np.flatnonzero(known)
    picked = picked[np.unique(np.linspace(0, len(picked) - 1, min(len(picked), MOST_FITTED)).astype(int))]
    most = max((len(picked) // IN_A_BIN - 1) // len(columns) + 1, 2)
    lines = [_line(column, column.values[picked], most) for column in columns]
    ends = np.cumsum([0, *(line.shape[1] for line in lines)])
    parts = [slice(a, b) for a, b in pairwise(ends.tolist())]
    table = np.column_stack((*lines, np.ones(len(picked)), values[picked] - values[picked].mean()))
    rng = np.random.default_rng(1)  # blocks of cases by lot: a sequence's own blocks lie side by side
    blocks = [table[block] for block in np.array_split(rng.permutation(len(table)), min(BLOCKS, len(table)))]
    sums = np.stack([block.T @ block for block in blocks])
    shares, rest = _explained(sums.sum(axis=0), parts)
    drawn = rng.multinomial(len(sums), np.full(len(sums), 1 / len(sums)), DRAWS)
    again = np.array([_explained(np.tensordot(times, sums, 1), parts)[0] for times in drawn])
    found = []
    for column, part, share, spread in zip(columns, parts, shares, again.T, strict=True):
        fitted = part.stop - part.start
        known_spread = spread[np.isfinite(spread)]
        chance = 1.96 * float(known_spread.std()) if len(known_spread) > 1 else float("nan")
        error = max(chance, rest * by_chance(len(picked), fitted))
        found.append(Index(column.name, figure, float(share), error, np.nan, np.nan, len(picked), fitted))
    return found


def _line(column: Column, values: Array, most: int) -> Array:
    """What a line through knots is a sum of (N, k): hats about them, or whether a case is at a level."""
    if (levels := _levels(column, values, most)) is not None:
        return np.asarray(values[:, None] == levels, float)
    knots = int(np.clip(np.sqrt(len(values)) / 2, 5, MOST_KNOTS))  # near enough to follow, few against chance
    at = np.unique(np.quantile(values, np.linspace(0, 1, min(knots, most))))
    return np.stack([np.interp(values, at, hat) for hat in np.eye(len(at))], axis=1)


def _levels(column: Column, values: Array, most: int) -> Array | None:
    """The levels of a variable; None where they are too many to take the cases of each together."""
    levels = np.unique(values)
    return levels if column.names or len(levels) <= min(MOST_LEVELS, most) else None


def _explained(sums: Array, parts: Sequence[slice]) -> tuple[Array, float]:
    """The share of variance of each of the lines that fit best together, less what chance explains of it, and what is
    left of the variance beside them all; nan where no case is to spare.

    sums: of products of the columns that `parts` are of, of ones, and of values, over the cases. Of one line alone it
    is 1 - (SS_beside/(n - k))/(SS_total/(n - 1)).
    """
    count = sums[-2, -2]
    centred = sums - np.outer(sums[-2], sums[-2]) / count
    normal, load, whole = centred[:-2, :-2], centred[:-2, -1], float(centred[-1, -1])
    inverse = np.linalg.pinv(normal, rcond=1e-10, hermitian=True)
    line = inverse @ load
    spare = count - 1 - round(float(np.trace(inverse @ normal)))
    if spare < 1 or not whole > 0:
        return np.full(len(parts), np.nan), float("nan")
    beside = max(whole - float(line @ load), 0.0) / spare
    own = [
        float(line[p] @ normal[p, p] @ line[p]) - beside * float(np.sum(normal[p, p] * inverse[p, p])) for p in parts
    ]
    return np.clip(np.array(own) / whole, 0.0, None), beside * (count - 1) / whole


def _by_plan(results: Results, values: Array, figure: str) -> list[Index]:
    """SALib on the whole blocks of a Saltelli plan: a block with a case that has no figure is left out whole."""
    from SALib.analyze import sobol

    names = [variable.name for variable in results.study.free_variables]
    size = len(names) + 2
    blocks = int(results.numbers.max()) // size + 1
    column = np.full(blocks * size, np.nan)
    column[results.numbers] = values
    table = column.reshape(blocks, size)
    table = table[np.isfinite(table).all(axis=1)]
    if len(table) < 4 or np.ptp(table) == 0:
        return []
    problem = {"num_vars": len(names), "names": names, "bounds": [[0.0, 1.0]] * len(names)}
    found = sobol.analyze(problem, table.ravel(), calc_second_order=False, seed=1)
    shares = zip(names, *(found[share].tolist() for share in ("S1", "S1_conf", "ST", "ST_conf")), strict=True)
    return [Index(name, figure, s1, e1, st, et, table.size) for name, s1, e1, st, et in shares]


def _groups(column: Column, known: Flags) -> tuple[NDArray[np.int64], Array]:
    """The level or bin of each known case, and the place of each level or bin."""
    values, most = column.values[known], max(int(known.sum()) // IN_A_BIN, 2)
    if (levels := _levels(column, values, most)) is not None:
        return np.searchsorted(levels, values), levels
    edges = np.unique(np.quantile(values, np.linspace(0, 1, min(BINS, most) + 1)))
    group = np.clip(np.searchsorted(edges, values, side="right") - 1, 0, len(edges) - 2)
    size = np.bincount(group, minlength=len(edges) - 1)
    return group, np.bincount(group, values, len(edges) - 1) / np.maximum(size, 1)
