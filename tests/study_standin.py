"""A stand-in for the solver in the tests of sweeps: a mass on a spring, with every way to misbehave at a key's
command.
"""

import hashlib
import os
import signal
import time
from pathlib import Path

import numpy as np

from diaphragm_fem.errors import ModelError
from diaphragm_fem.study.plan.amount import amount_in_si
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.run.case_row import CaseResult, run_case
from diaphragm_fem.study.run.store import open_store
from diaphragm_fem.study.run.store_reading import read_store

STANDIN = "study_standin:evaluate"
BASE = """
name = "a plate on a spring"
behaviour = "well"
pause = 0.0

[plate]
thickness = "25 um"
material = "PEN film"

[[plate.steps]]
tread = "1.2 mm"
distance = "4 mm"

[[plate.steps]]
tread = "0.8 mm"
distance = "6 mm"
"""


def evaluate(design, recipe=None):
    """Figures that follow from thickness and tread by hand.

    Once STANDIN_HOLD cases stand in the diary, cases wait until the file STANDIN_GATE is there: a sweep that has come
    so far and no farther, however slow or fast the machine is.
    """
    if diary := os.environ.get("STANDIN_DIARY"):
        with open(diary, "a") as stream:
            stream.write(f"{design['plate']['thickness']} {design['plate']['steps'][0]['tread']}\n")
    if hold := os.environ.get("STANDIN_HOLD"):
        while len(diary_lines()) >= int(hold) and not Path(os.environ["STANDIN_GATE"]).exists():
            time.sleep(0.01)
    time.sleep(design["pause"])
    match design["behaviour"]:
        case "hang":
            time.sleep(3600)
        case "spin":
            while True:
                pass
        case "hoard":
            raise MemoryError("by hand")
        case "crash":
            os.kill(os.getpid(), signal.SIGSEGV)
        case "crash once":
            mark = Path(os.environ["STANDIN_MARK"])
            if not mark.exists():
                mark.touch()
                os.kill(os.getpid(), signal.SIGKILL)
        case "kill worker":
            os.kill(os.getppid(), signal.SIGKILL)
            time.sleep(0.2)
            os.kill(os.getpid(), signal.SIGKILL)
        case "refuse":
            raise ModelError(f"the wall is too thick: {design['plate']['thickness']}")
        case "fault":
            raise ZeroDivisionError("by hand")
        case "infinite":
            return CaseResult({"fundamental_hz": float("inf")})
    thickness = amount_in_si(design["plate"]["thickness"])
    tread = amount_in_si(design["plate"]["steps"][0]["tread"])
    fundamental = 1e7 * thickness + 1e4 * tread
    frequency = np.geomspace(20, 20e3, int(recipe.settings["points"]) if recipe else 400)
    area = 1e-3 / (1 - (frequency / fundamental) ** 2 + 0.02j)
    figures = {
        "fundamental_hz": fundamental,
        "moving_mass_kg": 2.0 * thickness,
        "decoupling_hz": fundamental * 5 if tread > 1e-3 else None,
    }
    warnings = ["thin"] if thickness < 15e-6 else []
    return CaseResult(figures, {"frequency_hz": frequency, "area_m2": area}, warnings)


STUDY = """
[study]
base = "base.toml"
time_limit = "{time_limit}"

[vary.tread]
key = "plate.steps[0].tread"
range = ["0.5 mm", "2 mm"]
count = {treads}

[vary.thickness]
key = "plate.thickness"
log_range = ["12 um", "50 um"]
count = {thicknesses}

[vary.behaviour]
key = "behaviour"
list = {behaviours}

[keep]
"the tread is wide enough" = "tread > '0.6 mm'"
"""


def write_study(folder, *, treads=5, thicknesses=40, behaviours='["well"]', pause=0.0, time_limit="20 s", more=""):
    """A base design and a study of it in a folder; the path of the study."""
    (folder / "base.toml").write_text(BASE.replace("pause = 0.0", f"pause = {pause}"))
    text = STUDY.format(treads=treads, thicknesses=thicknesses, behaviours=behaviours, time_limit=time_limit)
    own = "[want]\njoints = false\n"  # so that solvers load nothing of the model: half of what they take to begin
    (folder / "study.toml").write_text(text + (more.replace("[want]\n", own) if "[want]\n" in more else own + more))
    return folder / "study.toml"


def solve_here(study, store=None, evaluator=STANDIN):
    """The store that a sweep makes, case after case without any engine, in reverse order for good measure; nothing that
    a case waits for is waited for."""
    from unittest.mock import patch  # solvers load this file, and none of them patches

    sampler = Sampler(study)
    numbers = reversed(range(len(sampler)))
    with open_store(study, store) as filled, patch("study_standin.time.sleep"):
        filled.add([run_case(study.recipe, number, sampler.values(number), evaluator) for number in numbers])


def diary_lines():
    """One line for each case that was solved, whoever solved it."""
    diary = Path(os.environ["STANDIN_DIARY"])
    return diary.read_text().splitlines() if diary.exists() else []


def wait_for(condition, *needed):
    """Look again and again until a condition holds; longer is a test that hangs, however busy the machine is. The
    processes that are needed for it must not end before.
    """
    until, pause = time.monotonic() + 300, 0.02
    while not condition():
        for process in needed:
            assert process.poll() is None, f"ended meanwhile with {process.returncode}: {process.args}"
        assert time.monotonic() < until, "waited too long"
        time.sleep(pause)
        pause = min(1.1 * pause, 0.2)  # looking is work that the processes looked for do not get


def contents_digest(path: str | Path) -> str:
    """Fingerprint of all that a study decides: every column but the times. Two undisturbed stores of a study agree
    in it.
    """
    digest = hashlib.sha256()
    with read_store(path) as store:
        query = """SELECT c.number, status, reason, inputs, fingerprint, figures, warnings, packed
                   FROM cases c LEFT JOIN curves USING (number) ORDER BY c.number"""
        for row in store.base.execute(query):
            digest.update(repr(row).encode())
    return digest.hexdigest()
