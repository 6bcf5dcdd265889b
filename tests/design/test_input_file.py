"""The one reader of files: what it takes, and each of its limits."""

import os
import re
import threading

import pytest

from diaphragm_fem.design.files import input_file
from diaphragm_fem.design.files.input_file import check_data, parse_toml, read_csv_file, read_record, read_toml_file
from diaphragm_fem.design.read.read import load_design, read_design_file
from diaphragm_fem.errors import DesignError, StudyError


def test_takes_an_ordinary_file(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text('name = "ä"\n[wall]\nthickness = ["1 mm", "2 mm"]\n', encoding="utf-8")
    assert read_toml_file(path) == {"name": "ä", "wall": {"thickness": ["1 mm", "2 mm"]}}


@pytest.mark.parametrize(("text", "message"), [
    ("a = " + "[" * 100_000, "may lie at most 32 deep"),
    ("a = " + "[" * 40 + "]" * 40, r"a(\[0\]){32}: .* at most 32 deep"),
    ("a" + ".a" * 40 + " = 1", "more than 64 names|at most 32 deep"),
    ("a" + ".a" * 100_000 + " = 1", "more than 64 names with dots"),
    ("a = " + "1" * 5000, "a whole number has too many digits"),
    ("a = 0x" + "f" * 5000, "a: a whole number has at most 64 bits; received a number of thousands"),
    ("a = 0x" + "f" * 17, "a: a whole number has at most 64 bits; received 295147905179352825855"),
    ('a = "' + "x" * 5000 + '"', r"a: a text has at most 4000 letters; received 'x{80}\.\.\.' \(5000 letters\)$"),
    ('"' + "x" * 300 + '" = 1', "a key has at most 200 letters"),
    ('[b]\n"c\\u001b" = 1', r"b: a key holds no control characters; received 'c\\x1b'"),
    ('b = [{c = "\\u001b[2J"}]', r"b\[0\]\.c: a text holds no control characters; received '\\x1b\[2J'"),
    ('b = "\\u202e"', r"holds no control characters; received '\\u202e'"),
    ('b = "a\\u200f"', r"holds no control characters; received 'a\\u200f'"),  # unseen, and turns what follows
    ('[b]\n"PEN\\u200b film" = 1', r"holds no control characters; received 'PEN\\u200b film'"),  # two look alike
    ('b = "PEN\\u00ad film"', r"holds no control characters; received 'PEN\\xad film'"),  # seen at ends of lines alone
    ('b = "e\u0301"', r"b: a text has its letters whole, é and not e with a mark behind it; received "),
    ('b = "\u0958e\u0301"', "b: a text has its letters whole"),  # the first of them becomes two
    ('"\u00e9" = 1\n"e\u0301" = 2', "a key has its letters whole"),
    ('b = "q' + "\u0301" * 5 + '"', "b: a text has at most 4 marks on a letter"),
    ("thickness = 0,3", "not a valid TOML file: .*; decimals are written with a point"),
    ("[vary.trittgröße]", "stand in quotes; so does a name with letters beyond a to z"),
    ("a = 1\na = 2", "not a valid TOML file: Cannot overwrite a value"),
    ("a = 'x\x00'", r"the file is not text in UTF-8 .a zero at byte 6."),
])  # fmt: skip
def test_refuses_text(tmp_path, text, message):
    path = tmp_path / "odd.toml"
    path.write_bytes(text.encode())
    with pytest.raises(StudyError, match=message) as refusal:
        read_toml_file(path, StudyError)
    assert str(refusal.value).startswith(f"{path}: ") and len(str(refusal.value)) < 500


@pytest.mark.skipif(os.name == "nt", reason="no such files")
def test_a_file_of_the_system_that_would_be_waited_for_is_refused(tmp_path, monkeypatch):
    """As /proc/kmsg, which calls itself a regular file; a pipe stands in for it here."""
    os.mkfifo(tmp_path / "waits.toml")
    writer = os.open(tmp_path / "waits.toml", os.O_RDWR | os.O_NONBLOCK)
    monkeypatch.setattr(input_file.stat, "S_ISREG", lambda mode: True)
    with pytest.raises(DesignError, match=r"waits\.toml: has nothing to be read now; give a file"):
        read_toml_file(tmp_path / "waits.toml")
    os.close(writer)


def test_letters_of_many_scripts_are_text():
    """Marks above and below one letter, and letters that Unicode takes apart where others are put together."""
    text = "\u0958 Füße ệ שָּׁ ที่ كُّ 紙 हिन्दी"
    assert parse_toml(f'a = "{text}"') == {"a": text}


def test_lines_and_tabs_are_text():
    assert parse_toml('a = """one\n\ttwo"""') == {"a": "one\n\ttwo"}


def test_changes_have_the_same_limits():
    with pytest.raises(DesignError, match="at most 32 deep"):
        nested: list = []
        for _ in range(40):
            nested = [nested]
        check_data({"a": nested})


def test_refuses_what_is_no_regular_file(tmp_path):
    with pytest.raises(DesignError, match=f"^{re.escape(str(tmp_path))}: is a folder; give the path of a file in it"):
        read_toml_file(tmp_path)
    for name in ("x" * 300, "x" * 300 + ".csv"):
        with pytest.raises(DesignError, match=r"x: cannot be read: |x\.csv: cannot be read: "):
            read_toml_file(tmp_path / name)
    with pytest.raises(DesignError, match=r"nowhere\.toml: there is no such file; give the path of one that is there"):
        read_toml_file(tmp_path / "nowhere.toml")
    with pytest.raises(DesignError, match=r"no file can have this name: .*embedded null"):
        read_toml_file(tmp_path / "a\0b.toml")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes")
def test_neither_waits_for_a_pipe_nor_reads_a_device(tmp_path):
    pipe = tmp_path / "pipe.toml"
    os.mkfifo(pipe)
    refusals = []

    def read():
        try:
            read_toml_file(pipe)
        except DesignError as error:
            refusals.append(str(error))

    reader = threading.Thread(target=read, daemon=True)
    reader.start()
    reader.join(10)
    assert refusals and "no regular file but a pipe, a device or the like" in refusals[0]
    with pytest.raises(DesignError, match="no regular file but a pipe, a device"):
        read_toml_file(type(tmp_path)("/dev/zero"))


def test_refuses_big_files(tmp_path, monkeypatch):
    monkeypatch.setattr(input_file, "MOST_BYTES", 1000)
    path = tmp_path / "big.toml"
    path.write_text("#" * 2_000_000)
    with pytest.raises(DesignError, match=r"big\.toml: the file holds 2 MB; at most 0\.001 MB are read"):
        input_file.read_text_file(path, most=1000)


def test_a_design_is_no_book(tmp_path):
    """A megabyte takes the library that reads TOML up to 10 s; a design has some kilobytes."""
    path = tmp_path / "long.toml"
    path.write_text("a = [" + "1," * 500_000 + "]")
    with pytest.raises(DesignError, match=r"long\.toml: the file holds 1 MB; at most 1 MB are read"):
        read_toml_file(path)


def test_a_mark_of_the_encoding_is_no_text(tmp_path):
    """As editors of Windows write it."""
    path = tmp_path / "marked.toml"
    path.write_bytes(b"\xef\xbb\xbfa = 1\r\nb = 2\r\n")
    assert read_toml_file(path) == {"a": 1, "b": 2}


@pytest.mark.parametrize("text", ["", "[1]", "[" * 100_000, '{"a": ', "\xff", None])
def test_a_record_that_is_none_says_nothing(tmp_path, text):
    path = tmp_path / ".written.json"
    if text is None:
        os.mkfifo(path)
    else:
        path.write_text(text, encoding="latin-1")
    assert read_record(path) == {}


def test_tables_of_cells(tmp_path):
    path = tmp_path / "points.csv"
    path.write_text("\ufeffr [mm], z [mm]\n\n 1 , 2\n", encoding="utf-8")
    assert list(read_csv_file(path, lines=2)) == [(1, ["r [mm]", "z [mm]"]), (3, ["1", "2"])]
    odd = {"x" * 200_000: "field larger|at most 1000 letters", "\x1b": "holds no control characters"}
    for cell, message in odd.items():
        path.write_text(f"r [mm], z [mm]\n1, {cell}\n", encoding="utf-8")
        with pytest.raises(DesignError, match=rf"points.csv, line 2: .*({message})"):
            list(read_csv_file(path, lines=2))
    path.write_text("a\n\n1\n2\n")
    with pytest.raises(DesignError, match=r"points\.csv: at most 2 lines are read; leave out those from line 4 on"):
        list(read_csv_file(path, lines=2))
    path.write_text("a\n\n1\n\n")
    assert [number for number, _ in read_csv_file(path, lines=2)] == [1, 3]
    bombs = {"\n" * 5: "at most 4 lines .* are empty", "a\n" + "1," * 500_001: "line 2: has more than 1000000"}
    for text, message in bombs.items():  # of 256 MB they took 7 and 5 GB
        path.write_text(text)
        with pytest.raises(DesignError, match=rf"points\.csv.* {message}"):
            list(read_csv_file(path, lines=2))


def test_a_study_file_is_no_design(tmp_path):
    path = tmp_path / "study.toml"
    path.write_text('[study]\nbase = "a.toml"\n[vary.a]\nkey = "b"\nlist = [1]\n')
    with pytest.raises(DesignError, match=r"is a study file \(it has a \[study\]\).*`diaphragm-fem sweep"):
        load_design(path)
    path.write_text('["my film"]\ndensity = "1360 kg/m^3"\n')
    with pytest.raises(DesignError, match=r"is a materials file .* as materials_file"):
        read_design_file(path)


@pytest.mark.parametrize(("name", "what"), [("a.dxf", "a drawing"), ("a.csv", "a table"), ("a.STEP", "a solid")])
def test_a_file_of_another_kind_is_known_by_its_name(tmp_path, name, what):
    path = tmp_path / name
    path.write_text("0\nSECTION\n", encoding="utf-8")
    with pytest.raises(DesignError, match=f"{name}: a TOML file is wanted here, received {what}"):
        read_toml_file(path)
    with pytest.raises(DesignError, match="there is no such file"):
        read_toml_file(tmp_path / f"no_{name}")
