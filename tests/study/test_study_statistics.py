"""Means, shares and indices over the right cases of a plan, and a page that says what they mean."""

import numpy as np
import pytest
from study_standin import solve_here, write_study

from diaphragm_fem.study.morning.effects import main_effect, sensitivity
from diaphragm_fem.study.morning.results import load_results
from diaphragm_fem.study.morning.scatter import is_tolerance_study, spreads, yields
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study_file import read_study

VARY = """
[study]
base = "base.toml"
[vary.tread]
key = "plate.steps[0].tread"
normal = { mean = "1.2 mm", deviation = "5 %" }
[vary.thickness]
key = "plate.thickness"
normal = { mean = "25 um", deviation = "5 %" }
[vary.far_tread]
key = "plate.steps[1].tread"
ratio = 0.5
of = "tread"
[plan]
how = "sensitivity"
cases = 128
[morning.limits]
fundamental_hz = { below = 262 }
"""


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    folder = tmp_path_factory.mktemp("statistics")
    write_study(folder)
    (folder / "study.toml").write_text(VARY)
    study = read_study(folder / "study.toml")
    solve_here(study, folder / "cases.sqlite")
    return load_results(study, folder / "cases.sqlite")


def test_a_single_ratio_takes_no_dimension_of_a_sensitivity_plan(results):
    sampler = Sampler(results.study)
    assert len(sampler) == 128 == 32 * (2 + 2)
    cases = sampler.block(0, 128)
    assert len(set(cases)) == 128
    assert {index.variable for index in sensitivity(results, "fundamental_hz")} == {"tread", "thickness"}


def test_means_and_shares_are_taken_over_independent_cases_alone(results):
    """In the rows between, one thing is as in the first row of its block and the rest as in the last: counted too,
    they would say the same twice.
    """
    assert results.independent.sum() == 64
    assert set(results.numbers[results.independent] % 4) == {0, 3}
    effect = main_effect(results, results.column("tread"), "fundamental_hz")
    assert effect.count.sum() == 64
    assert {found.of for found in yields(results)} == {64}
    assert {spread.count for spread in spreads(results) if spread.figure == "moving_mass_kg"} == {64}
    mean = results.figure("moving_mass_kg")[results.independent].mean()
    assert next(s.mean for s in spreads(results) if s.figure == "moving_mass_kg") == pytest.approx(mean)


def test_the_indices_follow_from_the_sum_that_the_figure_is(results):
    """f = 1e7 h + 1e4 t with deviations 12.5 Hz and 0.6 Hz: the thickness explains 0.998 of the variance."""
    found = {index.variable: index for index in sensitivity(results, "fundamental_hz")}
    assert found["thickness"].total == pytest.approx(12.5**2 / (12.5**2 + 0.6**2), abs=0.1)
    assert abs(found["tread"].total) < 0.05
    assert np.isfinite(found["thickness"].first)


def test_only_a_study_of_distributions_alone_speaks_of_parts(results, tmp_path):
    assert is_tolerance_study(results)
    write_study(tmp_path)
    mixed = VARY.replace('normal = { mean = "25 um", deviation = "5 %" }', 'range = ["20 um", "30 um"]')
    (tmp_path / "study.toml").write_text(mixed)
    study = read_study(tmp_path / "study.toml")
    solve_here(study, tmp_path / "cases.sqlite")
    assert not is_tolerance_study(load_results(study, tmp_path / "cases.sqlite"))
