"""What keeps a solver process, so that no case takes its worker along: not by hanging, not by crashing.

A `Guard` sends lists of cases and gets rows back one by one over a pipe. A case that outlasts its limits ends the
solver (see `solver_process`), and the guard starts another for the cases that remain. A crash (a signal, memory gone)
is tried once more in a fresh solver, because it may have come from outside; the second time it is the case's own fault.
What ends a solver as it looks ahead (see `look_ahead`) is no case's fault, and the solvers that follow look no more.

A library's pool of processes (Pebble) was tried and failed three of the kill tests: DEVELOPERS.md tells.
"""

import contextlib
import os
import pickle
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from multiprocessing.connection import Connection, Pipe
from typing import IO, Any

from diaphragm_fem.study.run.solver_process import (
    BACK,
    LEAVING,
    LOOKING,
    OUT_OF_MEMORY,
    PATIENCE,
    STAYING,
    Case,
    handing,
)
from diaphragm_fem.study.run.store import FAILED, STOPPED, Row

KEEP_MEMORY = {"MALLOC_TRIM_THRESHOLD_": "1000000000", "MALLOC_MMAP_THRESHOLD_": "1000000000"}  # bytes, for glibc
ONE_THREAD = {
    f"{name}_THREADS": "1" for name in ("OMP_NUM", "OPENBLAS_NUM", "MKL_NUM", "VECLIB_MAXIMUM", "NUMEXPR_NUM")
}
GRACE = 5.0  # s the guard waits beyond the solver's own alarms; also covers a machine that was busy
LOOK = 1.0  # s that is waited for an answer at a time: one that takes longer by more than GRACE was a pause
START_LIMIT = 600.0  # s for a solver to start, libraries loaded, and to make ready for a study
REST = 0.03  # s between looks at the pipe while many short cases remain: each look takes the solver's processor away

DIED = "its process died twice"
KILLED = "every worker that tried it was killed"
LOST = (OUT_OF_MEMORY, DIED, KILLED)  # how reasons begin of cases that another machine or hour may solve


class Guard:
    """One solver process, which begins to load an evaluator, the usual one where none is named, and the pipe to it."""

    def __init__(self, evaluator: str = "") -> None:
        self._evaluator = evaluator
        self._solver: subprocess.Popen[bytes] | None = None
        self._pipe: Connection | None = None
        self._job: bytes = b""
        self._words: IO[bytes]  # what the solver says while it starts; afterwards it keeps quiet
        self._together = True  # until a solver ends while it looks ahead: from then on each case is made at its turn
        self._retired = False
        self._paused = False  # whether this process was stopped since the last row: by Ctrl-Z, which stops both
        self._starting = threading.Lock()

    def rows(self, job: bytes, cases: Sequence[Case]) -> Iterator[Row]:
        """The rows of the cases, in their order. `job` is a pickled Job."""
        waiting, crashed = list(cases), -1
        while waiting:
            pipe = self._ready(job)
            time_limit, looking = pickle.loads(job).time_limit, False
            try:
                pipe.send((waiting, self._together))
                while (answer := self._received(pipe, time_limit)) not in (STAYING, LEAVING):
                    if answer in (LOOKING, BACK):
                        looking = answer == LOOKING
                        continue
                    waiting.pop(0)
                    self._paused = False
                    yield answer
                    if len(waiting) * (answer.seconds or 0.0) > 2 * REST and not pipe.poll():
                        time.sleep(REST)
                if answer == LEAVING:
                    self._end()
            except TimeoutError:
                self.stop()
                if looking:
                    self._together = False
                else:
                    yield self._given_up(job, waiting.pop(0), STOPPED, _waited(time_limit))
            except (EOFError, OSError):
                code = self._end()
                number = waiting[0][0]
                if looking:
                    self._together = False
                elif code == -getattr(signal, "SIGPROF", 0):
                    yield self._given_up(job, waiting.pop(0), STOPPED, f"stopped at the time limit of {time_limit:g} s")
                elif code == -getattr(signal, "SIGALRM", 0):
                    if self._paused:  # the clock went on while nobody worked: once more
                        self._paused = False
                        continue
                    yield self._given_up(job, waiting.pop(0), STOPPED, _waited(time_limit))
                elif crashed == number:
                    yield self._given_up(job, waiting.pop(0), FAILED, f"{DIED}, {_how(code)}")
                else:
                    crashed = number
            except BaseException:  # memory short for a row, the thread left: no later case may read what this one says
                self.stop()
                raise

    def begin(self) -> None:
        """Start the solver, that it may load; where that fails, the first case tries once more, and tells why."""
        with contextlib.suppress(OSError):
            self._start()

    def retire(self) -> None:
        """End the solver from another thread, and start none again."""
        with self._starting:
            self._retired = True
            if self._solver is not None:
                self._solver.kill()

    def stop(self) -> None:
        """End the solver, whatever it is at."""
        if self._solver is not None:
            self._solver.kill()
            self._end()

    def _ready(self, job: bytes, more: int = 2) -> Connection:
        """The pipe to a solver that is ready for a job; one that is killed as it makes ready is followed by `more`."""
        if self._pipe is None:
            self._start()
        pipe = self._pipe
        assert pipe is not None
        if self._job != job:
            try:
                pipe.send_bytes(job)
                if not pipe.poll(START_LIMIT):
                    raise TimeoutError("does not answer")
                trouble = pipe.recv()
            except (EOFError, OSError) as error:
                code = self._end()
                if code < 0 < more and not isinstance(error, TimeoutError):
                    return self._ready(job, more - 1)
                self._words.seek(0)
                last = self._words.read().decode(errors="replace").strip().rpartition("\n")[2]
                how = _how(code) if code else str(error)
                raise RuntimeError(f"the solver process does not start ({how}): {last}") from error
            if trouble:
                self.stop()
                raise RuntimeError(f"the solver process cannot work: {trouble}")
            self._job = job
        return pipe

    def _start(self) -> None:
        ours, theirs = Pipe()
        command = [
            sys.executable,
            "-P",  # else a pickle.py in the folder in which a study is run would be loaded in place of Python's own
            "-c",
            "from diaphragm_fem.answer.machine.room import claim_work_areas; claim_work_areas(); "
            "from diaphragm_fem.study.run.solver_process import serve; "
            f"serve({theirs.fileno()}, {os.getpid()}, {self._evaluator!r})",
        ]
        environment = {**os.environ, **ONE_THREAD, "PYTHONPATH": os.pathsep.join(filter(os.path.isabs, sys.path))}
        # Dask has its workers give memory back at once; a solver that does so asks for it again with every array, and
        # takes twice the time. Its size is minded by GROWN instead.
        environment |= KEEP_MEMORY
        self._words = tempfile.TemporaryFile()  # noqa: SIM115  read when the solver has failed to start
        nowhere = subprocess.DEVNULL
        with self._starting:
            if self._retired:
                raise RuntimeError("the workers are going home")
            self._solver = subprocess.Popen(
                command, stdin=nowhere, stdout=nowhere, stderr=self._words, env=environment, **handing(theirs)
            )
        theirs.close()
        self._pipe, self._job = ours, b""

    def _end(self) -> int:
        """Wait for a solver that is ending; its exit code, negative for a signal."""
        assert self._solver is not None
        try:
            code = self._solver.wait(GRACE)
        except subprocess.TimeoutExpired:
            self._solver.kill()
            code = self._solver.wait()
        if self._pipe is not None:
            self._pipe.close()
        self._solver = self._pipe = None
        return code

    def _received(self, pipe: Connection, time_limit: float) -> Any:
        """What the solver says next; TimeoutError where it says nothing for too long, pauses of both not counted."""
        left = PATIENCE * time_limit + GRACE
        while left > 0:
            begun = time.monotonic()
            answered = pipe.poll(LOOK)
            self._paused |= time.monotonic() - begun > LOOK + GRACE
            if answered:
                return pipe.recv()
            left -= LOOK
        raise TimeoutError

    @staticmethod
    def _given_up(job: bytes, case: Case, status: str, reason: str) -> Row:
        from diaphragm_fem.study.run.case_row import given_up

        return given_up(pickle.loads(job).recipe, case, status, reason)


def _waited(time_limit: float) -> str:
    return f"stopped after {PATIENCE * time_limit:g} s on the clock, ten times the time limit"


def _how(code: int) -> str:
    if code >= 0:
        return f"exit code {code}"
    memory = " (what a system does whose memory has run out)" if code == -getattr(signal, "SIGKILL", 0) else ""
    with contextlib.suppress(ValueError):
        return f"signal {signal.Signals(-code).name}{memory}"
    return f"signal {-code}"
