"""The colours of our pages, read from their one place, the style sheet."""

import re
from functools import cache
from importlib.resources import files


@cache
def page_colours(theme: str = "light") -> dict[str, str]:
    """Names ("ink", "driven", "beyond-step", ...) to #rrggbb in the "light" or the "dark" theme."""
    style = files(__package__).joinpath("style.css").read_text(encoding="utf-8")
    beginning = ":root {" if theme == "light" else ':root[data-theme="dark"]:not(.paper) {'
    block = style.split(beginning)[1].split("}")[0]
    return dict(re.findall(r"--([a-z0-9-]+): (#[0-9a-f]{3,8});", block))
