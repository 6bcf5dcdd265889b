"""The folder of a comparison: page, sheets, and tables to work on with."""

from pathlib import Path

from diaphragm_fem.answer.comparison.comparison import Comparison
from diaphragm_fem.report.blocks.blocks import write_csv
from diaphragm_fem.report.blocks.pages import write_markdown
from diaphragm_fem.report.contents.comparison import comparison_blocks, comparison_title
from diaphragm_fem.report.files.comparison import curve_cells, figure_cells, mode_cells
from diaphragm_fem.report.stamp import Stamp


def write_comparison(
    comparison: Comparison, folder: Path, *, pdf: bool = False, stamp: Stamp | None = None
) -> list[Path]:
    """Write page, sheets and tables into a folder; returns the paths, the page first."""
    from diaphragm_fem.report.page.comparison import write_comparison_page
    from diaphragm_fem.report.page.printing import with_pdf
    from diaphragm_fem.report.sheets.listing import write_sheets
    from diaphragm_fem.report.sheets.listing_of_many import OF_A_COMPARISON

    paths, pictures = write_sheets(OF_A_COMPARISON, comparison, folder, pdf=pdf, stamp=stamp)
    tables = {"figures": figure_cells, "modes_followed": mode_cells, "area_and_response": curve_cells}
    paths += [write_csv(folder / f"{name}.csv", make(comparison)) for name, make in tables.items()]
    blocks = comparison_blocks(comparison, pictures)
    text = write_markdown(folder / "comparison.md", comparison_title(comparison), blocks)
    pages = with_pdf(write_comparison_page(comparison, folder / "comparison.html", stamp), pdf)
    return [text, *pages, *paths]
