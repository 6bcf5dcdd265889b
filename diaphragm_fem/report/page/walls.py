"""The page of a grid of walls: what is better than as drawn, material by thickness, figure by figure."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from diaphragm_fem.analysis.figures.break_up_mode import SOUGHT
from diaphragm_fem.answer.better import better
from diaphragm_fem.answer.walls.grid import WallGrid
from diaphragm_fem.report.blocks.blocks import Block, Words, notices_of, titled_tables
from diaphragm_fem.report.page.packing import packed
from diaphragm_fem.report.page.writer import stamp_cells, write_page
from diaphragm_fem.report.stamp import Stamp
from diaphragm_fem.report.words.figures import EXTREMES
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.walls import DRIVER_FIGURES, grid_title, reached
from diaphragm_fem.report.words.words import digits, show_hz

FIGURES = (
    "break_up_mode_hz", "even_band_octaves", "shelf_band_octaves", "departure_hz", "moving_mass_kg",
    "area_per_mass_m2_per_kg", "low_area_m2", "fundamental_hz", "highest_peak_db", "deepest_hole_db", "handed_over_hz",
    "held_volume_m3", "decoupling_hz", "ripple_db",
)  # fmt: skip


def write_walls_page(grid: WallGrid, path: Path, blocks: Sequence[Block], stamp: Stamp | None = None) -> Path:
    """Write the page of a grid; its words and tables are those of the `blocks` of its Markdown page."""
    words = [block.text for block in blocks if isinstance(block, Words)]
    tables = [(*titled, True) for titled in titled_tables(blocks)]
    return write_page(
        path, "walls", walls_data(grid), title=grid_title(grid),
        stamp=[*stamp_cells(stamp), ("range", f"up to {show_hz(grid.up_to_hz)}")], words=words, tables=tables,
        remarks=notices_of(blocks),
    )  # fmt: skip


def walls_data(grid: WallGrid) -> dict[str, Any]:
    """Figures (M, T) in their shown units, those of the design as drawn, and which way is better."""
    figures = []
    for name in (*FIGURES, *DRIVER_FIGURES):
        if name not in grid.figures or not np.isfinite(grid.figures[name]).any():
            continue
        drawn, values, beyond = grid.as_drawn.get(name), grid.figures[name], None
        if name == "break_up_mode_hz":  # what was sought in vain is the best there is, not none
            values, beyond = reached(grid), SOUGHT * grid.up_to_hz
            drawn = drawn or beyond
        shown = naming(name)
        figures.append(
            {
                "words": shown.words, "unit": shown.unit, "better": better(name),
                "extreme": name in EXTREMES,
                "kind": "level" if name.endswith("_db") else "octaves" if name.endswith("_octaves") else "ratio",
                "values": packed(shown.shown(values), "f4"), "beyond": beyond,
                "drawn": None if drawn is None else float(shown.shown(drawn)),
            }
        )  # fmt: skip
    return {
        "materials": [material.name for material in grid.materials], "thickness": packed(1e6 * grid.thickness),
        "drawn": f"{grid.drawn_material}, {digits(1e6 * grid.drawn_thickness)} µm", "figures": figures,
        "drawn_at": 1e6 * grid.drawn_thickness,
    }  # fmt: skip
