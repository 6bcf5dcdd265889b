"""Where verbs write: refused before any work where that cannot be, and told in one message where it goes wrong."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from diaphragm_fem.errors import StudyError


def check_out_folder(folder: Path) -> None:
    """Raise StudyError where no files can be put into a folder, which need not be there yet."""
    there = next((place for place in (folder, *folder.absolute().parents) if place.exists()), folder)
    if not there.is_dir():
        where = "which" if there == folder else f"but '{there}'"
        raise StudyError(f"--out must name a folder, received '{folder}', {where} is a file; give another name")
    if not os.access(there, os.W_OK | os.X_OK):
        raise StudyError(
            f"--out must name a folder where files may be written, received '{folder}': no permission to write in "
            f"'{there}'; give another folder"
        )


@contextmanager
def writing_to(place: Path) -> Iterator[None]:
    """Tell what goes wrong with writing in this block as one message about the place."""
    try:
        yield
    except OSError as error:
        raise StudyError(
            f"{error.filename or place}: cannot be written: {error.strerror or error}; give another place with --out, "
            "or make room there"
        ) from error


@contextmanager
def made_folder_of(file: Path) -> Iterator[None]:
    """Make the folder of a file for this block, and take it away again where the block fails and left it empty."""
    missing = [folder for folder in file.parents if not folder.exists()]
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        yield
    except OSError as error:
        raise StudyError(f"{file}: cannot be written: {error.strerror or error}; give another place") from error
    finally:
        for folder in missing:
            with suppress(OSError):  # it holds something now
                folder.rmdir()
