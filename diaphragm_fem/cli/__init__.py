"""The command `diaphragm-fem`: parse, call, print, exit code.

Exit codes: 0 all went well, 2 something the user can mend (one message, nothing written), 1 a failure of the program,
128 + n stopped by signal n: 130 by Ctrl-C, 143 by SIGTERM, 129 by SIGHUP.
Heavy libraries are imported inside the verbs, so that help and small verbs start quickly.
"""

from __future__ import annotations

import os
import sys
from typing import Any

INTERRUPTED = 130  # 128 + SIGINT, as shells count
BLAS_THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def main(arguments: list[str] | None = None) -> None:
    """Run the command and leave the process with its exit code."""
    for name in BLAS_THREADS:  # small dense matrices: a second thread only waits for the first
        os.environ.setdefault(name, "1")
    sys.exit(run(arguments))


def run(arguments: list[str] | None = None) -> int:
    """Run the command; returns the exit code."""
    import typer

    from diaphragm_fem.cli.app import app
    from diaphragm_fem.cli.options import Stopped
    from diaphragm_fem.errors import DiaphragmError

    # newer versions of the library carry their own copy of the parser: its errors are found as bases of a public one
    usage_error = typer.BadParameter.__bases__[0]
    parser_error: type[Exception] = usage_error.__bases__[0]

    try:
        outcome = app(arguments, prog_name="diaphragm-fem", standalone_mode=False)
        if outcome == INTERRUPTED:  # newer versions of the library make this of Ctrl-C and raise nothing
            return _tell("stopped", INTERRUPTED)
        return outcome if isinstance(outcome, int) else 0
    except Stopped as stopped:
        return _tell(f"stopped: {stopped}", 128 + stopped.by)
    except DiaphragmError as error:
        return _tell(f"error: {error}", 2)
    except parser_error as error:
        problem: Any = error
        context = getattr(problem, "ctx", None)
        where = context.command_path if context else "diaphragm-fem"
        return _tell(f"error: {problem.format_message()}\nSee '{where} --help'.", 2)
    except (KeyboardInterrupt, typer.Abort):
        return _tell("stopped", INTERRUPTED)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        import traceback

        traceback.print_exc()
        return _tell(
            f"error: the program failed ({type(error).__name__}: {error}). This is its fault, not yours: please "
            "report the lines above with the file you gave.",
            1,
        )


def _tell(message: str, code: int) -> int:
    print(message, file=sys.stderr)
    return code
