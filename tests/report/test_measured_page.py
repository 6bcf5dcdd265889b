"""Measured curves on the page of a design: drawn, and how far apart at the cursor."""

from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from driver_cases import driver_data
from page_cases import browser, opened  # noqa: F401
from report_cases import stepped_v

from diaphragm_fem.answer.evaluate import Answer, evaluate
from diaphragm_fem.answer.measured import PeakPair, as_measured, predictor, put_beside
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.measured.measured import QUANTITIES, MeasuredCurve
from diaphragm_fem.design.read.read import design_from
from diaphragm_fem.report.page.design import write_design_page
from diaphragm_fem.report.page.measured import MOST_POINTS, spread
from diaphragm_fem.report.words.measured import beside_words, peaks_table

F = np.geomspace(100.0, 7e3, 300)
AT = (F[100], F[200])


@cache
def driver() -> Answer:
    design = design_from(driver_data("straight_v"))
    return evaluate(design, orders=[0], up_to_hz=8e3, points=120, second_opinion=False)


def beside(found: Answer, more_db: dict[str, float | Array], f: Array = F) -> Answer:
    """With curves made from the prediction, each by so many dB larger."""
    reduced, curves = as_measured(found), []
    for name, more in more_db.items():
        place = {"r": found.design.joint_radius + 2e-3} if QUANTITIES[name].at_a_point else {}
        blank = MeasuredCurve(QUANTITIES[name], f, np.ones(len(f)), False, "made up", **place)
        values = predictor(found, reduced, blank)(f) * 10 ** (more / 20)
        curves.append(MeasuredCurve(QUANTITIES[name], f, values, True, "made up", **place))
    return replace(found, measured=put_beside(found, curves))


@pytest.mark.parametrize(("found", "more"), [
    (stepped_v, {"area": 1.5, "response": -2.5, "velocity": 0.5, "mobility": 4.0}),
    (driver, {"area": -1.0, "response": 2.0, "velocity": 3.0, "mobility": -0.5, "impedance": 0.7, "level": -4.0}),
])  # fmt: skip
def test_the_cursor_tells_the_deviation(browser: Any, found: Any, more: Any, tmp_path: Path) -> None:  # noqa: F811
    page = write_design_page(beside(found(), more), tmp_path / "design.html")
    with opened(browser, page) as seen:
        for hz in AT:
            seen.go_to(float(hz))
            told = seen.page.evaluate("() => bench.beside.apart()")
            assert told == pytest.approx(list(more.values()), abs=0.02)
        words = f"effective radiating area {more['area']:+.1f}\u00a0dB".replace("-", "−")
        assert words in seen.page.inner_text("#apart-words")
        drawn = seen.page.locator("svg.chart g path.line.measured").count()
        assert drawn == sum(name in more for name in ("area", "response", "impedance", "level"))
        seen.go_to(30.0)
        assert seen.page.inner_text("#apart-words") == "Nothing was measured at 30.0\u00a0Hz."
        assert seen.said == [] and seen.asked == [page.as_uri()]


def test_between_two_points_the_cursor_tells_what_the_line_beside_it_is(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """Points an octave apart, no peak between them: held against the peak predicted there they were told 11 dB low."""
    far, apart = 1e3 * 2.0 ** np.arange(4), np.array([1.0, -1.0, 2.0, 0.0])
    page = write_design_page(beside(stepped_v(), {"response": apart}, far), tmp_path / "design.html")
    with opened(browser, page) as seen:
        for k in range(3):
            seen.go_to(float(np.sqrt(far[k] * far[k + 1])))
            (told,) = seen.page.evaluate("() => bench.beside.apart()")
            assert told == pytest.approx((apart[k] + apart[k + 1]) / 2, abs=1e-3)


def test_a_driver_is_compared_with_everything_on() -> None:
    """Behind its plug the straight V sweeps less than in vacuum: what is measured there must be held against that."""
    found = beside(driver(), {"area": 0.0})
    (one,) = found.measured
    assert one.loaded and "against the prediction with everything on" in beside_words(one)
    np.testing.assert_allclose(np.abs(one.predicted), np.abs(found.driver.loaded.reduced.curve(F).total), rtol=1e-12)
    vacuum = np.abs(found.reduced.curve(F).total)
    assert np.abs(20 * np.log10(np.abs(one.predicted) / vacuum)).max() > 1.0
    (bare,) = beside(stepped_v(), {"area": 0.0}).measured
    assert not bare.loaded and "against the prediction in vacuum" in beside_words(bare)


def test_a_long_curve_keeps_its_peaks() -> None:
    values = np.sin(np.arange(50_000) / 7.0)
    values[31_234], values[77] = 5.0, -4.0
    places = spread(values)
    assert len(places) <= MOST_POINTS and {0, 77, 31_234, 49_999} <= set(places.tolist())
    assert spread(values[:400]).tolist() == list(range(400))


def test_a_peak_that_moved_is_told_in_percent() -> None:
    """From 1.02 kHz, measured, to 1 kHz, predicted."""
    beside = SimpleNamespace(curve=SimpleNamespace(title="area"), pairs=(PeakPair(1020.0, 1000.0, 1.24),))
    (row,) = peaks_table([beside]).rows
    assert row[2:] == ("1.020 kHz", "1.000 kHz", "+2.0 %", "+1.2 dB")
