"""Sweeps that survive: real processes, really killed. Every disturbed store must end as the undisturbed one does."""

import contextlib
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import psutil
import pytest
import study_standin
from dask_processes import scheduler_with_a_worker
from study_standin import STANDIN, contents_digest, diary_lines, solve_here, wait_for, write_study

from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.engine import run_study
from diaphragm_fem.study.run.pending_cases import BATCH_SECONDS, LARGEST_BATCH, batch_size
from diaphragm_fem.study.run.solver_process import alarm
from diaphragm_fem.study.run.store_reading import read_store
from diaphragm_fem.study.run.workers import run_batch

HERE = Path(__file__).parents[1]
COMMAND = """
import signal, sys
from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.run import cluster
from diaphragm_fem.study.run.engine import run_study
cluster.CONNECT_SECONDS = 300  # of a machine that is busy
if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell has its background jobs ignore it
    path, store, scheduler, file_limit = sys.argv[1:5]
    if int(file_limit):
        import resource
        resource.setrlimit(resource.RLIMIT_FSIZE, (int(file_limit), resource.RLIM_INFINITY))
    try:
        print(run_study(path, store=store, scheduler=scheduler or None, workers=2, evaluator="study_standin:evaluate"))
    except StudyError as error:
        sys.exit(f"refused: {error}")
"""


@pytest.fixture(autouse=True)
def diary(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("STANDIN_DIARY", str(tmp_path / "diary.txt"))
    monkeypatch.setenv("STANDIN_MARK", str(tmp_path / "mark"))
    monkeypatch.setenv("STANDIN_GATE", str(tmp_path / "gate"))
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join((str(HERE), str(HERE.parent))))


@pytest.fixture
def hold(monkeypatch, tmp_path):
    """Sweeps come as far as 100 cases begun, and go on once the gate is opened by calling this."""
    monkeypatch.setenv("STANDIN_HOLD", "100")
    return (tmp_path / "gate").touch


@pytest.fixture
def processes():
    """Started processes, ended with all they started when the test is over."""
    started = []
    yield started
    for process in started:
        try:
            family = psutil.Process(process.pid).children(recursive=True)
        except psutil.NoSuchProcess:
            family = []
        process.kill()
        process.wait()
        for member in family:
            if member.is_running():
                member.kill()


def start(processes, study, store, *, scheduler="", file_limit=0):
    script = study.with_name("command.py")
    script.write_text(COMMAND)
    process = subprocess.Popen(
        [sys.executable, str(script), str(study), str(store), scheduler, str(file_limit)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    processes.append(process)
    return process


def undisturbed(study_path, store_path):
    """The store as it must be."""
    solve_here(read_study(study_path), store_path)
    return contents_digest(store_path)


def stored(store, state=None):
    """Rows in the store, or those of one state: discarded cases are stored before the first is solved."""
    if not store.exists():
        return 0
    try:
        with read_store(store) as reading:
            counts = reading.counts()
            return sum(counts.values()) if state is None else counts.get(state, 0)
    except StudyError:  # the very first moment, its tables not yet made
        return 0


@pytest.mark.parametrize("workers", [1, 2])
def test_results_do_not_depend_on_the_number_of_workers_or_the_order(tmp_path, workers):
    study = write_study(tmp_path)
    summary = run_study(study, store=tmp_path / "store.sqlite", workers=workers, evaluator=STANDIN)
    assert summary.after == {"done": 160, "discarded": 40} and len(diary_lines()) == 160  # each in one batch
    assert contents_digest(summary.store) == undisturbed(study, tmp_path / "plain.sqlite")


def solvers_of(command):
    """The solver processes of a command that are alive at this moment."""
    found = []
    with contextlib.suppress(psutil.Error):
        for process in psutil.Process(command.pid).children(recursive=True):
            with contextlib.suppress(psutil.Error):
                if "study.run.solver_process" in " ".join(process.cmdline()):
                    found.append(process)
    return found


def test_a_command_alone_writes_its_store_and_killed_goes_on_and_computes_nothing_twice(tmp_path, processes, hold):
    study, store = write_study(tmp_path, pause=0.02), tmp_path / "store.sqlite"
    command = start(processes, study, store)
    wait_for(lambda: stored(store, "done") >= 10 and len(diary_lines()) >= 100, command)
    family = solvers_of(command)
    assert len(family) == 2
    with pytest.raises(
        StudyError, match=rf"is being written by process {command.pid} on .*Wait for that run or stop it"
    ):
        run_study(study, store=store, evaluator=STANDIN)
    command.kill()
    command.wait()
    wait_for(lambda: not any(member.is_running() and member.status() != "zombie" for member in family))
    kept, solved_before = stored(store), len(diary_lines())
    solved_kept = stored(store, "done")
    hold()
    summary = run_study(study, store=store, workers=2, evaluator=STANDIN)
    assert sum(summary.before.values()) == kept
    assert len(diary_lines()) - solved_before == 160 - solved_kept
    assert contents_digest(store) == undisturbed(study, tmp_path / "plain.sqlite")


def test_killed_solvers_cost_no_case(tmp_path, processes, hold):
    study, store = write_study(tmp_path), tmp_path / "store.sqlite"
    command = start(processes, study, store)
    wait_for(lambda: len(diary_lines()) >= 101, command)  # both are in a case
    for solver in solvers_of(command):
        solver.kill()
    hold()
    out, errors = command.communicate(timeout=300)
    assert command.returncode == 0, errors
    assert contents_digest(store) == undisturbed(study, tmp_path / "plain.sqlite"), out


@pytest.mark.long
def test_twenty_kills_at_random_lose_nothing(tmp_path, processes):
    """The command, or one of its solvers, killed at any moment of a sweep, start and end among them, twenty times."""
    rng = random.Random(20)
    study, store = write_study(tmp_path, treads=10, thicknesses=120, pause=0.005), tmp_path / "store.sqlite"
    kills = 0
    while kills < 20:
        command = start(processes, study, store)
        until = time.monotonic() + rng.uniform(0.0, 3.0)
        while time.monotonic() < until and command.poll() is None:
            time.sleep(rng.uniform(0.0, 0.5))
            if rng.random() < 0.2:
                for solver in solvers_of(command)[:1]:
                    with contextlib.suppress(psutil.NoSuchProcess):
                        solver.kill()
                        kills += 1
        family = solvers_of(command) if command.poll() is None else []
        kills += command.poll() is None
        command.kill()
        command.communicate()
        wait_for(lambda: not any(member.is_running() and member.status() != "zombie" for member in family))  # noqa: B023
        if stored(store) == 1200:
            store.unlink()
    summary = run_study(study, store=store, workers=2, retry_failures=True, evaluator=STANDIN)
    assert summary.after.get("failed", 0) == 0
    assert contents_digest(store) == undisturbed(study, tmp_path / "plain.sqlite")


@pytest.mark.long
def test_scheduler_and_workers_as_processes_of_their_own_and_the_scheduler_killed(
    tmp_path, processes, hold, monkeypatch
):
    study, store = write_study(tmp_path, pause=0.02), tmp_path / "store.sqlite"

    def begin(command, **how):
        processes.append(subprocess.Popen(command, **how))
        return processes[-1]

    scheduler, address = scheduler_with_a_worker(begin, tmp_path, "one", threads=2)
    command = start(processes, study, store, scheduler=address)
    wait_for(lambda: stored(store, "done") >= 10, command, scheduler)
    scheduler.kill()
    _, errors = command.communicate(timeout=300)
    assert command.returncode == 1
    assert "the scheduler is lost" in errors and "start the study again" in errors
    kept = stored(store)
    assert 20 <= kept < 200
    hold()
    monkeypatch.setattr("diaphragm_fem.study.run.cluster.CONNECT_SECONDS", 300)
    _, address = scheduler_with_a_worker(begin, tmp_path, "two", threads=2)
    summary = run_study(study, store=store, scheduler=address, evaluator=STANDIN)
    assert sum(summary.before.values()) == kept
    assert contents_digest(store) == undisturbed(study, tmp_path / "plain.sqlite")


def test_a_full_disk_ends_the_run_with_what_is_stored(tmp_path, processes):
    study, store = write_study(tmp_path, pause=0.01), tmp_path / "store.sqlite"
    command = start(processes, study, store, file_limit=400_000)  # of about 800 kB with its log
    _, errors = command.communicate(timeout=300)
    assert command.returncode == 1
    assert "cannot be written" in errors and "What was stored before is safe" in errors
    assert 0 < stored(store) < 200
    run_study(study, store=store, workers=2, evaluator=STANDIN)
    assert contents_digest(store) == undisturbed(study, tmp_path / "plain.sqlite")


def test_cases_that_hang_crash_or_fail_are_rows_and_the_sweep_goes_on(tmp_path):
    behaviours = '["well", "hang", "spin", "crash", "crash once", "refuse", "fault", "infinite", "hoard"]'
    study = write_study(tmp_path, treads=2, thicknesses=1, behaviours=behaviours, time_limit="0.5 s")
    summary = run_study(study, workers=2, evaluator=STANDIN)
    assert summary.after == {"done": 2, "discarded": 9, "failed": 5, "stopped": 2}
    assert summary.lost == 4  # hang, spin, crash and hoard; what is refused or wrong stays so
    with read_store(summary.store) as store:
        reasons = {row["inputs"]["behaviour"]: row["reason"] for row in store.rows() if row["status"] != "discarded"}
    assert reasons["well"] is None and reasons["crash once"] is None
    assert reasons["hang"] == "stopped after 5 s on the clock, ten times the time limit"
    on_the_clock = reasons["hang"]  # where others are so busy that 0.5 s of processor take longer than that
    assert reasons["spin"] in ("stopped at the time limit of 0.5 s", on_the_clock)
    assert reasons["crash"] == "its process died twice, signal SIGSEGV"
    assert reasons["refuse"] == "the wall is too thick: 24.4948974 um"  # the middle of 12 ... 50 um on a log scale
    assert reasons["fault"] == "ZeroDivisionError in evaluate: by hand"
    assert "fundamental_hz came out as inf" in reasons["infinite"]
    assert reasons["hoard"] == "its solver ran out of memory: by hand"


def test_a_case_is_limited_in_processor_time_and_ten_times_that_on_the_clock(monkeypatch):
    asked = []
    monkeypatch.setattr(signal, "setitimer", lambda which, seconds: asked.append((which, seconds)))
    alarm(3.0)
    assert asked == [(signal.ITIMER_PROF, 3.0), (signal.ITIMER_REAL, 30.0)]


def test_only_processor_time_counts_against_the_limit(tmp_path):
    """A case that waits longer than its limit, as all do on a machine that stands still, is solved none the less."""
    study = write_study(tmp_path, treads=1, thicknesses=2, pause=1.2, time_limit="1 s")
    assert run_study(study, workers=2, evaluator=STANDIN).after == {"done": 2}


@pytest.mark.long
def test_a_case_that_kills_its_workers_becomes_a_failed_row(tmp_path, monkeypatch):
    import dask
    from distributed import LocalCluster

    study = write_study(tmp_path, treads=2, thicknesses=3, behaviours='["well", "kill worker"]')
    monkeypatch.setattr("diaphragm_fem.study.run.cluster.CONNECT_SECONDS", 30)  # else a busy machine's are given up
    kind = {"n_workers": 2, "threads_per_worker": 1, "host": "127.0.0.1", "dashboard_address": None}
    patient = {"distributed.comm.timeouts.connect": "30s", "distributed.deploy.lost-worker-timeout": "1h"}
    # by default a worker that 15 s after a death is dead again, as these may be, is given up for good
    with dask.config.set(patient), LocalCluster(**kind) as cluster:
        summary = run_study(study, scheduler=cluster.scheduler_address, evaluator=STANDIN)
    with read_store(summary.store) as store:
        for row in store.rows():
            if row["status"] != "discarded":
                poison = row["inputs"]["behaviour"] == "kill worker"
                assert (row["status"], row["reason"]) == (
                    ("failed", "every worker that tried it was killed") if poison else ("done", None)
                )


def test_no_scheduler_at_the_address_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr("diaphragm_fem.study.run.cluster.CONNECT_SECONDS", 1)
    study = write_study(tmp_path)
    with pytest.raises(StudyError, match=r"no scheduler answers at 'tcp://127.0.0.1:9'.*dask scheduler"):
        run_study(study, scheduler="tcp://127.0.0.1:9", evaluator=STANDIN)


def test_a_worker_that_cannot_work_ends_the_run_with_the_reason(tmp_path):
    with pytest.raises(StudyError, match=r"the workers cannot solve cases: .*No module named 'no_such_module'"):
        run_study(write_study(tmp_path), workers=1, evaluator="no_such_module:evaluate")


def test_a_system_that_gives_no_thread_is_told(tmp_path, monkeypatch):
    def no_room(self):
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr("threading.Thread.start", no_room)
    with pytest.raises(StudyError, match=r"no worker can be started \(can't start new thread\): .*too little memory"):
        run_study(write_study(tmp_path), evaluator=STANDIN)


def test_workers_of_another_version_are_refused(monkeypatch):
    monkeypatch.setattr("diaphragm_fem.study.run.workers.__version__", "9.9")
    with pytest.raises(RuntimeError, match=r"the worker runs version 9.9 of the program, the command 0.1"):
        run_batch(b"", [], "0.1")


def test_a_sobol_study_made_longer_goes_on_from_what_it_has(tmp_path):
    path = write_study(tmp_path, more='[plan]\nhow = "sobol"\ncases = 8\n')
    first = run_study(path, workers=1, evaluator=STANDIN)
    path.write_text(path.read_text().replace("cases = 8", "cases = 16"))
    solved = len(diary_lines())
    second = run_study(path, workers=1, evaluator=STANDIN)
    assert (sum(first.after.values()), second.added) == (8, 8)
    assert len(diary_lines()) - solved == second.after["done"] - first.after["done"]
    assert contents_digest(second.store) == undisturbed(path, tmp_path / "plain.sqlite")


def test_batches_grow_with_the_pace_and_shrink_toward_the_end():
    assert [batch_size(None, 10**6, 2, taken) for taken in (0, 1, 2, 20)] == [1, 2, 4, 64]  # feeling the way
    assert batch_size(0.05, 10**6, 2, 9) == BATCH_SECONDS / 0.05
    assert batch_size(0.005, 10**6, 2, 9) == BATCH_SECONDS / 0.005
    assert batch_size(1e-9, 10**6, 2, 9) == LARGEST_BATCH
    assert batch_size(60.0, 10**6, 2, 9) == 1
    assert [batch_size(0.005, left, 2, 9) for left in (600, 300, 60, 7, 1)] == [100, 50, 10, 4, 4]
    # a thousand workers and short cases: never more than 100 tasks a second, 10 s of work in each
    assert batch_size(0.05, 10**7, 1000, 9) == 10 / 0.05
    left, sizes = 2000, []
    while left:
        sizes.append(min(batch_size(0.001, left, 2, 9), left))
        left -= sizes[-1]
    assert sizes == sorted(sizes, reverse=True) and sizes[0] > 300 and sizes[-1] < 20 + 1


def test_the_stand_in_misbehaves_only_when_told():
    plate = {"thickness": "20 um", "steps": [{"tread": "2 mm"}]}
    result = study_standin.evaluate({"behaviour": "well", "pause": 0.0, "plate": plate})
    assert result.figures["fundamental_hz"] == pytest.approx(1e7 * 20e-6 + 1e4 * 2e-3)


MAKES_READY = """
import os, signal
from pathlib import Path
from study_standin import evaluate

def prepare(recipe):
    met = Path(__file__).with_name("met")
    met.write_text(met.read_text() + "x" if met.exists() else "x")
    if len(met.read_text()) <= KILLS:
        os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.parametrize("kills", [2, 3])
def test_a_solver_killed_as_it_makes_ready_is_followed_by_others(tmp_path, monkeypatch, kills):
    """Making ready for a study whose parts scatter takes seconds; what kills every solver is told."""
    (tmp_path / "killed.py").write_text(MAKES_READY.replace("KILLS", str(kills)))
    monkeypatch.syspath_prepend(tmp_path)
    study, store = write_study(tmp_path), tmp_path / "store.sqlite"
    if kills > 2:
        with pytest.raises(StudyError, match=r"does not start \(signal SIGKILL"):
            run_study(study, store=store, workers=1, evaluator="killed:evaluate")
    else:
        summary = run_study(study, store=store, workers=1, evaluator="killed:evaluate")
        assert summary.after == {"done": 160, "discarded": 40}
    started = len((tmp_path / "met").read_text())
    assert started == 3 if kills > 2 else started >= 3  # on a busy machine a solver may miss its limit and be replaced
