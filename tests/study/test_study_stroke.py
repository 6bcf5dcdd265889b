"""Figures of large stroke in sweeps and comparisons: there where a [stroke] table asks for them."""

import json

import numpy as np
import pytest
from places import STUDIES

from diaphragm_fem.answer.comparison.comparison import compare
from diaphragm_fem.answer.comparison.variants import vary
from diaphragm_fem.answer.stroke.figures import STROKE_FIGURES, never_within, stroke_figures, stroke_figures_of
from diaphragm_fem.answer.stroke.path import stroke_path, stroke_shell
from diaphragm_fem.design.read.read import read_design_file
from diaphragm_fem.design.stroke_plan import plan_stroke
from diaphragm_fem.errors import StudyError
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.study.morning.ranking import rank
from diaphragm_fem.study.morning.results import load_results
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.case_row import EVALUATOR, run_case
from diaphragm_fem.study.run.engine import run_study

ASKED = """
[stroke]
rearmost = "-0.6 mm"
foremost = "0.6 mm"
steps = 8
changes = ["10 %", "400 %"]
[stroke.allowable."damping elastomer"]
strain = "2 %"
[stroke.motor]
stroke = ["-0.6 mm", "0 mm", "0.6 mm"]
force_factor = ["7.2 N/A", "9 N/A", "7.2 N/A"]
[stroke.drive]
motion = "0.2 mm"
frequency = ["400 Hz"]
"""


@pytest.fixture
def v_file(tmp_path):
    path = tmp_path / "moved_v.toml"
    text = (STUDIES / "stepped_v.toml").read_text(encoding="utf-8")
    path.write_text(text + ASKED, encoding="utf-8")
    return path


def small_study(folder, more=""):
    text = '[study]\nbase = "moved_v.toml"\n[vary.tread]\nkey = "profile.outer.steps[0].tread"\n'
    text += 'range = ["1.4 mm", "1.8 mm"]\ncount = 2\n'
    (folder / "small.toml").write_text(text + more)
    return read_study(folder / "small.toml")


def test_figures_are_those_of_the_path(v_file):
    file = read_design_file(v_file)
    plan = plan_stroke(file.spec.stroke, file.design)
    found = stroke_figures(file.design, plan)
    assert found == stroke_figures_of(file.data, file.design)
    bare = stroke_figures(file.design, plan, corrected=False)
    assert bare == stroke_figures_of(file.data, file.design, corrected=False) != found
    assert stroke_figures_of({}, file.design) == {}
    assert {name.partition(":")[0] for name in found} == set(STROKE_FIGURES)
    path = stroke_path(stroke_shell(file.design), plan)
    rear, front = path.crossings(path.stiffness, 1.1 * path.stiffness[path.rest])
    nearest = min(abs(at) for at in (rear, front) if at is not None)
    assert found["stiffness_stroke_m:10 %"] == pytest.approx(nearest, rel=1e-9)
    lost = 0.6e-3 * np.sqrt(0.5)  # of a parabola that loses a fifth at 0.6 mm
    assert found["force_factor_stroke_m:10 %"] == pytest.approx(lost, rel=1e-6)
    assert found["stiffness_stroke_m:400 %"] is None and found["reached_stroke_m"] == pytest.approx(0.6e-3)
    beyond = never_within(found)  # the better for not being reached; what is unknown for another reason is not
    assert beyond["stiffness_stroke_m:400 %"] == found["reached_stroke_m"] and "stiffness_stroke_m:10 %" not in beyond
    assert not never_within({"second_harmonic:400 Hz": None})
    assert found["allowable_used"] == pytest.approx(found["fibre_strain"] / 0.02)
    assert 0.01 < found["second_harmonic:400 Hz"] < 0.1 and 0 < found["third_harmonic:400 Hz"] < 0.1


def test_a_sweep_keeps_them_and_knows_their_names(v_file, tmp_path):
    study = small_study(tmp_path, '[morning]\nrank = "second_harmonic:400 Hz"\n')
    row = run_case(study.recipe, 0, ("1.8 mm",), EVALUATOR)
    file = read_design_file(v_file, {"profile.outer.steps.0.tread": "1.8 mm"})
    own = stroke_figures(file.design, plan_stroke(file.spec.stroke, file.design))
    figures = json.loads(row.figures)
    assert {name: figures[name] for name in own} == pytest.approx(own)
    with pytest.raises(StudyError, match="unknown figure 'fourth_harmonic'"):
        run_study(small_study(tmp_path, '[morning]\nrank = "fourth_harmonic"\n'))


def test_a_night_is_ranked_by_them(v_file, tmp_path):
    """A share or a frequency after a colon was taken for a zone, and without it no case had the figure by morning."""
    aims = {"stiffness_stroke_m:10 %": "high", "second_harmonic:400 Hz": "low"}
    wish = ", ".join(f'{{ figure = "{name}", aim = "{aim}" }}' for name, aim in aims.items())
    study = small_study(
        tmp_path, f'[want]\nfigures = ["stiffness_stroke_m", "second_harmonic"]\n[morning]\nwish = [{wish}]\n'
    )
    store = tmp_path / "cases.sqlite"
    run_study(study, store=store, workers=1)
    ranking = rank(load_results(study, store), study.wishes)
    assert len(ranking.order) == 2 and np.isfinite(ranking.marks).all() and None not in ranking.scales


@pytest.mark.parametrize(
    ("without", "figure"),
    [
        ("[stroke.motor]", "force_factor_stroke_m:10 %"),
        ("[stroke.drive]", "second_harmonic:400 Hz"),
        ("[stroke.allowable", "allowable_used"),
        ("", "stiffness_stroke_m"),
        ("", "stiffness_stroke_m:20 %"),
        ("", "third_harmonic:401 Hz"),
    ],
)
def test_what_no_case_would_have_is_refused_in_the_evening(v_file, tmp_path, without, figure):
    kept = [part for part in ASKED.split("\n[") if not without or not f"[{part}".startswith(without)]
    text = v_file.read_text(encoding="utf-8").replace(ASKED, "\n[".join(kept))
    v_file.write_text(text, encoding="utf-8")
    with pytest.raises(StudyError, match=f"unknown figure '{figure}'"):
        run_study(small_study(tmp_path, f'[morning]\nrank = "{figure}"\n'))


def test_a_sweep_without_a_stroke_refuses_them(tmp_path):
    (tmp_path / "moved_v.toml").write_text((STUDIES / "stepped_v.toml").read_text(encoding="utf-8"), encoding="utf-8")
    with pytest.raises(StudyError, match="unknown figure 'fibre_strain'"):
        run_study(small_study(tmp_path, '[morning]\nrank = "fibre_strain"\n'))


def test_a_comparison_lays_them_side_by_side(v_file, no_doubts, tmp_path):
    designs = vary(v_file, {"profile.outer.steps[0].tread": ["1.8 mm"]}, as_drawn=True)
    assert all(one.stroke is not None for one in designs)
    designs += vary(STUDIES / "stepped_v.toml", {"wall.thickness": ["60 um"]})
    (plain := tmp_path / "plain.toml").write_text(v_file.read_text().partition("[stroke.allowable")[0])
    designs += vary(plain, {"wall.thickness": ["70 um"]})
    found = compare(designs, orders=[0], up_to_hz=3e3, tolerance=0.01, second_opinion=False)
    row = found.row("fibre_strain")
    assert len({round(value, 9) for value in row.values if value is not None}) == 3
    assert row.reasons == ("", "", "its file has no [stroke]", "")
    unasked = "its [stroke] does not ask for it"  # it was told that a force factor does not change within the strokes
    assert found.row("force_factor_stroke_m:10 %").reasons == ("", "", "its file has no [stroke]", unasked)
    assert found.row("stiffness_stroke_m:400 %").reasons[:2] == ("not within the strokes",) * 2


def test_they_are_printed_in_units_of_the_trade():
    assert naming("stiffness_stroke_m:10 %").text(0.328e-3, 3) == "0.328 mm"
    assert naming("stiffness_stroke_m:10 %").words == "stroke to a change of stiffness by 10 %"
    assert naming("second_harmonic:400 Hz").text(0.0308, 3) == "3.08 %"
