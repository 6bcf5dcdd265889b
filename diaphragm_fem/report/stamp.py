"""What a sheet says of where it came from: the design's file, a fingerprint of what was computed, a date."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from diaphragm_fem.design.files.named_files import file_digests
from diaphragm_fem.design.files.said_date import said_date
from diaphragm_fem.design.files.write import to_toml
from diaphragm_fem.design.read.read import DesignFile
from diaphragm_fem.errors import plain

if TYPE_CHECKING:
    from diaphragm_fem.study.plan.study import Study

DIGITS = 8  # of the fingerprint: one in four thousand million for two designs to share it


@dataclass(frozen=True)
class Stamp:
    """Name of the file, fingerprint of its data with every change made, day as "2026-11-25"; each may be empty."""

    file: str = ""
    fingerprint: str = ""
    date: str = ""

    @property
    def words(self) -> str:
        """Of what: file and fingerprint; the date stands with the program."""
        return "  ".join(part for part in (self.file, self.fingerprint) if part)


def stamp_of(*files: DesignFile) -> Stamp:
    """Stamp of one design file, or of several together. Equal files give equal stamps: no clock is read.

    The fingerprint is the beginning of SHA-256 over the tables of each file with its changed keys; of files that a
    design names, such as a drawing, over what they hold too.
    """
    paths = [file.path for file in files if file.path is not None]
    held = [file_digests([file.data], file.path.parent) for file in files if file.path is not None]
    return Stamp(_named(paths), _fingerprint("".join(to_toml(file.data) for file in files), *held), date_of(paths))


def stamp_of_study(study: Study) -> Stamp:
    """Stamp of a study file; its fingerprint goes by the study's text, the tables of its base design and what the files
    hold that its designs name."""
    text = study.path.read_text(encoding="utf-8") if study.path.is_file() else ""
    told = _fingerprint(text + to_toml(study.recipe.base), study.recipe.files)
    return Stamp(_named([study.path]), told, date_of([study.path]))


def _fingerprint(told: str, *held: Mapping[str, str]) -> str:
    """Of a text and of the digests of files."""
    return sha256((told + "".join(digest for files in held for digest in files.values())).encode()).hexdigest()[:DIGITS]


def date_of(paths: Sequence[Path]) -> str:
    """The day in SOURCE_DATE_EPOCH where that is set, else of the latest change of the files; "" without files.

    Raises StudyError where SOURCE_DATE_EPOCH is no whole number of seconds since 1970.
    """
    if said := said_date():
        return said.date().isoformat()
    try:
        seconds = max((path.stat().st_mtime for path in paths if path.exists()), default=-1.0)
        return "" if seconds < 0 else datetime.fromtimestamp(seconds, UTC).date().isoformat()
    except (ValueError, OverflowError, OSError):  # of a file that was written in no year of a calendar
        return ""


def _named(paths: Sequence[Path]) -> str:
    if not paths:
        return ""
    others = f" and {len(paths) - 1} more" if len(paths) > 1 else ""
    return plain(paths[0].name) + others
