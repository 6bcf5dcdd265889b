"""A file written whole or not at all; a draft's name tells whose it is, so that what a killed process left can go."""

import os
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from errno import EACCES, EEXIST
from functools import cache
from hashlib import blake2b
from pathlib import Path
from secrets import token_hex

DRAFT = ".diaphragm-fem-draft-"  # begins the name; then process and machine, and letters
LIFE = 86_400.0  # s after which what another machine has left unchanged is no work of a living process


def draft_prefix() -> str:
    """How names of this process begin."""
    return f"{DRAFT}{os.getpid()}-{_machine()}-"


def is_dead(path: Path) -> bool:
    """Whether nobody works on a draft any more. Processes of another machine, which share a disk with this one, cannot
    be seen: theirs is dead when nothing was added to it for a day."""
    import psutil

    maker, machine = [*path.name.removeprefix(DRAFT).split("-"), ""][:2]
    if not maker.isdecimal() or len(maker) >= 10:  # of more digits there is no process
        return False
    if machine == _machine():
        return not psutil.pid_exists(int(maker))
    with suppress(OSError):
        return time.time() - path.lstat().st_mtime > LIFE
    return False


@cache
def _machine() -> str:
    """Among whose processes this one is counted: a machine, or a container on it."""
    import socket

    counted = socket.gethostname()
    with suppress(OSError):  # Linux alone tells
        counted += os.readlink("/proc/self/ns/pid")
    return blake2b(counted.encode(), digest_size=4).hexdigest()


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A name beside a file, to write to: it takes the file's place when the block is over.

    Where the block does not come to its end, as on a full disk, what was there stays. OSError for a link, a pipe or a
    device of that name: what a link leads to is not ours, and on the reader of a pipe one would wait; and for a file
    that may not be written.
    """
    with suppress(FileNotFoundError):
        if not stat.S_ISREG(path.lstat().st_mode):
            raise FileExistsError(EEXIST, "is there already, and is a folder, a link, a pipe or the like", str(path))
        if not os.access(path, os.W_OK):
            raise PermissionError(EACCES, os.strerror(EACCES), str(path))
    draft = path.with_name(f"{draft_prefix()}{token_hex(4)}{path.suffix}")
    try:
        yield draft
        os.replace(draft, path)
    except OSError as error:
        if error.filename in (draft, str(draft)):
            error.filename, error.filename2 = str(path), None
        raise
    finally:
        with suppress(OSError):  # a disk that may not be written says so though there is none
            draft.unlink()


def write_whole(path: Path, text: str, *, encoding: str = "utf-8", newline: str | None = None) -> Path:
    """Write a text as a whole file; returns its path."""
    with whole_file(path) as draft:
        draft.write_text(text, encoding=encoding, newline=newline)
    return path
