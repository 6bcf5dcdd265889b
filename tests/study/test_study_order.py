"""In which order cases are handed out: those of one span of walls together, each case once, whoever asks."""

from collections import Counter
from random import Random
from threading import Event

import pytest
from places import STUDIES

from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.shared_walls import shared_walls
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run import workers
from diaphragm_fem.study.run.pending_cases import Planned
from diaphragm_fem.study.run.workers import OwnWorkers


@pytest.fixture(scope="module")
def films():
    return read_study(STUDIES / "film_by_thickness.toml")


def planned(study, stored=()):
    return Planned(Sampler(study), iter(stored), shared_walls(study.recipe).span_of)


def test_each_worker_goes_on_with_the_film_it_has(films):
    """Two workers that ask by chance: each film is one worker's, but for the last, with which the other helps."""
    waiting, last, met = planned(films), [None, None], [Counter(), Counter()]
    chance = Random(1)
    worker = 0
    while cases := waiting.take(10, last[worker]):
        kept = {values[:1] for _, values in cases}
        assert len(kept) == 1  # a task asks for one span
        last[worker] = next(iter(kept))
        met[worker][last[worker]] += len(cases)
        worker = chance.randrange(2)
    assert waiting.left == 0
    assert sum(met, Counter()) == Counter({(film,): 60 for film in films.recipe.variables[0].numbers})
    assert len(met[0]) + len(met[1]) <= 7


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


def test_a_worker_is_asked_for_the_span_it_had_last(monkeypatch):
    """The one with the fewest tasks is given the next, and what it had last is told."""
    gate = Event()
    monkeypatch.setattr(workers.Guard, "begin", lambda guard: None)
    monkeypatch.setattr(workers, "run_batch", lambda job, cases, version, guard: [gate.wait(20)] if cases else [])
    with OwnWorkers(2) as crew:
        assert crew.last_span() is None
        slow = crew.submit(b"", [(0, ())], "paper")
        assert crew.last_span() is None  # of the other
        crew.submit(b"", [], "silk").result(20)
        assert crew.last_span() == "silk"
        gate.set()
        assert slow.result(20) == [True]
        assert crew.last_span() == "paper"


def test_what_waits_behind_a_slow_case_goes_to_a_worker_that_is_idle(monkeypatch):
    gates = Event(), Event()
    monkeypatch.setattr(workers.Guard, "begin", lambda guard: None)
    monkeypatch.setattr(workers, "run_batch", lambda job, cases, version, guard: [gates[n].wait(60) for n, _ in cases])
    with OwnWorkers(2) as crew:
        slow, other = (crew.submit(b"", [(n, ())]) for n in (0, 1))
        behind = [crew.submit(b"", []) for _ in range(4)]  # two behind either
        gates[1].set()
        assert [future.result(30) for future in (other, *behind)] == [[True], [], [], [], []]
        assert not slow.done()
        gates[0].set()
        assert slow.result(30) == [True]
