"""Verbs about one thing of a design: its profile, modes, area and large stroke; the part as a drawing or a solid."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from diaphragm_fem.cli import shared
from diaphragm_fem.cli.outputs import check_out_file, kept_design, own_folder, writing_file
from diaphragm_fem.errors import AnalysisError, DesignError

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
        print_numbers(found, "modes")
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
        print_numbers(found, "figures", "area", "zones")
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


def print_numbers(found: Answer, *tables: str, stroke: StrokeAnswer | None = None) -> None:
    from diaphragm_fem.report.files.design import as_mapping

    shared.print_json(as_mapping(found, *tables, stroke=stroke))


AS_DRAWN = "The part as the design file has it: springback and thinning in forming are not in it."


def draw(
    design: shared.DesignPath,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Into this file, *.dxf or *.step; NAME.dxf where absent."),
    ] = None,
    former: Annotated[bool, typer.Option("--with-former", help="Join the coil former to the solid in STEP.")] = False,
    change: shared.Change = None,
    allow_unusual: shared.AllowUnusual = False,
) -> None:
    """Write the part for other programs, in millimetres: half its section as a drawing in DXF (mid-line, both
    faces, layers by zone, dimensions; a design file can read it back) or one closed solid in STEP, without the former
    unless asked for.
    """
    path = check_out_file(out or Path(f"{design.stem}.dxf"), (".dxf", ".step"))
    drawn = shared.open_design(design, change, allow_unusual).design
    if path.suffix == ".dxf":
        from diaphragm_fem.report.files.drawing import write_dxf

        with writing_file(path), shared.solving(design):
            write_dxf(drawn, path)
        told = f"Half section in mm, each zone of the wall on layers of its name. {AS_DRAWN}"
    else:
        from diaphragm_fem.mesh.solid_file import write_step

        with writing_file(path), shared.solving(design):
            solid = write_step(drawn, path, former=former)
        kept = "joined, the winding left out" if former else "left out (--with-former joins it)"
        glued = " and its glue" if drawn.beads else ""
        without = f", the coil former{glued} {kept}" if drawn.former else ""
        size = f"{solid.volume * 1e9:.6g} mm³, its half section {solid.section_area * 1e6:.6g} mm²"
        told = f"One solid in mm of {size}{without}. {AS_DRAWN}"
    from diaphragm_fem.report.blocks.blocks import Words

    if any(len(piece.wall.layers) > 1 for piece in drawn.meridian):
        told += " Layers, and what is glued over one another, are drawn as one wall."
    shared.print_blocks([Words(told)])
    shared.say_path(f"Drawn in {path}")


OutFolder = Annotated[Path | None, typer.Option(
    "--out", metavar="FOLDER", help="Folder of the results; results/<name of the file>.stroke if absent."
)]  # fmt: skip


def stroke(
    design: shared.DesignPath,
    out: OutFolder = None,
    change: shared.Change = None,
    allow_unusual: shared.AllowUnusual = False,
    second_opinion: Annotated[
        bool, typer.Option("--second-opinion", help="Find the force at four strokes by the solid too (1 to 40 s).")
    ] = False,
    bare_shell: shared.BareShell = False,
    everything: Annotated[bool, typer.Option("--all", help="Print every table, not the verdict alone.")] = False,
    as_json: shared.AsJson = False,
    quiet: shared.Quiet = False,
) -> None:
    """Move the coil far: force, stiffness, area, modes, stability, strain and distortion over the stroke.

    What is asked stands in the [stroke] table of the design; without one the coil goes 1 mm both ways. Keys may be
    given here too: --set "stroke.foremost=0.5 mm".
    """
    from diaphragm_fem.design.stroke_plan import plan_stroke

    file = shared.open_design(design, change, allow_unusual)
    with shared.naming(design, DesignError, "as a design"):
        plan = plan_stroke(file.spec.stroke, file.design)
    folder = own_folder(out, "stroke", design.stem)
    with shared.working(quiet or as_json) as tell:
        tell(f"walking the coil over its stroke{', then a solid for the second opinion' if second_opinion else ''}")
        from diaphragm_fem.answer.stroke.stroke import evaluate_stroke
        from diaphragm_fem.report.results.stroke import write_stroke_folder
        from diaphragm_fem.report.stamp import stamp_of

        with shared.solving(design):
            answer = evaluate_stroke(file.design, plan, second_opinion=second_opinion, corrected=not bare_shell)
        files = write_stroke_folder(
            answer, folder, design=kept_design(file, change, folder), stamp=stamp_of(file), tell=tell
        )
    if as_json:
        from diaphragm_fem.report.files.stroke import stroke_mapping

        shared.print_json(stroke_mapping(answer))
    elif not quiet:
        from diaphragm_fem.report.blocks.blocks import Heading
        from diaphragm_fem.report.contents.stroke import brief_stroke_blocks, stroke_blocks

        told = stroke_blocks(answer) if everything else brief_stroke_blocks(answer)
        shared.print_blocks([Heading(answer.design.name, 1), *told])
        if everything:
            shared.say_files(folder, files)
        else:
            shared.say_written(folder, f"stroke.md, stroke.png and {len(files) - 2} more")
