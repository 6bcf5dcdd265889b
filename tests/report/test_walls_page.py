"""The page of walls in a browser: the best wall in words, a wall chosen by keys, what is better and what worse."""

import re
from base64 import b64decode
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page_cases import browser, opened, skips_a_heading  # noqa: F401
from places import STUDIES

from diaphragm_fem.answer.walls.grid import WallGrid, read_wall_grid
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.report.blocks.blocks import Table, Words, notices_of
from diaphragm_fem.report.contents.walls import brief_wall_blocks, wall_grid_blocks
from diaphragm_fem.report.page.packing import KINDS
from diaphragm_fem.report.page.walls import walls_data, write_walls_page
from diaphragm_fem.report.terminal import FIRST_LINES, block_lines


@cache
def grid() -> WallGrid:
    return read_wall_grid(
        STUDIES / "metal_dome.toml", ["aluminium alloy", "beryllium"], ["25 um", "40 um", "60 um"], up_to_hz=15e3
    )


def test_the_metal_as_drawn_is_told_of_too() -> None:
    found = grid()
    light, metal = found.materials
    drawn = with_walls(found.design, {found.zones[0]: WallChoice(metal, 1.0)})
    other = replace(found, design=drawn, materials=(light, light))
    assert any(line.startswith("beryllium: ") for _, line in notices_of(wall_grid_blocks(other)))


def test_thicknesses_are_told_in_micrometres() -> None:
    """As they were asked for, and the 30 um of the file."""
    data = walls_data(grid())
    values = np.frombuffer(b64decode(data["thickness"]["data"]), KINDS[data["thickness"]["kind"]])
    assert values.tolist() == pytest.approx([25, 40, 60]) and data["drawn_at"] == pytest.approx(30)
    tables = [block for block in wall_grid_blocks(grid()) if isinstance(block, Table)]
    told = {row[0]: row[1] for table in tables for row in table.rows}
    assert told["as drawn: aluminium alloy"] == "30.0 µm"


@pytest.mark.parametrize(("level", "told"), [(90.0, "Level, spread and"), (np.nan, "The")])
def test_walls_without_a_level_have_no_columns_of_it(level: float, told: str) -> None:
    """Before a rear chamber alone two columns said none."""
    found = grid()
    of_driver = dict.fromkeys(("median_level_db", "level_spread_db"), np.full((len(found.materials), 3), level))
    of_driver["loaded_departure_hz"] = np.full((len(found.materials), 3), 9e3)
    blocks = wall_grid_blocks(replace(found, figures={**found.figures, **of_driver}))
    words = " ".join(block.text for block in blocks if isinstance(block, Words))
    assert re.search(rf"drawn\. {told} loaded departure (is|are) with everything on, all else", words)
    (head, *_) = [block.head for block in blocks if isinstance(block, Table)]
    assert ("median level" in head) == ("spread of the level" in head) == (level == 90.0)


@pytest.mark.parametrize("materials", [1, 5, 30])
def test_the_first_screen_holds_what_decides_and_all_that_may_harm(materials: int) -> None:
    """The whole page was printed, 37 lines of two sections: many materials make room for the highest modes."""
    found = grid()
    rows = [0, *[1] * (materials - 1)]  # beryllium but for the first, and with higher modes than that
    many = replace(found, materials=tuple(found.materials[i] for i in rows),
                   figures={name: values[rows] for name, values in found.figures.items()})  # fmt: skip
    blocks = brief_wall_blocks(many, 80)
    lines = [line.plain for line in block_lines(blocks, 80)]
    assert len(lines) <= FIRST_LINES and max(map(len, lines)) <= 80
    assert len(notices_of(blocks)) == (materials > 1)
    (table,) = [block for block in blocks if isinstance(block, Table)]
    whole = materials < 30
    assert any("aluminium" in row[0] for row in table.rows[:-1]) == whole and table.rows[-1][0].startswith("as drawn")
    told = " ".join(lines)
    assert f"Varied: {', '.join(many.zones)}." in told  # a surround of the same wall varies with its dome
    assert ("* some numbers without a published source." in told) == (materials > 1)
    left = f"{materials + 1 - len(table.rows)} further materials"
    assert (left in told) == ("further material" in told) == (not whole)


def test_what_an_examination_warns_of_is_told_here_too() -> None:
    found = grid()
    thin = load_design(STUDIES / "stepped_v.toml", {"wall.thickness": "30 um"})
    changed = replace(found, design=thin, drawn_material="PEN film")
    warned = [line for kind, line in notices_of(wall_grid_blocks(changed)) if kind == "Warning"]
    assert any(line.startswith("as drawn, inner surround: butted against inner flank") for line in warned)
    assert not [line for kind, line in notices_of(wall_grid_blocks(found)) if kind == "Warning"]


def test_a_wall_of_the_list_has_the_warnings_that_are_its_own() -> None:
    """Of the wall as drawn alone they were told. Silk of 120 um ends on 60 um of metal, which is well, and on 25 um."""
    surround = {"kind": "half-roll", "width": "2 mm", "material": "treated silk", "thickness": "120 um"}
    thick = load_design(STUDIES / "metal_dome.toml", {"wall.thickness": "60 um", "profile.surround": surround})
    found = replace(grid(), design=thick, drawn_thickness=60e-6, thickness=np.array([25e-6, 30e-6, 40e-6]))
    (line,) = [line for kind, line in notices_of(wall_grid_blocks(found)) if kind == "Warning"]
    assert line.startswith("aluminium alloy of 25.0 µm, surround: butted against dome, whose 0.025 mm hold its 0.12 mm")
    assert line.endswith("(1 more wall of the list alike)")


def test_a_driver_has_its_figures_with_everything_on_in_the_list() -> None:
    """They stood on a sheet alone."""
    found = grid()
    level = np.full(found.figures["break_up_mode_hz"].shape, 90.0)
    figures, drawn = {**found.figures, "median_level_db": level}, {**found.as_drawn, "median_level_db": 91.0}
    driver = replace(found, figures=figures, as_drawn=drawn)
    shown = {figure["words"]: figure for figure in walls_data(driver)["figures"]}
    assert shown["median level"]["better"] == 1 and shown["median level"]["drawn"] == 91.0
    assert "median level" not in {figure["words"] for figure in walls_data(found)["figures"]}


def test_levels_of_a_driver_that_can_harm_are_told_beside_its_walls() -> None:
    """The page told of 141 dB in an exit, and nothing of what they do."""
    found = grid()
    level = {"median_level_db": np.full(found.figures["break_up_mode_hz"].shape, 90.0)}

    def told(drawn: float | None) -> str:
        driver = replace(found, figures=found.figures | level, as_drawn={**found.as_drawn, "median_level_db": drawn})
        return " ".join(words for kind, words in notices_of(wall_grid_blocks(driver)) if kind == "Caution")

    assert "median levels of up to 141 dB, with peaks above them, can harm hearing" in told(141.0)
    assert "hearing" not in told(None)


def test_tells_the_best_and_the_chosen_wall(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    found = grid()
    page = write_walls_page(found, tmp_path / "walls.html", wall_grid_blocks(found))
    assert not skips_a_heading(page)
    with opened(browser, page) as seen:
        mass = [figure["words"] for figure in walls_data(found)["figures"]].index("moving mass")
        seen.page.select_option("#figure", str(mass))
        lightest = np.unravel_index(np.argmin(found.figures["moving_mass_kg"]), (2, 3))
        name, thickness = found.materials[lightest[0]].name, 1e6 * found.thickness[lightest[1]]
        words = f"Moving mass: best in {name} of {thickness:.1f}\u00a0µm"
        seen.page.wait_for_function("words => document.querySelector('#best').textContent.startsWith(words)", arg=words)
        seen.page.focus("#grid")
        for key in ("ArrowLeft", "ArrowLeft", "ArrowUp", "ArrowRight"):
            seen.page.keyboard.press(key)
        seen.page.wait_for_function(
            "() => document.querySelector('#wall-name').textContent === 'aluminium alloy, 40.0 µm'"
        )
        told = dict(line.split("\t")[::4] for line in seen.page.inner_text("#card tbody").splitlines() if "\t" in line)
        drawn = found.as_drawn["moving_mass_kg"]
        assert told["fundamental resonance"] == ""  # neither side of it is better, as in the table of changes
        heavier = found.figures["moving_mass_kg"][0, 1] > drawn
        assert told["moving mass"] in ("", "worse" if heavier else "better")
        assert "of the shell with its ends and joints" in seen.page.inner_text("main")
        assert "Beryllium" in seen.page.inner_text(".warning")  # the caution stands above all tables
        assert seen.said == [] and seen.asked == [page.as_uri()]


def test_a_break_up_mode_sought_in_vain_is_the_best_not_none(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """The page named the best of those found, and told that the stiffest walls have none."""
    mode = grid().figures["break_up_mode_hz"] * [[1], [np.nan]]
    found = replace(grid(), figures={**grid().figures, "break_up_mode_hz": mode})
    page = write_walls_page(found, tmp_path / "walls.html", wall_grid_blocks(found))
    with opened(browser, page) as seen:
        told = seen.page.inner_text("#best").replace("\u00a0", " ")
        assert told.startswith("Break-up mode: best in 3 walls, first in beryllium of 25.0 µm, above 60.0 kHz, ")
        row = next(line for line in seen.page.inner_text("#card tbody").splitlines() if line.startswith("break-up"))
        assert row.split("\t")[1].replace("\u00a0", " ") == "above 60.0 kHz" and row.split("\t")[3:] == ["", "better"]


def test_what_is_better_is_printed_in_one_line_with_its_numbers(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """Its column was as wide as that of a file's name, and "27.9 kHz" stood on two lines."""
    with opened(browser, write_walls_page(grid(), tmp_path / "page.html", wall_grid_blocks(grid()))) as seen:
        seen.page.emulate_media(media="print")
        seen.page.evaluate("() => dispatchEvent(new Event('beforeprint'))")
        told = """() => {
            const rows = [...document.querySelectorAll(".pair tr")];
            const row = rows.find((one) => one.cells[0].textContent === "break-up mode");
            return [1, row.cells.length - 1].map((k) => {
                const words = document.createRange();
                words.selectNodeContents(row.cells[k]);
                return words.getClientRects().length; }); }"""
        assert seen.page.evaluate(told) == [1, 1]  # lines of number and word
