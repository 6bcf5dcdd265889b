"""Case k is a pure function of the study: the same alone, in any block and in any order, and spread as it should be."""

from dataclasses import replace

import numpy as np
import pytest
from study_standin import write_study

from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.plan.amount import in_si, write_amount
from diaphragm_fem.study.plan.sampling import Sampler, level, values_at, wide_share
from diaphragm_fem.study.plan.study import Variable
from diaphragm_fem.study.plan.study_file import read_study


@pytest.fixture
def study(tmp_path):
    return read_study(write_study(tmp_path, treads=3, thicknesses=4))


@pytest.mark.parametrize("how", ["grid", "latin hypercube", "sobol", "sensitivity"])
def test_a_case_is_the_same_alone_in_a_block_and_in_any_order(study, how):
    plan = replace(study, how=how, cases=40)
    sampler = Sampler(plan)
    whole = sampler.block(0, len(sampler))
    assert len(whole) == len(sampler) > 0
    fresh = Sampler(plan)
    assert [fresh.values(k) for k in reversed(range(len(fresh)))] == whole[::-1]
    assert Sampler(plan).block(5, 9) == whole[5:9]


def test_a_grid_has_every_combination_once_and_turns_the_shape_slowest(study):
    cases = Sampler(study).block(0, 12)
    assert len(set(cases)) == 12
    treads = [values[0] for values in cases]
    assert treads == sorted(
        treads, key=lambda text: in_si(text, "")
    )  # the thickness, a matter of the wall alone, turns fastest
    assert {values[0] for values in cases} == {"0.5 mm", "1.25 mm", "2.0 mm"}
    ratios = np.diff(np.log([in_si(values[1], "") for values in cases[:4]]))
    assert ratios == pytest.approx(np.full(3, np.log(50 / 12) / 3), rel=1e-7)


def test_a_longer_sobol_sequence_begins_with_the_shorter_one_and_is_the_same_study(study):
    short, long = replace(study, how="sobol", cases=16), replace(study, how="sobol", cases=64)
    assert Sampler(long).block(0, 16) == Sampler(short).block(0, 16)
    assert short.identity == long.identity
    assert replace(short, seed=2).identity != short.identity
    assert replace(short, how="latin hypercube").identity != replace(long, how="latin hypercube").identity


def test_a_latin_hypercube_fills_every_stratum_once(study):
    cases = Sampler(replace(study, how="latin hypercube", cases=50)).block(0, 50)
    treads = np.array([in_si(values[0], "") for values in cases])
    strata = np.floor((treads - 0.5e-3) / 1.5e-3 * 50).astype(int)
    assert sorted(strata) == list(range(50))


def test_a_sensitivity_plan_changes_one_thing_at_a_time(study):
    plan = replace(study, how="sensitivity", cases=45)
    sampler = Sampler(plan)
    assert [variable.name for variable in plan.free_variables] == ["tread", "thickness"]  # one behaviour: it is fixed
    assert len(sampler) == 8 * (2 + 2)  # the largest power of two whose plan has no more than 45 cases
    first, *crossed, second = sampler.block(0, 4)
    for j, values in enumerate(crossed):
        assert values == (*(second[i] if i == j else first[i] for i in range(2)), "well")
    assert len(Sampler(replace(plan, cases=4))) == 4
    with pytest.raises(StudyError, match="needs at least 4 cases, received 3"):
        Sampler(replace(plan, cases=3))


@pytest.mark.parametrize(
    ("source", "numbers", "mean", "deviation"),
    [
        ("normal", (10.0, 2.0), 10.0, 2.0),
        ("lognormal", (10.0, 2.0), 10.0, 2.0),
        ("uniform", (4.0, 10.0), 7.0, 6 / np.sqrt(12)),
        # variance of the triangular distribution: (a^2 + b^2 + c^2 - ab - ac - bc)/18 (any statistics textbook)
        ("triangular", (2.0, 3.0, 7.0), 4.0, np.sqrt((4 + 9 + 49 - 6 - 14 - 21) / 18)),
    ],
)
def test_distributions_have_their_textbook_mean_and_deviation(source, numbers, mean, deviation):
    share = (np.arange(20000) + 0.5) / 20000
    values = np.array([in_si(text, "") for text in values_at(Variable("x", ("x",), source, numbers), share)])
    assert values.mean() == pytest.approx(mean, rel=1e-4)
    assert values.std() == pytest.approx(
        deviation, rel=2e-3
    )  # the outermost quantiles are cut short by the 20000 steps
    assert np.all(np.diff(values) >= 0)


def test_a_wide_share_of_a_distribution_goes_evenly_over_its_deviations():
    """Three of them to either side of the mean: erf and the normal distribution's inverse (any statistics textbook)."""
    normal = Variable("x", ("x",), "normal", (10.0, 2.0))
    shares = np.array([wide_share(normal, x, 3.0) for x in (0.0, 0.25, 0.5, 1.0)])
    assert [in_si(text, "") for text in values_at(normal, shares)] == pytest.approx([4.0, 7.0, 10.0, 16.0], rel=1e-8)
    assert wide_share(Variable("x", ("x",), "range", (1.0, 2.0)), 0.25, 3.0) == 0.25


def test_a_list_is_met_evenly_and_levels_are_its_own():
    film = Variable("film", ("m",), "list", ("a", "b", "c"), count=3)
    assert [level(film, k) for k in range(3)] == ["a", "b", "c"]
    assert values_at(film, np.array([0.0, 0.32, 0.34, 0.99, 1.0])) == ["a", "a", "b", "c", "c"]


def test_amounts_are_written_with_nine_digits():
    assert write_amount(1 / 3, "mm") == "0.333333333 mm"
    assert write_amount(2.0, "") == 2.0
