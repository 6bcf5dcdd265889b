"""Tables in a terminal of 80 columns: nothing wider, no cell over two lines, units with their numbers, paths whole."""

from dataclasses import replace

import pytest
from places import STUDIES
from report_cases import metal_dome, stepped_v, undriven_disc, with_levers

from diaphragm_fem.answer.evaluate import evaluate
from diaphragm_fem.design.read.read import read_design_file
from diaphragm_fem.report import terminal
from diaphragm_fem.report.blocks.blocks import Heading, Notices, Points, Table, Words
from diaphragm_fem.report.blocks.pages import to_markdown, with_units
from diaphragm_fem.report.contents.summary import area_blocks, brief_blocks, whole_blocks
from diaphragm_fem.report.terminal import block_lines, table_lines


def plain(lines) -> list[str]:
    return [line.plain for line in lines]


CASES = {"stepped V": stepped_v, "metal dome": metal_dome, "undriven disc": undriven_disc}


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_everything_about_a_design_fits_80_columns(case) -> None:
    answer = case()
    answer = with_levers(answer) if answer.figures else answer
    for blocks in (whole_blocks(answer), brief_blocks(answer, 80), area_blocks(answer)):
        lines = plain(block_lines(blocks, 80))
        assert max(map(len, lines)) <= 80
    assert len(plain(block_lines(brief_blocks(answer, 80), 80))) <= FIRST


FIRST = 24  # lines before the two on what was written
SHIPPED = [(path, {}) for path in sorted(STUDIES.glob("*.toml")) if "[study]" not in path.read_text(encoding="utf-8")]
STUCK = {f"profile.{flank}.steps[0].tread": "0.4 mm" for flank in ("inner", "outer")}
FULL = [*SHIPPED, (STUDIES / "stepped_v.toml", STUCK)]


@pytest.mark.long
@pytest.mark.parametrize(("path", "change"), FULL, ids=[*(path.stem for path, _ in SHIPPED), "stuck"])
def test_the_first_screen_holds_all_that_is_printed(path, change) -> None:
    """Of every demonstration, and of a V whose hand-over fails as it does in the driver: these have most to say."""
    file = read_design_file(path, change)
    found = evaluate(file.design, orders=(0, 1), second_opinion=False, file=file)
    lines = plain(block_lines(brief_blocks(found, 80), 80))
    assert len(lines) <= FIRST and max(map(len, lines)) <= 80
    text = " ".join(lines)
    assert ("It comes about with" in text) == (change == STUCK or path.stem == "driver_stepped_v")
    assert "Besides" in text and ("moving mass" in text or "largest excursion" in text)  # the verdict lacks them


def test_a_warning_alone_is_told_to_its_end_and_two_share_the_room() -> None:
    """What to do stands at the end: "divide it into several slots" was cut off."""
    warning = "the driver is left out: a slot may be at most 2 times as wide as the gap, received 1.5 mm over a gap of "
    warning += "0.7 mm at r = 27 mm, z = 6.166 mm: divide it into several slots"
    one = replace(stepped_v(), warnings=(warning,))
    assert warning in " ".join(" ".join(plain(block_lines(brief_blocks(one, 80), 80))).split())
    lines = plain(block_lines(brief_blocks(replace(one, warnings=(warning, warning)), 80), 80))
    begin = next(k for k, line in enumerate(lines) if line.startswith("Warning:"))
    assert len(lines[begin:]) == 4 and " ".join(lines).count("…") == 2


@pytest.mark.parametrize("width", [80, 132])
def test_no_cell_takes_more_than_two_lines(width, monkeypatch) -> None:
    heights = []

    def counted(cells, *how):
        lines = row(cells, *how)
        heights.append(len(lines))
        return lines

    row = terminal._row
    monkeypatch.setattr(terminal, "_row", counted)
    block_lines(whole_blocks(with_levers(stepped_v())), width)
    assert len(heights) > 100 and max(heights) <= 2


def test_long_words_go_below_their_row_and_paths_are_never_broken() -> None:
    path = "results/" + "a_long_name/" * 9 + "case.toml"
    table = Table(("rank", "score", "file"), [("1", "0.9", path), ("2", "0.8", "b.toml")], words=(2,))
    lines = plain(table_lines(table, 40))
    assert lines == ["rank  score", "1       0.9", "    file:", f"    {path}", "2       0.8", "    file: b.toml"]


def test_columns_that_do_not_fit_are_set_in_parts_with_the_names_of_the_rows() -> None:
    table = Table(("key", *(f"figure{k}" for k in range(6))), [("a", *["123456"] * 6), ("b", *["1"] * 6)])
    lines = plain(table_lines(table, 40))
    assert [line.split()[0] for line in lines if line] == ["key", "a", "b"] * 2
    assert sum(line.count("figure") for line in lines) == 6 and max(map(len, lines)) <= 40


@pytest.mark.parametrize("width", [0, 1, 7])
def test_a_terminal_of_no_width_gets_its_words(width) -> None:
    table = Table(("what", "remark"), [("ripple", "a remark that is much longer than a narrow column can hold " * 3)])
    assert block_lines([Words("a word"), table], width)
    assert block_lines(whole_blocks(metal_dome()), width)


def test_a_unit_stays_with_its_number() -> None:
    words = plain(block_lines([Words("from 12 kHz " * 20), Points(["to 3 %", "x " * 40 + "4.5 dB"])], 31))
    assert not any(line.rstrip().endswith((" 12", " 3", " 4.5")) for line in words)


def test_notices_and_headings_stand_where_they_belong() -> None:
    lines = plain(block_lines([Heading("Zones"), Words("one"), Notices("Warning", ["two", "three"])], 80))
    assert lines == ["Zones", "one", "", "Warning: two", "Warning: three"]
    assert "[brackets]" in plain(block_lines([Words("a name with [brackets]")], 80))[0]


def test_a_command_stands_in_quotes_on_the_screen_and_as_code_on_a_page() -> None:
    told = Words("write `diaphragm-fem terms` for a*word")
    assert plain(block_lines([told], 80)) == ["write 'diaphragm-fem terms' for a*word"]
    page = to_markdown("a", [told, Words("one ` alone")])
    assert "write `diaphragm-fem terms` for a\\*word" in page and "one \\` alone" in page


@pytest.mark.parametrize(
    "told", ["2.83 V", "8.04 Ω", "0.832 Pa", "20 µPa", "1 m", "0.22 g", "18.7 cm²", "≥ 3.5 octaves", "9 N/A"]
)
def test_a_number_and_its_unit_are_never_parted(told):
    """On paper and on a narrow screen; what is no unit may go to the next line."""
    assert with_units(f"with {told}, as 5 steps of 3 gauges") == f"with {told}, as 5 steps of 3 gauges".replace(
        told, told.replace(" ", "\u00a0")
    )
