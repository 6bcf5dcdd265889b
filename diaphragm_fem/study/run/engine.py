"""The engine: spreads the cases of a study over workers and brings their rows into the store.

A task is a batch of cases; a few tasks per worker are in flight and no more, so that neither a scheduler nor this
process grows with the study. What a case answers depends on nothing but the case.

A solver that is killed is started anew by its thread, a worker of a scheduler that is killed: Dask gives its tasks to
another. A batch that has cost several workers is taken apart, and a case that goes on killing becomes a failed row. A
scheduler that is lost ends the run with what is stored; the next start goes on.
"""

import logging
import pickle
import queue
import time
from collections import deque
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

from diaphragm_fem.analysis.figures.definitions import DEFINITIONS, MEASURES
from diaphragm_fem.design.driver.driver import TABLES
from diaphragm_fem.errors import StudyError, lacks_memory
from diaphragm_fem.study.plan.drawing_board import try_cases
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.shared_walls import shared_walls
from diaphragm_fem.study.plan.study import Recipe, Study
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.case_row import CHANGED, EVALUATOR, OUT_OF_REACH, given_up
from diaphragm_fem.study.run.cluster import workers_of_scheduler
from diaphragm_fem.study.run.guard import KILLED, LOST
from diaphragm_fem.study.run.pending_cases import TASKS_PER_WORKER, Planned, batch_size
from diaphragm_fem.study.run.progress import Silent, Summary, Watcher, show_duration
from diaphragm_fem.study.run.solver_process import Case, Job
from diaphragm_fem.study.run.store import DISCARDED, FAILED, Row, Store, open_store, place_of
from diaphragm_fem.study.run.workers import OwnWorkers, WorkerKilled, Workers

GATHERED_AT_ONCE = 64
COMMIT_SECONDS = 0.5
LONG_SECONDS = 3600.0  # a study that takes longer says so before more than its first cases are handed out
FELT = 2  # tasks with solved cases beyond a worker's first after which the pace is known; till then it gets one by one
MOST_STARTING = 8
DISCARDS_TOLD = 500  # cases discarded and none solved: they come in within seconds
HOPELESS = 3  # first cases that all end their solver: each takes fresh ones, and a night would go by with none solved
MAKING_READY = (
    "making ready: as parts scatter, solvers first learn what their joints yield all over the scatter; 5 to 15 s, "
    "longer where there are many"
)
log = logging.getLogger("diaphragm_fem.study")


def run_study(
    study: str | Path | Study,
    *,
    store: str | Path | None = None,
    scheduler: str | None = None,
    workers: int | OwnWorkers | None = None,
    certificates: str | Path | None = None,
    retry_failures: bool = False,
    watcher: Watcher | None = None,
    evaluator: str = EVALUATOR,
) -> Summary:
    """Run a study, or go on with it where it was left, until every case has a row in the store.

    study           a study file, or a Study from `read_study`.
    store           file of the results; results/<name of the study file>.study/cases.sqlite where not given.
    workers         solver processes on this machine, or those that were started for it already; as many as cores where
                    not given.
    scheduler       address of a running Dask scheduler ("tls://host:8786"), whose workers solve instead.
    certificates    for tls://, the folder of ca.pem, cert.pem and key.pem.
    retry_failures  try cases again that failed or were stopped.
    watcher         told about progress; `study.progress` has one for the terminal.
    evaluator       "module:function" that answers for one design.

    Raises StudyError for a study or store that cannot be used, a store in use by another run, a full disk, a lost
    scheduler.
    """
    study = read_study(study)
    watcher = watcher or Silent()
    sampler, store = Sampler(study), place_of(study, store)
    if evaluator == EVALUATOR:
        study.check_figures(_figure_names(study.recipe))
        for told in try_cases(study, sampler):
            watcher.note(told)
    if study.how == "sensitivity" and len(sampler) != study.cases:
        count = len(study.free_variables)
        watcher.note(
            f"a sensitivity plan of {count} things that vary takes {len(sampler)} of the {study.cases} cases asked "
            f"for: a power of two times {count + 2}"
        )
    with open_store(study, store) as book:
        if retry_failures and (count := book.forget_failures()):
            watcher.note(f"{count} cases that failed before are tried again")
        book.check()
        before, seconds = book.counts(), 0.0
        with _ending_told(book):
            if sum(before.values()) < len(sampler):
                with _crew(workers, scheduler, certificates, watcher, evaluator) as crew:
                    threads = max(crew.size(), 1)
                    book.begin_run(threads)
                    watcher.begin(book.path, len(sampler), before, threads)
                    job = _job(study, book, watcher, evaluator, anywhere=scheduler is not None)
                    begun = time.monotonic()
                    _Round(crew, book, study, sampler, job, watcher).run()
                    seconds = time.monotonic() - begun
            else:
                watcher.begin(book.path, len(sampler), before, 0)
        after, lost = book.counts(), book.count_lost((*LOST, CHANGED, OUT_OF_REACH))
        summary = Summary(book.path, len(sampler), before, after, lost, seconds)
        watcher.end(summary)
        return summary


@contextmanager
def _ending_told(book: Store) -> Iterator[None]:
    """A store is told how the run ended that began in it, if one did."""
    ending = "stopped"
    try:
        yield
        ending = "complete"
    except StudyError as error:
        ending = str(error)
        raise
    except KeyboardInterrupt:
        ending = "interrupted"
        raise
    finally:
        try:
            book.end_run(ending)
        except StudyError as error:
            if str(error) != ending:  # which is told as it ends
                log.error("%s", error)


def _crew(
    workers: int | OwnWorkers | None,
    scheduler: str | None,
    certificates: str | Path | None,
    watcher: Watcher,
    evaluator: str,
) -> AbstractContextManager[Workers]:
    """Who solves: the workers of a scheduler, those started already, or some started now."""
    if scheduler is not None:
        return workers_of_scheduler(scheduler, certificates, watcher)
    return workers if isinstance(workers, OwnWorkers) else OwnWorkers(workers, evaluator)


def _job(study: Study, book: Store, watcher: Watcher, evaluator: str, *, anywhere: bool) -> bytes:
    """What solvers are told of a study, `anywhere` if they may stand on other machines."""
    if evaluator == EVALUATOR and study.recipe.spreads_parts:
        watcher.note(MAKING_READY)
    joints = _shared(book.joints, watcher) if study.recipe.joints else None
    recipe = study.recipe.from_anywhere if anywhere else study.recipe
    return pickle.dumps(Job(recipe, evaluator, study.time_limit, joints))


def _figure_names(recipe: Recipe) -> list[str]:
    """What the usual evaluator tells of a design; what only some designs have is loaded for these: half of a start."""
    names = [*DEFINITIONS, *MEASURES]
    if "stroke" in recipe.base:
        from diaphragm_fem.answer.stroke.figures import STROKE_FIGURES, stroke_figure_names

        varied = any(key.partition(".")[0] == "stroke" for one in recipe.variables for key in one.keys)
        names += STROKE_FIGURES if varied else stroke_figure_names(recipe.base)
    if not recipe.in_vacuum and any(table in recipe.base for table in TABLES):
        from diaphragm_fem.answer.driver.figures import driver_figure_names

        names += driver_figure_names(recipe.base)
    return names


def _shared(joints: Path, watcher: Watcher) -> str | None:
    """The file in which solvers share what joints yield, if they may."""
    from diaphragm_fem.model.joint.trust import begin_sharing

    shared, told = begin_sharing(joints)
    if told:
        watcher.note(told)
    return str(joints) if shared else None


class _Round:
    """The loop of one run: plan, submit, collect, store."""

    def __init__(
        self, workers: Workers, store: Store, study: Study, sampler: Sampler, job: bytes, watcher: Watcher
    ) -> None:
        self._workers, self._store, self._study, self._watcher = workers, store, study, watcher
        self._job = job
        self._span_of = shared_walls(study.recipe).span_of
        self._waiting = Planned(sampler, store.numbers(), self._span_of)
        self._again: deque[list[Case]] = deque()
        self._flying: dict[Any, list[Case]] = {}
        self._landed: queue.SimpleQueue[Any] = queue.SimpleQueue()
        self._unsaved: list[Row] = []
        self._saved_at = time.monotonic()
        self._case_seconds: float | None = None
        self._taken = self._solved = self._discarded = self._ended = self._felt = 0
        self._survived = False
        self._size, self._size_asked = 0, 0.0

    @property
    def _starting(self) -> int:
        """How many tasks may be the first of their worker."""
        return min(self._size, MOST_STARTING)

    def run(self) -> None:
        """Until every case has its row."""
        try:
            while self._fill() or self._flying:
                self._collect()
                self._save(COMMIT_SECONDS)
        finally:
            self._save(0.0)

    def _fill(self) -> bool:
        """Keep the workers busy; False when nothing is left to submit."""
        now = time.monotonic()
        if now - self._size_asked > 2.0:
            size = self._workers.size()
            if size == 0 and self._size > 0:
                self._watcher.note("no worker is connected; waiting for one")
            self._size, self._size_asked = max(size, 1), now
        while len(self._flying) < self._size * (TASKS_PER_WORKER if self._felt >= self._starting + FELT else 1):
            size = batch_size(self._case_seconds, self._waiting.left, self._size, self._taken)
            span = self._workers.last_span()
            cases = self._again.popleft() if self._again else self._waiting.take(size, span)
            if not cases:
                return False
            future = self._workers.submit(self._job, cases, self._span_of(cases[0][1]))
            self._flying[future] = cases
            future.add_done_callback(self._landed.put)
        return True

    def _collect(self) -> None:
        """Take in the tasks that have ended, if any does within a moment."""
        try:
            ended = [self._landed.get(timeout=0.2)]
        except queue.Empty:
            self._workers.check()
            ended = [future for future in self._flying if future.done()]  # whose callback failed, as without memory
        while len(ended) < GATHERED_AT_ONCE and not self._landed.empty():
            ended.append(self._landed.get())
        for future, outcome in self._workers.outcomes([future for future in ended if future in self._flying]).items():
            cases = self._flying.pop(future)
            if isinstance(outcome, list):
                self._take(outcome)
            elif outcome is None:
                self._workers.check(wait=5.0)
                self._again.append(cases)
            elif isinstance(outcome, WorkerKilled):
                self._take_apart(cases)
            else:
                short = "there is not enough memory" if lacks_memory(outcome) else str(outcome)
                raise StudyError(f"the workers cannot solve cases: {short}") from outcome

    def _take(self, rows: list[Row]) -> None:
        seconds = sum(row.seconds or 0.0 for row in rows)
        self._taken += 1
        self._unsaved += rows
        solved = sum(row.status != DISCARDED for row in rows)  # those discarded take no time, and come in droves
        if solved:
            mean = seconds / solved
            first = self._case_seconds is None or self._felt <= self._starting  # these load what solving needs
            smooth = mean if first else 0.8 * (self._case_seconds or 0.0) + 0.2 * mean
            self._case_seconds = min(mean, smooth)  # what takes longer may have made a span for those that follow
        before = self._discarded
        self._solved, self._discarded = self._solved + solved, before + len(rows) - solved
        self._felt += solved > 0
        if solved and self._felt == self._starting + FELT:
            self._tell_how_long()
        if not self._solved and before < DISCARDS_TOLD <= self._discarded:
            self._watcher.note(
                f"all of the first {self._discarded} cases were discarded, the last one because it breaks "
                f'"{rows[-1].reason}"; Ctrl-C stops this, and [keep] in {self._study.path} says what is discarded'
            )
        self._expect_survivors(rows)

    def _tell_how_long(self) -> None:
        left = self._waiting.left + sum(map(len, self._flying.values()))
        case_seconds = self._case_seconds or 0.0
        solved = self._solved / (self._solved + self._discarded)  # the share of them that takes time
        if (seconds := left * solved * case_seconds / self._size) > LONG_SECONDS:
            self._watcher.note(
                f"about {show_duration(seconds)} for the {left} cases left, at {case_seconds:.2g} s a case on "
                f"{self._size} workers; Ctrl-C stops it, what is stored stays, and it goes on from there"
            )

    def _expect_survivors(self, rows: list[Row]) -> None:
        """Where a command has too little memory no case is ever solved, and each takes a fresh solver or two."""
        for row in rows:
            if not (row.status == FAILED and (row.reason or "").startswith(LOST)):
                self._survived = self._survived or row.status != DISCARDED
                continue
            self._ended += not self._survived
            if self._ended == HOPELESS:
                raise StudyError(
                    f"each of the first {HOPELESS} cases ended its solver (the last one: {row.reason}): most likely "
                    "this machine, or a limit set on this command, has too little memory for them. Fewer --workers "
                    "leave more for each; start the study again with --retry"
                )

    def _take_apart(self, cases: list[Case]) -> None:
        """A batch that cost several workers their lives is taken apart, a case that does becomes a failed row."""
        if len(cases) > 1:
            self._again += [[case] for case in cases]
        else:
            self._unsaved.append(given_up(self._study.recipe, cases[0], FAILED, KILLED))

    def _save(self, after: float) -> None:
        if self._unsaved and time.monotonic() - self._saved_at >= after:
            rows = self._unsaved
            self._store.add(rows)  # may be interrupted, and is then done again: a row that is there stays as it is
            self._unsaved = []
            self._saved_at = time.monotonic()
            self._watcher.rows(rows)
