"""Patches that processes share in a file: the same bits whoever solved them, and whatever befell the file."""

import os
import re
import tracemalloc
from math import pi

import numpy as np
import pytest
from forgotten_joints import forget, solve_no_more
from mutants import within_processor_time
from one_joint import excess_of

from diaphragm_fem.errors import MeshError
from diaphragm_fem.model.joint import book as joint_book
from diaphragm_fem.model.joint import kinds as joint_kinds
from diaphragm_fem.model.joint.book import Book, begin_book
from diaphragm_fem.model.joint.kind import Arm, Kind, Ply, arm_of
from diaphragm_fem.model.joint.kinds import excess_of_joints, share_in
from diaphragm_fem.model.joint.patch import Excess
from diaphragm_fem.model.joint.table import MM, Key
from diaphragm_fem.model.joint.trust import begin_sharing

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
    return lambda: solve_no_more(monkeypatch)


FILM = Ply(0.5e-4, 4.1e9, 0.38)
LAP = [  # a film that begins under rubber: one arm of two layers, whose middle lies beside the line
    Kind((arm_of(pi, (Ply(1e-4, 13e6, 0.48), FILM), (), 0.25e-4), Arm(0.0, 0.5e-4, 4.1e9, 0.38)))
]
HELD = Kind((Arm(0.3, 1e-4, 4.1e9, 0.38),))


@pytest.mark.parametrize("kinds", [KINDS, LAP], ids=["walls", "laminate"])
def test_another_process_reads_what_one_has_solved(path, no_more, kinds):
    share_in(path)
    first = solved(kinds)
    forget()
    share_in(path)
    no_more()
    assert solved(kinds) == first


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
    for k in range(2):
        if k:
            no_more()
        share_in(path)
        with pytest.raises(MeshError, match="draws it but cannot solve it"):
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


def offered(path, key, excess):
    """What a process takes of a patch that a book offers: nothing, or what it says."""
    forget()
    Book(path).add(key, excess)
    share_in(path)
    return joint_kinds.patch_of_key(key)


@pytest.mark.parametrize(
    "forge",
    [
        lambda x: x._replace(plane=-10 * x.plane),
        lambda x: x._replace(plane=x.plane + np.triu(np.ones_like(x.plane[0]), 1) * np.abs(x.plane).max()),
        lambda x: x._replace(around=-1e3 * np.abs(x.around)),
        lambda x: x._replace(section=x.section - 1e-3),
        lambda x: x._replace(plane=np.full_like(x.plane, np.nan)),
        lambda x: x._replace(section=np.full_like(x.section, np.inf)),
        lambda x: x._replace(plane=x.plane[:, :2, :2]),
        lambda x: x._replace(section=x.section[:1]),
        lambda x: x._replace(plane=np.zeros((2, 999, 999))),
    ],
    ids=["negative", "not symmetric", "negative around", "no section", "nan", "infinite", "shape", "too few", "huge"],
)
def test_what_no_joint_yields_is_solved_instead(path, forge):  # fmt: skip
    key = joint_kinds.keys_of(KINDS[:1])[0]
    true = joint_kinds.patch_of_key(key)
    found = offered(path, key, forge(true))
    assert all((a == b).all() for a, b in zip(found, true, strict=True))


@pytest.mark.parametrize("kind", [KINDS[0], LAP[0], HELD], ids=["walls", "laminate", "held end"])
def test_what_a_joint_may_yield_is_taken(path, no_more, kind):
    """Of held ends it never was, since twists were told with patches: each process solved them itself."""
    key = joint_kinds.keys_of([kind])[0]
    true = joint_kinds.patch_of_key(key)
    no_more()
    found = offered(path, key, true._replace(plane=1.01 * true.plane))
    assert (found.plane == 1.01 * true.plane).all()


@pytest.mark.parametrize("text", [
    b"{}", b"[]", b"[[1],[1],[0.3]]", b"[[1],[0,0,0,0,0],[0.6]]", b"[[1],[0,0,0,0,1e9],[0.3]]", b"[[0],[0,0,0],[]]",
    b"[[1],[0,0,0,0,9999999999],[0.3]]", b"[[-1,2],[0,0,0,0,0,0,0,0],[0.3]]", b"[[1],[0,0,0,0,0],[NaN]]",
    b"[[1],[0,0,0,0,0],[0.3],[[1]],[[1]],[[1]]]", b"[[1],[0,0,0,0,0],[0.3],1,2,3,4]", b"[" * 100_000, b"\xff",
    b"[[1],[0,0,0,0,0],[0.3,0.3,0.3,0.3]]", b'[["1"],[0,0,0,0,0],[0.3]]',
])  # fmt: skip
def test_a_line_that_is_no_patch_is_passed_over(path, text):
    with path.open("ab") as file:
        file.write(joint_book._line(text))
    assert list(Book(path).news()) == []


def test_no_more_is_read_than_is_ever_written(path):
    with path.open("r+b") as file:
        file.truncate(2 << 40)  # two terabytes of nothing, which no disk need hold
    tracemalloc.start()
    assert list(Book(path).news()) == []
    assert tracemalloc.get_traced_memory()[1] < 4 * joint_book.LARGEST
    tracemalloc.stop()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes")
def test_a_pipe_is_no_book_and_nobody_waits_for_it(tmp_path):
    os.mkfifo(tmp_path / "cases.joints")
    assert not begin_book(tmp_path / "cases.joints")
    book = Book(tmp_path / "cases.joints")
    assert not book.usable and list(book.news()) == []
    assert begin_sharing(tmp_path / "cases.joints")[1].endswith("solvers share none; move it away, and they do")


@pytest.mark.parametrize("what", [b"my notes", b"SQLite format 3\x00" * 9, b"\n0123456789abcdef jo"])
def test_what_is_no_book_is_left_as_it_is(tmp_path, what):
    path = tmp_path / "cases.joints"
    path.write_bytes(what)
    shared, told = begin_sharing(path)
    assert not shared and path.read_bytes() == what
    assert re.search(r"cases\.joints: is no book of joints, is left as it is, .*move it away, and they do$", told)


def test_it_is_told_whose_book_is_used(path):
    assert begin_sharing(path) == (True, "")
    for key in joint_kinds.keys_of(KINDS):
        Book(path).add(key, joint_kinds._patch(key))
    shared, told = begin_sharing(path)
    assert shared
    assert re.search(r"are read from .*cases\.joints \(2 patches, a file of .+; 2 solved anew are the same\)$", told)


@pytest.mark.parametrize("kind", [Kind((Arm(pi, 1e-4, 4.1e9, 0.38), Arm(0.0, 1e-4, 70e9, 0.33))), HELD])
def test_a_book_of_another_machine_is_used_where_nothing_but_rounding_is_told(path, kind):
    """Of walls that run on and of held ends section, turning or shear are none: between two sets of instructions they
    differed by 1e-12 of the wall, or wholly, and the book was told to be damaged or forged."""
    (key,) = joint_kinds.keys_of([kind])
    own = joint_kinds.solved_patch(key).over(MM)
    Book(path).add(key, Excess(*(x + 1e-11 for x in own)).over(1 / MM))
    assert "1 solved anew are the same" in begin_sharing(path)[1]


def part(excess, name, place):
    """The same, one entry a hundredth more: rows are forces and moments, whose numbers differ by a million."""
    changed = getattr(excess, name).copy()
    changed[(0, *place)] *= 1.01
    return excess._replace(**{name: changed})


@pytest.mark.parametrize("forge", [
    lambda x: x._replace(plane=1.01 * x.plane), lambda x: None, lambda x: part(x, "plane", (0, 0)),
    lambda x: part(x, "plane", (2, 2)), lambda x: part(x, "around", (0, 0)),
    lambda x: x._replace(section=1.01 * x.section), lambda x: x._replace(twist=1.01 * x.twist),
    lambda x: x._replace(turning=1.01 * x.turning),
])  # fmt: skip
def test_a_book_whose_patches_are_others_is_begun_anew(path, forge):
    """Positive, symmetric and of its shape: only solving tells."""
    for key in joint_kinds.keys_of(KINDS):
        Book(path).add(key, forge(joint_kinds._patch(key)))
    shared, told = begin_sharing(path)
    assert shared and list(Book(path).news()) == []
    assert re.search(r"cases\.joints: held patches of joints that are not what they yield, .*: it is begun anew", told)


def test_proportions_that_no_wall_has_are_not_drawn_for_long(path):
    far = 9 * 10**8
    for points in ([far] * 10, [far, -far] * 5, [0, 0, 0, far, far, -far, -far, 0, 0, 0]):
        Book(path).add(Key((1, 1), tuple(points), (0.3, 0.3)), joint_kinds._patch(joint_kinds.keys_of(KINDS[:1])[0]))
    with within_processor_time(20.0):
        assert begin_sharing(path)[0]
    assert list(Book(path).news()) == []


def test_it_is_read_where_a_file_is_read_from_its_place_alone(path, monkeypatch):
    """Windows has no pread."""
    key = joint_kinds.keys_of(KINDS[:1])[0]
    monkeypatch.delattr(os, "pread", raising=False)
    book = Book(path)
    for k in range(2):
        Book(path).add(key, None)
        assert list(book.news()) == [(key, None)], k


@pytest.mark.skipif(os.name == "nt", reason="rights of Unix")
def test_a_book_may_be_read_by_whom_the_store_may(tmp_path):
    before = os.umask(0o027)
    try:
        assert begin_book(tmp_path / "cases.joints")
    finally:
        os.umask(before)
    assert (tmp_path / "cases.joints").stat().st_mode & 0o777 == 0o640


def test_children_share_the_book_that_is_open(path, no_more):
    share_in(path)
    with joint_kinds.shared_with_children():
        first = solved(KINDS)
    assert len(list(Book(path).news())) == 2 and joint_kinds._BOOKS[0].usable
    share_in(None)
    with joint_kinds.shared_with_children():
        assert joint_kinds._BOOKS[0].usable
    assert not joint_kinds._BOOKS and solved(KINDS) == first


def test_without_a_file_patches_are_solved_as_ever(tmp_path):
    share_in(tmp_path / "nowhere" / "cases.joints")
    assert excess_of(KINDS[0]).plane.any()
    assert not begin_book(tmp_path / "nowhere" / "cases.joints")


SHAPES = (2, 3, 3), (2, 1, 1), (2, 6), 2, 1  # of what a joint of two walls yields


def test_the_oldest_patches_make_room(monkeypatch):
    monkeypatch.setattr(joint_kinds, "KEPT", 1)
    monkeypatch.setattr(joint_kinds, "_patch", lambda key: Excess(*map(np.zeros, SHAPES)))
    for kind in (*KINDS, KINDS[0]):
        excess_of(kind)
    assert len(joint_kinds.known()) == 2
    assert list(joint_kinds.known()) == joint_kinds.keys_of([KINDS[1], KINDS[0]])
