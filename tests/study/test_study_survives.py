"""Sweeps that survive: real processes, really killed. Every disturbed store must end as the undisturbed one does."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import psutil
import pytest
import study_standin
from study_standin import diary_lines, wait_for, write_study

from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run import engine
from diaphragm_fem.study.run.case_row import run_case
from diaphragm_fem.study.run.engine import run_batch, run_study
from diaphragm_fem.study.run.store import open_store
from diaphragm_fem.study.run.store_reading import contents_digest, read_store

HERE = Path(__file__).parents[1]
EVALUATOR = "study_standin:evaluate"
COMMAND = """
import signal, sys
from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.run.engine import run_batch, run_study
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
    monkeypatch.setenv("PYTHONPATH", str(HERE))


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
    """The store as it must be, made case after case without any engine, in reverse order for good measure."""
    study = read_study(study_path)
    sampler = Sampler(study)
    with open_store(study, store_path) as store:
        for number in reversed(range(len(sampler))):
            store.add([run_case(study.recipe, number, sampler.values(number), EVALUATOR)])
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
    summary = run_study(study, store=tmp_path / "store.sqlite", workers=workers, evaluator=EVALUATOR)
    assert summary.after == {"done": 160, "discarded": 40}
    assert contents_digest(summary.store) == undisturbed(study, tmp_path / "plain.sqlite")


def test_a_killed_command_goes_on_and_computes_nothing_twice(tmp_path, processes):
    study, store = write_study(tmp_path, pause=0.02), tmp_path / "store.sqlite"
    command = start(processes, study, store)
    wait_for(lambda: stored(store, "done") >= 10)
    family = psutil.Process(command.pid).children(recursive=True)
    command.kill()
    command.wait()
    wait_for(lambda: not any(member.is_running() and member.status() != "zombie" for member in family), 10)
    kept, solved_before = stored(store), len(diary_lines())
    solved_kept = stored(store, "done")
    assert 10 <= solved_kept < 160
    in_flight = 2 * 3 * 25 + 2 * 25  # tasks in flight and one batch per worker not yet stored, of 0.5 s / 0.02 s cases
    assert solved_before - solved_kept <= in_flight
    summary = run_study(study, store=store, workers=2, evaluator=EVALUATOR)
    assert sum(summary.before.values()) == kept
    assert len(diary_lines()) - solved_before == 160 - solved_kept
    assert contents_digest(store) == undisturbed(study, tmp_path / "plain.sqlite")


def test_a_killed_worker_costs_no_case(tmp_path, processes):
    study, store = write_study(tmp_path, pause=0.02), tmp_path / "store.sqlite"
    command = start(processes, study, store)
    wait_for(lambda: stored(store) >= 20)
    solvers = [
        p
        for p in psutil.Process(command.pid).children(recursive=True)
        if "study.run.solver_process" in " ".join(p.cmdline())
    ]
    os.kill(solvers[0].ppid(), signal.SIGKILL)  # a worker
    os.kill(solvers[-1].pid, signal.SIGKILL)  # and the solver of another
    out, errors = command.communicate(timeout=60)
    assert command.returncode == 0, errors
    assert contents_digest(store) == undisturbed(study, tmp_path / "plain.sqlite"), out


def test_scheduler_and_workers_as_processes_of_their_own_and_the_scheduler_killed(tmp_path, processes):
    study, store = write_study(tmp_path, pause=0.02), tmp_path / "store.sqlite"

    def cluster(name):
        file = tmp_path / f"{name}.json"
        dask = [sys.executable, "-m", "dask"]
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "cwd": tmp_path}
        scheduler = subprocess.Popen(
            [*dask, "scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file", file],
            **quiet,
        )
        processes.append(scheduler)
        wait_for(file.exists)
        for _ in range(2):
            processes.append(
                subprocess.Popen(
                    [
                        *dask,
                        "worker",
                        "--scheduler-file",
                        file,
                        "--nthreads",
                        "1",
                        "--no-dashboard",
                        "--death-timeout",
                        "20",
                    ],
                    **quiet,
                )
            )
        wait_for(lambda: '"address"' in file.read_text())
        import json

        return scheduler, json.loads(file.read_text())["address"]

    scheduler, address = cluster("one")
    command = start(processes, study, store, scheduler=address)
    wait_for(lambda: stored(store) >= 20)
    scheduler.kill()
    _, errors = command.communicate(timeout=60)
    assert command.returncode == 1
    assert "the scheduler is lost" in errors and "start the study again" in errors
    kept = stored(store)
    assert 20 <= kept < 200
    _, address = cluster("two")
    summary = run_study(study, store=store, scheduler=address, evaluator=EVALUATOR)
    assert sum(summary.before.values()) == kept
    assert contents_digest(store) == undisturbed(study, tmp_path / "plain.sqlite")


def test_a_full_disk_ends_the_run_with_what_is_stored(tmp_path, processes):
    study, store = write_study(tmp_path, pause=0.03), tmp_path / "store.sqlite"
    command = start(processes, study, store, file_limit=400_000)  # of about 800 kB with its log
    _, errors = command.communicate(timeout=60)
    assert command.returncode == 1
    assert "cannot be written" in errors and "What was stored before is safe" in errors
    assert 0 < stored(store) < 200
    run_study(study, store=store, workers=2, evaluator=EVALUATOR)
    assert contents_digest(store) == undisturbed(study, tmp_path / "plain.sqlite")


def test_cases_that_hang_crash_or_fail_are_rows_and_the_sweep_goes_on(tmp_path):
    behaviours = '["well", "hang", "spin", "crash", "crash once", "refuse", "fault", "infinite"]'
    study = write_study(tmp_path, treads=2, thicknesses=1, behaviours=behaviours, time_limit="0.5 s")
    summary = run_study(study, workers=2, evaluator=EVALUATOR)
    assert summary.after == {"done": 2, "discarded": 8, "failed": 4, "stopped": 2}
    with read_store(summary.store) as store:
        reasons = {row["inputs"]["behaviour"]: row["reason"] for row in store.rows() if row["status"] != "discarded"}
    assert reasons["well"] is None and reasons["crash once"] is None
    assert reasons["hang"] == reasons["spin"] == "stopped at the time limit of 0.5 s"
    assert reasons["crash"] == "its process died twice, signal SIGSEGV"
    assert reasons["refuse"] == "the wall is too thick: 24.4948974 um"  # the middle of 12 ... 50 um on a log scale
    assert reasons["fault"] == "ZeroDivisionError in evaluate: by hand"
    assert "fundamental_hz came out as inf" in reasons["infinite"]


@pytest.mark.long
def test_a_case_that_kills_its_workers_becomes_a_failed_row(tmp_path):
    study = write_study(tmp_path, treads=2, thicknesses=6, behaviours='["well", "kill worker"]')
    summary = run_study(study, workers=2, evaluator=EVALUATOR)
    with read_store(summary.store) as store:
        for row in store.rows():
            if row["status"] != "discarded":
                poison = row["inputs"]["behaviour"] == "kill worker"
                assert (row["status"], row["reason"]) == (
                    ("failed", "every worker that tried it was killed") if poison else ("done", None)
                )


def test_a_second_start_on_one_store_is_refused(tmp_path, processes):
    study, store = write_study(tmp_path, pause=0.4), tmp_path / "store.sqlite"
    command = start(processes, study, store)
    wait_for(lambda: stored(store) >= 1)
    with pytest.raises(
        StudyError, match=rf"is being written by process {command.pid} on .*Wait for that run or stop it"
    ):
        run_study(study, store=store, evaluator=EVALUATOR)
    command.send_signal(signal.SIGINT)
    command.communicate(timeout=30)
    assert 1 <= stored(store) < 200


def test_no_scheduler_at_the_address_is_said(tmp_path, monkeypatch):
    monkeypatch.setattr("diaphragm_fem.study.run.cluster.CONNECT_SECONDS", 1)
    study = write_study(tmp_path)
    with pytest.raises(StudyError, match=r"no scheduler answers at 'tcp://127.0.0.1:9'.*dask scheduler"):
        run_study(study, scheduler="tcp://127.0.0.1:9", evaluator=EVALUATOR)


def test_a_worker_that_cannot_work_ends_the_run_with_the_reason(tmp_path):
    with pytest.raises(StudyError, match=r"the workers cannot solve cases: .*No module named 'no_such_module'"):
        run_study(write_study(tmp_path), workers=1, evaluator="no_such_module:evaluate")


def test_workers_of_another_version_are_refused(monkeypatch):
    monkeypatch.setattr("diaphragm_fem.study.run.engine.__version__", "9.9")
    with pytest.raises(RuntimeError, match=r"the worker runs version 9.9 of the program, the command 0.1"):
        run_batch(b"", [], "0.1")


def test_a_sobol_study_made_longer_goes_on_from_what_it_has(tmp_path):
    path = write_study(tmp_path, more='[plan]\nhow = "sobol"\ncases = 8\n')
    first = run_study(path, workers=1, evaluator=EVALUATOR)
    path.write_text(path.read_text().replace("cases = 8", "cases = 16"))
    solved = len(diary_lines())
    second = run_study(path, workers=1, evaluator=EVALUATOR)
    assert (sum(first.after.values()), second.added) == (8, 8)
    assert len(diary_lines()) - solved == second.after["done"] - first.after["done"]
    assert contents_digest(second.store) == undisturbed(path, tmp_path / "plain.sqlite")


def test_batches_grow_with_the_pace_and_shrink_toward_the_end(tmp_path, monkeypatch):
    sizes = []
    batch = engine._Batch
    monkeypatch.setattr(engine, "_Batch", lambda cases: sizes.append(len(cases)) or batch(cases))
    summary = run_study(write_study(tmp_path, thicknesses=400), workers=2, evaluator=EVALUATOR)
    assert sum(sizes) == summary.total == 2000
    assert sizes[0] == 1
    assert max(sizes) > 100
    assert max(sizes[-3:]) < max(sizes) / 4


def test_a_dashboard_without_its_package_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr("diaphragm_fem.study.run.cluster.find_spec", lambda name: None)
    with pytest.raises(StudyError, match="dashboard needs the package bokeh: install it"):
        run_study(write_study(tmp_path), dashboard=True, evaluator=EVALUATOR)


def test_the_stand_in_misbehaves_only_when_told():
    plate = {"thickness": "20 um", "steps": [{"tread": "2 mm"}]}
    result = study_standin.evaluate({"behaviour": "well", "pause": 0.0, "plate": plate})
    assert result.figures["fundamental_hz"] == pytest.approx(1e7 * 20e-6 + 1e4 * 2e-3)
