"""The solved cases of a store as columns of numbers, and where those lie that could not be solved."""

from array import array
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import nan
from pathlib import Path

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.errors import DiaphragmError, StudyError
from diaphragm_fem.study.plan.amount import Written, amount_in_si, split_amount
from diaphragm_fem.study.plan.study import Recipe, Study, Variable
from diaphragm_fem.study.run.case_row import CaseResult
from diaphragm_fem.study.run.status import Reasons
from diaphragm_fem.study.run.store import DISCARDED, DONE
from diaphragm_fem.study.run.store_reading import read_store

ALL_BUT_FEW = 0.9  # of the cases: what is drawn independently is so still in those that are there
LEAST_CASES, LEAST_APART = 5, 0.5


@dataclass(frozen=True)
class Column:
    """Values of one thing that varies: numbers in SI (or the index of a name), and the names where they are names.

    unit is what the study file writes its numbers with; log says that its range is one of ratios.
    """

    name: str
    values: Array
    names: tuple[str, ...] = ()
    unit: str = ""
    log: bool = False

    @cached_property
    def levels(self) -> Array:
        return np.unique(self.values)


@dataclass(frozen=True)
class Results:
    """Cases that were solved: their numbers (N,), a column for each thing that varies, figures (N,), nan where one
    does not exist; unsolved: inputs of those that failed or were stopped; never: of what never comes in some, by what
    it is judged there (N,), nan elsewhere."""

    study: Study
    store: Path
    numbers: Index
    written: list[tuple[Written, ...]]
    columns: tuple[Column, ...]
    figures: Mapping[str, Array]
    counts: Mapping[str, int]
    reasons: tuple[tuple[str, str, int], ...]
    never: Mapping[str, Array] = field(default_factory=dict)
    unsolved: Sequence[tuple[Written, ...]] = ()

    def __len__(self) -> int:
        return len(self.numbers)

    @cached_property
    def independent(self) -> Flags:
        """Cases (N,) drawn independently of each other, over which means and shares may be taken.

        All but in a sensitivity plan, whose blocks vary one thing at a time between a first and a last case that are
        independent (Saltelli 2002).
        """
        if self.study.how != "sensitivity":
            return np.ones(len(self), bool)
        size = len(self.study.free_variables) + 2
        return np.isin(self.numbers % size, (0, size - 1))

    @property
    def has_gaps(self) -> bool:
        """Whether what varies may no longer vary independently in the solved cases, for others were ruled out, or more
        than a few could not be solved."""
        return bool(self.counts.get(DISCARDED)) or len(self) < ALL_BUT_FEW * sum(self.counts.values())

    @cached_property
    def recipe_beside(self) -> Recipe:
        """By which designs beside the cases are solved: one recipe, for which its solver makes ready once."""
        recipe = self.study.recipe
        return replace(recipe, settings={**recipe.settings, "curves": ["area", "response"], "modes": False})

    @cached_property
    def materials(self) -> tuple[Material, ...]:
        """All that the parts of its cases are made of: the materials of one case with each name that varies."""
        named = [column for column in self.columns if column.names]
        cases = {0, *(int(np.argmax(column.values == level)) for column in named for level in column.levels)}
        recipe = self.study.recipe
        found: dict[str, Material] = {}
        for case in sorted(cases):
            with suppress(DiaphragmError):  # a store of another program's designs
                design = recipe.drawn(recipe.design_of(self.written[case]))
                found |= {material.name: material for material in design.materials}
        return tuple(found.values())

    def figure(self, name: str) -> Array:
        """A figure's values; StudyError with the known names where there is no such figure."""
        if name not in self.figures:
            raise StudyError(f"{self.study.path}: no case has a figure '{name}'; known are {', '.join(self.figures)}")
        return self.figures[name]

    def judged(self, name: str) -> Array:
        """The same as wishes and limits judge it."""
        return np.fmax(self.figure(name), self.never.get(name, np.nan))

    def of_case(self, case: int) -> CaseResult:
        """The figures of one case, by its index."""
        both = (self.figures, self.never)
        known, never = ({n: float(x[case]) for n, x in one.items() if np.isfinite(x[case])} for one in both)
        return CaseResult({name: known.get(name) for name in self.figures}, never=never)

    def column(self, name: str) -> Column:
        return next(column for column in self.columns if column.name == name)

    @property
    def varying(self) -> tuple[Column, ...]:
        """Columns that take more than one value and are not tied to another."""
        tied = {
            variable.name for variable in self.study.recipe.variables if variable.of is not None and variable.count == 1
        }
        return tuple(column for column in self.columns if len(column.levels) > 1 and column.name not in tied)


def load_results(study: Study, store: str | Path | None = None) -> Results:
    """All solved cases of a study's store. StudyError where the store is another study's, holds figures of another
    version or is damaged, or where nothing was solved."""
    path = Path(store) if store else study.store_path
    numbers: list[int] = []
    written: list[tuple[Written, ...]] = []
    figures, never = _ByName(), _ByName()
    with read_store(path, study) as reading:
        reading.check_figures()
        reading.check()
        for number, inputs, found, beyond in reading.solved():
            numbers.append(number)
            written.append(tuple(inputs.values()))
            figures.add(found)
            never.add(beyond)
        unsolved = [tuple(inputs.values()) for inputs in reading.unsolved()]
        reasons = tuple((status, reason or "", count) for status, reason, count in reading.reasons() if status != DONE)
        counts = reading.counts()
    if not numbers:
        raise StudyError(f"{path}: no case has been solved yet, so there is nothing to rank{_why_none(reasons)}")
    columns = tuple(column_of(one, [row[j] for row in written]) for j, one in enumerate(study.recipe.variables))
    known = figures.arrays(), counts, reasons, never.arrays(), unsolved
    return Results(study, path, np.array(numbers), written, columns, *known)


def _why_none(reasons: Iterable[tuple[str, str, int]]) -> str:
    """The most common reason for which a case was not solved; "" where none was tried."""
    grouped = Reasons()
    for one in reasons:
        grouped.add(*one)
    most = grouped.counted.most_common(1)
    return "".join(f"; {count} of {grouped.counted.total()} {status}: {reason}" for (status, reason), count in most)


class _ByName:
    """Of rows of values by their names an array for each name, nan where a row has none. Kept packed as they come."""

    def __init__(self) -> None:
        self._columns: dict[str, array[float]] = {}
        self._count = 0

    def add(self, row: Mapping[str, float | None]) -> None:
        for name, value in row.items():
            column = self._filled_up(name)
            if value is not None:
                column.append(value)
        self._count += 1

    def arrays(self) -> dict[str, Array]:
        return {name: np.array(self._filled_up(name)) for name in self._columns}

    def _filled_up(self, name: str) -> "array[float]":
        column = self._columns.setdefault(name, array("d"))
        column.extend([nan] * (self._count - len(column)))
        return column


def column_of(variable: Variable, written: list[Written]) -> Column:
    """What one thing that varies is in cases, as they have it written."""
    log = variable.source in ("log_range", "lognormal")
    numbers = [amount_in_si(value) for value in written]
    if all(number is not None for number in numbers):
        first = split_amount(written[0])
        return Column(variable.name, np.array(numbers, float), (), variable.unit or (first[1] if first else ""), log)
    texts = [str(value) for value in written]
    levels = tuple(dict.fromkeys(texts))
    index = {text: i for i, text in enumerate(levels)}
    return Column(variable.name, np.array([index[text] for text in texts], float), levels)


@dataclass(frozen=True)
class Where:
    """`unsolved` of the cases that were not solved and `solved` of those that were have this name, or a value of at
    most, or at least, this many in SI (`side` "<=" or ">=")."""

    column: Column
    side: str
    value: float
    unsolved: int
    solved: int


def where_unsolved(results: Results) -> Where | None:
    """The part of one range, or the name, in which the share of the unsolved exceeds that of the solved most, by half
    at least (the index of Youden (1950), Cancer 3, 32, from memory); None for a few cases, or where nothing tells."""
    count = len(results.unsolved)
    if count < LEAST_CASES:
        return None
    found = []
    for place, variable in enumerate(results.study.recipe.variables):
        column = column_of(variable, [case[place] for case in (*results.unsolved, *results.written)])
        levels, level = np.unique(column.values, return_inverse=True)
        bad, good = (np.bincount(part, minlength=len(levels)) for part in (level[:count], level[count:]))
        sides = [("==", bad, good)] if column.names else [
            ("<=", bad.cumsum(), good.cumsum()), (">=", bad[::-1].cumsum()[::-1], good[::-1].cumsum()[::-1]),
        ]  # fmt: skip
        for side, unsolved, solved in sides:
            apart = unsolved / count - solved / len(results)
            best = int(np.argmax(apart))
            where = Where(column, side, float(levels[best]), int(unsolved[best]), int(solved[best]))
            found.append((float(apart[best]), where))
    most, where = max(found, key=lambda one: one[0])
    return where if most >= LEAST_APART else None
