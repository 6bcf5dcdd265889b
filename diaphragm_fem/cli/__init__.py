"""The command `diaphragm-fem`: parse, call, print, exit code.

Heavy libraries are imported inside the verbs, so that help and small verbs start quickly.
"""

import errno
import faulthandler
import gc
import logging
import os
import signal
import sys
import threading
import traceback
import warnings
from contextlib import suppress
from difflib import get_close_matches
from types import FrameType
from typing import Any

from diaphragm_fem.cli.streams import abandon_output, flush_streams, prepare_streams, say_error
from diaphragm_fem.errors import DiaphragmError, behind, lacks_memory

DONE, FAILED, REFUSED = 0, 1, 2
INTERRUPTED = 130  # 128 and the number of the signal, as shells count
NEW_OBJECTS = 20_000  # between searches for cycles, instead of 700: 0.4 of 12.4 s of an examination, and no more memory
ALIKE = 0.55  # of two options' letters: "up" for "up-to"
NO_MEMORY = "error: not enough memory: give the command more, or ask it for less (--up-to, --orders, --workers)"
SOON = 0.1  # s, after which a stop that was lost is tried again
BLAS_THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")

_asked: list[int] = []  # numbers of the signals that asked this command to stop
_heard = threading.Event()  # it says that it stops


class Ended(KeyboardInterrupt):
    """A signal that stops the command; no plain KeyboardInterrupt, after some of which Python itself leaves with 130.

    Finalizers, forks and compiled code drop what is raised in them or make another error of it. What is dropped is
    deleted: if nobody has heard it by then, the signal is sent again a little later.
    """

    def __del__(self) -> None:
        if not (_heard.is_set() or sys.is_finalizing()):  # then a thread would be waited for that no more begins
            again = threading.Timer(SOON, _to_main_thread, _asked[-1:])
            again.daemon = True
            again.start()


def main(arguments: list[str] | None = None) -> None:
    """Run the command and leave the process with its exit code."""
    sys.path[:] = filter(os.path.isabs, sys.path)  # others begin where a study lies; an editable install adds one
    for name in BLAS_THREADS:  # small dense matrices: a second thread only waits for the first
        os.environ.setdefault(name, "1")
    gc.set_threshold(NEW_OBJECTS)
    os.environ["MPLBACKEND"] = "agg"  # what a notebook or another program has put there may not be one
    for library in ("matplotlib", "ezdxf"):  # of weights that a font has not, of a home that is none or full
        logging.getLogger(library).setLevel(logging.ERROR)
    warnings.filterwarnings("ignore", "Glyph .* missing from", UserWarning)  # of ticks in a PDF
    prepare_streams()
    with suppress(OSError):  # what stands in for a closed stream has no number
        faulthandler.enable()  # numpy may end the process where no memory is left: it is then told where
    try:
        _end_in_words()
        code = run(arguments)
        _heard.set()
    except KeyboardInterrupt:  # so early that nothing has begun, or a second one
        code = _tell("stopped", INTERRUPTED)
    for number in _stopping():  # all is said: one that comes twice changes nothing any more, nor the exit code
        signal.signal(number, signal.SIG_IGN)
    gc.freeze()  # what is left goes with the process: the interpreter's last searches took 0.4 of 8 s of an examination
    sys.exit(128 + _asked[0] if _asked and code == INTERRUPTED else code)


def _end_in_words() -> None:
    """Let Ctrl-C, SIGTERM and SIGHUP stop the command in words, and at whatever moment they come."""

    def stop(number: int, _: FrameType | None) -> None:
        _asked.append(number)
        if not _heard.is_set():
            raise Ended

    def unraisable(told: Any) -> None:
        if not issubclass(told.exc_type, Ended):  # which comes again
            sys.__unraisablehook__(told)

    for number in _stopping():
        if signal.getsignal(number) in (signal.SIG_DFL, signal.default_int_handler):  # ignored, as by nohup, stays so
            signal.signal(number, stop)
    sys.unraisablehook = unraisable


def _stopping() -> list[signal.Signals]:
    """The signals that stop a command; Windows has no SIGHUP."""
    return [one for one in signal.Signals if one.name in ("SIGINT", "SIGTERM", "SIGHUP")]


def _to_main_thread(number: int) -> None:
    if hasattr(signal, "pthread_kill"):  # which wakes it where it waits; not on Windows
        signal.pthread_kill(threading.main_thread().ident or 0, number)
    else:
        signal.raise_signal(number)


def run(arguments: list[str] | None = None) -> int:
    """Run the command; returns the exit code."""
    import typer

    from diaphragm_fem.cli.app import command
    from diaphragm_fem.cli.shared import Stopped
    from diaphragm_fem.design.files.said_date import said_date

    # newer versions of the library carry their own copy of the parser: its errors are found as bases of a public one
    usage_error = typer.BadParameter.__bases__[0]
    parser_error: type[Exception] = usage_error.__bases__[0]

    try:
        said_date()  # numpy ends as it is loaded where it is none
        outcome = command()(arguments, prog_name="diaphragm-fem", standalone_mode=False)
        flush_streams()
        if outcome == INTERRUPTED:  # newer versions of the library make this of Ctrl-C and raise nothing
            return _tell("stopped", INTERRUPTED)
        return outcome if isinstance(outcome, int) else DONE
    except Stopped as stopped:
        return _tell(f"stopped: {stopped}", INTERRUPTED)
    except DiaphragmError as error:
        return _tell(f"error: {error}", REFUSED)
    except parser_error as error:
        problem: Any = error
        context = getattr(problem, "ctx", None)
        where = context.command_path if context else "diaphragm-fem"
        if guessed := getattr(problem, "possibilities", None):  # dashes made options alike: --log was told for --out
            words = {one.lstrip("-"): one for one in guessed}
            like = get_close_matches(problem.option_name.lstrip("-"), words, cutoff=ALIKE)
            problem.possibilities = [words[one] for one in like]
        told = problem.format_message()
        if told.startswith("Missing"):  # what to give, as its help has it
            told = f"{told} {getattr(problem.param, 'help', None) or ''}".rstrip()
        return _tell(f"error: {told}\nSee '{where} --help'.", REFUSED)
    except (KeyboardInterrupt, typer.Abort):
        return _tell("stopped", INTERRUPTED)
    except (BrokenPipeError, SystemExit) as error:  # the libraries that print leave by themselves where nobody reads on
        if not isinstance(error.__context__ if isinstance(error, SystemExit) else error, BrokenPipeError):
            raise
        abandon_output()
        return DONE
    except OSError as error:
        if lacks_memory(error):
            return _tell(NO_MEMORY, REFUSED)
        if error.errno in (errno.EMFILE, errno.ENFILE):
            return _tell("error: too many files are open; raise `ulimit -n`, or give fewer --workers", REFUSED)
        if error.filename is not None:
            return _fail(error)
        if "temporary" in str(error):  # of tempfile, where all disks that it tries are full
            return _tell(f"error: {error.strerror}; make room in one of them, or name another by TMPDIR", REFUSED)
        if isinstance(error, FileNotFoundError):  # of the system itself, asked where this is
            return _tell("error: the folder in which this was started is gone; change into one that is there", REFUSED)
        abandon_output()
        return _tell(f"error: nothing can be printed: {error.strerror or error}", REFUSED)
    except Exception as error:
        # a compiled module that is stopped as it loads makes an ImportError of that
        if _asked or any(isinstance(one, KeyboardInterrupt) for one in behind(error)):
            return _tell("stopped", INTERRUPTED)
        if lacks_memory(error):
            return _tell(NO_MEMORY, REFUSED)
        return _fail(error)


def _fail(error: Exception) -> int:
    say_error("".join(traceback.format_exception(error)).rstrip())
    return _tell(
        f"error: the program failed ({type(error).__name__}: {error}). This is its fault, not yours: please "
        "report the lines above with the file you gave.",
        FAILED,
    )


def _tell(message: str, code: int) -> int:
    if code == INTERRUPTED:
        _heard.set()
    say_error(message)
    return code
