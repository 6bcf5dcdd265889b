"""A sweep stopped from outside says so in one message, leaves no traceback and no process, and loses nothing."""

import json
import os
import shutil
import signal
import subprocess
import sys
import time

import psutil
import pytest
from report_cases import STUDIES
from study_standin import wait_for

from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.run.store_reading import read_store

COMMAND = [
    sys.executable,
    "-c",
    "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler)\n"  # ignored where pytest is a job
    "from diaphragm_fem.cli import main; main(sys.argv[1:])",
]
STUDY = "step_position_by_tread.toml"


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    for name in (STUDY, "stepped_v.toml"):
        shutil.copy(STUDIES / name, tmp_path)
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def start():
    """Starts processes, each the head of a process group of its own; ends what is left of them afterwards."""
    started = []

    def start_one(command, **how):
        process = subprocess.Popen(command, text=True, start_new_session=True, **how)
        started.append(process)
        return process

    yield start_one
    for process in started:
        for member in group(process.pid):
            member.kill()
        process.wait()


def group(leader):
    found = []
    for process in psutil.process_iter():
        try:
            if os.getpgid(process.pid) == leader and process.status() != psutil.STATUS_ZOMBIE:
                found.append(process)
        except (ProcessLookupError, psutil.NoSuchProcess):
            continue
    return found


def solved(store):
    try:
        with read_store(store) as reading:
            return reading.counts().get("done", 0)
    except StudyError:
        return 0


def sweep(start, store, *options):
    command = [*COMMAND, "sweep", STUDY, "--night", "--store", str(store), *options]  # 200,000 cases: it cannot end
    return start(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)


def test_ctrl_c_reaches_the_whole_group_and_only_the_command_answers(tmp_path, start):
    store = tmp_path / "cases.sqlite"
    command = sweep(start, store, "--workers", "2")
    wait_for(lambda: solved(store) >= 5, 60)
    os.killpg(command.pid, signal.SIGINT)
    out, errors = command.communicate(timeout=30)
    assert command.returncode == 130
    assert "Traceback" not in errors and "KeyboardInterrupt" not in errors
    with read_store(store) as reading:
        count = sum(reading.counts().values())
    last = errors.rstrip().rpartition("\n")[2]
    assert last.endswith(
        f"stopped: {count} of 205761 cases are stored in {store} and safe; "
        "give the same command again to go on from there"
    )
    assert out == ""
    wait_for(lambda: not group(command.pid), 5)


def test_ctrl_c_pressed_twice_ends_no_later(tmp_path, start):
    store = tmp_path / "cases.sqlite"
    command = sweep(start, store, "--workers", "2")
    wait_for(lambda: solved(store) >= 5, 60)
    os.killpg(command.pid, signal.SIGINT)
    time.sleep(0.15)
    os.killpg(command.pid, signal.SIGINT)
    _, errors = command.communicate(timeout=8)  # a cluster half closed is waited for 10 s
    assert command.returncode == 130
    assert "Traceback" not in errors, errors
    assert "stopped: " in errors


def test_ctrl_c_while_the_workers_start(tmp_path, start):
    command = sweep(start, tmp_path / "cases.sqlite", "--workers", "2")
    wait_for(lambda: any("spawn_main" in " ".join(member.cmdline()) for member in group(command.pid)), 60)
    os.killpg(command.pid, signal.SIGINT)
    _, errors = command.communicate(timeout=30)
    assert command.returncode == 130
    assert "Traceback" not in errors, errors
    assert "stopped: " in errors


def test_a_scheduler_killed_in_mid_run_is_told_in_one_message(tmp_path, start):
    store, file = tmp_path / "cases.sqlite", tmp_path / "scheduler.json"
    dask = [sys.executable, "-m", "dask"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    at = ["--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file", str(file)]
    scheduler = start([*dask, "scheduler", *at], **quiet)
    wait_for(lambda: file.exists() and '"address"' in file.read_text(), 60)
    start([*dask, "worker", "--scheduler-file", str(file), "--nthreads", "1", "--no-dashboard"], **quiet)
    address = json.loads(file.read_text())["address"]
    command = sweep(start, store, "--scheduler", address)
    wait_for(lambda: solved(store) >= 5, 60)
    kept = solved(store)
    scheduler.kill()
    _, errors = command.communicate(timeout=60)
    assert command.returncode == 2
    assert "error: the scheduler is lost" in errors and "start the study again" in errors
    assert "Traceback" not in errors and "Error" not in errors
    assert solved(store) >= kept


@pytest.mark.parametrize("address", ["nonsense", "", ":", "127.0.0.1", "foo://x:8786", "tcp://host:port"])
def test_an_address_that_is_none_is_refused_at_once(address, tmp_path, start):
    begun = time.monotonic()
    command = sweep(start, tmp_path / "cases.sqlite", "--scheduler", address)
    _, errors = command.communicate(timeout=30)
    assert command.returncode == 2
    assert errors.count("\n") == 1
    assert f"--scheduler must be an address with a port, such as \"tcp://host:8786\"; received '{address}'" in errors
    assert time.monotonic() - begun < 15  # the attempt to connect took 20 s
