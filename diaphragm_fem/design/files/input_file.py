"""The one reader of files that come from outside: designs, studies, materials, meridians, tables of cases.

A regular file of bounded size, text in UTF-8, tables of bounded depth, whole numbers of 64 bits, names and texts of
bounded length without characters that steer a terminal. Everything else is refused with the file's name before any
other part of the program sees it.
"""

import csv
import json
import os
import re
import stat
import tomllib
from collections.abc import Iterator, Mapping
from itertools import groupby
from pathlib import Path
from typing import Any
from unicodedata import combining, normalize

from diaphragm_fem.design.files.key_path import format_path
from diaphragm_fem.errors import DesignError, DiaphragmError, StudyError, echo, plain, typed

MOST_BYTES = 16_000_000
MOST_TOML_BYTES = 1_000_000  # read in 3 to 10 s at worst
MOST_TABLE_BYTES = 256_000_000  # of a study's table of cases
DEEPEST = 32  # tables and lists within one another
LONGEST_NAME = 200  # letters of a key
LONGEST_TEXT = 4000  # letters of a value, a remark about a material for example
MOST_MARKS = 4  # above one another: more are met in no script (from memory), and hundreds cover the lines around
LONGEST_CELL = 1000  # letters of a cell of a CSV file
LONGEST_LINE = 1_000_000  # letters of a line of it
WHOLE = 2**63  # whole numbers of TOML have 64 bits

# looked for at the beginning of a name alone: a megabyte of letters would be read again from each of them
_CHAIN = re.compile(rf"(?<![A-Za-z0-9_-])(?:[A-Za-z0-9_-]++[ \t]*+\.[ \t]*+){{{2 * DEEPEST}}}")
_ODD_NAME = re.compile(r"(?m)^[\[ \tA-Za-z0-9_.-]*+[^\x00-\x7f]")  # a line that begins with a name TOML wants quoted
_STEERING = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\xad\u034f\u061c\u180e\u200b\u200e\u200f\u2028-\u202e\u2060-\u2069\ufeff"
    "\U000e0000-\U000e007f]"
)  # what turns others round, and what nobody sees: two names would look alike

Refusal = type[DiaphragmError]
STUDY_TABLES = {"study", "vary"}
OF_A_MATERIAL = {"density", "youngs_modulus", "poisson_ratio", "loss_factor", "based_on"}


def read_text_file(path: Path, refusal: Refusal = DesignError, *, before: str = "", most: int = MOST_BYTES) -> str:
    """The text of a regular file, with or without a mark of its encoding; `refusal` with `before` and the path in
    front where it cannot be had."""
    place = _named(path, before)
    data = read_file_bytes(path, refusal, before=before, most=most)
    why = f"a zero at byte {data.find(0)}" if 0 in data else ""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        why = f"{error.reason} at byte {error.start}"
    if why:
        raise refusal(f"{place}: the file is not text in UTF-8 ({why}); save it in UTF-8")
    return text


def read_file_bytes(path: Path, refusal: Refusal = DesignError, *, before: str = "", most: int = MOST_BYTES) -> bytes:
    """The bytes of a regular file; `refusal` with `before` and the path in front where they cannot be had."""
    place = _named(path, before)
    try:
        return _bytes(path, most)
    except FileNotFoundError:
        raise refusal(f"{place}: there is no such file; give the path of one that is there") from None
    except IsADirectoryError:
        raise refusal(f"{place}: is a folder; give the path of a file in it") from None
    except _NotAllowed as error:
        raise refusal(f"{place}: {error}") from None
    except OSError as error:
        if os.path.isdir(path):  # Windows calls it a want of rights; Path.is_dir fails where a name is too long
            raise refusal(f"{place}: is a folder; give the path of a file in it") from None
        raise refusal(f"{place}: cannot be read: {error.strerror or error}") from error
    except ValueError as error:  # a NUL in the path
        raise refusal(f"{place}: no file can have this name: {error}") from error


def _named(path: Path, before: str) -> str:
    shown = str(path)
    return f"{before}{plain(shown) if len(shown) <= LONGEST_CELL else echo(shown)}"


class _NotAllowed(Exception):
    """What is wrong with a file."""


def _bytes(path: Path, most: int) -> bytes:
    # without O_NONBLOCK the opening of a pipe that nobody writes to would wait for ever
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOCTTY", 0)
    handle = os.open(path, flags)
    with open(handle, "rb") as stream:
        found = os.fstat(handle)
        if not stat.S_ISREG(found.st_mode):
            raise _NotAllowed("no regular file but a pipe, a device or the like; give a file")
        if found.st_size > most:
            raise _NotAllowed(f"the file holds {found.st_size / 1e6:.4g} MB; at most {most / 1e6:g} MB are read")
        data = stream.read(most + 1)
    if data is None:  # of the system's own files some would have to be waited for
        raise _NotAllowed("has nothing to be read now; give a file")
    if len(data) > most:
        raise _NotAllowed(f"the file holds more than {most / 1e6:g} MB, the most that is read")
    return data


OTHER_KINDS = {
    ".dxf": 'a drawing: name it in a design file, kind = "free" and file = "NAME" under [profile]',
    ".csv": "a table: name it in a design file, or give it to the option that takes one",
    ".step": "a solid, which is written and not read",
}


def read_toml_file(path: Path, refusal: Refusal = DesignError, *, before: str = "") -> dict[str, Any]:
    """The data of a TOML file, checked by check_data; `refusal` naming the file where it is none."""
    place = f"{before}{plain(str(path))}"
    if (other := OTHER_KINDS.get(path.suffix.lower())) and os.path.isfile(path):
        raise refusal(f"{place}: a TOML file is wanted here, received {other}")
    text = read_text_file(path, refusal, before=before, most=MOST_TOML_BYTES)
    try:
        return parse_toml(text)
    except DesignError as error:
        raise refusal(f"{place}: {error}") from None


def parse_toml(text: str) -> dict[str, Any]:
    """The data of a TOML text. Raises DesignError, without a place, where it is none or goes beyond the limits."""
    if _CHAIN.search(text):
        raise DesignError(f"not a valid TOML file: more than {2 * DEEPEST} names with dots between them in one place")
    try:
        data = tomllib.loads(text)
    except RecursionError:
        raise DesignError(f"tables and lists may lie at most {DEEPEST} deep within one another") from None
    except ValueError as error:  # TOMLDecodeError, and what Python says to a number of more than 4,300 digits
        words = "a whole number has too many digits" if "integer string conversion" in str(error) else str(error)
        comma = "; decimals are written with a point" if re.search(r"=\s*[-+]?\d+,\d", text) else ""
        name = "; so does a name with letters beyond a to z" if _ODD_NAME.search(text) else ""
        raise DesignError(
            f"not a valid TOML file: {plain(words)}; texts and quantities stand in quotes{name}{comma}"
        ) from error
    check_data(data)
    return data


def check_data(data: Any) -> None:
    """Raise DesignError, with the key and without a place, where data from outside go beyond the limits above."""
    waiting: list[tuple[tuple[str | int, ...], Any]] = [((), data)]
    while waiting:
        path, value = waiting.pop()
        if len(path) > DEEPEST:
            raise DesignError(f"{_key(path)}: tables and lists may lie at most {DEEPEST} deep within one another")
        if isinstance(value, str):
            complaint = text_complaint(value, LONGEST_TEXT)
            if complaint:
                raise DesignError(f"{_key(path)}: a text {complaint}; received {echo(value)}")
        elif isinstance(value, int) and not -WHOLE <= value < WHOLE:
            raise DesignError(f"{_key(path)}: a whole number has at most 64 bits; received {echo(value)}")
        elif isinstance(value, Mapping):
            for key, inner in value.items():
                complaint = text_complaint(str(key), LONGEST_NAME)
                if complaint:
                    raise DesignError(f"{_key(path)}: a key {complaint}; received {echo(key)}".removeprefix(": "))
                waiting.append(((*path, key), inner))
        elif isinstance(value, list | tuple):
            waiting += [((*path, index), inner) for index, inner in enumerate(value)]


def text_complaint(text: str, longest: int) -> str:
    """What is wrong with a text from outside; an empty text where nothing is."""
    if len(text) > longest:
        return f"has at most {longest} letters"
    if _STEERING.search(text):
        return "holds no control characters"
    if text.isascii():
        return ""
    # another name that looks the same; some letters by themselves are taken apart, which may not make up for others
    if len(normalize("NFC", text)) < sum(len(normalize("NFC", letter)) for letter in text):
        return "has its letters whole, é and not e with a mark behind it"
    if any(len([*run]) > MOST_MARKS for marked, run in groupby(text, _is_mark) if marked):
        return f"has at most {MOST_MARKS} marks on a letter"
    return ""


def _is_mark(letter: str) -> bool:
    return combining(letter) > 0


def _key(path: tuple[str | int, ...]) -> str:
    shown = format_path(path)
    return plain(shown) if len(shown) <= LONGEST_NAME else f"{plain(shown[:LONGEST_NAME])}..."


def read_csv_file(
    path: Path, refusal: Refusal = DesignError, *, lines: int, before: str = "", most: int = MOST_BYTES
) -> Iterator[tuple[int, list[str]]]:
    """Number and cells, without blanks around them, of each line of a CSV file that is not empty, `lines` at most."""
    place = f"{before}{plain(str(path))}"
    text = read_text_file(path, refusal, before=before, most=most)
    table = csv.reader(_lines(text, place, refusal), strict=True)
    count = 0
    while True:
        try:
            row = next(table)
        except StopIteration:
            return
        except csv.Error as error:
            raise refusal(f"{place}, line {table.line_num}: cannot be read: {error}") from error
        if table.line_num > 2 * lines:
            raise refusal(f"{place}: at most {2 * lines} lines are read with those that are empty; leave these out")
        for number, cell in enumerate(row, start=1):
            complaint = text_complaint(cell, LONGEST_CELL)
            if complaint:  # of which nothing is shown: it may be a file of another kind, and a secret
                raise refusal(f"{place}, line {table.line_num}: a cell {complaint}; that is cell {number} of the line")
        cells = [cell.strip() for cell in row]
        if any(cells):
            count += 1
            if count > lines:
                raise refusal(f"{place}: at most {lines} lines are read; leave out those from line {table.line_num} on")
            yield table.line_num, cells


def _lines(text: str, place: str, refusal: Refusal) -> Iterator[str]:
    """Lines one by one: a list of those of 256 MB took 7 GB, the cells of one such line 5 GB."""
    begin = 0
    for number, found in enumerate(re.finditer("\r\n?|\n|\\Z", text), start=1):
        if found.end() - begin > LONGEST_LINE:
            raise refusal(f"{place}, line {number}: has more than {LONGEST_LINE} letters; is it a table of lines?")
        if found.end() > begin:  # else the last line has ended
            yield text[begin : found.end()]
        begin = found.end()


def read_record(path: Path) -> dict[str, Any]:
    """What the program noted in a JSON file of its own beside what it wrote; nothing where that is no such record."""
    try:
        found = json.loads(read_file_bytes(path))
    except (DiaphragmError, ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}


def kind_of(data: Mapping[str, Any]) -> str:
    """ "design", "study", "materials", or an empty text for data of no known kind."""
    tables = {key for key, value in data.items() if isinstance(value, Mapping)}
    if "profile" in tables:
        return "study" if {"study", "vary"} <= tables else "design"
    if tables & STUDY_TABLES:
        return "study"
    return "materials" if any(set(data[key]) & OF_A_MATERIAL for key in tables) else ""


def expect_kind(data: Mapping[str, Any], wanted: str, path: Path) -> None:
    """Refuse a file of another kind: its first unknown key would say nothing about that.

    Data of no known kind pass: their own reader tells better what is missing.
    """
    found = kind_of(data)
    if found in (wanted, ""):
        return
    error = StudyError if wanted == "study" else DesignError
    wants = {
        "design": "this verb takes a design file, with a [profile]",
        "study": "this verb takes a study file, with [study] and [vary]",
        "materials": "materials stand in a file of their own, a table for each",
    }[wanted]
    named = typed(path)
    ways = {
        "study": f"for a study write `diaphragm-fem sweep {named}`, or give the design it names as study.base",
        "design": f"for one design write `diaphragm-fem examine {named}`",
        "materials": f"name it in a design file, as materials_file, or write `diaphragm-fem materials --file {named}`",
    }[found]
    has = {"study": "a [study]", "design": "a [profile]", "materials": "numbers of materials"}[found]
    raise error(f"{path}: is a {found} file (it has {has}), and {wants}; {ways}")
