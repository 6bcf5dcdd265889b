"""A page as PDF, printed by a browser that is at hand: what a browser shows no other program prints as well."""

import os
import re
import subprocess
import tempfile
from pathlib import Path
from shutil import which

from diaphragm_fem.design.files.whole_file import whole_file
from diaphragm_fem.errors import ModelError

BROWSERS = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome", "microsoft-edge", "msedge")
PATIENCE = 60  # seconds
CLOCK = re.compile(rb"(?<=\(D:)\d{14}")
NODE = re.compile(rb"(?<=\(node)\d{8}(?=\))")  # the browser's own count: of frames drawn before as well


def find_browser() -> str | None:
    """The first browser on the path that prints pages; None where there is none."""
    return next((path for name in BROWSERS if (path := which(name))), None)


def missing_words(page: str) -> str:
    """What to do for a PDF of a page where no browser is at hand; "" where one is."""
    if find_browser():
        return ""
    return (
        f"no PDF of {page}: none of {', '.join(BROWSERS)} is on the path; install one (on Debian: apt-get install "
        f"chromium-headless-shell), or print {page} from any browser"
    )


def print_page(page: Path) -> Path:
    """Print a page of ours into a PDF of the same name; equal pages give equal bytes.

    Raises ModelError that says what is missing where no browser is at hand or it prints nothing.
    """
    found = find_browser()
    if found is None:
        raise ModelError(missing_words(page.name))
    target = page.with_suffix(".pdf")
    rights = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []  # it refuses root otherwise
    with tempfile.TemporaryDirectory() as profile, whole_file(target) as draft:
        order = [found, "--headless", *rights, f"--user-data-dir={profile}", "--disable-gpu", "--no-pdf-header-footer",
                 f"--print-to-pdf={draft.resolve()}", page.resolve().as_uri()]  # fmt: skip
        try:
            subprocess.run(order, capture_output=True, timeout=PATIENCE, check=False, stdin=subprocess.DEVNULL)
        except (OSError, subprocess.TimeoutExpired) as error:
            raise ModelError(f"no PDF of {page.name}: {found} did not print it ({error})") from error
        if not draft.exists():
            raise ModelError(f"no PDF of {page.name}: {found} did not print it; print it from any browser")
        draft.write_bytes(_timeless(draft.read_bytes()))
    return target


def _timeless(printed: bytes) -> bytes:
    """The same PDF without the clock, its nodes counted from 0 in their order; every offset in the file holds."""
    number = {node: b"%08d" % k for k, node in enumerate(sorted(set(NODE.findall(printed))))}
    return NODE.sub(lambda found: number[found.group()], CLOCK.sub(b"20000101000000", printed))


def with_pdf(page: Path, pdf: bool) -> list[Path]:
    """The page, and its PDF where that is wanted and a browser is at hand."""
    return [page, print_page(page)] if pdf and find_browser() else [page]
