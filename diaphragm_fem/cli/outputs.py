"""Where verbs write: refused before any work where that cannot be, and told in one message where it goes wrong."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from diaphragm_fem.errors import StudyError, echo, plain

if TYPE_CHECKING:
    from diaphragm_fem.design.read.read import DesignFile

KINDS = ("compared", "walls", "study", "stroke", "design")  # a folder of results ends in its kind; examine's does not
LONGEST_STEM = 100


def results_folder(kind: str, *stems: str) -> Path:
    """The folder of results of files of these names: no two kinds of result ever share one.

    An examination (kind "") has the plain name, results/dome; others end in their kind, results/dome.walls; a design
    whose own name ends so is told apart by ".design".
    """
    name = "_against_".join(stems)
    if len(stems) > 1 and len(name) > LONGEST_STEM:
        others = sha256("\n".join(stems).encode("utf-8", "surrogateescape")).hexdigest()[:6]
        name = f"{stems[0]}_against_{len(stems) - 1}_others_{others}"
    if not kind and name.rpartition(".")[2] in KINDS:
        kind = "design"
    return Path("results") / (f"{name}.{kind}" if kind else name)


def check_out_folder(folder: Path) -> None:
    """Raise StudyError where no files can be put into a folder, which need not be there yet."""
    check_name(folder)
    there = next((place for place in (folder, *folder.absolute().parents) if place.exists()), folder)
    if not there.is_dir():
        where = "which" if there == folder else f"but '{there}'"
        raise StudyError(f"--out must name a folder, received '{folder}', {where} is a file; give another name")
    if not os.access(there, os.W_OK | os.X_OK):
        raise StudyError(
            f"--out must name a folder where files may be written, received '{folder}': no permission to write in "
            f"'{there}'; give another folder"
        )


def own_folder(out: Path | None, kind: str, stem: str) -> Path:
    """The folder of one design's results; refused before any work where they cannot go there."""
    from diaphragm_fem.report.results.folder import check_folder

    folder = out or results_folder(kind, stem)
    check_out_folder(folder)
    check_folder(folder)
    return folder


def check_out_file(path: Path, endings: tuple[str, ...]) -> Path:
    """The path; StudyError where it has none of the endings, or no file can be written there."""
    if path.suffix not in endings:
        example = path.with_suffix(endings[0]) if path.stem else f"drawing{endings[0]}"
        raise StudyError(f"--out must end in {' or '.join(endings)}, received '{path}'; write for example {example}")
    check_place(path)
    return path


def check_place(path: Path, option: str = "--out") -> None:
    """Raise StudyError where no file can be written at a path that an option, or an argument, names."""
    check_name(path, "", option)
    there = next(place for place in (path, *path.absolute().parents) if place.exists())
    if path.is_dir() or not (there == path or there.is_dir()):
        where = "which is a folder" if path.is_dir() else f"but '{there}' is a file"
        raise StudyError(f"{option} must name a file, received '{path}', {where}; give another")
    if not os.access(there, os.W_OK):
        raise StudyError(
            f"{option} must name a file that may be written, received '{path}': no permission; give another"
        )


def check_name(place: Path, inside: str = "x" * 60, option: str = "--out") -> None:
    """Raise StudyError where the file system takes no such name, for itself or for a file `inside` the folder."""
    try:
        with suppress(FileNotFoundError, NotADirectoryError, PermissionError):
            (place / inside).lstat()
    except (OSError, ValueError) as error:  # too long, or a NUL in it
        reason = getattr(error, "strerror", None) or error
        raise StudyError(f"{option}: no file can have the name {echo(str(place))} ({reason}); give another") from error


@contextmanager
def writing_to(place: Path) -> Iterator[None]:
    """Tell what goes wrong with writing in this block as one message about the place, a folder or a file, where what
    killed processes have left of theirs is taken away first."""
    from diaphragm_fem.report.results.folder import remove_dead_drafts

    try:
        remove_dead_drafts(place if place.is_dir() else place.parent)
        yield
    except OSError as error:
        raise StudyError(
            f"{error.filename or place}: cannot be written: {error.strerror or error}; give another place, "
            "or make room there"
        ) from error


@contextmanager
def writing_file(file: Path) -> Iterator[None]:
    """The same of one file, whose folder is made for this block, and taken away again where that left it empty."""
    from diaphragm_fem.report.results.folder import parents_made

    with writing_to(file), parents_made(file):
        yield


def kept_design(file: DesignFile, change: list[str] | None, folder: Path) -> str:
    """The design as examined, its changed keys written in, as text to keep beside its results."""
    from diaphragm_fem.design.files.named_files import moved_to
    from diaphragm_fem.design.files.write import to_toml

    path = file.path or Path("design")
    remarks = [f"What the results in this folder were computed from: {path}", *(f"changed: {x}" for x in change or ())]
    return "".join(f"# {plain(remark)}\n" for remark in remarks) + to_toml(moved_to(file.data, path.parent, folder))
