"""Workers for a sweep: a running Dask scheduler, or a cluster of this machine's cores for as long as it is needed.

The only file that knows Dask. What Dask and the libraries under it log is kept to themselves, and what matters of it is
said in the project's own words; what Ctrl-C means the command alone decides.
"""

from __future__ import annotations

import asyncio
import concurrent.futures
import contextlib
import logging
import re
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from multiprocessing import resource_tracker
from typing import Any

from diaphragm_fem.answer.cores import cores
from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.run.listener import Watcher

CONNECT_SECONDS = 10
QUIET_CLUSTER = {  # what Dask does beside the tasks: on two cores its pulse and its profiler cost a tenth of them
    "distributed.admin.tick.interval": "1s",
    "distributed.admin.system-monitor.interval": "5s",
    "distributed.worker.profile.enabled": False,
}
ADDRESS = re.compile(r"((tcp|tls|ws|wss)://)?(\[[0-9a-fA-F:.%]+\]|[^\s/:\[\]]+):\d{1,5}")
NOISY = ("distributed", "asyncio", "tornado")  # loggers that report a lost connection with pages of traceback
LOST = (
    "the scheduler is lost: it has ended, or the network to it is gone. What was stored is safe: make sure that a "
    "scheduler runs, start the study again, and it goes on from there"
)


@contextmanager
def client_of(scheduler: str | None, workers: int | None, dashboard: bool, watcher: Watcher) -> Iterator[Any]:
    """A Dask client: of a running scheduler, or of a cluster that lives as long as this block."""
    if scheduler is not None and not ADDRESS.fullmatch(scheduler):  # Dask takes 20 s and a traceback to say so
        raise StudyError(
            f"--scheduler must be an address with a port, such as \"tcp://host:8786\"; received '{scheduler}'; "
            "start a scheduler with `dask scheduler` and give the address it prints"
        )
    import dask
    import distributed  # noqa: F401  before its settings are changed: else they are gone with these, defaults and all

    with dask.config.set({"distributed.comm.timeouts.connect": f"{CONNECT_SECONDS}s", **QUIET_CLUSTER}), _hushed():
        if scheduler is not None:
            with _remote(scheduler) as client:
                yield client
        else:
            with _own_cluster(workers, dashboard) as client:
                if dashboard:
                    watcher.note(f"Dask's dashboard: {client.dashboard_link}")
                yield client


@contextmanager
def _remote(scheduler: str) -> Iterator[Any]:
    """A client of a running scheduler; whatever fails because that has gone is told as a scheduler that is lost."""
    from distributed import Client

    try:
        client = Client(scheduler, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError, TypeError, RuntimeError) as error:
        raise StudyError(
            f"no scheduler answers at '{scheduler}' ({error}); "
            "start one with `dask scheduler` and give the address it prints"
        ) from error
    try:
        yield client
    except (OSError, asyncio.CancelledError, concurrent.futures.CancelledError) as error:
        raise StudyError(LOST) from error
    except RuntimeError as error:  # what a client says that has closed itself
        if client.status == "running":
            raise
        raise StudyError(LOST) from error
    finally:
        with contextlib.suppress(Exception):  # nobody there to take leave of
            client.close(timeout=2)


@contextmanager
def _own_cluster(workers: int | None, dashboard: bool) -> Iterator[Any]:
    from distributed import Client, LocalCluster

    if dashboard and find_spec("bokeh") is None:
        raise StudyError("Dask's dashboard needs the package bokeh: install it (pip install bokeh), or do without")
    with contextlib.ExitStack() as closing:
        with _interrupt_held_back():
            cluster = LocalCluster(
                n_workers=workers or cores(),
                threads_per_worker=1,
                processes=True,
                memory_limit=0,  # the solvers are processes of their own and mind their size themselves
                dashboard_address=":0",  # any free port: several sweeps may run on one machine
                scheduler_kwargs={"dashboard": dashboard},
                silence_logs=logging.CRITICAL,
            )
            closing.enter_context(cluster)
            client = closing.enter_context(Client(cluster, set_as_default=False))
        try:
            yield client
        finally:
            with _interrupt_held_back():  # a second Ctrl-C half way would cost 10 s of waiting
                closing.close()


@contextmanager
def _interrupt_held_back() -> Iterator[None]:
    """Threads and processes started in this block never see Ctrl-C, which a terminal sends to all of them: the command
    alone decides what it means. It hears of it when the block is over.
    """
    if not hasattr(signal, "pthread_sigmask"):  # not on Windows
        yield
        return
    resource_tracker.ensure_running()  # it lets signals through again in the thread that starts it
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def _hushed() -> Iterator[None]:
    """Keep the logs of Dask and what it stands on to themselves: what matters of it is said in words of our own."""
    names = [*NOISY, *(name for name in logging.root.manager.loggerDict if name.startswith(NOISY))]
    before = {name: logging.getLogger(name).level for name in names}
    for name in names:
        logging.getLogger(name).setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        for name, level in before.items():
            logging.getLogger(name).setLevel(level)


def killed_its_workers(error: BaseException) -> bool:
    """Whether a task failed because the workers that tried it died."""
    from distributed import KilledWorker

    return isinstance(error, KilledWorker)
