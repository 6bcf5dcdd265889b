"""The best case so far is the one that the morning would rank first, at every moment and in any order of arrival."""

import numpy as np
import pytest
from study_standin import write_study

from diaphragm_fem.study.morning.ranking import rank
from diaphragm_fem.study.morning.results import Results
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.plan.wish import Wish, is_inside, keeps_to
from diaphragm_fem.study.run.status import Contest

WISHES = (Wish("a", "high", 2.0), Wish("b", "low"), Wish("c", 3.0, 0.5))


@pytest.mark.parametrize("wishes", [WISHES, WISHES[:1], WISHES[1:2]])
@pytest.mark.parametrize("levels", [3, 1000])  # few levels: many cases are as good as one another
def test_the_leader_is_the_winner_of_the_ranking(wishes, levels, tmp_path):
    rng = np.random.default_rng(levels)
    study = read_study(write_study(tmp_path))
    table = {name: rng.integers(0, levels, 120) * 6.0 / levels for name in "abc"}
    for values in table.values():
        values[rng.random(120) < 0.1] = np.nan
    beyond = {"a": np.where(np.isnan(table["a"]) & (np.arange(120) % 2 == 0), 6.5, np.nan)}  # never come, as judged
    order = rng.permutation(120)
    contest = Contest(wishes)
    for count, number in enumerate(order, start=1):
        figures = {name: None if np.isnan(v[number]) else v[number] for name, v in table.items()}
        contest.enter(int(number), figures, {name: v[number] for name, v in beyond.items() if v[number] > 0})
        if count % 7 == 0:
            seen = np.sort(order[:count])
            figures = {name: values[seen] for name, values in table.items()}
            results = Results(study, tmp_path, seen, [()] * count, (), figures, {}, (), {"a": beyond["a"][seen]})
            ranking = rank(results, wishes)
            best = np.isclose(ranking.score, ranking.score[0], rtol=1e-12)
            assert contest.leader[0] in seen[ranking.order[best]]
            if best.sum() == 1 or len(wishes) == 1:
                assert contest.leader[0] == seen[ranking.order[0]]


def test_the_leader_brings_its_values_and_nobody_leads_at_first():
    contest = Contest(WISHES)
    assert contest.leader is None
    contest.enter(7, {"a": 1.0, "b": None}, {})
    assert contest.leader == (7, (1.0, None, None))
    contest.enter(3, {"a": 1.0, "b": None}, {})  # as good, and earlier in the plan
    contest.enter(9, {"a": 1.0}, {})
    assert contest.leader == (3, (1.0, None, None))
    contest.enter(8, {"a": 1.0, "b": 2.0, "c": 3.0}, {})
    assert contest.leader == (8, (1.0, 2.0, 3.0))


@pytest.mark.parametrize(("limits", "inside"), [
    ((None, None), [1, 1, 1, 0, 0, 0]), ((1.0, None), [0, 1, 1, 0, 0, 0]), ((None, 1.0), [1, 1, 0, 0, 0, 0]),
    ((1.0, 1.0), [0, 1, 0, 0, 0, 0]), ((0.0, 0.0), [1, 0, 0, 0, 0, 0]),
])  # fmt: skip
def test_limits_judge_a_case_alone_as_they_judge_all(limits, inside):
    values = np.array([0.0, 1.0, 2.0, np.nan, np.inf, -np.inf])
    assert keeps_to(values, limits).tolist() == inside
    assert [is_inside({"a": value}, {"a": limits}) for value in values.tolist()] == inside
    assert not is_inside({"a": None}, {"a": limits}) and not is_inside({}, {"a": limits})


def test_a_departure_that_never_comes_leads(tmp_path):
    contest = Contest((Wish("departure_hz", "high"),))
    for number, value in enumerate((9e3, None, 15e3)):
        contest.enter(number, {"departure_hz": value}, {} if value else {"departure_hz": 20e3})
    assert contest.leader == (1, (None,))
