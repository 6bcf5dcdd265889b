"""Where verbs write: a file in the way or a missing permission is one message before the work, not a traceback."""

import errno
import os
import sys
from pathlib import Path

import pytest
from study_standin import solve_here, write_study

from diaphragm_fem.cli import run, shared
from diaphragm_fem.study.plan.study_file import read_study

pytestmark = pytest.mark.usefixtures("among_designs", "blank_pictures")

RANKED = '[morning]\nwish = [{ figure = "fundamental_hz", aim = "low" }]\nbest = 3\n'


@pytest.fixture
def solved(tmp_path):
    """A study whose store is where its verbs look for it."""
    study = read_study(write_study(tmp_path, treads=2, thicknesses=5, more=RANKED))
    solve_here(study)
    return study


VERBS = {
    "morning": ["study.toml", "--no-pictures"],
    "compare": ["metal_dome.toml", "soft_dome.toml"],
    "walls": ["metal_dome.toml", "--materials", "titanium", "--thickness", "25 um"],
    "examine": ["metal_dome.toml"],
    "verify": ["--only", "spheres"],
}


@pytest.mark.parametrize("verb", VERBS)
@pytest.mark.parametrize("place", ["taken", "taken/inside"])
def test_a_file_in_the_way(verb, place, solved, tmp_path, capsys):
    (tmp_path / "taken").write_text("a user's own")
    assert run([verb, *VERBS[verb], "--out", place]) == 2
    out, errors = capsys.readouterr()
    assert out == "" and errors.count("\n") == 1
    assert f"--out must name a folder, received '{place}'" in errors and "is a file; give another name" in errors
    assert (tmp_path / "taken").read_text() == "a user's own"


@pytest.mark.skipif(os.name == "nt", reason="other permissions")
@pytest.mark.parametrize("verb", [*VERBS, "profile", "schema"])
def test_no_permission(verb, solved, tmp_path, bound):
    sealed = tmp_path / "sealed"
    sealed.mkdir()
    sealed.chmod(0o555)
    options = VERBS.get(verb, ["metal_dome.toml"] if verb == "profile" else [])
    out = {"profile": "sealed/new.png", "schema": "sealed/new.json"}.get(verb, "sealed/new")
    told = bound.begin(verb, *options, "--out", out).end()
    errors = told.stderr.decode()
    assert told.returncode == 2, errors
    assert told.stdout == b"" and errors.count("\n") == 1
    assert out in errors and "ermission" in errors and "give another" in errors


def test_export_makes_the_folder_as_other_verbs_do(solved, tmp_path, capsys):
    assert run(["export", "study.toml", "new/deep/cases.csv"]) == 0
    assert (tmp_path / "new" / "deep" / "cases.csv").stat().st_size > 0
    assert run(["export", "study.toml", "other/deep/cases.doc"]) == 2
    assert "its ending must say the format" in capsys.readouterr().err
    assert not (tmp_path / "other").exists()


class Unloadable:
    """As the loader of the system says it under a limit of memory."""

    def __init__(self, name):
        self.name = name

    def find_spec(self, name, *_):
        if name == self.name:
            raise ImportError(f"lib{name}.so: failed to map segment from shared object")


@pytest.mark.parametrize(("name", "file"), [("h5py", "cases.nc"), ("pyarrow.parquet", "cases.parquet")])
def test_an_export_short_of_memory_says_so(name, file, solved, monkeypatch, capsys):
    """The libraries that use these two said that they are not installed, and it was called the program's fault."""
    monkeypatch.delitem(sys.modules, name, raising=False)
    monkeypatch.setattr(sys, "meta_path", [Unloadable(name), *sys.meta_path])
    assert run(["export", "study.toml", file]) == 2
    assert capsys.readouterr().err.startswith("error: not enough memory: give the command more, or ")
    assert not Path(file).exists()


@pytest.mark.parametrize("error", [OSError(errno.ENOMEM, "Cannot allocate memory"), MemoryError("by hand")])
def test_want_of_memory_is_told_whatever_came_of_it(error, monkeypatch, capsys):
    """A fork that failed was told as "nothing can be printed", a file closed on its way out as the program's fault."""

    def short(*_):
        try:
            raise error
        finally:
            if isinstance(error, MemoryError):
                raise ValueError("I/O operation on closed file")

    monkeypatch.setattr(shared, "open_design", short)
    assert run(["profile", "metal_dome.toml"]) == 2
    assert capsys.readouterr().err.startswith("error: not enough memory: ")


def test_patterns_that_match_nothing_name_rungs_in_quotes(capsys):
    assert run(["verify", "--only", "nothing"]) == 2
    assert "'spheres', 'spherical caps'" in capsys.readouterr().err


def test_no_path_is_broken_in_a_narrow_terminal(solved, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("COLUMNS", "50")
    folder = "a_folder_of_a_long_name/" * 3 + "out"
    assert run(["morning", "study.toml", "--no-pictures", "--all", "--out", folder]) == 0
    out = capsys.readouterr().out
    best = sorted(path.name for path in (tmp_path / folder / "best").glob("[0-9]*.toml"))
    assert len(best) == 3
    for name in best:
        assert f"    file: best/{name}\n" in out
        assert f"Written: {folder}/best/{name}\n" in out
    assert run(["status", "study.toml", "--store", str(solved.store_path.absolute())]) == 0
    assert f"Stored in {solved.store_path.absolute()}, " in capsys.readouterr().out


def test_a_wide_terminal_has_the_files_in_the_table(solved, capsys):
    assert run(["morning", "study.toml", "--no-pictures", "--all", "--out", "out"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert any(line.startswith("1 ") and "best/01_case_" in line and line.endswith(".toml") for line in lines)


@pytest.mark.parametrize(("name", "words"), [("part.dxf", "Half section in mm"), ("part.step", "One solid in mm of ")])
def test_draw_hands_the_part_on(name, words, capfd):
    assert run(["draw", "metal_dome.toml", "--out", name]) == 0
    out, err = capfd.readouterr()
    assert words in out and f"Drawn in {name}" in out
    assert "springback and thinning in forming are not in it" in " ".join(out.split())
    assert err == "" and "Transfer" not in out
    assert Path(name).stat().st_size > 1000


def test_what_a_solid_measures_is_told_in_millimetres(capfd):
    """A disc of 0.2 mm on 20 mm: pi 20^2 0.2 = 251.327 mm3, half a section of 4 mm2."""
    points = 'r = ["0 mm", "20 mm"]\nz = ["0 mm", "0 mm"]\nthickness = ["200 um", "200 um"]\n'
    points += 'zone = ["disc", "disc"]\nmaterial = ["paper", "paper"]\n'
    head = 'name = "disc"\nedges = { outer = "clamped" }\ncoil = { kind = "ring", diameter = "20 mm", mass = "1 g" }\n'
    Path("disc.toml").write_text(f'{head}[profile]\nkind = "free"\n{points}', encoding="utf-8")
    assert run(["draw", "disc.toml", "--out", "disc.step"]) == 0
    assert "One solid in mm of 251.327 mm³, its half section 4 mm²" in " ".join(capfd.readouterr().out.split())


def test_measured_curves_are_put_beside(capsys, one_lever):
    Path("m.csv").write_text("frequency [Hz], area [cm2]\n" + "".join(f"{f}, 5.8\n" for f in range(200, 4000, 200)))
    assert run(["examine", "metal_dome.toml", "--measured", "m.csv", "--uff", "--orders", "0", "--up-to", "5 kHz",
                "--no-second-opinion", "--out", "found"]) == 0  # fmt: skip
    out = " ".join(capsys.readouterr().out.split())
    assert "Measured effective radiating area, 200 Hz to 3.80 kHz:" in out
    written = {path.name for path in Path("found").iterdir()}
    assert {"measured.csv", "measured_1.png", "curves.uff", "curves.txt", "shapes.uff"} <= written
    assert "Measured against predicted" in Path("found", "summary.md").read_text()


@pytest.mark.parametrize(("arguments", "words"), [
    (["draw", "metal_dome.toml", "--out", "part.png"], "received 'part.png'; write for example part.dxf"),
    (["draw", "metal_dome.toml", "--out", "metal_dome.toml/part.dxf"], "--out must name a file, received"),
    (["examine", "metal_dome.toml", "--measured", "nowhere.csv"], "nowhere.csv: there is no such file"),
    (["examine", "metal_dome.toml", "--measured", "metal_dome.toml"], "metal_dome.toml, line 2: the heading reads"),
])  # fmt: skip
def test_drawing_and_measuring_are_refused(arguments, words, capsys):
    assert run(arguments) == 2
    out, err = capsys.readouterr()
    assert out == "" and words in err


def test_an_export_to_no_place_is_refused_before_its_store_is_read(capsys):
    """ "metal_dome.toml: cannot be written: File exists" did not say that it is a file where a folder is wanted."""
    Path("s.toml").write_text('[study]\nbase = "metal_dome.toml"\n[vary.t]\nkey = "wall.thickness"\nlist = ["25 um"]\n')
    for place, why in (
        ("metal_dome.toml/x.csv", "metal_dome.toml' is a file; give another"),
        (".", "which is a folder"),
    ):
        assert run(["export", "s.toml", place]) == 2
        err = capsys.readouterr().err
        assert err.startswith(f"error: FILE must name a file, received '{place}', ") and why in err


@pytest.mark.parametrize(("verb", "name"), [("draw", "part.dxf"), ("profile", "part.png")])
def test_a_folder_that_is_missing_is_made(verb, name, capsys):
    assert run([verb, "metal_dome.toml", "--out", f"new/folder/{name}"]) == 0
    assert f"Drawn in new/folder/{name}" in capsys.readouterr().out and Path("new/folder", name).stat().st_size > 0


def test_a_folder_made_for_a_file_that_is_refused_is_taken_away(capsys):
    assert run(["draw", "metal_dome.toml", "--set", "wall.thickness=x", "--out", "new/part.dxf"]) == 2
    assert run(["draw", "metal_dome.toml", "--out", f"new/{'x' * 300}.dxf"]) == 2
    assert capsys.readouterr().out == "" and not Path("new").exists()


def test_a_place_that_cannot_be_made_is_named_once(capsys):
    """Nobody makes folders in /proc, and its rights do not tell."""
    if not Path("/proc").is_dir():
        pytest.skip("no /proc")
    walls = ["walls", "metal_dome.toml", "--materials", "titanium", "--thickness", "50 um", "--out", "/proc/x"]
    for arguments in (walls, ["draw", "metal_dome.toml", "--out", "/proc/x/part.dxf"]):
        assert run(arguments) == 2
        assert capsys.readouterr().err.startswith("error: /proc/x: cannot be written: No such file or directory; give")


def test_a_pdf_without_a_browser_is_said(monkeypatch, capsys, tmp_path, one_lever):
    """The sheets are written as PDF all the same; the page that moves is left as it is."""
    monkeypatch.setenv("PATH", str(tmp_path))
    assert run(["examine", "metal_dome.toml", "--orders", "0", "--no-second-opinion", "--pdf", "--out", "out"]) == 0
    assert "no PDF of design.html: none of chromium-headless-shell" in capsys.readouterr().out
    assert (tmp_path / "out" / "summary.pdf").exists() and not (tmp_path / "out" / "design.pdf").exists()


def test_a_letter_that_sheets_lack_is_no_matter_of_words(bound):
    """The sheet explains what it cannot write; the library's own words on it name our files, a dozen times."""
    text = Path("metal_dome.toml").read_text()
    Path("named.toml").write_text(text.replace('name = "north hall, metal dome"', 'name = "球頂"'))
    assert "球頂" in Path("named.toml").read_text()
    done = bound.begin("profile", "named.toml").end()
    assert (done.returncode, done.stderr) == (0, b"") and b"Drawn in named_profile.png" in done.stdout


def test_where_results_are_is_one_line_where_there_is_room(monkeypatch, capsys):
    """In a narrow terminal the folder stands whole on a line of its own, and what is in it wraps between words."""
    what = "design.html, which moves, summary.md and 33 more"
    told = f"{what}; --all: every table"
    folder = Path("results/" + "long_name" * 8)
    monkeypatch.setenv("COLUMNS", "200")
    shared.say_written(folder, what)
    assert capsys.readouterr().out == f"Written to {folder}: {told}\n"
    monkeypatch.setenv("COLUMNS", "50")
    shared.say_written(folder, what)
    first, *rest = capsys.readouterr().out.splitlines()
    assert first == f"Written to {folder}:" and len(rest) == 2 and all(len(line) <= 50 for line in rest)
    assert " ".join(line.strip() for line in rest) == told
