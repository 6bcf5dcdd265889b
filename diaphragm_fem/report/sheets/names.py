"""Names cut to the room that a figure has, so that they still tell things apart."""

from collections.abc import Callable, Sequence

from diaphragm_fem.report.blocks.pages import with_units
from diaphragm_fem.report.sheets.style import text_width

CUT = "…"


def shorten_apart(names: Sequence[str], width: float, size: float) -> list[str]:
    """Names no wider than `width` mm in type of that size; names that differ stay different.

    What all names begin with goes first, since it says least; then ends, beginnings and middles, whichever leaves
    the names different; numbers come before names where nothing else does.
    """

    def fits(words: str) -> bool:
        return text_width(words, size) <= width

    if all(map(fits, names)):
        return list(names)
    told = without_shared_beginning(names)
    for cut in (_end_cut, _beginning_cut, _middle_cut):
        short = [cut(words, fits) for words in told]
        if all(map(fits, short)) and len(set(short)) == len(set(names)):
            return short
    order = list(dict.fromkeys(names))
    return [_end_cut(f"{order.index(name) + 1} {name}", fits) for name in names]


def fitted(words: str, width: float, size: float) -> str:
    """The words, cut at their end where they are wider than `width` mm."""
    return _end_cut(words, lambda shown: text_width(shown, size) <= width)


def on_two_lines(words: str, width: float, size: float) -> list[str]:
    """The words on one line where they fit `width` mm, else on two, parted at a blank where one is near; cut where two
    are too few."""
    if text_width(words, size) <= width:
        return [words]
    first = fitted(folded_to(words, width, size)[0], width, size).removesuffix(CUT)
    return [first, fitted(words[len(first) :].lstrip(), width, size)]


def folded_to(words: str, width: float, size: float) -> list[str]:
    """Lines of whole words no wider than `width` mm, but for single words that are; a unit stays with its number."""
    lines: list[str] = []
    for word in with_units(words).split(" "):
        if lines and text_width(f"{lines[-1]} {word}", size) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def without_shared_beginning(names: Sequence[str]) -> list[str]:
    """ "…straight V", "…stepped V" of "north hall, straight V", "north hall, stepped V"."""
    words = [name.split() for name in dict.fromkeys(names)]
    most = min(map(len, words)) - 1
    shared = next((k for k in range(most) if len({w[k] for w in words}) > 1), most) if len(words) > 1 else 0
    return [CUT + " ".join(name.split()[shared:]) for name in names] if shared > 0 else list(names)


Fits = Callable[[str], bool]


def _end_cut(words: str, fits: Fits) -> str:
    return _longest(words, fits, lambda k: words[:k].rstrip() + CUT)


def _beginning_cut(words: str, fits: Fits) -> str:
    return _longest(words, fits, lambda k: CUT + words[len(words) - k :].lstrip())


def _middle_cut(words: str, fits: Fits) -> str:
    return _longest(words, fits, lambda k: words[: (k + 1) // 2].rstrip() + CUT + words[len(words) - k // 2 :].lstrip())


def _longest(words: str, fits: Fits, kept: Callable[[int], str]) -> str:
    """The form that keeps most letters among those that fit; the shortest where none does."""
    if fits(words):
        return words
    low, high = 1, len(words)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if fits(kept(middle)) else (low, middle)
    return kept(low)
