"""Letters that the sheets' own face lacks: of another font, else a question mark that is explained."""

import matplotlib
import pytest
from matplotlib.font_manager import FontProperties, findfont, get_font

from diaphragm_fem.report.sheets.lettering import ABSENT, OWN, REMARK, families, give_letters, spelled
from diaphragm_fem.report.sheets.sheet import Listed, draw_sheet, save_sheet
from diaphragm_fem.report.sheets.style import drawing_style, text_width

HOOK = "\u1d81"  # a Latin letter, of STIX and not of our own face; both come with the library
NOWHERE = "\U0010fffd"  # of nobody, but for the library's font of boxes


def test_words_in_our_own_face_stay_in_it():
    assert families("plain Ω ö 3 µm…") == [OWN] and spelled("plain Ω ö") == "plain Ω ö"


def test_a_letter_is_taken_from_a_font_that_has_it():
    own, other = families(f"dome {HOOK}")
    assert own == OWN and get_font(findfont(FontProperties(family=other))).get_char_index(ord(HOOK))
    assert spelled(f"dome {HOOK}") == f"dome {HOOK}"
    assert text_width(HOOK * 9, 8.0) == pytest.approx(9 * text_width(HOOK, 8.0), rel=1e-2)


def test_a_letter_of_no_font_is_a_question_mark():
    assert families(f"dome {NOWHERE}") == [OWN] and spelled(f"{NOWHERE} dome {NOWHERE}") == "? dome ?"
    assert text_width(NOWHERE, 8.0) == pytest.approx(text_width(ABSENT, 8.0))


@pytest.mark.parametrize(("letter", "explained"), [(HOOK, False), (NOWHERE, True), ("d", False)])
@pytest.mark.filterwarnings("error")  # such as the library's of a glyph that is missing
def test_a_sheet_has_its_names_letters_or_says_so(tmp_path, letter, explained):
    listed = Listed("one", "Subject", lambda sheet, name: sheet.text(20, 50, f"zone {name}") and "how", title=str)
    for ending in ("png", "pdf"):
        drawn = draw_sheet(listed, f"north hall {letter}")
        save_sheet(drawn, tmp_path / f"sheet.{ending}")
    words = [one.get_text() for one in drawn.figure.findobj(matplotlib.text.Text)]
    assert (REMARK in words) == explained
    shown = "?" if explained else letter
    assert {f"north hall {shown}", f"zone north hall {shown}"} <= set(words)


@pytest.mark.filterwarnings("error")
def test_words_of_ticks_keys_and_axes_have_their_letters_too(tmp_path):
    def draw(sheet, _):
        axes = sheet.axes(20, 50, 100, 50)
        axes.set_xticks([0, 1], [f"tick {HOOK}", f"tick {NOWHERE}"])
        axes.set_ylabel(f"axis {HOOK}")
        axes.plot([0, 1], label=f"key {NOWHERE}")
        axes.legend()
        return "how"

    drawn = draw_sheet(Listed("one", "Subject", draw, title=str), "north hall")
    save_sheet(drawn, tmp_path / "sheet.png")
    (axes,) = drawn.figure.axes
    assert axes.get_legend().get_texts()[0].get_text() == "key ?" and len(axes.yaxis.label.get_fontfamily()) == 2


def test_a_figure_without_such_letters_is_left_alone():
    with drawing_style():
        figure = matplotlib.figure.Figure()
        text = figure.text(0, 0, "Ω")
    assert not give_letters(figure) and text.get_fontfamily() == [OWN]
