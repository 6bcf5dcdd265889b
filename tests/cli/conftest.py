"""What tests of verbs share."""

import shutil

import pytest
from places import STUDIES


@pytest.fixture
def among_designs(tmp_path, monkeypatch):
    """A folder with the shipped designs and studies, where verbs may write."""
    for path in STUDIES.glob("*.toml"):
        shutil.copy(path, tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "160")
