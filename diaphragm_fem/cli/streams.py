"""What the command prints on: whatever a terminal, a pipe, a full disc or a closed stream does, words come out or one
message says why not."""

import codecs
import io
import os
import sys
from contextlib import suppress
from typing import Any, TextIO

from diaphragm_fem.errors import plain

_PLAINER = {
    "µ": "u", "μ": "u", "²": "2", "³": "3", "°": " deg", "−": "-", "–": "-", "—": "-", "·": "*", "×": "x", "…": "...",
    "’": "'", "“": '"', "”": '"', "≤": "<=", "≥": ">=", "→": "->", "Ω": "Ohm", "η": "eta", "ω": "omega", "\u00a0": " ",
}  # fmt: skip


def prepare_streams() -> None:
    """Make both streams take every letter, and stand in for the ones that are closed."""
    if not os.environ.get("COLUMNS", "1").strip("0"):  # as some containers have it: a width in which no letter fits
        del os.environ["COLUMNS"]
    codecs.register_error("plainer", _plainer)
    if sys.stdout is None or sys.stderr is None:
        _occupy_closed_descriptors()
    if sys.stdout is None:
        sys.stdout = io.StringIO()  # what is written here is missed by somebody: leave_streams says so
    if sys.stderr is None:
        sys.stderr = io.StringIO()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="plainer")


def _plainer(error: UnicodeError) -> tuple[str, int]:
    """A letter that the terminal's encoding lacks in plainer letters: µ as u, others as \\u2603."""
    assert isinstance(error, UnicodeEncodeError)
    lacking = error.object[error.start : error.end]
    words = "".join(_PLAINER.get(letter) or letter.encode("ascii", "backslashreplace").decode() for letter in lacking)
    return words, error.end


def _occupy_closed_descriptors() -> None:
    """A file opened next must not get the number of a closed stream: a library that prints would write into it."""
    with suppress(OSError):
        while (handle := os.open(os.devnull, os.O_RDWR)) <= 2:
            pass
        os.close(handle)


def flush_streams() -> None:
    """Write out what is printed. Raises OSError where standard output does not take it."""
    if isinstance(sys.stdout, io.StringIO) and sys.__stdout__ is None and sys.stdout.getvalue():
        raise OSError(9, "standard output is closed")
    sys.stdout.flush()


def abandon_output() -> None:
    """Let what is left unwritten go, so that the interpreter does not complain of it on leaving."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def say_error(message: str) -> None:
    """A message on standard error, which may be closed or full itself."""
    with suppress(OSError, ValueError):
        print(plain(message, keep="\n"), file=sys.stderr)
        sys.stderr.flush()


class Heedless:
    """A stream on whose words no work waits: what a full disk or a terminal that is gone does not take is lost."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def write(self, text: str) -> int:
        with suppress(OSError):
            self._stream.write(text)
        return len(text)

    def flush(self) -> None:
        with suppress(OSError):
            self._stream.flush()


class PlainPrinting:
    """A hook of a rich console that shows what steers a terminal as \\x1b and the like, in everything it prints."""

    def process_renderables(self, renderables: list[Any]) -> list[Any]:
        return [_Plain(renderable) for renderable in renderables]


class _Plain:
    def __init__(self, renderable: Any) -> None:
        self.renderable = renderable

    def __rich_console__(self, console: Any, options: Any) -> Any:
        from rich.segment import Segment

        for segment in console.render(self.renderable, options):
            yield segment if segment.control else Segment(plain(segment.text, keep="\n"), segment.style)


def is_terminal(stream: TextIO) -> bool:
    """Whether somebody looks at the stream."""
    with suppress(ValueError, AttributeError):
        return stream.isatty()
    return False
