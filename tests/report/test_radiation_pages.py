"""What a face in a baffle becomes: tables, sheets, files."""

import csv
import warnings
from types import SimpleNamespace

import numpy as np
import pytest
from places import STUDIES
from report_cases import sheet

from diaphragm_fem.answer.driver.radiated import DEGREES, face_pressure
from diaphragm_fem.answer.evaluate import evaluate
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.report.blocks.blocks import Notices, titled_tables
from diaphragm_fem.report.contents.summary import brief_blocks
from diaphragm_fem.report.files.design import TABLES
from diaphragm_fem.report.files.meaning import column_words
from diaphragm_fem.report.page.design import _remarks
from diaphragm_fem.report.results.design import write_folder
from diaphragm_fem.report.results.folder import is_own
from diaphragm_fem.report.sheets import radiation
from diaphragm_fem.report.sheets.listing import OF_A_DESIGN
from diaphragm_fem.report.sheets.sheet import blank_sheet
from diaphragm_fem.report.terminal import block_lines
from diaphragm_fem.report.words.driver import driver_blocks, side_by_side
from diaphragm_fem.report.words.words import show_hz

pytestmark = pytest.mark.usefixtures("coarse_pictures")


@pytest.fixture(scope="module")
def found():
    design = load_design(STUDIES / "baffled_metal_dome.toml")
    return evaluate(design, orders=[0], up_to_hz=16e3, points=120, second_opinion=False)


def test_the_beam_stands_beside_the_figures(found):
    rows = {row[0]: row[1:] for row in side_by_side(found)}
    assert rows["median level on the axis at 1 m"][1].endswith(" dB")
    assert rows["efficiency"][2] == "radiated in front over terminals, median"
    assert rows["beam narrows to 90° at"][1] == show_hz(found.driver.figures.baffled["beam_narrows_hz"])
    assert "directivity index, median" in rows
    table = dict(titled_tables(driver_blocks(found)))["Radiation from the baffle"].rows
    by_frequency = {row[0]: row[1:] for row in table}
    narrow = found.driver.curve.radiated[0].beam_degrees[-1]
    assert by_frequency["250 Hz"][3] == "the half space" and by_frequency["16.0 kHz"][3] == f"{narrow:.0f}°"
    level = np.interp(1e3, found.driver.curve.frequency_hz, found.driver.curve.level_db)
    assert by_frequency["1.00 kHz"][0] == f"{level:.1f} dB" and by_frequency["1.00 kHz"][5].endswith(" mW")


def test_what_holds_for_every_baffle_only_counts_in_the_first_print(found):
    words = "\n".join(line.plain for line in block_lines(brief_blocks(found, 80), 80))
    assert "dB on the axis at 1 m at 2.83 V" in words and "endless" not in words
    told = len(found.driver.cautions) + len(found.warnings)
    shown = sum(line.startswith(("Warning:", "Caution:", "Note:")) for line in words.splitlines())
    assert f"More: {told - shown} remark" in words and "Note: the rear chamber" in words
    assert "Caution:" not in words  # which is of what can harm: on the page the same was a note
    leads = {block.lead for block in driver_blocks(found) if isinstance(block, Notices)}
    assert leads == {"Note"} == {lead for lead, _ in _remarks(found)} - {"Warning"}


def test_sheets_show_what_the_answer_says(found):
    axes = sheet(OF_A_DESIGN, "radiation", found).figure.axes
    line = next(x for x in axes[0].lines if x.get_label() == "on the axis")
    assert line.get_ydata() == pytest.approx(found.driver.curve.level_db)
    index = axes[2].lines[0].get_ydata()
    assert index == pytest.approx(found.driver.curve.radiated[0].directivity_index_db)
    assert sheet(OF_A_DESIGN, "directivity", found).figure.axes[-1].name == "polar"
    driver = sheet(OF_A_DESIGN, "driver", found).figure.axes[0]
    assert "level on the axis at 1 m" in [x.get_label() for x in driver.lines]
    for name in ("radiation", "driver"):  # the end of a remark is what is cut
        remarks = [text.get_text() for text in sheet(OF_A_DESIGN, name, found).figure.texts]
        assert any(words.endswith("; loud: protect hearing") for words in remarks)


def test_every_number_is_in_the_files(found, tmp_path):
    files = {path.name for path in write_folder(found, tmp_path / "out")}
    assert all(map(is_own, files))
    wanted = {"radiation", "directivity", "radiation_of_zones", "face_pressure"}
    assert files >= {f"{name}.csv" for name in wanted} | {"radiation.png", "directivity.png"}
    with (tmp_path / "out" / "radiation.csv").open() as file:
        rows = list(csv.DictReader(file))
    front = found.driver.curve.radiated[0]
    assert [float(row["index_db"]) for row in rows] == pytest.approx(front.directivity_index_db)
    assert rows[0]["beam_degrees"] == "" and float(rows[-1]["beam_degrees"]) == pytest.approx(front.beam_degrees[-1])
    with (tmp_path / "out" / "face_pressure.csv").open() as file:
        first, *_, last = csv.DictReader(file)
    points, pressure = face_pressure(front)
    assert (float(last["r_m"]), float(last["z_m"])) == pytest.approx(points[-1]) and last["r_m"] != first["r_m"]
    assert float(last["real:16000 Hz"]) == pytest.approx(pressure[-1, -1].real)
    for name in ("radiation", "directivity", "radiation_of_zones"):
        assert {column.split(":")[0] for column in TABLES[name](found)} <= set(column_words("design"))
    assert "### Radiation from the baffle" in (tmp_path / "out" / "summary.md").read_text()


def test_a_part_without_a_baffle_has_none_of_it():
    bare = evaluate(load_design(STUDIES / "metal_dome.toml"), orders=[0], up_to_hz=3e3, second_opinion=False)
    for name in ("radiation", "directivity", "radiation_of_zones"):
        assert not TABLES[name](bare)


def test_below_the_frequencies_of_the_directivity_curves_the_highest_is_drawn():
    """The figure was empty up to 100 Hz, and a warning of Matplotlib stood in what the command printed."""
    front = SimpleNamespace(frequency_hz=np.geomspace(20, 100, 9), directivity_db=np.zeros((9, len(DEGREES))))
    page = blank_sheet()
    with warnings.catch_warnings(action="error"):
        radiation._draw_curves(page, front)
    (axes,) = page.figure.axes
    assert [text.get_text() for text in axes.get_legend().get_texts()] == ["100 Hz"]
