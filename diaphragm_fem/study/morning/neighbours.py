"""Around the winner: does it stand on a plateau or on a needle, at an end of a range, and how many are as good?"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from diaphragm_fem.arrays import Index
from diaphragm_fem.design.files.key_path import copied, write_path
from diaphragm_fem.study.morning.beside import Beside, design_beside
from diaphragm_fem.study.morning.ranking import Ranking
from diaphragm_fem.study.morning.results import Results
from diaphragm_fem.study.plan.amount import (
    FACTORS,
    Written,
    amount_in_si,
    kinds,
    si_factor,
    split_amount,
    write_amount,
)
from diaphragm_fem.study.plan.study import Variable, last_name

AT_END = 0.05  # share of a range
LENGTH, THICKNESS, MODULUS, OTHER = "0.03 mm", "4 %", "8 %", "2 %"
"""Manufacturing scatter that is assumed (common practice, no source)."""
FAR_BEHIND = 0.2  # of the winner's score: a neighbour that loses more has lost what made the winner win


@dataclass(frozen=True)
class Neighbour:
    """The winner as drawn with one thing changed by the scatter that is assumed of it: "−0.03 mm" of a variable."""

    variable: str
    change: str
    design: Beside


@dataclass(frozen=True)
class Neighbourhood:
    """The winner's surroundings.

    winner      index of its case.
    neighbours  two for each thing that scatters, solved; none where nothing does or none of them can be solved.
    behind      those of them that break a limit, cannot be solved or fall far behind in what can be told: then it
                stands on a needle.
    steady      where it does, the first of the next ranks that keeps up; None where none of them does.
    tied        cases inside the limits in which all that is wished for is the winner's as far as figures can be told
                apart; the winner's own case where rounding left none.
    at_end      things of which the winner lies within AT_END of an end of the study's range and no case as good lies
                elsewhere: the best may lie beyond.
    """

    winner: int
    neighbours: tuple[Neighbour, ...]
    behind: tuple[Neighbour, ...]
    steady: int | None
    tied: Index
    at_end: tuple[str, ...]


def neighbourhood(results: Results, ranking: Ranking, best: Sequence[Beside], evaluator: str) -> Neighbourhood | None:
    """What lies around the first of the best as drawn; None where nothing varies."""
    winner, *others = best
    if not results.varying or winner.case is None:
        return None
    neighbours = _neighbours(results, ranking, winner, evaluator)
    behind, steady = _behind(ranking, winner, neighbours), None
    if behind:
        around = ((one, _neighbours(results, ranking, one, evaluator)) for one in others)
        stands = (bool(solved) and not _behind(ranking, one, solved) for one, solved in around)
        steady = next((rank for rank, keeps in enumerate(stands, start=2) if keeps), None)
    tied = _tied(results, ranking, winner)
    return Neighbourhood(winner.case, neighbours, behind, steady, tied, _at_ends(results, tied))


def _behind(ranking: Ranking, winner: Beside, neighbours: Sequence[Neighbour]) -> tuple[Neighbour, ...]:
    """Where all cases are nearly alike a score falls far for a difference that cannot be told: that costs nothing."""
    least = winner.score - FAR_BEHIND * abs(winner.score)

    def keeps_up(design: Beside) -> bool:
        return design.inside and (design.score >= least or ranking.as_good(design.found.judged, winner.found.judged))

    return tuple(one for one in neighbours if not keeps_up(one.design))


def _neighbours(results: Results, ranking: Ranking, winner: Beside, evaluator: str) -> tuple[Neighbour, ...]:
    found = []
    for variable in results.study.recipe.variables:
        amount = winner.amounts.get(variable.name)
        if (scatter := assumed_scatter(variable, amount)) is None:
            continue
        for sign, way in (("−", -1), ("+", 1)):
            data = copied(winner.data)
            for key in variable.keys:
                write_path(data, key, _moved(amount, way, scatter))
            found.append(Neighbour(variable.name, sign + scatter, design_beside(results, ranking, data, evaluator)))
    return tuple(found) if any(one.design.found.figures for one in found) else ()


def _moved(amount: Written | None, sign: int, scatter: str) -> Written:
    number, unit = split_amount(amount) or (0.0, "")
    if scatter.endswith("%"):
        return write_amount(number * (1 + sign * float(scatter[:-1]) / 100), unit)
    return write_amount(number + sign * (amount_in_si(scatter) or 0.0) / (si_factor(unit) or 1.0), unit)


def _tied(results: Results, ranking: Ranking, winner: Beside) -> Index:
    wished = {wish.figure: results.judged(wish.figure) for wish in ranking.wishes}

    def figures(case: int) -> dict[str, float | None]:
        return {name: x if np.isfinite(x := values[case]) else None for name, values in wished.items()}

    alike = ranking.order[[ranking.as_good(figures(case), winner.found.judged) for case in ranking.order]]
    return alike if len(alike) else ranking.order[ranking.order == winner.case]


def _at_ends(results: Results, cases: Index) -> tuple[str, ...]:
    """What varies, not by chance, of which all of these cases lie within AT_END of the same end of its range."""
    found = []
    for column in results.varying:
        variable = next(one for one in results.study.recipe.variables if one.name == column.name)
        if column.names or variable.source not in ("range", "log_range", "list", "table"):
            continue
        values = column.values  # a table of cases says no range but its own
        if variable.source != "table":
            factor = 1.0 if variable.source == "list" else si_factor(variable.unit) or 1.0
            values = factor * np.array([amount_in_si(number) for number in variable.numbers], float)
        ends = np.array([values.min(), values.max()])
        low, high = np.log(ends) if column.log else ends
        place = ((np.log(column.values) if column.log else column.values)[cases] - low) / (high - low)
        if (place <= AT_END).all() or (place >= 1 - AT_END).all():
            found.append(column.name)
    return tuple(found)


def slice_through(results: Results, winner: int, name: str) -> Index:
    """Cases that differ from the winner in this variable alone, in its order, the winner among them."""
    same = np.ones(len(results), bool)
    for column in results.varying:
        if column.name != name:
            same &= column.values == column.values[winner]
    cases = np.flatnonzero(same)
    return cases[np.argsort(results.column(name).values[cases], kind="stable")]


def assumed_scatter(variable: Variable, amount: Any) -> str | None:
    """The scatter assumed for an amount of what varies; None for a name, a whole number or a share of nothing."""
    name, parts = last_name(variable.keys[0]), split_amount(amount)
    if parts is None or isinstance(amount, int):
        return None
    kind = kinds(parts[1])
    thick = name == "thickness" or variable.keys[0].startswith(FACTORS)
    if "m" in kind and not thick:
        return LENGTH
    if not parts[0] > 0:
        return None
    return THICKNESS if thick else MODULUS if "Pa" in kind else OTHER
