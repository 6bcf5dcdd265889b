"""Patches that processes share in a file: the same bits whoever solved them, and whatever befell the file."""

import os
from math import pi

import numpy as np
import pytest

from diaphragm_fem.errors import MeshError
from diaphragm_fem.model import joint_book, joint_kinds
from diaphragm_fem.model.joint_book import Book, begin_book
from diaphragm_fem.model.joint_kinds import excess_of, excess_of_joints, forget, share_in
from diaphragm_fem.model.joint_section import Arm, Kind

KINDS = [Kind((Arm(pi, 1e-4, 13e6, 0.48), Arm(turn, 0.5e-4, 4.1e9, 0.38))) for turn in (0.31, 0.32)]


@pytest.fixture(autouse=True)
def nothing_known():
    forget()
    yield
    forget()


@pytest.fixture
def path(tmp_path):
    found = tmp_path / "cases.joints"
    assert begin_book(found)
    return found


def solved(kinds):
    """Bytes of what some kinds yield."""
    found = excess_of_joints(kinds)
    return found.plane.tobytes(), found.around.tobytes(), found.section.tobytes()


@pytest.fixture
def no_more(monkeypatch):
    """From here on no patch may be solved."""

    def solve(*_):
        raise AssertionError("a patch was solved")

    return lambda: monkeypatch.setattr(joint_kinds, "_patch", solve)


def test_another_process_reads_what_one_has_solved(path, no_more):
    share_in(path)
    first = solved(KINDS)
    forget()
    share_in(path)
    no_more()
    assert solved(KINDS) == first


def test_what_is_added_meanwhile_is_read(path, no_more):
    own, other = Book(path), Book(path)
    key = joint_kinds.keys_of(KINDS[:1])[0]
    assert list(own.news()) == []
    other.add(key, joint_kinds._patch(key))
    ((found, _),) = own.news()
    assert found == key and list(own.news()) == []


def test_the_order_of_solving_changes_no_bit():
    first = solved(KINDS)
    forget()
    again = solved(KINDS[::-1])
    assert all(np.frombuffer(a).tobytes() == b"".join(_rows(b)[::-1]) for a, b in zip(first, again, strict=True))


def _rows(whole):
    half = len(whole) // 2
    return [whole[:half], whole[half:]]


def test_a_joint_that_cannot_be_drawn_is_known_as_such(path, no_more, monkeypatch):
    def fails(*_):
        raise MeshError("turns inside out")

    monkeypatch.setattr(joint_kinds, "_patch", fails)
    monkeypatch.setattr(joint_kinds, "_why", lambda kind: "turns inside out")
    for k in range(2):
        if k:
            no_more()
        share_in(path)
        with pytest.raises(MeshError, match="turns inside out"):
            excess_of(KINDS[0])
        forget()


@pytest.mark.parametrize("keep", [0.3, 0.9, 0.99])
def test_a_line_cut_short_costs_its_own_patch_alone(path, keep):
    keys = joint_kinds.keys_of(KINDS)
    head = path.stat().st_size
    book = Book(path)
    book.add(keys[0], joint_kinds._patch(keys[0]))
    os.truncate(path, head + int(keep * (path.stat().st_size - head)))
    book.add(keys[1], joint_kinds._patch(keys[1]))
    assert [key for key, _ in Book(path).news()] == keys[1:]


def test_a_changed_digit_is_not_read(path):
    key = joint_kinds.keys_of(KINDS[:1])[0]
    Book(path).add(key, joint_kinds._patch(key))
    text = path.read_bytes()
    place = text.rfind(b".") + 1
    path.write_bytes(text[:place] + (b"1" if text[place : place + 1] != b"1" else b"2") + text[place + 1 :])
    assert list(Book(path).news()) == []


def test_the_book_of_another_program_is_not_read_and_begun_anew(path, monkeypatch):
    key = joint_kinds.keys_of(KINDS[:1])[0]
    Book(path).add(key, joint_kinds._patch(key))
    monkeypatch.setattr(joint_book, "_maker", lambda: b"joints by another program")
    other = Book(path)
    assert list(other.news()) == []
    other.add(key, None)
    monkeypatch.undo()
    assert len(list(Book(path).news())) == 1  # what the other program had was not added to it
    monkeypatch.setattr(joint_book, "_maker", lambda: b"joints by another program")
    assert begin_book(path) and path.stat().st_size < 100
    assert [entry.name for entry in path.parent.iterdir()] == [path.name]


def test_one_by_this_program_is_gone_on_with(path):
    key = joint_kinds.keys_of(KINDS[:1])[0]
    Book(path).add(key, None)
    assert begin_book(path) and list(Book(path).news()) == [(key, None)]


def test_it_stops_growing(path, monkeypatch):
    keys = joint_kinds.keys_of(KINDS)
    monkeypatch.setattr(joint_book, "LARGEST", 300)
    book = Book(path)
    book.add(keys[0], joint_kinds._patch(keys[0]))
    assert [key for key, _ in book.news()] == keys[:1]
    book.add(keys[1], None)
    assert list(book.news()) == []


def test_without_a_file_patches_are_solved_as_ever(tmp_path):
    share_in(tmp_path / "nowhere" / "cases.joints")
    assert excess_of(KINDS[0]).plane.any()
    assert not begin_book(tmp_path / "nowhere" / "cases.joints")


def test_the_oldest_patches_make_room(monkeypatch):
    monkeypatch.setattr(joint_kinds, "KEPT", 1)
    monkeypatch.setattr(joint_kinds, "_patch", lambda key: joint_kinds._cut_down(joint_kinds.NOTHING, 2, 2))
    for kind in (*KINDS, KINDS[0]):
        excess_of(kind)
    assert len(joint_kinds.known()) == 2
    assert list(joint_kinds.known()) == joint_kinds.keys_of([KINDS[1], KINDS[0]])
