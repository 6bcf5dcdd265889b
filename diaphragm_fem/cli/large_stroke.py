"""The verb about large stroke: how stiffness, area, modes, strain and distortion change as the coil moves."""

from pathlib import Path
from typing import Annotated

import typer

from diaphragm_fem.cli import shared
from diaphragm_fem.cli.outputs import kept_design, own_folder

OutFolder = Annotated[
    Path | None,
    typer.Option("--out", metavar="FOLDER", help="Folder of the results; results/<name of the file>.stroke if absent."),
]


def stroke(
    design: shared.DesignPath,
    out: OutFolder = None,
    change: shared.Change = None,
    allow_unusual: shared.AllowUnusual = False,
    second_opinion: Annotated[
        bool, typer.Option("--second-opinion", help="Find the force at four strokes by the solid too (1 to 40 s).")
    ] = False,
    bare_shell: shared.BareShell = False,
    as_json: shared.AsJson = False,
    quiet: shared.Quiet = False,
) -> None:
    """Move the coil far: force, stiffness, area, modes, stability, strain and distortion over the stroke.

    What is asked stands in the [stroke] table of the design; without one the coil goes 1 mm both ways. Keys may be
    given here too: --set "stroke.foremost=0.5 mm".
    """
    from diaphragm_fem.design.stroke_plan import plan_stroke
    from diaphragm_fem.errors import DesignError

    file = shared.open_design(design, change, allow_unusual)
    with shared.naming(design, DesignError, "as a design"):
        plan = plan_stroke(file.spec.stroke, file.design)
    folder = own_folder(out, "stroke", design.stem)
    with shared.working(quiet or as_json) as tell, shared.solving(design):
        tell(f"walking the coil over its stroke{', then a solid for the second opinion' if second_opinion else ''}")
        from diaphragm_fem.answer.stroke.stroke import evaluate_stroke
        from diaphragm_fem.report.results.stroke import write_stroke_folder
        from diaphragm_fem.report.stamp import stamp_of

        answer = evaluate_stroke(file.design, plan, second_opinion=second_opinion, corrected=not bare_shell)
        files = write_stroke_folder(
            answer, folder, design=kept_design(file, change, folder), stamp=stamp_of(file), tell=tell
        )
    if as_json:
        from diaphragm_fem.report.files.json_text import to_json
        from diaphragm_fem.report.files.stroke import stroke_mapping

        typer.echo(to_json(stroke_mapping(answer)))
    elif not quiet:
        from diaphragm_fem.report.contents.stroke import stroke_blocks

        shared.print_blocks(stroke_blocks(answer))
        shared.say_files(folder, files)
