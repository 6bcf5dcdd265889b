"""A page opened in a browser as a user opens it: from disk, without a network; what it asked for and said is kept."""

import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from shutil import which
from typing import Any

import pytest

BROWSER = which("chromium-headless-shell")
HANG = 300_000  # ms, of a page that hangs, however busy the machine is


@dataclass
class Opened:
    """page: playwright's own; said: what went to the console, errors among it; asked: every address asked for."""

    page: Any
    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def go_to(self, hz: float) -> None:
        """Type a frequency and wait for the picture of it."""
        self.page.fill("#hertz", f"{hz!r}")
        self.page.press("#hertz", "Enter")
        self.page.wait_for_function("hz => Math.abs(bench.found().hz / hz - 1) < 1e-12", arg=hz)


def skips_a_heading(page: Path) -> bool:
    """Whether a heading lies more than one level below the one before it, which readers of screens trip over."""
    levels = [int(level) for level in re.findall(r"<h([1-6])[ >]", page.read_text(encoding="utf-8"))]
    return levels[0] != 1 or any(after > before + 1 for before, after in pairwise(levels))


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Debian's headless browser; without it a skip that says so, and a failure under CI."""
    if BROWSER is None:
        reason = "no chromium-headless-shell on the path: pages are not tried in a browser"
        pytest.fail(reason) if "CI" in os.environ else pytest.skip(reason)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        found = player.chromium.launch(executable_path=BROWSER, timeout=HANG)
        yield found
        found.close()


def patient(browser: Any, **looks: Any) -> Any:
    """A context of the browser that gives up only on what hangs."""
    context = browser.new_context(**looks)
    context.set_default_timeout(HANG)
    return context


@contextmanager
def opened(browser: Any, file: Path, **looks: Any) -> Iterator[Opened]:
    """A page open and ready; looks: viewport, color_scheme and the like, reduced motion unless told otherwise."""
    context = patient(browser, **{"offline": True, "reduced_motion": "reduce", **looks})
    found = Opened(context.new_page())
    found.page.on("console", lambda message: found.said.append(message.text))
    found.page.on("pageerror", lambda error: found.said.append(str(error)))
    found.page.on("request", lambda request: found.asked.append(request.url))
    found.page.goto(file.as_uri())
    found.page.wait_for_function("() => document.documentElement.dataset.ready !== undefined")
    yield found
    context.close()
