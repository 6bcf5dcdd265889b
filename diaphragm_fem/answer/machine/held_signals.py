"""Signals that wait: while processes begin and while a command cleans up behind itself."""

import signal
from collections.abc import Iterator
from contextlib import contextmanager

SIGNALS = {getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)}


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
