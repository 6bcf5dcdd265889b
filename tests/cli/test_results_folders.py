"""Folders of results: one for each kind of result, names checked before the work, nothing written through a link."""

import json
import os
import shutil
import time
from pathlib import Path

import pytest

import diaphragm_fem.answer.comparison.comparison
import diaphragm_fem.answer.walls.grid
import diaphragm_fem.cli.app
import diaphragm_fem.verify.ladder  # noqa: F401  all of them before a test puts another function into one
from diaphragm_fem.cli import run
from diaphragm_fem.cli.outputs import KINDS, results_folder
from diaphragm_fem.design.files.whole_file import DRAFT, LIFE, draft_prefix
from diaphragm_fem.errors import StudyError
from diaphragm_fem.report.results.folder import RECORD, all_or_nothing, check_folder
from diaphragm_fem.study.plan.study_file import read_study

pytestmark = pytest.mark.usefixtures("among_designs", "blank_pictures")

QUICK = ["--orders", "0", "--up-to", "3 kHz", "--tolerance", "5 %"]
STUDY = '[study]\nbase = "metal_dome.toml"\n[vary.wall]\nkey = "wall.thickness"\nlist = ["25 um", "35 um"]\n'


def test_no_two_results_share_a_folder():
    stems = ["dome", "dome.walls", "dome.study", "dome.design", "dome.compared", "dome.study.design"]
    folders = [results_folder(kind, stem) for stem in stems for kind in ("", *KINDS[:3])]
    assert len(set(folders)) == len(folders)
    assert results_folder("", "dome") == Path("results/dome")
    Path("dome.toml").write_text(STUDY, encoding="utf-8")
    assert read_study("dome.toml").folder == results_folder("study", "dome")
    assert read_study("dome.toml", night=True).folder == results_folder("study", "dome_by_night")


def test_many_long_names_make_a_short_one_of_their_own():
    names = [f"a_name_that_goes_on_and_on_{k}" for k in range(13)]
    first, second = results_folder("compared", *names), results_folder("compared", *names[:-1], "another")
    assert first != second and len(first.name) < 120 and "_against_12_others_" in first.name


def test_results_of_one_stem_do_not_block_one_another(capsys, one_lever, no_doubts):
    """An examination refuses a folder with other contents: after a comparison of variants it has its own."""
    shutil.copy("metal_dome.toml", "dome.toml")
    assert run(["compare", "dome.toml", "--try", "wall.thickness=36 um", *QUICK, "--quiet"]) == 0
    walls = ["--materials", "titanium", "--thickness", "25 um, 40 um", "--up-to", "3 kHz", "--quiet"]
    assert run(["walls", "dome.toml", *walls]) == 0
    assert run(["examine", "dome.toml", *QUICK, "--no-second-opinion", "--quiet"]) == 0
    assert sorted(path.name for path in Path("results").iterdir()) == ["dome", "dome.compared", "dome.walls"]
    assert capsys.readouterr() == ("", "")  # quiet, all of them


LONG = "x" * 300


@pytest.mark.parametrize("arguments", [
    ["examine", "metal_dome.toml", "--out", LONG],
    ["compare", "metal_dome.toml", "soft_dome.toml", "--out", LONG],
    ["walls", "metal_dome.toml", "--materials", "titanium", "--thickness", "25 um", "--out", LONG],
    ["profile", "metal_dome.toml", "--out", f"{LONG}.png"],
    ["modes", "metal_dome.toml", "--out", f"{LONG}/a.png"],
    ["area", "metal_dome.toml", "--out", f"{LONG}.pdf"],
    ["verify", "--only", "spheres", "--out", LONG],
], ids=lambda words: words[0])  # fmt: skip
def test_impossible_names_are_refused_before_the_work(arguments, capsys, monkeypatch):
    for work in ("answer.evaluate.evaluate", "answer.comparison.comparison.compare", "answer.walls.grid.read_wall_grid",
                 "mesh.meridian.mesh_meridian", "verify.ladder.run_ladder"):  # fmt: skip
        monkeypatch.setattr(f"diaphragm_fem.{work}", lambda *_, **__: pytest.fail("worked"))
    assert run(arguments) == 2
    errors = capsys.readouterr().err
    assert "--out: no file can have the name" in errors and errors.count("\n") == 1 and len(errors) < 300


def test_links_keep_results_where_they_point_and_are_no_way_out(tmp_path, one_lever):
    """The folder is a link, as its owner wants it; the kept design in it is one to a file of somebody else."""
    secret, elsewhere = tmp_path / "secret", tmp_path / "elsewhere"
    secret.write_text("a user's own")
    elsewhere.mkdir()
    (elsewhere / "design.toml").symlink_to(secret)
    (elsewhere / "result.json").write_text(json.dumps({"files": ["design.toml", "result.json", "../../secret"]}))
    (tmp_path / "out").symlink_to(elsewhere)
    assert run(["examine", "metal_dome.toml", *QUICK, "--no-second-opinion", "--quiet", "--out", "out"]) == 0
    assert (tmp_path / "out").is_symlink() and secret.read_text() == "a user's own"
    assert not [path for path in tmp_path.iterdir() if "draft" in path.name]
    kept = elsewhere / "design.toml"
    assert not kept.is_symlink() and "[profile]" in kept.read_text(encoding="utf-8")
    assert "design.toml" in json.loads((elsewhere / "result.json").read_text(encoding="utf-8"))["files"]


def test_what_others_have_left_is_taken_away_where_none_of_them_can_work_on_it(tmp_path):
    """A number that no process has ended the program. Processes of another machine that shares the disk are not seen
    here: what they write was taken away under their hands."""
    ours = draft_prefix().rpartition(str(os.getpid()))[2]
    names = {"kept": "9" * 12 + ours, "dead": f"999999999{ours}", "theirs": "999999999-elsewhere-", "old": "1-another-"}
    place = {key: tmp_path / f"{DRAFT}{name}x" for key, name in names.items()}
    for folder in place.values():
        folder.mkdir()
    os.utime(place["old"], (time.time() - 1.1 * LIFE,) * 2)
    file = tmp_path / f"{DRAFT}999999999{ours}x.png"
    file.write_text("half a picture")
    with all_or_nothing(tmp_path / "out") as draft:
        (draft / "summary.md").write_text("mine")
    assert {key for key, folder in place.items() if folder.exists()} == {"kept", "theirs"}
    assert not file.exists() and (tmp_path / "out" / "summary.md").exists()


def test_the_record_of_a_folder_comes_when_all_that_it_lists_is_there(tmp_path, monkeypatch):
    """A command killed on the way leaves no record of files that never came."""
    moved, move = [], os.replace
    monkeypatch.setattr(os, "replace", lambda here, there: moved.append(Path(there).name) or move(here, there))
    with all_or_nothing(tmp_path / "out") as draft:
        for name in ("z.csv", RECORD, "a.csv"):
            (draft / name).write_text("", encoding="utf-8")
    assert len(moved) == 3 and moved[-1] == RECORD


def test_a_folder_in_the_way_of_a_file_is_named(tmp_path):
    folder = tmp_path / "out"
    (folder / "result.json").mkdir(parents=True)
    with pytest.raises(StudyError, match="holds other files"):
        check_folder(folder)
    (folder / "result.json").rmdir()
    (folder / "summary.md").mkdir()
    told = pytest.raises(StudyError, match=r"cannot be written: a folder has the name 'summary\.md'")
    with told, all_or_nothing(folder) as draft:
        for name in ("a.csv", "summary.md", "z.csv"):
            (draft / name).write_text("mine")
    assert [path.name for path in folder.iterdir()] == ["summary.md"]


def test_unusual_values_are_allowed_by_an_option_and_recorded(capsys, one_lever):
    arguments = ["examine", "metal_dome.toml", *QUICK, "--no-second-opinion", "--set", "coil.winding_mass=0.9 kg"]
    assert run(arguments) == 2
    assert "did you mean 0.9 g?" in capsys.readouterr().err
    assert run([*arguments, "--allow-unusual"]) == 0
    told = "unusual, and allowed in the design: coil.winding_mass = 0.9 kg"
    assert told in " ".join(capsys.readouterr().out.split())
    folder = Path("results/metal_dome")
    warnings = json.loads((folder / "result.json").read_text(encoding="utf-8"))["warnings"]
    assert any(told in warning for warning in warnings)
    assert run(["profile", str(folder / "design.toml"), "--out", "again.png"]) == 0


@pytest.mark.parametrize("verb", ["examine", "modes", "area", "profile", "compare", "walls"])
def test_the_kind_of_a_file_comes_first(verb, capsys):
    Path("study.toml").write_text(STUDY, encoding="utf-8")
    files = ["study.toml", "study.toml"] if verb == "compare" else ["study.toml"]
    more = {"walls": ["--materials", "nothing", "--thickness", "x"]}.get(verb, [])
    bad = ["--up-to", "nonsense", "--out", "study.toml"]
    assert run([verb, *files, *more, *bad]) == 2
    assert "study.toml: is a study file" in capsys.readouterr().err


def test_walls_of_an_unusual_thickness_are_asked_about(capsys):
    walls = ["walls", "metal_dome.toml", "--materials", "titanium", "--up-to", "3 kHz", "--quiet", "--thickness"]
    assert run([*walls, "30 um, 30 mm"]) == 2
    assert "--thickness: thickness = 30 mm; a wall is commonly 2 um to 4 mm thick; did you mean 30 um?" in (
        capsys.readouterr().err
    )
    assert run([*walls, "30 um to 40 um in 99999999"]) == 2
    assert "--thickness takes 2 to 10000 values" in capsys.readouterr().err
    for thickness in ("9 um to 20 um in 6000", ", ".join(["9 um"] * 6000)):
        assert run(["walls", "metal_dome.toml", "--materials", "PEN film, titanium", "--thickness", thickness]) == 2
        assert "ask for 12000 walls, and at most 10000 are solved" in capsys.readouterr().err
