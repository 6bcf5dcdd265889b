"""The folder of a verification: its page in two forms, and its figure."""

from base64 import b64encode
from collections.abc import Sequence
from pathlib import Path

from diaphragm_fem.report.blocks.pages import write_markdown
from diaphragm_fem.report.contents.verification import verification_blocks
from diaphragm_fem.report.page.writer import write_page
from diaphragm_fem.verify.check import CheckResult


def write_verification(results: Sequence[CheckResult], folder: Path) -> list[Path]:
    """Write the page of a run of the ladder into a folder; returns the paths, the page first."""
    from diaphragm_fem.report.sheets.ladder import OF_THE_LADDER
    from diaphragm_fem.report.sheets.listing import write_sheets

    ((figure,), pictures) = write_sheets(OF_THE_LADDER, results, folder)
    blocks = verification_blocks(results, pictures)
    title = "Verification: what the tool was held against"
    picture = f"data:image/png;base64,{b64encode(figure.read_bytes()).decode('ascii')}"
    page = write_page(
        folder / "verification.html", "verification", {}, title=title, stamp=(), blocks=blocks, picture=picture
    )
    return [write_markdown(folder / "verification.md", title, blocks), page, figure]
