"""Names on figures are cut so that they fit and still tell designs apart."""

from itertools import combinations

import pytest
from report_cases import sheet
from spared import without_doubts

from diaphragm_fem.answer.comparison.comparison import compare
from diaphragm_fem.answer.comparison.variants import NamedDesign
from diaphragm_fem.design.design import Design, Piece, Ring
from diaphragm_fem.design.library.library import load_materials
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.edge import CLAMPED
from diaphragm_fem.design.meridian.wall import plain_wall
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.report.sheets import tracks
from diaphragm_fem.report.sheets.listing import sheets_for
from diaphragm_fem.report.sheets.listing_of_many import OF_A_COMPARISON
from diaphragm_fem.report.sheets.names import shorten_apart, without_shared_beginning
from diaphragm_fem.report.sheets.sheet import draw_sheet
from diaphragm_fem.report.sheets.style import SMALL, text_width

FILM = load_materials()["PEN film"]
NAMED = {
    "alike but for the end": ["north hall, straight V", "north hall, stepped V"],
    "alike in beginning and end": [f"the V of the north hall with {x} µm of film on it" for x in (40, 45, 50)],
    "alike in groups": ["north hall, straight V", "north hall, stepped V", "south hall, dome", "south hall, deep dome"],
    "one within the other": ["V", "V thick", "V thick and wide"],
    "without blanks": ["a" * 40 + "b", "a" * 40 + "c", "a" * 20 + "d" + "a" * 20],
    "different in the middle": ["x" * 30 + str(k) + "y" * 30 for k in range(12)],
    "short": ["a", "b"],
}


@pytest.mark.parametrize("names", NAMED.values(), ids=NAMED)
@pytest.mark.parametrize("width", [8.0, 15.0, 40.0, 200.0])
def test_short_names_fit_and_stay_different(names: list[str], width: float) -> None:
    short = shorten_apart(names, width, SMALL)
    assert len(set(short)) == len(names)
    assert all(text_width(words, SMALL) <= width for words in short)
    if all(text_width(name, SMALL) <= width for name in names):
        assert short == names


def test_what_all_names_begin_with_goes_first() -> None:
    pair = NAMED["alike but for the end"]
    assert shorten_apart(pair, 20.0, SMALL) == without_shared_beginning(pair) == ["…straight V", "…stepped V"]
    assert without_shared_beginning(["V", "V thick"]) == ["V", "V thick"]  # nothing would be left of the first
    assert without_shared_beginning(["one name"]) == ["one name"]


def test_equal_names_stay_equal() -> None:
    assert len(set(shorten_apart(["a long name indeed"] * 2 + ["a long name indee"], 12.0, SMALL))) == 2


def cone(name: str, thickness: float) -> NamedDesign:
    piece = Piece(Line((0.015, 0.0), (0.025, 0.006)), Zone("cone", Role.DRIVEN, "outer"), plain_wall(FILM, thickness))
    return NamedDesign(name, Design(name, (piece,), outer_edge=CLAMPED, joint=0, ring=Ring(0.6e-3, 2e3)))


COMPARED = {
    "two": ["north hall, straight V", "north hall, stepped V"],
    "three of long names": [
        "north hall, straight V as it is made today", "north hall, straight V as it was drawn", "a dome on a surround"
    ],
    "nine": [f"a V for the north hall, thickness {x} µm" for x in range(40, 49)],
}  # fmt: skip


@pytest.fixture(scope="module", params=COMPARED.values(), ids=COMPARED)
def comparison(request):
    designs = [cone(name, (40 + 2 * k) * 1e-6) for k, name in enumerate(request.param)]
    with without_doubts():
        return compare(designs, 1, orders=range(3), up_to_hz=7e3, points=100, tolerance=0.01, second_opinion=False)


def test_designs_can_be_told_apart_under_the_modes(comparison) -> None:
    figure = sheet(OF_A_COMPARISON, "modes_followed", comparison).figure
    figure.draw_without_rendering()
    (axes,) = figure.axes
    labels = [label.get_text() for label in axes.get_xticklabels()]
    assert len(set(labels)) == len(comparison.designs)
    low = min(label.get_window_extent().y0 for label in axes.get_xticklabels())
    assert low > figure.legends[0].get_window_extent().y1 - 1
    if axes.get_xticklabels()[0].get_rotation() == 0:
        boxes = [label.get_window_extent() for label in axes.get_xticklabels()]
        assert not any(a.overlaps(b) for a, b in combinations(boxes, 2))


def test_numbers_of_modes_stand_clear_of_their_words(comparison, monkeypatch) -> None:
    """ "16 (new)" stood on the frequency behind it."""
    monkeypatch.setattr(tracks, "_number_told", lambda *_: "19 (new)")
    figure = sheet(OF_A_COMPARISON, "modes_followed", comparison).figure
    figure.draw_without_rendering()
    boxes = [(text.get_text(), text.get_window_extent()) for text in figure.texts]
    numbers = [box for words, box in boxes if words == "19 (new)"]
    words = [box for words, box in boxes if words.endswith("e") or "Hz  " in words]
    beside = [box for box in words if any(abs(box.y0 - one.y0) < 3 and box.x0 > one.x0 for one in numbers)]
    assert numbers and len(beside) == len(numbers)
    assert min(box.x0 for box in beside) > max(box.x1 for box in numbers) + 1.0 * figure.dpi / 25.4


def test_words_of_a_comparison_stay_on_its_sheets_and_apart(comparison) -> None:
    for listed in sheets_for(OF_A_COMPARISON, comparison):
        figure = draw_sheet(listed, comparison).figure
        figure.draw_without_rendering()
        boxes = [(text.get_text(), text.get_window_extent()) for text in figure.texts]
        edge = figure.bbox.width * 288 / 297
        for words, box in boxes:
            assert box.x1 <= edge, words
        for (a, first), (b, second) in combinations(boxes, 2):
            wide = min(first.x1, second.x1) - max(first.x0, second.x0)
            high = min(first.y1, second.y1) - max(first.y0, second.y0)
            assert wide <= 1 or high <= 2, f"{listed.name}: '{a}' meets '{b}'"
