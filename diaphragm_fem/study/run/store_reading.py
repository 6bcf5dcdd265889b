"""Reading a result store, also while another process writes to it; what is damaged in one is told, never read."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from math import inf
from pathlib import Path
from types import NoneType
from typing import Any

from diaphragm_fem.design.files.input_file import LONGEST_TEXT, WHOLE, text_complaint
from diaphragm_fem.errors import StudyError, plain, typed
from diaphragm_fem.study.plan.amount import Written
from diaphragm_fem.study.plan.contents import what_changed
from diaphragm_fem.study.plan.study import Study
from diaphragm_fem.study.run.curve_packing import unpack_curves
from diaphragm_fem.study.run.store import (
    DONE,
    FAILED,
    FIGURES_VERSION,
    STOPPED,
    checksum,
    damage_told,
    damaged_cases,
    identity_in,
    is_folder,
)
from diaphragm_fem.study.run.store_lock import check_beside
from diaphragm_fem.study.run.store_tables import FORMAT, TROUBLE, check_tables, connected, shown, told

FIGURE, INPUT = (float, int, NoneType), (str, float, int)  # kinds of values
NOTHING_WRITTEN = ("readonly", "unable to open", "disk I/O")  # beside a store, for lack of permission or of room
LONGEST = 400  # letters of a name, of a figure in a band and a zone for example
SWEEP_AGAIN = "`sweep` the study again into a new store (name one with --store, or move this one away)"


@dataclass(frozen=True)
class Reading:
    """A store open for reading, also while another process writes; names of what varies in its study, where known."""

    path: Path
    base: sqlite3.Connection
    names: tuple[str, ...] = ()

    @property
    def about(self) -> dict[str, str]:
        return dict(self.base.execute("SELECT key, value FROM about"))

    def counts(self) -> dict[str, int]:
        return dict(self.base.execute("SELECT status, count(*) FROM cases GROUP BY status"))

    def reasons(self) -> Iterator[tuple[str, str | None, int]]:
        """How often each status was met, with each reason as stored."""
        for status, reason, count in self.base.execute(
            "SELECT status, reason, count(*) FROM cases GROUP BY status, reason"
        ):
            yield plain(status), reason and plain(reason), count

    def solved(self) -> Iterator[tuple[int, dict[str, Written], dict[str, float | None], dict[str, float]]]:
        """Number, inputs, figures and, of those that never come, by what they are judged, of every case that was
        solved, in order."""
        query = "SELECT number, inputs, figures, never FROM cases WHERE status = ? ORDER BY number"
        for number, inputs, figures, never in self.base.execute(query, (DONE,)):
            yield number, self._inputs(number, inputs), self._named(number, figures, FIGURE), self._never(number, never)

    def unsolved(self) -> Iterator[dict[str, Written]]:
        """Inputs of every case that failed or was stopped, in order."""
        query = "SELECT number, inputs FROM cases WHERE status IN (?, ?) ORDER BY number"
        for number, inputs in self.base.execute(query, (FAILED, STOPPED)):
            yield self._inputs(number, inputs)

    def _never(self, number: int, text: str | None) -> dict[str, float]:
        return self._named(number, text, (float, int)) if text else {}

    def _inputs(self, number: int, text: str) -> dict[str, Written]:
        found = self._named(number, text, INPUT)
        if self.names and tuple(found) != self.names:
            raise StudyError(damage_told(self.path, number))
        return found

    def _named(self, number: int, text: str, kinds: tuple[type, ...]) -> dict[str, Any]:
        """Values by name, as JSON; StudyError where they are anything else."""
        with suppress(ValueError, TypeError, AttributeError, RecursionError):
            found = json.loads(text)
            if all(_is_name(name) and isinstance(x, kinds) and _is_value(x) for name, x in found.items()):
                return dict(found)
        raise StudyError(damage_told(self.path, number))

    def _texts(self, number: int, text: str) -> list[str]:
        """Texts of a list, as JSON; StudyError where it is anything else."""
        with suppress(ValueError, RecursionError):
            found = json.loads(text)
            if isinstance(found, list) and all(isinstance(one, str) for one in found):
                return [plain(one) for one in found]
        raise StudyError(damage_told(self.path, number))

    def rows(self, status: str | None = None) -> Iterator[dict[str, Any]]:
        """Cases in order of their numbers, JSON read, curves left out."""
        where, what = ("WHERE status = ?", (status,)) if status else ("", ())
        columns = "number, status, reason, inputs, fingerprint, figures, never, warnings, seconds"
        query = f"SELECT {columns} FROM cases {where} ORDER BY number"
        for number, state, reason, inputs, fingerprint, figures, never, warnings, seconds in self.base.execute(
            query, what
        ):
            yield {
                "number": number,
                "status": plain(state),
                "reason": reason and plain(reason),
                "inputs": self._inputs(number, inputs),
                "fingerprint": fingerprint,
                "figures": self._named(number, figures, FIGURE) if figures or state == DONE else {},
                "never": self._never(number, never),
                "warnings": self._texts(number, warnings) if warnings else [],
                "seconds": seconds,
            }

    def curves(self, number: int) -> dict[str, Any]:
        """The curves of one case, {} where it has none."""
        found = self.base.execute("SELECT checksum, packed FROM curves WHERE number = ?", (number,)).fetchone()
        if found is None:
            return {}
        if checksum(identity_in(self.base), number, found[1]) != found[0]:
            raise StudyError(damage_told(self.path, number))
        try:
            return unpack_curves(found[1])
        except ValueError as error:
            raise StudyError(damage_told(self.path, number)) from error

    def check(self) -> None:
        """StudyError for a case that is not what was stored; curves are checked one by one as they are read."""
        for number in damaged_cases(self.base, curves=False):
            raise StudyError(damage_told(self.path, number))

    def check_figures(self) -> None:
        """StudyError where its figures are of another version than those that this program ranks by."""
        if (version := self.about.get("figures")) != FIGURES_VERSION:
            raise StudyError(
                f"{self.path}: holds figures of version {shown(version)}, and those of version {FIGURES_VERSION} are "
                f"ranked: names may mean something else; {SWEEP_AGAIN}"
            )

    def close(self) -> None:
        self.base.close()

    def __enter__(self) -> Reading:
        return self

    def __exit__(self, kind: object, error: object, trace: object) -> None:
        self.close()
        if isinstance(error, TROUBLE):
            raise StudyError(f"{self.path}: is damaged {told(error)}") from error


def read_store(path: str | Path, study: Study | None = None) -> Reading:
    """Open a store for reading, also where nothing may be written. StudyError where there is none, none that can be
    read, or (with a study) one that belongs to another."""
    path = Path(path)
    if is_folder(path):
        raise StudyError(f"{path}: is a folder; the store of results is a file in it, such as {path / 'cases.sqlite'}")
    if not path.is_file():
        command = "" if study is None else f": diaphragm-fem sweep {typed(study.path)}"
        raise StudyError(f"{path}: there is no store of results; run the study first{command}")
    check_beside(path)
    try:
        base = _open(path)
    except TROUBLE as error:
        raise StudyError(f"{path}: cannot be read as a store of results {told(error)}") from error
    reading = Reading(path, base, () if study is None else tuple(v.name for v in study.recipe.variables))
    about = reading.about
    if about.get("format") != FORMAT:
        base.close()
        raise StudyError(
            f"{path}: is in store format {shown(about.get('format'))} of version {shown(about.get('version'))}, and "
            f"this program reads format {FORMAT}; {SWEEP_AGAIN}"
        )
    if study is not None and about.get("study") != study.identity:
        base.close()
        changed = what_changed(about.get("contents"), study)
        raise StudyError(
            f"{path}: belongs to a study with other contents than {study.path} has now (or its base design, or a file "
            f"which that names){changed and ': '}{changed}; undo the change, or give --store the store of this one"
        )
    return reading


def _open(path: Path) -> sqlite3.Connection:
    place = f"{path.resolve().as_uri()}?mode=ro"
    base = connected(place, uri=True)
    try:
        _check_whose(base)
    except sqlite3.OperationalError as error:
        base.close()
        if not any(sign in str(error) for sign in NOTHING_WRITTEN):
            raise
        log = path.with_name(path.name + "-wal")
        if log.exists() and log.stat().st_size:  # an immutable reading would leave out what stands there alone
            raise StudyError(
                f"{path}: its latest cases stand in {log.name}, which cannot be read where nothing may be written "
                f"({error}); copy both files into a folder of your own and give --store the copy"
            ) from error
        base = connected(f"{place}&immutable=1", uri=True)
        _check_whose(base)
    return base


def _check_whose(base: sqlite3.Connection) -> None:
    check_tables(base)
    if {"format", "figures", "study", "version"} - dict(base.execute("SELECT key, value FROM about")).keys():
        raise sqlite3.DatabaseError("it does not say what made it")


@lru_cache(maxsize=10_000)  # a study has some dozens, and asking of each in each row took twice as long as reading it
def _is_name(name: str) -> bool:
    return not text_complaint(name, LONGEST)


def _is_value(value: Any) -> bool:
    """Whether a study may have a value: a text or whole number as a design file may hold, or a number with an end."""
    if isinstance(value, str):
        return not text_complaint(value, LONGEST_TEXT)
    if value is None or isinstance(value, bool):
        return value is None
    return abs(value) < (WHOLE if isinstance(value, int) else inf)
