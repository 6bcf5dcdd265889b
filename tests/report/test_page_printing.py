"""A page as PDF: the same twice, and a word on what is missing where no browser is at hand."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from page_cases import browser, opened  # noqa: F401
from report_cases import metal_dome
from sifted_study import page_of, study

from diaphragm_fem.errors import ModelError
from diaphragm_fem.report.blocks.blocks import Heading, Table
from diaphragm_fem.report.contents.morning import morning_blocks
from diaphragm_fem.report.page import printing
from diaphragm_fem.report.page.design import write_design_page
from diaphragm_fem.report.page.study import write_study_page
from diaphragm_fem.report.stamp import Stamp


def test_prints_the_same_twice(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    page = write_design_page(metal_dome(), tmp_path / "design.html")
    first = printing.print_page(page).read_bytes()
    assert first.startswith(b"%PDF") and first == printing.print_page(page).read_bytes()


def test_what_the_browser_counts_does_not_show() -> None:
    told = [(112233, 7), (112244, 9998)]
    early, late = (f"(D:20260101{t}) (node{n:08}) (node{n + 9:08})".encode() for t, n in told)
    assert printing._timeless(early) == printing._timeless(late) == b"(D:20000101000000) (node00000000) (node00000001)"


def test_says_what_is_missing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert "apt-get install chromium-headless-shell" in printing.missing_words("design.html")
    with pytest.raises(ModelError, match=r"no PDF of design\.html: none of chromium-headless-shell, .* on the path"):
        printing.print_page(tmp_path / "design.html")


def test_a_browser_that_prints_nothing_is_said(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Also where the PDF of an earlier page lies there, which was taken for its own."""
    monkeypatch.setattr(printing, "find_browser", lambda: "/bin/false")
    (tmp_path / "design.pdf").write_bytes(b"%PDF of yesterday")
    with pytest.raises(ModelError, match="/bin/false did not print it"):
        printing.print_page(tmp_path / "design.html")
    assert (tmp_path / "design.pdf").read_bytes() == b"%PDF of yesterday"


def test_every_warning_is_on_paper_and_folded_again(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    warned = replace(metal_dome(), warnings=tuple(f"warning {k}" for k in range(5)))
    with opened(browser, write_design_page(warned, tmp_path / "design.html")) as seen:
        seen.page.emulate_media(media="print")
        for event, count in (("beforeprint", 5), ("afterprint", 2)):
            seen.page.evaluate("(name) => dispatchEvent(new Event(name))", event)
            assert seen.page.locator("p.warning:visible").count() == count


def test_what_to_do_with_hands_is_not_on_paper_but_what_lines_mean_is(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    with opened(browser, page_of(study(60), tmp_path / "page.html")) as seen:
        for media, told in (("screen", True), ("print", False)):
            seen.page.emulate_media(media=media)
            assert seen.page.get_by_text("Drag along an axis").is_visible() is told
            assert seen.page.get_by_text("every case as it was solved").is_visible()


def test_heads_of_tables_come_again_on_the_next_sheet(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """The ranking begins low on one sheet; a link in its head is in the file twice for each sheet that has the head.
    A browser repeats no head with a button. How many of the rows are on paper is told.
    """
    with opened(browser, page_of(study(60), tmp_path / "page.html")) as seen:
        seen.page.emulate_media(media="print")
        seen.page.evaluate("""() => {
            dispatchEvent(new Event('beforeprint'));
            const words = document.querySelector('table.ranked th .sort'), link = document.createElement('a');
            link.href = 'https://example.invalid/';
            link.append(...words.childNodes);
            words.append(link);
        }""")
        assert seen.page.locator("#shown").text_content() == "The first 30 of 60; ranking.csv has all."
        assert seen.page.pdf(prefer_css_page_size=True).count(b"(https://example.invalid/)") == 2 * 2
        seen.page.evaluate("() => dispatchEvent(new Event('afterprint'))")
        assert seen.page.locator("#shown").text_content() == ""


def test_heads_of_a_printed_ranking_break_between_words_and_syllables(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """ "resonance" broke before its last letter: no letter stands a line below the one before without a hyphen."""
    with opened(browser, page_of(study(60), tmp_path / "page.html")) as seen:
        seen.page.emulate_media(media="print")
        broken = seen.page.evaluate("""() => [...document.querySelectorAll('table.ranked th .sort')].flatMap((head) => {
            Object.assign(head.closest('table').style, { tableLayout: 'fixed', width: '44em' });
            const text = head.firstChild, words = text.data, range = document.createRange();
            const at = (k) => (range.setStart(text, k), range.setEnd(text, k + 1), [...range.getClientRects()].pop().y);
            const pairs = [...words].map((_, k) => k).filter((k) => /^[a-z]{2}/i.test(words.slice(k)));
            return pairs.filter((k) => at(k + 1) > at(k) + 2).map((k) => words.slice(0, k + 1));
        })""")
        assert broken == []
        cut = seen.page.evaluate("syllables('fundamental resonance, compliance, break-up, stiffness')")
        assert cut.replace("\u00ad", "|") == "fun|da|men|tal reso|nance, com|pliance, break-up, stiff|ness"


def test_heads_of_a_printed_table_of_twelve_columns_break_no_word(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """The best of a study stood under "trea|d, mm" and "octave|s", each name of a file in two lines."""
    head = "rank,case,score,film,tread mm,rise mm,rms ripple dB,shelf octaves,moving mass g,break-up,plateau dB,file"
    row = [*"123456789ab", "best/01_case_000020.toml"]
    blocks = [*morning_blocks(study(60), {}, []), Heading("Wide"), Table(head.split(","), [row] * 3, words=(11,))]
    page = write_study_page(study(60), tmp_path / "page.html", blocks)
    with opened(browser, page, viewport={"width": 718, "height": 900}) as seen:  # of a sheet
        seen.page.emulate_media(media="print")
        broken, right = seen.page.evaluate("""() => {
            const table = document.querySelector('th:nth-child(12)').closest('table');
            table.closest('details').open = true;
            const range = document.createRange(), isBroken = (cell) => {
                const text = document.createTreeWalker(cell, NodeFilter.SHOW_TEXT).nextNode(), words = text.data;
                const at = (k) => (range.setStart(text, k), range.setEnd(text, k + 1), range.getClientRects()[0].y);
                return [...words].some((_, k) => /^[a-z0-9]{2}/.test(words.slice(k)) && at(k + 1) > at(k) + 2);
            };
            const cells = [...table.querySelectorAll('th, td')].filter(isBroken);
            return [cells.map((cell) => cell.textContent), table.getBoundingClientRect().right];
        }""")
        assert broken == [] and right <= 718


def test_a_printed_case_keeps_numbers_with_their_units(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """On narrow paper "10.98 cm²/g" stood in two lines, and half as wide as the sheet the table must still fit."""
    with opened(browser, page_of(study(60), tmp_path / "page.html"), viewport={"width": 700, "height": 900}) as seen:
        seen.page.emulate_media(media="print")
        cells, right, edge = seen.page.evaluate("""() => {
            dispatchEvent(new Event('beforeprint'));
            const cells = [...document.querySelectorAll('#card tbody td:first-child + td')];
            for (const cell of cells) {
                cell.textContent = '10.98 cm²/g';
                cell.after(cell.cloneNode(true)); // as drawn and as solved
                cell.previousSibling.textContent = 'equivalent air volume, coil held';
            }
            const range = document.createRange();
            const lines = (cell) => (range.selectNodeContents(cell), range.getClientRects().length);
            const side = (place) => document.querySelector(place).getBoundingClientRect().right;
            return [cells.map(lines), side('#card table'), side('.cards') + 1];
        }""")
        assert set(cells) == {1} and right <= edge
        wraps = "heads => heads.map((head) => getComputedStyle(head).overflowWrap)"
        assert set(seen.page.eval_on_selector_all("#card th", wraps)) == {"normal"}  # "mark" stood in two lines


@pytest.mark.parametrize(
    ("ended_in", "links", "sheets"),
    [
        ("#strips", ["#response", ".strip:first-child", ".strip:last-child"], [[1, 0, 0], [0, 1, 1]]),
        ("#area", ["#response", "#area"], [[0, 0], [1, 1]]),  # else the axis of the first has its numbers overleaf
    ],
)
def test_curves_begin_on_the_first_sheet_where_it_is_half_full_and_what_shares_an_axis_stays_together(
    browser: Any,  # noqa: F811
    tmp_path: Path,
    ended_in: str,
    links: list[str],
    sheets: list[list[int]],
) -> None:
    """Numbers and notes before them, a driver's say, end the sheet (273 mm, 96 px an inch) amid the strips or the area.
    A link tells which sheet a thing is on.
    """
    with opened(browser, write_design_page(metal_dome(), tmp_path / "design.html")) as seen:
        seen.page.emulate_media(media="print")
        put = """([place, links]) => {
            dispatchEvent(new Event('beforeprint'));
            const { top, height } = document.querySelector(place).getBoundingClientRect();
            document.querySelector('.bench').style.marginTop = `${273 / 25.4 * 96 - top - 0.9 * height}px`;
            links.forEach((place, k) => {
                const link = document.createElement('a');
                link.href = `https://example.invalid/${k}`;
                link.textContent = 'here';
                document.querySelector(place).append(link);
            });
        }"""
        seen.page.evaluate(put, [ended_in, links])
        printed = [seen.page.pdf(prefer_css_page_size=True, page_ranges=f"{n}") for n in (1, 2)]
        assert [[b"invalid/%d)" % k in sheet for k in range(len(links))] for sheet in printed] == sheets


def test_no_page_of_a_design_is_wider_than_its_window(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    stamp = Stamp("a_design_with_quite_a_long_name.toml", "1a2b3c4d", "2026-11-27")
    with opened(browser, write_design_page(metal_dome(), tmp_path / "design.html", stamp=stamp)) as seen:
        for width in (700, 900, 1000, 1400):
            seen.page.set_viewport_size({"width": width, "height": 900})
            assert seen.page.evaluate("document.documentElement.scrollWidth") == width


def test_no_printed_number_breaks_within_its_unit(browser: Any, tmp_path: Path) -> None:  # noqa: F811
    """Of six numbers of a driver on a sheet one was "3.5 octav" and, a line below, "es"."""
    page = write_design_page(metal_dome(), tmp_path / "page.html")
    with opened(browser, page, viewport={"width": 718, "height": 900}) as seen:
        seen.page.emulate_media(media="print")
        heights, right = seen.page.evaluate("""() => {
            const numbers = [...document.querySelectorAll('.numbers dd')];
            for (const one of numbers.slice(0, 5)) one.textContent = '3.5\u00a0octaves';
            return [numbers.slice(0, 5).map((one) => one.getBoundingClientRect().height),
                    document.querySelector('.numbers').getBoundingClientRect().right];
        }""")
        assert len(heights) == 5 and max(heights) < 30 and right <= 718  # a line is 21 px high


@pytest.mark.parametrize("width", [800, 1280])
@pytest.mark.parametrize("write", [
    lambda path: write_design_page(metal_dome(), path), lambda path: page_of(study(60), path),
])  # fmt: skip
def test_a_printed_page_holds_all_of_itself(browser: Any, write: Any, width: int, tmp_path: Path) -> None:  # noqa: F811
    """From a narrow window as from a wide one: the name in a line, no table and no picture wider than the paper."""
    with opened(browser, write(tmp_path / "page.html"), viewport={"width": width, "height": 900}) as seen:
        seen.page.emulate_media(media="print")
        seen.page.evaluate("() => dispatchEvent(new Event('beforeprint'))")
        paper = seen.page.evaluate("() => document.body.getBoundingClientRect().right + 1")
        assert seen.page.evaluate("() => document.querySelector('h1').getBoundingClientRect().height") < 40
        far = (
            "() => [...document.querySelectorAll('table, canvas, svg, dl')].map((x) => x.getBoundingClientRect().right)"
        )
        assert max(seen.page.evaluate(far)) <= paper
