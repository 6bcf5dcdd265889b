"""What a running sweep adds up to: counts, reasons grouped, the best case so far."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from diaphragm_fem.study.plan import Study
from diaphragm_fem.study.reading import read_store
from diaphragm_fem.study.store import DONE, Row

_NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
BLANK = "…"


def reason_group(reason: str) -> str:
    """A reason with its numbers taken out: what it shares with the others of its kind."""
    return _NUMBER.sub(BLANK, reason)


class Reasons:
    """Reasons that differ in numbers alone, counted together, in words that keep each number all of them share."""

    def __init__(self) -> None:
        self._groups: dict[tuple[str, str], tuple[int, list[str]]] = {}

    def add(self, status: str, reason: str, count: int = 1) -> None:
        key, numbers = (status, reason_group(reason)), _NUMBER.findall(reason)
        if key in self._groups:
            before, kept = self._groups[key]
            count += before
            numbers = [one if one == other else BLANK for one, other in zip(kept, numbers, strict=True)]
        self._groups[key] = (count, numbers)

    @property
    def counted(self) -> Counter[tuple[str, str]]:
        """How often each group was met, by its status and words."""
        found: Counter[tuple[str, str]] = Counter()
        for (status, group), (count, numbers) in self._groups.items():
            found[status, _filled(group, numbers)] += count
        return found


def _filled(group: str, numbers: list[str]) -> str:
    first, *rest = group.split(BLANK)
    if len(rest) != len(numbers):  # the reason has a blank in its own words
        return group
    return first + "".join(number + words for number, words in zip(numbers, rest, strict=True))


def grouped_reasons(reasons: Iterable[tuple[str, str, int]]) -> Counter[tuple[str, str]]:
    """Status, reason and count of many cases, grouped as `Reasons` does."""
    found = Reasons()
    for status, reason, count in reasons:
        found.add(status, reason, count)
    return found.counted


def inside_limits(figures: Mapping[str, Any], limits: Mapping[str, tuple[float | None, float | None]]) -> bool:
    """Whether figures keep to every hard limit (above, below); a figure that does not exist keeps to none."""
    for name, (above, below) in limits.items():
        value = figures.get(name)
        if value is None or (above is not None and value < above) or (below is not None and value > below):
            return False
    return True


@dataclass
class Tally:
    """Counts by status, grouped reasons, and the best case by the study's first wish within its limits."""

    study: Study
    counts: Counter[str] = field(default_factory=Counter)
    grouped: Reasons = field(default_factory=Reasons)
    best: tuple[int, float] | None = None

    def add(self, rows: Iterable[Row]) -> None:
        for row in rows:
            self.counts[row.status] += 1
            if row.status == DONE:
                self._weigh(row.number, json.loads(row.figures or "{}"))
            else:
                self.grouped.add(row.status, row.reason or "")

    def read(self, store: Path) -> None:
        """Start from what a store holds already."""
        with read_store(store) as reading:
            for status, reason, count in reading.reasons():
                self.counts[status] += count
                if status != DONE:
                    self.grouped.add(status, reason or "", count)
            if self.study.wishes:
                for number, figures in reading.figures():
                    self._weigh(number, figures)

    @property
    def reasons(self) -> Counter[tuple[str, str]]:
        """How often each grouped reason was met, with its status."""
        return self.grouped.counted

    def _weigh(self, number: int, figures: Mapping[str, float | None]) -> None:
        if not self.study.wishes:
            return
        wish = self.study.wishes[0]
        value = figures.get(wish.figure)
        if value is None or not inside_limits(figures, self.study.limits):
            return
        if self.best is None or _better(value, self.best[1], wish.aim):
            self.best = (number, value)

    @property
    def best_words(self) -> str:
        if self.best is None:
            return ""
        return f"{self.study.wishes[0].figure} = {self.best[1]:.5g} (case {self.best[0]})"


def _better(value: float, other: float, aim: str | float) -> bool:
    if aim == "high":
        return value > other
    if aim == "low":
        return value < other
    return abs(value - float(aim)) < abs(other - float(aim))
