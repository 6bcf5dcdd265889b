"""The engine: spreads the cases of a study over workers and brings their rows into the store.

A task is a batch of cases; a few tasks per worker are in flight and no more, so that neither the scheduler nor this
process grows with the study. The size of a batch follows the time that cases take: a
task should last BATCH_SECONDS, less toward the end, so that no worker waits long for another's last one, but never so
little that the scheduler would see more than MOST_TASKS_A_SECOND of them. What a case answers depends on nothing but
the case.

A worker that is killed: Dask gives its tasks to another. A batch that has cost several workers is taken apart, and a
case that goes on killing becomes a failed row. A scheduler that is lost ends the run with what is stored; the next
start goes on.

This process and the scheduler together bear 8,000 to 9,000 cases a second on one core. What changes beyond, at 10^7
cases and 1,000 workers, stands in DEVELOPERS.md ("Scaling up, on paper"), with the measurements.
"""

from __future__ import annotations

import logging
import pickle
import queue
import threading
import time
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from diaphragm_fem import __version__
from diaphragm_fem.analysis.merit import FIGURES
from diaphragm_fem.answer.stroke_figures import STROKE_FIGURES
from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.plan.drawing_board import try_cases
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study import Study
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.case_row import EVALUATOR, inputs_text
from diaphragm_fem.study.run.cluster import LOST, client_of, killed_its_workers
from diaphragm_fem.study.run.listener import Silent, Summary, Watcher
from diaphragm_fem.study.run.pending_cases import Planned
from diaphragm_fem.study.run.solver_process import Case, Guard, Job
from diaphragm_fem.study.run.store import DISCARDED, FAILED, Row, Store, open_store, place_of

BATCH_SECONDS = 0.5
MOST_TASKS_A_SECOND = 100
LARGEST_BATCH = 512
TASKS_PER_THREAD = 3
GATHERED_AT_ONCE = 64
COMMIT_SECONDS = 0.5
log = logging.getLogger("diaphragm_fem.study")


# ------------------------------------------------------------------ on the workers

_guards: list[Guard] = []
_guards_lock = threading.Lock()


def run_batch(job: bytes, cases: Sequence[Case], version: str) -> list[Row]:
    """A task: the rows of a batch of cases. Every thread of a worker has a solver process of its own."""
    if version != __version__:
        raise RuntimeError(
            f"the worker runs version {__version__} of the program, the command {version}; install the same on both"
        )
    with _guards_lock:
        guard = _guards.pop() if _guards else Guard()
    try:
        return list(guard.rows(job, cases))
    finally:
        with _guards_lock:
            _guards.append(guard)


# ------------------------------------------------------------------ in the command


def run_study(
    study: str | Path | Study,
    *,
    store: str | Path | None = None,
    night: bool | None = None,
    scheduler: str | None = None,
    workers: int | None = None,
    dashboard: bool = False,
    retry_failures: bool = False,
    watcher: Watcher | None = None,
    evaluator: str = EVALUATOR,
) -> Summary:
    """Run a study, or go on with it where it was left, until every case has a row in the store.

    study           a study file, or a Study from `read_study`.
    store           file of the results; results/<name of the study file>/cases.sqlite where not given.
    night           true: the long version ([night] of the study file).
    scheduler       address of a running Dask scheduler ("tcp://host:8786"); a cluster of all cores is started where
                    not given.
    workers         processes of that own cluster; as many as cores where not given.
    retry_failures  try cases again that failed or were stopped.
    watcher         told about progress; `study.progress` has one for the terminal.
    evaluator       "module:function" that answers for one design.

    From a script, call it under `if __name__ == "__main__":`, because each worker process imports that script.
    Raises StudyError for a study or store that cannot be used, a store in use by another run, a full disk, a lost
    scheduler.
    """
    if not isinstance(study, Study):
        study = read_study(study, night=night)
    watcher = watcher or Silent()
    sampler, store = Sampler(study), place_of(study, store)
    if evaluator == EVALUATOR:
        study.check_figures((*FIGURES, *(STROKE_FIGURES if "stroke" in study.recipe.base else ())))
        try_cases(study, sampler)
    if study.how == "sensitivity" and len(sampler) != study.cases:
        count = len(study.free_variables)
        watcher.note(
            f"a sensitivity plan of {count} things that vary takes {len(sampler)} of the {study.cases} cases asked "
            f"for: a power of two times {count + 2}"
        )
    with open_store(study, store) as book:
        if retry_failures and (count := book.forget_failures()):
            watcher.note(f"{count} cases that failed before are tried again")
        before, threads, solving, seconds = book.counts(), 0, 0.0, 0.0
        ending = "stopped"
        try:
            if sum(before.values()) < len(sampler):
                with client_of(scheduler, workers, dashboard, watcher) as client:
                    threads = max(sum(client.nthreads().values()), 1)
                    book.begin_run(threads)
                    watcher.begin(book.path, len(sampler), before, threads)
                    job = pickle.dumps(Job(study.recipe, evaluator, study.time_limit))
                    begun = time.monotonic()
                    solving = _Round(client, book, study, sampler, job, watcher).run()
                    seconds = time.monotonic() - begun
            else:
                watcher.begin(book.path, len(sampler), before, 0)
            ending = "complete"
        except StudyError as error:
            ending = str(error)
            raise
        except KeyboardInterrupt:
            ending = "interrupted"
            raise
        finally:
            if threads:
                try:
                    book.end_run(ending)
                except StudyError as error:
                    log.error("%s", error)
        summary = Summary(book.path, len(sampler), before, book.counts(), seconds, threads, solving)
        watcher.end(summary)
        return summary


@dataclass
class _Batch:
    cases: list[Case]
    begun: float = field(default_factory=time.monotonic)


class _Round:
    """The loop of one run: plan, submit, collect, store."""

    def __init__(self, client: Any, store: Store, study: Study, sampler: Sampler, job: bytes, watcher: Watcher) -> None:
        self._client, self._store, self._study, self._watcher = client, store, study, watcher
        self._job = job
        self._waiting = Planned(sampler, store.numbers())
        self._again: deque[list[Case]] = deque()
        self._flying: dict[Any, _Batch] = {}
        self._landed: queue.SimpleQueue[Any] = queue.SimpleQueue()
        self._unsaved: list[Row] = []
        self._saved_at = time.monotonic()
        self._case_seconds: float | None = None
        self._solving, self._taken = 0.0, 0
        self._room, self._room_asked = 0, 0.0

    def run(self) -> float:
        """Until every case has its row; the solving seconds of them all."""
        try:
            while self._fill() or self._flying:
                self._collect()
                self._save(COMMIT_SECONDS)
        finally:
            self._save(0.0)
        return self._solving

    def _fill(self) -> bool:
        """Keep the workers busy; False when nothing is left to submit."""
        now = time.monotonic()
        if now - self._room_asked > 2.0:
            threads = sum(self._client.nthreads().values())
            if threads == 0 and self._room > 0:
                self._watcher.note("no worker is connected; waiting for one")
            self._room, self._room_asked = max(threads, 1) * TASKS_PER_THREAD, now
        while len(self._flying) < self._room:
            cases = self._again.popleft() if self._again else self._waiting.take(self._batch_size())
            if not cases:
                return False
            future = self._client.submit(run_batch, self._job, cases, __version__, pure=False, retries=0)
            self._flying[future] = _Batch(cases)
            future.add_done_callback(self._landed.put)
        return True

    def _batch_size(self) -> int:
        if self._case_seconds is None:  # nothing solved yet: feel the way
            return min(2**self._taken, 64)
        case_seconds = max(self._case_seconds, 1e-6)
        least = self._room / TASKS_PER_THREAD / MOST_TASKS_A_SECOND / case_seconds
        share = self._waiting.left / self._room
        return max(int(min(max(share, least), max(BATCH_SECONDS / case_seconds, least), LARGEST_BATCH)), 1)

    def _collect(self) -> None:
        """Take in the tasks that have ended, if any does within a moment."""
        try:
            ended = [self._landed.get(timeout=0.2)]
        except queue.Empty:
            self._check_scheduler()
            return
        while len(ended) < GATHERED_AT_ONCE and not self._landed.empty():
            ended.append(self._landed.get())
        finished = [future for future in ended if future.status == "finished"]
        answers = self._gather(finished)
        for future in ended:
            batch = self._flying.pop(future)
            if future in answers:
                self._take(answers[future])
            elif future.status == "error":
                self._mend(batch, future.exception())
            else:
                self._check_scheduler(wait=5.0)
                self._again.append(batch.cases)
            future.release()

    def _gather(self, finished: list[Any]) -> dict[Any, list[Row]]:
        """Results of finished tasks in one go; without those that were lost on the way."""
        try:
            return dict(zip(finished, self._client.gather(finished), strict=True)) if finished else {}
        except Exception:  # one of them was lost with its worker, or the scheduler is gone: look at each
            answers = {}
            for future in finished:
                try:
                    answers[future] = future.result(timeout=10)
                except Exception as error:
                    log.debug("a finished task was lost: %s", error)
            return answers

    def _take(self, rows: list[Row]) -> None:
        seconds = sum(row.seconds or 0.0 for row in rows)
        self._solving += seconds
        self._taken += 1
        self._unsaved += rows
        solved = sum(row.status != DISCARDED for row in rows)  # those discarded take no time, and come in droves
        if solved:
            mean = seconds / solved
            self._case_seconds = mean if self._case_seconds is None else 0.8 * self._case_seconds + 0.2 * mean

    def _mend(self, batch: _Batch, error: BaseException) -> None:
        """A batch that cost several workers their lives is taken apart, a case that does becomes a failed row."""
        if not killed_its_workers(error):
            raise StudyError(f"the workers cannot solve cases: {error}") from error
        if len(batch.cases) > 1:
            self._again += [[case] for case in batch.cases]
            return
        number, values = batch.cases[0]
        recipe = self._study.recipe
        fingerprint = recipe.fingerprint(recipe.design_of(values))
        reason = "every worker that tried it was killed"
        self._unsaved.append(Row(number, FAILED, reason, inputs_text(recipe, values), fingerprint))

    def _check_scheduler(self, wait: float = 0.0) -> None:
        until = time.monotonic() + wait
        while self._client.status != "running":
            if time.monotonic() >= until:
                raise StudyError(LOST)
            time.sleep(0.1)

    def _save(self, after: float) -> None:
        if self._unsaved and time.monotonic() - self._saved_at >= after:
            rows, self._unsaved = self._unsaved, []
            self._store.add(rows)
            self._saved_at = time.monotonic()
            self._watcher.rows(rows)
