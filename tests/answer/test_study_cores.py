"""Work shared over forked children: the same answers in the same order, whatever becomes of a child."""

import os
import sys
import threading

import pytest

from diaphragm_fem.answer import cores
from diaphragm_fem.answer.cores import on_all_cores

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="work is shared by forking on Linux alone")
HERE = os.getpid()


@pytest.fixture(autouse=True)
def three_cores(monkeypatch):
    monkeypatch.setattr(cores, "cores", lambda: 3)
    monkeypatch.setattr(cores.threading, "active_count", lambda: 1)  # those of the test runner do no harm here


@pytest.mark.parametrize("count", [0, 1, 2, 7, 9])
def test_answers_come_in_the_order_of_the_items(count):
    assert on_all_cores(lambda x: x * x, list(range(count))) == [x * x for x in range(count)]


def test_the_work_is_really_shared():
    assert len(set(on_all_cores(lambda _: os.getpid(), [1, 2, 3]))) == 3


def test_an_error_is_raised_as_it_is():
    def work(x):
        if x == 4:
            raise ValueError("four is refused")
        return x

    with pytest.raises(ValueError, match="four is refused"):
        on_all_cores(work, list(range(6)))


def test_the_share_of_a_child_that_dies_is_done_here():
    def work(x):
        if os.getpid() != HERE and x == 2:
            os._exit(1)
        return x, os.getpid()

    answers = on_all_cores(work, list(range(6)))
    assert [x for x, _ in answers] == list(range(6))
    assert answers[2][1] == answers[5][1] == HERE


def test_a_process_with_threads_does_not_fork(monkeypatch):
    monkeypatch.undo()
    monkeypatch.setattr(cores, "cores", lambda: 3)
    stop = threading.Event()
    thread = threading.Thread(target=stop.wait)
    thread.start()
    try:
        assert set(on_all_cores(lambda _: os.getpid(), [1, 2, 3])) == {HERE}
    finally:
        stop.set()
        thread.join()
