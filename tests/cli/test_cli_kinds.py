"""A file of the other kind is called by its kind, with the verb that takes it."""

import os
import shutil
import subprocess

import pytest

from diaphragm_fem.cli import run
from diaphragm_fem.errors import typed

pytestmark = pytest.mark.usefixtures("among_designs", "blank_pictures")

STUDY, DESIGN = "step_position_by_tread.toml", "metal_dome.toml"


@pytest.mark.parametrize(
    "arguments",
    [
        ["examine", STUDY],
        ["profile", STUDY],
        ["modes", STUDY],
        ["area", STUDY],
        ["compare", DESIGN, STUDY],
        ["compare", STUDY, "--try", "wall.thickness=50 um"],
        ["walls", STUDY, "--materials", "titanium", "--thickness", "25 um"],
    ],
)
def test_a_study_where_a_design_is_wanted(arguments, capsys):
    assert run(arguments) == 2
    out, errors = capsys.readouterr()
    assert out == "" and errors.count("\n") == 1
    assert f"{STUDY}: is a study file" in errors and f"`diaphragm-fem sweep {STUDY}`" in errors


def test_a_path_with_a_blank_is_told_as_it_has_to_be_typed(capsys):
    shutil.copy(STUDY, "my study.toml")
    assert run(["profile", "my study.toml"]) == 2
    assert '`diaphragm-fem sweep "my study.toml"`' in capsys.readouterr().err


@pytest.mark.skipif(os.name == "nt", reason="a shell of Unix")
@pytest.mark.parametrize(
    "name", ["a$(touch run).toml", "a`touch run`.toml", "a;touch run", "a' $(touch run) '", "a\nb"]
)
def test_a_shell_runs_nothing_of_a_path_that_is_told_to_be_typed(name, tmp_path):
    """Files have the names that whoever sent them gave (POSIX, Shell Command Language 2.2, from memory)."""
    (tmp_path / "empty").mkdir()
    told = ["sh", "-c", f"printf %s {typed(name)}"]
    found = subprocess.run(told, capture_output=True, text=True, cwd=tmp_path / "empty")
    assert found.stdout == name and not list((tmp_path / "empty").iterdir())


@pytest.mark.parametrize("arguments", [["sweep"], ["status"], ["morning"], ["export"]])
def test_a_design_where_a_study_is_wanted(arguments, tmp_path, capsys):
    assert run([*arguments, DESIGN, *(["out.csv"] if arguments == ["export"] else [])]) == 2
    out, errors = capsys.readouterr()
    assert out == "" and errors.count("\n") == 1
    assert f"{DESIGN}: is a design file" in errors and f"`diaphragm-fem examine {DESIGN}`" in errors
    assert not (tmp_path / "results").exists()


@pytest.mark.parametrize("verb", ["examine", "sweep"])
@pytest.mark.parametrize("text", [None, "[", "typo = 1\n"])
def test_files_of_no_kind_are_left_to_their_readers(verb, text, tmp_path, capsys):
    if text is not None:
        (tmp_path / "odd.toml").write_text(text)
    assert run([verb, "odd.toml"]) == 2
    errors = capsys.readouterr().err
    assert errors.startswith("error: odd.toml") and "is a study file" not in errors and "is a design file" not in errors
