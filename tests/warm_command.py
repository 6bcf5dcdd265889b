"""The command in processes of their own that need not load it each: one loads all of it, and forks for each call.

What a child does is what the command does, from its first line to the leaving of the interpreter. Only what happens
before `main` is not its own, so tests of the start begin a process each.
"""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

import pytest

PROGRAM = "from diaphragm_fem.cli import main\nmain(sys.argv[1:])\n"
HANG = 600  # s, of a test that hangs
LOADED = """
import json, os, signal, sys
import diaphragm_fem.cli.app, diaphragm_fem.answer.evaluate
import diaphragm_fem.report.results.design, diaphragm_fem.verify.ladder
import diaphragm_fem.report.sheets.listing, diaphragm_fem.report.terminal, psutil
signal.signal(signal.SIGINT, signal.default_int_handler)  # ignored in the background
call = None
while call is None:
    line = sys.stdin.readline()
    if not line:
        sys.exit()
    asked = json.loads(line)
    if child := asked.get("wait"):
        print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
    elif child := os.fork():
        print(child, flush=True)
    else:
        call = asked
os.chdir(call["folder"])
os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
for number, name in ((1, "out"), (2, "errors")):
    os.dup2(os.open(call[name], os.O_WRONLY | os.O_CREAT | os.O_TRUNC), number)
sys.argv[1:] = call["arguments"]
exec(call["program"])
"""


@dataclass(frozen=True)
class Ended:
    returncode: int
    stdout: bytes
    stderr: bytes


@dataclass
class Running:
    """A call that runs; pid: of its process."""

    pid: int
    files: tuple[Path, Path]
    pipes: tuple[IO[str], IO[str]]

    def end(self) -> Ended:
        """Wait until it has ended; a negative code is the signal that killed it."""
        return Ended(_ask(self.pipes, {"wait": self.pid}), *(path.read_bytes() for path in self.files))


@dataclass
class Warm:
    """A process that has loaded the command."""

    pipes: tuple[IO[str], IO[str]]
    place: Path

    def begin(self, *arguments: str, program: str = PROGRAM) -> Running:
        """The command, or a program about it, in the folder that the test stands in."""
        self.place.mkdir(exist_ok=True)
        number = len(list(self.place.iterdir()))
        files = (self.place / f"{number}.out", self.place / f"{number}.errors")
        call = {"arguments": arguments, "program": program, "folder": os.getcwd()}
        call |= {"out": str(files[0]), "errors": str(files[1])}
        return Running(_ask(self.pipes, call), files, self.pipes)


def _ask(pipes: tuple[IO[str], IO[str]], words: Mapping[str, object]) -> int:
    pipes[0].write(json.dumps(words) + "\n")
    pipes[0].flush()
    return int(pipes[1].readline())


@contextmanager
def warm_command(place: Path, *, before: Sequence[str] = ()) -> Iterator[Warm]:
    """place: a folder for what is printed; before: what the process is started by, such as `setpriv`."""
    line = [*before, sys.executable, "-c", LOADED]
    with subprocess.Popen(line, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        try:
            yield Warm((process.stdin, process.stdout), place)
        finally:
            process.stdin.close()  # it leaves


@contextmanager
def bound_command(place: Path) -> Iterator[Warm]:
    """As `warm_command`, one for whom permissions hold: for root they do where it lays its rights down."""
    before: list[str] = []
    if os.geteuid() == 0:
        if shutil.which("setpriv") is None:
            pytest.skip("root, without setpriv to lay its rights down")
        before = ["setpriv", "--bounding-set", "-dac_override,-dac_read_search"]
    with warm_command(place, before=before) as found:
        yield found
