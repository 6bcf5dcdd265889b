"""The result store: one SQLite file per study, a row per case, curves in a table beside it.

Every commit is a whole number of cases and is on the disk when it returns (write-ahead log, synchronous = FULL), so
that a kill or a power cut at any moment loses at most what was not yet committed. One process writes; any number
read. Every row and every curve carries a checksum of its own and of its study, so that what a disk, a copy or a hand
has changed, or brought from another store, is found and never ranked.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import socket
import sqlite3
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from diaphragm_fem import __version__
from diaphragm_fem.errors import StudyError, plain
from diaphragm_fem.study.plan.contents import contents, what_changed
from diaphragm_fem.study.plan.study import Study
from diaphragm_fem.study.run.store_lock import check_beside, locked
from diaphragm_fem.study.run.store_tables import FORMAT, TROUBLE, connected, make_tables, of_another_kind, shown, told

BEGINS_WITH = b"SQLite format 3\0"
FIGURES_VERSION = "29"  # grows where definitions or equations move figures: results of two are never ranked together
CHECKPOINT_SECONDS = 20.0  # rows older than this stand in the store itself and no longer in its log alone
DONE, FAILED, STOPPED, DISCARDED = "done", "failed", "stopped", "discarded"

_SEALED_ROWS = """
SELECT {}, cases.checksum, number, status, reason, inputs, fingerprint, figures, never, warnings, seconds,
curves.checksum
FROM cases LEFT JOIN curves USING (number) ORDER BY number"""


@dataclass(frozen=True)
class Row:
    """One case as it is stored. Texts are JSON; figures, warnings and curves are None where it was not solved.

    never: of figures that do not exist because what they tell of does not come, by what each is judged.
    """

    number: int
    status: str
    reason: str | None
    inputs: str
    fingerprint: bytes | None
    figures: str | None = None
    warnings: str | None = None
    curves: bytes | None = None
    seconds: float | None = None
    never: str | None = None


def checksum(study: str, *parts: Any) -> bytes:
    """Eight bytes that change when any of the parts does, or the study: numbers, texts, bytes or None."""
    text = b"\0".join(part if isinstance(part, bytes) else str(part).encode() for part in (study, *parts))
    return hashlib.blake2b(text, digest_size=8).digest()


def damaged_cases(base: sqlite3.Connection, *, curves: bool) -> Iterator[int]:
    """Numbers of the cases whose row, or (where asked for) whose curves, are no longer what was stored. A curve that is
    lost altogether counts as damage to its row."""
    study = identity_in(base)
    for odd, seal, *row in base.execute(_SEALED_ROWS.format(of_another_kind("cases"))):
        if odd or checksum(study, *row) != seal:
            yield row[0]
    if curves:
        columns = f"{of_another_kind('curves')}, number, checksum, packed"
        for odd, number, seal, packed in base.execute(f"SELECT {columns} FROM curves"):
            if odd or checksum(study, number, packed) != seal:
                yield number


def identity_in(base: sqlite3.Connection) -> str:
    """Of the study to which a base belongs."""
    return str(base.execute("SELECT value FROM about WHERE key = 'study'").fetchone()[0])


def damage_told(path: Path, number: int) -> str:
    return f"{path}, case {number}: is damaged (it is not what was stored); `sweep --retry` solves damaged cases anew"


class Store:
    """The store of one study, open for writing: `with open_store(study) as store`."""

    def __init__(self, path: Path, base: sqlite3.Connection, lock: Any) -> None:
        self.path = path
        self._base = base
        self._lock = lock
        self._study = identity_in(base)
        self._file = path.stat()
        self._run = 0
        self._checkpointed = time.monotonic()
        self._ahead = time.time() - self._checkpointed

    @property
    def joints(self) -> Path:
        """The file beside the store in which solvers share what joints yield."""
        return self.path.resolve().with_suffix(".joints")

    def begin_run(self, workers: int) -> None:
        with self._whole():
            last = self._base.execute("SELECT max(seen) FROM runs").fetchone()[0] or 0.0
            self._ahead += max(last - self._now, 0.0)  # the clock was put back between two runs
            now = self._now
            cursor = self._base.execute(
                "INSERT INTO runs (begun, seen, host, process, workers) VALUES (?, ?, ?, ?, ?)",
                (now, now, socket.gethostname(), os.getpid(), workers),
            )
            self._run = int(cursor.lastrowid or 0)

    def end_run(self, ending: str) -> None:
        """Tell how the run ended that was begun, if one was."""
        if self._run:
            told = self._now, ending, self._run
            with self._whole():
                self._base.execute("UPDATE runs SET seen = ?, ending = ? WHERE number = ?", told)

    @property
    def _now(self) -> float:
        """Seconds since 1970 as the clock had them when the store was opened and from there on by one that nobody puts;
        rates are told by them."""
        return time.monotonic() + self._ahead

    def add(self, rows: Iterable[Row]) -> None:
        """Put cases into the store in one transaction: after this returns they survive anything but the disk's own end.

        A case that is there already is left as it is. Raises StudyError where the disk is full; what was stored
        before stays.
        """
        now = self._now
        cases, curves = [], []
        for r in rows:
            seal = None if r.curves is None else checksum(self._study, r.number, r.curves)
            row = (r.number, r.status, r.reason, r.inputs, r.fingerprint, r.figures, r.never, r.warnings, r.seconds)
            cases.append((*row, now, checksum(self._study, *row, seal)))
            if seal is not None:
                curves.append((r.number, seal, r.curves))
        with self._whole():
            self._base.executemany("INSERT OR IGNORE INTO cases VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", cases)
            self._base.executemany("INSERT OR IGNORE INTO curves VALUES (?, ?, ?)", curves)
            self._base.execute("UPDATE runs SET seen = ? WHERE number = ?", (now, self._run))
        if time.monotonic() - self._checkpointed >= CHECKPOINT_SECONDS:
            self._checkpointed = time.monotonic()
            with contextlib.suppress(sqlite3.Error):  # a reader is in the way: the next one will do
                self._base.execute("PRAGMA wal_checkpoint(PASSIVE)")

    def check(self) -> None:
        """StudyError for a store that cannot be read as a whole, and for a case that is not what was stored."""
        try:
            found = self._base.execute("PRAGMA quick_check(1)").fetchone()[0]
            if found != "ok":
                raise sqlite3.DatabaseError(found.replace("\n", " "))
            for number in damaged_cases(self._base, curves=True):
                raise StudyError(damage_told(self.path, number))
        except TROUBLE as error:
            raise StudyError(f"{self.path}: is damaged {told(error)}") from error

    def forget_failures(self) -> int:
        """Take out cases that failed, were stopped or are damaged, so that they are tried again; how many they were."""
        with self._whole():
            count = self._base.execute("DELETE FROM cases WHERE status IN (?, ?)", (FAILED, STOPPED)).rowcount
            damaged = [(number,) for number in set(damaged_cases(self._base, curves=True))]
            self._base.executemany("DELETE FROM cases WHERE number = ?", damaged)
            self._base.executemany("DELETE FROM curves WHERE number = ?", damaged)
            return count + len(damaged)

    def numbers(self) -> Iterator[int]:
        """Numbers of the cases that are there."""
        return (number for (number,) in self._base.execute("SELECT number FROM cases"))

    def counts(self) -> dict[str, int]:
        return dict(self._base.execute("SELECT status, count(*) FROM cases GROUP BY status"))

    def count_lost(self, reasons: tuple[str, ...]) -> int:
        """Cases that were stopped, or failed for a reason that begins like one of these."""
        ended = self._base.execute("SELECT status, reason FROM cases WHERE status IN (?, ?)", (FAILED, STOPPED))
        return sum(status == STOPPED or (reason or "").startswith(reasons) for status, reason in ended)

    def close(self) -> None:
        with contextlib.suppress(sqlite3.Error):
            self._base.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        self._base.close()
        self._lock.close()

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _is_in_its_place(self) -> bool:
        """SQLite would go on writing into a file that is gone, and nobody find it again."""
        with contextlib.suppress(OSError):
            return os.path.samestat(self.path.stat(), self._file)
        return False

    @contextlib.contextmanager
    def _whole(self) -> Iterator[None]:
        """A transaction: all of it or nothing."""
        if not self._is_in_its_place():
            raise StudyError(
                f"{self.path}: was moved or taken away while it was written. Put it back and start the study again, "
                "which goes on from there, or begins anew where there is none"
            )
        try:
            self._base.execute("BEGIN IMMEDIATE")
            yield
            self._base.execute("COMMIT")
        except sqlite3.Error as error:
            with contextlib.suppress(sqlite3.Error):
                self._base.execute("ROLLBACK")
            raise StudyError(
                f"{self.path}: cannot be written ({error}). What was stored before is safe: "
                "free space or mend the disk, then start the study again and it goes on from there"
            ) from error
        except BaseException:
            with contextlib.suppress(sqlite3.Error):
                self._base.execute("ROLLBACK")
            raise


def place_of(study: Study, path: str | Path | None = None) -> Path:
    """Where the store of a study is, or will be; StudyError for a folder."""
    path = Path(path) if path else study.store_path
    if is_folder(path):
        raise StudyError(
            f"{path}: is a folder, and a store of results is a file; give a file in it, such as {path / 'cases.sqlite'}"
        )
    if path.exists() and not path.is_file():
        raise StudyError(f"{path}: is a pipe, a device or the like, and a store is a file; give another name")
    with contextlib.suppress(OSError), path.open("rb") as file:  # SQLite writes over what is shorter than a page
        if not BEGINS_WITH.startswith(file.read(len(BEGINS_WITH))):
            raise StudyError(f"{path}: is a file of another kind, which is left as it is; give another name")
    return path


def is_folder(path: Path) -> bool:
    """Whether a place is a folder; StudyError where that cannot be told: a name too long, a folder shut to the user."""
    try:
        return path.is_dir()
    except OSError as error:
        raise StudyError(f"{path}: no store can be there ({error.strerror or error}); give --store another") from error


def open_store(study: Study, path: str | Path | None = None) -> Store:
    """Open the store of a study for writing, or make it. The caller alone may write until it is closed.

    Raises StudyError where another process writes to it, where it belongs to another study or was made by
    another version of the program.
    """
    path = place_of(study, path)
    lock = locked(path)
    try:
        check_beside(path)
        base = _connect(path)
        _claim(base, study, path)
    except TROUBLE as error:
        lock.close()
        raise StudyError(f"{path}: cannot be opened as a store of results {told(error)}") from error
    except BaseException:
        lock.close()
        raise
    return Store(path, base, lock)


def _connect(path: Path) -> sqlite3.Connection:
    # of a name by itself SQLite may make no file: ":memory:", or an address that begins with "file:"
    base = connected(path.absolute(), isolation_level=None)
    base.execute("PRAGMA page_size = 16384")
    base.execute("PRAGMA journal_mode = WAL")
    base.execute("PRAGMA synchronous = FULL")
    base.execute("PRAGMA busy_timeout = 30000")  # once rows are there to be kept, they are worth waiting for
    return base


def _claim(base: sqlite3.Connection, study: Study, path: Path) -> None:
    """Write down whose store this is, or refuse one that is another's."""
    make_tables(base)
    about = dict(base.execute("SELECT key, value FROM about"))
    mine = {"format": FORMAT, "study": study.identity, "figures": FIGURES_VERSION, "version": __version__}
    if not about:
        text = study.path.read_text(encoding="utf-8") if study.path.exists() else ""
        shell = "with ends, joints and thick walls" if study.recipe.joints else "bare"
        names = {"name": study.name, "file": str(study.path), "origin": study.recipe.origin}
        kept = {"text": text, "shell": shell, "contents": json.dumps(contents(study))}
        notes = {**{key: plain(name) for key, name in names.items()}, **kept}
        base.execute("BEGIN IMMEDIATE")
        base.executemany("INSERT INTO about VALUES (?, ?)", list({**mine, **notes}.items()))
        base.execute("COMMIT")
        return
    names = {
        "format": "in store format", "study": "for a study with other contents",
        "figures": "with figures of version", "version": "by version",
    }  # fmt: skip
    for key, value in mine.items():
        if about.get(key) != value:
            found = f" {shown(about.get(key))} (this is {value})"
            if key == "study":
                changed = what_changed(about.get("contents"), study)
                found = f" ({changed})" if changed else ""
            raise StudyError(
                f"{path}: was made {names[key]}{found}, and results of the two must not be mixed. Undo the change (of "
                "the study, its base design or a file which that names), or name another store, or move this one away"
            )
