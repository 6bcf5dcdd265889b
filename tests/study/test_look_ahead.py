"""Cases that a solver makes side by side answer as each does alone, and none is to blame for what happens there."""

import os
import pickle
import subprocess
import sys
import threading
from dataclasses import replace
from itertools import islice, product
from multiprocessing import Pipe

import pytest
from places import STUDIES
from study_standin import STANDIN, diary_lines, wait_for, write_study

from diaphragm_fem.errors import DesignError
from diaphragm_fem.model.joint import kinds as joint_kinds
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study import Recipe
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run import case_answer, solver_process
from diaphragm_fem.study.run import guard as guard_module
from diaphragm_fem.study.run import look_ahead as look_ahead_module
from diaphragm_fem.study.run.case_row import EVALUATOR, look_ahead, run_case
from diaphragm_fem.study.run.guard import Guard
from diaphragm_fem.study.run.solver_process import AHEAD, BACK, LOOKING, PATIENCE, Job

VARIED = """
[study]
base = "{base}"
[vary.tread]
key = "profile.outer.steps[0].tread"
list = ["0.6 mm", "9 mm", "1.4 mm", "1.8 mm"]
[vary.distance]
key = "profile.outer.steps[0].distance"
list = ["1.3 mm", "1.9 mm"]
[keep]
"a narrow step" = "tread + distance < '10.5 mm'"
[want]
up_to = "5 kHz"
points = 20
curves = ["area"]
"""


def timeless(rows):
    return [replace(row, seconds=None) for row in rows]


def test_cases_made_ahead_answer_as_each_alone_to_the_bit(tmp_path, monkeypatch):
    """Those that cannot be made, as a tread of 9 mm, or that are discarded, among them; no source: what a case answers
    depends on nothing but the case."""
    path = tmp_path / "study.toml"
    path.write_text(VARIED.format(base=STUDIES / "stepped_v.toml"))
    study = read_study(path)
    sampler = Sampler(study)
    cases = [(k, sampler.values(k)) for k in range(len(sampler))]
    alone = [run_case(study.recipe, number, values, EVALUATOR) for number, values in cases]
    asked = []
    broken = Recipe.broken_constraint
    monkeypatch.setattr(Recipe, "broken_constraint", lambda self, data: (asked.append(data), broken(self, data))[1])
    ahead = look_ahead(study.recipe, cases, EVALUATOR)
    ready = [one.structure is not None for one in case_answer._ahead]
    rows = [run_case(study.recipe, k, values, EVALUATOR, ahead=ahead[k], spent=0.01) for k, values in cases]
    assert all(ready) and len(ready) == 6 and not case_answer._ahead
    assert {row.status for row in rows} == {"done", "failed", "discarded"}
    assert timeless(rows) == timeless(alone)
    assert len(asked) == len(cases)  # none twice


def test_joints_that_need_a_patch_are_left_to_their_own_turn(tmp_path, monkeypatch):
    path = tmp_path / "study.toml"
    path.write_text(VARIED.format(base=STUDIES / "stepped_v.toml"))
    recipe = read_study(path).recipe
    monkeypatch.setattr(joint_kinds, "_KNOWN", {})
    look_ahead(recipe, list(enumerate(islice(product(["0.6 mm"], ["1.3 mm", "1.9 mm"]), 2))), EVALUATOR)
    assert [one.structure for one in case_answer._ahead] == [None, None] and not joint_kinds._KNOWN
    case_answer._ahead.clear()


@pytest.mark.parametrize("step", ["build_shell", "structures"])
def test_a_solver_without_memory_goes_on_with_nothing_it_looked_ahead_to(step, tmp_path, monkeypatch):
    path = tmp_path / "study.toml"
    path.write_text(VARIED.format(base=STUDIES / "stepped_v.toml"))
    recipe = read_study(path).recipe

    def full(*_args, **_settings):
        raise MemoryError

    monkeypatch.setattr(look_ahead_module, step, full)
    with pytest.raises(MemoryError):
        look_ahead(recipe, list(enumerate(islice(product(["0.6 mm"], ["1.3 mm", "1.9 mm"]), 2))), EVALUATOR)


@pytest.mark.parametrize("how", ["well", "spins", "crashes", "raises", "hoards"])
def test_no_case_is_to_blame_for_what_happens_as_a_solver_looks_ahead(how, tmp_path, monkeypatch):
    """A solver that ends then is followed by one that looks ahead no more."""
    monkeypatch.setenv("AHEAD_STANDIN", how)
    monkeypatch.setenv("AHEAD_DIARY", str(tmp_path / "diary"))
    study = read_study(write_study(tmp_path, treads=3, thicknesses=7, time_limit="0.5 s"))
    sampler, evaluator = Sampler(study), "ahead_standin:evaluate"
    cases = [(k, sampler.values(k)) for k in range(len(sampler))]
    guard = Guard(evaluator)
    try:
        rows = list(guard.rows(pickle.dumps(Job(study.recipe, evaluator, study.time_limit)), cases))
    finally:
        guard.stop()
    assert len(cases) > AHEAD
    assert timeless(rows) == timeless(run_case(study.recipe, *case, STANDIN) for case in cases)
    looked = [int(count) for count in (tmp_path / "diary").read_text().split()]
    assert (sum(looked) if how == "well" else len(looked)) == (len(cases) - 7 if how == "well" else 1)


def test_what_hangs_as_a_solver_looks_ahead_is_ended_soon(tmp_path, monkeypatch):
    """Else a case that hangs would take its limit twice: there, and at its own turn."""
    study = read_study(write_study(tmp_path, treads=1, thicknesses=2))
    monkeypatch.setenv("AHEAD_STANDIN", "well")
    monkeypatch.setenv("AHEAD_DIARY", str(tmp_path / "diary"))
    limits = []
    monkeypatch.setattr(solver_process, "alarm", limits.append)
    ours, theirs = Pipe()
    cases = [(k, Sampler(study).values(k)) for k in range(2)]
    solver_process._ahead(theirs, Job(study.recipe, "ahead_standin:evaluate", 60.0), cases)
    assert 0 < limits[0] <= 0.2 * 60.0 and limits[1:] == [0.0]
    assert [ours.recv(), ours.recv()] == [LOOKING, BACK]
    solver_process._ahead(theirs, Job(study.recipe, "ahead_standin:evaluate", 1.0), cases)
    assert limits[2] >= 0.5  # 16 parts take 0.1 to 0.2 s: a tenth of a second cost each worker a start


def test_what_a_solver_loads_counts_against_no_limit():
    """Reading a design loads half of the program, and a driver more: the first case paid for both."""
    recipe = read_study(STUDIES / "slots_of_driver.toml").recipe
    program = f"""if True:
        import pickle, sys
        from diaphragm_fem.study.run.case_row import EVALUATOR, prepare
        prepare(pickle.loads({pickle.dumps(recipe)!r}), EVALUATOR)
        print("diaphragm_fem.design.read.build" in sys.modules, "diaphragm_fem.answer.driver.driver" in sys.modules)
    """
    assert subprocess.run([sys.executable, "-c", program], capture_output=True, check=True).stdout == b"True True\n"


def test_a_reason_of_several_lines_stands_on_one(tmp_path, monkeypatch):
    """Tables and pages showed the end of a line as a letter that cannot be printed."""
    study = read_study(write_study(tmp_path, treads=1, thicknesses=1))
    values = Sampler(study).values(0)

    def refused(*_):
        raise DesignError("it is 4 mm thick\nif that is meant, say so")

    monkeypatch.setattr(Recipe, "design_of", refused)
    row = run_case(study.recipe, 0, values, STANDIN)
    assert (row.status, row.reason) == ("failed", "it is 4 mm thick; if that is meant, say so")

    def broken(*_):
        raise ValueError("no shapes\n(3,) (4,)")

    monkeypatch.setattr(Recipe, "design_of", broken)
    assert run_case(study.recipe, 0, values, STANDIN).reason == "ValueError in broken: no shapes; (3,) (4,)"


def test_a_solver_loads_nothing_from_the_folder_that_it_is_started_in(tmp_path, monkeypatch):
    """A study comes in a folder, and what else lies there is none of the program (common practice, no source). Nor is
    a folder in it whose name, as that of an editable install, stands among those where modules are sought."""
    study = read_study(write_study(tmp_path, treads=1, thicknesses=1))
    (tmp_path / "beside").mkdir()
    for name in ("json", "pickle", "socket", "sitecustomize"):
        for folder in (tmp_path, tmp_path / "beside"):
            (folder / f"{name}.py").write_text(f"open('was_run', 'w').close(); raise SystemExit('{name}')")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "path", ["beside", *sys.path])
    guard = Guard(STANDIN)
    try:
        job = pickle.dumps(Job(study.recipe, STANDIN, study.time_limit))
        rows = list(guard.rows(job, [(0, Sampler(study).values(0))]))
    finally:
        guard.stop()
    assert [row.number for row in rows] == [0] and not (tmp_path / "was_run").exists()


@pytest.mark.skipif(os.name == "nt", reason="signals of Unix")
def test_a_case_is_not_to_blame_for_a_pause_of_everything(tmp_path, monkeypatch):
    """By Ctrl-Z, over lunch: the clock goes on, and every case in hand had met its limit on the clock."""
    monkeypatch.setattr(guard_module, "LOOK", 0.05)
    monkeypatch.setattr(guard_module, "GRACE", 0.3)
    gate = tmp_path / "gate"  # at which the case waits at first
    for name, value in {"DIARY": tmp_path / "diary", "HOLD": 1, "GATE": gate}.items():
        monkeypatch.setenv(f"STANDIN_{name}", str(value))
    study = read_study(write_study(tmp_path, treads=1, thicknesses=1, time_limit="0.2 s"))
    guard = Guard(STANDIN)

    def pause():
        wait_for(diary_lines)
        pids = f"{guard._solver.pid} {os.getpid()}"
        subprocess.run(["sh", "-c", f"kill -STOP {pids}; sleep {0.2 * PATIENCE + 0.4}; kill -CONT {pids}"], check=True)
        gate.touch()

    beside = threading.Thread(target=pause)
    beside.start()
    try:
        job = pickle.dumps(Job(study.recipe, STANDIN, study.time_limit))
        rows = list(guard.rows(job, [(0, ("0.8 mm", "20 um", "well"))]))
    finally:
        beside.join()
        guard.stop()
    assert [row.status for row in rows] == ["done"] and len(diary_lines()) == 2
