"""The page of one design in a browser: quiet, alone, right at every frequency, usable by keys and on small screens."""

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page_cases import browser, opened  # noqa: F401
from places import STUDIES
from report_cases import MARKUP, named_with_markup, stepped_v, undriven_disc

from diaphragm_fem.analysis.response import respond
from diaphragm_fem.answer.evaluate import Answer, evaluate
from diaphragm_fem.design.read.read import load_design
from diaphragm_fem.report.page.design import write_design_page
from diaphragm_fem.report.words.heard import spots
from diaphragm_fem.report.words.words import digits, show_hz

MOTION = "() => { const m = bench.motion(); return [m.rRe, m.rIm, m.zRe, m.zIm].map((x) => [...x]); }"


@pytest.fixture(scope="module")
def stepped(tmp_path_factory: Any) -> Path:
    return write_design_page(stepped_v(), tmp_path_factory.mktemp("page") / "stepped.html", "name = 1")


@pytest.fixture(scope="module")
def driver() -> Answer:
    """Behind it waves stand, every 2.15 kHz."""
    deep = {"rear_chamber.depth": "80 mm"}
    return evaluate(load_design(STUDIES / "driver_stepped_v.toml", deep), orders=(0,), second_opinion=False)


def full_motion(found: Answer, hz: float) -> tuple[np.ndarray, np.ndarray]:
    """Motion of the surface over the coil's by the whole sparse system, and the largest of it."""
    structure = found.structures[0]
    u = respond(structure, [hz])[:, 0]
    coil = structure.pickup @ u
    return structure.surface.motion_r @ u / coil, structure.surface.motion_z @ u / coil


def test_one_request_and_nothing_said(browser: Any, stepped: Path) -> None:  # noqa: F811
    with opened(browser, stepped) as seen:
        seen.go_to(6000.0)
        assert seen.asked == [stepped.as_uri()]
        assert seen.said == []
        assert seen.page.input_value("#hertz") == "6.00 kHz"
        assert seen.page.inner_text("#moves").startswith("At 6.00\u00a0kHz ")


def test_motion_is_that_of_the_whole_system(browser: Any, stepped: Path) -> None:  # noqa: F811
    """Six frequencies, one of them between points of the curve and one on the sharpest peak; three phases each."""
    found = stepped_v()
    curve = found.area
    sharpest = float(curve.frequency_hz[np.argmax(np.abs(curve.total))])
    between = float(np.sqrt(curve.frequency_hz[200] * curve.frequency_hz[201]))
    with opened(browser, stepped) as seen:
        for hz in (found.figures.fundamental_hz, 400.0, between, 6000.0, sharpest, 19_000.0):
            seen.go_to(hz)
            r_re, r_im, z_re, z_im = np.array(seen.page.evaluate(MOTION))
            radial, axial = full_motion(found, hz)
            size = np.sqrt(np.abs(radial) ** 2 + np.abs(axial) ** 2).max()
            for phase in np.radians([0.0, 70.0, 155.0]):
                turn = np.exp(1j * phase)
                off = max(np.abs(((r_re + 1j * r_im - radial) * turn).real).max(),
                          np.abs(((z_re + 1j * z_im - axial) * turn).real).max())  # fmt: skip
                assert off < 0.01 * size, (hz, off / size)


def test_the_drawn_wall_is_the_motion(browser: Any, stepped: Path) -> None:  # noqa: F811
    """The first point of the former's path, from the drawing: its height moved by the real part, in pixels."""
    with opened(browser, stepped) as seen:
        heights = []
        for phase in (0, 90, 180):
            seen.page.evaluate("degrees => bench.state.set({ phase: degrees * Math.PI / 180 })", phase)
            seen.page.wait_for_function("at => Number(document.querySelector('#phase').value) === at", arg=phase)
            heights.append(seen.page.evaluate("() => document.querySelector('#section path.wall.winding').getBBox().y"))
        motion = np.array(seen.page.evaluate(MOTION))
        largest = np.sqrt((motion**2).sum(axis=0)).max()
        span = seen.page.evaluate("() => bench.section.span")
        # the coil moves by one, in phase with itself: up by 0.055 of the span over the largest motion, then back
        expected = 0.055 * span / largest
        assert heights[1] - heights[0] == pytest.approx(expected, abs=0.11)  # coordinates are written to 0.1 px
        assert heights[2] - heights[1] == pytest.approx(expected, abs=0.11)


def test_the_cursor_says_what_the_curve_says(browser: Any, stepped: Path) -> None:  # noqa: F811
    found, curve = stepped_v(), stepped_v().area
    level = 20 * np.log10(np.abs(curve.response) / found.figures.evened.plateau)
    with opened(browser, stepped) as seen:
        for k in range(0, 400, 37):
            seen.go_to(float(curve.frequency_hz[k]))
            size = float(seen.page.inner_text("#size").removesuffix(" cm²"))
            # three digits are written: half of the last, and 1e-4 for the solution itself
            assert size == pytest.approx(1e4 * abs(curve.total[k]), rel=5.1e-3)
            assert f"{size:.3g}" == f"{1e4 * abs(curve.total[k]):.3g}"
            shown = seen.page.inner_text("#level").removesuffix(" dB").replace("−", "-")
            assert float(shown) == pytest.approx(level[k], abs=0.051)  # one decimal


def test_keys_move_frequency_phase_and_modes(browser: Any, stepped: Path) -> None:  # noqa: F811
    with opened(browser, stepped) as seen:
        seen.go_to(1000.0)
        seen.page.focus("body")
        seen.page.evaluate("document.activeElement.blur()")
        seen.page.keyboard.press("ArrowRight")
        seen.page.wait_for_function("() => Math.abs(bench.found().hz / (1000 * 2 ** (1 / 48)) - 1) < 1e-9")
        seen.page.keyboard.press(".")
        seen.page.wait_for_function("() => bench.found().hz > 1015")
        assert not seen.page.evaluate("bench.state.get('playing')")  # reduced motion begins at rest
        seen.page.keyboard.press(" ")
        seen.page.wait_for_function("() => bench.state.get('phase') > 0.2")
        seen.page.focus("svg.ladder")
        seen.page.keyboard.press("ArrowUp")
        seen.page.wait_for_function("() => document.querySelector('#mode-name').textContent.includes('mode 2')")
        seen.page.keyboard.press("ArrowRight")
        seen.page.wait_for_function("() => document.querySelector('#mode-name').textContent.startsWith('m = 1')")
        assert seen.said == []


def test_the_slider_takes_a_finger_and_a_bad_frequency_is_refused(browser: Any, stepped: Path) -> None:  # noqa: F811
    looks = {"viewport": {"width": 390, "height": 800}, "has_touch": True, "is_mobile": True}
    with opened(browser, stepped, **looks) as seen:
        assert seen.page.evaluate("document.documentElement.scrollWidth") == 390
        seen.page.locator("#frequency").scroll_into_view_if_needed()
        box = seen.page.locator("#frequency").bounding_box()
        seen.page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        middle = seen.page.evaluate("Math.sqrt(bench.axis.low * bench.axis.high)")
        seen.page.wait_for_function("hz => Math.abs(bench.found().hz / hz - 1) < 0.05", arg=middle)
        assert box["height"] >= 42
        seen.page.fill("#hertz", "loud")
        seen.page.press("#hertz", "Enter")
        assert seen.page.evaluate("document.querySelector('#hertz').validationMessage").startswith("a frequency")


def test_tables_sort_by_number_and_filter(browser: Any, stepped: Path) -> None:  # noqa: F811
    with opened(browser, stepped) as seen:
        sheet = seen.page.locator("details.sheet", has_text="may be off by")
        sheet.locator("summary").click()
        sheet.get_by_role("button", name="frequency").click()
        shown = sheet.locator("tbody tr td:nth-child(3)").all_inner_texts()
        hz = [float(x.split()[0]) * (1e3 if x.endswith("kHz") else 1) for x in shown]
        assert hz == sorted(hz) and len(hz) == sum(len(x) for x in stepped_v().modes.values())
        sheet.locator("input[type=search]").fill("former")
        kept = sheet.locator("tbody tr:not([hidden])").all_inner_texts()
        assert 0 < len(kept) < len(hz) and all("former" in x for x in kept)


def test_markup_in_names_stays_text(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    page = write_design_page(named_with_markup(), tmp_path / "page.html", MARKUP)
    with opened(browser, page) as seen:
        assert seen.page.title() == MARKUP
        assert seen.page.locator("img").count() == 0
        assert seen.said == [] and seen.asked == [page.as_uri()]


def test_modes_alone(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    with opened(browser, write_design_page(undriven_disc(), tmp_path / "page.html")) as seen:
        assert seen.said == []
        assert seen.page.inner_text("#mode-name").startswith("m = 0, mode 1: ")
        lit = seen.page.evaluate(
            "() => { const k = modes.view.canvas, { width, height } = k;"
            " const d = k.getContext('2d').getImageData(0, 0, width, height).data;"
            " let n = 0; for (let i = 3; i < d.length; i += 4) n += d[i] > 0; return n / (d.length / 4); }"
        )
        assert lit > 0.05  # something is drawn


def test_a_driver_is_solved_with_everything_on(browser: Any, driver: Answer, tmp_path: Path) -> None:  # noqa: F811
    """Level, impedance, excursion and the pressure along the gap against the curve that the tables come from."""
    curve = driver.driver.curve
    page = write_design_page(driver, tmp_path / "driver.html")
    assert page.stat().st_size < 1_000_000
    ask = """hz => { const f = bench.model.solve(hz, true);
        const along = f.pressure.along.filter((_, k) => k % 40 === 0);
        return [f.pressure.exit, f.impedance, f.excursion, f.rear, f.total, ...along]; }"""
    with opened(browser, page) as seen:
        for k in (0, 150, 333, len(curve.frequency_hz) - 60):
            got = np.array(seen.page.evaluate(ask, float(curve.frequency_hz[k]))) @ [1, 1j]
            volt = curve.voltage
            wanted = np.array([
                volt * curve.exit_pressure[k], curve.terminal_impedance[k], volt * curve.excursion[k],
                volt * curve.rear_pressure[k], curve.area.total[k], *(volt * curve.gap_pressure[::40, k]),
            ])  # fmt: skip
            # channels and moduli are read between 96 points an octave: 1e-4 as measured
            np.testing.assert_allclose(got, wanted, rtol=1e-3)
        assert seen.said == []
        assert "dB at the exit" in seen.page.inner_text("#driver-words")
        assert seen.page.get_by_text("mm from its inner end").count() == 1  # of the gap: with a dome that is the axis


def test_a_driver_opens_on_what_its_verdict_speaks_of(browser: Any, driver: Answer, tmp_path: Path) -> None:  # noqa: F811
    """It opened in vacuum, at the end of a band there, under a verdict with everything on; the switch goes back."""
    loaded, alone = driver.driver.curve.area, driver.area
    with opened(browser, write_design_page(driver, tmp_path / "driver.html")) as seen:
        first, shown = spots(driver.driver)[0], "() => [bench.state.get('hz'), bench.state.get('loaded')]"
        assert seen.page.evaluate(shown) == [pytest.approx(first.frequency_hz), True]
        assert seen.page.is_checked("#loaded")

        def told(figures: Any, area: Any, words: str) -> None:
            """Marks, strips and what is shaded, of one state."""
            hz = figures.departure_hz
            assert f"departure {show_hz(hz)}" in seen.page.get_attribute("#response svg", "aria-label")
            strip = seen.page.get_attribute("#strips .strip >> nth=0 >> svg .rides", "d")
            assert words in seen.page.inner_text("#shaded").replace("\u00a0", " ")
            assert strip.count("L") == len(area.frequency_hz) + 1  # a point each, and back along the line

        told(driver.driver.figures.loaded, loaded, "band of the median level")
        solved = "(loaded) => `${bench.model.solve(bench.state.get('hz'), loaded).total}`"
        on, off = (seen.page.evaluate(solved, loaded) for loaded in (True, False))
        now = seen.page.evaluate("`${bench.found().total}`")
        assert now == on != off
        seen.page.uncheck("#loaded")
        seen.page.wait_for_function("() => find('#shaded').textContent.includes('vacuum')")  # a frame later
        told(driver.figures, alone, "in vacuum")
        assert seen.said == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_prints_white_on_a_few_sheets(browser: Any, stepped: Path, scheme: str) -> None:  # noqa: F811
    with opened(browser, stepped, color_scheme=scheme) as seen:
        pdf = seen.page.pdf(prefer_css_page_size=True)
        assert 2 <= pdf.count(b"/Type /Page\n") <= 5
        seen.page.emulate_media(media="print")
        seen.page.evaluate("dispatchEvent(new Event('beforeprint'))")
        assert seen.page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
        assert seen.page.evaluate("colourOf('ink')") == "#17212b"  # what the canvas was drawn with


def test_every_picture_tells_its_result(browser: Any, stepped: Path) -> None:  # noqa: F811
    """To who hears the page: a chart said what its axis shows, and no more; WCAG 2.1, 1.1.1."""
    found = stepped_v()
    mode = found.modes[0]
    with opened(browser, stepped) as seen:
        seen.go_to(6000.0)
        told = {
            name: seen.page.get_attribute(f"#{name} svg, #{name} canvas", "aria-label")
            for name in ("section", "response", "area", "solid")
        }
        assert told["section"] == f"section, moving. {seen.page.inner_text('#moves')}"
        assert f"departure {show_hz(found.figures.departure_hz)}" in told["response"]
        size, hz = 1e4 * np.abs(found.area.total), found.area.frequency_hz
        assert (
            f"effective, in vacuum: lowest {digits(size.min())} at {show_hz(hz[size.argmin()])}, highest"
            in told["area"]
        )
        strip = seen.page.get_attribute("#strips .strip >> nth=0 >> svg", "aria-label")
        words = seen.page.inner_text("#strips .strip > span >> nth=1")
        assert strip == f"share of the {found.area.zones[0].name} over frequency; at 6.00 kHz {words}" and words
        assert told["solid"].startswith(f"m = 0, mode 1: {show_hz(mode.frequency_hz[0], 4)}, ")
        chosen = seen.page.locator(f"#{seen.page.get_attribute('#ladder svg', 'aria-activedescendant')}")
        assert chosen.get_attribute("aria-selected") == "true" and mode.labels[0] in chosen.get_attribute("aria-label")


def test_the_mark_of_a_mode_stands_beside_the_numbers(browser: Any, stepped: Path) -> None:  # noqa: F811
    """It lay on the 0 of 100 Hz."""
    with opened(browser, stepped) as seen:
        edge = seen.page.eval_on_selector("#ladder .pick", "one => one.getBoundingClientRect().left")
        ends = "all => all.map((one) => one.getBoundingClientRect().right)"
        assert max(seen.page.eval_on_selector_all("#ladder .tick[text-anchor=end]", ends)) < edge


def test_a_strip_tells_where_it_ends_at_its_frame(browser: Any, stepped: Path) -> None:  # noqa: F811
    """A share of 4 stood as one of 1.6, flat."""
    share = stepped_v().area.share
    with opened(browser, stepped) as seen:
        edges = seen.page.eval_on_selector_all("#strips .beyond", "all => all.map((one) => one.getAttribute('d'))")
    beyond = [bool(np.any((row.real > 1.6) | (row.real < -0.9))) for row in share if np.isfinite(row).any()]
    assert [bool(edge) for edge in edges] == beyond and sum(beyond) > 0


def test_all_others_are_told_as_such(browser: Any, stepped: Path) -> None:  # noqa: F811
    """Fourteen zones stood there by name."""
    zones = "['dome', 'rim', 'cap', 'inner surround'].map((name) => ({ name }))"
    told = "({ hz: 500, total: [1, 0], share: [[2, 0], [1, 0], [1, 0], [%s, 0]] })"
    with opened(browser, stepped) as seen:
        words = [seen.page.evaluate(f"whatMoves({told % last}, {zones}, 1)") for last in ("1", "0.1", "1.9")]
    assert "With the coil: all others." in words[0] and "Still: inner surround. With the coil: rim and cap." in words[1]
    assert "With the coil: rim and cap. Farther than the coil: inner surround." in words[2]  # as the strip: it swings


def test_a_face_in_a_baffle_meets_its_air(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """Level on the axis, impedance and loaded area: the page adds the outgoing waves by itself."""
    motor = {"motor.force_factor": "3 N/A", "motor.coil_resistance": "6 ohm", "motor.voltage": "2.83 V"}
    design = load_design(STUDIES / "metal_dome.toml", {"front.kind": "baffle", **motor})
    found = evaluate(design, orders=(0,), up_to_hz=10e3, second_opinion=False)
    curve = found.driver.curve
    axis = curve.voltage * curve.radiated[0].axis
    ask = "hz => { const f = bench.model.solve(hz, true); return [f.axis, f.impedance, f.total]; }"
    with opened(browser, write_design_page(found, tmp_path / "baffle.html")) as seen:
        for k in (0, 120, 300, len(curve.frequency_hz) - 5):
            got = np.array(seen.page.evaluate(ask, float(curve.frequency_hz[k]))) @ [1, 1j]
            wanted = np.array([axis[k], curve.terminal_impedance[k], curve.area.total[k]])
            # moduli are read between 96 points an octave in 32 bits: 1e-5 as measured
            np.testing.assert_allclose(got, wanted, rtol=1e-4)
        words = seen.page.inner_text("#driver-words")
        assert re.search(r"; \d+\.\d\u00a0dB on the axis at 1\u00a0m; ", words)  # with two digits, as nowhere else
        assert seen.said == []


WORDS_OVER_LINES = """() => [...document.querySelectorAll(".mark-words:not(:empty)")].map((words) => {
  const box = words.getBoundingClientRect(), to = words.ownerSVGElement.getScreenCTM();
  let over = 0;
  for (const line of words.ownerSVGElement.querySelectorAll("g path.line")) {
    for (let s = 0; s < line.getTotalLength(); s++) {
      const at = line.getPointAtLength(s).matrixTransform(to);
      if (at.x > box.left + 1 && at.x < box.right - 1 && at.y > box.top + 1 && at.y < box.bottom - 1) over++;
    }
  }
  return [words.textContent, over];
})"""


def test_words_beside_marks_stand_clear_of_the_curves(browser: Any, stepped: Path) -> None:  # noqa: F811
    """They stood beside their marks, on end, and lay over curves, most of all in the low charts of paper."""
    with opened(browser, stepped) as seen:
        over = dict(seen.page.evaluate(WORDS_OVER_LINES))
        assert {"resonance", "departure", "break-up mode"} <= set(over)
        assert not any(over.values()), over
        seen.page.set_viewport_size({"width": 700, "height": 1000})  # of a sheet, where charts are narrow and low
        seen.page.emulate_media(media="print")
        seen.page.evaluate("() => dispatchEvent(new Event('beforeprint'))")
        over = dict(seen.page.evaluate(WORDS_OVER_LINES))
        assert not any(over.values()), over
