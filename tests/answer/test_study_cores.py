"""Work shared over forked children: the same answers in the same order, whatever becomes of a child."""

import os
import sys
import threading
import time
from multiprocessing import active_children, get_context

import pytest

from diaphragm_fem.answer.machine import cores
from diaphragm_fem.answer.machine.cores import beside, on_all_cores, others_begin

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
    together = get_context("fork").Barrier(3)  # which nobody passes alone

    def work(_):
        together.wait(600)
        return os.getpid()

    assert len(set(on_all_cores(work, [1, 2, 3]))) == 3


def test_an_error_is_raised_as_it_is():
    def work(x):
        if x == 4:
            raise ValueError("four is refused")
        return x

    with pytest.raises(ValueError, match="four is refused"):
        on_all_cores(work, list(range(6)))


def test_an_error_of_a_child_is_raised_here_and_ends_the_others():
    together = get_context("fork").Barrier(3)

    def work(x):
        together.wait(600)
        if os.getpid() != HERE:
            raise ValueError(f"refused in {x}")
        return x

    with pytest.raises(ValueError, match="refused in"):
        on_all_cores(work, list(range(3)))
    assert not active_children()


def test_more_items_than_numbers_wait_in_a_pipe():
    count = 2 * cores.QUEUED + 3
    assert on_all_cores(lambda x: x, range(count)) == list(range(count))


def test_what_a_child_that_dies_has_taken_is_done_here():
    together = get_context("fork").Barrier(3)

    def work(x):
        if x < 3 and not met:
            met.append(x)
            together.wait(600)
            if os.getpid() != HERE:
                os._exit(1)
        return x, os.getpid()

    met = []
    assert on_all_cores(work, list(range(6))) == [(x, HERE) for x in range(6)]


def test_work_beside_is_done_by_a_child_that_ends_with_the_block():
    with beside(os.getpid) as answer:
        assert len(active_children()) == 1
        assert answer() != HERE
    with beside(lambda: time.sleep(600)):
        pass
    assert not active_children()


def test_an_error_of_work_beside_is_raised_where_its_answer_is_asked_for():
    with beside(lambda: 1 / 0) as answer, pytest.raises(ZeroDivisionError):
        answer()


def test_work_beside_is_done_here_where_the_child_dies_or_there_is_one_core(monkeypatch):
    with beside(lambda: os.getpid() if os.getpid() == HERE else os._exit(1)) as answer:
        assert answer() == HERE
    monkeypatch.setattr(cores, "cores", lambda: 1)
    with beside(os.getpid) as answer:
        assert answer() == HERE


def test_work_beside_is_done_here_where_the_child_dies_as_it_sends():
    def work():
        if os.getpid() != HERE:
            threading.Timer(0.5, os._exit, (1,)).start()  # meanwhile it waits: a pipe holds far less
        return b"1" * 2**24

    with beside(work) as answer:
        active_children()[0].join(600)
        assert answer() == b"1" * 2**24


def test_work_is_done_here_where_the_system_has_no_room_for_a_child(monkeypatch):
    def fork():
        raise BlockingIOError(11, "Resource temporarily unavailable")

    open_before = len(os.listdir("/proc/self/fd"))
    monkeypatch.setattr(os, "fork", fork)
    assert on_all_cores(lambda x: (x, os.getpid()), [1, 2, 3]) == [(x, HERE) for x in (1, 2, 3)]
    monkeypatch.undo()
    assert len(os.listdir("/proc/self/fd")) <= open_before + 8  # of the library's own, two pipes for each child


def test_a_child_starts_no_children():
    with beside(lambda: set(on_all_cores(lambda _: os.getpid(), [1, 2, 3]))) as answer:
        assert len(answer()) == 1


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


def test_others_begin_while_this_one_has_something_else_to_do():
    begun = get_context("fork").Event()

    def work(x):
        begun.set()
        return x, os.getpid()

    with others_begin(work, list(range(6))) as answers:
        assert begun.wait(60)  # nobody has asked yet
        found = answers()
    assert [x for x, _ in found] == list(range(6)) and any(by != HERE for _, by in found)
    assert not active_children()


def test_an_error_of_this_one_ends_what_others_have_begun():
    with pytest.raises(ZeroDivisionError), others_begin(lambda _: time.sleep(600), [1, 2]):
        _ = 1 / 0
    assert not active_children()
