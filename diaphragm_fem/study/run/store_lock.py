"""Who may write to a store: one process, which holds a file beside it."""

from __future__ import annotations

import os
import socket
import time
from pathlib import Path
from typing import Any

from diaphragm_fem.errors import StudyError


def locked(path: Path) -> Any:
    """An open file that holds the right to write; the operating system lets go of it when its process ends, however
    it ends.
    """
    file = path.with_name(path.name + ".lock")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        stream = open(file, "a+", encoding="utf-8")  # noqa: SIM115  held open as long as the store is
    except OSError as error:
        raise StudyError(f"{path}: cannot be made there: {error.strerror or error}") from error
    try:
        _take(stream)
    except OSError:
        stream.seek(0)
        holder = stream.read().strip() or "another process"
        stream.close()
        raise StudyError(
            f"{path}: is being written by {holder}. Wait for that run or stop it; `status` shows how far it is"
        ) from None
    stream.seek(0)
    stream.truncate()
    stream.write(f"process {os.getpid()} on {socket.gethostname()} since {time.strftime('%Y-%m-%d %H:%M:%S')}")
    stream.flush()
    return stream


def _take(stream: Any) -> None:
    try:
        import fcntl
    except ImportError:  # not on Windows
        import msvcrt

        stream.seek(1 << 20)  # a byte far behind the text, so that others can still read who holds it
        msvcrt.locking(stream.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
    else:
        fcntl.flock(stream, fcntl.LOCK_EX | fcntl.LOCK_NB)


def in_use(path: Path) -> str:
    """Who writes to a store now, "" where nobody does."""
    file = path.with_name(path.name + ".lock")
    if not file.exists():
        return ""
    try:
        stream = open(file, "a+", encoding="utf-8")  # noqa: SIM115  closed below, however it was opened
    except OSError:  # where nothing may be written, asking for the lock needs no more than reading
        try:
            stream = open(file, encoding="utf-8")  # noqa: SIM115
        except OSError:
            return ""
    with stream:
        try:
            _take(stream)
        except OSError:
            stream.seek(0)
            return stream.read().strip() or "another process"
    return ""
