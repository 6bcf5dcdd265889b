"""The page, sheets and files of a comparison and of a grid of walls."""

import csv
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from diaphragm_fem.answer.better import leaders, times_told
from diaphragm_fem.answer.comparison import comparison
from diaphragm_fem.answer.comparison.comparison import compare
from diaphragm_fem.answer.comparison.figure_rows import FigureRow
from diaphragm_fem.answer.comparison.mode_tracks import Track
from diaphragm_fem.answer.comparison.variants import NamedDesign
from diaphragm_fem.answer.walls.grid import wall_grid
from diaphragm_fem.design.design import Design, Piece, Ring
from diaphragm_fem.design.library.library import load_materials
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED
from diaphragm_fem.design.meridian.wall import plain_wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.report.blocks.blocks import Notices, Table, Words
from diaphragm_fem.report.contents import comparison as contents
from diaphragm_fem.report.contents.comparison import (
    FIRST_LINES,
    _places,
    brief_blocks,
    comparison_blocks,
    comparison_verdict,
    decisive_rows,
    figure_table,
    missing_table,
    track_table,
)
from diaphragm_fem.report.contents.walls import wall_grid_blocks
from diaphragm_fem.report.results.comparison import write_comparison, write_wall_grid
from diaphragm_fem.report.sheets.designs import looks
from diaphragm_fem.report.sheets.tracks import _spread
from diaphragm_fem.report.terminal import block_lines
from diaphragm_fem.report.words.differences import CONTESTS, show_difference, winners
from diaphragm_fem.report.words.words import printed, signed

pytestmark = pytest.mark.usefixtures("coarse_pictures")

KNOWN = load_materials()
CONE, SURROUND = Zone("cone", Role.DRIVEN, "outer"), Zone("surround", Role.SURROUND, "outer")


def _cone(material: str, thickness: float, *, driven: bool = True) -> Design:
    pieces = (
        Piece(Line((0.015, 0.0), (0.025, 0.006)), CONE, plain_wall(KNOWN[material], thickness)),
        Piece(Line((0.025, 0.006), (0.028, 0.006)), SURROUND, plain_wall(KNOWN["nitrile rubber"], 250e-6)),
    )
    ring = Ring(0.6e-3, 2e3) if driven else None
    return Design("cone", pieces, outer_edge=CLAMPED, joint=0 if driven else None, ring=ring)


def _thicknesses(*microns: int, driven: bool = True) -> list[NamedDesign]:
    return [NamedDesign(f"thickness {x} um", _cone("PEN film", x * 1e-6, driven=driven)) for x in microns]


@pytest.fixture(scope="module")
def pair():
    return compare(_thicknesses(50, 75), up_to_hz=6e3, orders=(0, 1), second_opinion=False)


@pytest.fixture(scope="module")
def written(pair, tmp_path_factory):
    return write_comparison(pair, tmp_path_factory.mktemp("results") / "new" / "folder")


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_the_folder_holds_page_sheets_and_tables(written):
    paths = written
    assert [path.name for path in paths[:2]] == ["comparison.md", "comparison.html"]
    assert {path.name for path in paths} == {
        "comparison.md", "comparison.html", "figures.png", "area_and_response.png", "profiles.png",
        "modes_followed.png", "figures.csv", "modes_followed.csv",
        "area_and_response.csv",
    }  # fmt: skip
    assert all(path.stat().st_size > 0 for path in paths)
    page = paths[0].read_text(encoding="utf-8")
    assert page.startswith("# thickness 50 µm against thickness 75 µm\n")
    assert "(profiles.png)" in page and "nothing published or measured stands behind" in page


def test_the_tables_hold_the_numbers_of_the_comparison(pair, written):
    folder = written[0].parent
    cells = [row for row in _rows(folder / "figures.csv") if row["figure"] == "moving_mass_kg"]
    row = pair.row("moving_mass_kg")
    assert [float(cell["value_si"]) for cell in cells] == list(row.values)
    assert float(cells[1]["difference"]) == pytest.approx(row.values[1] - row.values[0], rel=1e-12)
    assert float(cells[1]["relative"]) == pytest.approx(row.values[1] / row.values[0] - 1, rel=1e-12)
    modes = _rows(folder / "modes_followed.csv")
    assert len(modes) == 2 * sum(len(tracks) for tracks in pair.tracks.values())
    first = next(mode for mode in modes if mode["design"] == "thickness 75 um" and mode["frequency_hz"])
    assert float(first["frequency_hz"]) == pair.tracks[0][0].frequency_hz[1]
    curve = [row for row in _rows(folder / "area_and_response.csv") if row["design"] == "thickness 75 um"]
    response = pair.responses[1]
    assert len(curve) == len(response.frequency_hz)
    velocity = complex(
        float(curve[7]["volume_velocity_real_m3_per_s_n"]), float(curve[7]["volume_velocity_imag_m3_per_s_n"])
    )
    assert velocity == pytest.approx(response.volume_velocity[7], rel=1e-8)


def test_the_figure_table_shows_value_mark_and_difference(pair):
    table = figure_table(pair)
    assert table.head == ["figure", "thickness 50 µm (baseline)", "thickness 75 µm"]
    resonance = next(row for row in table.rows if row[0] == "fundamental resonance")
    assert resonance[1].endswith(" Hz*")  # rubber and film rest on unpublished numbers
    percent = 100 * pair.row("fundamental_hz").relative[1]
    assert f"({signed(percent, 1)} %)" in resonance[2]
    assert all(row[0] != "decoupling frequency" for row in table.rows)  # no design has one


def test_it_is_said_which_design_wins_on_what(pair):
    values = {
        "moving_mass_kg": (2e-3, 1e-3), "break_up_mode_hz": (9e3, 8e3), "even_band_octaves": (4.0, 4.1),
        "departure_hz": (4e3, 4e3), "shelf_band_octaves": (5.0, 1.0),  # without a step no shelf is won
    }  # fmt: skip
    rows = tuple(FigureRow(n, v, 0, (False,) * 2, ("",) * 2, (False,) * 2) for n, v in values.items())
    assert winners(replace(pair, rows=rows)) == (
        "thickness 75 µm wins on: widest even band, least mass. thickness 50 µm wins on: highest break-up mode. "
        "thickness 50 µm and thickness 75 µm tie on: latest departure. (A tie: within 1 %.)"
    )
    one, other = pair.designs
    two = replace(
        pair, designs=(replace(one, name="as drawn"), replace(other, name="thickness 75 um, height 2 mm")), rows=rows
    )
    assert "'thickness 75 µm, height 2 mm' wins on" in winners(two) and "as drawn and 'thickness 75" in winners(two)
    near = FigureRow("departure_hz", (4.0e3, 4.01e3), 0, (False,) * 2, ("",) * 2, (False,) * 2)
    open_band = FigureRow("even_band_octaves", (4.0, 4.1), 0, (False,) * 2, ("",) * 2, (True, False))
    tied = winners(replace(pair, rows=(near, open_band)))  # too near to tell apart; 4.0 may be more than 4.1
    assert "tie on: latest departure." in tied and "wins" not in tied
    masses = FigureRow("moving_mass_kg", (1e-3,) * 4 + (2e-3,) * 2, 0, (False,) * 6, ("",) * 6, (False,) * 6)
    six = replace(pair, designs=pair.designs * 3, evaluations=pair.evaluations * 3, rows=(masses,))
    assert winners(six).startswith("All but thickness 50 µm and thickness 75 µm tie on: least mass.")
    masses = replace(masses, values=(1e-3,) * 4 + (2e-3,) * 4, at_least=(False,) * 8)
    eight = replace(pair, designs=pair.designs * 4, evaluations=pair.evaluations * 4, rows=(masses,))
    assert winners(eight).startswith("4 of 8 tie on: least mass.")
    hole = FigureRow("deepest_hole_db", (-6.8, -6.0), 0, (False,) * 2, ("",) * 2, (False,) * 2)
    assert "tie on: shallowest hole." in winners(replace(pair, rows=(hole,)))  # nobody hears 0.8 dB
    deeper = replace(hole, values=(-7.1, -6.0))
    assert winners(replace(pair, rows=(deeper,))) == "thickness 75 µm wins on: shallowest hole."
    assert winners(replace(pair, rows=(replace(hole, values=(0.0, 0.0)),))) == ""  # none of either is no contest
    assert not [row for row in figure_table(pair).rows if "shelf" in row[0]]  # nor are shelves without a step
    assert winners(replace(pair, rows=(replace(open_band, at_least=(False, True)),))).endswith("widest even band.")
    steps, over = replace(hole, name="decoupling_hz", values=(700.0, 400.0)), replace(hole, name="handed_over_hz")
    lost = replace(over, values=(2300.0, None))
    assert winners(replace(pair, rows=(steps, lost))) == "thickness 50 µm wins on: a hand-over that holds."
    stepless = replace(steps, values=(700.0, None))  # which has none to lose
    for rows in ((steps, replace(over, values=(2300.0, 900.0))), (stepless, lost)):
        assert "hand-over" not in winners(replace(pair, rows=rows))


def test_no_peak_is_none_and_not_0_db(pair):
    peaks = FigureRow("highest_peak_db", (0.0, 2.0), 0, (False,) * 2, ("",) * 2, (False,) * 2)
    (line,) = figure_table(replace(pair, rows=(peaks,))).rows
    assert line == ["highest peak", "none", "+2.0 dB"]


def test_missing_figures_are_given_once_with_their_reason(pair):
    (row,) = [row for row in missing_table(pair).rows if row[2] == "the design has no step"]
    assert row[0] == "thickness 50 µm, thickness 75 µm"
    assert "decoupling" in row[1] and "high area" in row[1]


def test_the_verdict_names_the_change_of_each_design(pair):
    (line,) = comparison_verdict(pair)
    assert line.startswith("thickness 75 µm against thickness 50 µm: fundamental resonance ")
    assert f"moving mass {show_difference(pair.row('moving_mass_kg'), 1)}" in line


def test_tracks_show_number_frequency_and_doubt(pair):
    table = track_table(pair, 0)
    assert table.rows[0][1].startswith("1: ") and table.rows[0][1].endswith("Hz")
    lost = [track for track in pair.tracks[0] if track.index[1] is None]
    assert sum(row[2] == "–" for row in table.rows) == len([t for t in pair.tracks[0][:12] if t in lost])


def test_designs_without_drive_get_profiles_and_modes_alone(tmp_path, no_doubts):
    asked = {"up_to_hz": 4e3, "orders": (0, 2), "second_opinion": False}
    found = compare(_thicknesses(50, 60, driven=False), **asked)
    names = {path.name for path in write_comparison(found, tmp_path)}
    assert "profiles.png" in names and "modes_followed.png" in names
    assert not names & {"area_and_response.png", "figures.png"}
    assert "no figure to compare" in comparison_verdict(found)[0]


def test_many_designs_are_told_apart_by_number_colour_and_dash_and_the_baseline_is_in_ink(pair, monkeypatch, no_doubts):
    """Eleven names and one answer for all: nothing here hangs on what is solved."""
    one = pair.evaluations[0]
    monkeypatch.setattr(comparison, "evaluate", lambda design, **_: replace(one, design=design))
    found = compare(_thicknesses(*range(40, 84, 4)), 3, up_to_hz=6e3, orders=(0,), second_opinion=False)
    assert len({(look.colour, look.dash) for look in looks(found)}) == 11
    assert [look.number for look in looks(found)] == list(range(1, 12))
    assert looks(found)[3].width == max(look.width for look in looks(found))
    assert any(isinstance(block, Words) for block in comparison_blocks(found))


def test_differences_in_words():
    def row(name: str, *values: float | None) -> FigureRow:
        return FigureRow(name, values, 0, (False,) * len(values), ("",) * len(values), (False,) * len(values))

    assert show_difference(row("departure_hz", 2000.0, 1900.0), 1) == "−5.0 %"
    assert show_difference(row("stiffness_n_per_m", 1.0, 19.4), 1) == "19 times"
    assert show_difference(row("even_band_octaves", 3.0, 3.25), 1) == "+0.25 oct"
    assert show_difference(row("area_per_mass_m2_per_kg", 1.0, 0.5), 1) == "−6.0 dB"
    assert show_difference(row("departure_hz", 2000.0, None), 1) == ""
    assert show_difference(row("departure_hz", None, 2000.0), 1) == ""
    assert show_difference(row("deepest_hole_db", -6.8, 0.0), 1) == "+6.8 dB"
    assert signed(-0.04, 1) == "±0.0"
    assert printed("thickness 60 um, aluminium") == "thickness 60 µm, aluminium"


def test_labels_are_spread_without_meeting_or_leaving_the_sheet():
    heights = _spread([10.0, 10.5, 11.0, 30.0, 39.9, 40.0], 3.0, 40.0)
    assert np.diff(heights).min() >= 3.0 - 1e-9
    assert max(heights) <= 40.0 and heights[3] == 30.0


@pytest.mark.parametrize("microns", [[60e-6], list(np.geomspace(30e-6, 90e-6, 9))])
def test_a_grid_of_walls_is_written_whole(tmp_path, microns):
    materials = [KNOWN["PEN film"], KNOWN["beryllium"]]
    grid = wall_grid(_cone("PEN film", 60e-6), materials, microns, up_to_hz=5e3, checks=1)
    names = {path.name for path in write_wall_grid(grid, tmp_path)}
    assert names == {"walls.md", "walls.html", "walls_trade_off.png", "walls_maps.png", "walls.csv"}
    rows = _rows(tmp_path / "walls.csv")
    assert len(rows) == 2 * len(microns)
    assert float(rows[-1]["moving_mass_kg"]) == grid.figures["moving_mass_kg"][1, -1]
    page = (tmp_path / "walls.md").read_text(encoding="utf-8")
    assert "Beryllium dust" in page  # its caution goes wherever it is proposed
    assert "as drawn: PEN film\\*" in page and "| PEN film\\*" in page  # the mark stood at one of the two


def test_a_break_up_mode_out_of_reach_counts_as_the_highest(tmp_path, blank_pictures):
    """Up to four times 600 Hz no wall of this cone breaks up: the page says "above", and proposes the thinnest wall."""
    grid = wall_grid(_cone("PEN film", 60e-6), [KNOWN["titanium"]], [40e-6, 60e-6], up_to_hz=600.0, checks=1)
    assert np.isnan(grid.figures["break_up_mode_hz"]).all()
    write_wall_grid(grid, tmp_path)
    page = (tmp_path / "walls.md").read_text(encoding="utf-8")
    assert "| titanium\\* | 40.0 µm | above 2.40 kHz |" in page


def test_the_first_screen_has_room_and_begins_with_what_decides(pair):
    """22 lines of 80 letters: figures by how many times what can be told they are apart, those of no difference left
    out, and as many as there is room for."""
    rows = decisive_rows(pair)
    apart = {row.name: max(times_told(row.name, x, row.values[0]) for x in row.judged) for row in rows}
    won = [apart[row.name] for row in rows if row.name in CONTESTS and apart[row.name] < np.inf]
    assert won == sorted(won, reverse=True) and len(won) > 2 and min(apart.values()) > 1
    assert rows[0].name in CONTESTS and rows[-1].name not in CONTESTS
    lines = [line.plain for line in block_lines(brief_blocks(pair, 80), 80)]
    assert len(lines) <= FIRST_LINES and max(map(len, lines)) <= 80
    twice = (replace(row, name=name) for row in rows for name in (row.name, f"loaded_{row.name}"))
    many = replace(pair, rows=tuple(twice))
    assert len(block_lines(brief_blocks(many, 80), 80)) <= FIRST_LINES
    assert "further figures and 2 warnings by --all" in " ".join(lines)
    told = " ".join(line.plain for line in block_lines(brief_blocks(pair, 20), 20))  # no room for a table
    assert " figures and 2 warnings by --all" in told and "further" not in told


@pytest.mark.parametrize(("more", "lead"), [(120, "By number: 1 thickness 50 um___"), (900, "Designs are numbered in")])
def test_long_names_give_way_to_numbers_on_the_first_screen(pair, more, lead):
    """Five drivers of long names, and seven walls of a dome, left no room for one figure."""
    long = replace(pair, designs=tuple(replace(one, name=one.name + "_" * more) for one in pair.designs))
    blocks = brief_blocks(long, 80)
    assert blocks[0].text.startswith(lead) and "design 2 wins on: " in blocks[0].text
    (table,) = [block for block in blocks if isinstance(block, Table)]
    assert list(table.head) == ["figure", "design 1 (baseline)", "design 2"] and len(table.rows) >= 3
    assert len(block_lines(blocks, 80)) <= FIRST_LINES


def test_what_can_harm_is_said_wherever_it_is_proposed(pair):
    """Beryllium in one of the compared designs, or in a grid of walls: once, first, with the local rules named once."""
    dusty = replace(pair.evaluations[1], design=_cone("beryllium", 60e-6))
    both = replace(pair, evaluations=(dusty, dusty))
    for blocks in (comparison_blocks(both), brief_blocks(both, 80)):
        (notice,) = [block for block in blocks if isinstance(block, Notices) and block.lead == "Caution"]
        (line,) = notice.lines
        assert line.startswith("beryllium: Beryllium dust") and "ocal rules go first" not in line
    assert not [block for block in brief_blocks(pair, 80) if isinstance(block, Notices)]
    grid = wall_grid(_cone("PEN film", 60e-6), [KNOWN["beryllium"]], [60e-6], up_to_hz=2e3, checks=1)
    (notice,) = [block for block in wall_grid_blocks(grid)[:2] if isinstance(block, Notices)]
    assert notice.lines[0].startswith("beryllium: Beryllium dust")


def test_no_design_wins_on_departure_where_another_never_leaves_the_coil():
    """A dome that follows the coil over the whole range has no departure: the two that leave it tied on the latest. One
    that has none for another reason wins nothing."""
    values = (13.6e3, 13.7e3, None)
    wanting = FigureRow("departure_hz", values, 0, (False,) * 3, ("",) * 3, (False,) * 3)
    assert wanting.winners == {0, 1} and replace(wanting, judged=(13.6e3, 13.7e3, 20e3)).winners == {2}
    assert not replace(wanting, apart=True).winners
    assert leaders("departure_hz", (13.6e3, 13.7e3), (False,) * 2) == {0, 1}
    assert leaders("deepest_hole_db", (-3.0, -6.0, None), (False,) * 3) == {0}


def test_of_modes_that_change_places_the_lowest_is_told():
    """In the second design the second mode of m = 0 comes after the third; of m = 1 none changes its order."""
    rows = [(0, (0, 0), (500.0, 510.0)), (0, (1, 2), (900.0, 1e3)), (0, (2, 1), (1.2e3, 950.0))]
    tracks = [Track(m, index, hz, (None, 1.0), f"label {hz[0]:.0f}", 0) for m, index, hz in rows]
    beside = (Track(1, (0, 0), (300.0, 320.0), (None, 1.0), "rocking", 0),)
    told = _places(SimpleNamespace(tracks={0: tuple(tracks), 1: beside}, baseline=0), 1)
    assert told == (
        "2 modes change places with others, the lowest at 900 Hz in the baseline (m = 0, number 2, here number 3: "
        "label 900)."
    )
    assert _places(SimpleNamespace(tracks={1: beside}, baseline=0), 1).endswith("in the same order.")


def test_the_loudest_driver_is_told_first_or_alone_by_the_sum_of_its_sections_too(monkeypatch):
    """By the first section's own level the quieter of the two was told; of four drivers a page showed two that were
    not the loudest."""
    monkeypatch.setattr(contents, "design_names", lambda _: ["one", "two"])
    monkeypatch.setattr(contents, "cautions", lambda _: [])
    monkeypatch.setattr(contents, "loudness", lambda answer: [answer.words])

    def driver(own, summed):
        sections = summed and SimpleNamespace(upper_db=own, lower_db=own, sum_db=np.array([summed]), turned_db=own)
        return SimpleNamespace(curve=SimpleNamespace(level_db=own), sections=sections)

    one = SimpleNamespace(words="130 dB", driver=driver(np.array([130.0]), None))
    two = SimpleNamespace(words="140 dB", driver=driver(np.array([125.0]), 140.0))
    both = SimpleNamespace(evaluations=[one, two])
    assert contents.dangers_of_all(both, loudest=True) == ["two: 140 dB."]
    assert contents.dangers_of_all(both) == ["two: 140 dB.", "one: 130 dB."]
