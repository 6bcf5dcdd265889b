"""Whatever the terminal takes, a full disc or a closed stream does: words, or one message and an exit code."""

import errno
import io
import os
import signal
import subprocess
import sys
import threading

import psutil
import pytest
from design_cases import CONE
from study_standin import wait_for
from warm_command import HANG, PROGRAM, Ended, warm_command

from diaphragm_fem.cli import run, shared

COMMAND = [sys.executable, "-m", "diaphragm_fem.cli"]
BLANK = """
import sys, time
from matplotlib.figure import Figure
from diaphragm_fem.answer.change import sensitivities
sensitivities.levers = lambda file: ()  # what to change is another matter, and so is what pictures show
rest = 0
def cleared(self, *told, save=Figure.savefig, **how):
    self.set_visible(False)
    save(self, *told, **how)
    time.sleep(rest)
Figure.savefig = cleared
"""
RESTING = BLANK + "rest = 600\n"  # after each picture: it is met while it draws, however busy the machine
QUICK = ["--orders", "0", "--up-to", "3 kHz", "--tolerance", "5 %", "--no-second-opinion"]
posix = pytest.mark.skipif(os.name == "nt", reason="a shell and signals of Unix")


@pytest.fixture(scope="module")
def warm(tmp_path_factory):
    with warm_command(tmp_path_factory.mktemp("told")) as found:
        yield found


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    (tmp_path / "cone.toml").write_text(CONE)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def with_environment(**more):
    """A program that runs the command with other variables of the environment."""
    return f"import os\nos.environ |= {more}\n" + PROGRAM


def told(*arguments, shell):
    command = ["bash", "-c", f'"$@" {shell}', "bash", *COMMAND, *arguments]
    return subprocess.run(command, capture_output=True, timeout=HANG)


def test_a_width_of_no_letter_is_none(warm):
    """COLUMNS=0 as containers have it: nothing was printed, and the exit code said that all was well."""
    wanted = warm.begin("terms", "shelf", program=with_environment(COLUMNS="132")).end()
    found = warm.begin("terms", "shelf", program=with_environment(COLUMNS="0")).end()
    assert wanted.stdout and found == wanted


def test_a_date_that_is_none_is_refused(warm):
    """Before numpy is loaded, which ended the command in its own words."""
    found = warm.begin("terms", "shelf", program=with_environment(SOURCE_DATE_EPOCH="soon")).end()
    said = b"error: SOURCE_DATE_EPOCH must be a whole number of seconds since 1970, received 'soon'\n"
    assert found == Ended(2, b"", said)


@posix
def test_a_library_that_ends_the_process_does_not_do_so_without_a_word(warm):
    """Six of 42 runs of `stroke` on the metal dome under 395 to 405 MB ended so, within numpy (2026-11-29)."""
    fault = "import atexit, os\natexit.register(os.kill, os.getpid(), 11)\n"
    found = warm.begin("--version", program=fault + PROGRAM).end()
    assert found.returncode == -signal.SIGSEGV and b"Fatal Python error: Segmentation fault" in found.stderr


@posix
def test_a_signal_changes_nothing_once_all_is_said(warm):
    """Python takes a command's own answers to signals away as it leaves: a second SIGTERM then ended it as if it had
    none, not with 143."""
    kept = "import atexit, os, signal\natexit.register(lambda: os.write(1, repr(signal.getsignal(SIGNAL)).encode()))\n"
    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        found = warm.begin("--version", program=kept.replace("SIGNAL", f"signal.{name}") + PROGRAM).end()
        assert b"SIG_IGN" in found.stdout, (name, found)


@pytest.mark.parametrize(("encoding", "square"), [("ascii", b"cm2"), ("latin-1", b"cm\xb2")])
def test_terminals_that_lack_letters_get_plainer_ones(encoding, square, warm):
    program = f"import sys\nsys.stdout.reconfigure(encoding={encoding!r})\n" + PROGRAM
    found = warm.begin("area", "cone.toml", "--up-to", "3 kHz", "--tolerance", "5 %", program=program).end()
    assert found.returncode == 0 and found.stderr == b""
    assert square in found.stdout and b"\\x" not in found.stdout


@posix
@pytest.mark.parametrize(("shell", "message"), [
    (">/dev/full", b"error: nothing can be printed: No space left on device\n"),
    (">&-", b"error: nothing can be printed: standard output is closed\n"),
])  # fmt: skip
@pytest.mark.parametrize("arguments", [["terms"], ["--help"], ["--version"]], ids=lambda words: words[0])
def test_output_that_cannot_be_written(arguments, shell, message):
    found = told(*arguments, shell=shell)
    assert (found.returncode, found.stdout, found.stderr) == (2, b"", message)


@posix
@pytest.mark.parametrize("verb", ["materials", "schema", "terms"])
def test_a_reader_who_has_seen_enough_is_no_fault(verb, warm):
    unread = "import os, sys\nends = os.pipe()\nos.close(ends[0])\nos.dup2(ends[1], 1)\n"
    assert warm.begin(verb, program=unread + PROGRAM).end() == Ended(0, b"", b"")


@posix
def test_a_folder_that_is_gone_is_told(tmp_path):
    (tmp_path / "gone").mkdir()
    command = [sys.executable, "-m", "diaphragm_fem.cli", "examine", str(tmp_path / "cone.toml"), *QUICK]
    script = 'cd gone && rmdir ../gone && exec "$@"'
    found = subprocess.run(["bash", "-c", script, "bash", *command], capture_output=True, cwd=tmp_path, timeout=HANG)
    assert (found.returncode, found.stdout) == (2, b"")
    assert b"error: the folder in which this was started is gone; change into one that is there" in found.stderr


def test_no_library_tells_of_settings_that_cannot_be_kept(tmp_path, warm):
    """Where a home is full or none, ezdxf told so under what the command says."""
    (tmp_path / "home").touch()
    program = with_environment(XDG_CACHE_HOME=str(tmp_path / "home"), HOME=str(tmp_path / "home"))
    found = warm.begin("draw", "cone.toml", "--out", "cone.dxf", program=program).end()
    assert (found.returncode, found.stderr) == (0, b"")


def test_full_disks_without_room_for_a_temporary_file_are_told(monkeypatch, capsys):
    """`explore` then said that the folder in which it was started was gone."""

    def find_none(_):
        raise FileNotFoundError(errno.ENOENT, "No usable temporary directory found in ['/tmp', '/home/me']")

    monkeypatch.setattr("diaphragm_fem.cli.reference.print_blocks", find_none)
    assert run(["terms"]) == 2
    said = "error: No usable temporary directory found in ['/tmp', '/home/me']; make room in one of them, or"
    assert capsys.readouterr().err.startswith(said)


def test_too_many_open_files_are_told_as_that(monkeypatch, capsys):
    """They were told as a fault of the program in a file of the user's (from memory: limits of 1024 are common)."""

    def open_one(_):
        raise OSError(errno.EMFILE, "Too many open files", "study.toml")

    monkeypatch.setattr("diaphragm_fem.cli.reference.print_blocks", open_one)
    assert run(["terms"]) == 2
    assert capsys.readouterr().err.startswith("error: too many files are open; raise `ulimit -n`")


@posix
def test_closed_streams_do_not_matter_where_nothing_is_printed(tmp_path):
    command = [sys.executable, "-c", BLANK + PROGRAM, "examine", "cone.toml", *QUICK, "--quiet"]
    assert subprocess.run(["bash", "-c", '"$@" >&- 2>&-', "bash", *command], timeout=HANG).returncode == 0
    assert (tmp_path / "results" / "cone" / "result.json").exists()
    assert told("examine", "nowhere.toml", shell="2>&-").returncode == 2


def test_nothing_steers_the_terminal(warm):
    found = warm.begin("examine", "no\x1b[2Jwhere.toml").end()
    assert found.returncode == 2 and b"\x1b" not in found.stderr and b"no\\x1b[2Jwhere.toml" in found.stderr
    found = warm.begin("profile", "cone.toml", "--out", "out\x1b[2J.png").end()
    assert found.returncode == 0 and b"\x1b" not in found.stdout and b"Drawn in out\\x1b[2J.png" in found.stdout
    found = warm.begin("examine", "cone.toml", *QUICK, "--set", "name=a\x9bb", "--json").end()
    assert found.returncode == 2 and b"no control characters" in found.stderr and b"\x9b" not in found.stderr


@posix
@pytest.mark.parametrize(("name", "code"), [("SIGTERM", 143), ("SIGINT", 130)])
def test_signals_end_it_in_words_and_leave_nothing(name, code, tmp_path, warm):
    """The command is told while it draws: the draft is there. It has meshed a section, which takes signals away."""
    command = warm.begin("examine", "cone.toml", *QUICK[:-1], program=RESTING + PROGRAM)
    results = tmp_path / "results"
    wait_for(lambda: list(results.glob(".*draft*/*.png")))
    os.kill(command.pid, getattr(signal, name))
    assert command.end() == Ended(code, b"", b"stopped\n")
    assert not results.exists() or not list(results.iterdir())


@posix
@pytest.mark.parametrize("moment", [
    "class Gone:\n    def __del__(self): end()\nwhen_it_draws = Gone",
    "def when_it_draws():\n    try: end()\n    except BaseException as found: raise ImportError('half') from found",
    "when_it_draws = lambda: None\nos.register_at_fork(after_in_parent=end)",
    "def when_it_draws():\n    try: end()\n    except BaseException: pass",
    "def when_it_draws():\n    try: end()\n    except BaseException: pass\n    raise ValueError('half')",
], ids=["finalizer", "half an import", "fork", "dropped", "another error"])  # fmt: skip
def test_no_moment_is_deaf_to_a_signal(moment, tmp_path, warm):
    """Python drops what is raised in a finalizer or beside a fork, compiled code drops it or makes an error of it."""
    program = "import os, signal\ndef end(): os.kill(os.getpid(), signal.SIGTERM)\n" + moment + RESTING
    program = program.replace("    save(self", "    when_it_draws()\n    save(self")
    verb = ["examine", *QUICK[:-1]] if "fork" in moment else ["profile", "--out", "drawn.png"]  # which forks nothing
    command = warm.begin(*verb, "cone.toml", program=program + PROGRAM)
    assert command.end() == Ended(143, b"", b"stopped\n")
    assert not list(tmp_path.glob("results/*"))


EARLY = """
import os, signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)  # ignored in the background
end = lambda *_: os.kill(os.getpid(), signal.SIGINT)
"""
AS_IT_LOADS = EARLY + """
class AtTheCommand:
    def find_spec(name, *_): end() if name == "diaphragm_fem.cli" else None
sys.meta_path.insert(0, AtTheCommand)
from diaphragm_fem.__main__ import main
main()
"""
AS_IT_LISTENS = EARLY + """
from diaphragm_fem import cli
listen = cli._end_in_words
cli._end_in_words = lambda: (listen(), end())
cli.main(["--version"])
"""
AS_PYTHON_LEAVES = EARLY + """
from diaphragm_fem import cli
cli._end_in_words()
end()
"""


@posix
@pytest.mark.parametrize(("program", "code", "last"), [
    (AS_IT_LOADS, -signal.SIGINT, ""), (AS_IT_LISTENS, 130, "stopped"), (AS_PYTHON_LEAVES, 1, "Ended"),
], ids=["as it loads", "as it listens", "as Python leaves"])  # fmt: skip
def test_a_signal_at_the_begin_neither_hangs_nor_shows_the_inside(program, code, last):
    """The second left a traceback and waited for ever: of what nobody caught Python forgets in the end, when no thread
    begins any more. The third is that wait alone."""
    found = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, timeout=60)
    assert found.returncode == code and found.stderr.strip().endswith(last)
    assert last == "Ended" or "Traceback" not in found.stderr


@posix
def test_a_kill_while_drawing_leaves_nothing_for_ever(tmp_path, warm, one_lever, coarse_pictures):
    command = warm.begin("examine", "cone.toml", *QUICK, program=RESTING + PROGRAM)
    results = tmp_path / "results"
    wait_for(lambda: list(results.glob(".*draft*/*.png")))
    helpers = psutil.Process(command.pid).children()
    os.kill(command.pid, signal.SIGKILL)
    command.end()
    assert not psutil.wait_procs(helpers, timeout=60)[1]  # none draws on for a command that is gone
    drafts = list(results.iterdir())
    assert len(drafts) == 1 and drafts[0].name.startswith(".diaphragm-fem-draft-")
    other = results / ".diaphragm-fem-draft-1-another"  # of a process that lives
    other.mkdir()
    assert run(["examine", "cone.toml", *QUICK, "--quiet"]) == 0
    assert sorted(path.name for path in results.iterdir()) == [other.name, "cone"]


def test_help_tells_the_exit_codes(monkeypatch, capsys):
    monkeypatch.setenv("COLUMNS", "200")
    assert run(["--help"]) == 0
    found = capsys.readouterr().out
    for words in ("0 done", "1 the program failed", "2 refused", "130 stopped by Ctrl-C", "143 ended by SIGTERM"):
        assert words in " ".join(found.split())


def test_the_line_that_says_what_is_done_starts_no_thread(monkeypatch):
    """Beside a thread no work is shared over the cores."""
    monkeypatch.setattr(shared, "is_terminal", lambda _: True)
    before = threading.active_count()
    with shared.working(False) as tell:
        tell("solving")
        assert threading.active_count() == before


@pytest.mark.parametrize("error", [OSError(errno.EIO, "Input/output error"), BrokenPipeError()], ids=["gone", "unread"])
def test_no_work_ends_because_nobody_can_be_told_how_it_stands(error, monkeypatch):
    """A sweep ended unsolved, without a word, where its log was on a full disk or the reader of its pipe had gone."""

    class Gone(io.StringIO):
        def write(self, _):
            raise error

        flush = lambda self: self.write("")  # noqa: E731

    monkeypatch.setattr(sys, "stderr", Gone())
    monkeypatch.setattr(shared, "is_terminal", lambda _: True)
    with shared.working(False) as tell:
        tell("solving")
    shared.console(error=True).print("words")


def test_no_module_is_sought_below_the_folder_of_a_study(warm):
    """An editable install puts the name of a folder that is not there among the places; whoever makes a study could
    make it, with a module in it that some library would load if it were installed."""
    telling = "import atexit\natexit.register(lambda: print(sys.path))\nsys.path.append('not_there')\n" + PROGRAM
    found = warm.begin("--version", program=telling).end()
    assert b"site-packages" in found.stdout and b"not_there" not in found.stdout
