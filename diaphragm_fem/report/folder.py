"""The folder of results of one design: pictures, pages and numbers, written whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.answer.machine.cores import on_all_cores, others_begin
from diaphragm_fem.design.files.input_file import read_record
from diaphragm_fem.errors import StudyError
from diaphragm_fem.report.export import FILES_ALONE, TABLES, Make, as_mapping
from diaphragm_fem.report.json_text import write_json
from diaphragm_fem.report.own_files import is_own
from diaphragm_fem.report.shapes_out import write_shapes
from diaphragm_fem.report.stamp import Stamp
from diaphragm_fem.report.summary import markdown
from diaphragm_fem.report.table import from_columns, write_csv

if TYPE_CHECKING:
    from diaphragm_fem.answer.stroke.stroke import StrokeAnswer
    from diaphragm_fem.report.sheets.sheet import Listed

RECORD = "result.json"  # names the files of a run; a folder that has one is ours to write into again

DRAFT = ".diaphragm-fem-draft-"  # begins the name of a folder not yet complete; then its process, and letters

MOST_MEASURED = 24  # curves that get a sheet of their own; numbers are written of all

Tell = Callable[[str], None]
Job = Callable[[], list[Path]]  # makes files


def check_folder(folder: Path) -> None:
    """Raise StudyError where results may not go: a file, or a folder with somebody else's contents."""
    if folder.is_file():
        raise StudyError(f"--out must name a folder, received '{folder}', which is a file; give another name")
    if folder.is_dir() and not (folder / RECORD).exists() and any(folder.iterdir()):
        raise StudyError(
            f"--out must name a new or empty folder or one with results of an earlier run; '{folder}' holds other "
            "files; give another name"
        )


def write_folder(
    evaluation: Answer,
    folder: Path,
    *,
    design: str = "",
    stroke: StrokeAnswer | None = None,
    stamp: Stamp | None = None,
    pdf: bool = False,
    for_others: bool = False,
    tell: Tell = lambda _: None,
) -> list[Path]:
    """Write everything about one evaluation, and about its large stroke where that was asked; returns the files in the
    order a reader wants them.

    `design` is the text of the design file as evaluated, kept as design.toml where given; `stamp` says on every sheet
    where it comes from; `for_others` asks for curves and shapes in the forms of curves_out.py. Files of an earlier run
    that this one does not make are removed. Raises StudyError where it cannot be written.
    """
    check_folder(folder)
    with complete_or_nothing(folder) as draft:
        tell("drawing, and writing numbers and pages")
        jobs: list[Job] = [
            partial(_moving_page, evaluation, draft, design, stamp, pdf),
            partial(_shapes, evaluation, draft),  # all in one: meshio takes 0.2 s to load
            partial(_summary, evaluation, draft),
        ]
        columns = {**TABLES, **FILES_ALONE}.items()
        jobs += [partial(_numbers, evaluation, draft / f"{name}.csv", make) for name, make in columns]
        if stroke is not None:
            from diaphragm_fem.report.stroke_files import stroke_mapping, write_stroke_tables

            jobs.append(partial(write_stroke_tables, stroke, draft))
        if for_others:
            from diaphragm_fem.report.curves_out import write_for_others

            jobs.append(partial(write_for_others, evaluation, draft))
        with others_begin(_done, jobs) as written:  # while this core loads what draws, 0.3 s
            pictures = _sheets(evaluation, draft, stamp, pdf)
            if stroke is not None:
                from diaphragm_fem.report.sheets.listing_of_strokes import OF_A_STROKE

                pictures += sheet_jobs(OF_A_STROKE, stroke, draft, stamp)
            drawn = names_made(pictures)
            page, *others = ([path.name for path in made] for made in written())
        names = [*page, *drawn, *chain.from_iterable(others)]
        data = as_mapping(evaluation)
        if stroke is not None:
            data["stroke"] = stroke_mapping(stroke)
        names += record(draft, design, data, names)
    return [folder / name for name in names]


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
    return [path.name for made in on_all_cores(_done, jobs) for path in made]


def _done(job: Job) -> list[Path]:
    return job()


def sheet_jobs(listing: Sequence[Listed], answer: Any, folder: Path, stamp: Stamp | None) -> list[Job]:
    """The pictures that an answer has what it takes for."""
    from diaphragm_fem.report.sheets.listing import sheets_for

    return [
        partial(_sheet, listed, answer, stamp, folder / f"{listed.name}.png") for listed in sheets_for(listing, answer)
    ]


def _sheets(evaluation: Answer, folder: Path, stamp: Stamp | None, pdf: bool) -> list[Job]:
    from diaphragm_fem.report.sheets.listing import OF_A_DESIGN, of_a_measured

    measured = [of_a_measured(k) for k in range(min(len(evaluation.measured), MOST_MEASURED))]
    jobs = sheet_jobs([*OF_A_DESIGN, *measured], evaluation, folder, stamp)
    if pdf:
        jobs.insert(1, partial(_sheet, OF_A_DESIGN[0], evaluation, stamp, folder / "summary.pdf"))
    return jobs


def _sheet(listed: Listed, answer: Any, stamp: Stamp | None, path: Path) -> list[Path]:
    from diaphragm_fem.report.sheets.sheet import draw_sheet, save_sheet

    return [save_sheet(draw_sheet(listed, answer, stamp), path)]


def _moving_page(evaluation: Answer, folder: Path, design: str, stamp: Stamp | None, pdf: bool) -> list[Path]:
    from diaphragm_fem.report.page.design_page import write_design_page
    from diaphragm_fem.report.page.printing import with_pdf

    return with_pdf(write_design_page(evaluation, folder / "design.html", design, stamp), pdf)


def _shapes(evaluation: Answer, folder: Path) -> list[Path]:
    solved = [m for m, modes in evaluation.modes.items() if len(modes)]
    return [write_shapes(folder / f"shapes_m{m}.vtu", evaluation, m) for m in solved]


def _summary(evaluation: Answer, folder: Path) -> list[Path]:
    text = folder / "summary.md"
    text.write_text(markdown(evaluation), encoding="utf-8")
    return [text]


def _numbers(evaluation: Answer, path: Path, columns: Make) -> list[Path]:
    """One table, where the evaluation has what it takes."""
    found = columns(evaluation)
    return [write_csv(path, from_columns(found))] if found else []


@contextmanager
def complete_or_nothing(folder: Path) -> Iterator[Path]:
    """A folder beside the wanted one to write into; its files move over when all of them are there."""
    folder = Path(os.path.realpath(folder))
    made = _make_parents(folder)
    try:
        remove_dead_drafts(folder.parent)
        draft = Path(tempfile.mkdtemp(prefix=f"{DRAFT}{os.getpid()}-", dir=folder.parent))
        try:
            yield draft
            before = _files_of(folder)
            folder.mkdir(exist_ok=True)
            names = [path.name for path in draft.iterdir()]
            for name in sorted(names, key=lambda name: name == RECORD):
                os.replace(draft / name, folder / name)
            for name in filter(is_own, before - set(names)):
                (folder / name).unlink(missing_ok=True)
        finally:
            shutil.rmtree(draft, ignore_errors=True)
    except OSError as error:
        _remove_empty(made)
        raise StudyError(f"{folder}: the results cannot be written: {error.strerror or error}") from error
    except BaseException:
        _remove_empty(made)
        raise


def remove_dead_drafts(folder: Path) -> None:
    """Take away what processes that were killed while drawing have left in a folder."""
    import psutil

    for path in folder.glob(f"{DRAFT}*-*"):
        maker = path.name.removeprefix(DRAFT).partition("-")[0]
        if maker.isdecimal() and not psutil.pid_exists(int(maker)) and path.is_dir() and not path.is_symlink():
            shutil.rmtree(path, ignore_errors=True)


def _make_parents(folder: Path) -> list[Path]:
    """Make the folders above; returns those that were missing, the deepest first."""
    missing = [parent for parent in folder.parents if not parent.exists()]
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StudyError(f"{folder}: the results cannot be written: {error.strerror or error}") from error
    return missing


def _remove_empty(folders: list[Path]) -> None:
    for folder in folders:
        if folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()


def _files_of(folder: Path) -> set[str]:
    """Files that an earlier run recorded as its own, plain names only."""
    names = read_record(folder / RECORD).get("files")
    listed = names if isinstance(names, list) else []
    return {name for name in listed if isinstance(name, str) and Path(name).name == name}
