"""How far a study is, asked from another terminal: reads the store only, disturbs nothing."""

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study import Study
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.running_totals import Say, Tally, as_stored
from diaphragm_fem.study.run.store_lock import in_use
from diaphragm_fem.study.run.store_reading import read_store

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
    begun, seen, _ = run
    seen = seen or begun
    since = seen - RECENT_SECONDS
    if since < begun <= seen:  # else the clock was put back meanwhile
        since = begun
    count = base.execute("SELECT count(*) FROM cases WHERE stored > ? AND stored <= ?", (since, seen)).fetchone()[0]
    return count / max(seen - since, 1e-3)
