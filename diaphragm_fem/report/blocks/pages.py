"""Pages from templates: the one door of Jinja2. HTML is escaped by itself, Markdown by the filter `letters`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diaphragm_fem.design.files.plain_text import markdown_text
from diaphragm_fem.design.files.whole_file import write_whole
from diaphragm_fem.report.blocks.blocks import Block

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup


_UNITS = "[kMGcmµn]?(?:Hz|m[²³]?|g|Pa|V|W|N|A|Ω|s|l)|%|dB|ohm|oct(?:aves)?"
_BEFORE_UNIT = re.compile(rf"(?<=\d) (?=(?:{_UNITS})(?![a-zA-Z]))|(?<=[<≥]) (?=\d)")


def with_units(words: str) -> str:
    """The words with every unit, and a sign before it, held to its number, so that no line breaks between them."""
    return _BEFORE_UNIT.sub("\u00a0", words)


TEMPLATES = Path(__file__).parents[1]


def render(template: str, **told: Any) -> str:
    """A template below `report/`, such as "page/templates/design.html.jinja", filled in.

    What stands in a template whose name holds ".html" is escaped; a name that is not told is an error.
    """
    return _environment().get_template(template).render(**told)


@cache
def _environment() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=lambda name: name is not None and ".html" in name,
        trim_blocks=True, lstrip_blocks=True, undefined=StrictUndefined,
    )  # fmt: skip
    made.policies["json.dumps_kwargs"] = {"sort_keys": True, "separators": (",", ":"), "allow_nan": False}
    made.filters["letters"] = lambda value: markdown_text(str(value))
    made.filters["held"] = lambda value: with_units(str(value))
    made.filters["code"] = _with_code
    made.filters["sentence"] = _markdown_with_code
    return made


def _with_code(value: str) -> Markup:
    """Words for HTML, escaped, units held to their numbers; what stands between backticks is set as code, as it is."""
    from markupsafe import Markup, escape

    parts = str(value).split("`")
    if len(parts) % 2 == 0:  # a backtick without its second is a letter
        return escape(with_units(str(value)))
    code = Markup("<code>{}</code>")
    return Markup("").join(code.format(one) if k % 2 else with_units(one) for k, one in enumerate(parts))


def _markdown_with_code(value: str) -> str:
    """Words for Markdown, its marks escaped but for pairs of backticks, between which stands code."""
    parts = value.split("`")
    if len(parts) % 2 == 0:  # a backtick without its second is a letter
        return markdown_text(value)
    return "".join(f"`{one}`" if k % 2 else markdown_text(one) for k, one in enumerate(parts))


def to_markdown(title: str, blocks: Sequence[Block]) -> str:
    return render("blocks/page.md.jinja", title=title, blocks=blocks) + "\n"


def write_markdown(path: Path, title: str, blocks: Sequence[Block]) -> Path:
    """The page as Markdown alone, beside one that moves."""
    return write_whole(path, to_markdown(title, blocks))
