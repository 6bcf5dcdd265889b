"""Workers of a running Dask scheduler, on any number of machines.

The only file that knows Dask. What Dask and the libraries under it log is kept to themselves, and what matters of it is
said in the project's own words. A Dask scheduler runs whatever it is sent: with tls:// only holders of a certificate
can send, with tcp:// everybody who reaches its port.
"""

import asyncio
import concurrent.futures
import contextlib
import ipaddress
import logging
import re
import time
from collections.abc import Hashable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from diaphragm_fem import __version__
from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.run.progress import Watcher
from diaphragm_fem.study.run.solver_process import Case
from diaphragm_fem.study.run.workers import Outcome, WorkerKilled, Workers, run_batch

CONNECT_SECONDS = 10
ADDRESS = re.compile(r"((?P<how>tcp|tls)://)?(?P<host>\[[0-9a-fA-F:.%]+\]|[^\s/:\[\]]+):\d{1,5}")
CERTIFICATES = ("ca.pem", "cert.pem", "key.pem")
NOISY = ("distributed", "asyncio", "tornado")  # loggers that report a lost connection with pages of traceback
LOST = (
    "the scheduler is lost: it has ended, or the network to it is gone. What was stored is safe: make sure that a "
    "scheduler runs, start the study again, and it goes on from there"
)
OPEN_TO_ALL = (
    "tcp:// to another machine is neither encrypted nor checked: whoever reaches that port can run code on the workers "
    "and read or change the results; use tls:// with --certificates"
)
log = logging.getLogger("diaphragm_fem.study")


@contextmanager
def workers_of_scheduler(address: str, certificates: str | Path | None, watcher: Watcher) -> Iterator[Workers]:
    """The workers of the scheduler at an address ("tcp://host:8786", or "tls://host:8786" with a folder of
    certificates); whatever fails because that has gone is told as a scheduler that is lost."""
    security = _security(address, certificates)
    try:
        import dask
        from distributed import Client
    except Exception as error:  # settings of its own, which it reads as it is loaded, may be anything
        told = re.sub(r"\s+", " ", str(error))
        raise StudyError(
            f"Dask cannot be loaded ({told}); its settings are in DASK_CONFIG and ~/.config/dask"
        ) from error

    if security is None and not _on_this_machine(address):
        watcher.note(OPEN_TO_ALL)
    with dask.config.set({"distributed.comm.timeouts.connect": f"{CONNECT_SECONDS}s"}), _hushed():
        try:
            client = Client(address, timeout=CONNECT_SECONDS, set_as_default=False, security=security)
        except (OSError, ValueError, TypeError, RuntimeError) as error:
            told = re.sub(r"\s+", " ", str(error))
            raise StudyError(
                f"no scheduler answers at '{address}' ({told}); start one with `dask scheduler` and give the address "
                "it prints" + (", with certificates of the same authority on both sides" if security else "")
            ) from error
        try:
            yield _DaskWorkers(client)
        except (OSError, asyncio.CancelledError, concurrent.futures.CancelledError) as error:
            raise StudyError(LOST) from error
        except RuntimeError as error:  # what a client says that has closed itself
            if client.status == "running":
                raise
            raise StudyError(LOST) from error
        finally:
            with contextlib.suppress(Exception):  # nobody there to take leave of
                client.close(timeout=2)


def _security(address: str, certificates: str | Path | None) -> Any:
    """Dask's security for an address; StudyError for an address or a folder of certificates that is none."""
    match = ADDRESS.fullmatch(address)
    if match is None:  # Dask takes 20 s and a traceback to say so
        raise StudyError(
            f"--scheduler must be an address with a port, such as \"tcp://host:8786\"; received '{address}'; "
            "start a scheduler with `dask scheduler` and give the address it prints"
        )
    if (match["how"] == "tls") != (certificates is not None):
        raise StudyError(
            "--scheduler tls://... and --certificates FOLDER go together, and the folder holds "
            f"{', '.join(CERTIFICATES)} (authority, own certificate, its key); "
            f"received '{address}' and {certificates or 'no folder'}"
        )
    if certificates is None:
        return None
    files = [Path(certificates) / name for name in CERTIFICATES]
    if missing := [file for file in files if not file.is_file()]:
        raise StudyError(f"--certificates: {missing[0]} is missing; the folder must hold {', '.join(CERTIFICATES)}")
    import ssl

    authority, certificate, key = map(str, files)
    try:  # a file that is no certificate: Dask would only say that nobody answers
        ssl.create_default_context(cafile=authority).load_cert_chain(certificate, key)
    except (OSError, ValueError) as error:
        raise StudyError(f"--certificates: the files in {certificates} cannot be used ({error})") from error
    from distributed import Security

    return Security(
        tls_ca_file=authority, tls_client_cert=certificate, tls_client_key=key, require_encryption=True
    )  # fmt: skip


def _on_this_machine(address: str) -> bool:
    match = ADDRESS.fullmatch(address)
    host = match["host"].strip("[]") if match else ""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


class _DaskWorkers:
    def __init__(self, client: Any) -> None:
        self._client = client

    def size(self) -> int:
        return sum(self._client.nthreads().values())

    def last_span(self) -> Hashable:
        return None  # a scheduler sends tasks where it likes

    def submit(self, job: bytes, cases: Sequence[Case], span: Hashable = None) -> Any:
        return self._client.submit(run_batch, job, cases, __version__, pure=False, retries=0)

    def outcomes(self, ended: Sequence[Any]) -> dict[Any, Outcome]:
        from distributed import KilledWorker

        found: dict[Any, Outcome] = dict.fromkeys(ended)
        found.update(self._gather([future for future in ended if future.status == "finished"]))
        for future in ended:
            if future.status == "error":
                error = future.exception()
                found[future] = WorkerKilled() if isinstance(error, KilledWorker) else error
            future.release()
        return found

    def _gather(self, finished: list[Any]) -> dict[Any, Outcome]:
        """Results of finished tasks in one go; without those that were lost on the way."""
        try:
            return dict(zip(finished, self._client.gather(finished), strict=True)) if finished else {}
        except Exception:  # one of them was lost with its worker, or the scheduler is gone: look at each
            answers: dict[Any, Outcome] = {}
            for future in finished:
                try:
                    answers[future] = future.result(timeout=10)
                except Exception as error:
                    log.debug("a finished task was lost: %s", error)
            return answers

    def check(self, wait: float = 0.0) -> None:
        until = time.monotonic() + wait
        while self._client.status != "running":
            if time.monotonic() >= until:
                raise StudyError(LOST)
            time.sleep(0.1)


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
