"""How far a study is: counts, reasons grouped, the best case so far, added up as rows come in, or read from its store
for another terminal, which disturbs nothing."""

import json
import re
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np

from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study import Study
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.plan.wish import Wish, distance_from_best, is_inside, marks_of, weights_of
from diaphragm_fem.study.run.store import DONE, Row
from diaphragm_fem.study.run.store_lock import in_use
from diaphragm_fem.study.run.store_reading import read_store

_NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")
BLANK = "…"

Say = Callable[[str, float], str]  # a figure and its value in words


def as_stored(figure: str, value: float) -> str:
    """A figure by its name in the files, in SI: for where nobody has better words."""
    return f"{figure} = {value:.5g}"


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


class Contest:
    """The best case by a wish list, scored as the morning's ranking does, without keeping every case.

    The score is a mean of marks that rise as the figures get better, so that the best case is one that no other beats
    in one wish without losing in another: only those are kept, whatever the marks come to be scaled by.
    """

    def __init__(self, wishes: tuple[Wish, ...]) -> None:
        self._wishes = wishes
        self._numbers = np.empty(0, np.int64)
        self._lacks = np.empty((0, len(wishes)))  # of each case kept: how far each figure is from what is wished
        self._values: dict[int, tuple[float | None, ...]] = {}
        self._least, self._most = np.full(len(wishes), np.inf), np.full(len(wishes), -np.inf)

    def enter(self, number: int, figures: Mapping[str, float | None], never: Mapping[str, float]) -> None:
        """A case with its figures, and by what those are judged that never come."""
        values = tuple(figures.get(wish.figure) for wish in self._wishes)
        there = np.array([never.get(w.figure, x) for w, x in zip(self._wishes, values, strict=True)], float)
        lack = np.array([distance_from_best(x, wish.aim) for x, wish in zip(there, self._wishes, strict=True)])
        known = np.isfinite(lack)
        lack[~known] = np.inf
        self._least[known] = np.minimum(self._least, lack)[known]
        self._most[known] = np.maximum(self._most, lack)[known]
        as_good = (self._lacks <= lack).all(axis=1)
        if (as_good & ((self._lacks < lack).any(axis=1) | (self._numbers < number))).any():
            return
        stays = ~(lack <= self._lacks).all(axis=1)
        for beaten in self._numbers[~stays]:
            del self._values[int(beaten)]
        self._numbers = np.append(self._numbers[stays], number)
        self._lacks = np.vstack((self._lacks[stays], lack))
        self._values[number] = values

    @property
    def leader(self) -> tuple[int, tuple[float | None, ...]] | None:
        """Number of the best case so far and its value of every wish; the first by number of several as good."""
        if not len(self._numbers):
            return None
        scales = [(most, least) if most >= least else None for most, least in zip(self._most, self._least, strict=True)]
        marks = [marks_of(lack, scale) for lack, scale in zip(self._lacks.T, scales, strict=True)]
        score = weights_of(self._wishes) @ np.array(marks)
        best = int(self._numbers[score == score.max()].min())
        return best, self._values[best]


@dataclass
class Tally:
    """Counts by status, grouped reasons, and the best case by the study's wish list within its limits."""

    study: Study
    counts: Counter[str] = field(default_factory=Counter)
    grouped: Reasons = field(default_factory=Reasons)
    say: Say = as_stored

    def add(self, rows: Iterable[Row]) -> None:
        for row in rows:
            self.counts[row.status] += 1
            if row.status == DONE:
                self._weigh(row.number, json.loads(row.figures or "{}"), json.loads(row.never or "{}"))
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
                for number, _, figures, never in reading.solved():
                    self._weigh(number, figures, never)

    @property
    def reasons(self) -> Counter[tuple[str, str]]:
        """How often each grouped reason was met, with its status."""
        return self.grouped.counted

    def _weigh(self, number: int, figures: Mapping[str, float | None], never: Mapping[str, float]) -> None:
        if self.study.wishes and is_inside({**figures, **never}, self.study.limits):
            self._contest.enter(number, figures, never)

    @cached_property
    def _contest(self) -> Contest:
        return Contest(self.study.wishes)

    @property
    def best(self) -> tuple[int, tuple[float | None, ...]] | None:
        """Number of the best case by the study's wish list within its limits, and its value of every wish."""
        return self._contest.leader

    @property
    def best_words(self) -> str:
        if self.best is None:
            return ""
        number, values = self.best
        said = dict.fromkeys(
            self.say(wish.figure, np.nan if value is None else value)
            for wish, value in zip(self.study.wishes, values, strict=True)
        )
        return f"case {number}: {', '.join(said)}"


RECENT_SECONDS = 60.0


@dataclass(frozen=True)
class Status:
    """State of a study.

    writer     who is writing now, "" where nobody is; ending is how the last run ended ("complete", "interrupted",
               a reason).
    rate       cases a second over the last minute of the run that is or was last; seconds_left None where nobody runs.
    failures   how often each grouped reason was met, with its status.
    version    of the program that made the results, figures_version that of the definitions of its figures.
    """

    store: Path
    name: str
    total: int
    counts: Mapping[str, int]
    writer: str
    ending: str
    rate: float
    seconds_left: float | None
    failures: Mapping[tuple[str, str], int]
    best: str
    bytes_per_case: float
    figures_version: str
    version: str

    @property
    def stored(self) -> int:
        return sum(self.counts.values())


def study_status(study: str | Path | Study, *, store: str | Path | None = None, say: Say = as_stored) -> Status:
    """Status of a study by its file; `say` puts the figures of the best case into words. StudyError where it has no
    store yet."""
    study = read_study(study)
    path = Path(store) if store else study.store_path
    with read_store(path, study) as reading:
        reading.check()
        about = reading.about
        run = reading.base.execute("SELECT begun, seen, ending FROM runs ORDER BY number DESC LIMIT 1").fetchone()
        rate = _recent_rate(reading.base, run)
    tally = Tally(study, say=say)
    tally.read(path)
    total, stored, writer = len(Sampler(study)), sum(tally.counts.values()), in_use(path)
    log = path.with_name(path.name + "-wal")
    size = path.stat().st_size + (log.stat().st_size if log.exists() else 0)
    return Status(
        store=path,
        name=study.name,
        total=total,
        counts=dict(tally.counts),
        writer=writer,
        ending="" if writer else ((run[2] or "killed") if run else "never run"),
        rate=rate,
        seconds_left=(total - stored) / rate if writer and rate else None,
        failures=dict(tally.reasons.most_common()),
        best=tally.best_words,
        bytes_per_case=size / stored if stored else 0.0,
        figures_version=about["figures"],
        version=about["version"],
    )


def _recent_rate(base: sqlite3.Connection, run: tuple[float, float, str] | None) -> float:
    if run is None:
        return 0.0
    begun, seen = run[0], run[1] or run[0]
    since = max(begun, seen - RECENT_SECONDS)
    count = base.execute("SELECT count(*) FROM cases WHERE stored > ? AND stored <= ?", (since, seen)).fetchone()[0]
    return count / max(1e-3, seen - since)
