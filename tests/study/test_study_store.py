"""The store: small, whole after any cut, refusing what must not be mixed."""

import contextlib
import os
import pickle
import shutil
import sqlite3
from concurrent.futures import Future
from dataclasses import replace
from pathlib import Path
from shlex import split

import numpy as np
import pytest
from study_standin import BASE, STANDIN, contents_digest, evaluate, write_study

from diaphragm_fem.design.files.named_files import file_digests
from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study import Recipe
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.case_row import run_case
from diaphragm_fem.study.run.curve_packing import pack_curves, unpack_curves
from diaphragm_fem.study.run.engine import run_study
from diaphragm_fem.study.run.store import open_store
from diaphragm_fem.study.run.store_reading import read_store

pytestmark = pytest.mark.usefixtures("own_folder")


EVALUATOR_OF_CASES = "diaphragm_fem.study.run.case_answer:evaluate_case"


@pytest.fixture
def study(tmp_path):
    return read_study(write_study(tmp_path, treads=2, thicknesses=30))


@pytest.fixture
def rows(study):
    sampler = Sampler(study)
    return [run_case(study.recipe, k, sampler.values(k), STANDIN) for k in range(len(sampler))]


def resonant_curves(points=400):
    frequency = np.geomspace(20, 20e3, points)
    rng = np.random.default_rng(3)
    area = sum(
        a / (1 - (frequency / f) ** 2 + 0.02j)
        for a, f in zip(rng.normal(size=12), np.geomspace(200, 18e3, 12), strict=True)
    )
    return {"frequency_hz": frequency, "area_m2": 1e-3 * area}


def test_curves_come_back_within_their_rounding():
    curves = resonant_curves()
    back = unpack_curves(pack_curves(curves))
    assert back["frequency_hz"] == pytest.approx(curves["frequency_hz"], rel=2**-17)  # 17 significant bits kept
    assert back["area_m2"].real == pytest.approx(curves["area_m2"].real, rel=2**-17)
    assert back["area_m2"].imag == pytest.approx(curves["area_m2"].imag, rel=2**-17)


def test_odd_numbers_and_shapes_come_back():
    odd = {"x": np.array([[np.nan, np.inf, -np.inf], [0.0, -2.0, 1e-30]]), "none": np.empty(0), "whole": np.arange(3)}
    back = unpack_curves(pack_curves(odd))
    assert np.array_equal(back["x"][0], odd["x"][0], equal_nan=True) and back["x"].shape == (2, 3)
    assert back["x"][1] == pytest.approx(odd["x"][1], rel=2**-17)
    assert back["none"].shape == (0,) and list(back["whole"]) == [0, 1, 2]


def test_a_case_with_a_curve_of_400_points_takes_less_than_8_kilobytes(study, rows, tmp_path):
    done = [replace(row, curves=pack_curves(resonant_curves())) for row in rows if row.status == "done"]
    with open_store(study, tmp_path / "full.sqlite") as store:
        store.add(done)
        store.add([replace(row, number=row.number + 1000) for row in done])
    assert (tmp_path / "full.sqlite").stat().st_size / (2 * len(done)) < 8192


def test_what_is_read_is_what_was_stored(study, rows):
    with open_store(study) as store:
        store.add(rows)
        assert store.counts() == {"done": 30, "discarded": 30}
        assert sorted(store.numbers()) == list(range(60))
    with read_store(study.store_path) as store:
        last = list(store.rows())[-1]
        design = study.recipe.design_of(Sampler(study).values(59))
        told = evaluate(design, study.recipe)
        assert last["figures"] == pytest.approx(told.figures)
        assert last["inputs"] == {"tread": "2.0 mm", "thickness": "50.0 um", "behaviour": "well"}
        assert store.curves(59)["area_m2"] == pytest.approx(told.curves["area_m2"], rel=1e-5)
        assert store.curves(0) == {}  # discarded
        assert next(store.rows("discarded"))["reason"] == "the tread is wide enough"


def test_a_figure_that_does_not_exist_stays_missing(study):
    design = study.recipe.design_of(("0.8 mm", "20 um", "well"))
    row = run_case(study.recipe, 0, ("0.8 mm", "20 um", "well"), STANDIN)
    assert evaluate(design).figures["decoupling_hz"] is None
    assert '"decoupling_hz":null' in row.figures


@pytest.mark.parametrize("share", [0.0, 0.1, 0.35, 0.5, 0.77, 0.999])
def test_after_a_power_cut_whole_transactions_are_there_and_the_study_goes_on(study, rows, tmp_path, share):
    """The log cut short at any byte is what a power cut leaves: SQLite's checksums drop the torn end."""
    store = open_store(study)
    for begin in range(0, 60, 10):
        store.add(rows[begin : begin + 10])
    cut = tmp_path / "cut.sqlite"
    shutil.copy(study.store_path, cut)
    log = study.store_path.with_name(study.store_path.name + "-wal").read_bytes()
    cut.with_name(cut.name + "-wal").write_bytes(log[: int(share * len(log))])
    store.close()
    whole = contents_digest(study.store_path)
    with open_store(study, cut) as store:
        numbers = sorted(store.numbers())
        assert len(numbers) % 10 == 0 and numbers == list(range(len(numbers)))
        assert len(numbers) < 60
        store.add(row for row in rows if row.number not in numbers)
    assert contents_digest(cut) == whole


def test_a_full_disk_keeps_what_was_stored(study, rows):
    with open_store(study) as store:
        store.add(rows[30:35])
        (pages,) = store._base.execute("PRAGMA page_count").fetchone()
        store._base.execute(f"PRAGMA max_page_count = {pages + 1}")
        with pytest.raises(
            StudyError, match=r"cannot be written \(database or disk is full\). What was stored before is safe"
        ):
            store.add(rows[35:])
        assert sorted(store.numbers()) == list(range(30, 35))
        store._base.execute("PRAGMA max_page_count = 100000")
        store.add(rows)
        assert len(list(store.numbers())) == 60


@pytest.mark.skipif(os.name == "nt", reason="Windows lets nobody take an open file away")
@pytest.mark.parametrize("how", ["taken away", "moved, with another in its place"])
def test_a_store_that_is_gone_is_told_and_not_written_on(study, rows, how):
    """A night went by in a file that nobody could find any more, and was told as stored."""
    with open_store(study) as store:
        store.add(rows[:5])
        store.path.rename(store.path.with_name("moved"))
        if how != "taken away":
            shutil.copy(store.path.with_name("moved"), store.path)
        with pytest.raises(StudyError, match=r"cases.sqlite: was moved or taken away while it was written"):
            store.add(rows[5:10])


def test_one_writer_at_a_time(study):
    with open_store(study), pytest.raises(StudyError, match=r"is being written by process .* since"):
        open_store(study)
    open_store(study).close()


def test_a_store_of_another_study_or_version_or_format_is_refused(study, monkeypatch):
    open_store(study).close()
    with pytest.raises(
        StudyError, match=r"for a study with other contents \(plan.seed was 1, is 2\), and results of the two must not"
    ):
        open_store(replace(study, seed=study.seed + 1))
    with monkeypatch.context() as patch:
        patch.setattr("diaphragm_fem.study.run.store.__version__", "9.9")
        with pytest.raises(StudyError, match=r"was made by version 0.* \(this is 9.9\)"):
            open_store(study)
    monkeypatch.setattr("diaphragm_fem.study.run.store.FORMAT", "99")
    with pytest.raises(StudyError, match=r"was made in store format 4 \(this is 99\)"):
        open_store(study)


def test_what_is_no_store_is_refused(study, tmp_path):
    with pytest.raises(StudyError, match="there is no store of results; run the study first"):
        read_store(study.store_path)
    blank = replace(study, path=Path("my parts") / "study.toml")
    with pytest.raises(StudyError) as refused:  # what is told to be typed names one file to a shell
        read_store(study.store_path, blank)
    assert split(str(refused.value).partition("run the study first: ")[2]) == [
        "diaphragm-fem",
        "sweep",
        str(blank.path),
    ]
    study.folder.mkdir(parents=True)
    study.store_path.write_text("not a database, but long enough to look like one" * 10)
    with pytest.raises(StudyError, match="is a file of another kind, which is left as it is"):
        open_store(study)
    with pytest.raises(StudyError, match="cannot be read as a store of results"):
        read_store(study.store_path)
    sqlite3.connect(tmp_path / "other.sqlite").execute("CREATE TABLE t (x)")
    with pytest.raises(StudyError, match="cannot be read as a store of results"):
        read_store(tmp_path / "other.sqlite")
    with pytest.raises(StudyError, match="cannot be made there"):
        open_store(study, tmp_path / "study.toml" / "x.sqlite")


def test_failures_can_be_tried_again(study, rows):
    failed = [replace(rows[40], status="failed", reason="x"), replace(rows[41], status="stopped", reason="y")]
    with open_store(study) as store:
        store.add([*failed, rows[42]])
        assert store.counts() == {"failed": 1, "stopped": 1, rows[42].status: 1}
        assert store.forget_failures() == 2
        assert list(store.numbers()) == [42]


def test_fingerprints_follow_the_inputs_and_the_version(study, monkeypatch):
    recipe = study.recipe
    one, same, other = (recipe.fingerprint(recipe.design_of((t, "20 um", "well"))) for t in ("1 mm", "1 mm", "2 mm"))
    assert one == same != other and len(one) == 16
    assert replace(recipe, settings={"points": 3}).fingerprint(recipe.design_of(("1 mm", "20 um", "well"))) != one
    monkeypatch.setattr("diaphragm_fem.study.plan.study.__version__", "9.9")
    assert recipe.fingerprint(recipe.design_of(("1 mm", "20 um", "well"))) != one


DRAWN = """
name = "a plate"

[profile]
kind = "free"
file = "plate.csv"

[coil]
kind = "ring"
diameter = "8 mm"
mass = "0.1 g"

[edges]
outer = "clamped"
"""
POINTS = "r [mm], z [mm], thickness [um], material\n0, 0, 50, PEN film\n10, 0, 50, PEN film\n"
OF_FILES = """
[study]
base = "drawn.toml"

[vary.shape]
key = 'profile["file"]'
list = ["plate.csv", "other.csv"]
"""


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("count = 5", "count = 6", "vary.tread.count was 5, is 6"),
        (
            'range = ["0.5 mm"',
            'range = ["0.7 mm"',
            "vary.tread.range was ['0.5 mm', '2.0 mm'], is ['0.7 mm', '2.0 mm']",
        ),
        (
            "[want]",
            "[want]\neven = 4\nfigures = ['departure_hz']",
            "want.figures = ['departure_hz'] is new; want.even was 6.0, is 4.0",
        ),
        (
            "[keep]",
            "[change]\n'plate.own' = '1 mm'\n[vary.own]\nkey = 'plate.own'\nratio = 0.5\nof = 'tread'\n[keep]",
            "vary.own.ratio = 0.5 is new",
        ),
        ("[want]", "[want]\nup_to = '1 kHz'", "want.up_to was '20000.0 Hz', is '1000.0 Hz'"),
        ("[keep]", "[change]\n'plate.note' = 'x'\n[keep]", "plate.note = 'x' is new"),
        ("> '0.6 mm'", "> '0.8 mm'", "enough\" was 'tread > '0.6 mm'', is 'tread > '0.8 mm''; undo"),
        (
            "the tread",
            "a tread",
            "keep.\"a tread is wide enough\" = 'tread > '0.6 mm'' is new; keep.\"the tread is wide",
        ),
        ("[keep]", "[change]\n" + "a.b{}=1\n" * 6 + "[keep]", "a.b3 = 1 is new; and 2 more; undo the change"),
        (
            "[want]",
            "[plan]\nhow = 'sobol'\ncases = 8\n[want]",
            "has now (or its base design, or a file which that names): plan.how was 'grid', is 'sobol'; undo",
        ),
    ],
)
def test_what_changed_in_a_study_is_told_key_by_key(tmp_path, old, new, told):
    file = write_study(tmp_path)
    text = file.read_text()
    before = read_study(file)
    open_store(before).close()
    assert text.count(old) == 1
    file.write_text(text.replace(old, new.format(*range(6))))
    with pytest.raises(StudyError) as refused:
        read_store(before.store_path, read_study(file))
    assert told in str(refused.value)


def test_a_store_that_tells_nothing_of_its_study_is_refused_all_the_same(tmp_path, study):
    """One of an earlier version, and one that somebody has written in."""
    open_store(study).close()
    for value in ("[1", "[]", None):
        with sqlite3.connect(study.store_path) as base:
            base.execute("UPDATE about SET value = ? WHERE key = 'contents'", (value or "",))
            if value is None:
                base.execute("DELETE FROM about WHERE key = 'contents'")
        base.close()
        with pytest.raises(StudyError, match=r"a file which that names\); undo the change"):
            read_store(study.store_path, replace(study, seed=2))


def test_rows_of_another_drawing_are_never_mixed(tmp_path):
    """A meridian that the base names, one that a value names, a material file: each changed, each noticed, and not
    where its letters are the same again."""
    (tmp_path / "drawn.toml").write_text('materials_file = "films.toml"\n' + DRAWN)
    (tmp_path / "files.toml").write_text(OF_FILES)
    for name, text in (("plate.csv", POINTS), ("other.csv", POINTS), ("films.toml", "")):
        (tmp_path / name).write_text(text)
    before = read_study(tmp_path / "files.toml")
    open_store(before).close()
    for name in ("plate.csv", "other.csv", "films.toml"):
        was = (tmp_path / name).read_text()
        (tmp_path / name).write_text(was + "# another\n")
        changed = read_study(tmp_path / "files.toml")
        values = ("plate.csv",)
        prints = [s.recipe.fingerprint(s.recipe.design_of(values)) for s in (before, changed)]
        assert prints[0] != prints[1]
        with pytest.raises(StudyError, match=r"made for a study with other contents.*or a file which that names"):
            open_store(changed)
        with pytest.raises(StudyError, match=rf'or a file which that names\): files."{name}" changed; undo the change'):
            read_store(before.store_path, changed)
        (tmp_path / name).write_text(was)
    open_store(read_study(tmp_path / "files.toml")).close()


def test_a_drawing_changed_while_its_study_runs_fails_its_cases(tmp_path):
    (tmp_path / "drawn.toml").write_text(DRAWN)
    (tmp_path / "files.toml").write_text(OF_FILES)
    for name in ("plate.csv", "other.csv"):
        (tmp_path / name).write_text(POINTS)
    study = read_study(tmp_path / "files.toml")
    recipe = study.recipe
    (tmp_path / "other.csv").write_text(POINTS.replace("50", "60"))
    kept, changed = (run_case(recipe, k, (name,), EVALUATOR_OF_CASES) for k, name in enumerate(recipe.files))
    assert (kept.status, kept.reason) == ("done", None)
    assert changed.status == "failed" and "was changed while the study ran" in str(changed.reason)
    with open_store(study) as store:  # what is put back is solved by another try, and `sweep` says so
        store.add([kept, changed])
    (tmp_path / "other.csv").write_text(POINTS)
    assert run_study(tmp_path / "files.toml", workers=1).lost == 1


def test_a_drawing_changed_as_it_is_read_fails_its_case(tmp_path, monkeypatch):
    """It was looked at before it was read alone: what came between stood in a row as if it were the study's."""
    (tmp_path / "drawn.toml").write_text(DRAWN)
    (tmp_path / "files.toml").write_text(OF_FILES)
    for name in ("plate.csv", "other.csv"):
        (tmp_path / name).write_text(POINTS)
    recipe, drawn = read_study(tmp_path / "files.toml").recipe, Recipe.drawn

    def changed(self, data):
        (tmp_path / "other.csv").write_text(POINTS.replace("50", "60"))
        return drawn(self, data)

    assert run_case(recipe, 1, ("other.csv",), EVALUATOR_OF_CASES).status == "done"
    monkeypatch.setattr(Recipe, "drawn", changed)
    row = run_case(recipe, 1, ("other.csv",), EVALUATOR_OF_CASES)
    assert row.status == "failed" and "was changed while the study ran" in str(row.reason)


class Elsewhere:
    """One worker of a scheduler, in a folder of its own."""

    def __init__(self, folder):
        self._folder = folder

    def size(self):
        return 1

    def last_span(self):
        return None

    def submit(self, job, cases, span=None):
        future, sent = Future(), pickle.loads(job)
        with contextlib.chdir(self._folder):
            future.set_result([run_case(sent.recipe, number, values, EVALUATOR_OF_CASES) for number, values in cases])
        return future

    def outcomes(self, ended):
        return {future: future.result() for future in ended}

    def check(self, wait=0.0): ...


def test_workers_in_other_folders_find_the_files_that_a_design_names(tmp_path, monkeypatch):
    """ "was changed while the study ran", of a drawing that nobody had touched."""
    (tmp_path / "drawn.toml").write_text(DRAWN)
    (tmp_path / "plate.csv").write_text(POINTS)
    (tmp_path / "other.csv").write_text(POINTS)
    (tmp_path / "study.toml").write_text(OF_FILES)
    (tmp_path / "elsewhere").mkdir()
    workers = "diaphragm_fem.study.run.engine.workers_of_scheduler"
    monkeypatch.setattr(workers, lambda *_: contextlib.nullcontext(Elsewhere(tmp_path / "elsewhere")))
    summary = run_study("study.toml", store="there.sqlite", scheduler="tcp://here:1")
    assert summary.after == {"done": 2}
    with monkeypatch.context() as patch:
        patch.setattr(Recipe, "from_anywhere", property(lambda recipe: recipe))
        summary = run_study("study.toml", store="lost.sqlite", scheduler="tcp://here:1")
    assert summary.after == {"failed": 2} and summary.lost == 2  # `sweep --retry` may solve them
    with read_store("lost.sqlite") as store:
        told = [reason for _, reason, _ in store.reasons()]
    words = "a file that its design names cannot be read where it is solved: '{}', looked for from "
    assert all(one.startswith(words.format(name)) for one, name in zip(told, ("other.csv", "plate.csv"), strict=True))


def test_the_files_of_a_second_section_count_too(tmp_path):
    (tmp_path / "low").mkdir()
    (tmp_path / "low" / "drawn.toml").write_text(DRAWN)
    base = {"second_section": {"file": "low/drawn.toml"}, "profile": {"file": "none.csv"}}
    first = file_digests([base], tmp_path)
    (tmp_path / "low" / "plate.csv").write_text(POINTS)
    second = file_digests([base], tmp_path)
    assert list(first) == ["none.csv", "low/drawn.toml", "low/drawn.toml, plate.csv"] and first["none.csv"] == ""
    assert [name for name in first if first[name] != second[name]] == ["low/drawn.toml, plate.csv"]


def test_the_base_design_of_the_stand_in_is_as_the_tests_think():
    assert 'thickness = "25 um"' in BASE
