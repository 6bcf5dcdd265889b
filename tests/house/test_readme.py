"""What README.md shows is what happens: its commands, its examples, its links."""

import json
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
FENCED = re.findall(r"^```(\w*)\n(.*?)^```$", README, flags=re.MULTILINE | re.DOTALL)
MAIN_JOB, TESTS = (body.strip() for _, body in FENCED[:2])
TOOL = str(Path(sys.executable).with_name("diaphragm-fem"))
# the first command of README.md is an `examine` that is run, tests/cli has a short stroke
MINUTES = (" sweep ", " verify", " walls ", " examine ", " stroke ")


def blocks(language: str) -> list[str]:
    return [body for name, body in FENCED if name == language]


def tool_blocks() -> list[Any]:
    """The calls of the tool in each shell block after the two opening ones; slow blocks marked long."""
    found = []
    for body in blocks("sh")[2:]:
        calls = re.findall(r"\.venv/bin/diaphragm-fem (.*)", body)
        if calls:
            long = any(word in body for word in MINUTES)
            verb, file, *_ = calls[0].split()
            name = f"{verb}-{Path(file).stem}"
            found.append(pytest.param(calls, id=name, marks=[pytest.mark.long] if long else []))
    return found


def run(command: list[str], folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, stdin=subprocess.DEVNULL)


@pytest.fixture
def clone(tmp_path: Path) -> Path:
    """A folder with the shipped studies, where examples may write."""
    for folder in ("studies", "meshes"):
        shutil.copytree(ROOT / folder, tmp_path / folder)
    return tmp_path


def test_opens_with_two_commands_of_one_line_each() -> None:
    assert MAIN_JOB.count("\n") == TESTS.count("\n") == 0
    assert MAIN_JOB.startswith("sh .ci/setup && .venv/bin/diaphragm-fem ")
    assert MAIN_JOB.endswith("studies/stepped_v.toml")
    assert TESTS == "sh .ci/setup test && .venv/bin/python -m pytest"


def test_the_check_script_runs_the_test_command() -> None:
    assert TESTS in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_the_set_up_installs_what_the_mesher_asks_for() -> None:
    from diaphragm_fem.mesh.gmsh_model import PACKAGES

    assert f"libraries='{PACKAGES}'" in (ROOT / ".ci" / "setup").read_text(encoding="utf-8")


def test_commands_are_understood(clone: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every command's verb, options and files; what runs too long for every day is parsed here."""
    import typer

    from diaphragm_fem.cli.app import app

    monkeypatch.chdir(clone)
    verbs: Any = typer.main.get_command(app)
    calls = [shlex.split(call) for block in tool_blocks() for call in block.values[0]]
    assert {"examine", "walls", "compare", "sweep", "morning", "stroke", "draw"} <= {verb for verb, *_ in calls}
    for verb, *rest in calls:
        verbs.commands[verb].make_context(verb, rest)


@pytest.mark.parametrize("calls", tool_blocks())
def test_commands_run(calls: list[str], clone: Path) -> None:
    for call in calls:
        outcome = run([TOOL, *shlex.split(call)], clone)
        assert outcome.returncode == 0, outcome.stdout + outcome.stderr


def test_main_job_says_what_is_shown_and_writes_its_folder(clone: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "160")
    arguments = shlex.split(MAIN_JOB.partition("diaphragm-fem ")[2])
    outcome = run([TOOL, *arguments], clone)
    (shown,) = blocks("text")
    assert (outcome.returncode, outcome.stderr) == (0, "")
    assert " ".join(shown.split()) in " ".join(outcome.stdout.split())
    assert len(outcome.stdout.splitlines()) <= 25
    folder = clone / "results" / "stepped_v"
    files = json.loads((folder / "result.json").read_text(encoding="utf-8"))["files"]
    assert all((folder / name).stat().st_size > 0 for name in files)
    expected = {"summary.md", "summary.png", "area.png", "profile.png", "modes_m0.png", "modes.csv"}
    assert expected | {"what_to_change.png", "what_to_change.csv"} <= set(files)


def test_python_examples_run(clone: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    code = "\n".join(blocks("python"))
    assert "import diaphragm_fem" in code
    monkeypatch.chdir(clone)
    exec(code, {})


def test_the_designs_shown_do_what_is_said_of_them() -> None:
    """ "790 Hz" and "29 kHz" were told of one of 784 Hz and 29.6 kHz."""
    from diaphragm_fem import solve_figures
    from diaphragm_fem.design.read.read import design_from

    designs = [data for data in map(tomllib.loads, blocks("toml")) if "profile" in data]
    dome, cone = (solve_figures(design_from(data)) for data in designs)
    ((resonance, break_up),) = re.findall(r"It resonates at ([\d.]+) Hz and breaks up at ([\d.]+) kHz:", README)
    (of_cone,) = re.findall(r"on an edge of rubber,\s([\d.]+) Hz:", README)
    found = dome.fundamental_hz, dome.break_up_mode_hz / 1e3, cone.fundamental_hz
    assert [float(one) for one in (resonance, break_up, of_cone)] == pytest.approx(found, rel=3e-3)


STUDY = [body for body in blocks("toml") if "study" in tomllib.loads(body)]


def test_the_study_shown_is_accepted_and_can_be_solved(clone: Path) -> None:
    from diaphragm_fem.study.plan.drawing_board import try_cases
    from diaphragm_fem.study.plan.sampling import Sampler
    from diaphragm_fem.study.plan.study_file import read_study

    (body,) = STUDY
    (clone / "studies" / "shown.toml").write_text(body, encoding="utf-8")
    study = read_study(clone / "studies" / "shown.toml")
    assert len(Sampler(study)) == 18 and try_cases(study, Sampler(study)) == []


def test_the_tables_that_are_written_anew_have_their_place() -> None:
    script = (ROOT / ".ci" / "refresh_readme.py").read_text(encoding="utf-8")
    (place,) = re.findall(r'r"\((<!-- accuracy.*?)\\n\)', script)
    assert (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").count(place) == 1 and len(blocks("text")) == 1


def test_the_guide_has_the_limits_of_the_code() -> None:
    from diaphragm_fem.analysis.modes.own_modulus import MOST_ALIKE, MOST_MODES
    from diaphragm_fem.design.files.input_file import DEEPEST, LONGEST_TEXT
    from diaphragm_fem.design.measured.universal_file import MOST_SETS
    from diaphragm_fem.design.profile.free_meridian import MOST_POINTS
    from diaphragm_fem.design.read.checks import MOST_ZONES
    from diaphragm_fem.design.spec.wall import MOST_LAYERS
    from diaphragm_fem.model.joint.joints import MOST_JOINTS
    from diaphragm_fem.study.plan.constraint import MOST_CONSTRAINTS

    guide = " ".join((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split())
    texts = f"tables and lists {DEEPEST} deep; texts of {LONGEST_TEXT} letters"
    walls = f"walls of {MOST_LAYERS} layers; meridians of {MOST_POINTS} points and {MOST_ZONES} zones; universal files"
    assert texts in guide and f"{walls} of {MOST_SETS} data sets; {MOST_CONSTRAINTS} constraints of a study" in guide
    modes = f"{MOST_ALIKE} modes of an order, {MOST_MODES} where a modulus varies"
    assert f"; {MOST_JOINTS} joints; {modes}" in guide


@pytest.mark.parametrize("body", [body for body in blocks("toml") if body not in STUDY])
def test_design_file_is_accepted(body: str, tmp_path: Path) -> None:
    import diaphragm_fem

    file = tmp_path / "shown.toml"
    file.write_text(body, encoding="utf-8")
    diaphragm_fem.load_design(file)


def test_links_lead_somewhere() -> None:
    for document in ("README.md", "DEVELOPERS.md"):
        text = (ROOT / document).read_text(encoding="utf-8")
        links = re.findall(r"\]\((?!https?:)([^)#]+)[^)]*\)", text)
        links += re.findall(r'src="([^"]+)"', text)
        missing = [link for link in links if not (ROOT / link).exists()]
        assert not missing, f"{document} points to {missing}"
