"""Who may write to a store: one process, which holds a file beside it.

The file is one of its own, and so is what SQLite keeps beside a store: what a link or a forged journal leads to is
never written over or taken away.
"""

import errno
import os
import socket
import stat
import time
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any

from diaphragm_fem.errors import StudyError, plain

HELD = (errno.EAGAIN, errno.EACCES, errno.EDEADLK)  # what systems say of a lock that another has
MOST_WORDS = 200  # letters of who holds it
NAMES_ANOTHER = bytes.fromhex("d9d505f920a163d7")  # ends a journal that names a second file, which SQLite would delete


def locked(path: Path) -> Any:
    """An open file that holds the right to write; the operating system lets go of it when its process ends, however
    it ends."""
    file = _beside(path)
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        stream = _opened(file, os.O_RDWR | os.O_CREAT, "r+")
    except OSError as error:
        raise StudyError(f"{path}: cannot be made there: {error.strerror or error}") from error
    try:
        taken = _take(stream)
    except OSError as error:
        stream.close()
        raise StudyError(
            f"{path}: no lock against a second writer can be had there ({error.strerror or error}), as on some "
            "disks of a network. Give --store a place on a disk of this machine"
        ) from error
    if not taken:
        holder = _holder(stream)
        stream.close()
        raise StudyError(
            f"{path}: is being written by {holder}. Wait for that run or stop it; `status` shows how far it is"
        )
    words = f"process {os.getpid()} on {socket.gethostname()} since {time.strftime('%Y-%m-%d %H:%M:%S')}"
    with suppress(OSError):  # a full disk: the lock holds without them, and the store tells
        os.truncate(stream.fileno(), 0)
        os.lseek(stream.fileno(), 0, os.SEEK_SET)
        os.write(stream.fileno(), words.encode())  # of what waits in a stream its closing would speak again
    return stream


def _take(stream: Any) -> bool:
    """Whether the right to write is had now; False where another has it. OSError where a file system has no locks, as
    one over a network whose server keeps none."""
    try:
        import fcntl
    except ImportError:  # not on Windows
        import msvcrt

        stream.seek(1 << 20)  # a byte far behind the text, so that others can still read who holds it
        lock = partial(msvcrt.locking, stream.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
    else:
        lock = partial(fcntl.flock, stream, fcntl.LOCK_EX | fcntl.LOCK_NB)
    try:
        lock()
    except OSError as error:
        if error.errno not in HELD:
            raise
        return False
    return True


def in_use(path: Path) -> str:
    """Who writes to a store now, "" where nobody does."""
    file = _beside(path)
    try:
        stream = _opened(file, os.O_RDWR, "r+")
    except FileNotFoundError:
        return ""
    except OSError:  # where nothing may be written, asking for the lock needs no more than reading
        try:
            stream = _opened(file, os.O_RDONLY, "r")
        except OSError:
            return ""
    with stream, suppress(OSError):
        if not _take(stream):
            return _holder(stream)
    return ""


def check_beside(path: Path) -> None:
    """StudyError where SQLite would write over a file that is no part of a store, or delete it."""
    for ending in ("-wal", "-shm", "-journal"):
        file = _beside(path, ending)
        with suppress(FileNotFoundError):
            found = file.lstat()  # to open and close one that SQLite has open would undo its locks
            own = _is_own(found)
            if own and ending == "-journal" and found.st_size >= len(NAMES_ANOTHER):
                with suppress(PermissionError), file.open("rb") as stream:
                    stream.seek(-len(NAMES_ANOTHER), os.SEEK_END)
                    own = stream.read() != NAMES_ANOTHER
            if not own:
                raise _not_own(file)


def _beside(path: Path, ending: str = ".lock") -> Path:
    """The file of a store, by whatever name it is reached."""
    path = Path(os.path.realpath(path))
    return path.with_name(path.name + ending)


def _opened(file: Path, flags: int, mode: str) -> Any:
    """The file, where it is one of its own; StudyError where it is a link, a pipe or another's by a second name."""
    flags |= getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
    if not file.is_symlink():
        descriptor = os.open(file, flags, 0o666)
        if _is_own(os.fstat(descriptor)):
            return open(descriptor, mode, encoding="utf-8", errors="replace")
        os.close(descriptor)
    raise _not_own(file)


def _is_own(found: os.stat_result) -> bool:
    return stat.S_ISREG(found.st_mode) and found.st_nlink <= 1  # some file systems count none


def _not_own(file: Path) -> StudyError:
    return StudyError(
        f"{file}: must be a file of its own, which is kept beside a store; remove it: it is a link, or names another"
    )


def _holder(stream: Any) -> str:
    stream.seek(0)
    return plain(stream.read(MOST_WORDS).strip()) or "another process"
