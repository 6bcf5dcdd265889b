"""The folder of results of one design: pictures, pages and numbers."""

from __future__ import annotations

from functools import partial
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.answer.machine.cores import others_begin
from diaphragm_fem.report.blocks.blocks import from_columns, write_csv
from diaphragm_fem.report.contents.summary import markdown
from diaphragm_fem.report.files.design import FILES_ALONE, TABLES, Make, as_mapping
from diaphragm_fem.report.files.shapes import write_shapes
from diaphragm_fem.report.results.folder import Job, Tell, all_or_nothing, check_folder, names_made, record, sheet_jobs
from diaphragm_fem.report.stamp import Stamp
from diaphragm_fem.study.plan.study_of_levers import study_of_levers

if TYPE_CHECKING:
    from diaphragm_fem.answer.stroke.stroke import StrokeAnswer


MOST_MEASURED = 24  # curves that get a sheet of their own; numbers are written of all


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

    `design` is the text of the design file as evaluated, kept as design.toml where given, with a study of its levers;
    `stamp` says on every sheet where it comes from; `for_others` asks for curves and shapes in the forms of
    `files.curves`. Files of an earlier run that this one does not make are removed. Raises StudyError where it cannot
    be written.
    """
    check_folder(folder)
    with all_or_nothing(folder) as draft:
        tell("drawing, and writing numbers and pages")
        jobs: list[Job] = [
            partial(_moving_page, evaluation, draft, design, stamp, pdf, stroke),
            partial(_shapes, evaluation, draft),  # all in one: meshio takes 0.2 s to load
            partial(_summary, evaluation, draft),
        ]
        columns = {**TABLES, **FILES_ALONE}.items()
        jobs += [partial(_numbers, evaluation, draft / f"{name}.csv", make) for name, make in columns]
        if stroke is not None:
            from diaphragm_fem.report.results.stroke import write_stroke_tables

            jobs.append(partial(write_stroke_tables, stroke, draft))
        if for_others:
            from diaphragm_fem.report.files.curves import write_for_others

            jobs.append(partial(write_for_others, evaluation, draft))
        with others_begin(lambda job: job(), jobs) as written:  # while this core loads what draws, 0.3 s
            pictures = _sheets(evaluation, draft, stamp, pdf)
            if stroke is not None:
                from diaphragm_fem.report.sheets.listing_of_strokes import OF_A_STROKE

                pictures += sheet_jobs(OF_A_STROKE, stroke, draft, stamp)
            drawn = names_made(pictures)
            page, *others = ([path.name for path in made] for made in written())
        names = [*page, *drawn, *chain.from_iterable(others)]
        data = as_mapping(evaluation, stroke=stroke)
        study = study_of_levers(evaluation, design, str(folder / study_name(folder)), draft) if design else None
        if study is not None:
            (draft / study_name(folder)).write_text(study, encoding="utf-8")
            names.append(study_name(folder))
        names += record(draft, design, data, names)
    return [folder / name for name in names]


def study_name(folder: Path) -> str:
    """The study of what moves the design most: named after its folder, since studies of one name share one store."""
    return f"study_of_{folder.name}.toml"


def _sheets(evaluation: Answer, folder: Path, stamp: Stamp | None, pdf: bool) -> list[Job]:
    from diaphragm_fem.report.sheets.listing import OF_A_DESIGN, of_a_measured, write_sheet

    measured = [of_a_measured(k) for k in range(min(len(evaluation.measured), MOST_MEASURED))]
    jobs = sheet_jobs([*OF_A_DESIGN, *measured], evaluation, folder, stamp)
    if pdf:
        jobs[0] = partial(write_sheet, OF_A_DESIGN[0], evaluation, folder, pdf=True, stamp=stamp)
    return jobs


def _moving_page(
    evaluation: Answer, folder: Path, design: str, stamp: Stamp | None, pdf: bool, stroke: StrokeAnswer | None
) -> list[Path]:
    from diaphragm_fem.report.page.design import write_design_page
    from diaphragm_fem.report.page.printing import with_pdf

    return with_pdf(write_design_page(evaluation, folder / "design.html", design, stamp, stroke=stroke), pdf)


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
