"""A Dask scheduler and a worker of it as processes of their own, however slowly a busy machine lets them begin."""

import json
import os
import subprocess
import sys

from study_standin import wait_for

PATIENT = {"DASK_DISTRIBUTED__COMM__TIMEOUTS__CONNECT": "300s"}


def scheduler_with_a_worker(start, folder, name="scheduler", threads=1):
    """The scheduler's process and its address; `start` starts a process, and ends it after the test."""
    file = folder / f"{name}.json"
    how = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "cwd": folder, "env": {**os.environ, **PATIENT}}
    dask = [sys.executable, "-m", "dask"]
    at = ["--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file", str(file)]
    scheduler = start([*dask, "scheduler", *at], **how)

    def address():
        try:
            return json.loads(file.read_text())["address"]
        except (OSError, ValueError):  # not there, or not all of it
            return None

    wait_for(address, scheduler)
    at = ["--scheduler-file", str(file), "--nthreads", str(threads), "--no-dashboard", "--no-nanny"]
    start([*dask, "worker", *at], **how)
    return scheduler, address()
