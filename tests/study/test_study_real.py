"""Sweeps with the real solver: the shipped studies, and every setting of what is wanted."""

import json
import tomllib
from dataclasses import replace

import numpy as np
import pytest
from places import STUDIES

from diaphragm_fem.analysis.figures.definitions import DEFINITIONS, MEASURES
from diaphragm_fem.analysis.modes.modes import solve_modes
from diaphragm_fem.answer.quick import quick
from diaphragm_fem.cli import run
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.errors import StudyError
from diaphragm_fem.model.shell.shell import build_shell
from diaphragm_fem.study.morning import morning
from diaphragm_fem.study.morning.best_files import write_best_designs
from diaphragm_fem.study.morning.winner import on_finer_mesh
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.case_row import EVALUATOR, run_case
from diaphragm_fem.study.run.curve_packing import unpack_curves
from diaphragm_fem.study.run.engine import run_study
from diaphragm_fem.study.run.store_reading import read_store

pytestmark = pytest.mark.usefixtures("own_folder", "blank_pictures")

SHIPPED = ["step_position_by_tread", "film_by_thickness", "tolerance_of_stepped_v"]


@pytest.mark.parametrize("shared", [False, pytest.param(True, marks=pytest.mark.long)], ids=["alone", "shared"])
@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_study_solves_its_cases_by_day_and_grows_by_night(name, shared):
    """By default each case by itself: what they share takes seconds to make, and has tests of its own."""
    day, night = read_study(STUDIES / f"{name}.toml"), read_study(STUDIES / f"{name}.toml", night=True)
    sampler = Sampler(day)
    assert len(Sampler(night)) > 100 * len(sampler) / 2
    recipe = day.recipe if shared else replace(day.recipe, alike=1, scattered=0)
    rows = [run_case(recipe, k, sampler.values(k), EVALUATOR) for k in (0, len(sampler) // 2, len(sampler) - 1)]
    assert {row.status for row in rows} <= {"done", "discarded"}
    assert any(row.status == "done" for row in rows)
    day.check_figures((*DEFINITIONS, *MEASURES))


def small_study(folder, more):
    text = f'[study]\nbase = "{STUDIES / "stepped_v.toml"}"\n[vary.tread]\nkey = "profile.outer.steps[0].tread"\n'
    text += 'range = ["1.2 mm", "1.8 mm"]\ncount = 3\n[vary.gauge]\nkey = "wall.thickness"\n'
    text += 'list = ["50 um", "1 nm"]\n'
    (folder / "small.toml").write_text(text + more)
    return read_study(folder / "small.toml")


def test_a_sweep_from_file_to_morning_to_design_file(tmp_path, capsys):
    study = small_study(tmp_path, '[morning]\nrank = "departure_hz"\nbest = 2\n')
    summary = run_study(study, workers=1)
    assert summary.after == {"done": 3, "failed": 3}
    with read_store(summary.store) as store:
        reasons = {row["reason"] for row in store.rows("failed")}
        assert store.about["shell"] == "with ends, joints and thick walls"
    (reason,) = reasons
    assert "wall.thickness" in reason and "1 nm" in reason
    assert run(["sweep", "small.toml"]) == 0
    told = capsys.readouterr().out  # what a design refuses it refuses again
    assert "3 failed for reasons of their own, which `status` tells." in told and "--retry" not in told
    assert run(["sweep", "small.toml", "--store", str(summary.store), "--day", "--workers", "1"]) == 0
    assert f"Next: diaphragm-fem morning small.toml --store {summary.store} --day\n" in capsys.readouterr().out
    found = morning(study)
    best = write_best_designs(found, tmp_path / "best")
    again = quick(load_design(best[0])).figures
    drawn = found.best[0]
    for name, value in again.table().items():  # the very numbers that it won by
        assert value is None or value == pytest.approx(drawn.figure(name), rel=1e-9)
    assert drawn.figure("departure_hz") == pytest.approx(found.results.figure("departure_hz")[drawn.case], rel=1e-9)
    assert tomllib.loads(best[0].read_text())["name"].endswith(f"case {found.results.numbers[drawn.case]}")
    finer = found.finer_mesh  # the winner and the case in the middle
    assert finer.looked_at == 2 and finer.figure == "departure_hz" and 0 < finer.times_told < 0.1
    off = found.results.figure("departure_hz") * [1, 1.05, 1]
    assert finer.moved["departure_hz"] == finer.times_told
    wrong = replace(found.results, figures={**found.results.figures, "departure_hz": off})
    finer = on_finer_mesh(wrong, ["departure_hz", "moving_mass_kg"], drawn)
    assert finer.case == found.results.numbers[1] and finer.ranked == off[1]
    assert finer.ranked / finer.finer == pytest.approx(1.05, rel=1e-3)


@pytest.mark.parametrize("base", ["stepped_v", "driver_stepped_v"])
def test_a_sweep_knows_of_joints_unless_told_otherwise(base, tmp_path):
    """Other figures than the bare shell's, those of `quick(corrected=True)`, and a study of its own: stores of both are
    never mixed. No family of walls answers for it."""
    varied = f'[study]\nbase = "{STUDIES / base}.toml"\n[vary.gauge]\nkey = "wall.thickness"\n'
    varied += 'range = ["50 um", "51 um"]\ncount = 200\n[want]\nmodes = true\norders = [0, 1]\ncurves = []\n'
    found, identities = {}, set()
    for joints in (False, True):
        path = tmp_path / "own.toml"
        path.write_text(varied + f"joints = {str(joints).lower()}\n")
        study = read_study(path)
        row = run_case(study.recipe, 0, Sampler(study).values(0), EVALUATOR)
        identities.add(study.identity)
        found[joints] = json.loads(row.figures)["fundamental_hz"], unpack_curves(row.curves)["mode_hz:1"][0]
    path.write_text(varied)
    assert read_study(path).identity == study.identity  # without the key
    design = load_design(STUDIES / f"{base}.toml", {"wall.thickness": "50 um"})
    for joints, (fundamental, rocking) in found.items():
        assert fundamental == pytest.approx(quick(design, corrected=joints).figures.fundamental_hz, rel=1e-5)
        exact = solve_modes(build_shell(design, corrected=joints).structure(1), 20e3).frequency_hz[0]
        assert rocking == pytest.approx(exact, rel=1e-5)  # stored to 1e-6
    assert abs(found[True][0] / found[False][0] - 1) > 3e-4 and len(identities) == 2  # measured 1e-3


def test_what_is_wanted_is_stored_and_nothing_else(tmp_path):
    more = '[want]\nfigures = ["break_up_mode_hz", "decoupling_hz"]\ncurves = ["area", "zones", "force"]\n'
    more += "modes = true\n"
    more += 'orders = [0, 1]\npoints = 200\nup_to = "10 kHz"\n'
    study = small_study(tmp_path, more)
    row = run_case(study.recipe, 0, ("1.2 mm", "50 um"), EVALUATOR)
    design = load_design(STUDIES / "stepped_v.toml", {"profile.outer.steps.0.tread": "1.2 mm"})
    figures = json.loads(row.figures)
    assert set(figures) == {"break_up_mode_hz", "decoupling_hz", "decoupling_hz:inner step", "decoupling_hz:outer step"}
    curves = unpack_curves(row.curves)
    zones = [name for name in curves if name.startswith("zone_area_m2:")]
    whole = sum(curves[name] for name in zones)
    assert "zone_area_m2:outer step" in zones and curves["area_m2"].shape == (200,)
    assert whole == pytest.approx(curves["area_m2"], abs=2e-4 * float(np.abs(curves["area_m2"]).max()))  # rounded
    expected = solve_modes(build_shell(design, up_to_hz=10e3, corrected=True).structure(1), 10e3).frequency_hz
    assert curves["mode_hz:1"] == pytest.approx(expected, rel=2**-16)
    assert len(curves["mode_hz:0"]) > 3 and len(curves["coil_force_n_per_m"]) == 200


def test_a_figure_that_no_case_will_have_is_refused_before_the_night(tmp_path):
    for more, key in [
        ('[morning]\nrank = "break_up_mode"\n', "morning.wish"),
        ("[morning.limits]\nbreak_up_mode = { above = 1 }\n", "morning.limits"),
        ('[morning]\npareto = { break_up_mode = "high", low_area_m2 = "high" }\n', "morning.pareto"),
        ('[want]\nfigures = ["break_up_mode"]\n', "want.figures"),
    ]:
        hint = f"key {key}: unknown figure 'break_up_mode'; did you mean 'break_up_mode_hz'"
        with pytest.raises(StudyError, match=hint):
            run_study(small_study(tmp_path, more))
    with pytest.raises(StudyError, match=r"want.curves\[0\]: must be 'area', 'zones', 'force' or 'response'; received"):
        small_study(tmp_path, '[want]\ncurves = ["phase"]\n')


def test_answers_do_not_depend_on_what_was_solved_before():
    study = read_study(STUDIES / "step_position_by_tread.toml")
    sampler = Sampler(study)
    numbers = (40, 300)
    once = [run_case(study.recipe, k, sampler.values(k), EVALUATOR) for k in numbers]
    again = [run_case(study.recipe, k, sampler.values(k), EVALUATOR) for k in reversed(numbers)][::-1]
    assert [replace(row, seconds=None) for row in once] == [replace(row, seconds=None) for row in again]
