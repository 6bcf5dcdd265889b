"""What sheets of a morning share: the base design's mark, which inputs do not vary on their own, names under marks."""

from collections.abc import Sequence
from typing import Any

from matplotlib.axes import Axes

from diaphragm_fem.report.sheets.names import folded_to, shorten_apart
from diaphragm_fem.report.sheets.sheet import Sheet
from diaphragm_fem.report.sheets.style import CYCLE, INK, SMALL, SOFT_INK, text_width
from diaphragm_fem.report.words.study import inputs_words
from diaphragm_fem.study.morning import Morning

LINE, BEST, CLOUD = CYCLE[0], CYCLE[2], "#b4bdc6"
BASE_MARK: dict[str, Any] = {"marker": "P", "ms": 7, "mfc": "white", "mec": INK, "mew": 1.2, "ls": "none"}
BASE_LINE: dict[str, Any] = {"color": INK, "ls": (0, (1, 1.2)), "lw": 1.2}
ASLANT_ROOM = 24.0  # mm along a name at 35 degrees
NEAR_MISS: dict[str, Any] = {"marker": "o", "ms": 12, "mfc": "none", "mec": BEST, "mew": 0.8, "ls": "none"}


def tell_inputs(sheet: Sheet, morning: Morning) -> None:
    """One line above the title block where inputs depend on each other, so that no mean is read as their own."""
    if words := inputs_words(morning.results):
        sheet.text(12, 17.0, words, size=SMALL, color=SOFT_INK)


def name_levels(axes: Axes, labels: Sequence[str], room: float) -> None:
    """Names under their marks, `room` mm each: level and folded where every word fits, else aslant."""
    folded = [folded_to(label, room - 1.5, SMALL) for label in labels]
    if max(text_width(line, SMALL) for words in folded for line in words) <= room - 1.5:
        axes.set_xticklabels(["\n".join(words) for words in folded])
    else:
        short = shorten_apart(labels, ASLANT_ROOM, SMALL)
        axes.set_xticklabels(short, rotation=35, ha="right", rotation_mode="anchor")
