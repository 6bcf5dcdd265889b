"""One self-contained HTML file: a template filled with words and data, our style and script inlined.

The page may load nothing (default-src 'none') and runs no script but ours, known by its hash. Words go through
autoescape, data through tojson: markup in a name stays text.
"""

import re
from base64 import b64encode
from collections.abc import Mapping, Sequence
from functools import cache, lru_cache
from hashlib import sha256
from importlib.resources import files
from pathlib import Path
from typing import Any

from diaphragm_fem import __version__
from diaphragm_fem.design.files.whole_file import write_whole
from diaphragm_fem.report.blocks.pages import render
from diaphragm_fem.report.stamp import Stamp

EVERY_PAGE = ("base", "chart", "tables")
SCRIPTS: Mapping[str, Sequence[str]] = {
    "design": (
        "solve", "model", "openair", "section", "solid", "modes", "words", "player", "driver", "measured", "design",
    ),
    "comparison": ("solve", "model", "openair", "section", "words", "player", "profiles", "measured", "comparison"),
    "walls": ("walls",),
    "study": ("parallel", "study"),
    "verification": (),
}  # fmt: skip
"""The parts of the script that each kind of page needs, besides those that every page has."""


def page_text(kind: str, data: Mapping[str, Any], **words: Any) -> str:
    """The page of a kind ("design", ...): `data` for its script, `words` for its template.

    Equal input gives equal text.
    """
    style, script = _part("style.css"), script_of(kind)
    allowed = (f"default-src 'none'; style-src {_hash(style)}; script-src {_hash(script)}; "
               "img-src data:; base-uri 'none'; form-action 'none'")  # fmt: skip
    return render(
        f"page/templates/{kind}.html.jinja", data={"page": kind, **data}, style=style, script=script, policy=allowed,
        version=__version__, **words,
    )  # fmt: skip


def write_page(path: Path, kind: str, data: Mapping[str, Any], **words: Any) -> Path:
    return write_whole(path, page_text(kind, data, **words), newline="\n")


def stamp_cells(stamp: Stamp | None) -> list[tuple[str, str]]:
    """The cells of a title block that say where a page comes from, those that are known."""
    said = [("file", stamp.file), ("fingerprint", stamp.fingerprint), ("dated", stamp.date)] if stamp else []
    return [(name, words) for name, words in said if words]


def script_of(kind: str) -> str:
    """The whole script of a kind of page."""
    parts = [_part(f"script/{name}.js") for name in (*EVERY_PAGE, *SCRIPTS[kind], "begin")]
    return '"use strict";\n' + "\n".join(parts)


def _hash(text: str) -> str:
    return f"'sha256-{b64encode(sha256(text.encode('utf-8')).digest()).decode('ascii')}'"


@lru_cache
def _part(name: str) -> str:
    return files(__package__).joinpath(name).read_text(encoding="utf-8")


@cache
def page_colours(theme: str = "light") -> dict[str, str]:
    """Names ("ink", "driven", "beyond-step", ...) to #rrggbb in the "light" or the "dark" theme."""
    beginning = ":root {" if theme == "light" else ':root[data-theme="dark"]:not(.paper) {'
    block = _part("style.css").split(beginning)[1].split("}")[0]
    return dict(re.findall(r"--([a-z0-9-]+): (#[0-9a-f]{3,8});", block))
