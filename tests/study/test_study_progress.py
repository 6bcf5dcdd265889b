"""What a running sweep shows: the bar, the log of the night, and the status from another terminal."""

import io
import json
import os
import re
import time
from dataclasses import replace
from types import SimpleNamespace

import pytest
from rich.console import Console
from study_standin import STANDIN, write_study

from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.plan.sampling import Sampler
from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run import engine
from diaphragm_fem.study.run.engine import run_study
from diaphragm_fem.study.run.guard import DIED
from diaphragm_fem.study.run.progress import Progress, Silent, show_duration
from diaphragm_fem.study.run.solver_process import OUT_OF_MEMORY
from diaphragm_fem.study.run.status import Reasons, Tally, reason_group, study_status
from diaphragm_fem.study.run.store import Row, open_store

pytestmark = pytest.mark.usefixtures("own_folder")


WISH = """
[morning]
wish = [{ figure = "fundamental_hz", aim = "low" }]
limits = { moving_mass_kg = { above = "30 mg" } }
"""


def row(number, status="done", reason=None, fundamental=100.0, mass=50e-6):
    figures = json.dumps({"fundamental_hz": fundamental, "moving_mass_kg": mass}) if status == "done" else None
    return Row(number, status, reason, "{}", b"", figures, None, None, 0.1)


def test_the_pace_counts_from_the_first_rows_and_over_the_last_ten_seconds(tmp_path, monkeypatch):
    """20 s to make ready, then 40 slow cases, then four a second: 40 cases are left after the 160th."""
    clock = SimpleNamespace(now=0.0)
    monkeypatch.setattr("diaphragm_fem.study.run.progress.time", SimpleNamespace(monotonic=lambda: clock.now))
    study = read_study(write_study(tmp_path))
    open_store(study).close()
    progress = Progress(study, quiet=True)
    progress.begin(study.store_path, 200, {}, 2)
    clock.now = 20.0
    progress.rows([row(0)])
    assert progress._pace() == "starting"
    for k in range(1, 40):
        clock.now += 1.0
        progress.rows([row(k)])
    assert progress._pace() == "1.0 a second, 3 min left"
    for k in range(40, 160, 4):
        clock.now += 1.0
        progress.rows([row(k + i) for i in range(4)])
    assert progress._pace() == "4.0 a second, 10 s left"


def test_what_comes_in_at_once_is_stored_and_does_not_start(tmp_path):
    """ "8/8 starting" stood at the end of a short study, and at the begin of one with nothing left."""
    study = read_study(write_study(tmp_path, treads=2, thicknesses=4))
    for _ in range(2):
        screen = io.StringIO()
        with Progress(study, console=Console(file=screen, width=110)) as watcher:
            run_study(study, workers=1, watcher=watcher, evaluator=STANDIN)
        assert "8/8 all stored" in screen.getvalue() and "starting" not in screen.getvalue()


def test_reasons_that_differ_in_numbers_alone_count_together():
    assert reason_group("step of 1.2 mm does not fit on 0.9e-3 m") == "step of … mm does not fit on … m"


def test_numbers_that_all_reasons_share_stay_in_their_words():
    kept = "the step leaves 0.2 mm of flank beyond it"
    reasons = [
        ("discarded", kept, 70),
        ("discarded", kept, 8),
        ("stopped", "stopped at the time limit of 30 s", 2),
        ("failed", "tread of 1.2 mm is above 0.9 mm", 1),
        ("failed", "tread of 1.3 mm is above 0.9 mm", 2),
        ("failed", "2 of … walls", 1),
        ("failed", "3 of … walls", 1),
    ]
    found = Reasons()
    for status, reason, count in reasons:
        found.add(status, reason, count)
    assert found.counted == {
        ("discarded", kept): 78,
        ("stopped", "stopped at the time limit of 30 s"): 2,
        ("failed", "tread of … mm is above 0.9 mm"): 3,
        ("failed", "… of … walls"): 2,
    }


def test_a_tally_groups_failures_and_keeps_the_best_inside_the_limits(tmp_path):
    tally = Tally(read_study(write_study(tmp_path, more=WISH)))
    tally.add(
        [row(0, fundamental=90), row(1, fundamental=80, mass=1e-6), row(2, fundamental=85), row(3, fundamental=88)]
    )
    tally.add([row(4, "failed", "wall of 3 um"), row(5, "failed", "wall of 4 um"), row(6, "stopped", "time")])
    assert tally.best == (2, (85,)) and tally.best_words == "case 2: fundamental_hz = 85"
    assert tally.counts == {"done": 4, "failed": 2, "stopped": 1}
    assert tally.reasons == {("failed", "wall of … um"): 2, ("stopped", "time"): 1}


def test_a_sweep_with_bar_log_and_status(tmp_path):
    study = read_study(write_study(tmp_path, treads=3, thicknesses=8, behaviours='["well", "refuse"]', more=WISH))
    screen = io.StringIO()
    console = Console(file=screen, width=110, force_terminal=True)
    with Progress(study, log_file=tmp_path / "night.log", console=console) as watcher:
        run_study(study, workers=1, watcher=watcher, evaluator=STANDIN)
    shown = re.sub(r"\x1b\[[0-9;?]*[a-zA-Z]", "", screen.getvalue())
    assert "study: 48 cases, 0 of them stored already, 1 worker\n" in shown
    assert "48/48" in shown and "16 failed  the wall is too thick: … um" in shown
    assert re.search(r"best so far  case \d+: fundamental_hz = ", shown)
    log = (tmp_path / "night.log").read_text()
    assert re.search(r"INFO complete: 48 cases, 48 of them new in .* 16 discarded, 16 done, 16 failed", log)
    assert "failed 16 times: the wall is too thick: … um" in log
    status = study_status(study)
    assert (status.total, status.stored, status.writer, status.ending) == (48, 48, "", "complete")
    assert status.failures["failed", "the wall is too thick: … um"] == 16
    assert status.rate > 0 and status.seconds_left is None and 0 < status.bytes_per_case < 8192
    # the thinnest plate inside the mass limit: 2.0 kg/m x thickness >= 30 mg leaves 15 um and more of 12 ... 50 um
    assert re.match(r"case \d+: fundamental_hz = ", status.best)
    thinnest = 12e-6 * (50 / 12) ** (2 / 7)
    assert float(status.best.split()[4]) == pytest.approx(1e7 * thinnest + 1e4 * 1.25e-3, rel=1e-4)


def test_a_note_is_shown_as_it_is_before_the_bar_and_beside_it(tmp_path):
    screen = io.StringIO()
    study = read_study(write_study(tmp_path))
    with Progress(study, console=Console(file=screen, width=200)) as watcher:
        watcher.note("look into [keep] before")
        with open_store(study) as store:
            watcher.begin(store.path, 200, {}, 1)
        watcher.note("look into [keep] then")
    assert "look into [keep] before" in screen.getvalue() and "look into [keep] then" in screen.getvalue()


def test_quiet_shows_nothing(tmp_path, capsys):
    study = read_study(write_study(tmp_path))
    with Progress(study, quiet=True) as watcher:
        watcher.note("a note")
        watcher.rows([row(0)])
    out = capsys.readouterr()
    assert out.out == out.err == ""


def test_status_of_a_running_and_a_killed_study(tmp_path):
    study = read_study(write_study(tmp_path))
    with pytest.raises(StudyError, match="there is no store of results; run the study first"):
        study_status(study)
    with open_store(study) as store:
        assert study_status(study).ending == ""
        store.begin_run(2)
        store.add([row(k) for k in range(50)])
        status = study_status(study)
        assert re.match(r"process \d+ on ", status.writer) and status.ending == ""
        assert status.seconds_left == pytest.approx(150 / status.rate)
    assert study_status(study).ending == "killed"


@pytest.mark.parametrize("jump", [0.0, -86400.0, 86400.0])
def test_a_clock_that_is_put_changes_no_pace(jump, tmp_path, monkeypatch):
    """Cases stored on both sides of the jump counted as if they had come in another time, for a minute."""
    clock = SimpleNamespace(now=1000.0, ahead=1.7e9)
    monkeypatch.setattr(time, "monotonic", lambda: clock.now)
    monkeypatch.setattr(time, "time", lambda: clock.now + clock.ahead)
    study = read_study(write_study(tmp_path))

    def one_a_second(store, cases):
        store.begin_run(2)
        for k in cases:
            clock.now += 1.0
            store.add([row(k)])
            assert study_status(study).rate == pytest.approx(1.0)

    with open_store(study) as store:
        one_a_second(store, range(5))
        clock.ahead += jump
        one_a_second(store, range(5, 75))
    clock.ahead += jump  # and between two runs
    with open_store(study) as store:
        one_a_second(store, range(75, 80))


def test_durations_in_words():
    assert [show_duration(s) for s in (45, 700, 11100)] == ["45 s", "12 min", "3 h 05 min"]


def test_in_a_log_what_follows_the_progress_begins_a_line(tmp_path):
    screen = io.StringIO()
    study = read_study(write_study(tmp_path, more=WISH))

    def say(figure, value):
        return f"{figure} in words {value:g}"

    with Progress(study, console=Console(file=screen, width=100), say=say) as watcher:
        with open_store(study) as store:
            store.begin_run(1)
            watcher.begin(store.path, 200, {}, 1)
        watcher.rows([row(0)])
    assert screen.getvalue().endswith("best so far  case 0: fundamental_hz in words 100\n")


class Noting(Silent):
    """A watcher that keeps what it is told."""

    def __init__(self):
        self.notes = []

    def note(self, text):
        self.notes.append(text)


def round_of(study, size=2):
    """The engine's loop with nobody to solve: rows are handed to it by the test, with the seconds they took."""
    found = engine._Round(None, SimpleNamespace(numbers=list), study, Sampler(study), b"", Noting())
    found._size = size
    return found


@pytest.mark.parametrize(
    ("seconds", "told"), [(10.0, ["about 1 h 40 min for the 1200 cases left, at 10 s a case"]), (0.1, [])]
)
def test_a_study_of_more_than_an_hour_says_so_when_its_pace_is_known(tmp_path, seconds, told):
    found = round_of(read_study(write_study(tmp_path, thicknesses=240)))
    for number in range(20):
        found._take([replace(row(number), seconds=seconds)])
    assert [note.partition(" on 2 workers")[0] for note in found._watcher.notes] == told


def test_the_pace_is_told_of_what_will_be_solved_and_not_of_what_loading_took(tmp_path):
    found = round_of(read_study(write_study(tmp_path, thicknesses=2400)))
    for number in range(60):  # of six cases five are discarded; the first of either worker loads its libraries
        solved = number % 6 == 5
        found._take(
            [row(number) if not solved else replace(row(number), seconds=9.0 if number > 11 else 40.0)]
            if solved
            else [row(number, "discarded", "the step fits")]
        )
    (note,) = found._watcher.notes
    assert note.startswith("about 2 h 30 min for the 12000 cases left, at 9 s a case on 2 workers")


def test_a_constraint_that_discards_everything_is_told_once_and_early(tmp_path):
    found = round_of(read_study(write_study(tmp_path, thicknesses=400)))
    for number in range(900):
        found._take([row(number, "discarded", "the step fits")])
    (note,) = found._watcher.notes
    assert note.startswith('all of the first 500 cases were discarded, the last one because it breaks "the step fits"')
    found = round_of(read_study(tmp_path / "study.toml"))
    for number in range(900):
        found._take([row(number, "discarded" if number % 10 else "failed", "the step fits")])
    assert found._watcher.notes == []


def test_a_sweep_ends_where_each_of_its_first_cases_ends_its_solver_and_only_there(tmp_path):
    study = read_study(write_study(tmp_path))
    ended = [
        row(k, "failed", reason) for k, reason in enumerate((OUT_OF_MEMORY, f"{DIED}, exit code 1", OUT_OF_MEMORY))
    ]
    found = round_of(study)
    found._take([row(9)])
    for _ in range(4):
        found._take(ended)
    found = round_of(study)
    found._take([row(9, "discarded", "no"), *ended[:2]])
    with pytest.raises(StudyError, match=r"each of the first 3 cases ended its solver .*little memory .*--workers"):
        found._take(ended[2:])


def test_a_log_on_a_full_disk_is_given_up_in_one_sentence(tmp_path, capsys):
    study = read_study(write_study(tmp_path))
    with Progress(study, log_file="/dev/full", console=Console(width=100)) as progress:
        progress.note("a word")
        progress.note("another")
    out, errors = capsys.readouterr()
    assert (out + errors).count("the log cannot be written any more; the sweep goes on") == 1
    assert "Traceback" not in out + errors


@pytest.mark.skipif(os.name == "nt", reason="pipes of Unix")
def test_a_log_that_is_a_pipe_is_refused_and_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "log")
    with pytest.raises(StudyError, match=r"log: is a pipe, on whose reader a night would wait"):
        Progress(read_study(write_study(tmp_path)), log_file=tmp_path / "log")
