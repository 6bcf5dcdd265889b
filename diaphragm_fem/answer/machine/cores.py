"""The same work on every core of this machine, each on one thread: forked children inherit all they need, and only
answers travel; signals wait while they begin."""

import ctypes
import gc
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from multiprocessing import get_context, parent_process
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import TypeVar

from threadpoolctl import threadpool_limits

SIGNALS = {getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)}
Item = TypeVar("Item")
Answer = TypeVar("Answer")

QUEUED = 4096  # numbers that wait in a pipe, far below what one holds; of more items every 4096th goes with the first
NUMBER = 2  # bytes of each
END_WITH_PARENT = 1  # PR_SET_PDEATHSIG of Linux (man 2 prctl)
one_thread = threadpool_limits.wrap(limits=1, user_api="blas")
"""Decorator: on several threads small matrices wait for each other, ten times longer on a busy machine."""


@contextmanager
def signals_held_back() -> Iterator[None]:
    """The signals that end a command wait until this block is over; what begins inside inherits that."""
    if not hasattr(signal, "pthread_sigmask"):  # not on Windows
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, SIGNALS)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def cores() -> int:
    """Cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def may_fork() -> bool:
    """Whether a child helps and is safe: a second core, Linux, whose libraries bear it, no threads here, no child."""
    return cores() > 1 and sys.platform == "linux" and threading.active_count() == 1 and parent_process() is None


@contextmanager
def beside(work: Callable[[], Answer]) -> Iterator[Callable[[], Answer]]:
    """Begin work() in a child, where there may be one; gives a function that waits for its answer, asked once.

    An error of the work is raised as it is where the answer is asked for; what a child that dies leaves, or where there
    is none, as where the system has no room for one more, is done there. The child ends with the block.
    """
    if not may_fork():
        yield work
        return
    context = get_context("fork")
    ours, theirs = context.Pipe(duplex=False)
    child = context.Process(target=_send, args=(theirs, work), daemon=True)

    def answer() -> Answer:
        try:
            found = ours.recv()
        except (EOFError, OSError):  # died before, or while, it sent
            return work()
        if isinstance(found, Exception):
            raise found
        return found

    try:
        with signals_held_back():  # of one that falls into a fork Python says that it is ignored, and goes on
            begun = _begins(child)
            theirs.close()
        yield answer if begun else work
    finally:
        if child.pid is not None:
            child.kill()  # one that has answered, or one that nobody waits for any more
            child.join()
        ours.close()


def _begins(child: BaseProcess) -> bool:
    """Whether the system has room for one more."""
    try:
        child.start()
    except OSError:
        return False
    return True


def on_all_cores(work: Callable[[Item], Answer], items: Sequence[Item]) -> list[Answer]:
    """[work(item) for item in items], shared out over the cores: whoever is free takes the next item.

    An error of `work` is raised as it is; what a child that dies had in hand or done is done here.
    """
    if len(items) < 2:
        return [work(item) for item in items]
    with others_begin(work, items) as answers:
        return answers()


@contextmanager
def others_begin(work: Callable[[Item], Answer], items: Sequence[Item]) -> Iterator[Callable[[], list[Answer]]]:
    """The same, begun by the other cores while this one still has something else to do; gives the function that takes
    part in what is left and waits for all of it, asked once."""
    count = min(cores() - 1, len(items)) if may_fork() else 0
    with ExitStack() as ends:
        queue = ends.enter_context(_numbers_below(min(len(items), QUEUED)))

        def share() -> dict[int, Answer]:
            return {k: work(items[k]) for first in queue for k in range(first, len(items), QUEUED)}

        def answers() -> list[Answer]:
            found = share()
            for other in others:
                found |= other()
            return [found[k] if k in found else work(item) for k, item in enumerate(items)]

        others = [ends.enter_context(beside(share)) for _ in range(count)]
        yield answers


@contextmanager
def _numbers_below(count: int) -> Iterator[Iterator[int]]:
    """0 to count - 1, each given once, to whichever process asks next."""
    reading, writing = os.pipe()
    try:
        os.write(writing, b"".join(k.to_bytes(NUMBER, "big") for k in range(count)))
        os.close(writing)
        yield (int.from_bytes(number, "big") for number in iter(lambda: os.read(reading, NUMBER), b""))
    finally:
        os.close(reading)


def _send(pipe: Connection, work: Callable[[], Answer]) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a key pressed stops the parent, which ends this child
    for ending in (signal.SIGTERM, signal.SIGHUP):
        signal.signal(ending, signal.SIG_DFL)  # without the words that the parent has for them
    gc.freeze()  # what it inherits is not searched for cycles, and so not copied
    ctypes.CDLL(None).prctl(END_WITH_PARENT, int(signal.SIGKILL))  # else it draws on into what a killed parent left
    signal.pthread_sigmask(signal.SIG_UNBLOCK, SIGNALS)
    try:
        pipe.send(work())
    except Exception as error:
        pipe.send(error)
