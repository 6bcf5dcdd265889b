"""The plan of the house holds: floors import downward only, and each outside library has one door."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LINT = Path(sys.executable).with_name("lint-imports")


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run([str(LINT), "--no-cache"], cwd=folder, capture_output=True, text=True)


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """A copy of the package to break: lint-imports reads the package in the folder it is called from."""
    shutil.copytree(ROOT / "diaphragm_fem", tmp_path / "diaphragm_fem", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def test_floors_and_doors_hold() -> None:
    outcome = lint(ROOT)
    assert outcome.returncode == 0, outcome.stdout


@pytest.mark.parametrize(
    ("file", "line", "contract"),
    [
        ("design/edge.py", "from diaphragm_fem import model", "Each floor imports only from the floors below it"),
        ("report/__init__.py", "import skfem", "The element library enters through mesh and model"),
        ("model/structure.py", "import gmsh", "The mesher enters through the wall section"),
        ("cli/drawing.py", "import ezdxf", "Drawings in DXF are read and written at two doors"),
        ("report/curves_out.py", "import pyuff", "Universal files are read and written at one door"),
        ("study/__init__.py", "import matplotlib.pyplot", "Drawing enters through the sheets"),
        ("analysis/__init__.py", "from dask import delayed", "The distributed engine enters through one file"),
        ("study/plan/amount.py", "import simpleeval", "Expressions are evaluated at one door"),
        ("model/structure.py", "import pint", "Units are read at one door"),
        ("cli/__init__.py", "from jinja2 import Template", "Pages are filled in at one door"),
        ("report/page/writer.py", "import bokeh.plotting", "The explorer's server enters through its folder"),
        ("report/__init__.py", "from scipy.linalg import eigh", "Reports read results and compute nothing"),
    ],
)
def test_a_broken_contract_is_seen(copy: Path, file: str, line: str, contract: str) -> None:
    with open(copy / "diaphragm_fem" / file, "a") as source:
        source.write(f"\n{line}\n")
    outcome = lint(copy)
    assert outcome.returncode == 1
    assert f"{contract} BROKEN" in " ".join(outcome.stdout.split())


def test_a_module_without_a_floor_is_seen(copy: Path) -> None:
    (copy / "diaphragm_fem" / "attic.py").write_text("")
    outcome = lint(copy)
    assert outcome.returncode == 1
    assert "attic" in outcome.stdout
