"""Sheets of a list, drawn and written, with the pictures that a page shows of them."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from diaphragm_fem.report.blocks.blocks import Picture
from diaphragm_fem.report.sheets.listing import sheets_for
from diaphragm_fem.report.sheets.sheet import Listed, draw_sheet, save_sheet
from diaphragm_fem.report.stamp import Stamp


def write_sheets(
    listing: Sequence[Listed], answer: Any, folder: Path, *, pdf: bool = False, stamp: Stamp | None = None
) -> tuple[list[Path], list[Picture]]:
    """Every sheet that the answer has what it takes for."""
    shown = list(sheets_for(listing, answer))
    paths = [path for listed in shown for path in write_sheet(listed, answer, folder, pdf=pdf, stamp=stamp)]
    return paths, [Picture(f"{listed.name}.png", listed.subject) for listed in shown]


def write_sheet(
    listed: Listed, answer: Any, folder: Path, *, pdf: bool = False, stamp: Stamp | None = None
) -> list[Path]:
    """One sheet as PNG and where asked for as PDF."""
    sheet = draw_sheet(listed, answer, stamp)
    return [save_sheet(sheet, folder / f"{listed.name}.{kind}") for kind in ("png", *(["pdf"] if pdf else []))]
