"""The folders of a comparison and of a grid of walls: page, sheets, and tables to work on with."""

from pathlib import Path
from typing import Any

from diaphragm_fem.answer.comparison.comparison import Comparison
from diaphragm_fem.answer.walls.grid import WallGrid
from diaphragm_fem.report.blocks.blocks import Table, write_csv
from diaphragm_fem.report.blocks.pages import write_markdown
from diaphragm_fem.report.contents.comparison import comparison_blocks, comparison_title
from diaphragm_fem.report.contents.walls import wall_grid_blocks
from diaphragm_fem.report.stamp import Stamp
from diaphragm_fem.report.words.walls import grid_title


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


def figure_cells(comparison: Comparison) -> Table:
    """A row per figure and design, SI units; empty where a value does not exist."""
    head = ["figure", "design", "value_si", "difference", "relative", "doubtful", "reason"]
    rows = [
        [row.name, name, row.values[d], row.differences[d], row.relative[d], int(row.doubtful[d]), row.reasons[d]]
        for row in comparison.rows
        for d, name in enumerate(comparison.names)
    ]
    return Table(head, rows)


def mode_cells(comparison: Comparison) -> Table:
    """A row per mode followed and design; mode is its number there, mac the likeness of its shape."""
    head = ["order", "track", "label", "design", "mode", "frequency_hz", "mac"]
    rows = [
        [m, k + 1, track.label, name, None if place is None else place + 1, track.frequency_hz[d], track.likeness[d]]
        for m, tracks in comparison.tracks.items()
        for k, track in enumerate(tracks)
        for d, name in enumerate(comparison.names)
        for place in [track.index[d]]
    ]
    return Table(head, rows)


def curve_cells(comparison: Comparison) -> Table:
    """A row per design and frequency: effective area, and volume velocity per newton of coil force."""
    head = [
        "design", "frequency_hz", "area_real_m2", "area_imag_m2", "volume_velocity_real_m3_per_s_n",
        "volume_velocity_imag_m3_per_s_n",
    ]  # fmt: skip
    rows: list[list[Any]] = []
    for name, response in zip(comparison.names, comparison.responses, strict=True):
        if response is not None:
            area, volume = response.area, response.volume_velocity
            columns = (response.frequency_hz, area.real, area.imag, volume.real, volume.imag)
            rows += [[name, *(float(f"{x:.9g}") for x in line)] for line in zip(*columns, strict=True)]
    return Table(head, rows)


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
