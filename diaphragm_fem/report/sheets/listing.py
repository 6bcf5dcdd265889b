"""The table of sheets of one design: each with its file's name, its subject, what fills it, and what it needs of an
answer. Those of strokes and of many designs stand in `listing_of_strokes.py` and `listing_of_many.py`: an examination
need not load what they stand on, 0.2 s.

To add a sheet, write a function (sheet, answer) -> remark in this folder and give it a line here: folders of results,
pages and the title block follow from the table.
"""

from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

from diaphragm_fem.design.design import Design
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.report.blocks.blocks import Picture
from diaphragm_fem.report.sheets import area, changes, driver, measured, modes, plug, profile, radiation, summary
from diaphragm_fem.report.sheets.sheet import Listed, draw_sheet, save_sheet
from diaphragm_fem.report.stamp import Stamp


def _driven(answer: Any) -> bool:
    return answer.area is not None and answer.figures is not None


def _has_driver(answer: Any) -> bool:
    return answer.driver is not None


def _in_baffle(answer: Any) -> bool:
    return _has_driver(answer) and len(answer.driver.curve.radiated) > 0


def _has_modes(answer: Any) -> bool:
    return any(len(found) for found in answer.modes.values())


class DrawnProfile(NamedTuple):
    """A design, and the mesh whose elements shall be marked."""

    design: Design
    mesh: MeridianMesh | None = None


_design = partial(Listed, title=lambda answer: answer.design.name)


def of_an_order(m: int) -> Listed:
    """The first shapes of one order alone."""
    return _design(
        f"modes_m{m}", f"Mode shapes, m = {m}", lambda sheet, answer: modes.order_sheet(sheet, answer, m),
        needs=lambda answer: len(answer.modes.get(m, ())) > 0,
    )  # fmt: skip


OF_A_DESIGN = (
    _design("summary", "Summary", summary.summary_sheet, portrait=True),
    _design("profile", "Profile", profile.evaluated_profile),
    _design("area", "Effective radiating area", area.area_sheet, needs=_driven),
    _design("what_to_change", "What to change", changes.changes_sheet, needs=lambda a: a.sensitivities is not None),
    _design("driver", "Driver", driver.level_sheet, needs=_has_driver),
    _design("driver_load", "Driver: area and power", driver.load_sheet, needs=_has_driver),
    _design(
        "driver_losses", "Driver: loss of each mode", driver.losses_sheet,
        needs=lambda a: a.driver is not None and len(a.driver.modes.frequency_hz) > 0,
    ),
    _design(
        "driver_chamber", "Chamber and slots", plug.plug_sheet,
        needs=lambda a: a.driver is not None and a.driver.loaded.around.plug is not None,
    ),
    _design(
        "driver_sections", "Two sections", driver.sections_sheet,
        needs=lambda a: a.driver is not None and a.driver.sections is not None,
    ),
    _design("radiation", "Radiation from the baffle", radiation.radiation_sheet, needs=_in_baffle),
    _design("directivity", "Directivity", radiation.directivity_sheet, needs=_in_baffle),
    of_an_order(0),
    _design("modes_by_order", "Modes by order", modes.spectrum_sheet, needs=_has_modes),
)  # fmt: skip

OF_A_PROFILE = (_design("profile", "Profile", lambda sheet, drawn: profile.profile_sheet(sheet, *drawn)),)
"""Of a DrawnProfile: what there is to draw before anything is solved."""


def of_a_measured(number: int) -> Listed:
    """One measured curve beside the prediction, counted from 0."""
    return _design(
        f"measured_{number + 1}", "Measured against predicted",
        lambda sheet, answer: measured.measured_sheet(sheet, answer, number),
    )  # fmt: skip


def sheets_for(listing: Sequence[Listed], answer: Any) -> Iterator[Listed]:
    """The sheets of a list that an answer has what it takes for."""
    return (listed for listed in listing if listed.needs(answer))


def sheet_named(listing: Sequence[Listed], name: str) -> Listed:
    return next(listed for listed in listing if listed.name == name)


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
