"""Verbs that look things up: materials with their sources, terms, the schema for editors, the proof."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from diaphragm_fem.cli.outputs import check_out_folder, writing_file, writing_to
from diaphragm_fem.cli.shared import AsJson, Quiet, console, print_blocks, print_json, say_path
from diaphragm_fem.errors import StudyError, echo

if TYPE_CHECKING:
    from diaphragm_fem.verify.check import Check, CheckResult


def materials(
    names: Annotated[list[str] | None, typer.Argument(metavar="NAME", help="Only these materials.")] = None,
    file: Annotated[
        Path | None, typer.Option("--file", metavar="FILE", help="A file with materials of your own.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List the materials with every number's source, kind and the range met."""
    from diaphragm_fem.design.library.library import find_material, load_materials

    known = load_materials(file)
    chosen = [find_material(known, name) for name in names] if names else list(known.values())
    if as_json:
        from diaphragm_fem.design.library.evidence import evidence_table

        print_json([asdict(row) for row in evidence_table(chosen)])
        return
    from diaphragm_fem.report.contents.summary import material_blocks

    print_blocks(material_blocks(chosen))


def terms(
    words: Annotated[list[str] | None, typer.Argument(metavar="WORD", help="Only those that speak of it.")] = None,
) -> None:
    """What each figure is: the words of tables, sheets and verdicts."""
    from diaphragm_fem.report.blocks.blocks import Table
    from diaphragm_fem.report.words.terms import known_terms

    known = known_terms()
    asked = [word.casefold() for word in words or ()]
    found = [(name, told) for name, told in known.items() if all(w in f"{name} {told}".casefold() for w in asked)]
    if not found:
        raise StudyError(f"no term speaks of {echo(' '.join(words or ()))}; known are {', '.join(known)}")
    print_blocks([Table(("term", "what it is"), found, numbers_from=2)])


def schema(
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE", help="Write into this file.")] = None,
    keys: Annotated[bool, typer.Option("--keys", help="List every key, what it is for and what it may be.")] = False,
    study: Annotated[bool, typer.Option("--study", help="Of the study file and not of the design file.")] = False,
) -> None:
    """The JSON schema of the design or study file, for an editor that completes and checks keys as you type."""
    from diaphragm_fem.design.spec.schema import json_schema, key_list, write_schema
    from diaphragm_fem.study.plan.study_tables import study_schema

    found = study_schema() if study else json_schema()
    if keys:
        from diaphragm_fem.report.blocks.blocks import Table

        print_blocks([Table(("key", "what it is for"), key_list(found), numbers_from=2)])
        return
    if out is None:
        typer.echo(json.dumps(found, indent=2, ensure_ascii=False))
        return
    with writing_file(out):
        path = write_schema(out, found)
    kind = "study" if study else "design"
    typer.echo(f"Written to {path}. The first line '#:schema {path.name}' of a {kind} file makes many editors use it.")


def verify(
    only: Annotated[
        str,
        typer.Option(
            "--only", metavar="PATTERN", help='Only checks or rungs of this name, such as "spheres" or "plate*".'
        ),
    ] = "*",
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FOLDER", help="Write the page with its figure here.")
    ] = None,
    everything: Annotated[
        bool, typer.Option("--all", help="Print every check with its source, not the rungs alone.")
    ] = False,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Re-run the checks against closed forms, published tables and other models: a line per rung, or every check."""
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
        print_json(_told(results))
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
    from diaphragm_fem.verify.ladder import run_ladder

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


def _told(results: list[CheckResult]) -> list[dict[str, Any]]:
    asked = ("id", "rung", "problem", "quantity", "source", "model", "allowed", "reason", "note")
    found = ("difference", "passed", "seconds", "error")
    pairs = ([(result.check, asked), (result, found)] for result in results)
    return [{name: getattr(of, name) for of, names in both for name in names} for both in pairs]
