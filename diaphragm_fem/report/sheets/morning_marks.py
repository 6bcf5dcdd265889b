"""What every sheet of a morning shows: the base design's mark, and which inputs do not vary on their own."""

from typing import Any

from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import CYCLE, INK, SMALL, SOFT_INK
from diaphragm_fem.report.words.study import inputs_words
from diaphragm_fem.study.morning import Morning

LINE, BEST, CLOUD = CYCLE[0], CYCLE[2], "#b4bdc6"
BASE_MARK: dict[str, Any] = {"marker": "P", "ms": 7, "mfc": "white", "mec": INK, "mew": 1.2, "ls": "none"}
BASE_LINE: dict[str, Any] = {"color": INK, "ls": (0, (1, 1.2)), "lw": 1.2}
NEAR_MISS: dict[str, Any] = {"marker": "o", "ms": 12, "mfc": "none", "mec": BEST, "mew": 0.8, "ls": "none"}


def tell_inputs(sheet: Sheet, morning: Morning) -> None:
    """One line above the title block where inputs depend on each other, so that no mean is read as their own."""
    if words := inputs_words(morning.results):
        sheet.text(12, 17.0, words, size=SMALL, color=SOFT_INK)
