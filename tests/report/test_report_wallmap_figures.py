"""The maps of a grid of walls can be read from 2 to 50 thicknesses: numbers apart, inside, that as drawn among them."""

from dataclasses import replace
from functools import cache
from itertools import combinations, pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.figure import Figure
from report_cases import sheet

from diaphragm_fem.answer.walls.grid import WallGrid
from diaphragm_fem.design.design import Design, Piece, Ring
from diaphragm_fem.design.library.library import load_materials
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED
from diaphragm_fem.design.meridian.wall import plain_wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.report.sheets.listing_of_many import OF_WALLS
from diaphragm_fem.report.sheets.style import drawing_style, text_width
from diaphragm_fem.report.sheets.walls import MAP_FIGURES
from diaphragm_fem.report.words.walls import walls_verdict

KNOWN = load_materials()
MATERIALS = tuple(KNOWN[name] for name in ("PEN film", "titanium", "beryllium"))
DRAWN = 50e-6


def made_up(thickness: np.ndarray) -> WallGrid:
    """A grid with numbers as long as they get; beryllium does not break up and titanium has no peak."""
    scale = np.outer([1.0, 1.3, 1.7], np.linspace(1, 1.2, len(thickness)))
    size = dict(zip(MAP_FIGURES, (11300.0, 6.67, 3.12, 2.09e-3, 0.789, 88.4), strict=True))
    figures = {name: value * scale for name, value in size.items()}
    figures["break_up_mode_hz"][2] = np.nan
    figures["highest_peak_db"][1] = np.nan
    zone = Zone("cone", Role.DRIVEN, "outer")
    piece = Piece(Line((0.015, 0.0), (0.025, 0.006)), zone, plain_wall(MATERIALS[0], DRAWN))
    design = Design("cone", (piece,), outer_edge=CLAMPED, joint=0, ring=Ring(0.6e-3, 2e3))
    return WallGrid(design, ("cone",), MATERIALS, thickness, figures, {}, "PEN film", DRAWN, (), {}, 1.0, 20e3)


GRIDS = {
    "2": np.array([40e-6, DRAWN]),
    "5": np.linspace(25e-6, 200e-6, 5),
    "8": np.linspace(25e-6, 200e-6, 8),
    "8, the first as drawn": np.linspace(DRAWN, 200e-6, 8),
    "14, the last as drawn": np.linspace(12.3e-6, DRAWN, 14),
    "20 beside the drawn one": np.linspace(60e-6, 151e-6, 20),
    "50": np.linspace(25e-6, 200e-6, 50),
    "50, unevenly spaced": np.geomspace(8e-6, 400e-6, 50),
}


def test_a_figure_that_no_wall_changes_gets_no_map() -> None:
    grid = made_up(GRIDS["8"])
    even = {**grid.figures, "highest_peak_db": np.zeros_like(grid.figures["highest_peak_db"])}
    titles = [
        axes.get_title(loc="left") for axes in sheet(OF_WALLS, "walls_maps", replace(grid, figures=even)).figure.axes
    ]
    assert len(titles) == len(MAP_FIGURES) - 1 and not any("peak" in title for title in titles)


@cache
def maps(name: str) -> Figure:
    figure = sheet(OF_WALLS, "walls_maps", made_up(GRIDS[name])).figure
    figure.draw_without_rendering()
    return figure


@pytest.mark.parametrize("name", GRIDS)
def test_numbers_of_a_map_stand_apart_and_inside(name: str) -> None:
    """Few columns bear all their numbers."""
    figure, count = maps(name), len(GRIDS[name])
    assert len(figure.axes) == len(MAP_FIGURES)
    for axes in figure.axes:
        panel = axes.get_window_extent()
        numbers = [text.get_window_extent() for text in axes.texts]
        assert all(panel.x0 - 1 <= box.x0 and box.x1 <= panel.x1 + 1 for box in numbers)
        assert not any(a.overlaps(b) for a, b in combinations(numbers, 2))
        ticks = [label.get_window_extent() for label in axes.get_xticklabels()]
        assert all(a.x1 < b.x0 for a, b in pairwise(ticks))
        assert len(axes.texts) == len(ticks) * len(MATERIALS) and (count > 8 or len(ticks) == count)


def test_the_column_as_drawn_bears_number_and_tick_and_the_key_says_how_near_it_is() -> None:
    for name in ("8", "50"):
        figure = maps(name)
        assert all("50" in [label.get_text() for label in axes.get_xticklabels()] for axes in figure.axes)
        assert any(text.get_text().startswith("framed: as drawn, PEN film of 50.0\u00a0µm") for text in figure.texts)
    near = sheet(OF_WALLS, "walls_maps", made_up(np.array([30e-6, 48e-6, 70e-6]))).figure
    assert any("framed: column next to the wall as drawn" in text.get_text() for text in near.texts)
    assert not any("framed" in text.get_text() for text in maps("20 beside the drawn one").texts)


def test_tints_go_by_better_and_a_mode_beyond_reach_is_the_best() -> None:
    mode, mass = (maps("8").axes[k] for k in (0, 3))
    assert (mode.get_title(loc="left"), mass.get_title(loc="left")) == ("break-up mode, Hz", "moving mass, g")
    shown = [axes.collections[0].get_array().reshape(3, 8) for axes in (mode, mass)]
    assert (shown[0][2] == 1.0).all() and shown[0].min() == shown[0][0, 0] == 0.0  # beryllium: beyond reach
    assert shown[1][0, 0] == 1.0 and shown[1][2, -1] == 0.0  # the lightest is the deepest
    bold = [text.get_text() for text in mass.texts if text.get_weight() == "bold"]
    assert bold == ["2.09"]


@pytest.mark.parametrize(("name", "marked", "told"), [("8", 8, "marks: 25.0"), ("50", 5, "marks: 5 of 50, 25.0")])
def test_thicknesses_are_all_marked_or_the_sheet_says_which(name: str, marked: int, told: str) -> None:
    figure = sheet(OF_WALLS, "walls_trade_off", made_up(GRIDS[name])).figure
    marks = [line for line in figure.axes[0].get_lines() if line.get_linestyle() == "None" and line.get_marker() != "o"]
    assert marks and all(len(line.get_xdata()) == marked for line in marks)
    assert told in " ".join(text.get_text().replace("\n", " ") for text in figure.texts)


def test_the_verdict_on_walls_of_a_driver_says_what_the_best_does_with_everything_on() -> None:
    """The highest mode in vacuum was 4 dB below the wall as drawn in its driver, and the verdict did not say so."""
    grid = made_up(np.array([25e-6, DRAWN]))
    levels = {"median_level_db": np.full((3, 2), 129.2), "level_spread_db": np.full((3, 2), 18.1)}
    levels["median_level_db"][0] = np.nan, 134.8
    levels["loaded_departure_hz"] = np.array([[np.nan, 4e3], [5e3, 6e3], [7e3, 8e3]])
    own = {"break_up_mode_hz": 10e3, "moving_mass_kg": 2e-3, "median_level_db": 133.3, "level_spread_db": 13.4}
    words = (
        "With everything on, beryllium of 25.0 µm gives a median level of 129.2 dB with a spread of 18.1 dB, the wall "
        f"as drawn 133.3 dB with 13.4 dB; the loudest is {grid.materials[0].name} of 50.0 µm (134.8 dB) and beryllium "
        "of 50.0 µm follows its coil farthest, up to 8.00 kHz. Each is told over its own band, to its departure or"
    )
    driven = replace(grid, figures={**grid.figures, **levels}, as_drawn=own)
    assert words in walls_verdict(driven)
    levels["loaded_departure_hz"][0, 1] = 9e3
    assert "of 50.0 µm (134.8 dB), which also follows its coil farthest, up to 9.00 kHz." in walls_verdict(driven)
    levels["loaded_departure_hz"][1, 0] = np.nan  # of a wall that was solved: it may never leave its coil
    assert "follows its coil" not in walls_verdict(driven)
    levels["loaded_departure_hz"][:] = np.nan  # below a low top none leaves: it ended `walls` of a driver
    assert "(134.8 dB). Each is told" in walls_verdict(driven)
    levels["median_level_db"][2, 0] = np.nan
    assert "everything on" not in walls_verdict(driven)
    levels["median_level_db"][2, 0] = 129.2
    driven = replace(grid, design=replace(grid.design, driver=SimpleNamespace()))
    assert "whose break-up mode in vacuum lies beyond" in walls_verdict(driven)
    assert "everything on" not in walls_verdict(replace(grid, as_drawn=own))


def test_what_a_material_can_do_to_people_is_told_beside_the_walls_of_it() -> None:
    """A picture goes round without the words that came with it."""
    for name in ("walls_trade_off", "walls_maps"):  # the maps had none
        figure = sheet(OF_WALLS, name, made_up(np.array([30e-6, DRAWN]))).figure
        told = " ".join(text.get_text() for text in figure.texts).replace("\u00a0", " ")
        assert "dust and fume are toxic" in told and "local occupational health rules" in told
        lowest = min(text.get_position()[1] for text in figure.texts if "rules" in text.get_text()) * 210.0
        assert lowest > 16.0  # mm: above the title block


def test_a_long_verdict_pushes_what_stands_below_it(monkeypatch) -> None:
    """Four lines on walls of a driver lay on the titles of their maps."""
    monkeypatch.setattr("diaphragm_fem.report.sheets.walls.walls_verdict", lambda grid: "A wall is better. " * 50)
    for name in ("walls_trade_off", "walls_maps"):
        figure = sheet(OF_WALLS, name, made_up(np.array([30e-6, DRAWN]))).figure
        lines = [text.get_position()[1] for text in figure.texts if set("A wall is better. ") >= set(text.get_text())]
        assert len(lines) > 3
        foot = min(lines)
        assert max(axes.get_position().y1 for axes in figure.axes) + 3.0 / 210.0 < foot


def test_remarks_of_a_sheet_keep_numbers_with_their_units() -> None:
    """Of three gauges "60.0" stood at the end of a line and "µm" on the next."""
    figure = sheet(OF_WALLS, "walls_trade_off", made_up(np.array([30e-6, 45e-6, DRAWN]))).figure
    lines = [text.get_text() for text in figure.texts]
    assert any("marks: 30.0, 45.0," in line for line in lines) and not any(line.startswith("µm") for line in lines)


def test_the_verdict_on_walls_names_the_best_the_best_of_no_more_mass_and_the_ends() -> None:
    thickness = np.array([25e-6, DRAWN, 100e-6])
    mode = np.array([[9e3, 10e3, 11e3], [19e3, 20e3, 24e3], [30e3, 31e3, 33e3]])
    mass = np.array([[1.8e-3, 2e-3, 2.4e-3], [1.9e-3, 2.2e-3, 2.9e-3], [2.1e-3, 2.3e-3, 2.6e-3]])
    known = {"break_up_mode_hz": mode, "moving_mass_kg": mass}
    grid = replace(made_up(thickness), figures=known, as_drawn={"break_up_mode_hz": 10e3, "moving_mass_kg": 2e-3})
    assert walls_verdict(grid) == (
        "The lightest wall within 1 % of the highest break-up mode (33.0 kHz) is beryllium of 100 µm: 33.0 kHz, moving "
        "mass 2.60 g. At no more mass than drawn (2.00 g) it is titanium of 25.0 µm: 19.0 kHz, moving mass 1.90 g. As "
        "drawn: 10.0 kHz. Beryllium stands at "
        "the thickest gauge that was tried and titanium stands at the thinnest gauge that was tried: a better wall "
        "may lie beyond it."
    )
    one = replace(grid, figures={"break_up_mode_hz": mode[:, ::-1], "moving_mass_kg": mass[::-1]})
    assert "Beryllium stands at the thinnest gauge that was tried: a better" in walls_verdict(one)
    itself = {"break_up_mode_hz": mode, "moving_mass_kg": mass * [[1], [1.2], [1]]}
    drawn = "At no more mass than drawn (2.00 g) none is better than the wall as drawn. As drawn: 10.0 kHz."
    assert drawn in walls_verdict(replace(grid, figures=itself))
    only = {"break_up_mode_hz": np.array([[1e3] * 3, [1.5e3] * 3, [30e3, 31e3, 33e3]]), "moving_mass_kg": mass - 2e-4}
    both = replace(grid, figures=only, as_drawn={"break_up_mode_hz": 10e3, "moving_mass_kg": 1.95e-3})
    assert "Beryllium stands at the thickest and the thinnest gauge that was tried: a better" in walls_verdict(both)
    close = replace(grid, figures={"break_up_mode_hz": 20e3 + mode / 20, "moving_mass_kg": mass})
    assert " All walls lie within 6 % of it: the wall hardly decides. " in walls_verdict(close)
    closer = replace(grid, figures={"break_up_mode_hz": 20e3 + mode / 1e3, "moving_mass_kg": mass})
    assert " All walls lie within 1 % of it: " in walls_verdict(closer)  # 0.12 %: they are not within 0
    near = replace(close, thickness=DRAWN * np.array([0.9, 1.0, 1.1]))  # gauges that tell nothing of the wall
    assert "hardly" not in walls_verdict(near) and "hardly" not in walls_verdict(grid)
    fine = replace(grid, thickness=DRAWN * np.array([0.9, 1.0, 1.1]))
    assert "jump" not in walls_verdict(fine)  # 31.0 kHz at a thickness of a tenth less: one mode on its way
    turned = {"break_up_mode_hz": mode[:, ::-1], "moving_mass_kg": mass}
    falls = " 33.0 kHz, moving mass 2.10 g, beside a jump: 31.0 kHz at 50.0 µm. At no"  # more lowers none by so much
    assert falls in walls_verdict(replace(fine, figures=turned))
    for share, jump in ((0.95, False), (0.9, True)):  # 29.5 and 27.9 kHz, by bending of what weighs nothing 28.6
        lower = mode.copy()
        lower[2, 1] *= share
        found = replace(fine, figures={"break_up_mode_hz": lower, "moving_mass_kg": mass})
        assert ("jump" in walls_verdict(found)) is jump
    even = replace(close, thickness=fine.thickness)  # within 1 %; the other walls are twice as thick
    assert "jump" not in walls_verdict(even) and "jump" not in walls_verdict(grid)
    heavy = replace(grid, figures={"break_up_mode_hz": mode, "moving_mass_kg": mass + 1e-3})
    assert "No wall is as light as that drawn (2.00 g)." in walls_verdict(heavy)
    inside = replace(grid, figures={"break_up_mode_hz": mode[:, [0, 2, 1]], "moving_mass_kg": mass})
    assert "is beryllium of 50.0 µm" in walls_verdict(inside) and "Titanium stands at" in walls_verdict(inside)
    unmet = replace(grid, figures={"break_up_mode_hz": np.where(mode > 3e4, np.nan, mode), "moving_mass_kg": mass})
    near = replace(unmet, figures={**unmet.figures, "break_up_mode_hz": np.where(mode > 3e4, np.nan, 79.9e3)})
    for found in (unmet, near):  # the lightest of those, not of what comes within 1 % of the end of the search
        assert walls_verdict(found).startswith(
            "The lightest wall of 2 whose break-up mode lies beyond what was searched is beryllium of 50.0 µm: above "
            "80.0 kHz, moving mass 2.30 g."
        )
    none = replace(grid, figures={"break_up_mode_hz": mode * np.nan, "moving_mass_kg": mass * np.nan})
    assert walls_verdict(none) == "No wall of the grid could be solved."


def test_width_of_text_is_that_of_the_page() -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    with drawing_style():
        figure = Figure(figsize=(8, 2), dpi=600)
        FigureCanvasAgg(figure)
        for words in ("16200", ">20k", "north hall, stepped V"):
            box = figure.text(0, 0.5, words, size=8).get_window_extent()
            assert text_width(words, 8.0) == pytest.approx(box.width * 25.4 / 600, rel=0.03)
