"""Words drawn as kept outlines, against those that Matplotlib itself letters."""

import numpy as np
import pytest
from matplotlib import rc_context, rcParams, rcParamsDefault
from matplotlib.figure import Figure

from diaphragm_fem.report.sheets.lettering import letter_by_outlines
from diaphragm_fem.report.sheets.sheet import blank_sheet, save_sheet
from diaphragm_fem.report.sheets.style import DPI, MM, drawing_style, text_width

WORDS = ("82.2 Hz, 13.1 cm²", "profile.outer.steps[0].thickness", "AVATAR To Ty, fill −0.52 µm", "Ø 40 | m = 0", "Å °")


INK = 0.005  # of all ink: 0.0018 at most, by another way of filling
MOVED = 1  # pixel: 0 seen
OTHER = 0.03  # of the ink lies elsewhere: 0.0095 at most


def pictured(words: str, outlined: bool, angle: float = 0.0, **look: object) -> np.ndarray:
    """Ink (y, x) from 0 to 1 of words in the middle of a sheet."""
    with drawing_style():
        sheet = blank_sheet()
        sheet.text(150, 100, words, size=40, rotation=angle, color="black", **look)
        canvas = sheet.figure.canvas
        if outlined:
            letter_by_outlines(canvas.get_renderer())
        with rc_context({"text.hinting": "no_hinting"}):  # else the library moves each letter by up to a pixel
            canvas.draw()
    return 1 - np.asarray(canvas.buffer_rgba())[:, :, 0] / 255


def reach(ink: np.ndarray) -> np.ndarray:
    y, x = np.nonzero(ink > 0.5)
    return np.array([x.min(), x.max(), y.min(), y.max()])


@pytest.mark.parametrize("words", WORDS)
@pytest.mark.parametrize(
    "look", [{}, {"weight": "bold", "ha": "right"}, {"ha": "center", "va": "center", "angle": 90.0}]
)
def test_words_stand_where_the_library_puts_them(words, look):
    own, its = pictured(words, True, **look), pictured(words, False, **look)
    assert own.sum() == pytest.approx(its.sum(), rel=INK)
    np.testing.assert_allclose(reach(own), reach(its), atol=MOVED)
    assert np.abs(own - its).mean() < OTHER * its.mean()


def test_a_line_is_as_wide_as_sheets_are_planned_for():
    """Figures as noughts, which are as wide; blanks at the ends count."""
    renderer = blank_sheet().figure.canvas.get_renderer()
    letter_by_outlines(renderer)
    with drawing_style():
        text = Figure(dpi=DPI).text(0, 0, "")
    for words in WORDS[:4]:
        width, height, below = renderer.get_text_width_height_descent(words, text.get_fontproperties(), False)
        assert width * 25.4 / DPI == pytest.approx(text_width(words, 8.0), abs=2 * MM * 25.4 / DPI)
        assert 0 <= below < height < 8.0 * DPI / 72 * 1.4


def test_nothing_to_draw_draws_nothing():
    assert not pictured("  ", True).any()


def test_a_picture_is_lettered_so_and_a_document_keeps_its_words(tmp_path):
    """PDF holds text that can be sought and copied."""
    with drawing_style():
        sheet = blank_sheet()
        sheet.text(150, 100, "sought", size=40)
    pages = [save_sheet(sheet, tmp_path / name) for name in ("a.png", "b.png", "c.pdf")]
    assert pages[0].read_bytes() == pages[1].read_bytes()
    assert b"/Font" in pages[2].read_bytes()


def test_settings_of_others_change_no_sheet():
    """Such as those of a `matplotlibrc` in the folder of a design: LaTeX would run what its preamble says."""
    theirs = {"text.usetex": True, "savefig.bbox": "tight", "path.sketch": (9, 9, 9), "lines.linestyle": ":"}
    with rc_context(theirs), drawing_style():
        assert all(rcParams[key] == rcParamsDefault[key] for key in theirs)
