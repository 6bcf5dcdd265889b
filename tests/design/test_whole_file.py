"""Files are there whole or not at all, and nothing but a file is written over."""

import errno
import os
from functools import partial
from pathlib import Path

import pytest
from design_cases import CONE

from diaphragm_fem.cli import run
from diaphragm_fem.design.files.whole_file import whole_file
from diaphragm_fem.report.blocks.blocks import Table, write_csv
from diaphragm_fem.report.blocks.pages import write_markdown
from diaphragm_fem.report.files.json_text import write_json

posix = pytest.mark.skipif(os.name == "nt", reason="pipes and links of Unix")
MAKERS = [
    partial(write_markdown, title="a page", blocks=[]),
    partial(write_csv, table=Table(["a"], [[1]])),
    partial(write_json, data={"a": 1}),
]


@pytest.mark.parametrize("error", [KeyboardInterrupt(), OSError(errno.ENOSPC, "No space left on device")])
def test_what_was_there_stays_where_the_new_one_does_not_come_to_its_end(tmp_path, error):
    path = tmp_path / "table.csv"
    path.write_text("of yesterday")
    with pytest.raises(type(error)), whole_file(path) as draft:
        draft.write_text("of tod")
        raise error
    assert path.read_text() == "of yesterday" and list(tmp_path.iterdir()) == [path]


def test_an_error_names_the_file_and_not_what_stands_for_it_meanwhile(tmp_path):
    with pytest.raises(FileNotFoundError) as found, whole_file(tmp_path / "nowhere" / "page.md") as draft:
        draft.write_text("words")
    assert found.value.filename == str(tmp_path / "nowhere" / "page.md")


def test_so_does_that_of_a_disk_that_may_not_be_written(tmp_path, monkeypatch):
    """Such a disk refuses to take away what is not there, and that error named the draft."""

    def refuse(path, *_, **__):
        raise OSError(errno.EROFS, "Read-only file system", str(path))

    monkeypatch.setattr(Path, "unlink", refuse)
    with pytest.raises(OSError, match="Read-only") as found, whole_file(tmp_path / "page.md") as draft:
        refuse(draft)
    assert found.value.filename == str(tmp_path / "page.md")


@pytest.mark.parametrize("make", MAKERS)
def test_a_file_that_may_not_be_written_is_not_replaced(make, tmp_path, monkeypatch):
    """Whoever took that right away wants it kept, though the folder lets it be replaced; root may write anything."""
    (tmp_path / "kept").write_text("of yesterday")
    monkeypatch.setattr(os, "access", lambda path, how: path != tmp_path / "kept")
    with pytest.raises(PermissionError, match="kept"):
        make(tmp_path / "kept")
    assert (tmp_path / "kept").read_text() == "of yesterday"


@posix
@pytest.mark.parametrize("make", MAKERS)
def test_what_a_link_in_a_folder_of_results_leads_to_is_left_alone(make, tmp_path):
    """A folder of results comes with a study from anybody (common practice, no source)."""
    own = tmp_path / "of my own"
    own.write_text("mine")
    (tmp_path / "link").symlink_to(own)
    with pytest.raises(FileExistsError, match=r"is there already, and is a folder, a link, a pipe or the like"):
        make(tmp_path / "link")
    assert own.read_text() == "mine" and (tmp_path / "link").is_symlink()


@posix
@pytest.mark.parametrize("asked", [("schema", "--out", "pipe.dxf"), ("draw", "cone.toml", "--out", "pipe.dxf")])
def test_on_the_reader_of_a_pipe_nobody_waits(asked, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    Path("cone.toml").write_text(CONE)
    os.mkfifo("pipe.dxf")
    assert run(list(asked)) == 2
    assert capsys.readouterr().err.startswith("error: pipe.dxf: cannot be written: is there already, and is")
    assert sorted(os.listdir()) == ["cone.toml", "pipe.dxf"]
