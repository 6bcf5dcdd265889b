"""What a store is made of, and what else a file that is given for one may not hold."""

import contextlib
import sqlite3
from pathlib import Path
from typing import Any

from diaphragm_fem.errors import echo

FORMAT = "4"
TABLES = """
CREATE TABLE IF NOT EXISTS about (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS runs (
    number INTEGER PRIMARY KEY, begun REAL NOT NULL, seen REAL, host TEXT, process INTEGER, workers INTEGER, ending
    TEXT);
CREATE TABLE IF NOT EXISTS cases (
    number INTEGER PRIMARY KEY, status TEXT NOT NULL, reason TEXT, inputs TEXT NOT NULL, fingerprint BLOB,
    figures TEXT, never TEXT, warnings TEXT, seconds REAL, stored REAL, checksum BLOB NOT NULL);
CREATE TABLE IF NOT EXISTS curves (number INTEGER PRIMARY KEY, checksum BLOB NOT NULL, packed BLOB NOT NULL);
"""
MOST_BYTES = 64 * 2**20  # of a value; a case's curves take some kilobytes
TROUBLE = (sqlite3.Error, UnicodeDecodeError)  # the second where SQLite cites what is damaged
NO_ROOM = ("full", "disk I/O", "unable to open")  # SQLite's words, the last two of what it keeps beside a store
PATIENCE = 5.0  # s that a store is waited for which another program has locked


def own_tables() -> dict[str, str]:
    """What a store is made of: name and text of each table."""
    with contextlib.closing(sqlite3.connect(":memory:")) as base:
        base.executescript(TABLES)
        return tables_of(base)


def tables_of(base: sqlite3.Connection) -> dict[str, str]:
    """Name and text of every table, view, index and trigger, without those that SQLite keeps for itself."""
    rows = base.execute("SELECT name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite~_%' ESCAPE '~'")
    return {name: " ".join((text or "").split()) for name, text in rows}


def check_tables(base: sqlite3.Connection) -> None:
    """sqlite3.DatabaseError where a base lacks a table of a store or has anything that no store has. One that says it
    is of another format is left to be refused by that."""
    found, own = tables_of(base), own_tables()
    query = "SELECT 1 FROM about WHERE key = 'format' AND value != ?"
    if found.get("about") == own["about"] and base.execute(query, (FORMAT,)).fetchone():
        return
    if missing := [f"'{name}'" for name in own if name not in found]:
        raise sqlite3.DatabaseError(f"without its table {' and '.join(missing)}")
    if strange := [echo(name) for name, text in found.items() if own.get(name) != text]:
        raise sqlite3.DatabaseError(f"with {' and '.join(strange[:4])}, which this program does not make so")

    for name in ("about", "runs"):  # rows of cases are looked at one by one
        if base.execute(f"SELECT 1 FROM {name} WHERE {of_another_kind(name)} LIMIT 1").fetchone():
            raise sqlite3.DatabaseError(f"with a value of another kind in its table '{name}'")


def of_another_kind(table: str) -> str:
    """SQL that is true of a row in which a value is not of the kind that its column says: SQLite takes any."""
    with contextlib.closing(sqlite3.connect(":memory:")) as base:
        base.executescript(TABLES)
        columns = base.execute(f"PRAGMA table_info({table})").fetchall()
    kinds = [
        f"typeof({table}.{name}) NOT IN ('{kind.lower()}', '{'' if needed else 'null'}')"
        for _, name, kind, needed, *_ in columns
    ]
    return f"({' OR '.join(kinds)})"


def make_tables(base: sqlite3.Connection) -> None:
    """Make the tables of a store where there are none. A store, or a base of another program, in which nothing is to be
    made, is checked."""
    if tables_of(base):
        check_tables(base)
    else:
        base.executescript(f"BEGIN IMMEDIATE;{TABLES}COMMIT;")


def connected(place: str | Path, **how: Any) -> sqlite3.Connection:
    """A connection on which no value is larger than a store has, and nothing in the file is run."""
    base = sqlite3.connect(place, timeout=PATIENCE, **how)
    base.text_factory = read_text
    base.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, MOST_BYTES)
    base.execute("PRAGMA trusted_schema = OFF")
    return base


def told(error: Exception) -> str:
    """What is the matter where a store cannot be opened or read, and what to do."""
    words = "what it says of its tables is no text" if isinstance(error, UnicodeError) else str(error)
    do = "move it away and start the study again, or put a copy of it back"
    if "locked" in words or "locking" in words:
        do = "close the program that has it open; where none has, give --store a place on a disk of this machine"
    elif any(sign in words for sign in NO_ROOM):
        do = "make room there for it and for files beside it, or mend the disk, then start the study again"
    return f"({words}); {do}"


def read_text(stored: bytes) -> str:
    """A text as it comes from the disk: one that is none any more fails its checksum, and nothing before."""
    return stored.decode(errors="replace")


def shown(said: str | None) -> str:
    """What a store says of itself, as messages repeat it."""
    return echo(said).strip("'")
