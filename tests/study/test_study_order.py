"""In which order cases are handed out: those of one span of walls together, each case once, whoever asks."""

from collections import Counter
from pathlib import Path

import pytest

from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.shared_walls import shared_walls
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.pending_cases import Planned

STUDIES = Path(__file__).parents[2] / "studies"


@pytest.fixture(scope="module")
def films():
    return read_study(STUDIES / "film_by_thickness.toml")


def planned(study, stored=()):
    return Planned(Sampler(study), iter(stored), shared_walls(study.recipe).span_of)


def test_each_worker_goes_on_with_the_film_it_has(films):
    """Two workers by turns: one makes the spans of every other film, and no film is begun by both."""
    waiting, last, met = planned(films), [None, None], [Counter(), Counter()]
    count = 0
    while cases := waiting.take(10, last[count % 2]):
        kept = {values[:1] for _, values in cases}
        assert len(kept) == 1  # a task asks for one span
        last[count % 2] = next(iter(kept))
        met[count % 2][last[count % 2]] += len(cases)
        count += 1
    assert waiting.left == 0
    assert sum(met, Counter()) == Counter({(film,): 60 for film in films.recipe.variables[0].numbers})
    assert not met[0].keys() & met[1].keys()


def test_what_is_left_of_a_film_goes_out_with_its_last_task(films):
    waiting = planned(films)
    assert [len(waiting.take(40, ("PET film",))) for _ in range(2)] == [60, 60]  # and the next film as a whole


def test_a_worker_without_a_film_of_its_own_helps_with_the_longest(films):
    waiting = planned(films, stored=range(60, 360))
    assert [n for n, _ in waiting.take(2, ("PET film",))] == [0, 1]
    assert [n for n, _ in waiting.take(2, ("PEN film",))] == [2, 3]


def test_every_case_is_handed_out_once_in_order_of_its_number_where_no_spans_are_shared():
    study = read_study(STUDIES / "step_position_by_tread.toml")
    stored = set(range(0, 561, 7))
    waiting, numbers = planned(study, stored), []
    assert waiting.left == 561 - len(stored)
    while cases := waiting.take(13, ("of a solver",)):
        numbers += [n for n, _ in cases]
    assert numbers == [n for n in range(561) if n not in stored]


def test_cases_before_others_of_their_film_are_handed_out_once_whatever_is_stored(films):
    stored = set(range(0, 360, 3)) | set(range(120, 180))
    waiting, numbers = planned(films, stored), []
    while cases := waiting.take(7):
        numbers += [n for n, _ in cases]
    assert sorted(numbers) == [n for n in range(360) if n not in stored]
    assert waiting.left == 0
