"""The end of a pipe that a process inherits from the one that starts it, and whether that one still runs."""

import os
import subprocess
import sys
from multiprocessing.connection import Connection
from typing import Any


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
