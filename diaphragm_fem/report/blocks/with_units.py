"""Words whose numbers keep their units beside them where a line is broken."""

import re

_BEFORE_UNIT = re.compile(r"(?<=\d) (?=k?Hz|[cm]m[²³]?|N/mm|m?g\b|%|[GM]Pa|oct(?:aves)?\b|dB|µm)|(?<=<) (?=\d)")


def with_units(words: str) -> str:
    """The words with every unit held to its number, so that no line breaks between them."""
    return _BEFORE_UNIT.sub("\u00a0", words)
