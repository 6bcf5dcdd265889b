"""What the words of figures and tables mean, and which of them a text uses."""

import re
import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path

ALWAYS = ("mode", "effective radiating area S(f)", "swept-in-total area", "zone share q", "response per newton A(f)",
          "cancellation")  # fmt: skip
"""What a page of a design draws, whatever its words."""


@cache
def known_terms() -> Mapping[str, str]:
    """Every term with what it is, in the order in which they build upon each other."""
    return tomllib.loads((Path(__file__).parent / "terms.toml").read_text(encoding="utf-8"))


def terms_of_page(text: str) -> list[tuple[str, str]]:
    """Terms and meanings of a page that draws a design and holds the text."""
    text = text.casefold()
    return [(name, told) for name, told in known_terms().items() if name in ALWAYS or _used(name, text)]


def _used(term: str, text: str) -> bool:
    """Whether one of a term's words stands in a text: "zone share q" without its letter, each of "shelf 1, shelf 2"."""
    words = [re.sub(r" \w(\(f\))?$", "", word).casefold() for word in term.split(", ")]
    return any(re.search(rf"\b{re.escape(word)}", text) for word in words)
