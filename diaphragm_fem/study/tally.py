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


def reason_group(reason: str) -> str:
    """A reason with its numbers taken out, so that failures of one kind count together."""
    return _NUMBER.sub("…", reason)


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
    reasons: Counter[tuple[str, str]] = field(default_factory=Counter)
    best: tuple[int, float] | None = None

    def add(self, rows: Iterable[Row]) -> None:
        for row in rows:
            self.counts[row.status] += 1
            if row.status == DONE:
                self._weigh(row.number, json.loads(row.figures or "{}"))
            else:
                self.reasons[row.status, reason_group(row.reason or "")] += 1

    def read(self, store: Path) -> None:
        """Start from what a store holds already."""
        with read_store(store) as reading:
            for status, reason, count in reading.reasons():
                self.counts[status] += count
                if status != DONE:
                    self.reasons[status, reason_group(reason or "")] += count
            if self.study.wishes:
                for number, figures in reading.figures():
                    self._weigh(number, figures)

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
