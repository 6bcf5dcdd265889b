"""The same work on every core of this machine: forked children inherit all they need, and only answers travel."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Callable, Sequence
from multiprocessing import get_context
from multiprocessing.connection import Connection
from typing import Any, TypeVar

Item = TypeVar("Item")
Answer = TypeVar("Answer")


def cores() -> int:
    """Cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def on_all_cores(work: Callable[[Item], Answer], items: Sequence[Item]) -> list[Answer]:
    """[work(item) for item in items], shared out over the cores.

    Done here alone where a fork is not safe: outside Linux, whose libraries bear it, and where this process runs
    threads. An error of `work` is raised as it is; the share of a child that dies is done here.
    """
    count = max(min(cores(), len(items)), 1)
    if sys.platform != "linux" or threading.active_count() > 1:
        count = 1
    shares = [items[k::count] for k in range(count)]
    children = [_start(work, share) for share in shares[1:]]
    answers = [[work(item) for item in shares[0]]]
    for (child, pipe), share in zip(children, shares[1:], strict=True):
        try:
            answer = pipe.recv()
        except EOFError:
            answer = [work(item) for item in share]
        child.join()
        if isinstance(answer, Exception):
            raise answer
        answers.append(answer)
    return [answers[k % count][k // count] for k in range(len(items))]


def _start(work: Callable[[Item], Answer], share: Sequence[Item]) -> tuple[Any, Connection]:
    context = get_context("fork")
    ours, theirs = context.Pipe(duplex=False)
    child = context.Process(target=_answer, args=(theirs, work, share), daemon=True)
    child.start()
    theirs.close()
    return child, ours


def _answer(pipe: Connection, work: Callable[[Item], Answer], share: Sequence[Item]) -> None:
    try:
        pipe.send([work(item) for item in share])
    except Exception as error:
        pipe.send(error)
