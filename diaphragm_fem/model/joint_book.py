"""Patches of joints that processes share, beside one another and one after another: a file they all add to.

A line is a patch: a checksum and JSON, which keeps numbers to the last bit. A line is added by one write, begins and
ends with a line break, and is read only where its checksum holds: whatever a kill, a full disk or a network leaves of
one costs that patch and no other. The first line says what made the patches; a file of another program is never read,
and begun anew in one step by `begin_book`. A patch is solved from its proportions alone: it is the same whoever did so.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from functools import cache
from importlib.metadata import version
from pathlib import Path

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.model.joint_patch import Excess
from diaphragm_fem.model.joint_table import Key

LARGEST = 12 * 2**20  # bytes, some 15,000 patches: beyond it none is added
_MAKERS = ("design", "mesh", "model")  # folders whose code decides what a patch is
_LIBRARIES = ("gmsh", "numpy", "scipy", "scikit-fem")


class Book:
    """The file as one process reads it and adds to it; one that cannot be used has nothing and takes nothing."""

    def __init__(self, path: str | os.PathLike[str]) -> None:
        self._file, self._read = -1, 0
        head = _line(_maker())
        with suppress(OSError):
            self._file = os.open(path, os.O_RDWR | os.O_APPEND)
            if os.pread(self._file, len(head), 0) != head:
                self.close()
            self._read = len(head)

    def news(self) -> Iterator[tuple[Key, Excess | None]]:
        """What was added since this was asked last; nothing for a joint that the solid cannot draw."""
        if self._file < 0:
            return
        with suppress(OSError):
            found = os.pread(self._file, max(os.fstat(self._file).st_size - self._read, 0), self._read)
            whole = found[: found.rfind(b"\n") + 1]
            self._read += len(whole)
            for line in whole.split(b"\n"):
                if line and _line(line[17:]) == b"\n" + line + b"\n":
                    layers, points, poisson, *parts = json.loads(line[17:])
                    key = Key(tuple(layers), tuple(points), tuple(poisson))
                    yield key, Excess(*map(np.array, parts)) if parts else None

    def add(self, key: Key, excess: Excess | None) -> None:
        """Add a patch."""
        if 0 <= self._read < LARGEST and self._file >= 0:
            parts: list[Array] = [] if excess is None else [x.tolist() for x in excess]
            with suppress(OSError):
                os.write(self._file, _line(json.dumps([*key, *parts], separators=(",", ":")).encode()))

    def close(self) -> None:
        """Close the file; what is added afterwards is lost."""
        if self._file >= 0:
            os.close(self._file)
            self._file = -1


def begin_book(path: Path) -> bool:
    """Whether there is a book at a path: one by this very program is left as it is, else one is begun."""
    head = _line(_maker())
    try:
        with suppress(FileNotFoundError), path.open("rb") as file:
            if file.read(len(head)) == head:
                return True
        descriptor, fresh = tempfile.mkstemp(dir=path.parent, prefix=path.name)
        with open(descriptor, "wb") as file:
            file.write(head)
        os.replace(fresh, path)
    except OSError:
        return False
    return True


def _line(text: bytes) -> bytes:
    return b"\n" + hashlib.blake2b(text, digest_size=8).hexdigest().encode() + b" " + text + b"\n"


@cache
def _maker() -> bytes:
    """What decides a patch: this code, by its bytes, and the libraries under it."""
    found = hashlib.blake2b(digest_size=16)
    for folder in _MAKERS:
        for file in sorted((Path(__file__).parents[1] / folder).glob("**/*.py")):
            found.update(file.read_bytes())
    return f"joints {found.hexdigest()} {' '.join(version(name) for name in _LIBRARIES)}".encode()
