"""Who solves the cases of a sweep: threads of this process, each with a solver process of its own.

A thread and its solver talk over a pipe that nobody else can open: no port is opened, so nobody can send work or read
answers from outside. Solvers never see Ctrl-C or a signal to end: the command alone decides what these mean. (Workers
of a Dask scheduler, on any number of machines, are told of in `cluster`.)
"""

from __future__ import annotations

import signal
import threading
from collections import deque
from collections.abc import Hashable, Sequence
from concurrent.futures import Future
from dataclasses import dataclass, field
from typing import Any, NamedTuple, Protocol

from diaphragm_fem import __version__
from diaphragm_fem.answer.machine.cores import SIGNALS, cores, signals_held_back
from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.run.guard import Guard
from diaphragm_fem.study.run.solver_process import Case
from diaphragm_fem.study.run.store import Row


class WorkerKilled(Exception):
    """A task failed because the workers that tried it died."""


FEW, AT_MOST = 32, 4  # workers: so many are started anywhere; more are no more than so many a core
Outcome = list[Row] | BaseException | None  # of a task: its rows, what it raised, or None where it was lost on the way


class Workers(Protocol):
    """What the engine asks of those that solve."""

    def size(self) -> int:
        """Tasks that can be worked on at once."""

    def last_span(self) -> Hashable:
        """What the cases share that the worker was given last who is given the next."""

    def submit(self, job: bytes, cases: Sequence[Case], span: Hashable = None) -> Any:
        """A future of the rows, with `add_done_callback`; span: what the cases share."""

    def outcomes(self, ended: Sequence[Any]) -> dict[Any, Outcome]:
        """What became of futures that have ended, each asked for once."""

    def check(self, wait: float = 0.0) -> None:
        """StudyError where nobody is left, and does not come back within `wait` seconds."""


def run_batch(job: bytes, cases: Sequence[Case], version: str, guard: Guard | None = None) -> list[Row]:
    """A task: the rows of a batch of cases. On a worker of a scheduler every thread has a solver process of its own."""
    if version != __version__:
        raise RuntimeError(
            f"the worker runs version {__version__} of the program, the command {version}; install the same on both"
        )
    if guard is not None:
        return list(guard.rows(job, cases))
    with _guards_lock:
        guard = _guards.pop() if _guards else Guard()
    try:
        return list(guard.rows(job, cases))
    finally:
        with _guards_lock:
            _guards.append(guard)


_guards: list[Guard] = []
_guards_lock = threading.Lock()


class _Task(NamedTuple):
    future: Future[list[Row]]
    job: bytes
    cases: Sequence[Case]
    span: Hashable


@dataclass
class _Lane:
    """A thread with its solver, the task that it began last, and those that wait for it."""

    guard: Guard
    thread: threading.Thread | None = None
    begun: _Task | None = None
    waiting: deque[_Task] = field(default_factory=deque)

    @property
    def load(self) -> int:
        """Tasks that wait or are worked on."""
        return len(self.waiting) + (self.begun is not None and not self.begun.future.done())

    @property
    def last_span(self) -> Hashable:
        """What the cases of its last task share: its solver then has the span of walls that answers for them."""
        last = self.waiting[-1] if self.waiting else self.begun
        return last and last.span


class OwnWorkers:
    """Solvers on this machine, as many as cores where no count is given. They begin to load at once, so that a command
    may read its study meanwhile, which takes as long (0.7 s); they end with the block.

    Whoever has nothing left takes what another has not begun, so that nothing waits behind a slow case.
    """

    def __init__(self, count: int | None = None, evaluator: str = "") -> None:
        if (count or 0) > (most := max(FEW, AT_MOST * cores())):  # a slip would take all memory before Ctrl-C is heard
            raise StudyError(f"{count} workers are too many for {cores()} cores: give {most} at most")
        self._lanes = [_Lane(Guard(evaluator)) for _ in range(count or cores())]
        with signals_held_back():  # which they inherit
            for lane in self._lanes:
                lane.guard.begin()
        self._change = threading.Condition()
        self._closed = False

    def __enter__(self) -> OwnWorkers:
        return self

    def __exit__(self, *ending: object) -> None:
        with signals_held_back():  # a second Ctrl-C half way
            self.close()

    def size(self) -> int:
        return len(self._lanes)

    def last_span(self) -> Hashable:
        with self._change:  # else its last task may be taken between two looks at it
            return self._next().last_span

    def submit(self, job: bytes, cases: Sequence[Case], span: Hashable = None) -> Future[list[Row]]:
        task = _Task(Future(), job, cases, span)
        with self._change:
            lane = self._next()
            if lane.thread is None:
                thread = threading.Thread(target=self._work, args=(lane,), name="solver", daemon=True)
                try:
                    thread.start()
                except RuntimeError as error:  # what Python says where the system gives no thread
                    raise StudyError(
                        f"no worker can be started ({error}): this machine, or a limit set on this command, has too "
                        "little memory or too many processes. Fewer --workers need less of both"
                    ) from error
                lane.thread = thread
            lane.waiting.append(task)
            self._change.notify_all()
        return task.future

    def _next(self) -> _Lane:
        """Whoever has the fewest tasks."""
        return min(self._lanes, key=lambda lane: lane.load)

    def outcomes(self, ended: Sequence[Future[list[Row]]]) -> dict[Any, Outcome]:
        return {future: future.exception() or future.result() for future in ended}

    def check(self, wait: float = 0.0) -> None:
        if not all(lane.thread is None or lane.thread.is_alive() for lane in self._lanes):
            raise StudyError(
                "a thread that minds a solver has ended with its cases, most likely as there was not enough memory: "
                "what is stored is safe; start the study again"
            )

    def _work(self, lane: _Lane) -> None:
        """A thread: one task after the other. For its life and that of the processes it starts, signals are the
        command's."""
        if hasattr(signal, "pthread_sigmask"):
            signal.pthread_sigmask(signal.SIG_BLOCK, SIGNALS)
        while (task := self._taken(lane)) is not None:
            try:
                rows = run_batch(task.job, task.cases, __version__, lane.guard)
            except BaseException as error:
                task.future.set_exception(error)
            else:
                task.future.set_result(rows)

    def _taken(self, lane: _Lane) -> _Task | None:
        """Its next task, else the last one of whoever has most before it; None when all is over."""
        with self._change:
            while not self._closed:
                most = max(self._lanes, key=lambda one: one.load)
                if lane.waiting or most.load > 1:
                    lane.begun = lane.waiting.popleft() if lane.waiting else most.waiting.pop()
                    return lane.begun
                self._change.wait()
        return None

    def close(self) -> None:
        with self._change:
            self._closed = True
            self._change.notify_all()
        for lane in self._lanes:
            lane.guard.retire()
        for lane in self._lanes:
            if lane.thread is not None:
                lane.thread.join()
