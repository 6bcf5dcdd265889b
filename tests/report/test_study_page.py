"""The page of a study in a browser: bands that sift, sorting, the card of a case and why it ranks there."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from filled_studies import filled
from page_cases import browser, opened  # noqa: F401
from sifted_study import STUDY, figures, page_of, study
from study_standin import STANDIN

from diaphragm_fem.report.page.printing import find_browser
from diaphragm_fem.report.page.study import study_data
from diaphragm_fem.report.results.morning import write_morning
from diaphragm_fem.study.morning import morning
from diaphragm_fem.study.plan.amount import amount_in_si
from diaphragm_fem.study.run.case_row import CaseResult

pytestmark = pytest.mark.usefixtures("coarse_pictures")


def test_ten_thousand_cases_fit(tmp_path: Path) -> None:
    small, large = (page_of(study(n), tmp_path / f"{n}.html").stat().st_size for n in (60, 600))
    per_case = (large - small) / 540
    # 5 columns here; a page holds at most 12 of 4 bytes more, a third longer as text
    assert small + 10_000 * (per_case + 8 * 4 * 4 / 3) < 3_000_000


def test_equal_studies_give_equal_pages(tmp_path: Path) -> None:
    one, other = (page_of(study(60), tmp_path / f"{n}.html").read_bytes() for n in "ab")
    assert one == other


def test_what_no_case_differs_in_has_no_axis_unless_it_is_asked_for() -> None:
    """Areas alike within 1e-5 were drawn over all of their axis."""
    found = study(60)
    even = {name: np.linspace(1.0, 1.00001, 60) for name in ("low_area_m2", "moving_mass_kg")}
    told = replace(found, results=replace(found.results, figures={**found.results.figures, **even}))
    axes = [column["key"] for column in study_data(told)["axes"]]
    assert "moving_mass_kg" in axes and "low_area_m2" not in axes


def test_marks_add_up_to_the_score() -> None:
    ranking = study(60).ranking
    weight = np.array([1.0, 0.5])
    np.testing.assert_allclose(weight @ ranking.marks / 1.5, ranking.score, rtol=1e-12)
    assert study_data(study(60))["trade"] == ["moving_mass_kg", "even_band_octaves"]


def test_bands_sift_and_cards_tell(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    found = study(600)
    page = page_of(found, tmp_path / "study.html")
    mass = found.results.figures["moving_mass_kg"]
    with opened(browser, page) as seen:
        assert seen.page.inner_text("#count") == "600 of 600 cases"
        assert seen.page.title() == "<b>sifted</b>" and seen.page.locator("h1 b").count() == 0
        best = found.results.numbers[found.ranking.order[0]]
        assert seen.page.inner_text("#card-name") == f"Case {best}, rank 1"
        assert seen.page.inner_text("#why").startswith(f"Score {found.ranking.score[0]:.3f} of 1: ")

        # a band over the lower half of the mass keeps what numpy says
        axis = seen.page.evaluate("study.parallel.axes.findIndex((axis) => axis.key === 'moving_mass_kg')")
        seen.page.evaluate("a => study.parallel.brush(a, [0, 0.5])", axis)
        middle = (mass.min() + mass.max()) / 2
        kept = int((mass <= middle).sum())
        seen.page.wait_for_function("n => document.querySelector('#count').textContent.startsWith(`${n} of`)", arg=kept)

        # drag along the same axis, all of it: everything again
        place = seen.page.locator(".axis-of").nth(axis).locator(".grip").bounding_box()
        x = place["x"] + place["width"] / 2
        seen.page.mouse.move(x, place["y"] + place["height"] - 2)
        seen.page.mouse.down()
        seen.page.mouse.move(x, place["y"] + place["height"] / 2)
        seen.page.mouse.move(x, place["y"] + 2)
        seen.page.mouse.up()
        seen.page.wait_for_function("() => document.querySelector('#count').textContent.startsWith('600 of')")

        seen.page.locator("table.ranked thead button", has_text="moving mass").click()
        seen.page.wait_for_function("() => study.ranking.state.get('sort') >= 0 && !study.ranking.state.waiting")
        column = 2 + axis + 1
        shown = seen.page.locator(f"table.ranked tbody tr td:nth-child({column})").all_inner_texts()
        assert [float(x) for x in shown] == sorted(float(x) for x in shown) and len(shown) == 200

        broken = int(np.flatnonzero(found.results.figures["fundamental_hz"] > 45)[0])
        seen.page.evaluate("k => study.state.set({ chosen: k })", broken)
        seen.page.wait_for_function("() => document.querySelector('#why').textContent.startsWith('Not ranked')")
        assert "fundamental resonance below 45 Hz" in seen.page.inner_text("#why")
        assert seen.said == [] and seen.asked == [page.as_uri()]


@pytest.mark.parametrize("width", [390, 1200])
def test_fits_the_screen_and_keys_move_bands(browser: Any, tmp_path: Path, width: int) -> None:  # noqa: F811
    with opened(browser, page_of(study(60), tmp_path / "p.html"), viewport={"width": width, "height": 800}) as seen:
        assert seen.page.evaluate("document.documentElement.scrollWidth") == width
        seen.page.locator(".axis-of").first.focus()
        seen.page.keyboard.press("ArrowUp")
        seen.page.wait_for_function("() => study.parallel.bands[0] !== null && study.parallel.kept < 60")
        seen.page.keyboard.press("Escape")
        seen.page.wait_for_function("() => study.parallel.kept === 60")


def test_a_first_head_is_one_word_on_a_phone(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """Over ranks of one digit "rank" stood as "ran" and "k"."""
    lines = """() => { const row = (cell) => `<tr>${cell}${"<td class=number>12.34 octaves</td>".repeat(9)}</tr>`;
        document.body.insertAdjacentHTML("beforeend", `<div class=tabled><table>
            <thead>${row("<th id=first><button class=sort>rank</button></th>")}</thead>
            ${row("<td>1</td>")}</table></div>`);
        const range = document.createRange();
        range.selectNodeContents(document.querySelector("#first button").firstChild);
        return range.getClientRects().length; }"""
    with opened(browser, page_of(study(40), tmp_path / "p.html"), viewport={"width": 390, "height": 800}) as seen:
        assert seen.page.evaluate(lines) == 1


def test_the_base_design_stands_among_the_cases(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    found = study(40, evaluator=STANDIN)
    told = {axis["key"]: axis["base"] for axis in study_data(found)["axes"]}
    # of the stand-in: 25 um of PEN film, 2 kg/m of wall, and no even band
    assert told["thickness"] == pytest.approx(25) and told["material"] == 0.0
    assert told["moving_mass_kg"] == pytest.approx(0.05) and told["even_band_octaves"] is None
    page = page_of(found, tmp_path / "study.html")
    assert "are the base design" in page.read_text(encoding="utf-8")
    with opened(browser, page) as seen:
        place, low, high = seen.page.evaluate(
            "() => (({basePlace, low, high}) => [basePlace, low, high])(study.parallel.axes[0])"
        )
        assert place == pytest.approx((25 - low) / (high - low), rel=1e-6)
    assert "are the base design" not in page_of(study(60), tmp_path / "unsolved.html").read_text(encoding="utf-8")


def by_hand(design: Any, recipe: Any = None) -> CaseResult:
    return CaseResult(figures(1e6 * amount_in_si(design["plate"]["thickness"]), design["plate"]["material"]))


def test_the_winner_leads_and_is_shown_as_drawn(browser: Any, tmp_path: Path, monkeypatch: Any) -> None:  # noqa: F811
    """A case of 20 to 60 um at random is drawn to the micrometre, and its file says so; both stand on its card."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("diaphragm_fem.study.morning.beside.find_evaluator", lambda name: by_hand)
    found = morning(filled(tmp_path, STUDY.format(cases=40), figures))
    files = write_morning(found, tmp_path / "out", pictures=False, pdf=True)
    assert [path.name for path in files.printed] == (["morning.pdf"] if find_browser() else [])
    best = found.best[0]
    drawn, solved = float(str(best.amounts["thickness"]).split()[0]), 1e6 * found.results.columns[0].values[best.case]
    assert drawn == round(drawn) != solved
    with opened(browser, files.page) as seen:
        lead = seen.page.inner_text(".limit")
        assert lead.startswith(
            f"The best is case {found.results.numbers[best.case]}, rounded for a drawing: thickness {drawn:.0f}\u00a0µm"
        )
        assert "Against the base design the winner changes moving mass from" in lead
        rows = seen.page.locator("#card tr").all_inner_texts()
        assert rows[0].split("\t")[1:3] == ["as drawn", "as solved"]
        assert seen.page.inner_text("#card-name").endswith(" as solved")  # the best as drawn was "rank 4"
        assert rows[1].split("\t")[1:3] == [f"{drawn:.2f} µm", f"{solved:.2f} µm"]
        assert seen.page.locator(".warning:not(.note)").count() == 0  # nothing here is to be doubted
        assert seen.page.locator("code", has_text="diaphragm-fem sweep").count() == 1
        assert "`" not in seen.page.inner_text("main") and seen.said == []


@pytest.mark.parametrize("width", [390, 560, 640, 720])
def test_titles_of_many_axes_do_not_meet(browser: Any, tmp_path: Path, width: int) -> None:  # noqa: F811
    """The first begins at the picture's edge: "outer tread, mm" ran into its neighbour at 1400."""
    with opened(browser, page_of(study(40), tmp_path / "p.html"), viewport={"width": width, "height": 800}) as seen:
        boxes = [
            (k, title.text_content(), title.bounding_box())
            for k, axis in enumerate(seen.page.locator(".axis-of").all())
            for title in axis.locator(".title").all()
        ]
        assert len(boxes) >= 5
        for n, (k, name, one) in enumerate(boxes):
            for m, other_name, other in boxes[n + 1 :]:
                along = min(one["x"] + one["width"], other["x"] + other["width"]) - max(one["x"], other["x"])
                down = min(one["y"] + one["height"], other["y"] + other["height"]) - max(one["y"], other["y"])
                # a line of letters is lower than its box
                assert k == m or along < 1 or down < 5, (name, other_name)
