"""Stores that may only be read, are damaged, or are none: what is there is read, or one message says what to do."""

import errno
import json
import os
import shutil
import sqlite3
import struct
import tracemalloc
import zlib

import pytest
from places import STUDIES
from study_standin import STANDIN, write_study

from diaphragm_fem.cli import run
from diaphragm_fem.errors import ModelError, StudyError
from diaphragm_fem.study.morning.export import export_study
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run import store_reading
from diaphragm_fem.study.run.case_row import find_evaluator, run_case
from diaphragm_fem.study.run.engine import run_study
from diaphragm_fem.study.run.status import study_status
from diaphragm_fem.study.run.store import (
    CHECKPOINT_SECONDS,
    FIGURES_VERSION,
    checksum,
    identity_in,
    is_folder,
    open_store,
)
from diaphragm_fem.study.run.store_lock import in_use, locked
from diaphragm_fem.study.run.store_reading import read_store
from diaphragm_fem.study.run.store_tables import PATIENCE

posix = pytest.mark.skipif(os.name == "nt", reason="pipes and links of Unix")
WISH = '[morning]\nwish = [{ figure = "fundamental_hz", aim = "low" }]\n'


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "200")


@pytest.fixture
def study(tmp_path):
    return read_study(write_study(tmp_path, treads=3, thicknesses=5, more=WISH))


@pytest.fixture
def store(tmp_path, study):
    folder = tmp_path / "stored"
    with open_store(study, folder / "cases.sqlite") as book:
        fill(book, study)
    return folder / "cases.sqlite"


def fill(book, study, numbers=None):
    sampler = Sampler(study)
    numbers = range(len(sampler)) if numbers is None else numbers
    book.add([run_case(study.recipe, k, sampler.values(k), STANDIN) for k in numbers])


def change(store, *statements):
    base = sqlite3.connect(store)
    for statement in statements:
        base.execute(statement)
    base.commit()
    base.close()


def refused(capsys, *arguments):
    assert run([str(argument) for argument in arguments]) == 2
    out, errors = capsys.readouterr()
    assert out == "" and errors.startswith("error: ") and errors.count("\n") == 1, errors
    return errors


@pytest.fixture
def sealed(store):
    """The store where nothing may be written, as on a shared disk."""
    store.chmod(0o444)
    store.parent.chmod(0o555)
    yield store
    store.parent.chmod(0o755)


@pytest.mark.skipif(os.name == "nt", reason="other permissions")
def test_a_store_where_nothing_may_be_written_is_read(sealed, bound, tmp_path):
    status = bound.begin("status", "study.toml", "--store", str(sealed)).end()
    assert status.returncode == 0, status.stderr
    assert b"15 of 15 cases" in status.stdout
    options = ("--store", str(sealed), "--out", str(tmp_path / "page"), "--no-pictures")
    morning = bound.begin("morning", "study.toml", *options).end()
    assert morning.returncode == 0, morning.stderr
    assert b"10 designs of the study" in morning.stdout
    assert sorted(path.name for path in sealed.parent.iterdir()) == ["cases.sqlite", "cases.sqlite.lock"]


def test_a_store_on_a_full_disk_is_read(store, study, monkeypatch):
    """SQLite makes the index of a log even to read: `status` of a night that filled the disk ended there."""
    check, said = store_reading._check_whose, ["disk I/O error"]

    def full(base):
        if said:
            raise sqlite3.OperationalError(said.pop())
        check(base)

    monkeypatch.setattr(store_reading, "_check_whose", full)
    assert study_status(study, store=store).stored == 15 and not said


@pytest.mark.skipif(os.name == "nt", reason="other permissions")
def test_cases_that_stand_in_the_log_alone_are_not_left_out_in_silence(tmp_path, study, bound):
    with open_store(study, tmp_path / "open.sqlite") as book:
        fill(book, study)
        copied = tmp_path / "copy"
        copied.mkdir()
        for ending in ("", "-wal"):
            shutil.copy(tmp_path / f"open.sqlite{ending}", copied / f"cases.sqlite{ending}")
    assert (copied / "cases.sqlite-wal").stat().st_size > 0
    copied.chmod(0o555)
    try:
        told = bound.begin("status", "study.toml", "--store", str(copied / "cases.sqlite")).end()
    finally:
        copied.chmod(0o755)
    assert told.returncode == 2
    assert b"its latest cases stand in cases.sqlite-wal" in told.stderr
    assert b"copy both files into a folder of your own" in told.stderr
    assert study_status(study, store=copied / "cases.sqlite").stored == 15  # as advised


DAMAGES = {
    "broken figures": "UPDATE cases SET figures = '{\"a\":' WHERE number = 7",
    "no figures": "UPDATE cases SET figures = NULL WHERE number = 7",
    "another figure": "UPDATE cases SET figures = replace(figures, '1', '2') WHERE number = 7",
    "broken text": "UPDATE cases SET inputs = CAST(x'ff00fe' AS TEXT) WHERE number = 7",
    "another status": "UPDATE cases SET status = 'failed' WHERE number = 7",
    "no curves": "DELETE FROM curves WHERE number = 7",
}
CURVE_DAMAGES = {
    "broken curves": "UPDATE curves SET packed = x'0102' WHERE number = 7",
    "another's curves": "UPDATE curves SET packed = (SELECT packed FROM curves WHERE number = 8) WHERE number = 7",
}


@pytest.mark.parametrize("name", DAMAGES)
def test_a_case_that_is_not_what_was_stored_is_named_by_every_verb(name, store, study, capsys):
    change(store, DAMAGES[name])
    with pytest.raises(StudyError, match=r"case 7: is damaged .*`sweep --retry` solves damaged cases anew"):
        run_study(study, store=store, evaluator=STANDIN)
    for verb in ("status", "morning"):
        errors = refused(capsys, verb, "study.toml", "--store", store)
        assert f"{store}, case 7: is damaged" in errors and "`sweep --retry` solves damaged cases anew" in errors
    assert "case 7: is damaged" in refused(capsys, "export", "study.toml", "out.csv", "--store", store)


@pytest.mark.parametrize("name", CURVE_DAMAGES)
def test_curves_that_are_not_what_was_stored_are_named_where_they_are_read(name, store, study, capsys):
    change(store, CURVE_DAMAGES[name])
    with pytest.raises(StudyError, match="case 7: is damaged"):
        run_study(study, store=store, evaluator=STANDIN)
    assert "case 7: is damaged" in refused(capsys, "export", "study.toml", "out.nc", "--store", store)


@pytest.mark.parametrize("statement", [*DAMAGES.values(), *CURVE_DAMAGES.values()])
def test_retry_takes_out_the_damaged_case_alone(statement, store, study):
    with read_store(store) as reading:
        whole = list(reading.rows())
    change(store, statement)
    with open_store(study, store) as book:
        assert book.forget_failures() == 1
        assert set(book.numbers()) == set(range(15)) - {7}
        fill(book, study, [7])
        book.check()
    with read_store(store) as reading:
        again = list(reading.rows())
        assert [{**row, "seconds": None} for row in again] == [{**row, "seconds": None} for row in whole]
        assert reading.curves(7)["area_m2"].size > 0


def test_a_case_of_another_study_is_damaged(store, study, tmp_path, capsys):
    """As by a hand that joins the stores of a study before and after its base design was changed."""
    (tmp_path / "other").mkdir()
    path = write_study(tmp_path / "other", treads=3, thicknesses=5, more=WISH)
    base = path.with_name("base.toml")
    base.write_text(base.read_text().replace("4 mm", "5 mm"))
    with open_store(read_study(path), tmp_path / "other.sqlite") as book:
        fill(book, read_study(path))
    tables = ("cases", "curves")
    change(store, *(f"DELETE FROM {table} WHERE number = 7" for table in tables))
    joined = [f"INSERT INTO {table} SELECT * FROM other.{table} WHERE number = 7" for table in tables]
    change(store, f"ATTACH '{tmp_path / 'other.sqlite'}' AS other", *joined)
    assert "case 7: is damaged" in refused(capsys, "morning", "study.toml", "--store", store, "--no-pictures")
    with open_store(study, store) as book:
        assert book.forget_failures() == 1


def test_tables_whose_text_is_none_are_told(store, study):
    """SQLite cites it in its error, which ended the program."""
    store.write_bytes(store.read_bytes().replace(b"NOT NULL, reason", b"NOT \xd3ULL, reason"))
    for way in (lambda: open_store(study, store), lambda: read_store(store)):
        with pytest.raises(StudyError, match=r"\(what it says of its tables is no text\); move it away"):
            way()


def test_a_page_that_was_overwritten_is_found_before_the_study_goes_on(store, study):
    with open(store, "r+b") as stream:  # the last page, header and all: one of curves
        stream.seek(-16384, os.SEEK_END)
        stream.write(b"\xff" * 4096)
    with open_store(study, store) as book, pytest.raises(StudyError, match=r"is damaged \(.*move it away"):
        book.check()


def test_rows_reach_the_store_itself_and_not_its_log_alone(study, tmp_path, monkeypatch):
    """A log that is deleted after a kill takes only what the last seconds brought."""
    monkeypatch.setattr("diaphragm_fem.study.run.store.CHECKPOINT_SECONDS", 0.0)
    with open_store(study, tmp_path / "open.sqlite") as book:
        fill(book, study)
        shutil.copy(tmp_path / "open.sqlite", tmp_path / "alone.sqlite")
    assert CHECKPOINT_SECONDS <= 60
    with read_store(tmp_path / "alone.sqlite") as reading:
        reading.check()
        assert sum(reading.counts().values()) == 15


def test_figures_of_another_version_are_shown_and_never_ranked(store, study, monkeypatch, capsys):
    for place in ("store", "store_reading"):
        monkeypatch.setattr(f"diaphragm_fem.study.run.{place}.FIGURES_VERSION", "next")
    assert study_status(study, store=store).figures_version == FIGURES_VERSION
    errors = refused(capsys, "morning", "study.toml", "--store", store)
    assert f"{store}: holds figures of version {FIGURES_VERSION}, and those of version next are ranked" in errors
    assert "`sweep` the study again into a new store" in errors
    told = rf"was made with figures of version {FIGURES_VERSION} \(this is next\), and results of the two must not"
    with pytest.raises(StudyError, match=told):
        run_study(study, store=store, evaluator=STANDIN)


def test_a_store_of_another_format_is_refused_with_the_way_out(store, capsys):
    change(store, "UPDATE about SET value = '1' WHERE key = 'format'")
    errors = refused(capsys, "status", "study.toml", "--store", store)
    assert "is in store format 1 of version 0.1.0, and this program reads format 4; `sweep` the study again" in errors
    change(store, "ALTER TABLE cases DROP COLUMN never")  # as one of format 3 has its tables
    assert errors == refused(capsys, "status", "study.toml", "--store", store)
    with pytest.raises(StudyError, match=r"was made in store format 1 \(this is 4\)"):
        open_store(read_study("study.toml"), store)


@pytest.mark.parametrize("table", ["about", "runs", "cases", "curves"])
def test_a_missing_table_is_named(table, store, capsys):
    change(store, f"DROP TABLE {table}")
    errors = refused(capsys, "status", "study.toml", "--store", store)
    assert f"{store}: cannot be read as a store of results (without its table '{table}')" in errors
    assert "move it away and start the study again" in errors


def test_a_file_that_is_no_store_is_refused_with_what_to_do(store, capsys):
    store.write_bytes(b"no store at all " * 100)
    assert "move it away" in refused(capsys, "status", "study.toml", "--store", store)


@pytest.mark.parametrize("verb", ["sweep", "status"])
def test_a_folder_is_no_store_and_gets_no_lock(verb, tmp_path, capsys):
    folder = tmp_path / "folder"
    folder.mkdir()
    study = tmp_path / "study.toml"
    with pytest.raises(StudyError, match="is a folder"):
        open_store(read_study(study) if study.exists() else read_study(write_study(tmp_path)), folder)
    assert f"{folder}: is a folder" in refused(capsys, verb, "study.toml", "--store", folder)
    assert not (tmp_path / "folder.lock").exists()


STRANGERS = {
    "trigger": "CREATE TRIGGER t AFTER INSERT ON cases BEGIN UPDATE cases SET status = 'done'; END",
    "view": "CREATE VIEW every AS WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n) SELECT x FROM n",
    "index": "CREATE INDEX fast ON cases (status)",
    "table": "CREATE TABLE more (x)",
    "column": "ALTER TABLE cases ADD COLUMN more TEXT",
}


@pytest.mark.parametrize("what", STRANGERS)
def test_what_no_store_has_is_refused_by_every_verb(what, store, study, capsys):
    change(store, STRANGERS[what])
    name = {"trigger": "t", "view": "every", "index": "fast", "table": "more", "column": "cases"}[what]
    told = f"with '{name}', which this program does not make so"
    for verb in ("status", "morning"):
        assert told in refused(capsys, verb, "study.toml", "--store", store)
    with pytest.raises(StudyError, match=told):
        open_store(study, store)


@posix
def test_a_study_whose_name_is_no_text_has_a_store(tmp_path):
    """Names of files are bytes: the command ended in the store's own words and left half of one behind."""
    name = os.fsdecode(b"\xff\xfe.toml")
    study = read_study(write_study(tmp_path, treads=1, thicknesses=1).rename(tmp_path / name))
    with open_store(study) as book:
        fill(book, study)
    with read_store(study.store_path, study) as reading:
        assert reading.about["name"] == "\\udcff\\udcfe" and reading.counts() == {"done": 1}


def test_reasons_that_name_what_is_no_text_are_stored(study, monkeypatch):
    def refused(*_):
        raise ModelError("\udcff.csv: is empty\n")

    monkeypatch.setattr("study_standin.evaluate", refused)
    find_evaluator.cache_clear()
    row = run_case(study.recipe, 7, Sampler(study).values(7), STANDIN)
    find_evaluator.cache_clear()
    assert row.status == "failed" and row.reason == "\\udcff.csv: is empty; "


@pytest.mark.parametrize("verb", ["sweep", "status", "export"])
def test_a_name_that_no_file_can_have_is_no_store(verb, tmp_path, capsys):
    """A study's own name may be as long as a file's, and the folder of its results is longer."""
    (tmp_path / "base.toml").write_text((STUDIES / "metal_dome.toml").read_text(encoding="utf-8"), encoding="utf-8")
    name = tmp_path / f"{'x' * 250}.toml"
    name.write_text('[study]\nbase = "base.toml"\n[vary.t]\nkey = "wall.thickness"\nlist = ["30 um"]\n')
    (tmp_path / "results").mkdir()
    told = refused(capsys, verb, name, *(["table.csv"] if verb == "export" else []))
    assert "no store can be there (File name too long); give --store another" in told


def test_a_folder_shut_to_the_user_is_told(study, tmp_path, monkeypatch):
    """ "No store can have this name (Permission denied)" was said of a good name."""

    def shut(self):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.is_dir", shut)
    with pytest.raises(StudyError, match=r"no store can be there \(Permission denied\)"):
        open_store(study, tmp_path / "cases.sqlite")


def test_a_view_in_place_of_a_table_is_no_table(store, study):
    endless = "WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n) SELECT x AS number, '' AS packed FROM n"
    change(store, "DROP TABLE curves", f"CREATE VIEW curves AS {endless}")
    for way in (lambda: open_store(study, store), lambda: read_store(store)):
        with pytest.raises(StudyError, match=r"with 'curves', which this program does not make so\)"):
            way()


def test_a_base_of_another_program_gets_no_tables(study, tmp_path):
    other = tmp_path / "other.sqlite"
    change(other, "CREATE TABLE notes (x)")
    for way in (lambda: open_store(study, other), lambda: read_store(other)):
        with pytest.raises(StudyError, match=r"without its table 'about' and 'runs' and 'cases' and 'curves'\)"):
            way()
    assert sqlite3.connect(other).execute("SELECT name FROM sqlite_master").fetchall() == [("notes",)]


def forge(store, **columns):
    """Case 7 with other contents and a seal that fits them."""
    base = sqlite3.connect(store)
    study = identity_in(base)
    row = list(base.execute("SELECT * FROM cases WHERE number = 7").fetchone())
    (seal,) = base.execute("SELECT checksum FROM curves WHERE number = 7").fetchone()
    if "packed" in columns:
        packed = columns.pop("packed")
        seal = checksum(study, 7, packed)
        base.execute("UPDATE curves SET packed = ?, checksum = ? WHERE number = 7", (packed, seal))
    for name, value in columns.items():
        row[("number", "status", "reason", "inputs", "fingerprint", "figures", "never", "warnings").index(name)] = value
    row[-1] = checksum(study, *row[:9], seal)
    base.execute("REPLACE INTO cases VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", row)
    base.commit()
    base.close()


NESTED = "[" * 100_000 + "]" * 100_000
FORGED = {
    "deep": {"figures": NESTED},
    "a list": {"figures": "[1, 2]"},
    "a text for a number": {"figures": '{"fundamental_hz": "<b>"}'},
    "a name that steers": {"figures": '{"\\u001b[2J": 1.0}'},
    "a long name": {"figures": '{"' + "x" * 500 + '": 1.0}'},
    "an input that steers": {"inputs": '{"tread": "\\u001b[2J", "thickness": "25 um", "behaviour": "well"}'},
    "a number without end": {"figures": '{"fundamental_hz": 1' + "0" * 350 + "}"},
    "a figure that is no number": {"figures": '{"fundamental_hz": NaN}'},
    "a figure without end": {"figures": '{"fundamental_hz": 1e999}'},
    "a figure that is true": {"figures": '{"fundamental_hz": true}'},
    "an input too few": {"inputs": '{"tread": "1 mm"}'},
    "a list as input": {"inputs": '{"tread": [1], "thickness": "25 um", "behaviour": "well"}'},
}


@pytest.mark.parametrize("name", FORGED)
def test_a_forged_case_is_damaged_where_no_case_looks_so(name, store, capsys):
    forge(store, **FORGED[name])
    assert "case 7: is damaged" in refused(capsys, "morning", "study.toml", "--store", store, "--no-pictures")


KINDS = {
    "a blob as status": {"status": b"\x00\xff"},
    "a number as fingerprint": {"fingerprint": 1},
    "no list of warnings": {"warnings": "null"},
    "warnings of no text": {"warnings": '["thin", [1]]'},
    "broken warnings": {"warnings": "["},
    "inputs of another name": {"inputs": '{"depth": "1 mm", "thickness": "25 um", "behaviour": "well"}'},
}


@pytest.mark.parametrize("name", KINDS)
def test_values_of_another_kind_are_damage_in_an_export(name, store, capsys):
    forge(store, **KINDS[name])
    assert "case 7: is damaged" in refused(capsys, "export", "study.toml", "out.csv", "--store", store)


@pytest.mark.parametrize("ending", ["nc", "csv", "parquet"])
@pytest.mark.parametrize("name", ["", "..", "case", "tread"])
def test_a_figure_named_like_another_column_is_told_in_an_export(name, ending, store, capsys):
    """It took the place of what varies without a word, or ended the program."""
    forge(store, figures=json.dumps({name: 1.0}))
    told = f"'{name}' cannot name a column of an export, for it is no name or another column's; if something"
    assert told in refused(capsys, "export", "study.toml", f"out.{ending}", "--store", store)
    assert not os.path.exists(f"out.{ending}")


def test_a_slash_in_a_name_is_none_in_an_export(tmp_path):
    """Of a zone or of what varies; the format takes it for a group and ended the program."""
    path, store = write_study(tmp_path, treads=3, thicknesses=5), tmp_path / "cases.sqlite"
    path.write_text(path.read_text().replace("[vary.thickness]", '[vary."a/b"]'))
    with open_store(study := read_study(path), store) as book:
        fill(book, study)
    forge(store, figures='{"share:a/b": 1.0}')
    import xarray  # half a second, in each process that collects the tests

    with xarray.open_dataset(export_study(study, "out.nc", store=store), engine="h5netcdf") as data:
        assert data["share__a_b"].sel(case=7) == 1.0 and data["a_b"].sizes == {"case": 10}


def test_curves_that_are_a_text_are_damage_when_a_study_goes_on(store, study):
    forge(store, packed="text")
    with open_store(study, store) as book, pytest.raises(StudyError, match="case 7: is damaged"):
        book.check()


def test_what_a_store_says_of_itself_and_its_runs_is_of_the_right_kind(store, study, capsys):
    change(store, "INSERT INTO runs (begun, seen) VALUES (1.0, 'yesterday')")
    assert "with a value of another kind in its table 'runs'" in refused(
        capsys, "status", "study.toml", "--store", store
    )
    change(store, "DELETE FROM runs WHERE begun = 1.0", "UPDATE about SET value = x'00' WHERE key = 'name'")
    assert "of another kind in its table 'about'" in refused(capsys, "status", "study.toml", "--store", store)
    change(store, "UPDATE about SET value = '' WHERE key = 'name'", "DELETE FROM about WHERE key = 'version'")
    assert "it does not say what made it" in refused(capsys, "status", "study.toml", "--store", store)


BOMB = b'[["area_m2",[4000001],"real"]]'
PACKED = {
    "a bomb": (30).to_bytes(4, "little") + BOMB + zlib.compress(bytes(16_000_004), 1),
    "more than its head says": (16).to_bytes(4, "little") + b'[["x",[1],"re"]]' + zlib.compress(bytes(50_000_000), 1),
    "less": (17).to_bytes(4, "little") + b'[["x",[99],"re"]]' + zlib.compress(b"1234"),
    "lengths below zero": (17).to_bytes(4, "little") + b'[["x",[-1],"re"]]' + zlib.compress(b"1234"),
    "deep": (200_000).to_bytes(4, "little") + NESTED.encode(),
    "nothing": b"",
    "no curves": b"\x00\x00\x00\x00",
}


@pytest.mark.parametrize("name", PACKED)
def test_forged_curves_take_no_more_room_than_curves(name, store, study):
    forge(store, packed=PACKED[name])
    with read_store(store) as reading:
        reading.check()
        tracemalloc.start()
        if name == "more than its head says":  # what its head says is read, and no more
            assert set(reading.curves(7)) == {"x"}
        else:
            with pytest.raises(StudyError, match="case 7: is damaged"):
                reading.curves(7)
        assert tracemalloc.get_traced_memory()[1] < 30e6
        tracemalloc.stop()


def test_a_value_larger_than_any_of_a_store_is_damage(store, study, capsys):
    change(store, f"UPDATE cases SET reason = zeroblob({65 * 2**20}) WHERE number = 7")
    assert "is damaged (string or blob too big)" in refused(capsys, "status", "study.toml", "--store", store)


def test_what_a_store_says_of_itself_steers_no_terminal(store, capsys):
    change(store, "UPDATE about SET value = '\x1b[2J' || hex(zeroblob(10000)) WHERE key = 'format'")
    errors = refused(capsys, "status", "study.toml", "--store", store)
    assert "is in store format \\x1b[2J000" in errors and len(errors) < 500
    forge(store, status="failed", reason="\x1b[2J\x1b[31mred")
    change(store, "UPDATE about SET value = '4' WHERE key = 'format'")
    assert run(["status", "study.toml", "--store", str(store)]) == 0
    out, _ = capsys.readouterr()
    assert "\x1b" not in out and "\\x1b[2J\\x1b[31mred" in out


@posix
def test_a_store_is_a_file(study, tmp_path, capsys):
    os.mkfifo(tmp_path / "pipe.sqlite")
    for place in (tmp_path / "pipe.sqlite", "/dev/null"):
        assert "is a pipe, a device or the like" in refused(capsys, "sweep", "study.toml", "--store", place)
        assert "there is no store of results" in refused(capsys, "status", "study.toml", "--store", place)
    assert not (tmp_path / "pipe.sqlite.lock").exists()


@posix
@pytest.mark.parametrize("make", ["symlink", "hard link", "pipe"])
def test_a_link_beside_a_store_writes_over_nothing(make, store, study, tmp_path):
    lock, diary = store.with_name("cases.sqlite.lock"), tmp_path / "diary.txt"
    diary.write_text("dear diary")
    lock.unlink()
    {"symlink": lock.symlink_to, "hard link": lock.hardlink_to, "pipe": lambda _: os.mkfifo(lock)}[make](diary)
    with pytest.raises(StudyError, match=r"cases\.sqlite\.lock: must be a file of its own, .*remove it"):
        open_store(study, store)
    assert diary.read_text() == "dear diary"
    with pytest.raises(StudyError, match=r"cases\.sqlite\.lock: must be a file of its own"):
        study_status(study, store=store)


@posix
@pytest.mark.parametrize("ending", ["-wal", "-shm", "-journal"])
@pytest.mark.parametrize("make", ["hard link", "pipe"])
def test_sqlite_writes_over_nothing_beside_a_store(make, ending, store, study, tmp_path):
    """A log by a second name was written over with the first row, an index with the first reading."""
    log, diary = store.with_name(store.name + ending), tmp_path / "diary.txt"
    diary.write_text("dear diary")
    {"hard link": log.hardlink_to, "pipe": lambda _: os.mkfifo(log)}[make](diary)
    for way in (lambda: open_store(study, store), lambda: read_store(store)):
        with pytest.raises(StudyError, match=rf"cases\.sqlite{ending}: must be a file of its own, .*remove it"):
            way()
    assert diary.read_text() == "dear diary"


def test_a_forged_journal_deletes_no_file(store, study, tmp_path):
    """A journal may name a second one, which SQLite takes away when it has played back: whatever file that is."""
    diary = tmp_path / "diary.txt"
    diary.write_text("dear diary")
    page, magic, name = 16384, bytes.fromhex("d9d505f920a163d7"), os.fsencode(diary)
    head = (magic + struct.pack(">5I", 0, 0, store.stat().st_size // page, 512, page)).ljust(512, b"\0")
    tail = struct.pack(">I", 2**30 // page + 1) + name + struct.pack(">2I", len(name), sum(name)) + magic
    journal = store.with_name("cases.sqlite-journal")
    journal.write_bytes(head + tail)
    with pytest.raises(StudyError, match=r"cases\.sqlite-journal: must be a file of its own, .*names another"):
        open_store(study, store)
    assert diary.exists()
    journal.write_bytes(head + bytes(4))  # of a command that was killed while it made its store: nothing to play back
    with open_store(study, store) as book:
        assert len(list(book.numbers())) == 15


def test_a_store_locked_by_another_program_is_told_soon(store, study, monkeypatch):
    """It took half a minute; once open, a store is waited for so long."""
    assert PATIENCE <= 5
    with open_store(study, store) as book:
        assert book._base.execute("PRAGMA busy_timeout").fetchone() == (30000,)
    monkeypatch.setattr("diaphragm_fem.study.run.store_tables.PATIENCE", 0.1)
    connect, waits = sqlite3.connect, []
    other = connect(store)
    monkeypatch.setattr(sqlite3, "connect", lambda *a, **more: waits.append(more.get("timeout")) or connect(*a, **more))
    other.execute("PRAGMA locking_mode = EXCLUSIVE")
    other.execute("BEGIN EXCLUSIVE")
    for way in (lambda: open_store(study, store), lambda: read_store(store)):
        with pytest.raises(StudyError, match=r"\(database is locked\); close the program that has it open"):
            way()
    other.close()
    assert [wait for wait in waits if wait is not None] == [0.1, 0.1]


@posix
@pytest.mark.parametrize("name", [":memory:", "file:cases?mode=memory", "a#b?c%41.sqlite"])
def test_a_store_is_kept_in_a_file_of_just_that_name(name, study):
    """A night's work was kept in memory alone."""
    with open_store(study, name) as book:
        fill(book, study)
    with read_store(name, study) as reading:
        assert sum(reading.counts().values()) == 15


@pytest.mark.parametrize("text", ["x", "dear diary " * 100])
def test_a_file_of_another_kind_is_left_as_it_is(text, study, tmp_path, capsys):
    """One of less than a page was written over."""
    diary = tmp_path / "diary.txt"
    diary.write_text(text)
    with pytest.raises(StudyError, match=r"diary\.txt: is a file of another kind, which is left as it is"):
        open_store(study, diary)
    assert diary.read_text() == text and not (tmp_path / "diary.txt.lock").exists()


def test_a_store_without_room_is_told_to_make_room(study, tmp_path, monkeypatch):
    def full(base, *_):
        base.execute("PRAGMA max_page_count = 1")
        base.execute("CREATE TABLE about (x)")

    def says(words):
        def end(*_):
            raise sqlite3.OperationalError(words)

        return end

    others = ("disk I/O error", "unable to open database file")  # of the index of its log, of its log
    for claim, words in ((full, "database or disk is full"), *((says(words), words) for words in others)):
        monkeypatch.setattr("diaphragm_fem.study.run.store._claim", claim)
        with pytest.raises(StudyError, match=rf"\({words}\); make room there for it and for files beside it"):
            open_store(study, tmp_path / "full.sqlite")


@posix
def test_a_store_has_one_writer_by_whatever_name(store, study, tmp_path):
    (tmp_path / "other.sqlite").symlink_to(store)
    with open_store(study, store), pytest.raises(StudyError, match=r"other\.sqlite: is being written by process"):
        open_store(study, tmp_path / "other.sqlite")


def test_who_writes_is_told_in_few_letters_that_steer_nothing(store, study, monkeypatch):
    with open_store(study, store):
        store.with_name("cases.sqlite.lock").write_text("\x1b[2J" + "x" * 100_000)
        with pytest.raises(StudyError, match=r"is being written by \\x1b\[2Jx+\. Wait") as error:
            open_store(study, store)
    assert len(str(error.value)) < 600


@pytest.mark.skipif(os.name == "nt", reason="limits of Unix")
def test_a_full_disk_takes_no_name_of_who_writes_and_does_not_end_the_command(tmp_path):
    """EFBIG of a limit stands for ENOSPC of a disk: the name was lost in a message about what is printed."""
    import resource

    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, before[1]))
    try:
        held = locked(tmp_path / "cases.sqlite")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert in_use(tmp_path / "cases.sqlite") == "another process"
    held.close()
    assert in_use(tmp_path / "cases.sqlite") == ""


@posix
@pytest.mark.parametrize("code", [errno.ENOLCK, errno.ESTALE, errno.EIO])
def test_where_a_file_system_has_no_locks_nobody_is_said_to_write(code, tmp_path, store, study, monkeypatch):
    """ "is being written by another process. Wait for that run", of which there was none."""

    def refuse(*_):
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr("fcntl.flock", refuse)
    with pytest.raises(StudyError, match=r"cases.sqlite: no lock against a second writer can be had there \("):
        open_store(study, store)
    assert in_use(store) == ""


def test_an_error_of_the_file_system_is_told_in_its_words_and_never_as_none(
    store, study, tmp_path, monkeypatch, capsys
):
    """Libraries below raise some with words and no number: `export` and a place of a store told "None"."""

    def refuse(*_, **__):
        raise OSError("the quota is used up")

    monkeypatch.setattr("pandas.DataFrame.to_csv", refuse)
    with pytest.raises(StudyError, match=r"out.csv: cannot be written: the quota is used up$"):
        export_study(study, tmp_path / "out.csv", store=store)
    assert "out.csv: cannot be written: the quota" in refused(
        capsys, "export", "study.toml", "out.csv", "--store", store
    )
    with monkeypatch.context() as patch:
        patch.setattr("pathlib.Path.is_dir", refuse)
        with pytest.raises(StudyError, match=r"no store can be there \(the quota is used up\)"):
            is_folder(store)
