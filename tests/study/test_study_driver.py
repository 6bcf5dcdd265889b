"""A study of a driver: its keys vary like any, and its figures stand beside those in vacuum."""

import tomllib
from types import SimpleNamespace

import numpy as np
import pytest
from places import STUDIES

from diaphragm_fem.analysis.curve.reduced import Reduced
from diaphragm_fem.analysis.figures.figures import DEFINITIONS
from diaphragm_fem.answer.driver.curve import driver_scan
from diaphragm_fem.answer.driver.driver import answer_driver, quick_figures
from diaphragm_fem.answer.driver.figures import OF_TWO, driver_figure_names, level_over
from diaphragm_fem.answer.driver.loaded import in_vacuum, load_design_on
from diaphragm_fem.design.files.input_file import read_toml_file
from diaphragm_fem.design.read.read import changed, design_from
from diaphragm_fem.errors import StudyError
from diaphragm_fem.load.radiation import open_air
from diaphragm_fem.load.two_sections import octaves_heard, smoothed
from diaphragm_fem.study.morning.best_files import tolerance_text
from diaphragm_fem.study.plan.drawing_board import try_cases
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.case_answer import evaluate_case
from diaphragm_fem.study.run.case_row import EVALUATOR, run_case
from diaphragm_fem.study.run.store import FAILED


def test_the_demonstration_names_figures_that_its_cases_have():
    study = read_study(STUDIES / "slots_of_driver.toml")
    names = driver_figure_names(study.recipe.base)
    study.check_figures((*DEFINITIONS, *names))
    found = evaluate_case(study.recipe.base, study.recipe).figures
    assert set(study.recipe.settings["figures"]) <= set(found) and found["median_level_db"] > 100
    with pytest.raises(StudyError, match="unknown figure 'median_level_db'"):
        study.check_figures(DEFINITIONS)


@pytest.mark.filterwarnings("ignore:invalid value")
def test_a_case_whose_curve_is_no_number_is_stored_as_failed(monkeypatch):
    """Stored as done it was ranked: a band ran on through what is nan."""
    study, true = read_study(STUDIES / "slots_of_driver.toml"), Reduced.outputs

    def broken(self, rows, f):
        return np.where(f > 6e3, np.nan, true(self, rows, f))

    monkeypatch.setattr(Reduced, "outputs", broken)
    row = run_case(study.recipe, 0, Sampler(study).values(0), EVALUATOR)
    assert row.status == FAILED and row.figures is None
    assert "must hold a number at each frequency" in row.reason


def test_levels_over_a_named_band_are_judged_alike(tmp_path):
    """Over one's own band a driver that stops early passes for an even one; over one band its curve is asked itself."""
    path = tmp_path / "alike.toml"
    text = f"""
[study]
base = "{STUDIES / "driver_stepped_v.toml"}"
[vary.gap]
key = "front.gap"
list = ["0.6 mm", "0.7 mm"]
[want]
up_to = "8 kHz"
bands = {{ use = ["500 Hz", "6 kHz"] }}
figures = ["median_level_db", "level_spread_db:use", "efficiency", "excursion_m", "plays_octaves", "heard_octaves"]
[morning]
wish = [{{ figure = "level_spread_db:BAND", aim = "low" }}, {{ figure = "heard_octaves:use" }}]
limits = {{ plays_octaves = {{ above = 3.0 }}, excursion_m = {{ below = "0.3 mm" }}, efficiency = {{ above = "5 %" }} }}
"""
    path.write_text(text.replace("BAND", "use"))
    study = read_study(path)
    excursion, efficiency = (None, pytest.approx(3e-4)), (pytest.approx(0.05), None)
    assert study.limits == {"plays_octaves": (3.0, None), "excursion_m": excursion, "efficiency": efficiency}
    study.check_figures(driver_figure_names(study.recipe.base))
    try_cases(study, Sampler(study))
    found = evaluate_case(study.recipe.base, study.recipe).figures
    curve = driver_scan(load_design_on(design_from(study.recipe.base), up_to_hz=8e3))
    median, spread = level_over(curve.frequency_hz, curve.level_db, (500.0, 6e3))
    assert (found["median_level_db:use"], found["level_spread_db:use"]) == (median, spread)
    even = smoothed(curve.frequency_hz, curve.level_db)
    assert found["heard_octaves:use"] == octaves_heard(curve.frequency_hz, even, median) != found["heard_octaves"]
    assert found["level_spread_db"] != spread and 0 < found["efficiency:use"] < 1
    for wrong in ("ues", "", "use, inner driven zone"):
        path.write_text(text.replace("BAND", wrong))
        other = read_study(path)
        with pytest.raises(
            StudyError, match=rf"'level_spread_db:{wrong}' must name a band of want\.bands after a colon, such as"
        ):
            other.check_figures(driver_figure_names(other.recipe.base))
    # it was told as "the figure of a zone that the design does not have"
    path.write_text(text.replace("level_spread_db:BAND", "worst_null_db:use"))
    other = read_study(path)
    with pytest.raises(StudyError, match=r"'worst_null_db' is read over no band of a study and .*level_spread_db"):
        try_cases(other, Sampler(other))


def test_what_no_figure_feels_does_not_vary_for_a_night(tmp_path):
    text = '[study]\nbase = "{}"\n[vary.one]\nkey = "{}"\nlist = ["{}", "{}"]\n'
    path = tmp_path / "idle.toml"
    tabled = """{ frequency = ["20 Hz", "20 kHz"], resistance = [6e5, 6e5], reactance = [0.0, 0.0] }"""
    own = f"""[change]\n"stroke.modes_up_to" = "2 kHz"\n"exit.table" = {tabled}\n"""
    for key, amounts, words in (
        ("stroke.modes_up_to", ("2 kHz", "3 kHz"), "none is of modes over stroke"),
        ("exit.diameter", ("30 mm", "31 mm"), "where exit.table says what the channels meet"),
    ):
        path.write_text(text.format(STUDIES / "driver_straight_v.toml", key, *amounts) + own)
        with pytest.raises(StudyError, match=f"key vary[.]one[.]key: '{key}' moves no figure.* {words}"):
            read_study(path)
    lower = text.format(STUDIES / "two_sections.toml", "second_section.distance", "8 mm", "9 mm")
    path.write_text(f'{lower}[want]\nfigures = ["median_level_db"]\n')
    with pytest.raises(StudyError, match=r"second_section\.distance' moves no figure that want\.figures keeps"):
        read_study(path)
    path.write_text(f'{lower}[want]\nfigures = ["median_level_db", "overlap_octaves"]\n')
    assert read_study(path).recipe.asks_both
    path.write_text(text.format(STUDIES / "two_sections.toml", "front.gap", "0.5 mm", "0.6 mm"))
    (told,) = try_cases(study := read_study(path), Sampler(study))
    assert told.startswith("figures of this study are of the first section alone but overlap_octaves and those that")
    for key, amounts, idle in (("wall.thickness", ("180 um", "190 um"), 1), ("profile.height", ("7 mm", "7.1 mm"), 0)):
        path.write_text(text.format(STUDIES / "baffled_soft_dome.toml", key, *amounts))
        told = try_cases(study := read_study(path), Sampler(study))
        words = f"key vary.one: '{key}' changes nothing of the design as far as tried"
        assert [one.partition(";")[0] for one in told] == [words] * idle


def test_a_study_ranks_by_what_two_sections_send_together(tmp_path):
    """As `examine` tells it; what a crossover moves is read off its curve, and the other polarity gains what it loses.
    That keys of a second section moved no figure was a refusal."""
    path = tmp_path / "two.toml"
    path.write_text(f"""
[study]
base = "{STUDIES / "two_sections.toml"}"
[vary.polarity]
key = "second_section.crossover.polarity"
list = ["turned", "same"]
[want]
up_to = "8 kHz"
bands = {{ use = ["600 Hz", "6 kHz"] }}
[morning]
wish = [{{ figure = "sum_level_spread_db:use", aim = "low" }}, {{ figure = "sum_lost_db", aim = "low" }}]
limits = {{ sum_turned_gain_db = {{ below = 0.0 }} }}
""")
    study = read_study(path)
    study.check_figures(names := driver_figure_names(study.recipe.base))
    one, other = (evaluate_case(study.recipe.design_of((way,)), study.recipe).figures for way in ("turned", "same"))
    told = answer_driver(design_from(study.recipe.base, folder=STUDIES), up_to_hz=8e3, second_opinion=False)
    f, level, known = told.sections.frequency_hz, told.sections.sum_db, told.figures.figures()
    assert set(names) <= set(one) and "sum_lost_db" not in driver_figure_names({"motor": {}})
    for name in OF_TWO:  # 400 points and the peaks on one side, all that a scan needs on the other
        assert one[name] == pytest.approx(known[name], abs=0.02 if "_db" in name else 0, rel=5e-3), name
    near = np.abs(np.log2(f / told.sections.crossover_hz)) <= 1
    louder = np.maximum(told.sections.filtered_upper_db, told.sections.filtered_lower_db)
    assert one["sum_lost_db"] == pytest.approx(max(0.0, (louder - level)[near].max()), abs=0.01)
    assert one["sum_lost_db"] - other["sum_lost_db"] == pytest.approx(one["sum_turned_gain_db"], abs=1e-6)
    assert other["sum_turned_gain_db"] == pytest.approx(-one["sum_turned_gain_db"], abs=1e-6) != 0
    _, spread = level_over(f, level, (600.0, 6e3))
    assert one["sum_level_spread_db:use"] == pytest.approx(spread, abs=0.05)
    assert one["median_level_db"] == other["median_level_db"]  # of the first section alone


def test_another_plug_leaves_the_diaphragm_alone_and_moves_the_level():
    study = read_study(STUDIES / "slots_of_driver.toml")
    one = evaluate_case(study.recipe.base, study.recipe).figures
    other = evaluate_case(changed(study.recipe.base, {"front.slots[0].radius": "17.7 mm"}), study.recipe).figures
    assert all(one[name] == other[name] for name in DEFINITIONS)
    assert abs(one["worst_null_db"] - other["worst_null_db"]) > 0.1


def test_on_a_grid_neighbours_share_the_diaphragm(tmp_path):
    """Three walls by two gaps: the gap turns fastest, though it stands first, and each wall is solved once."""
    path = tmp_path / "walls_and_gaps.toml"
    path.write_text(f"""
[study]
name = "walls and gaps"
base = "{STUDIES / "driver_stepped_v.toml"}"
[vary.gap]
key = "front.gap"
range = ["0.6 mm", "0.7 mm"]
count = 2
[vary.thickness]
key = "wall.thickness"
list = ["40 um", "50 um", "60 um"]
[plan]
how = "grid"
[want]
up_to = "2 kHz"
""")
    study = read_study(path)
    cases = Sampler(study).block(0, 6)
    assert [values[1] for values in cases] == ["40 um", "40 um", "50 um", "50 um", "60 um", "60 um"]
    in_vacuum.cache_clear()
    for values in cases:
        evaluate_case(study.recipe.design_of(values), study.recipe)
    assert in_vacuum.cache_info().misses == 3


def test_a_flange_is_a_variable_and_equal_faces_share_their_air():
    """Two depths are two airs; another wall of the same meridian is none."""
    base = {**read_toml_file(STUDIES / "baffled_metal_dome.toml")}
    names = driver_figure_names(base)
    assert {"beam_narrows_hz", "directivity_index_db", "median_level_db"} <= set(names)
    open_air.cache_clear()
    figures = []
    for changes in ({}, {"front.flange_depth": "3 mm"}, {"wall.thickness": "35 um"}):
        found = load_design_on(design_from(changed(base, changes)))
        figures.append(quick_figures(found).figures())
    assert open_air.cache_info().misses == 2 and open_air.cache_info().hits == 1
    assert set(names) <= set(figures[0])
    assert figures[1]["beam_narrows_hz"] < figures[0]["beam_narrows_hz"]  # a deeper opening is a larger source


def test_a_study_of_the_part_alone_leaves_out_what_surrounds_it(tmp_path):
    """What is left ready beside a dome in a baffle wishes for figures in vacuum: free air takes six times as long."""
    path = tmp_path / "alone.toml"
    text = f"""
[study]
base = "{STUDIES / "driver_straight_v.toml"}"
[vary.one]
key = "KEY"
list = ["60 um", "70 um"]
[want]
up_to = "6 kHz"
in_vacuum = true
[morning]
wish = [{{ figure = "FIGURE", aim = "high" }}]
"""
    path.write_text(text.replace("KEY", "wall.thickness").replace("FIGURE", "break_up_mode_hz"))
    study = read_study(path)
    alone = evaluate_case(study.recipe.base, study.recipe)
    path.write_text(path.read_text().replace("in_vacuum = true", ""))
    around = evaluate_case(study.recipe.base, read_study(path).recipe)
    assert set(alone.read) == {""} and "median_level_db" not in alone.figures and "median_level_db" in around.figures
    for name, value in alone.figures.items():
        assert value is None if around.figures[name] is None else value == pytest.approx(around.figures[name], rel=1e-4)
    assert read_study(path).identity != study.identity
    scattered = tolerance_text(study, SimpleNamespace(amounts={"one": "60 um"}), "best.toml")
    assert tomllib.loads(scattered)["want"]["in_vacuum"]
    path.write_text(text.replace("KEY", "wall.thickness").replace("FIGURE", "median_level_db"))
    with pytest.raises(StudyError, match=r"want[.]in_vacuum leaves out those of a driver"):
        read_study(path).check_figures(DEFINITIONS)
    path.write_text(text.replace("KEY", "front.gap").replace("FIGURE", "break_up_mode_hz"))
    with pytest.raises(StudyError, match=r"key vary[.]one[.]key: 'front[.]gap' changes nothing of a part in vacuum"):
        read_study(path)
