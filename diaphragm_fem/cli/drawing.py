"""The verb that hands the part on: as a drawing in DXF or as a solid in STEP."""

from pathlib import Path
from typing import Annotated

import typer

from diaphragm_fem.cli.outputs import check_out_file, writing_file
from diaphragm_fem.cli.shared import AllowUnusual, Change, DesignPath, open_design, print_blocks, say_path, solving

AS_DRAWN = "The part as the design file has it: springback and thinning in forming are not in it."


def draw(
    design: DesignPath,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Into this file, *.dxf or *.step; NAME.dxf where absent."),
    ] = None,
    former: Annotated[bool, typer.Option("--with-former", help="Join the coil former to the solid in STEP.")] = False,
    change: Change = None,
    allow_unusual: AllowUnusual = False,
) -> None:
    """Write the part for other programs, in millimetres: half its section as a drawing in DXF (mid-line, both
    faces, layers by zone, dimensions; a design file can read it back) or one closed solid in STEP, without the former
    unless asked for.
    """
    path = check_out_file(out or Path(f"{design.stem}.dxf"), (".dxf", ".step"))
    drawn = open_design(design, change, allow_unusual).design
    if path.suffix == ".dxf":
        from diaphragm_fem.report.files.drawing import write_dxf

        with writing_file(path), solving(design):
            write_dxf(drawn, path)
        told = f"Half section in mm, each zone of the wall on layers of its name. {AS_DRAWN}"
    else:
        from diaphragm_fem.mesh.solid_file import write_step

        with writing_file(path), solving(design):
            solid = write_step(drawn, path, former=former)
        kept = "joined, the winding left out" if former else "left out (--with-former joins it)"
        glued = " and its glue" if drawn.beads else ""
        without = f", the coil former{glued} {kept}" if drawn.former else ""
        size = f"{solid.volume * 1e9:.6g} mm³, its half section {solid.section_area * 1e6:.6g} mm²"
        told = f"One solid in mm of {size}{without}. {AS_DRAWN}"
    from diaphragm_fem.report.blocks.blocks import Words

    if any(len(piece.wall.layers) > 1 for piece in drawn.meridian):
        told += " Layers, and what is glued over one another, are drawn as one wall."
    print_blocks([Words(told)])
    say_path(f"Drawn in {path}")
