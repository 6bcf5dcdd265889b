"""What only one system has is missed by nobody: every module loads and the main verbs work without it.

Linux stands in for others here: what they lack is taken away before anything of ours is loaded. That is no run on them.
"""

import json
import os
import subprocess
import sys
from contextlib import chdir
from pathlib import Path
from types import SimpleNamespace

import psutil
import pytest
from study_standin import solve_here

from diaphragm_fem.study.plan.study_file import read_study
from diaphragm_fem.study.run.case_row import EVALUATOR
from diaphragm_fem.study.run.solver_process import handing, inherited, still_runs

ROOT = Path(__file__).parents[2]
POOR = """
import json, os, shutil, signal, sys, types
import asyncio, multiprocessing.connection, subprocess, tempfile  # the library of the language and those of others are
import bokeh, distributed, matplotlib.pyplot, numpy, psutil, pyuff, scipy.linalg  # those of this system
system, folder, gone, calls = json.loads(sys.argv[1])
os.chdir(folder)
for name in gone:
    place, _, what = name.partition(".")
    if what:
        delattr({"os": os, "signal": signal}[place], what)
    else:
        sys.modules[name] = None
shutil._use_fd_functions = False  # the language's own, which looked before what it needs was gone
if "fcntl" in gone:  # what stands there in its place
    sys.modules["msvcrt"] = types.SimpleNamespace(LK_NBLCK=2, locking=lambda handle, mode, count: None)
class Other:
    platform = system
    __getattr__ = staticmethod(lambda name: getattr(sys, name))
import pkgutil, importlib
import diaphragm_fem
for found in pkgutil.walk_packages(diaphragm_fem.__path__, "diaphragm_fem."):
    if not found.name.endswith("__main__"):
        ours = importlib.import_module(found.name)
        if "sys" in vars(ours):
            ours.sys = Other()  # for us alone: the libraries are those of this system
from diaphragm_fem.answer.change import sensitivities
from matplotlib.figure import Figure
sensitivities.levers = lambda file: ()
def saved(figure, *where, save=Figure.savefig, **how):
    figure.set_visible(False)  # what is on the pictures is no system's own
    save(figure, *where, **how)
Figure.savefig = saved
from diaphragm_fem.cli import _end_in_words, run
_end_in_words()
for call in calls:
    code = run(call.split())
    if code:
        sys.exit(f"{call}: {code}")
"""
LACKS = {  # what CPython's documentation says is not on Windows, or on neither of both
    "win32": "fcntl resource pwd grp termios tty pty syslog os.fork os.forkpty os.getuid os.geteuid os.setsid "
    "os.killpg os.pread os.pwrite os.mkfifo os.chown os.uname os.wait os.waitid os.sched_getaffinity os.O_NONBLOCK "
    "os.O_NOCTTY os.O_NOFOLLOW os.O_CLOEXEC os.O_SYNC os.register_at_fork os.getpgid os.statvfs os.nice signal.SIGHUP "
    "signal.SIGALRM signal.SIGPROF signal.SIGPIPE signal.SIGKILL signal.SIGUSR1 signal.setitimer signal.alarm "
    "signal.pause signal.pthread_sigmask signal.ITIMER_REAL signal.ITIMER_PROF signal.SIGCHLD",
    "darwin": "os.sched_getaffinity os.O_DIRECT os.memfd_create signal.SIGSTKFLT",
}
ONE = [
    "modes dome.toml --orders 0 --up-to 2kHz", "profile dome.toml --out dome.png", "draw dome.toml --out dome.dxf",
    "examine dome.toml --orders 0-1 --up-to 3kHz --no-second-opinion --quiet", "terms shelf", "status study.toml",
    "morning study.toml --no-pictures", "export study.toml cases.csv",
]  # fmt: skip
SWEEP = ["sweep study.toml --workers 1"]
STUDY = """
[study]
base = "dome.toml"
[vary.film]
key = "wall.thickness"
list = ["30 um", "40 um"]
[want]
up_to = "3 kHz"
points = 40
[morning]
wish = [{ figure = "fundamental_hz", aim = "low" }]
"""


# of macOS, which lacks little, a long test
@pytest.mark.parametrize("system", ["win32", pytest.param("darwin", marks=pytest.mark.long)])
def test_main_verbs_work_without_what_a_system_lacks(system, tmp_path):
    (tmp_path / "dome.toml").write_text((ROOT / "studies" / "metal_dome.toml").read_text(encoding="utf-8"))
    (tmp_path / "study.toml").write_text(STUDY)
    calls = [*SWEEP, *ONE]
    if system == "win32":  # solvers of Windows are started by what this system has not
        with chdir(tmp_path):
            study = read_study("study.toml")
            solve_here(study, study.store_path, EVALUATOR)
        calls = ONE
    asked = (system, str(tmp_path), [name for name in LACKS[system].split() if _there(name)], calls)
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-c", POOR, json.dumps(asked)]
    told = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True)
    assert told.returncode == 0, told.stderr[-3000:]
    results = tmp_path / "results"
    assert (tmp_path / "cases.csv").stat().st_size and list(results.glob("study.study/*"))
    assert (results / "dome" / "result.json").exists()


def _there(name):
    place, _, what = name.partition(".")
    return not what or hasattr(sys.modules[place] if place in sys.modules else __import__(place), what)


def test_a_solver_of_windows_inherits_its_pipe_alone(monkeypatch):
    """By the list of handles of its documentation; Windows itself was not at hand."""
    told = []
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr(os, "set_handle_inheritable", lambda *how: told.append(how), raising=False)
    monkeypatch.setattr(subprocess, "STARTUPINFO", lambda **how: how, raising=False)
    asked = handing(SimpleNamespace(fileno=lambda: 77))
    assert asked == {"startupinfo": {"lpAttributeList": {"handle_list": [77]}}} and told == [(77, True)]
    connection = sys.modules["multiprocessing.connection"]
    monkeypatch.setattr(connection, "PipeConnection", lambda handle: ("pipe", handle), raising=False)
    assert inherited(77) == ("pipe", 77)


def test_a_solver_of_windows_sees_its_command_end(monkeypatch):
    """getppid there goes on naming a process that is gone."""
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr(os, "getppid", lambda: ended.pid)
    assert psutil.pid_exists(os.getpid())
    assert still_runs(os.getpid()) and not still_runs(ended.pid)
