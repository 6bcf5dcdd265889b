"""Files that were changed at random or made from the schema alone: figures that are finite, or a refusal that names the
file. Nothing else may come out: no traceback, no hang, no message of pages.
"""

import random
import shutil
import tomllib
import warnings
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from mutants import changed_bytes, changed_keys, changed_tags, from_schema, judge_design, judge_study
from places import CORPUS, STUDIES

from diaphragm_fem.cli.shared import open_design
from diaphragm_fem.design.files.key_path import all_paths
from diaphragm_fem.design.files.write import to_toml
from diaphragm_fem.design.spec.schema import json_schema, key_list
from diaphragm_fem.errors import DesignError

DESIGNS, STUDY_FILES = (sorted((CORPUS / kind).glob("*.toml")) for kind in ("designs", "studies"))
KEYS = [key for key, _ in key_list(json_schema()) if "NAME" not in key]
DRAWINGS = CORPUS / "drawings"
LONG_GROUPS, GROUP = 20, 1000  # 20,000 in all, each group well under six minutes


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A folder that holds the designs which the study files of the corpus name."""
    folder = tmp_path_factory.mktemp("mutants")
    for path in STUDIES.glob("*.toml"):
        shutil.copy(path, folder)
    return folder


@pytest.fixture(autouse=True)
def no_silent_overflow():
    """A warning of numpy is a number that went wrong."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        yield


def seeds(files: list[Path]) -> list[Path]:
    return [path for path in files if path.name.startswith("seed")]


def byte_mutant(number: int, kind: str, place: Path) -> str:
    pick = random.Random(number)
    path = place / f"bytes_{number}.toml"
    path.write_bytes(changed_bytes(pick.choice(seeds(DESIGNS if kind == "design" else STUDY_FILES)).read_bytes(), pick))
    return judged(path, kind, pick)


def key_mutant(number: int, kind: str, place: Path) -> str:
    pick = random.Random(number)
    data = tomllib.loads(pick.choice(seeds(DESIGNS if kind == "design" else STUDY_FILES)).read_text(encoding="utf-8"))
    paths = KEYS if kind == "design" and pick.random() < 0.3 else list(all_paths(data))
    path = place / f"keys_{number}.toml"
    path.write_bytes(to_toml(changed_keys(data, paths, pick)).encode("utf-8", "surrogatepass"))
    return judged(path, kind, pick)


def drawing_mutant(number: int, kind: str, place: Path) -> str:
    """A changed drawing, and a design that reads it as a mid-line, or as two faces."""
    pick = random.Random(number)
    change = changed_tags if kind == "tags" else changed_bytes
    (place / "part.dxf").write_bytes(change((DRAWINGS / "seed_part.dxf").read_bytes(), pick))
    text = (DRAWINGS / "part.toml").read_text(encoding="utf-8").replace("seed_part.dxf", "part.dxf")
    if pick.random() < 0.2:
        text = text.replace('thickness = "60 um"', "").replace('kind = "free"', 'kind = "free"\ndrawn = "two faces"')
    path = place / f"drawing_{number}.toml"
    path.write_text(text, encoding="utf-8")
    return judged(path, "design", pick)


def judged(path: Path, kind: str, pick: random.Random) -> str:
    outcome = judge_design(path, allow_unusual=pick.random() < 0.5) if kind == "design" else judge_study(path)
    path.unlink()
    return outcome


@pytest.mark.parametrize("path", [*DESIGNS, *STUDY_FILES], ids=lambda path: f"{path.parent.name}/{path.stem}")
def test_the_corpus(path, place):
    """Seeds are taken; what once broke the program is refused or taken, as the first line of the file says."""
    copy = place / f"corpus_{path.name}"
    shutil.copy(path, copy)
    outcome = judge_design(copy) if path.parent.name == "designs" else judge_study(copy)
    wanted = "figures" if path.name.startswith(("seed", "taken")) else "refused"
    assert outcome == wanted


@pytest.mark.parametrize(("make", "kind", "count", "fewest"), [
    (byte_mutant, "design", 40, 4), (key_mutant, "design", 50, 6),
    (byte_mutant, "study", 40, 5), (key_mutant, "study", 25, 3),
    (drawing_mutant, "tags", 40, 4), (drawing_mutant, "bytes", 40, 3),
])  # fmt: skip
def test_mutants(make, kind, count, fewest, place):
    """A fewest of each outcome, so that mutants are neither all rubbish nor all harmless."""
    outcomes = [make(number, kind, place) for number in range(count)]
    assert outcomes.count("figures") >= fewest and outcomes.count("refused") >= fewest


@pytest.mark.long
@pytest.mark.parametrize("group", range(LONG_GROUPS))
def test_many_mutants(group, place):
    make, kind = [
        (byte_mutant, "design"), (key_mutant, "design"), (drawing_mutant, "tags"), (key_mutant, "study"),
        (key_mutant, "design"),
    ][group % 5]  # fmt: skip
    for number in range(1000 + group * GROUP, 1000 + (group + 1) * GROUP):
        make(number, kind, place)


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(data=from_schema(json_schema()))
def test_files_of_the_right_shape(place, data):
    path = place / "shape.toml"
    path.write_bytes(to_toml(data).encode("utf-8", "surrogatepass"))
    judge_design(path, allow_unusual=True)


def test_a_fault_would_be_found(place, monkeypatch):
    """What the tests above rest on: an error of the program is no refusal, and figures that are not finite are seen."""
    path = place / "stepped_v.toml"
    monkeypatch.setattr("diaphragm_fem.answer.quick.build_shell", lambda *_, **__: 1 / None)
    with pytest.raises(TypeError):
        judge_design(path)
    monkeypatch.undo()
    table = "diaphragm_fem.analysis.figures.figures.Figures.table"
    monkeypatch.setattr(table, lambda _: {"moving_mass_kg": float("nan")})
    with pytest.raises(AssertionError, match="figures that are not finite"):
        judge_design(path)
    monkeypatch.undo()
    monkeypatch.setattr("diaphragm_fem.cli.shared.open_design", lambda *_, **__: open_design(place / "nowhere.toml"))
    with pytest.raises(AssertionError, match="does not name"):
        judge_design(path)


def test_what_reading_did_not_foresee_names_the_file(place, monkeypatch):
    monkeypatch.setattr("diaphragm_fem.design.read.read.build_design", lambda *_, **__: [][0])
    with pytest.raises(DesignError, match=r"stepped_v.toml: cannot be read as a design \(IndexError"):
        open_design(place / "stepped_v.toml")
