"""The verb that re-runs the proof: every check of the ladder on this machine."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from diaphragm_fem.cli.shared import AsJson, Quiet, console, print_blocks, say_path

if TYPE_CHECKING:
    from diaphragm_fem.verify.check import Check, CheckResult


def verify(
    only: Annotated[
        str,
        typer.Option(
            "--only", metavar="PATTERN", help='Only checks or rungs of this name, such as "spheres" or "plate*".'
        ),
    ] = "*",
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FOLDER", help="Write the page with its figure here."),
    ] = None,
    everything: Annotated[
        bool, typer.Option("--all", help="Print every check with its source, not the rungs alone.")
    ] = False,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Re-run the checks against closed forms, published tables and other models: a line per rung, or every check."""
    from diaphragm_fem.cli.outputs import check_out_folder, writing_to
    from diaphragm_fem.errors import StudyError, echo
    from diaphragm_fem.verify.ladder import RUNGS, select

    checks = select(only)
    if not checks:
        rungs = ", ".join(f"'{rung.name}'" for rung in RUNGS)
        raise StudyError(f"--only must match a check or one of the rungs {rungs}; received {echo(only)}")
    if out is not None:
        check_out_folder(out)
    results = _run_with_bar(checks, quiet or as_json)
    if out is not None:
        from diaphragm_fem.report.results.verification import write_verification

        with writing_to(out):
            write_verification(results, out)
    if as_json:
        typer.echo(_as_json(results))
    elif not quiet:
        _print_results(results, everything)
        if out is not None:
            say_path(f"Written to {out}")
    failed = [result for result in results if not result.passed]
    if failed:
        names = ", ".join(result.check.id for result in failed)
        typer.echo(f"error: {len(failed)} of {len(results)} checks failed: {names}", err=True)
        raise typer.Exit(1)


def _run_with_bar(checks: tuple[Check, ...], silent: bool) -> list[CheckResult]:
    import sys

    from diaphragm_fem.verify.run import run_ladder

    if silent or not sys.stderr.isatty():
        return run_ladder(checks)
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (
        TextColumn("checks"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        TextColumn("{task.description}"),
    )
    with Progress(*columns, console=console(error=True), transient=True) as bar:
        task = bar.add_task("", total=len(checks))
        return run_ladder(checks, lambda result: bar.update(task, advance=1, description=result.check.id))


def _print_results(results: list[CheckResult], everything: bool) -> None:
    from diaphragm_fem.report.contents.verification import brief_blocks, verification_blocks

    print_blocks(verification_blocks(results) if everything else brief_blocks(results))
    passed = sum(result.passed for result in results)
    seconds = sum(result.seconds for result in results)
    more = "" if everything else "; --all prints every check with its source"
    typer.echo(f"{passed} of {len(results)} checks passed in {seconds:.0f} s{more}.")


def _as_json(results: list[CheckResult]) -> str:
    from diaphragm_fem.report.files.json_text import to_json

    names = ("id", "rung", "problem", "quantity", "source", "model", "allowed", "reason", "note")
    return to_json(
        [
            {
                **{name: getattr(result.check, name) for name in names},
                "difference": result.difference,
                "passed": result.passed,
                "seconds": result.seconds,
                "error": result.error,
            }
            for result in results
        ]
    )
