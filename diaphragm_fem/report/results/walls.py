"""The folder of a grid of walls: page, sheets, and a table to work on with."""

from pathlib import Path

from diaphragm_fem.answer.walls.grid import WallGrid
from diaphragm_fem.report.blocks.blocks import Table, write_csv
from diaphragm_fem.report.blocks.pages import write_markdown
from diaphragm_fem.report.contents.walls import wall_grid_blocks
from diaphragm_fem.report.stamp import Stamp
from diaphragm_fem.report.words.walls import grid_title


def write_wall_grid(grid: WallGrid, folder: Path, *, pdf: bool = False, stamp: Stamp | None = None) -> list[Path]:
    """Write page, sheets and table of a grid of materials by thicknesses; returns the paths, the page first."""
    from diaphragm_fem.report.page.printing import with_pdf
    from diaphragm_fem.report.page.walls import write_walls_page
    from diaphragm_fem.report.sheets.listing import write_sheets
    from diaphragm_fem.report.sheets.listing_of_many import OF_WALLS

    paths, pictures = write_sheets(OF_WALLS, grid, folder, pdf=pdf, stamp=stamp)
    rows = [
        [material.name, float(h), *(float(values[i, j]) for values in grid.figures.values())]
        for i, material in enumerate(grid.materials)
        for j, h in enumerate(grid.thickness)
    ]
    paths.append(write_csv(folder / "walls.csv", Table(["material", "thickness_m", *grid.figures], rows)))
    blocks = wall_grid_blocks(grid, pictures)
    text = write_markdown(folder / "walls.md", grid_title(grid), blocks)
    page = write_walls_page(grid, folder / "walls.html", blocks, stamp)
    return [text, *with_pdf(page, pdf), *paths]
