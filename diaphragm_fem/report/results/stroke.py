"""The folder of results of one design at large stroke."""

from functools import partial
from pathlib import Path

from diaphragm_fem.answer.stroke.stroke import StrokeAnswer
from diaphragm_fem.report.blocks.blocks import from_columns, write_csv
from diaphragm_fem.report.blocks.pages import write_markdown
from diaphragm_fem.report.contents.stroke import stroke_blocks
from diaphragm_fem.report.files.stroke import TABLES, stroke_mapping
from diaphragm_fem.report.results.folder import Job, Tell, all_or_nothing, check_folder, names_made, record, sheet_jobs
from diaphragm_fem.report.stamp import Stamp


def write_stroke_tables(answer: StrokeAnswer, folder: Path) -> list[Path]:
    """CSV tables, and the page in words."""
    page = write_markdown(folder / "stroke.md", f"{answer.design.name} at large stroke", stroke_blocks(answer))
    tables = [(name, columns) for name, make in TABLES.items() if (columns := make(answer))]
    return [page, *(write_csv(folder / f"{name}.csv", from_columns(columns)) for name, columns in tables)]


def write_stroke_folder(
    answer: StrokeAnswer, folder: Path, *, design: str = "", stamp: Stamp | None = None, tell: Tell = lambda _: None
) -> list[Path]:
    """Write everything about one answer; returns the files in the order a reader wants them.

    `design` is the text of the design file as evaluated, kept as design.toml where given. Files of an earlier run
    that this one does not make are removed. Raises StudyError where it cannot be written.
    """
    check_folder(folder)
    with all_or_nothing(folder) as draft:
        tell("drawing")
        from diaphragm_fem.report.sheets.listing_of_strokes import OF_A_STROKE

        jobs: list[Job] = [*sheet_jobs(OF_A_STROKE, answer, draft, stamp), partial(write_stroke_tables, answer, draft)]
        names = names_made(jobs)
        names += record(draft, design, stroke_mapping(answer), names)
    return [folder / name for name in names]
