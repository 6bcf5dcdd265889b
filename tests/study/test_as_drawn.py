"""The best designs as a drawing says them: rounded, solved and ranked again, the base design beside them."""

import tomllib
from types import SimpleNamespace

import numpy as np
import pytest
from figures_cases import figures_by_formula
from filled_studies import filled
from places import BUTTED
from study_standin import BASE, STANDIN, solve_here

from diaphragm_fem.analysis.figures.thresholds import threshold_of
from diaphragm_fem.answer.quick import quick
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.design.read.read import design_from
from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.morning import morning
from diaphragm_fem.study.morning.best_files import RECORD, write_best_designs
from diaphragm_fem.study.morning.winner import near_misses
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.case_row import EVALUATOR

pytestmark = pytest.mark.usefixtures("own_folder")

HEAD = '[study]\nbase = "base.toml"\n'
TREAD = '[vary.tread]\nkey = "plate.steps[0].tread"\nrange = ["{}", "{}"]\ncount = {}\n'
THICKNESS = '[vary.thickness]\nkey = "plate.thickness"\nrange = ["{}", "{}"]\ncount = {}\n'
LOW = '[morning]\nwish = [{ figure = "fundamental_hz", aim = "low" }]\n'


def standin(tread, thickness):
    """The stand-in's figure, from mm and um."""
    return {"fundamental_hz": 10 * thickness + 10 * tread}


def told(folder, text, figures=standin):
    return morning(filled(folder, text, figures), evaluator=STANDIN)


def test_thicknesses_are_whole_micrometres_and_lengths_hundredths(tmp_path):
    text = HEAD + TREAD.format("1.0043 mm", "2 mm", 2) + THICKNESS.format("20.4 um", "30 um", 2) + LOW
    (first, *_) = told(tmp_path, text).best
    assert first.amounts == {"tread": "1 mm", "thickness": "20 um"}
    assert first.found.figures["fundamental_hz"] == pytest.approx(210) and first.trouble == ""
    # the cases run from 214.043 to 320 Hz, and the drawing is better than the best of them
    assert first.score == pytest.approx((320 - 210) / (320 - 214.043)) and first.score > 1


def test_a_ratio_is_drawn_as_the_amount_that_it_stands_for(tmp_path):
    tied = '[vary.other]\nkey = "plate.steps[1].tread"\nratio = 0.777\nof = "tread"\n'
    text = HEAD + TREAD.format("1 mm", "2 mm", 2) + tied + LOW
    found = morning(filled(tmp_path, text, lambda tread, other: standin(tread, 25)), evaluator=STANDIN)
    assert found.best[0].amounts == {"tread": "1 mm", "other": "0.78 mm"}
    head = write_best_designs(found, tmp_path / "best")[0].read_text().splitlines()[1]
    assert head == "# case 0 with tread = 1 mm, other = 0.78 mm, as drawn."


def test_a_gauge_list_moves_the_best_and_the_ranking_follows(tmp_path):
    gauges = 'drawn = { thickness = ["20 um", "36 um"], tread = "0.5 mm" }\n'
    text = HEAD + TREAD.format("1 mm", "1 mm", 1).replace('range = ["1 mm", "1 mm"]', 'list = ["1.1 mm"]')
    text += THICKNESS.format("24 um", "36 um", 4) + LOW.replace('aim = "low"', 'aim = "310 Hz"') + gauges
    found = told(tmp_path, text)
    # as solved 28 um (291 Hz) comes nearest to 310 Hz; as drawn it is 20 um (210 Hz), and 36 um (370 Hz) wins
    assert found.results.written[found.ranking.order[0]][1] == "28.0 um"
    assert [best.amounts["thickness"] for best in found.best] == ["36 um", "20 um"]  # four cases, two drawings
    assert found.best[0].amounts["tread"] == "1 mm"
    assert [best.score for best in found.best] == sorted((best.score for best in found.best), reverse=True)


def test_cases_of_a_fine_grid_that_are_one_drawing_take_one_place(tmp_path):
    text = HEAD + TREAD.format("1 mm", "1.02 mm", 21) + THICKNESS.format("20 um", "21 um", 2) + LOW
    found = told(tmp_path, text)
    drawings = [tuple(best.amounts.values()) for best in found.best]
    assert len(set(drawings)) == len(drawings) >= 3


def test_what_cannot_be_drawn_rounded_stands_as_it_was_solved(tmp_path):
    keep = '[keep]\n"wide" = "tread > \'1.001 mm\'"\n'
    found = told(
        tmp_path, HEAD + TREAD.format("1.002 mm", "2 mm", 2) + THICKNESS.format("20 um", "30 um", 2) + LOW + keep
    )
    first = found.best[0]
    assert first.trouble == 'it breaks "wide"' and first.amounts["tread"] == "1.002 mm"
    assert first.found.figures["fundamental_hz"] == pytest.approx(210.02)
    path = write_best_designs(found, tmp_path / "best")[0]
    assert '# As solved, not rounded to a drawing: it breaks "wide"' in path.read_text()


def test_the_base_design_ranks_along(tmp_path):
    text = HEAD + TREAD.format("1 mm", "2 mm", 2) + THICKNESS.format("20 um", "30 um", 3) + LOW
    base = told(tmp_path, text + "limits = { fundamental_hz = { below = 250 } }\n").base
    assert base.case is None and base.amounts == {"tread": "1.2 mm", "thickness": "25 um"}
    assert base.found.figures["fundamental_hz"] == pytest.approx(262) and not base.inside
    # the cases inside the limit: 210 and 220 Hz, so that 262 Hz is as far below 0 as its distance says
    assert base.score == pytest.approx((220 - 262) / (220 - 210))


def test_a_base_that_cannot_be_solved_is_told_and_the_rest_goes_on(tmp_path):
    text = HEAD + TREAD.format("1 mm", "2 mm", 2) + THICKNESS.format("20 um", "30 um", 3) + LOW
    found = morning(filled(tmp_path, text, standin))  # by the program itself, which knows no plate on a spring
    assert found.base.found.figures == {} and "unknown key" in found.base.trouble
    assert all(best.trouble for best in found.best) and found.best[0].found.figures["fundamental_hz"] == 210


@pytest.mark.parametrize(
    ("drawn", "message"),
    [
        ('thicknes = "1 um"', r"key morning.drawn.thicknes: nothing of that name varies; known are tread, thickness"),
        ('thickness = "2 g"', r"key morning.drawn.thickness: must be of the kind of 'um', received '2 g'"),
        ('tread = "0 mm"', r"key morning.drawn.tread: a step or gauge must be above 0, received '0 mm'"),
        ("tread = []", r"key morning.drawn.tread: .*must hold at least 1; received \[\]"),
        ('tread = "thin"', r"key morning.drawn.tread: must be a number, or a number with its unit in quotes"),
    ],
)
def test_a_drawing_step_must_fit(tmp_path, drawn, message):
    text = HEAD + TREAD.format("1 mm", "2 mm", 2) + THICKNESS.format("20 um", "30 um", 3)
    (tmp_path / "base.toml").write_text(BASE)
    (tmp_path / "study.toml").write_text(text + f"[morning.drawn]\n{drawn}\n")
    with pytest.raises(StudyError, match=message):
        read_study(tmp_path / "study.toml")


@pytest.fixture(scope="module")
def walls(tmp_path_factory):
    """Two thicknesses of a metal dome, really solved."""
    folder = tmp_path_factory.mktemp("walls")
    vary = '[vary.gauge]\nkey = "wall.thickness"\nrange = ["30.4 um", "33.2 um"]\ncount = 2\n'
    vary += '[vary.film]\nkey = "wall.material"\nlist = ["aluminium alloy"]\n'
    more = '[want]\nup_to = "16 kHz"\nbands = { top = ["4 kHz", "12 kHz"] }\n[morning]\nrank = "break_up_mode_hz"\n'
    limits = '[morning.limits]\nfundamental_hz = { above = "500 Hz" }\n'
    (folder / "study.toml").write_text(f'[study]\nbase = "{BUTTED}"\n{vary}{more}{limits}')
    solve_here(read_study(folder / "study.toml"), folder / "cases.sqlite", EVALUATOR)
    return folder, morning(folder / "study.toml", store=folder / "cases.sqlite")


def test_the_winner_is_solved_as_drawn_and_has_its_curves(walls):
    _, found = walls
    assert found.best[0].amounts["gauge"] == "33 um"
    exact = found.results.figure("break_up_mode_hz")[found.best[0].case]
    assert 0.99 * exact < found.best[0].found.figures["break_up_mode_hz"] < exact  # thinner by 0.2 um
    assert {"frequency_hz", "area_m2", "response_m2_per_kg"} <= set(found.best[0].found.curves)
    assert found.opinion is not None and found.opinion.solid


def test_a_tolerance_study_of_the_winner_is_written_ready_to_run(walls, tmp_path):
    _, found = walls
    *designs, path = write_best_designs(found, tmp_path / "best")
    assert path.name == "tolerance_of_study.toml"
    data = tomllib.loads(path.read_text())
    assert data["vary"] == {"gauge": {"key": "wall.thickness", "normal": {"deviation": "4 %"}}}  # a film scatters not
    assert data["study"]["base"] == designs[0].name
    assert data["morning"]["limits"] == {"fundamental_hz": {"above": "500 Hz"}} and data["want"]["up_to"] == "16000 Hz"
    study = read_study(path)
    assert study.wishes == found.results.study.wishes and study.wishes  # their scatter is told
    assert study.limits == found.results.study.limits
    variable = study.recipe.variables[0]
    assert variable.numbers == pytest.approx((33.0, 0.04 * 33.0)) and variable.unit == "um"
    assert study.recipe.settings["bands"] == {"top": [4000, 12000]}


def test_a_tolerance_study_that_somebody_changed_stays(walls, tmp_path):
    _, found = walls
    path = write_best_designs(found, tmp_path / "best")[-1]
    own = path.read_text().replace("4 %", "2.5 %")
    path.write_text(own)
    for _ in range(2):
        assert write_best_designs(found, tmp_path / "best")[-1].read_text() == own


def test_a_best_design_that_somebody_changed_is_set_aside(walls, tmp_path):
    """The next morning wrote over it. What stands at its place is the study's, for its tolerance study and the page."""
    _, found = walls
    path = write_best_designs(found, tmp_path / "best")[0]
    made = path.read_text()
    path.write_text(f"{made}# on the shelf, 2nd row\n")
    for _ in range(2):
        assert write_best_designs(found, tmp_path / "best")[0].read_text() == made
    aside = list(path.parent.glob(f"{path.stem}_changed_*.toml"))
    assert [one.read_text() for one in aside] == [f"{made}# on the shelf, 2nd row\n"]
    (path.parent / RECORD).unlink()  # as of a morning that was killed: what it wrote is nobody's change
    write_best_designs(found, tmp_path / "best")
    assert sorted(path.parent.glob("*_changed_*")) == aside


def test_a_limit_that_hangs_on_a_threshold_counts_as_a_wish_does(walls):
    _, found = walls
    best = found.best[0]
    assert near_misses(best, ["fundamental_hz"], {}) == near_misses(best, ["level_spread_db:nowhere"], {}) == ()
    told = near_misses(best, [], {"fundamental_hz": (0.0, None), "break_up_mode_hz": (16e3, None)})
    figures = quick(design_from(best.data), up_to_hz=16e3).figures
    expected = threshold_of(figures, "break_up_mode_hz")
    assert told == (() if expected is None else (expected,))


def test_what_stays_within_a_limit_is_no_threshold_of_the_winner():
    """A mode at 5 kHz that nearly breaks up counts where more is wished, and where a limit forbids it."""
    zones = (Zone("dome", Role.DRIVEN), Zone("roll", Role.SURROUND))
    modes = {5e3: [0.47, 0.53], 9e3: [0.8, 0.2]}
    found = figures_by_formula(zones, [1e-3, 1e-4], lambda f: np.array([np.full(len(f), 1e-3)] * 2), modes)
    winner, name = SimpleNamespace(found=SimpleNamespace(read={"": found})), "break_up_mode_hz"
    (near,) = near_misses(winner, [name], {name: (4e3, None)})
    assert near.frequency_hz == 5e3
    assert near_misses(winner, [], {name: (6e3, None)}) == (near,)
    assert near_misses(winner, [], {name: (4e3, None)}) == ()
