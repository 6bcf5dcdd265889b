"""Who is told about a running sweep, and how it ended: a bar in the terminal, and a log file for the night."""

from __future__ import annotations

import logging
import time
from collections import deque
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias

from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.plan.study import Study
from diaphragm_fem.study.run.status import Say, Tally, as_stored
from diaphragm_fem.study.run.store import Row


class Silent:
    """What the engine tells while it runs, to a watcher that says nothing."""

    def begin(self, store: Path, total: int, stored: dict[str, int], workers: int) -> None: ...
    def rows(self, rows: Sequence[Row]) -> None: ...
    def note(self, text: str) -> None: ...
    def end(self, summary: Summary) -> None: ...


@dataclass(frozen=True)
class Summary:
    """How a run ended: cases in the study, in the store before and after by status, and the seconds it took.

    lost is how many of those after met their time limit, lost their solver or found a file changed: another try may
    solve them.
    """

    store: Path
    total: int
    before: dict[str, int]
    after: dict[str, int]
    lost: int
    seconds: float

    @property
    def added(self) -> int:
        return sum(self.after.values()) - sum(self.before.values())

    @property
    def rate(self) -> float:
        """Cases a second, store included."""
        return self.added / self.seconds if self.seconds > 0 else 0.0


LOG_SECONDS = 60.0
PACE_OVER = 20  # times that rows came in, some 10 s: the first cases of a study are slow, for their joints are new


class Progress:
    """A watcher that draws a bar (unless quiet) and writes a line a minute into a log file (where given).

    The bar shows cases, rate and time left, counted from the first rows on, so that loading and making ready do not
    pass for a slow study; below it the best case so far and failures grouped by reason.
    """

    def __init__(
        self,
        study: Study,
        *,
        quiet: bool = False,
        log_file: str | Path | None = None,
        console: Any = None,
        say: Say = as_stored,
    ) -> None:
        self._study, self._quiet, self._console = study, quiet, console
        self._tally = Tally(study, say=say)
        self._log = _log_to(log_file, self._log_lost)
        self._total = self._begun_with = 0
        self._logged_at = 0.0
        self._recent: deque[tuple[float, int]] = deque(maxlen=PACE_OVER)
        self._live: Any = None
        self._bar: Any = None

    def begin(self, store: Path, total: int, stored: dict[str, int], workers: int) -> None:
        self._total, self._begun_with = total, sum(stored.values())
        self._tally.read(store)
        solvers = f"{workers} worker{'s' * (workers != 1)}"
        words = f"{self._study.name}: {total} cases, {self._begun_with} of them stored already, {solvers}"
        if not self._quiet:
            self._draw(words)
        self._log.info(words)

    def rows(self, rows: Sequence[Row]) -> None:
        self._tally.add(rows)
        now = time.monotonic()
        self._recent.append((now, self._done))
        if now - self._logged_at >= LOG_SECONDS:
            self._logged_at = now
            self._log.info(self._words())
        if self._live is not None:
            self._bar.update(self._task, completed=self._done, words=self._pace())
            self._live.update(self._picture())

    def note(self, text: str) -> None:
        self._log.warning(text)
        if not self._quiet and (console := self._console if self._live is None else self._live.console) is not None:
            console.print(text, markup=False)

    def end(self, summary: Summary) -> None:
        self._log.info(
            "complete: %d cases, %d of them new in %.1f s (%.1f a second); %s",
            summary.total, summary.added, summary.seconds, summary.rate, _counts_words(summary.after),
        )  # fmt: skip
        for (status, reason), count in self._tally.reasons.most_common():
            self._log.info("%s %d times: %s", status, count, reason)
        self.close()

    def close(self) -> None:
        """Leave the terminal as it was; safe to call twice."""
        if self._live is not None:
            self._live.stop()
            if not self._live.console.is_terminal:  # in a log the next line would go on where the last one ends
                self._live.console.line()
            self._live = None
        for handler in list(self._log.handlers):
            self._log.removeHandler(handler)
            with suppress(OSError):  # what a full disk has not taken
                handler.close()

    def _log_lost(self, _: logging.LogRecord) -> None:
        """The disk of the log is full or gone: the sweep goes on without it, and says so once."""
        self._log.handlers = [one for one in self._log.handlers if isinstance(one, logging.NullHandler)]
        self.note("the log cannot be written any more; the sweep goes on, its results are in the store")

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def _done(self) -> int:
        return sum(self._tally.counts.values())

    @property
    def _rate(self) -> float:
        if not self._recent:
            return 0.0
        (begin, first), (end, last) = self._recent[0], self._recent[-1]
        return (last - first) / (end - begin) if end > begin else 0.0

    def _pace(self) -> str:
        left = self._total - self._done
        if left <= 0:
            return "all stored"
        rate = self._rate
        return f"{rate:.1f} a second, {show_duration(left / rate)} left" if rate else "starting"

    def _words(self) -> str:
        parts = [f"{self._done} of {self._total}", self._pace(), _counts_words(self._tally.counts)]
        if best := self._tally.best_words:
            parts.append(f"best so far {best}")
        return "; ".join(parts)

    def _draw(self, words: str) -> None:
        from rich.live import Live
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

        self._bar = Progress(
            TextColumn("cases"), BarColumn(None), MofNCompleteColumn(), TextColumn("{task.fields[words]}")
        )
        self._task = self._bar.add_task("cases", total=self._total, completed=self._begun_with, words=self._pace())
        self._live = Live(self._picture(), console=self._console, refresh_per_second=4)
        self._live.start()
        self._live.console.print(words)

    def _picture(self) -> Any:
        from rich.console import Group
        from rich.text import Text

        lines: list[Any] = [self._bar]
        if best := self._tally.best_words:
            lines.append(Text(f"best so far  {best}"))
        for (status, reason), count in self._tally.reasons.most_common(4):
            lines.append(Text(f"{count:>6} {status}  {reason}", overflow="ellipsis", no_wrap=True))
        return Group(*lines)


Watcher: TypeAlias = Silent | Progress


def show_duration(seconds: float) -> str:
    """ "45 s", "12 min", "3 h 05 min", "12 days"."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    if seconds > 99 * 3600:
        return f"{seconds / 86400:.0f} days"
    minutes = round(seconds / 60)
    return f"{minutes} min" if minutes < 90 else f"{minutes // 60} h {minutes % 60:02d} min"


def _counts_words(counts: Any) -> str:
    return ", ".join(f"{count} {status}" for status, count in sorted(counts.items())) or "nothing stored yet"


def _log_to(file: str | Path | None, lost: Callable[[logging.LogRecord], None]) -> logging.Logger:
    """A logger of this run's own, writing to the file; to nowhere without one; `lost` is told of failures."""
    logger = logging.Logger("diaphragm_fem.study.run")
    logger.addHandler(logging.NullHandler())
    if file is not None:
        if Path(file).is_fifo():
            raise StudyError(f"{file}: is a pipe, on whose reader a night would wait; give the log another name")
        try:
            Path(file).parent.mkdir(parents=True, exist_ok=True)
            handler = logging.FileHandler(file, encoding="utf-8")
        except OSError as error:
            raise StudyError(f"{file}: the log cannot be written there: {error.strerror or error}") from error
        handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
        handler.handleError = lost  # type: ignore[assignment]
        logger.addHandler(handler)
    return logger
