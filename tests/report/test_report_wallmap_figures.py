"""The maps of a grid of walls can be read from 2 to 50 thicknesses: numbers apart, inside, that as drawn among them."""

from itertools import combinations, pairwise

import numpy as np
import pytest
from report_cases import sheet

from diaphragm_fem.answer.wall_grid import WallGrid
from diaphragm_fem.design.curve import Line
from diaphragm_fem.design.design import Design, Piece, Ring
from diaphragm_fem.design.edge import CLAMPED
from diaphragm_fem.design.library import load_materials
from diaphragm_fem.design.wall import plain_wall
from diaphragm_fem.design.zone import Role, Zone
from diaphragm_fem.report.sheets.listing import OF_WALLS
from diaphragm_fem.report.sheets.style import drawing_style, text_width
from diaphragm_fem.report.sheets.walls import MAP_FIGURES

KNOWN = load_materials()
MATERIALS = tuple(KNOWN[name] for name in ("PEN film", "titanium", "beryllium"))
DRAWN = 50e-6


def made_up(thickness: np.ndarray) -> WallGrid:
    """A grid with numbers as long as they get; beryllium does not break up and titanium has no high area."""
    scale = np.outer([1.0, 1.3, 1.7], np.linspace(1, 1.2, len(thickness)))
    size = dict(zip(MAP_FIGURES, (88.4, 11300.0, 6.67, 2.09e-3, 0.789, 6.85e-4), strict=True))
    figures = {name: value * scale for name, value in size.items()}
    figures["break_up_mode_hz"][2] = np.nan
    figures["high_area_m2"][1] = np.nan
    zone = Zone("cone", Role.DRIVEN, "outer")
    piece = Piece(Line((0.015, 0.0), (0.025, 0.006)), zone, plain_wall(MATERIALS[0], DRAWN))
    design = Design("cone", (piece,), outer_edge=CLAMPED, joint=0, ring=Ring(0.6e-3, 2e3))
    return WallGrid(design, ("cone",), MATERIALS, thickness, figures, {}, "PEN film", DRAWN, (), {}, 1.0, 20e3)


GRIDS = {
    "2": np.array([40e-6, DRAWN]),
    "8": np.linspace(25e-6, 200e-6, 8),
    "8, the first as drawn": np.linspace(DRAWN, 200e-6, 8),
    "14, the last as drawn": np.linspace(12.3e-6, DRAWN, 14),
    "20 beside the drawn one": np.linspace(60e-6, 151e-6, 20),
    "50": np.linspace(25e-6, 200e-6, 50),
    "50, unevenly spaced": np.geomspace(8e-6, 400e-6, 50),
}


@pytest.mark.parametrize("thickness", GRIDS.values(), ids=GRIDS)
def test_numbers_of_a_map_stand_apart_and_inside(thickness: np.ndarray) -> None:
    figure = sheet(OF_WALLS, "walls_maps", made_up(thickness)).figure
    figure.canvas.draw()
    assert len(figure.axes) == len(MAP_FIGURES)
    for axes in figure.axes:
        panel = axes.get_window_extent()
        numbers = [text.get_window_extent() for text in axes.texts]
        assert all(panel.x0 - 1 <= box.x0 and box.x1 <= panel.x1 + 1 for box in numbers)
        assert not any(a.overlaps(b) for a, b in combinations(numbers, 2))
        ticks = [label.get_window_extent() for label in axes.get_xticklabels()]
        assert all(a.x1 < b.x0 for a, b in pairwise(ticks))
        assert len(axes.texts) == len(ticks) * len(MATERIALS)


@pytest.mark.parametrize("count", [2, 5, 8])
def test_few_columns_bear_all_their_numbers(count: int) -> None:
    axes = sheet(OF_WALLS, "walls_maps", made_up(np.linspace(25e-6, 200e-6, count))).figure.axes[0]
    assert len(axes.texts) == count * len(MATERIALS)


def test_the_column_as_drawn_bears_number_and_tick_and_the_key_says_how_near_it_is() -> None:
    for thickness in (GRIDS["8"], GRIDS["50"]):
        figure = sheet(OF_WALLS, "walls_maps", made_up(thickness)).figure
        assert all("50" in [label.get_text() for label in axes.get_xticklabels()] for axes in figure.axes)
        assert any(text.get_text().startswith("framed: as drawn, PEN film of 50.0 µm") for text in figure.texts)
    near = sheet(OF_WALLS, "walls_maps", made_up(np.array([30e-6, 48e-6, 70e-6]))).figure
    assert any("framed: column next to the wall as drawn" in text.get_text() for text in near.texts)
    far = sheet(OF_WALLS, "walls_maps", made_up(GRIDS["20 beside the drawn one"])).figure
    assert not any("framed" in text.get_text() for text in far.texts)


def test_width_of_text_is_that_of_the_page() -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    with drawing_style():
        figure = Figure(figsize=(8, 2), dpi=600)
        FigureCanvasAgg(figure)
        for words in ("16200", ">20k", "north hall, stepped V"):
            box = figure.text(0, 0.5, words, size=8).get_window_extent()
            assert text_width(words, 8.0) == pytest.approx(box.width * 25.4 / 600, rel=0.03)
