"""Reading a result store, also while another process writes to it."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diaphragm_fem.errors import StudyError
from diaphragm_fem.study.packing import unpack_curves
from diaphragm_fem.study.store import DONE


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
                "figures": json.loads(figures) if figures else {},
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
    """Open a store for reading. StudyError where there is none."""
    path = Path(path)
    if not path.is_file():
        raise StudyError(f"{path}: there is no store of results; run the study first")
    try:
        base = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, timeout=30)
        if not base.execute("SELECT value FROM about WHERE key = 'format'").fetchone():
            raise sqlite3.DatabaseError("it says nothing about itself")
    except sqlite3.Error as error:
        raise StudyError(f"{path}: cannot be read as a store of results ({error})") from error
    return Reading(path, base)


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
