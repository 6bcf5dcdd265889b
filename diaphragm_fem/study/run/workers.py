"""Who solves the cases of a sweep: threads of this process, each with a solver process of its own.

A thread and its solver talk over a pipe that nobody else can open: no port is opened, so nobody can send work or read
answers from outside. Solvers never see Ctrl-C or a signal to end: the command alone decides what these mean. (Workers
of a Dask scheduler, on any number of machines, are told of in `cluster`.)
"""

from __future__ import annotations

import signal
import threading
from collections.abc import Hashable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any, Protocol

from diaphragm_fem import __version__
from diaphragm_fem.answer.cores import cores
from diaphragm_fem.answer.held_signals import SIGNALS, signals_held_back
from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.run.solver_process import Case, Guard
from diaphragm_fem.study.run.store import Row


class WorkerKilled(Exception):
    """A task failed because the workers that tried it died."""


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


@dataclass
class _Lane:
    """A thread with its solver, what it was given and has not ended, and what the cases share that it was given last:
    its solver has the span of walls that answers for them."""

    guard: Guard
    thread: ThreadPoolExecutor
    given: list[Future[list[Row]]] = field(default_factory=list)
    span: Hashable = None


class OwnWorkers:
    """Solvers on this machine, as many as cores where no count is given. They begin to load at once, so that a command
    may read its study meanwhile, which takes as long (0.7 s); they end with the block.
    """

    def __init__(self, count: int | None = None) -> None:
        self._guards = [Guard() for _ in range(count or cores())]
        with signals_held_back():  # which they inherit
            for guard in self._guards:
                guard.begin()
        self._begun: list[threading.Thread] = []
        self._lanes = [_Lane(guard, ThreadPoolExecutor(1, "solver", initializer=self._begin)) for guard in self._guards]

    def __enter__(self) -> OwnWorkers:
        return self

    def __exit__(self, *ending: object) -> None:
        with signals_held_back():  # a second Ctrl-C half way
            self.close()

    def size(self) -> int:
        return len(self._guards)

    def last_span(self) -> Hashable:
        return self._next().span

    def submit(self, job: bytes, cases: Sequence[Case], span: Hashable = None) -> Future[list[Row]]:
        lane = self._next()
        lane.span = span
        try:
            lane.given.append(lane.thread.submit(run_batch, job, cases, __version__, lane.guard))
        except RuntimeError as error:  # what Python says where the system gives no thread
            raise StudyError(
                f"no worker can be started ({error}): this machine, or a limit set on this command, has too little "
                "memory or too many processes. Fewer --workers need less of both"
            ) from error
        return lane.given[-1]

    def _next(self) -> _Lane:
        """Whoever has the fewest tasks."""
        for lane in self._lanes:
            lane.given = [future for future in lane.given if not future.done()]
        return min(self._lanes, key=lambda lane: len(lane.given))

    def outcomes(self, ended: Sequence[Future[list[Row]]]) -> dict[Any, Outcome]:
        return {future: future.exception() or future.result() for future in ended}

    def check(self, wait: float = 0.0) -> None:
        if not all(thread.is_alive() for thread in self._begun):
            raise StudyError(
                "a thread that minds a solver has ended with its cases, most likely as there was not enough memory: "
                "what is stored is safe; start the study again"
            )

    def _begin(self) -> None:
        """What a thread does first: for its life and that of the processes it starts, signals are the command's."""
        if hasattr(signal, "pthread_sigmask"):
            signal.pthread_sigmask(signal.SIG_BLOCK, SIGNALS)
        self._begun.append(threading.current_thread())

    def close(self) -> None:
        for lane in self._lanes:
            lane.thread.shutdown(wait=False, cancel_futures=True)
        for guard in self._guards:
            guard.retire()
        for lane in self._lanes:
            lane.thread.shutdown()
