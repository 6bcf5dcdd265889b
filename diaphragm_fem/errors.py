"""The few error types of the project.

Every message says what must hold, what was received (in the user's own unit), where, and what to do.
"""

import os
import re
import reprlib
import shlex
from collections.abc import Iterable, Iterator
from typing import Any

SHOWN = 80  # letters of a value that a message repeats
_REPR = reprlib.Repr()
_REPR.maxstring = _REPR.maxother = _REPR.maxlong = SHOWN


def plain(text: str, keep: str = "") -> str:
    """The text with what steers a terminal or is not seen shown as \\x1b and the like; characters in `keep` pass."""
    keep += "\u3000"  # the blank of Chinese and Japanese
    return text if text.isprintable() else "".join(c if c.isprintable() or c in keep else _escape(c) for c in text)


def _escape(character: str) -> str:
    code = ord(character)
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"


def echo(value: Any) -> str:
    """A value as a message repeats it: a text in quotes, at most 80 letters, nothing that steers a terminal."""
    if isinstance(value, str):
        shown = f"'{plain(value[: SHOWN + 1])}'"
        return shown if len(value) <= SHOWN else f"{shown[: SHOWN + 1]}...' ({len(value)} letters)"
    try:
        shown = plain(_REPR.repr(value))
    except ValueError:  # Python writes no whole number of more than 4,300 digits
        return "a number of thousands of digits"
    return shown if len(shown) <= SHOWN else f"{shown[:SHOWN]}..."


def typed(path: object) -> str:
    """A path as a command that is to be typed or copied holds it: in quotes where it has a blank, and in such that a
    shell runs nothing of it where it has more than names have."""
    text = str(path)
    if os.name != "nt" and re.search(r"[^\w\s.,:/\\@%+=~-]", text):
        return shlex.quote(text)
    return f'"{text}"' if re.search(r"\s", text) else text


def nearest(given: str, allowed: Iterable[str]) -> str:
    """A hint: the nearest of the allowed words, and all of them."""
    from difflib import get_close_matches

    given, allowed = given[:SHOWN].lower(), list(allowed)
    doubled = given.replace("radius", "diameter")
    near = get_close_matches(given, [word.lower() for word in allowed], n=1, cutoff=0.5)
    hint = f"did you mean '{next(word for word in allowed if word.lower() == near[0])}'? " if near else ""
    if doubled != given and doubled in allowed:
        hint = f"did you mean '{doubled}', twice as much? "
    return f"{hint}allowed are {', '.join(allowed)}"


HERE = "\0"  # stands for a place in a message


class DiaphragmError(Exception):
    """Anything the user can mend: catch this to catch all of ours. told: the message, and what stands in for `HERE`."""

    def __init__(self, message: str, place: str = "") -> None:
        super().__init__(message.replace(HERE, place))
        self.told = message, place

    @property
    def elsewhere(self) -> str:
        """The same message of what is drawn in another place."""
        return self.told[0].replace(HERE, "")


class DesignError(DiaphragmError):
    """A design that cannot be built: names the file, the key, what was received and what is allowed."""


class UnusualError(DesignError):
    """Values outside what this trade commonly builds, which the design does not say are meant: `keys` names them."""

    def __init__(self, message: str, keys: tuple[str, ...] = ()) -> None:
        super().__init__(message)
        self.keys = keys


class MaterialError(DesignError):
    """An unknown material, or a material with an impossible number."""


class MeshError(DiaphragmError):
    """A wall that cannot be cut into elements, or a missing system library of the mesher."""


class ModelError(DiaphragmError):
    """Equations that cannot be set up for this design, for example an order m below zero."""


class AnalysisError(DiaphragmError):
    """An answer that does not exist for this system, for example an area curve without a drive."""


class StudyError(DiaphragmError):
    """A study file, store or comparison that cannot be used as asked."""


OUT_OF_MEMORY = ("can't start new thread", "failed to map segment", "Cannot allocate memory", "not enough memory")


def behind(error: BaseException | None) -> Iterator[BaseException]:
    """An error, and those from which it comes."""
    while error is not None:
        yield error
        error = error.__cause__ or error.__context__


def lacks_memory(error: BaseException) -> bool:
    """Whether an error, or one behind it, says that no memory was left, in the words of Python, its loader, the system
    or ours."""
    return any(isinstance(one, MemoryError) or any(words in str(one) for words in OUT_OF_MEMORY)
               for one in behind(error))  # fmt: skip
