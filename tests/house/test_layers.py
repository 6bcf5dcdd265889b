"""The plan of the house holds: floors import downward only, and each outside library has one door."""

import ast
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PLANNED = re.compile("`([a-z_/]*[a-z_])/?`")
DEFINED = re.compile(r"^(?:def|class) (\w+)", re.MULTILINE)
LINT = Path(sys.executable).with_name("lint-imports")


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run([str(LINT), "--no-cache"], cwd=folder, capture_output=True, text=True)


def copied(folder: Path) -> Path:
    """A copy of the package to break: lint-imports reads the package in the folder it is called from."""
    shutil.copytree(ROOT / "diaphragm_fem", folder / "diaphragm_fem", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", folder)
    return folder


def test_plans_name_files_that_there_are() -> None:
    """In the first words of each package: a file or folder below it, or what one of these defines."""
    for plan in (ROOT / "diaphragm_fem").rglob("__init__.py"):
        below = set(plan.parent.rglob("*"))
        defined = {name for path in below if path.suffix == ".py" for name in DEFINED.findall(path.read_text("utf-8"))}
        told = PLANNED.findall(ast.get_docstring(ast.parse(plan.read_text("utf-8"))) or "")
        missing = {path.rpartition("/")[2] for path in told} - {path.stem for path in below} - defined
        assert not missing, f"{plan.parent.name}: {sorted(missing)}"


def test_floors_and_doors_hold() -> None:
    outcome = lint(ROOT)
    assert outcome.returncode == 0, outcome.stdout


BREAKS = [
    ("design/meridian/edge.py", "from diaphragm_fem import model", "Each floor imports only from the floors below it"),
    ("design/units/grammar.py", "import diaphragm_fem.design.read", "Folders of a design follow one another"),
    ("answer/walls/line.py", "import diaphragm_fem.answer.evaluate", "Folders of an answer follow one another"),
    ("report/words/verdict.py", "import diaphragm_fem.report.page", "Folders of a report follow one another"),
    ("report/__init__.py", "import skfem", "The element library enters through mesh and model"),
    ("model/structure.py", "import gmsh", "The mesher enters through the wall section"),
    ("cli/one_design.py", "import ezdxf", "Drawings in DXF are read and written at two doors"),
    ("report/files/curves.py", "import pyuff", "Universal files are read and written at one door"),
    ("study/__init__.py", "import matplotlib.pyplot", "Drawing enters through the sheets"),
    ("analysis/__init__.py", "from dask import delayed", "The distributed engine enters through one file"),
    ("study/plan/amount.py", "import simpleeval", "Expressions are evaluated at one door"),
    ("model/structure.py", "import pint", "Units are read at one door"),
    ("cli/__init__.py", "from jinja2 import Template", "Pages are filled in at one door"),
    ("report/page/writer.py", "import bokeh.plotting", "The explorer's server enters through its folder"),
    ("report/__init__.py", "from scipy.linalg import eigh", "Reports read results and compute nothing"),
]


@pytest.fixture(scope="module")
def broken(tmp_path_factory: pytest.TempPathFactory) -> str:
    """What is said of a copy in which every contract is broken, each by a line of its own."""
    folder = copied(tmp_path_factory.mktemp("broken"))
    for file, line, _ in BREAKS:
        with open(folder / "diaphragm_fem" / file, "a") as source:
            source.write(f"\n{line}\n")
    outcome = lint(folder)
    assert outcome.returncode == 1
    return outcome.stdout


@pytest.mark.parametrize(("file", "line", "contract"), BREAKS)
def test_a_broken_contract_is_seen(broken: str, file: str, line: str, contract: str) -> None:
    assert f"{contract} BROKEN" in " ".join(broken.split())
    told = broken.partition("Broken contracts")[2].partition(contract)[2]
    importer = "diaphragm_fem." + file.removesuffix(".py").removesuffix("/__init__").replace("/", ".")
    assert f"{importer} -> {line.split()[1].partition('.')[0]}" in told


def test_a_module_without_a_floor_is_seen(tmp_path: Path) -> None:
    (copied(tmp_path) / "diaphragm_fem" / "attic.py").write_text("")
    outcome = lint(tmp_path)
    assert outcome.returncode == 1
    assert "attic" in outcome.stdout
