"""Letters that the sheets' own face lacks, such as Chinese and Japanese ones: of a font of this machine that has them,
or a question mark, which the sheet then explains.
"""

from collections.abc import Iterator
from functools import lru_cache
from itertools import chain

from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, fontManager, get_font
from matplotlib.text import Text

OWN = "DejaVu Sans"
USUAL = ("400", "normal", "regular")
ABSENT = "?"
REMARK = f"{ABSENT} is a letter that no font of this machine has"


def families(words: str) -> list[str]:
    """The families that have the letters of some words, our own first."""
    found = [OWN]
    for letter in _strange(words):
        if (family := _family_of(letter)) and family not in found:
            found.append(family)
    return found


def spelled(words: str) -> str:
    """The words, a question mark for each letter that no font has."""
    for letter in _strange(words):
        if _family_of(letter) is None:
            words = words.replace(letter, ABSENT)
    return words


def give_letters(figure: Figure) -> bool:
    """Give the words of a figure fonts that have their letters; whether some are left that none has."""
    absent = False
    for text in _texts(figure):
        words = text.get_text()
        if not words.isascii() and any(_strange(words)):
            text.set_fontfamily(families(words))
            if (shown := spelled(words)) != words:
                text.set_text(shown)
                absent = True
    return absent


def _texts(figure: Figure) -> Iterator[Text]:
    """The words of a figure but for its ticks, which are made as they are drawn: to ask for them takes 50 ms."""
    keys = [*figure.legends, *(key for axes in figure.axes if (key := axes.get_legend()))]
    children = chain(figure.texts, *(axes.get_children() for axes in figure.axes))
    yield from (one for one in children if isinstance(one, Text))
    for axes in figure.axes:
        yield from (axes.xaxis.label, axes.yaxis.label)
    for key in keys:
        yield from (*key.get_texts(), key.get_title())


def _strange(words: str) -> Iterator[str]:
    """The letters that our own face lacks, each once."""
    if not words.isascii():
        for letter in dict.fromkeys(words):
            if not letter.isascii() and not letter.isspace() and not _has(OWN, letter):
                yield letter


@lru_cache(maxsize=4096)
def _family_of(letter: str) -> str | None:
    """The first family on this machine that has a letter, but for the one that has a box for every letter there is."""
    usual = {one.name for one in fontManager.ttflist if one.style == "normal" and str(one.weight) in USUAL}
    for family in sorted(usual):
        try:
            if "lastresort" not in family.replace(" ", "").lower() and _has(family, letter):
                return family
        except (OSError, RuntimeError, ValueError):  # a file that is no font, or is gone
            continue
    return None


def _has(family: str, letter: str) -> bool:
    """Whether a family's upright face of usual weight has a letter."""
    face = findfont(FontProperties(family=family), fallback_to_default=False)
    return bool(get_font(face).get_char_index(ord(letter)))
