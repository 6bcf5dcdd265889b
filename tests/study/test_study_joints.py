"""Parts that scatter: their joints are read over ranges that the study alone decides, and as they are when solved."""

import json
from dataclasses import replace

import pytest
from forgotten_joints import forget, solve_no_more
from places import STUDIES

from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.joint import kinds as joint_kinds
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run import case_answer, engine, shared_joints
from diaphragm_fem.study.run.case_row import EVALUATOR, prepare, run_case
from diaphragm_fem.study.run.progress import Silent

STUDY = f"""[study]
base = "{STUDIES / "straight_v.toml"}"
[vary.film]
key = "wall.thickness"
normal = {{ deviation = "3 %" }}
[vary.surround]
key = "profile.inner.surround.thickness"
normal = {{ mean = "75 um", deviation = "4 %" }}
[vary.width]
key = "profile.inner.width"
range = ["6.4 mm", "6.6 mm"]
[plan]
how = "sobol"
cases = 200
[want]
curves = []
"""


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    path = tmp_path_factory.mktemp("scattered") / "study.toml"
    path.write_text(STUDY)
    return read_study(path)


@pytest.fixture(scope="module")
def patches():
    """Those that were solved so far, kept from test to test."""
    forget()
    solved = joint_kinds._patch
    kept = {}

    def patch(key):
        if key not in kept:
            kept[key] = solved(key)
        return kept[key]

    joint_kinds._patch = patch
    yield kept
    joint_kinds._patch = solved
    forget()


@pytest.fixture(autouse=True)
def few_parts(monkeypatch, patches):
    monkeypatch.setattr(shared_joints, "PARTS", 18)
    monkeypatch.setattr(shared_joints, "HELD", 2)
    case_answer._shelf = None
    yield
    case_answer._shelf = None
    forget()


def figures(recipe, sampler, numbers):
    case_answer._shelf = None
    forget()
    return {k: json.loads(run_case(recipe, k, sampler.values(k), EVALUATOR).figures) for k in numbers}


def test_cases_are_read_as_they_are_solved_and_need_few_patches(study, patches):
    sampler, numbers = Sampler(study), [0, 1, 2]
    assert study.recipe.scattered == 200
    prepare(study.recipe, EVALUATOR)
    before = len(patches)
    read = figures(study.recipe, sampler, numbers)
    taken = len(patches) - before
    solved = figures(replace(study.recipe, scattered=0), sampler, numbers)
    alone = len(patches) - before - taken
    assert alone >= 2 * len(numbers) and alone >= 2 * taken  # measured 8 and 4: each case has joints of its own
    assert read != solved
    for k in numbers:
        for name, value in solved[k].items():
            if value is not None and name.endswith("_hz"):
                assert read[k][name] == pytest.approx(value, rel=1e-5), name
            elif value is not None:
                assert read[k][name] == pytest.approx(value, rel=1e-4, abs=1e-4), name


def test_a_case_answers_the_same_to_the_last_bit_in_any_order(study):
    sampler = Sampler(study)
    assert figures(study.recipe, sampler, [3, 4]) == figures(study.recipe, sampler, [4, 3])


def test_a_range_that_misreads_is_left_out(study, monkeypatch):
    made = shared_joints.joint_range

    def joint_range(sort, patches):
        found = made(sort, patches)
        return found and replace(found, weights=1.05 * found.weights)

    kept = shared_joints.read_joints_over(study.recipe)
    monkeypatch.setattr(shared_joints, "joint_range", joint_range)
    assert kept >= 2 and shared_joints.read_joints_over(study.recipe) < kept


def test_nothing_is_read_where_a_part_to_hold_it_against_cannot_be_solved(study, monkeypatch):
    """Its case will tell: a run is not ended for it."""

    def refused(*_):
        raise AnalysisError("no solution")

    monkeypatch.setattr(shared_joints, "solve_modes", refused)
    assert shared_joints.read_joints_over(study.recipe) == 0 and not joint_kinds._RANGES


@pytest.mark.parametrize("why", ["few", "bare", "listed"])
def test_where_it_does_not_pay_every_joint_is_solved(study, why, monkeypatch):
    solve_no_more(monkeypatch)
    recipe = study.recipe
    changed = {
        "few": replace(recipe, scattered=20),
        "bare": replace(recipe, settings={**recipe.settings, "joints": False}),
        "listed": read_study(STUDIES / "film_by_thickness.toml").recipe,
    }
    assert shared_joints.read_joints_over(changed[why]) == 0


class Listening(Silent):
    def __init__(self):
        self.told = []

    def note(self, text):
        self.told.append(text)


def test_a_study_whose_parts_scatter_says_what_its_solvers_do_first(study, tmp_path, monkeypatch):
    """They are silent for seconds; a study of fewer cases, or of a list, has nothing to make ready."""
    monkeypatch.setattr(engine._Round, "run", lambda self: 0.0)
    watcher = Listening()
    engine.run_study(study, store=tmp_path / "cases.sqlite", workers=1, watcher=watcher)
    assert [text for text in watcher.told if text.startswith("making ready: ")] == [engine.MAKING_READY]
    assert study.recipe.spreads_parts and not replace(study.recipe, scattered=149).spreads_parts
    few = study.recipe.variables[0]
    listed = replace(few, source="list", numbers=(0.0, 1.0))
    assert not replace(study.recipe, variables=(listed,)).spreads_parts
    assert replace(study.recipe, variables=(replace(listed, numbers=(0.0,)), few)).spreads_parts
