"""Verbs that look at one thing of a design: its profile, its modes, its area."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from diaphragm_fem.cli import shared
from diaphragm_fem.cli.outputs import check_out_file, writing_file

if TYPE_CHECKING:
    from diaphragm_fem.answer.evaluate import Answer
    from diaphragm_fem.answer.stroke.stroke import StrokeAnswer
    from diaphragm_fem.design.read.read import DesignFile
    from diaphragm_fem.report.results.folder import Tell
    from diaphragm_fem.report.sheets.sheet import Listed

OutPicture = Annotated[Path | None, typer.Option("--out", metavar="FILE", help="Draw into this file, *.png or *.pdf.")]


def profile(
    design: shared.DesignPath,
    out: OutPicture = None,
    up_to: shared.UpTo = shared.UP_TO,
    elements: Annotated[
        bool, typer.Option("--elements", help="Mark the ends of the elements of the mesh for --up-to.")
    ] = False,
    change: shared.Change = None,
    allow_unusual: shared.AllowUnusual = False,
) -> None:
    """Draw the section to scale with zones, coil and principal dimensions, and list the zones."""
    file = shared.open_design(design, change, allow_unusual)
    top = shared.read_frequency(up_to)
    drawn = file.design
    path = _picture(out, design, "profile")
    mesh = None
    if elements:
        from diaphragm_fem.mesh.meridian import mesh_meridian

        with shared.solving(design):
            mesh = mesh_meridian(drawn, top)

    from diaphragm_fem.report.contents.summary import zone_blocks
    from diaphragm_fem.report.sheets.listing import OF_A_PROFILE, DrawnProfile

    _draw(OF_A_PROFILE[0], DrawnProfile(drawn, mesh), file, path)
    shared.print_blocks(zone_blocks(drawn))
    shared.say_path(f"Drawn in {path}")


def modes(
    design: shared.DesignPath,
    out: OutPicture = None,
    up_to: shared.UpTo = shared.UP_TO,
    orders: shared.Orders = shared.ORDERS,
    tolerance: shared.Tolerance = shared.TOLERANCE,
    change: shared.Change = None,
    allow_unusual: shared.AllowUnusual = False,
    bare_shell: shared.BareShell = False,
    as_json: shared.AsJson = False,
) -> None:
    """Every mode up to a frequency; with --out the shapes of the first order asked for, or all orders in one chart."""
    file = shared.open_design(design, change, allow_unusual)
    if out is not None:
        out = _picture(out, design, "modes")
    with shared.working(as_json) as tell:
        found = evaluated(file, up_to, orders, tolerance, False, tell, bare=bare_shell)
    if out is not None:
        from diaphragm_fem.report.sheets.listing import OF_A_DESIGN, of_an_order, sheet_named

        first, *others = found.modes
        listed = sheet_named(OF_A_DESIGN, "modes_by_order") if others else of_an_order(first)
        _draw(listed, found, file, out)
    if as_json:
        print_json(found, "modes")
        return
    from diaphragm_fem.report.contents.summary import mode_blocks

    shared.print_blocks(mode_blocks(found))
    if out is not None:
        shared.say_path(f"Drawn in {out}")


def area(
    design: shared.DesignPath,
    out: OutPicture = None,
    up_to: shared.UpTo = shared.UP_TO,
    tolerance: shared.Tolerance = shared.TOLERANCE,
    change: shared.Change = None,
    allow_unusual: shared.AllowUnusual = False,
    bare_shell: shared.BareShell = False,
    as_json: shared.AsJson = False,
) -> None:
    """The effective radiating area over frequency and the figures read off it, the response per newton among them."""
    from diaphragm_fem.errors import AnalysisError

    file = shared.open_design(design, change, allow_unusual)
    if out is not None:
        out = _picture(out, design, "area")
    with shared.working(as_json) as tell:
        found = evaluated(file, up_to, "0", tolerance, False, tell, bare=bare_shell)
    if found.area is None:
        raise AnalysisError(f"{design}: an effective area needs a drive; give the design a [coil], received none")
    if out is not None:
        from diaphragm_fem.report.sheets.listing import OF_A_DESIGN, sheet_named

        _draw(sheet_named(OF_A_DESIGN, "area"), found, file, out)
    if as_json:
        print_json(found, "figures", "area", "zones")
        return
    from diaphragm_fem.report.contents.summary import area_blocks

    shared.print_blocks(area_blocks(found))
    if out is not None:
        shared.say_path(f"Drawn in {out}")


def evaluated(
    file: DesignFile, up_to: str, orders: str, tolerance: str, opinion: bool, tell: Tell,
    *, bare: bool = False, wall_in_air: bool = False, what_to_change: bool = False,
) -> Answer:  # fmt: skip
    """Everything found out about the design of a file."""
    top, wanted, within = shared.read_frequency(up_to), shared.read_orders(orders), shared.read_share(tolerance)
    drawn = file.design
    doing = ["solving", "on a finer mesh", *(["as a solid"] if opinion else ())]
    tell(", ".join([*doing, *(["with one thing changed after another"] if what_to_change else ())]))

    from diaphragm_fem.answer.evaluate import evaluate

    with shared.solving(file.path or Path(drawn.name)):
        return evaluate(
            drawn, up_to_hz=top, orders=wanted, tolerance=within, second_opinion=opinion, corrected=not bare,
            wall_in_air=wall_in_air, file=file if what_to_change else None,
        )  # fmt: skip


def _picture(out: Path | None, design: Path, kind: str) -> Path:
    """Where a picture goes; refused before any work where it cannot."""
    return check_out_file(out or Path(f"{design.stem}_{kind}.png"), (".png", ".pdf"))


def _draw(listed: Listed, answer: Any, file: DesignFile, path: Path) -> None:
    """One sheet into a file."""
    from diaphragm_fem.report.sheets.sheet import draw_sheet, save_sheet
    from diaphragm_fem.report.stamp import stamp_of

    with writing_file(path):
        save_sheet(draw_sheet(listed, answer, stamp_of(file)), path)


def print_json(found: Answer, *tables: str, stroke: StrokeAnswer | None = None) -> None:
    from diaphragm_fem.report.files.design import as_mapping
    from diaphragm_fem.report.files.json_text import to_json

    data = as_mapping(found, *tables)
    if stroke is not None:
        from diaphragm_fem.report.files.stroke import stroke_mapping

        data["stroke"] = stroke_mapping(stroke)
    typer.echo(to_json(data))
