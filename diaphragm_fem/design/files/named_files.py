"""The files that a design names beside itself: materials, meridian or drawing, a second section."""

import copy
import os
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any

from diaphragm_fem.design.files.input_file import parse_toml, read_file_bytes
from diaphragm_fem.design.files.key_path import read_path, write_path
from diaphragm_fem.errors import DesignError

OWN_KEYS = ("materials_file", "profile.file")
SECOND_SECTION = "second_section.file"  # a design that names files of its own
FILE_KEYS = (*OWN_KEYS, SECOND_SECTION)


def moved_to(design: Mapping[str, Any], old: Path, new: Path) -> dict[str, Any]:
    """The design with the relative paths of its files rewritten for another folder."""
    moved = copy.deepcopy(dict(design))
    for key, name in named_files(moved):
        if not Path(name).is_absolute():
            write_path(moved, key, os.path.relpath(old / name, new))
    return moved


def named_files(design: Mapping[str, Any], keys: Iterable[str] = FILE_KEYS) -> Iterator[tuple[str, str]]:
    """Key and name of each file that a design's data name."""
    for key in keys:
        with suppress(KeyError):
            if isinstance(name := read_path(design, key), str):
                yield key, name


def file_digests(designs: Iterable[Mapping[str, Any]], folder: Path) -> dict[str, str]:
    """SHA-256 of what the files hold that the designs of a folder name, by the name as written; a second section's own
    files too. Empty for a file that cannot be read: who reads it says why."""
    found: dict[str, str] = {}
    for design in designs:
        for key, name in named_files(design):
            found[name] = _digest(folder / name)
            if key == SECOND_SECTION:
                place = (folder / name).parent
                own = named_files(_data(folder / name), OWN_KEYS)
                found |= {f"{name}, {other}": _digest(place / other) for _, other in own}
    return found


def _digest(path: Path) -> str:
    try:
        return sha256(read_file_bytes(path)).hexdigest()
    except DesignError:
        return ""


def _data(path: Path) -> dict[str, Any]:
    try:
        return parse_toml(read_file_bytes(path).decode())
    except (DesignError, UnicodeDecodeError):
        return {}
