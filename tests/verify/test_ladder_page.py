"""The verification page tells every check, and a failed one loudly."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from diaphragm_fem.report.contents.verification import show_value, signed_percent
from diaphragm_fem.report.results.verification import write_verification
from diaphragm_fem.report.sheets.ladder import _columns, ladder_sheet
from diaphragm_fem.report.sheets.sheet import blank_sheet
from diaphragm_fem.report.sheets.style import drawing_style
from diaphragm_fem.verify.ladder import RUNGS, RungSummary, run_check, run_ladder, select


@pytest.fixture(scope="module")
def results():
    checks = list(select("static/*"))
    good = run_ladder(checks)
    exact = checks[0].values()[0]
    off = replace(checks[0], id="static/off", values=lambda: (exact, exact * 1.1))

    def crash():
        raise ValueError("no such wall")

    return [*good, run_check(off), run_check(replace(checks[0], id="static/crash", values=crash))]


def test_what_rungs_are_held_against_has_room_beside_each_other():
    """Of 24 rungs two ran over three lines, which lay on the next."""
    results = [RungSummary(rung.name, rung.against, 9, 1000, 1e-9, 1e-3, True) for rung in RUNGS]
    with drawing_style():
        sheet = blank_sheet()
        _columns(sheet, results)
        sheet.figure.draw_without_rendering()
    boxes = [text.get_window_extent() for text in sheet.figure.texts]
    assert not any(a.overlaps(b) for a, b in combinations(boxes, 2))
    assert max(box.x1 for box in boxes) * 25.4 / sheet.figure.dpi < 290.0


def test_a_failed_check_is_known_by_its_mark(results):
    """Not by red alone, which passed checks of the solid wear too."""
    with drawing_style():
        sheet = blank_sheet()
        ladder_sheet(sheet, results)
        sheet.figure.draw_without_rendering()
    axes = sheet.figure.axes[0]
    marks = [line.get_marker() for line in axes.lines]
    assert marks.count("x") == sum(not result.passed for result in results) == 2
    boxes = [tick.get_window_extent() for tick in axes.get_xticklabels() if tick.get_text()]
    assert len(boxes) == 5 and not any(a.overlaps(b) for a, b in combinations(boxes, 2))


def test_page_names_source_reason_and_failures(results, tmp_path):
    files = write_verification(results, tmp_path / "proof")
    words = files[0].read_text(encoding="utf-8")
    assert files[2].name == "verification.png" and files[2].stat().st_size > 20_000
    assert "Timoshenko and Woinowsky-Krieger" in words and "the rest is the mesh" in words
    assert "Failed: static/off, static/crash" in words
    assert "+10 %" in words and "no such wall" in words
    for result in results:
        assert result.check.id in words
    assert "![Verification](verification.png)" in words
    page = files[1].read_text(encoding="utf-8")
    assert 'src="data:image/png;base64,' in page and "static/hemisphere" in page


def test_values_read_plainly():
    assert show_value(10.2158261) == "10.2158"
    assert show_value(np.float64(1.25e-9)) == "1.25000·10^-9"
    assert show_value(1.5 - 0.25j) == "1.500 − 0.2500 i"
    assert signed_percent(0.0123) == "+1.2 %"
    assert signed_percent(-0.0123) == "−1.2 %"
    assert signed_percent(1e-9) == "< 0.001 %"
    assert signed_percent(float("inf")) == "failed"
