"""Title blocks and pages say where they come from, and equal input gives equal bytes."""

import os
import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest
from places import STUDIES
from report_cases import sheet, undriven_disc
from study_standin import write_study

from diaphragm_fem import __version__
from diaphragm_fem.design.read.read import read_design_file
from diaphragm_fem.errors import StudyError
from diaphragm_fem.report.sheets.listing import OF_A_DESIGN
from diaphragm_fem.report.sheets.sheet import save_sheet
from diaphragm_fem.report.stamp import Stamp, date_of, stamp_of, stamp_of_study
from diaphragm_fem.study.plan.study_file import read_study

DAY = 1_764_547_200  # 2025-12-01 00:00:00 UTC by `date -u -d 2025-12-01 +%s`


@pytest.fixture
def design(tmp_path) -> Path:
    path = tmp_path / "disc.toml"
    path.write_text((STUDIES / "metal_dome.toml").read_text(encoding="utf-8"), encoding="utf-8")
    os.utime(path, (DAY, DAY))
    return path


def test_the_stamp_is_the_file_its_data_and_its_own_date(design, monkeypatch) -> None:
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    stamp = stamp_of(read_design_file(design))
    assert (stamp.file, stamp.date) == ("disc.toml", "2025-12-01")
    assert stamp.words == f"disc.toml  {stamp.fingerprint}"
    changed = stamp_of(read_design_file(design, {"wall.thickness": "31 um"}))
    assert changed.fingerprint != stamp.fingerprint and len(changed.fingerprint) == 8
    assert stamp_of(read_design_file(design)) == stamp
    several = stamp_of(read_design_file(design), read_design_file(STUDIES / "soft_dome.toml"))
    assert several.file == "disc.toml and 1 more"


def test_a_given_date_goes_first(design, monkeypatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(DAY + 86_400))
    assert stamp_of(read_design_file(design)).date == "2025-12-02"
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "")
    assert stamp_of(read_design_file(design)).date == "2025-12-01" and "SOURCE_DATE_EPOCH" not in os.environ
    for odd in ("yesterday", "-1", "1e9", str(10**20)):
        monkeypatch.setenv("SOURCE_DATE_EPOCH", odd)
        with pytest.raises(StudyError, match="SOURCE_DATE_EPOCH must be a whole number of seconds since 1970, rec"):
            stamp_of(read_design_file(design))


def test_a_file_of_no_year_of_a_calendar_has_no_date(monkeypatch) -> None:
    """As a clock far off leaves it where times have 64 bits: it was refused in the words of SOURCE_DATE_EPOCH."""
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    for seconds in (1e12, 1e18, -1e12):
        file = SimpleNamespace(exists=lambda: True, stat=lambda s=seconds: SimpleNamespace(st_mtime=s))
        assert date_of([file]) == ""


def test_the_fingerprint_goes_by_what_named_files_hold(tmp_path) -> None:
    table = (STUDIES / "metal_dome.toml").read_text(encoding="utf-8")
    (tmp_path / "dome.toml").write_text(f'materials_file = "own.toml"\n{table}', encoding="utf-8")
    own = tmp_path / "own.toml"
    prints = []
    for remark in ("first", "second"):
        own.write_text(f"# {remark}\n", encoding="utf-8")
        prints.append(stamp_of(read_design_file(tmp_path / "dome.toml")).fingerprint)
    assert prints[0] != prints[1]


def test_a_remark_that_no_file_could_be_named_by_is_none(tmp_path) -> None:
    table = (STUDIES / "metal_dome.toml").read_text(encoding="utf-8")
    remark = "ä" * 190 + "."  # 381 bytes, and a file's name has 255
    path = tmp_path / "dome.toml"
    path.write_text(re.sub("^about = .*$", f'about = "{remark}"', table, count=1, flags=re.MULTILINE), encoding="utf-8")
    assert stamp_of(read_design_file(path)).file == "dome.toml"


def test_a_design_named_like_a_huge_file_reads_none_of_it(tmp_path) -> None:
    table = (STUDIES / "metal_dome.toml").read_text(encoding="utf-8")
    (tmp_path / "dome.toml").write_text(f'about = "huge.bin"\n{table.replace("about =", "# ")}', encoding="utf-8")
    before = stamp_of(read_design_file(tmp_path / "dome.toml")).fingerprint
    with (tmp_path / "huge.bin").open("wb") as file:
        file.truncate(2 << 40)  # two terabytes of nothing, which no disk need hold
    assert stamp_of(read_design_file(tmp_path / "dome.toml")).fingerprint == before


def test_a_study_is_stamped_by_its_text_and_its_base_design(tmp_path, monkeypatch) -> None:
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    path = write_study(tmp_path, treads=2, thicknesses=2)
    path = tmp_path / path
    os.utime(path, (DAY, DAY))
    first = stamp_of_study(read_study(path))
    assert (first.file, first.date) == (path.name, "2025-12-01") and first == stamp_of_study(read_study(path))
    base = read_study(path).recipe
    other = replace(read_study(path), recipe=replace(base, base={**base.base, "name": "another"}))
    assert stamp_of_study(other).fingerprint != first.fingerprint


@pytest.mark.parametrize("kind", ["png", "pdf"])
def test_equal_input_gives_equal_bytes(tmp_path, kind) -> None:
    stamp = Stamp("disc.toml", "0123abcd", "2025-12-01")
    for name in ("a", "b"):
        save_sheet(sheet(OF_A_DESIGN, "modes_by_order", undriven_disc(), stamp), tmp_path / f"{name}.{kind}")
    assert (tmp_path / f"a.{kind}").read_bytes() == (tmp_path / f"b.{kind}").read_bytes()
    shown = [text.get_text() for text in sheet(OF_A_DESIGN, "modes_by_order", undriven_disc(), stamp).figure.texts]
    assert "disc.toml  0123abcd" in shown


def test_an_upright_sheet_says_file_fingerprint_and_date_uncut() -> None:
    """A name as long as those that are shipped cost the date its end while all three stood in one line."""
    stamp = Stamp("driver_stepped_v.toml", "0123abcd", "2025-12-01")
    shown = [text.get_text() for text in sheet(OF_A_DESIGN, "summary", undriven_disc(), stamp).figure.texts]
    assert f"{stamp.file}  {stamp.fingerprint}" in shown and f"{stamp.date}  diaphragm_fem {__version__}" in shown
