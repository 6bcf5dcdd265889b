"""The examples in the package's docstrings run, from the project's folder, and say what they show."""

import doctest
from importlib import import_module
from pathlib import Path

import pytest

import diaphragm_fem

ROOT = Path(diaphragm_fem.__file__).parents[1]
FILES = [file for file in sorted((ROOT / "diaphragm_fem").rglob("*.py")) if ">>> " in file.read_text("utf-8")]


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(ROOT)))
def test_examples_say_what_they_show(file, monkeypatch):
    monkeypatch.chdir(ROOT)
    module = import_module(".".join(file.relative_to(ROOT).with_suffix("").parts))
    outcome = doctest.testmod(module)
    assert outcome.attempted and not outcome.failed


def test_the_public_functions_have_examples():
    public = ("load_design", "build_structure", "solve_modes", "solve_area", "solve_figures")
    for name in public:
        assert ">>> " in getattr(diaphragm_fem, name).__doc__, name
