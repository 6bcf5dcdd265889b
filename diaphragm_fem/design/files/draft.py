"""Names of what is not yet complete: they tell whose it is, so that what a killed process left can be taken away."""

import os
import time
from contextlib import suppress
from functools import cache
from hashlib import blake2b
from pathlib import Path

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
