"""A sweep stopped from outside says so in one message, leaves no traceback and no process, and loses nothing."""

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest
from dask_processes import scheduler_with_a_worker
from design_cases import CONE
from places import STUDIES
from study_standin import STANDIN, wait_for, write_study

from diaphragm_fem.cli import run
from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.plan.study import Recipe
from diaphragm_fem.study.run.cluster import OPEN_TO_ALL, workers_of_scheduler
from diaphragm_fem.study.run.engine import run_study
from diaphragm_fem.study.run.guard import ONE_THREAD
from diaphragm_fem.study.run.progress import Silent
from diaphragm_fem.study.run.solver_process import Job, trouble
from diaphragm_fem.study.run.store_reading import read_store

COMMAND = [
    sys.executable,
    "-c",
    # both are ignored where pytest is a job in the background or runs under nohup
    "import signal, sys; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
    "signal.signal(signal.SIGHUP, signal.SIG_DFL)\n"
    "from diaphragm_fem.study.run import cluster; cluster.CONNECT_SECONDS = 300\n"  # of a machine that is busy
    "from diaphragm_fem.cli import main; main(sys.argv[1:])",
]
STUDY = "step_position_by_tread.toml"
ENDLESS = """
study.base = "cone.toml"
vary.mass = { key = "coil.mass", range = ["0.5 g", "1.5 g"], count = 200000 }
want = { up_to = "2 kHz", points = 40 }
"""  # its solvers are soon ready


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    for name in (STUDY, "stepped_v.toml"):
        shutil.copy(STUDIES / name, tmp_path)
    (tmp_path / "cone.toml").write_text(CONE)
    (tmp_path / "endless.toml").write_text(ENDLESS)
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
    command = [*COMMAND, "sweep", "endless.toml", "--store", str(store), *options]
    return start(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)


ENDING = {"SIGINT": 130, "SIGTERM": 143, "SIGHUP": 129}  # 128 + number, as shells count


@pytest.mark.parametrize("name", ["SIGHUP", *(pytest.param(x, marks=pytest.mark.long) for x in ("SIGINT", "SIGTERM"))])
def test_a_signal_reaches_the_whole_group_and_only_the_command_answers(name, tmp_path, start):
    """Until then nobody can send it work or read its answers: none of its processes has a listening socket."""
    store = tmp_path / "cases.sqlite"
    command = sweep(start, store, "--workers", "2")
    wait_for(lambda: solved(store) >= 5, command)
    family = group(command.pid)
    assert len(family) == 3  # the command and two solvers
    assert [c for process in family for c in process.net_connections("all") if c.status == psutil.CONN_LISTEN] == []
    assert [c for process in family for c in process.net_connections("inet")] == []
    os.killpg(command.pid, getattr(signal, name))
    out, errors = command.communicate(timeout=300)
    assert command.returncode == ENDING[name], errors
    assert "Traceback" not in errors and "KeyboardInterrupt" not in errors
    with read_store(store) as reading:
        count = sum(reading.counts().values())
        (ending,) = reading.base.execute("SELECT ending FROM runs").fetchone()
    assert ending == "interrupted"
    last = errors.rstrip().rpartition("\n")[2]
    assert last.endswith(
        f"stopped: {count} of 200000 cases are stored in {store} and safe; "
        "give the same command again to go on from there"
    )
    assert out == ""
    wait_for(lambda: not group(command.pid))


def test_ctrl_c_pressed_twice_ends_in_the_same_words(tmp_path, start):
    store = tmp_path / "cases.sqlite"
    command = sweep(start, store, "--workers", "2")
    wait_for(lambda: solved(store) >= 5, command)
    os.killpg(command.pid, signal.SIGINT)
    time.sleep(0.02)
    os.killpg(command.pid, signal.SIGINT)
    _, errors = command.communicate(timeout=300)
    assert command.returncode == 130, errors
    assert "Traceback" not in errors, errors
    assert "stopped" in errors


def test_ctrl_c_while_the_solvers_start(tmp_path, start):
    command = sweep(start, tmp_path / "cases.sqlite", "--workers", "2")
    wait_for(lambda: len(group(command.pid)) > 1, command)
    os.killpg(command.pid, signal.SIGINT)
    _, errors = command.communicate(timeout=300)
    assert command.returncode == 130, errors
    assert "Traceback" not in errors, errors
    assert "stopped" in errors  # the study may not be read so early
    wait_for(lambda: not group(command.pid))


@pytest.mark.parametrize("megabytes", [260, 330])  # no room to begin with, none for threads and solvers
def test_a_command_with_little_memory_ends_in_words(megabytes, tmp_path, start):
    """Nowhere may linear algebra ask for room that is not there: it asks without end (`answer/machine/room.py`)."""
    limit = f"import resource; resource.setrlimit(resource.RLIMIT_AS, ({megabytes}_000_000,) * 2)\n"
    command = [*COMMAND[:2], limit + COMMAND[2], "sweep", STUDY, "--store", str(tmp_path / "cases.sqlite")]
    process = start(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    _, errors = process.communicate(timeout=300)
    assert process.returncode == 2, errors
    assert errors.splitlines()[-1].startswith("error: "), errors
    assert "memory" in errors.splitlines()[-1], errors


FULL = """
import resource
from diaphragm_fem.answer.machine.room import claim_work_areas

claim_work_areas()
import numpy as np
from scipy.linalg import eigh, lu_factor

one = np.eye(200) + 0.01
with open("/proc/self/statm") as file:
    size = int(file.read().split()[0]) * resource.getpagesize()
resource.setrlimit(resource.RLIMIT_AS, (size + 24 * 2**20,) * 2)  # less than another work area of 32 MiB
for kind in (one, one + 1j * one):
    np.linalg.solve(kind @ kind, kind), eigh(kind @ kind.conj().T), lu_factor(kind)
print("done")
"""


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="tells its size another way")
def test_linear_algebra_asks_for_no_room_once_it_has_its_own(start):
    """In a process whose memory is full; products above 100 x 100 take an area that smaller ones do without."""
    alone = {**os.environ, **ONE_THREAD}
    process = start([sys.executable, "-c", FULL], stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=alone)
    out, errors = process.communicate(timeout=300)
    assert out.strip().endswith("done"), errors


def test_a_solver_without_room_to_begin_says_so():
    def find(evaluator):
        raise MemoryError

    told = trouble(Job(Recipe({}, "", ()), "", 0.0), find)
    assert told.startswith("it ran out of memory as it began")


@pytest.mark.long
def test_a_scheduler_killed_in_mid_run_is_told_in_one_message(tmp_path, start):
    store = tmp_path / "cases.sqlite"
    scheduler, address = scheduler_with_a_worker(start, tmp_path)
    command = sweep(start, store, "--scheduler", address)
    wait_for(lambda: solved(store) >= 5, command, scheduler)
    kept = solved(store)
    scheduler.kill()
    _, errors = command.communicate(timeout=300)
    assert command.returncode == 2
    assert "error: the scheduler is lost" in errors and "start the study again" in errors
    assert "Traceback" not in errors and "Error" not in errors
    assert solved(store) >= kept


@pytest.mark.parametrize(
    "address", ["nonsense", "", ":", "127.0.0.1", "foo://x:8786", "ws://x:8786", "tcp://host:port"]
)
def test_an_address_that_is_none_is_refused_before_any_attempt_to_connect(address, monkeypatch, capsys):
    monkeypatch.setitem(sys.modules, "distributed", None)  # the attempt to connect took 20 s
    assert run(["sweep", STUDY, "--scheduler", address]) == 2
    errors = capsys.readouterr().err
    assert errors.count("\n") == 1
    assert f"--scheduler must be an address with a port, such as \"tcp://host:8786\"; received '{address}'" in errors


def certificates(folder, *, left_out=""):
    """A folder of certificates for a scheduler, its workers and the command, and Dask's own form of them."""
    from distributed import Security

    security = Security.temporary()
    folder.mkdir()
    texts = {"ca": security.tls_ca_file, "cert": security.tls_client_cert, "key": security.tls_client_key}
    for name, text in texts.items():
        if name != left_out:
            (folder / f"{name}.pem").write_text(text)
    return security


def test_a_scheduler_with_certificates_takes_work_from_their_holders_alone(tmp_path, monkeypatch):
    from distributed import LocalCluster

    security = certificates(tmp_path / "ours")
    certificates(tmp_path / "others")
    kind = {"n_workers": 1, "threads_per_worker": 1, "host": "tls://127.0.0.1", "dashboard_address": None}
    study = write_study(tmp_path, treads=2, thicknesses=3)
    with LocalCluster(security=security, **kind) as cluster:
        address = cluster.scheduler_address
        assert address.startswith("tls://127.0.0.1:")
        settings = {"scheduler": address, "evaluator": STANDIN, "store": tmp_path / "s.sqlite"}
        for strange in ("tcp" + address[3:], address):
            theirs = tmp_path / "others" if strange == address else None
            refused = pytest.raises(StudyError, match=rf"no scheduler answers at '{strange}'")
            with monkeypatch.context() as patch, refused:
                patch.setattr("diaphragm_fem.study.run.cluster.CONNECT_SECONDS", 2)
                run_study(study, **{**settings, "scheduler": strange}, certificates=theirs)
        monkeypatch.setattr("diaphragm_fem.study.run.cluster.CONNECT_SECONDS", 100)
        summary = run_study(study, **settings, certificates=tmp_path / "ours")
    assert summary.after == {"done": 3, "discarded": 3}


def test_certificates_and_their_address_go_together(tmp_path, capsys):
    certificates(tmp_path / "whole")
    certificates(tmp_path / "part", left_out="key")
    certificates(tmp_path / "broken")
    (tmp_path / "broken" / "cert.pem").write_text("no certificate")
    for address, folder, words in [
        ("tls://127.0.0.1:9", None, "go together"),
        ("tcp://127.0.0.1:9", "whole", "go together"),
        ("tls://127.0.0.1:9", "part", "key.pem is missing; the folder must hold ca.pem, cert.pem, key.pem"),
        ("tls://127.0.0.1:9", "broken", "cannot be used"),
    ]:
        options = [] if folder is None else ["--certificates", str(tmp_path / folder)]
        assert run(["sweep", STUDY, "--scheduler", address, *options]) == 2
        errors = capsys.readouterr().err
        assert words in errors and errors.count("\n") == 1


def test_settings_of_dask_that_it_cannot_read_are_told(monkeypatch):
    """It reads them as it is loaded, and raises of them what it pleases."""
    monkeypatch.setitem(sys.modules, "dask", None)
    told = pytest.raises(StudyError, match=r"Dask cannot be loaded .*; its settings are in DASK_CONFIG")
    with told, workers_of_scheduler("tcp://127.0.0.1:9", None, Silent()):
        pass


def test_an_open_address_of_another_machine_is_warned_of_in_one_sentence(monkeypatch):
    told = []
    monkeypatch.setattr("diaphragm_fem.study.run.cluster.CONNECT_SECONDS", 0.1)
    monkeypatch.setattr(Silent, "note", lambda self, text: told.append(text))
    for address in ("tcp://127.0.0.1:9", "localhost:9", "tcp://[::1]:9", "tcp://192.0.2.1:9"):  # the last: RFC 5737
        with pytest.raises(StudyError, match="no scheduler answers"), workers_of_scheduler(address, None, Silent()):
            pass
    assert told == [OPEN_TO_ALL] and OPEN_TO_ALL.count(". ") == 0
