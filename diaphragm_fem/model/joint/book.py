"""Patches of joints that processes share, at the same time and one after another: a file they all add to.

A line is a patch: a checksum and JSON, which keeps numbers to the last bit. It is added by one write, begins and ends
with a line break, and is read only where its checksum holds: what a kill, a full disk or a network leaves of a line
costs that patch and no other. The first line says what made the patches. A book by another version is never read;
`begin_book` begins it anew in one step. A file that is no book is left as it is. A patch is solved from its proportions
alone, so it is the same whoever did so. Lines that have not the shape of a patch are passed over; `joint.kinds` checks
the others against what a joint can be.
"""

import hashlib
import json
import os
import re
import secrets
import stat
from collections.abc import Iterator
from contextlib import suppress
from functools import cache
from importlib.metadata import version
from operator import index
from pathlib import Path

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.model.joint.patch import Excess
from diaphragm_fem.model.joint.table import Key, beside_plies

LARGEST = 12 * 2**20  # bytes, some 15,000 patches: beyond it none is added
LINE = 2**20  # that those may add beyond it who saw it below
ARMS, GLUE = 3, 2  # that a joint has at most
FARTHEST = 10**9  # of proportions in their steps: e^100, a hundred thicknesses; 8 was met
_MAKERS = ("design", "mesh", "model")  # folders whose code decides what a patch is
_LIBRARIES = ("gmsh", "numpy", "scipy", "scikit-fem")


class Book:
    """The file as one process reads it and adds to it; one that cannot be used has nothing and takes nothing."""

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self._file, self._read = -1, 0
        head = _line(_maker())
        with suppress(OSError):
            self._file = _opened(path, os.O_RDWR | os.O_APPEND)
            if _read_at(self._file, len(head), 0) != head:
                self.close()
            self._read = len(head)

    @property
    def usable(self) -> bool:
        """Whether it has a file."""
        return self._file >= 0

    def news(self) -> Iterator[tuple[Key, Excess | None]]:
        """What was added since this was asked last; nothing for a joint that the solid cannot draw."""
        if self._file < 0:
            return
        with suppress(OSError):
            size = min(os.fstat(self._file).st_size, LARGEST + LINE)
            found = _read_at(self._file, max(size - self._read, 0), self._read)
            whole = found[: found.rfind(b"\n") + 1]
            self._read += len(whole)
            for line in whole.split(b"\n"):
                if line and _line(line[17:]) == b"\n" + line + b"\n":
                    with suppress(ValueError, TypeError, RecursionError, OverflowError):
                        yield _patch_of(line[17:])

    def add(self, key: Key, excess: Excess | None) -> None:
        if 0 <= self._read < LARGEST and self._file >= 0:
            parts: list[Array] = [] if excess is None else [x.tolist() for x in excess]
            with suppress(OSError):
                os.write(self._file, _line(json.dumps([*key, *parts], separators=(",", ":")).encode()))

    def close(self) -> None:
        """Close the file; what is added afterwards is lost."""
        if self._file >= 0:
            os.close(self._file)
            self._file = -1


def begin_book(path: Path, anew: bool = False) -> bool:
    """Whether there is a book at a path: one by this very program is left as it is, one by another version, or all
    where it is asked for `anew`, begun anew. What is no book is never written over."""
    head = _line(_maker())
    try:
        with suppress(FileNotFoundError):
            file = _opened(path, os.O_RDONLY)
            found = _read_at(file, len(head), 0)
            os.close(file)
            if found == head and not anew:
                return True
            if found and not re.match(rb"\n[0-9a-f]{16} joints ", found):
                return False
        fresh = path.with_name(f"{path.name}{secrets.token_hex(4)}")
        with fresh.open("xb") as begun:
            begun.write(head)
        os.replace(fresh, path)
    except OSError:
        return False
    return True


def _opened(path: str | os.PathLike[str], flags: int) -> int:
    """A regular file; OSError for a pipe, which would be waited for, and whatever else is none."""
    file = os.open(path, flags | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    if not stat.S_ISREG(os.fstat(file).st_mode):
        os.close(file)
        raise OSError("no regular file")
    return file


def _read_at(file: int, count: int, place: int) -> bytes:
    """Bytes of a file at a place: where children share it, without moving where the others read."""
    if hasattr(os, "pread"):
        return os.pread(file, count, place)
    os.lseek(file, place, os.SEEK_SET)  # Windows, where nobody shares it
    return os.read(file, count)


def _patch_of(text: bytes) -> tuple[Key, Excess | None]:
    """What a line says; ValueError or TypeError where it is not of a patch's shape."""
    layers, points, poisson, *parts = json.loads(text)
    count, glue = sum(layers), len(poisson) - sum(layers)
    key = Key(tuple(map(index, layers)), tuple(map(index, points)), tuple(map(float, poisson)))
    if not (1 <= len(layers) <= ARMS and min(layers) >= 1 and 0 <= glue <= GLUE and max(map(abs, points)) < FARTHEST):
        raise ValueError("no joint")
    expected = 2 * count + sum(map(beside_plies, layers)) + 3 * glue
    if len(points) != expected or not all(-1 < nu < 0.5 for nu in key.poisson):
        raise ValueError("not the proportions of a joint")
    if not parts:
        return key, None
    found, free = Excess(*(np.array(part, float) for part in parts)), max(len(layers) - 1, 1)
    if [x.shape for x in found] != [(count, 3 * free, 3 * free), (count, free, free), (count, 6), (count,), (free,)]:
        raise ValueError("not the excess of a joint")
    return key, found


def _line(text: bytes) -> bytes:
    return b"\n" + hashlib.blake2b(text, digest_size=8).hexdigest().encode() + b" " + text + b"\n"


@cache
def _maker() -> bytes:
    """What decides a patch: this code, by its bytes, and the libraries under it."""
    found = hashlib.blake2b(digest_size=16)
    for folder in _MAKERS:
        for file in sorted((Path(__file__).parents[2] / folder).glob("**/*.py")):
            found.update(file.read_bytes())
    return f"joints {found.hexdigest()} {' '.join(version(name) for name in _LIBRARIES)}".encode()
