"""Verbs about the whole of one design: everything found out, in one folder; variants of it by sliders in a browser."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from diaphragm_fem.cli import outputs, shared
from diaphragm_fem.cli.one_design import evaluated, print_numbers
from diaphragm_fem.errors import AnalysisError, typed

if TYPE_CHECKING:
    from diaphragm_fem.answer.evaluate import Answer
    from diaphragm_fem.answer.stroke.stroke import StrokeAnswer
    from diaphragm_fem.design.read.read import DesignFile
    from diaphragm_fem.report.results.folder import Tell


OutFolder = Annotated[Path | None, typer.Option(
    "--out", metavar="FOLDER", help="Folder of the results; results/<name of the file> where absent."
)]  # fmt: skip
NoOpinion = Annotated[bool, typer.Option(
    "--no-second-opinion", help="Leave out the solid model, which checks the first modes."
)]  # fmt: skip
WallInAir = Annotated[bool, typer.Option(
    "--wall-in-air",
    help="Solve the wall and the real gap's air as one besides, and say how far the thin chamber is off; seconds.",
)]  # fmt: skip


def examine(
    design: shared.DesignPath,
    out: OutFolder = None,
    up_to: shared.UpTo = shared.UP_TO,
    orders: shared.Orders = shared.ORDERS,
    tolerance: shared.Tolerance = shared.TOLERANCE,
    change: shared.Change = None,
    allow_unusual: shared.AllowUnusual = False,
    bare_shell: shared.BareShell = False,
    no_second_opinion: NoOpinion = False,
    wall_in_air: WallInAir = False,
    pdf: Annotated[
        bool, typer.Option("--pdf", help="Write summary and moving page as PDF too; the page needs a browser.")
    ] = False,
    measured: shared.Measured = None,
    uff: Annotated[
        bool, typer.Option("--uff", help="Write curves and mode shapes as universal files (data sets 15, 55, 58) too.")
    ] = False,
    as_json: shared.AsJson = False,
    everything: Annotated[bool, typer.Option("--all", help="Print every table, not the verdict alone.")] = False,
    quiet: shared.Quiet = False,
) -> None:
    """The whole job for one design: verdict, modes, area curve, figures and files in one folder."""
    file = shared.open_design(design, change, allow_unusual)
    if wall_in_air:
        _check_thin_chamber(design, file)
    curves = shared.read_measured(measured)
    folder = outputs.own_folder(out, "", design.stem)
    with shared.working(quiet or as_json) as tell:
        found = evaluated(
            file, up_to, orders, tolerance, not no_second_opinion, tell, bare=bare_shell,
            wall_in_air=wall_in_air, what_to_change=True,
        )  # fmt: skip
        if curves:
            from diaphragm_fem.answer.measured import put_beside

            found = replace(found, measured=put_beside(found, curves))
        with shared.solving(design):
            moved = _stroke(file, found, tell)
        from diaphragm_fem.report.results.design import study_name, write_folder
        from diaphragm_fem.report.stamp import stamp_of

        stamp = stamp_of(file)
        kept = outputs.kept_design(file, change, folder)
        files = write_folder(found, folder, design=kept, stroke=moved, stamp=stamp, pdf=pdf, for_others=uff, tell=tell)
    if as_json:
        print_numbers(found, stroke=moved)
    elif not quiet:
        from diaphragm_fem.report.contents.summary import brief_blocks, whole_blocks
        from diaphragm_fem.report.words.measured import measured_blocks

        brief = [*brief_blocks(found, shared.console().width), *measured_blocks(found)]
        shared.print_blocks(whole_blocks(found) if everything else brief)
        shared.say_missing(pdf, "design.html")
        if moved is not None:
            from diaphragm_fem.report.blocks.blocks import Heading
            from diaphragm_fem.report.contents.stroke import brief_stroke_blocks, stroke_blocks

            told = stroke_blocks(moved) if everything else brief_stroke_blocks(moved)
            shared.print_blocks([Heading("Large stroke"), *told])
        if everything:
            shared.say_files(folder, files)
        else:
            shared.say_written(folder, f"design.html, which moves, summary.md and {len(files) - 2} more")
        study = folder / study_name(folder)
        if study in files:
            shared.say_path(f"To look further than a tenth: diaphragm-fem sweep {typed(study)}")


def _check_thin_chamber(path: Path, file: DesignFile) -> None:
    """Refuse --wall-in-air where there is no gap to solve, or nothing that drives it."""
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
    """The design at large stroke, where its file asks for it, and with each step that the verdict tells; without a
    driver that could not be drawn."""
    if file.spec.stroke is None:
        return None
    from diaphragm_fem.answer.stroke.far_steps import far_steps
    from diaphragm_fem.answer.stroke.stroke import evaluate_stroke
    from diaphragm_fem.design.stroke_plan import plan_stroke
    from diaphragm_fem.report.words.verdict import told_steps

    plan = plan_stroke(file.spec.stroke, file.design)
    tell("walking the coil over its stroke")
    design = found.design if found.driver else replace(found.design, driver=None)
    moved = evaluate_stroke(design, plan, corrected=found.corrected)
    if steps := told_steps(found):
        tell("walking what the verdict tells to change")
    tried = far_steps(file, steps, in_driver=found.driver is not None, corrected=found.corrected)
    return replace(moved, tried=tried)


Save = Annotated[Path | None, typer.Option(
    "--save", metavar="FILE", help="The one file it may write, <name>_variant.toml where absent."
)]  # fmt: skip
NoWindow = Annotated[bool, typer.Option("--no-window", help="Open no browser, print the address alone.")]


def explore(
    design: shared.DesignPath,
    save: Save = None,
    up_to: shared.UpTo = shared.UP_TO,
    change: shared.Change = None,
    allow_unusual: shared.AllowUnusual = False,
    no_window: NoWindow = False,
) -> None:
    """Try variants in a browser: a slider for every amount of the file, a choice for every material.

    The page is served to this machine alone, at an address that opens once. Ctrl-C ends it.
    """
    import webbrowser
    from threading import Thread

    from diaphragm_fem.answer.explored import explore as solved
    from diaphragm_fem.report.explorer.variant import Variant, check_own_variant

    file = shared.open_design(design, change, allow_unusual)
    top, place = shared.read_frequency(up_to), save or Path(f"{design.stem}_variant.toml")
    outputs.check_place(place, "--save")
    check_own_variant(place)
    with shared.solving(design):
        first = Variant(file, lambda one: solved(one, up_to_hz=top), allow_unusual=allow_unusual)

    from diaphragm_fem.report.explorer.room import Room
    from diaphragm_fem.report.explorer.server import private_page, serve

    served = serve(lambda drawn: Room(drawn, Variant(file, first.solve, allow_unusual=allow_unusual), place))
    with private_page(served.address) as page:
        typer.echo(f"Open {served.address}")
        typer.echo("It opens once; type it where the browser shows nothing. Ctrl-C ends the explorer.")
        if not no_window:  # some browsers are waited for until they end, and this page is not served before
            Thread(target=webbrowser.open, args=[page], daemon=True).start()
        served.run()
