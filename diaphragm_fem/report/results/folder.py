"""A folder of results, written whole or not at all, by jobs that share the cores; which files in it are ours."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diaphragm_fem.answer.machine.cores import on_all_cores
from diaphragm_fem.design.files.input_file import read_record
from diaphragm_fem.design.files.whole_file import DRAFT, draft_prefix, is_dead
from diaphragm_fem.errors import StudyError
from diaphragm_fem.report.files.json_text import write_json
from diaphragm_fem.report.stamp import Stamp

if TYPE_CHECKING:
    from diaphragm_fem.report.sheets.sheet import Listed


RECORD = "result.json"  # names the files of a run; a folder that has one is ours to write into again

Tell = Callable[[str], None]
Job = Callable[[], list[Path]]  # makes files


def check_folder(folder: Path) -> None:
    """Raise StudyError where results may not go: a file, or a folder with somebody else's contents."""
    if folder.is_file():
        raise StudyError(f"--out must name a folder, received '{folder}', which is a file; give another name")
    if folder.is_dir() and not (folder / RECORD).is_file() and any(folder.iterdir()):
        raise StudyError(
            f"--out must name a new or empty folder or one with results of an earlier run; '{folder}' holds other "
            "files; give another name"
        )


def record(draft: Path, design: str, data: dict[str, Any], names: Sequence[str]) -> list[str]:
    """Write the design's text, where there is one, and the data with the names of all files; the names of both."""
    if design:
        (draft / "design.toml").write_text(design, encoding="utf-8")
    own = ["design.toml", RECORD] if design else [RECORD]
    write_json(draft / RECORD, {**data, "files": [*names, *own]})
    return own


def names_made(jobs: Sequence[Job]) -> list[str]:
    """Names of the files that the jobs make, side by side where the machine has cores for it; in the order of the jobs.

    The long ones go first, so that all cores end together.
    """
    return [path.name for made in on_all_cores(lambda job: job(), jobs) for path in made]


def sheet_jobs(listing: Sequence[Listed], answer: Any, folder: Path, stamp: Stamp | None) -> list[Job]:
    """The pictures that an answer has what it takes for."""
    from diaphragm_fem.report.sheets.listing import sheets_for, write_sheet

    return [partial(write_sheet, listed, answer, folder, stamp=stamp) for listed in sheets_for(listing, answer)]


@contextmanager
def all_or_nothing(folder: Path) -> Iterator[Path]:
    """A folder beside the wanted one to write into; its files move over when all of them are there and no folder has
    the name of one. They move one by one, the record last: where the disk fails on the way, new ones stand beside the
    old record."""
    folder = Path(os.path.realpath(folder))
    try:
        with parents_made(folder):
            remove_dead_drafts(folder.parent)
            draft = Path(tempfile.mkdtemp(prefix=draft_prefix(), dir=folder.parent))
            try:
                yield draft
                before = _files_of(folder)
                folder.mkdir(exist_ok=True)
                names = [path.name for path in draft.iterdir()]
                if in_the_way := next((name for name in names if (folder / name).is_dir()), ""):
                    words = f"a folder has the name '{in_the_way}'; move it"
                    raise StudyError(f"{folder}: the results cannot be written: {words}")
                for name in sorted(names, key=lambda name: name == RECORD):
                    os.replace(draft / name, folder / name)
                for name in filter(is_own, before - set(names)):
                    (folder / name).unlink(missing_ok=True)
            finally:
                shutil.rmtree(draft, ignore_errors=True)
    except OSError as error:
        which = f" ({Path(error.filename2).name})" if error.filename2 else ""
        raise StudyError(
            f"{folder}: the results cannot be written: {error.strerror or error}{which}; give another folder, or make "
            "room there"
        ) from error


def remove_dead_drafts(folder: Path) -> None:
    """Take away what processes that were killed while drawing or writing have left in a folder."""
    for path in folder.glob(f"{DRAFT}*-*"):
        if is_dead(path) and not path.is_symlink():
            if path.is_dir():
                shutil.rmtree(path, ignore_errors=True)
            elif path.is_file():
                with suppress(OSError):
                    path.unlink()


@contextmanager
def parents_made(place: Path) -> Iterator[None]:
    """The folders above a place, made for this block, and taken away again where that left them empty."""
    missing = [parent for parent in place.parents if not parent.exists()]
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        yield
    finally:
        for parent in missing:
            with suppress(OSError):  # it holds something now
                parent.rmdir()


def _files_of(folder: Path) -> set[str]:
    """Files that an earlier run recorded as its own, plain names only."""
    names = read_record(folder / RECORD).get("files")
    listed = names if isinstance(names, list) else []
    return {name for name in listed if isinstance(name, str) and Path(name).name == name}


PATTERN = re.compile(r"shapes_m\d+\.vtu|measured_\d+\.png|study_of_.+\.toml")


def is_own(name: str) -> bool:
    """Whether this program writes files of that name into a folder of results."""
    from diaphragm_fem.report.files import curves, design, stroke
    from diaphragm_fem.report.sheets.listing import OF_A_DESIGN
    from diaphragm_fem.report.sheets.listing_of_strokes import OF_A_STROKE

    stem, _, ending = name.rpartition(".")
    stems = {
        "png": {listed.name for listed in (*OF_A_DESIGN, *OF_A_STROKE)},
        "csv": {*design.TABLES, *design.FILES_ALONE, *stroke.TABLES},
        "md": {"summary", "stroke"},
        "pdf": {"summary", "design"},
    }
    alone = ("design.html", "design.toml", "result.json", *curves.FILES)
    return stem in stems.get(ending, ()) or name in alone or PATTERN.fullmatch(name) is not None
