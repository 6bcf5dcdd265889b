"""Verbs about one design: examine it whole, or look at its profile, its modes, its area alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from diaphragm_fem.cli.options import (
    ORDERS,
    TOLERANCE,
    UP_TO,
    AllowUnusual,
    AsJson,
    BareShell,
    Change,
    DesignPath,
    Orders,
    Quiet,
    Tolerance,
    UpTo,
    console,
    naming,
    open_design,
    print_blocks,
    read_frequency,
    read_orders,
    read_share,
    say_missing,
    say_path,
    solving,
    working,
)
from diaphragm_fem.cli.outputs import check_out_file, check_out_folder, results_folder, writing_to
from diaphragm_fem.errors import DesignError

if TYPE_CHECKING:
    from diaphragm_fem.answer.evaluate import Answer
    from diaphragm_fem.answer.stroke import StrokeAnswer
    from diaphragm_fem.design.measured import MeasuredCurve
    from diaphragm_fem.design.read import DesignFile
    from diaphragm_fem.report.folder import Tell
    from diaphragm_fem.report.sheets.sheet import Listed

OutFolder = Annotated[
    Path | None,
    typer.Option("--out", metavar="FOLDER", help="Folder of the results; results/<name of the file> where absent."),
]
NoOpinion = Annotated[
    bool, typer.Option("--no-second-opinion", help="Leave out the solid model, which checks the first modes.")
]
WallInAir = Annotated[
    bool,
    typer.Option(
        "--wall-in-air",
        help="Solve the wall and the real gap's air as one besides, and say how far the thin chamber is off; seconds.",
    ),
]
Measured = Annotated[
    list[Path] | None,
    typer.Option(
        "--measured",
        metavar="FILE",
        help="Put measured curves beside the prediction: a table that declares quantity and unit, or a universal file. "
        "Repeatable.",
        show_default=False,
    ),
]
OutPicture = Annotated[
    Path | None, typer.Option("--out", metavar="FILE", help="Draw into this file, *.png or *.pdf.", show_default=False)
]


def examine(
    design: DesignPath,
    out: OutFolder = None,
    up_to: UpTo = UP_TO,
    orders: Orders = ORDERS,
    tolerance: Tolerance = TOLERANCE,
    change: Change = None,
    allow_unusual: AllowUnusual = False,
    bare_shell: BareShell = False,
    no_second_opinion: NoOpinion = False,
    wall_in_air: WallInAir = False,
    pdf: Annotated[
        bool, typer.Option("--pdf", help="Write summary and moving page as PDF too; the page needs a browser.")
    ] = False,
    measured: Measured = None,
    uff: Annotated[
        bool, typer.Option("--uff", help="Write curves and mode shapes as universal files (data sets 15, 55, 58) too.")
    ] = False,
    as_json: AsJson = False,
    everything: Annotated[bool, typer.Option("--all", help="Print every table, not the verdict alone.")] = False,
    quiet: Quiet = False,
) -> None:
    """The whole job for one design: verdict, modes, area curve, figures and files in one folder."""
    file = open_design(design, change, allow_unusual)
    if wall_in_air:
        _check_thin_chamber(design, file)
    curves = _measured_curves(measured)
    folder = out or results_folder("", design.stem)
    from diaphragm_fem.report.folder import check_folder

    check_out_folder(folder)
    check_folder(folder)
    with working(quiet or as_json) as tell:
        found = _evaluate(
            file, change, up_to, orders, tolerance, not no_second_opinion, tell, bare=bare_shell,
            wall_in_air=wall_in_air,
        )  # fmt: skip
        if curves:
            from diaphragm_fem.answer.measured import put_beside

            found = replace(found, measured=put_beside(found, curves))
        if found.area is not None:
            tell("changing one thing after another")
            from diaphragm_fem.answer.sensitivities import sensitivities

            found = replace(found, sensitivities=sensitivities(file, up_to_hz=found.up_to_hz))
        with solving(design):
            moved = _stroke(file, found, tell)
        from diaphragm_fem.report.folder import write_folder
        from diaphragm_fem.report.stamp import stamp_of

        stamp = stamp_of(file)
        kept = kept_design(file, change, folder)
        files = write_folder(found, folder, design=kept, stroke=moved, stamp=stamp, pdf=pdf, for_others=uff, tell=tell)
    if as_json:
        _print_json(found, stroke=moved)
    elif not quiet:
        from diaphragm_fem.report.measured_words import measured_blocks
        from diaphragm_fem.report.summary import brief_blocks, whole_blocks

        brief = [*brief_blocks(found, console().width), *measured_blocks(found)]
        print_blocks(whole_blocks(found) if everything else brief)
        say_missing(pdf, "design.html")
        if moved is not None:
            from diaphragm_fem.report.blocks import Heading
            from diaphragm_fem.report.stroke_page import stroke_blocks

            print_blocks([Heading("Large stroke"), *stroke_blocks(moved)])
        if everything:
            say_path(f"Written to {folder}: {', '.join(path.name for path in files)}")
        else:
            more = f"summary.md and {len(files) - 2} more; --all prints the tables"
            say_path(f"Written to {folder}: design.html, which moves, {more}")


def _measured_curves(paths: list[Path] | None) -> list[MeasuredCurve]:
    """Every curve of the files, read before any work."""
    from diaphragm_fem.design.measured_file import read_measured_file

    found = []
    for path in paths or ():
        with naming(path, DesignError, "as measured curves"):
            found += read_measured_file(path)
    return found


def _check_thin_chamber(path: Path, file: DesignFile) -> None:
    """Refuse --wall-in-air where there is no gap to solve, or nothing that drives it."""
    from diaphragm_fem.errors import AnalysisError

    driver = file.design.driver
    if driver is None or driver.motor is None or driver.front is None or driver.front.kind != "thin chamber":
        front = None if driver is None else driver.front
        has = "no [front]" if front is None else f'a [front] of kind "{front.kind}"'
        has += "" if driver is not None and driver.motor is not None else ", no [motor]"
        raise AnalysisError(
            f'{path}: --wall-in-air needs a [front] of kind "thin chamber" and a [motor], received {has}; add them, or '
            "leave the option out"
        )


def _stroke(file: DesignFile, found: Answer, tell: Tell) -> StrokeAnswer | None:
    """The design at large stroke, where its file asks for it."""
    if file.spec.stroke is None:
        return None
    from diaphragm_fem.answer.stroke import evaluate_stroke
    from diaphragm_fem.design.stroke_plan import plan_stroke

    plan = plan_stroke(file.spec.stroke, file.design)
    tell("walking the coil over its stroke")
    return evaluate_stroke(found.design, plan)


def kept_design(file: DesignFile, change: list[str] | None, folder: Path) -> str:
    """The design as examined, its changed keys written in, as text to keep beside its results."""
    from diaphragm_fem.design.named_files import moved_to
    from diaphragm_fem.design.write import to_toml
    from diaphragm_fem.errors import plain

    path = file.path or Path("design")
    remarks = [f"What the results in this folder were computed from: {path}", *(f"changed: {x}" for x in change or ())]
    return "".join(f"# {plain(remark)}\n" for remark in remarks) + to_toml(moved_to(file.data, path.parent, folder))


def profile(
    design: DesignPath,
    out: OutPicture = None,
    up_to: UpTo = UP_TO,
    elements: Annotated[
        bool, typer.Option("--elements", help="Mark the ends of the elements of the mesh for --up-to.")
    ] = False,
    change: Change = None,
    allow_unusual: AllowUnusual = False,
) -> None:
    """Draw the section to scale with zones, coil and principal dimensions, and list the zones."""
    file = open_design(design, change, allow_unusual)
    drawn = file.design
    path = _picture(out, design, "profile")
    mesh = None
    if elements:
        from diaphragm_fem.mesh.meridian import mesh_meridian

        with solving(design):
            mesh = mesh_meridian(drawn, read_frequency(up_to))

    from diaphragm_fem.report.sheets.listing import OF_A_PROFILE, DrawnProfile
    from diaphragm_fem.report.summary import zone_blocks

    _draw(OF_A_PROFILE[0], DrawnProfile(drawn, mesh), file, path)
    print_blocks(zone_blocks(drawn))
    say_path(f"Drawn in {path}")


def modes(
    design: DesignPath,
    out: OutPicture = None,
    up_to: UpTo = UP_TO,
    orders: Orders = ORDERS,
    tolerance: Tolerance = TOLERANCE,
    change: Change = None,
    allow_unusual: AllowUnusual = False,
    bare_shell: BareShell = False,
    as_json: AsJson = False,
) -> None:
    """Every mode up to a frequency; with --out the shapes of the first order asked for, or all orders in one chart."""
    file = open_design(design, change, allow_unusual)
    if out is not None:
        out = _picture(out, design, "modes")
    with working(as_json) as tell:
        found = _evaluate(file, change, up_to, orders, tolerance, False, tell, bare=bare_shell)
    if out is not None:
        from diaphragm_fem.report.sheets.listing import OF_A_DESIGN, of_an_order, sheet_named

        first, *others = found.modes
        listed = sheet_named(OF_A_DESIGN, "modes_by_order") if others else of_an_order(first)
        _draw(listed, found, file, out)
    if as_json:
        _print_json(found, "modes")
        return
    from diaphragm_fem.report.summary import mode_blocks

    print_blocks(mode_blocks(found))
    if out is not None:
        say_path(f"Drawn in {out}")


def area(
    design: DesignPath,
    out: OutPicture = None,
    up_to: UpTo = UP_TO,
    tolerance: Tolerance = TOLERANCE,
    change: Change = None,
    allow_unusual: AllowUnusual = False,
    bare_shell: BareShell = False,
    as_json: AsJson = False,
) -> None:
    """The effective radiating area over frequency and the figures read off it, the response per newton among them."""
    from diaphragm_fem.errors import AnalysisError

    file = open_design(design, change, allow_unusual)
    if out is not None:
        out = _picture(out, design, "area")
    with working(as_json) as tell:
        found = _evaluate(file, change, up_to, "0", tolerance, False, tell, bare=bare_shell)
    if found.area is None:
        raise AnalysisError(f"{design}: an effective area needs a drive; give the design a [coil], received none")
    if out is not None:
        from diaphragm_fem.report.sheets.listing import OF_A_DESIGN, sheet_named

        _draw(sheet_named(OF_A_DESIGN, "area"), found, file, out)
    if as_json:
        _print_json(found, "figures", "area", "zones")
        return
    from diaphragm_fem.report.summary import area_blocks

    print_blocks(area_blocks(found))
    if out is not None:
        say_path(f"Drawn in {out}")


def _evaluate(
    file: DesignFile, change: list[str] | None, up_to: str, orders: str, tolerance: str, opinion: bool, tell: Tell,
    *, bare: bool = False, wall_in_air: bool = False,
) -> Answer:  # fmt: skip
    """Everything found out about the design of a file with its changes."""
    top, wanted, within = read_frequency(up_to), read_orders(orders), read_share(tolerance)
    drawn = file.design
    if change:
        told = ", ".join(change) if len(change) < 3 else f"{len(change)} keys changed"
        drawn = replace(drawn, name=f"{drawn.name}, {told}")
    tell("solving, and solving again on a finer mesh" + (" and as a solid" if opinion else ""))

    from diaphragm_fem.answer.evaluate import evaluate

    with solving(file.path or Path(drawn.name)):
        return evaluate(
            drawn, up_to_hz=top, orders=wanted, tolerance=within, second_opinion=opinion, corrected=not bare,
            wall_in_air=wall_in_air,
        )  # fmt: skip


def _picture(out: Path | None, design: Path, kind: str) -> Path:
    """Where a picture goes; refused before any work where it cannot."""
    return check_out_file(out or Path(f"{design.stem}_{kind}.png"), (".png", ".pdf"))


def _draw(listed: Listed, answer: Any, file: DesignFile, path: Path) -> None:
    """One sheet into a file."""
    from diaphragm_fem.report.sheets.sheet import draw_sheet, save_sheet
    from diaphragm_fem.report.stamp import stamp_of

    with writing_to(path):
        save_sheet(draw_sheet(listed, answer, stamp_of(file)), path)


def _print_json(found: Answer, *tables: str, stroke: StrokeAnswer | None = None) -> None:
    from diaphragm_fem.report.export import as_mapping, to_json

    data = as_mapping(found, *tables)
    if stroke is not None:
        from diaphragm_fem.report.stroke_files import stroke_mapping

        data["stroke"] = stroke_mapping(stroke)
    typer.echo(to_json(data))
