"""The page of a comparison: bars on one axis, both sections solved at one frequency, designs with odd names."""

from dataclasses import replace
from functools import cache
from math import log2
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page_cases import browser, opened, skips_a_heading  # noqa: F401
from places import STUDIES
from report_cases import MARKUP, metal_dome, stepped_v
from spared import without_doubts

from diaphragm_fem.answer.comparison.comparison import Comparison, beside_measured, compare
from diaphragm_fem.answer.comparison.figure_rows import FigureRow
from diaphragm_fem.answer.comparison.variants import NamedDesign, vary
from diaphragm_fem.design.measured.measured import QUANTITIES, MeasuredCurve
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.report.blocks.pages import with_units
from diaphragm_fem.report.contents.comparison import (
    brief_blocks,
    comparison_blocks,
    comparison_verdict,
    measured_beside,
)
from diaphragm_fem.report.page.comparison import comparison_data, octaves_of_change, write_comparison_page


@cache
def domes() -> Comparison:
    """The metal dome in three thicknesses, one of the names written to run where it is not escaped."""
    designs = vary(STUDIES / "metal_dome.toml", {"wall.thickness": ["30 um", "40 um", "55 um"]})
    odd = replace(designs[1], name=MARKUP)
    with without_doubts():
        return compare((designs[0], odd, designs[2]), 0, orders=(0, 1), up_to_hz=15e3, second_opinion=False)


def four_steps() -> Comparison:
    """The stepped V under four names, solved once: what a page of four holds and how long it is."""
    designs = vary(STUDIES / "stepped_v.toml", {"wall.thickness": ["50 um", "60 um", "70 um", "80 um"]})
    with pytest.MonkeyPatch.context() as patch, without_doubts():
        patch.setattr("diaphragm_fem.answer.comparison.comparison.evaluate", lambda design, **_: stepped_v())
        return compare(designs, 1, orders=(0,), second_opinion=False)


def row(name: str, *values: float) -> FigureRow:
    return FigureRow(name, values, 0, (False, False), ("", ""), (False, False))


def test_every_change_is_a_ratio_on_one_axis() -> None:
    assert octaves_of_change(row("fundamental_hz", 100.0, 150.0), 1) == pytest.approx(log2(1.5), rel=1e-12)
    assert octaves_of_change(row("even_band_octaves", 3.0, 3.5), 1) == pytest.approx(0.5, rel=1e-12)
    # 6.0206 dB is twofold
    assert octaves_of_change(row("highest_peak_db", 1.0, 1.0 + 20 * np.log10(2)), 1) == pytest.approx(1.0, rel=1e-9)
    assert octaves_of_change(replace(row("departure_hz", 1.0, 1.0), values=(None, 2.0)), 1) is None


def test_stays_within_its_size_and_carries_three_models(tmp_path: Path) -> None:
    found = four_steps()
    data = comparison_data(found)
    assert data["moving"] == [1, 0, 2] and "model" not in data["designs"][3] and "curve" in data["designs"][3]
    page = write_comparison_page(found, tmp_path / "page.html")
    assert "3 of 4 designs are moved here; profiles and figures show all." in page.read_text()
    assert page.stat().st_size < 1_500_000 and not skips_a_heading(page)
    # names have the last word of a key alone, values a mark of doubt: both are told
    assert "Varied: wall.thickness." in page.read_text() and "* a number without a published source" in page.read_text()


def test_one_frequency_moves_all(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    found = domes()
    page = write_comparison_page(found, tmp_path / "page.html")
    assert page.read_bytes() == write_comparison_page(found, tmp_path / "again.html").read_bytes()
    assert "designs are moved here" not in page.read_text()
    with opened(browser, page) as seen:
        assert seen.page.locator("img").count() == 0 and seen.page.title() == "Designs side by side"
        k = 200
        for d in range(3):
            curve = found.evaluations[d].area
            hz = float(curve.frequency_hz[k])
            seen.go_to(hz)
            total = complex(*seen.page.evaluate("d => bench.all.get(d).total", d))
            assert abs(total - curve.total[k]) < 1e-4 * abs(curve.total[k])
        assert seen.page.locator(".section-host svg").count() == 3
        assert seen.page.locator("#difference path.line").count() >= 2
        seen.page.locator("#track-orders button", has_text="rocks").click()
        assert seen.page.locator("#slopes path.slope").count() == len(found.tracks[1])
        assert seen.page.locator("table.changes rect.bar").count() > 10
        assert seen.said == [] and seen.asked == [page.as_uri()]


def test_of_many_designs_no_two_look_alike(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """The seventh had the black of the baseline; 24 have a colour and a dash of their own."""
    page = browser.new_page()
    page.goto(write_comparison_page(domes(), tmp_path / "page.html").as_uri())
    looks = page.evaluate(
        "() => Array.from({ length: 24 }, (_, k) => { const line = draw('path', { class: `line ${lookOf(k)}` });"
        " document.querySelector('svg').append(line); const style = getComputedStyle(line);"
        " return `${style.stroke} ${style.strokeDasharray}`; })"
    )
    assert len(set(looks)) == 24
    page.close()


def test_a_long_name_stays_within_its_chart_and_its_column(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """One of 110 letters ran over the chart beside, and its column was as wide as the page."""
    found = domes()
    name = "Große Übungskalotte für überaus weiträumige Säle, Ausführung höchster Güte mit Gewebesicke, Muster Nr. 17b"
    long = replace(found, designs=(*found.designs[:2], replace(found.designs[2], name=name)))
    with opened(browser, write_comparison_page(long, tmp_path / "page.html")) as seen:
        ask = """() => [...document.querySelectorAll("svg.chart text.tick")]
            .filter((one) => one.textContent.includes("Große"))
            .map((one) => one.getBoundingClientRect().right - one.ownerSVGElement.getBoundingClientRect().right)"""
        beyond = seen.page.evaluate(ask)
        assert len(beyond) >= 3 and max(beyond) <= 0
        heads = seen.page.locator("th", has_text="Große")
        assert max(heads.nth(k).evaluate("one => one.offsetWidth") for k in range(heads.count())) < 300


def test_names_end_within_the_page(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """Over the modes followed the last of several names of middling length was cut off at the page's edge, and one
    without a blank made the page scroll sideways."""
    found = domes()
    middling = [f"{'north hall, dome in its recess, '[: 31 - k]}{k}" for k in range(3)]
    solid = ["Großübungskalottenausführung" * 4 + f"{k}" for k in range(3)]
    for names, width in ((middling, 760), (solid, 760), (solid, 390)):
        designs = tuple(replace(one, name=name) for one, name in zip(found.designs, names, strict=True))
        page = write_comparison_page(replace(found, designs=designs), tmp_path / "page.html")
        with opened(browser, page, viewport={"width": width, "height": 800}) as seen:
            assert seen.page.evaluate("document.documentElement.scrollWidth") <= width
            ask = """() => [...document.querySelectorAll("#slopes text.tick")]
                .filter((one) => one.querySelector("title"))
                .map((one) => [one, one.ownerSVGElement].map((each) => each.getBoundingClientRect()))
                .flatMap(([at, all]) => [all.left - at.left, at.right - all.right])"""
            beyond = seen.page.evaluate(ask)
            assert len(beyond) == 6 and max(beyond) <= 0.5


def test_designs_without_a_drive_have_profiles_alone(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    design = replace(metal_dome().design, joint=None, former=())
    pair = NamedDesign("one", design), NamedDesign("other", replace(design, name="other"))
    found = compare(pair, 0, orders=(0,), up_to_hz=10e3, second_opinion=False)
    with opened(browser, write_comparison_page(found, tmp_path / "page.html")) as seen:
        assert seen.said == []
        assert seen.page.locator("#profiles path").count() > 0 and seen.page.locator("#frequency").count() == 0


def test_the_design_nearest_to_what_was_measured(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """Measured is what the third dome is predicted to do, 0.1 dB more of it."""
    found, f = domes(), np.geomspace(500.0, 14e3, 200)
    values = found.evaluations[2].reduced.curve(f).response * 10 ** (0.1 / 20)
    near = beside_measured(found, [MeasuredCurve(QUANTITIES["response"], f, values, True, "made up")])
    (words,), table = measured_beside(near)
    assert words.startswith("Nearest to the measured response per newton: thickness 55 µm, 0.1 dB rms apart; then ")
    assert [row[2] for row in table.rows][2] == "0.1 dB" and len({row[2] for row in table.rows}) == 3
    for blocks in (brief_blocks(near, 132), comparison_blocks(near)):
        assert any(getattr(block, "text", "") == words for block in blocks)
    assert measured_beside(found)[0] == []
    comma = replace(near, designs=(*near.designs[:2], replace(near.designs[2], name="dome, 55 µm")))
    (told,), _ = measured_beside(comma)  # it stood among commas of the sentence
    assert "response per newton: 'dome, 55 µm', 0.1 dB rms apart" in told
    assert comparison_verdict(comma)[1].startswith("'dome, 55 µm' against thickness 30 µm: ")
    with opened(browser, write_comparison_page(near, tmp_path / "page.html")) as seen:
        assert seen.page.locator("#response path.line.measured").count() == 2  # in the picture and by its name
        assert seen.page.locator("#area path.line.measured").count() == 0
        assert with_units(words) in seen.page.inner_text(".reading") and seen.said == []


def test_a_design_without_the_prediction_is_named() -> None:
    f = np.geomspace(500.0, 14e3, 20)
    curve = MeasuredCurve(QUANTITIES["impedance"], f, np.ones(20), False, "made up")
    with pytest.raises(AnalysisError, match=f"{domes().names[0]}: made up: 'impedance' needs a design with a"):
        beside_measured(domes(), [curve])
