"""Reading a result store, also while another process writes to it, and telling what is damaged in one."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import zlib
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.run.curve_packing import unpack_curves
from diaphragm_fem.study.run.store import DONE, WHOLE_ROWS, damage_of

TABLES = ("about", "runs", "cases", "curves")
START_ANEW = "move it away and start the study again, or put a copy of it back"
_READING_FAILS = (ValueError, TypeError, LookupError, AttributeError, zlib.error, sqlite3.Error)


@dataclass(frozen=True)
class Reading:
    """A store open for reading, also while another process writes."""

    path: Path
    base: sqlite3.Connection

    @property
    def about(self) -> dict[str, str]:
        return dict(self.base.execute("SELECT key, value FROM about"))

    def counts(self) -> dict[str, int]:
        return dict(self.base.execute("SELECT status, count(*) FROM cases GROUP BY status"))

    def reasons(self) -> Iterator[tuple[str, str | None, int]]:
        """How often each status was met, with each reason as stored."""
        yield from self.base.execute("SELECT status, reason, count(*) FROM cases GROUP BY status, reason")

    def figures(self) -> Iterator[tuple[int, dict[str, float | None]]]:
        """Number and figures of every case that was solved, in order."""
        for number, text in self.base.execute(
            "SELECT number, figures FROM cases WHERE status = ? ORDER BY number", (DONE,)
        ):
            yield number, json.loads(text)

    def rows(self, status: str | None = None) -> Iterator[dict[str, Any]]:
        """Cases in order of their numbers, JSON read, curves left out."""
        where, what = ("WHERE status = ?", (status,)) if status else ("", ())
        columns = "number, status, reason, inputs, fingerprint, figures, warnings, seconds"
        query = f"SELECT {columns} FROM cases {where} ORDER BY number"
        for number, state, reason, inputs, fingerprint, figures, warnings, seconds in self.base.execute(query, what):
            yield {
                "number": number,
                "status": state,
                "reason": reason,
                "inputs": json.loads(inputs),
                "fingerprint": fingerprint,
                "figures": json.loads(figures) if figures or state == DONE else {},
                "warnings": json.loads(warnings) if warnings else [],
                "seconds": seconds,
            }

    def curves(self, number: int) -> dict[str, Any]:
        """The curves of one case, {} where it has none."""
        found = self.base.execute("SELECT packed FROM curves WHERE number = ?", (number,)).fetchone()
        return unpack_curves(found[0]) if found else {}

    def close(self) -> None:
        self.base.close()

    def __enter__(self) -> Reading:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def read_store(path: str | Path) -> Reading:
    """Open a store for reading, also where nothing may be written. StudyError where there is none, or none that can be
    read.
    """
    path = Path(path)
    if path.is_dir():
        raise StudyError(f"{path}: is a folder; the store of results is a file in it, such as {path / 'cases.sqlite'}")
    if not path.is_file():
        raise StudyError(f"{path}: there is no store of results; run the study first")
    try:
        base = _open(path)
    except sqlite3.Error as error:
        raise StudyError(f"{path}: cannot be read as a store of results ({error}); {START_ANEW}") from error
    return Reading(path, base)


def _open(path: Path) -> sqlite3.Connection:
    place = f"{path.resolve().as_uri()}?mode=ro"
    base = sqlite3.connect(place, uri=True, timeout=30)
    try:
        _check_tables(base)
    except sqlite3.OperationalError as error:
        base.close()
        if "readonly" not in str(error) and "unable to open" not in str(error):
            raise
        log = path.with_name(path.name + "-wal")
        if log.exists() and log.stat().st_size:  # an immutable reading would leave out what stands there alone
            raise StudyError(
                f"{path}: its latest cases stand in {log.name}, which cannot be read where nothing may be written "
                f"({error}); copy both files into a folder of your own and give --store the copy"
            ) from error
        base = sqlite3.connect(f"{place}&immutable=1", uri=True)
        _check_tables(base)
    return base


def _check_tables(base: sqlite3.Connection) -> None:
    there = {name for (name,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if missing := [f"'{name}'" for name in TABLES if name not in there]:
        raise sqlite3.DatabaseError(f"without its table {' and '.join(missing)}")
    if not base.execute("SELECT value FROM about WHERE key = 'format'").fetchone():
        raise sqlite3.DatabaseError("it says nothing about itself")


@contextmanager
def damage_told(path: str | Path, inputs: Sequence[str]) -> Iterator[None]:
    """Where reading a store goes wrong in this block, say which of its cases is damaged and what to do.

    inputs are the names that every case must have a value of. What is not the store's fault is raised as it is.
    """
    try:
        yield
    except _READING_FAILS as error:
        if found := _damage(Path(path), inputs):
            raise StudyError(found) from error
        raise


def _damage(path: Path, inputs: Sequence[str]) -> str:
    """What is damaged in a store, with what to do; "" where nothing is."""
    with read_store(path) as store, closing(store.base.cursor()) as rows:
        try:
            for number, *row in rows.execute(WHOLE_ROWS):
                if found := damage_of(inputs, *row):
                    return f"{path}, case {number}: is damaged ({found}); `sweep --retry` solves damaged cases anew"
        except sqlite3.Error as error:
            return f"{path}: is damaged ({error}); {START_ANEW}"
    return ""


def contents_digest(path: str | Path) -> str:
    """Fingerprint of all that a study decides: every column but the times. Two undisturbed stores of a study agree
    in it.
    """
    digest = hashlib.sha256()
    with read_store(path) as store:
        query = """SELECT c.number, status, reason, inputs, fingerprint, figures, warnings, packed
                   FROM cases c LEFT JOIN curves USING (number) ORDER BY c.number"""
        for row in store.base.execute(query):
            digest.update(repr(row).encode())
    return digest.hexdigest()
