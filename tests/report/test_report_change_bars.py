"""Sheets of a comparison: change bars on one axis, curves that end past the break-up mode, ground between profiles."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.collections import PolyCollection
from matplotlib.colors import to_hex
from matplotlib.text import Text
from places import STUDIES
from report_cases import sheet, stepped_v

from diaphragm_fem.answer.comparison.comparison import Comparison, Response
from diaphragm_fem.answer.comparison.figure_rows import FigureRow
from diaphragm_fem.answer.comparison.variants import NamedDesign
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.report.sheets import style
from diaphragm_fem.report.sheets.change_bars import change_in_percent
from diaphragm_fem.report.sheets.listing_of_many import OF_A_COMPARISON

DESIGN = load_design(STUDIES / "stepped_v.toml")
WIDER = load_design(STUDIES / "stepped_v.toml", {"profile.outer.steps[0].tread": "1.8 mm"})


def row(name: str, *values: float | None) -> FigureRow:
    count = len(values)
    return FigureRow(name, values, 0, (False,) * count, ("",) * count, (False,) * count)


ROWS = (
    row("fundamental_hz", 100.0, 90.0),
    row("departure_hz", 5000.0, 5500.0),
    row("decoupling_hz", 700.0, 720.0),
    row("break_up_mode_hz", 8000.0, 7600.0),
    row("deepest_hole_db", -4.0, -2.0),
    row("even_band_octaves", 4.0, 4.4),
    row("moving_mass_kg", 2e-3, 1.9e-3),
    row("handed_over_hz", None, 3000.0),
    row("stiffness_n_per_m", 1.0, 2.0),
)


@pytest.fixture(scope="module")
def pair() -> Comparison:
    answer = stepped_v()
    area = answer.area
    response = Response(area.frequency_hz, area.total, area.response / (2j * np.pi * area.frequency_hz))
    other = replace(response, area=1.2 * response.area, volume_velocity=2 * response.volume_velocity)
    named = (NamedDesign("drawn", DESIGN), NamedDesign("wider", WIDER))
    return Comparison(named, 0, (answer, answer), ROWS, (response, other), {}, (), (), 20e3)


def test_changes_stand_on_one_axis_as_ratios() -> None:
    changes = {x.name: change_in_percent(x, 1) for x in ROWS}
    assert changes["fundamental_hz"] == pytest.approx(-10.0)
    assert changes["even_band_octaves"] == pytest.approx(10.0)
    assert changes["deepest_hole_db"] == pytest.approx(100 * (10**0.1 - 1))  # 2 dB
    assert changes["handed_over_hz"] is None


def test_bars_have_the_length_of_their_change_and_the_colour_of_the_better_side(pair) -> None:
    figure = sheet(OF_A_COMPARISON, "figures", pair).figure
    (axes,) = figure.axes
    bars = {(round(bar.get_width(), 3), to_hex(bar.get_facecolor())) for bar in axes.patches}
    expected = {
        (-10.0, style.NEITHER), (10.0, style.BETTER), (-5.0, style.WORSE), (-5.0, style.BETTER),
        (round(100 * 20 / 700, 3) / 10, style.NEITHER),
    }  # fmt: skip
    expected = {(w, c) for w, c in expected if abs(w) in (5.0, 10.0)}
    assert expected <= bars
    assert max(width for width, _ in bars) <= axes.get_xlim()[1]
    said = [text.get_text() for text in figure.findobj(Text)]
    assert "−10.0 %" in said and "+2.0 dB" in said and "+0.40 oct" in said
    assert not any("stiffness" in words for words in said)  # the headlines, not everything


def test_the_best_is_in_bold_where_one_side_is_better(pair) -> None:
    figure = sheet(OF_A_COMPARISON, "figures", pair).figure
    bold = {text.get_text() for text in figure.texts if text.get_weight() == "bold"}
    assert {"5500", "8000", "1.90", "4.40", "−2.00"} <= bold and not {"100", "90.0", "720"} & bold
    even = replace(pair, rows=(*ROWS, row("highest_peak_db", 2.0, 0.0)))
    for text in sheet(OF_A_COMPARISON, "figures", even).figure.texts:
        assert text.get_text() != "none" or text.get_weight() == "normal"  # that there is no peak is the best


def test_curves_run_from_a_third_of_the_fundamental_to_past_the_highest_break_up_mode(pair) -> None:
    figure = sheet(OF_A_COMPARISON, "area_and_response", pair).figure
    for axes in figure.axes:
        assert axes.get_xlim() == pytest.approx((30.0, 1.5 * 8000.0))
    _, output, level = figure.axes
    plateau = stepped_v().figures.low_area_m2 / stepped_v().figures.moving_mass_kg
    drawn = 20 * np.log10(np.abs(stepped_v().area.response) / plateau)
    np.testing.assert_allclose(output.lines[0].get_ydata(), drawn, atol=1e-9)
    over = next(line for line in level.lines if len(line.get_xdata()) > 2)
    np.testing.assert_allclose(over.get_ydata(), 20 * np.log10(2.0), atol=1e-9)
    numbers = [[text.get_text() for text in axes.texts] for axes in figure.axes]
    assert numbers == [["1", "2"], ["1", "2"], ["2"]]  # each curve bears its design's number


def test_the_ground_between_profiles_is_shaded_where_they_differ(pair) -> None:
    axes = sheet(OF_A_COMPARISON, "profiles", pair).figure.axes[0]
    (ground,) = [c for c in axes.collections if isinstance(c, PolyCollection)]
    ring = ground.get_paths()[0].vertices
    assert ring[:, 0].max() == pytest.approx(1e3 * DESIGN.meridian[-1].curve.point(DESIGN.meridian[-1].curve.length)[0])
    assert [text.get_text() for text in axes.texts] == ["2"]
    dome = NamedDesign("dome", load_design(STUDIES / "metal_dome.toml"))
    apart = sheet(OF_A_COMPARISON, "profiles", replace(pair, designs=(pair.designs[0], dome))).figure.axes[0]
    assert not [c for c in apart.collections if isinstance(c, PolyCollection)]  # a dome and a V enclose no ground
