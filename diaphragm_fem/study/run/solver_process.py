"""Cases solved in a process of their own: read from a pipe, answered with rows.

Before each case the solver asks the operating system to end it once the case has taken its limit of processor time, or
ten times that on the clock: the first lets a machine pause or be busy with others, the second ends a case that only
waits, even inside a library that never comes back to Python. It runs one thread of linear algebra, ends when its guard
does, and makes room for a fresh one when it has grown. Cost: one pipe message a case, about 0.1 ms. Some cases at a
time it looks ahead, within a tenth of the limit of one or half a second, and tells its guard when it begins and is
back.
"""

import contextlib
import gc
import os
import pickle
import signal
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from functools import partial
from multiprocessing.connection import Connection
from typing import Any, TypeAlias

from diaphragm_fem.study.plan.amount import Written
from diaphragm_fem.study.plan.study import Recipe
from diaphragm_fem.study.run.store import FAILED

PATIENCE = 10.0  # times the limit of processor time that a case may take on the clock
GROWN = 600 * 2**20  # bytes of memory at which a solver makes room for a fresh one
FEWEST = 50  # cases a solver answers before its size can end it: starting one costs a second or two
OUT_OF_MEMORY = "its solver ran out of memory"
STAYING, LEAVING = "staying", "leaving"
LOOKING, BACK = "looking ahead", "back"  # between these no case is to blame for what happens
LOOKED = 0.1  # of the limit that looking ahead may take: of a case that hangs it is lost before the case's own turn
LOOKED_AT_LEAST = 0.5  # s, so that solvers of a study with a limit of a second or two may look, too
AHEAD = 16  # cases that are made side by side: of 32 each takes hardly less, and they hold twice the memory

Case: TypeAlias = tuple[int, tuple[Written, ...]]


@dataclass(frozen=True)
class Job:
    """What all cases of a run share: the recipe, who answers, the limit for one case in seconds of processor time, and
    the file in which solvers share what joints yield."""

    recipe: Recipe
    evaluator: str
    time_limit: float
    joints: str | None = None


def serve(descriptor: int, guard: int, evaluator: str) -> None:
    """The solver process: read jobs and cases from the pipe, answer with rows, until the pipe ends. Who will answer is
    loaded meanwhile: the usual evaluator where none is named."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the command decides what Ctrl-C means
    for name in {"SIGALRM", "SIGPROF"} & set(dir(signal)):
        signal.signal(getattr(signal, name), signal.SIG_DFL)
    threading.Thread(target=_watch, args=(guard,), daemon=True).start()
    pipe = inherited(descriptor)
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    with contextlib.suppress(EOFError, OSError):
        _serve(pipe, evaluator)


def _watch(guard: int) -> None:
    while still_runs(guard):
        time.sleep(0.5)
    os._exit(0)


def _serve(pipe: Connection, evaluator: str) -> None:
    from diaphragm_fem.study.run.case_row import EVALUATOR, find_evaluator, given_up, prepare, run_case

    with contextlib.suppress(Exception):  # told when a job asks for it
        find_evaluator(evaluator or EVALUATOR)
    job: Any = None
    solved, ahead = 0, dict[int, Any]()
    while True:
        asked: Any = pickle.loads(pipe.recv_bytes())
        if isinstance(asked, Job):
            if asked.joints or (job and job.joints):  # else nothing of the model is loaded for it
                from diaphragm_fem.model.joint.kinds import share_in

                share_in(asked.joints)
            job = asked
            pipe.send(trouble(job, find_evaluator) or trouble(job, partial(prepare, job.recipe)))
            continue
        (cases, together), ahead, spent = asked, {}, 0.0
        for k, (number, values) in enumerate(cases):
            if together and k % AHEAD == 0:
                ahead, spent = _ahead(pipe, job, cases[k : k + AHEAD])
            alarm(job.time_limit)
            try:
                made = ahead.get(number)
                row = run_case(job.recipe, number, values, job.evaluator, ahead=made, spent=spent if made else 0.0)
            except MemoryError as error:
                alarm(0.0)
                told = f"{OUT_OF_MEMORY}: {error}".removesuffix(": ")
                pipe.send(given_up(job.recipe, (number, values), FAILED, told))
                pipe.send(LEAVING)
                return
            alarm(0.0)
            pipe.send_bytes(pickle.dumps(row))  # what `send` does, without its search for objects to share
            solved += 1
            if solved == 1:
                gc.freeze()  # what is loaded stays: looking for garbage in it took a fiftieth of a case
        leaving = solved >= FEWEST and _memory() > GROWN
        pipe.send(LEAVING if leaving else STAYING)
        if leaving:
            return


def _ahead(pipe: Connection, job: Job, cases: list[Case]) -> tuple[dict[int, Any], float]:
    """What cases begin with as an evaluator looks ahead to them, and the seconds that took each."""
    from diaphragm_fem.study.run.case_row import look_ahead

    if len(cases) < 2:
        return {}, 0.0
    pipe.send(LOOKING)
    begun = time.perf_counter()
    alarm(max(LOOKED * job.time_limit, LOOKED_AT_LEAST))
    found = look_ahead(job.recipe, cases, job.evaluator)
    alarm(0.0)
    pipe.send(BACK)
    return found, (time.perf_counter() - begun) / len(cases)


def trouble(job: Job, find: Any) -> str:
    try:
        find(job.evaluator)
    except MemoryError:
        return "it ran out of memory as it began; give this command more, or fewer --workers"
    except Exception as error:
        return f"{type(error).__name__}: {error}"
    return ""


def alarm(seconds: float) -> None:
    """Let the operating system end this process after so long: the default act of a signal, no Python needed."""
    if hasattr(signal, "setitimer"):
        signal.setitimer(signal.ITIMER_PROF, seconds)
        signal.setitimer(signal.ITIMER_REAL, PATIENCE * seconds)


def _memory() -> float:
    """Largest memory this process has held, in bytes."""
    try:
        import resource
    except ImportError:  # not on Windows
        return 0.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1.0 if sys.platform == "darwin" else 1024.0)


def handing(pipe: Connection) -> dict[str, Any]:
    """How a process is started that inherits one end of a pipe, and nothing else."""
    if sys.platform != "win32":
        return {"pass_fds": (pipe.fileno(),)}
    os.set_handle_inheritable(pipe.fileno(), True)
    return {"startupinfo": subprocess.STARTUPINFO(lpAttributeList={"handle_list": [pipe.fileno()]})}


def inherited(descriptor: int) -> Connection:
    """The end of a pipe that this process has inherited."""
    if sys.platform == "win32":
        from multiprocessing.connection import PipeConnection

        return PipeConnection(descriptor)
    return Connection(descriptor)


def still_runs(parent: int) -> bool:
    """Whether the process that started this one still runs; Windows goes on naming one that is gone."""
    if sys.platform != "win32":
        return os.getppid() == parent
    import psutil

    return bool(psutil.pid_exists(parent))
