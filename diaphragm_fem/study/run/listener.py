"""Who is told about a running sweep, and how it ended."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from diaphragm_fem.study.run.store import Row


class Watcher(Protocol):
    """What the engine tells while it runs."""

    def begin(self, store: Path, total: int, stored: dict[str, int], workers: int) -> None: ...
    def rows(self, rows: Sequence[Row]) -> None: ...
    def note(self, text: str) -> None: ...
    def end(self, summary: Summary) -> None: ...


class Silent:
    """A watcher that says nothing."""

    def begin(self, store: Path, total: int, stored: dict[str, int], workers: int) -> None: ...
    def rows(self, rows: Sequence[Row]) -> None: ...
    def note(self, text: str) -> None: ...
    def end(self, summary: Summary) -> None: ...


@dataclass(frozen=True)
class Summary:
    """How a run ended: cases in the study, in the store before and after by status, and the seconds it took.

    lost is how many of those after met their time limit or lost their solver: another try may solve them.
    solving_seconds is the time cases took in their solvers, summed over workers.
    """

    store: Path
    total: int
    before: dict[str, int]
    after: dict[str, int]
    lost: int
    seconds: float
    workers: int
    solving_seconds: float

    @property
    def added(self) -> int:
        return sum(self.after.values()) - sum(self.before.values())

    @property
    def rate(self) -> float:
        """Cases a second, store included."""
        return self.added / self.seconds if self.seconds > 0 else 0.0
