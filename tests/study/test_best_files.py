"""The folder of best designs holds those of the last ranking, and whatever a user keeps there."""

import hashlib
import json

import pytest
from study_standin import solve_here, write_study

from diaphragm_fem.study.morning import morning
from diaphragm_fem.study.morning.best_files import RECORD, write_best_designs
from diaphragm_fem.study.plan.study_file import read_study


@pytest.fixture
def rank(tmp_path, monkeypatch):
    """Ranks a study and writes its best; returns the names of the files written."""
    monkeypatch.chdir(tmp_path)
    study = read_study(write_study(tmp_path, treads=2, thicknesses=10, more="[morning]\nbest = 3\n"))
    solve_here(study)

    def rank_once(aim):
        found = morning(study, rank_by="fundamental_hz", aim=aim)
        return {path.name for path in write_best_designs(found, tmp_path / "best")}

    return rank_once


def test_files_of_the_former_ranking_go(rank, tmp_path):
    first = rank("high")
    second = rank("low")
    assert len(first) == len(second) == 4 and first & second == {"tolerance_of_study.toml"}
    assert {path.name for path in (tmp_path / "best").iterdir()} == second | {RECORD}


def test_what_a_user_keeps_or_has_changed_stays(rank, tmp_path):
    best = tmp_path / "best"
    first = sorted(rank("high"))
    own = best / "01_case_000999.toml"
    own.write_text("mine")
    changed = best / first[0]
    changed.write_text(changed.read_text() + "# tried on Monday\n")
    second = rank("low")
    assert own.read_text() == "mine" and changed.read_text().endswith("# tried on Monday\n")
    assert {path.name for path in best.iterdir()} == second | {RECORD, own.name, changed.name}


@pytest.mark.parametrize("name", ["../outside.toml", "mine.toml"])
def test_a_record_by_whatever_hand_takes_no_other_file_away(name, rank, tmp_path):
    first = rank("high")
    theirs = tmp_path / "best" / name
    theirs.write_text("")
    (tmp_path / "best" / RECORD).write_text(json.dumps({name: hashlib.sha256(b"").hexdigest()}))
    second = rank("low")
    assert theirs.exists()
    assert {path.name for path in (tmp_path / "best").iterdir()} - {theirs.name} == first | second | {RECORD}


@pytest.mark.parametrize("record", ["{", "[1]"])
def test_a_record_that_is_none_removes_nothing(record, rank, tmp_path):
    first = rank("high")
    (tmp_path / "best" / RECORD).write_text(record)
    second = rank("low")
    assert {path.name for path in (tmp_path / "best").iterdir()} == first | second | {RECORD}
