"""The folder of a study's morning: page, sheets, CSV of every table, and the best designs as files."""

from dataclasses import dataclass
from pathlib import Path

from diaphragm_fem.report.blocks.blocks import Picture
from diaphragm_fem.report.blocks.pages import write_markdown
from diaphragm_fem.report.contents.morning import morning_blocks
from diaphragm_fem.report.files.morning import write_morning_tables
from diaphragm_fem.report.page.printing import with_pdf
from diaphragm_fem.report.page.study import write_study_page
from diaphragm_fem.report.stamp import stamp_of_study
from diaphragm_fem.study.morning import Morning
from diaphragm_fem.study.morning.best_files import write_best_designs


@dataclass(frozen=True)
class MorningFiles:
    """What was written: the folder, the page in two forms and printed where asked for, figures, tables, design files;
    last among these, where anything of the winner scatters, its tolerance study."""

    folder: Path
    markdown: Path
    page: Path
    printed: tuple[Path, ...]
    figures: tuple[Path, ...]
    tables: tuple[Path, ...]
    designs: tuple[Path, ...]


def write_morning(morning: Morning, folder: Path, *, pictures: bool = True, pdf: bool = False) -> MorningFiles:
    """Write the morning of a study into a folder; with `pdf` sheets as PDF too, and the page where a browser is."""
    designs = write_best_designs(morning, folder / "best")
    figures, drawn = _draw(morning, folder, pdf) if pictures else ([], {})
    tables = write_morning_tables(morning, folder)
    blocks = morning_blocks(morning, drawn, designs)
    title = f"{morning.results.study.name}: what the study came to"
    markdown = write_markdown(folder / "morning.md", title, blocks)
    page, *printed = with_pdf(write_study_page(morning, folder / "morning.html", blocks, designs), pdf)
    return MorningFiles(folder, markdown, page, tuple(printed), tuple(figures), tables, designs)


def _draw(morning: Morning, folder: Path, pdf: bool) -> tuple[list[Path], dict[str, Picture]]:
    from diaphragm_fem.report.sheets.listing import write_sheets
    from diaphragm_fem.report.sheets.listing_of_many import OF_A_MORNING

    stamp = stamp_of_study(morning.results.study)
    paths, pictures = write_sheets(OF_A_MORNING, morning, folder, pdf=pdf, stamp=stamp)
    return paths, {picture.file.removesuffix(".png"): picture for picture in pictures}
