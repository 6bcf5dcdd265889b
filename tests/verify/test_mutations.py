"""Deliberate faults must be caught: in the equations by the ladder, in estimates of error and in sampling by tests.

Each fault is written into a copy of the package, and a small part of the ladder, or the tests named, are run on that
copy in a process of its own. A fault that they survive fails the test. Run with `-m long`. `faults.txt` is the list of
them: `--collect-only -q` names them all.
"""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

import diaphragm_fem

PACKAGE = Path(diaphragm_fem.__file__).parent
RUN = """
import json, sys
from diaphragm_fem.verify.ladder import select
from diaphragm_fem.verify.ladder import run_ladder
wanted = {check.id: check for pattern in sys.argv[1:] for check in select(pattern)}
results = run_ladder(wanted.values())
print(json.dumps({"file": sys.modules["diaphragm_fem"].__file__, "ran": len(results),
                  "failed": [r.check.id for r in results if not r.passed]}))
"""
TESTS = Path(__file__).parents[1]
RUN_TESTS = """
import json, sys, pytest, diaphragm_fem
code = pytest.main(["-q", "-x", "-n", "0", "-p", "no:cacheprovider", "-m", "long or not long", *sys.argv[1:]])
print(json.dumps({"file": diaphragm_fem.__file__, "code": int(code)}))
"""
ALL_PASSED, SOME_FAILED = 0, 1  # what pytest returns; anything else means that the tests could not be run
LIST, MARKS = Path(__file__).with_name("faults.txt"), ("-", "+", ">")
# floors whose faults are planted by one test each: all of them in one take more than six minutes
MODELS, LOADS, ANALYSES, ANSWERS = ("design", "mesh", "model"), ("load",), ("analysis", "quantiles.py"), ("answer",)
STUDIES = ("study", "report")


@dataclass(frozen=True)
class Fault:
    """What is done to which file, and the part of the ladder, or the tests, that must notice."""

    name: str
    file: str
    right: str
    wrong: str
    checks: tuple[str, ...] = ()
    tests: tuple[str, ...] = ()


def listed(text: str) -> list[Fault]:
    """The faults of a list as `faults.txt` has it."""
    found: list[dict[str, Any]] = []
    file = ""
    for line in text.splitlines():
        if line.startswith("## "):
            file = line.removeprefix("## ")
        elif line[:1] in MARKS:
            found[-1][line[0]].append(line[2:])
        elif line and line[0] != "#":
            found.append({"name": line, "file": file, **{mark: [] for mark in MARKS}})
    return [
        Fault(one["name"], one["file"], "\n".join(one["-"]), "\n".join(one["+"]), *noticing(one[">"])) for one in found
    ]


def noticing(lines: Iterable[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Checks of the ladder, and tests."""
    named = [name for line in lines for name in line.split(", ")]
    return tuple(name for name in named if ".py" not in name), tuple(name for name in named if ".py" in name)


FAULTS = listed(LIST.read_text(encoding="utf-8"))


def run_on_copy(folder: Path, program: str, arguments: Iterable[str], fault: Fault | None) -> dict[str, Any]:
    """What a program says last, run on a copy of the package with the fault in it."""
    copy = folder / "diaphragm_fem"
    shutil.copytree(PACKAGE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    if fault is not None:
        file = copy / fault.file
        source = file.read_text(encoding="utf-8")
        assert source.count(fault.right) == 1, f"{fault.file} no longer says '{fault.right}' once: mend this fault"
        file.write_text(source.replace(fault.right, fault.wrong), encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments],
        cwd=folder,
        env={"PYTHONPATH": str(folder), "PATH": os.defpath, "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
        timeout=3000,  # a hang, however busy the machine is
        check=True,
    )
    outcome = json.loads(done.stdout.splitlines()[-1])
    assert Path(outcome["file"]).is_relative_to(copy)
    return outcome


def failed_checks(folder: Path, checks: Iterable[str], fault: Fault | None) -> list[str]:
    outcome = run_on_copy(folder, RUN, checks, fault)
    assert outcome["ran"] >= 1
    return outcome["failed"]


def outcome_of_tests(folder: Path, tests: Iterable[str], fault: Fault | None) -> int:
    return run_on_copy(folder, RUN_TESTS, (str(TESTS / test) for test in tests), fault)["code"]


def test_every_fault_still_fits_the_source_and_has_its_check():
    assert len({fault.name for fault in FAULTS}) == len(FAULTS)
    for fault in FAULTS:
        assert (PACKAGE / fault.file).read_text(encoding="utf-8").count(fault.right) == 1, fault
        assert bool(fault.checks) != bool(fault.tests), fault
        assert fault.checks or fault.file.split("/")[0] in MODELS + LOADS + ANALYSES + ANSWERS + STUDIES, fault
        for test in fault.tests:
            file, _, name = test.partition("::")
            assert f"def {name}" in (TESTS / file).read_text(encoding="utf-8"), fault


@pytest.mark.long
@pytest.mark.parametrize("fault", [fault for fault in FAULTS if fault.checks], ids=lambda fault: fault.name)
def test_fault_in_the_equations_is_caught(fault, tmp_path):
    assert failed_checks(tmp_path, fault.checks, fault), f"no check of {fault.checks} noticed: {fault.name}"


def of_floors(*floors: str) -> pytest.MarkDecorator:
    """The faults of some floors that tests must notice."""
    found = [fault for fault in FAULTS if fault.tests and fault.file.split("/")[0] in floors]
    return pytest.mark.parametrize("fault", found, ids=lambda fault: fault.name)


def must_be_noticed(fault: Fault, folder: Path) -> None:
    if "/page/" in fault.file and shutil.which("chromium-headless-shell", path=os.defpath) is None:
        pytest.skip("no chromium-headless-shell: pages are not tried in a browser")
    assert outcome_of_tests(folder, fault.tests, fault) == SOME_FAILED, f"{fault.tests} did not notice: {fault.name}"


@pytest.mark.long
@of_floors(*MODELS)
def test_fault_in_a_model_is_caught(fault, tmp_path):
    must_be_noticed(fault, tmp_path)


@pytest.mark.long
@of_floors(*LOADS)
def test_fault_in_a_load_is_caught(fault, tmp_path):
    must_be_noticed(fault, tmp_path)


@pytest.mark.long
@of_floors(*ANALYSES)
def test_fault_in_an_analysis_is_caught(fault, tmp_path):
    must_be_noticed(fault, tmp_path)


@pytest.mark.long
@of_floors(*ANSWERS)
def test_fault_in_an_answer_is_caught(fault, tmp_path):
    must_be_noticed(fault, tmp_path)


@pytest.mark.long
@of_floors(*STUDIES)
def test_fault_in_a_study_or_report_is_caught(fault, tmp_path):
    must_be_noticed(fault, tmp_path)


@pytest.mark.long
def test_the_copy_without_a_fault_passes(tmp_path):
    checks = dict.fromkeys(pattern for fault in FAULTS for pattern in fault.checks)
    assert failed_checks(tmp_path / "checks", checks, None) == []
    tests = dict.fromkeys(test for fault in FAULTS for test in fault.tests)
    assert outcome_of_tests(tmp_path / "tests", tests, None) == ALL_PASSED
