"""Verbs about studies of many designs: sweep, status, morning, export."""

from __future__ import annotations

from contextlib import nullcontext, suppress
from dataclasses import asdict
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from diaphragm_fem.cli import shared
from diaphragm_fem.cli.outputs import check_out_folder, check_place, writing_file, writing_to
from diaphragm_fem.errors import StudyError, echo, typed

if TYPE_CHECKING:
    from diaphragm_fem.study.plan.study import Study
    from diaphragm_fem.study.run.status import Status

StudyPath = Annotated[Path, typer.Argument(metavar="STUDY", help="Study file (*.toml).")]
Store = Annotated[Path | None, typer.Option(
    "--store", metavar="FILE", help="Store of the results; results/<name of the file>.study/cases.sqlite where absent."
)]  # fmt: skip
Night = Annotated[bool | None, typer.Option(
    "--night/--day", help="The long version of the study or the short one; else as the file says."
)]  # fmt: skip
Scheduler = Annotated[str | None, typer.Option(
    "--scheduler", metavar="ADDRESS", help='A running Dask scheduler whose workers solve, such as "tls://host:8786".'
)]  # fmt: skip
Certificates = Annotated[Path | None, typer.Option(
    "--certificates", metavar="FOLDER", help="For a scheduler at tls://: folder of ca.pem, cert.pem and key.pem."
)]  # fmt: skip
OwnSolvers = Annotated[int | None, typer.Option(
    "--workers", metavar="COUNT", min=1, help="Solver processes; as many as cores where absent."
)]  # fmt: skip


def sweep(
    study: StudyPath,
    store: Store = None,
    night: Night = None,
    scheduler: Scheduler = None,
    certificates: Certificates = None,
    workers: OwnSolvers = None,
    retry: Annotated[bool, typer.Option("--retry", help="Try cases again that failed or were stopped.")] = False,
    log: Annotated[
        Path | None, typer.Option("--log", metavar="FILE", help="Write a line a minute here, for the night.")
    ] = None,
    quiet: shared.Quiet = False,
) -> None:
    """Solve every case of a study, or go on where it was left; killed at any moment it loses only cases in flight."""
    from diaphragm_fem.answer.machine.cores import signals_held_back
    from diaphragm_fem.study.run.workers import OwnWorkers

    with nullcontext() if scheduler else OwnWorkers(workers) as crew:
        from diaphragm_fem.answer.machine.room import claim_work_areas
        from diaphragm_fem.study.run.progress import Progress, show_duration

        claim_work_areas()
        found = shared.open_study(study, night)
        try:
            with Progress(
                found, quiet=quiet, log_file=log, console=shared.console(error=True), say=_figure_words
            ) as watcher:
                from diaphragm_fem.study.run.engine import run_study

                summary = run_study(
                    found, store=store, scheduler=scheduler, certificates=certificates, workers=crew,
                    retry_failures=retry, watcher=watcher,
                )  # fmt: skip
        except MemoryError as error:
            raise StudyError(
                "this command ran out of memory; what was stored is safe: give it more, and start the study again"
            ) from error
        except KeyboardInterrupt:
            with signals_held_back():
                raise shared.Stopped(_what_is_stored(found, store)) from None
    if quiet:
        return
    counts = ", ".join(f"{count} {status}" for status, count in sorted(summary.after.items()))
    took = f" in {show_duration(summary.seconds)}, {summary.rate:.1f} a second" if summary.added else ""
    typer.echo(f"{found.name}: {summary.total} cases, {summary.added} of them new{took}; {counts}")
    if summary.lost:
        typer.echo(
            f"`sweep --retry` may solve {summary.lost} of them: what met its time limit, lost its solver or found a "
            "file changed."
        )
    if own := sum(summary.after.get(status, 0) for status in ("failed", "stopped")) - summary.lost:
        typer.echo(f"{own} failed for reasons of their own, which `status` tells.")
    if not summary.after.get("done"):
        why = "every case is discarded by [keep]" if summary.after.get("discarded") == summary.total else "see `status`"
        typer.echo(f"No case was solved, so there is nothing to rank: {why}. Stored in {summary.store}.")
        return
    where = f" --store {typed(store)}" if store else ""
    where += "" if night is None else " --night" if night else " --day"
    typer.echo(f"Stored in {summary.store}. Next: diaphragm-fem morning {typed(study)}{where}")


def _figure_words(figure: str, value: float) -> str:
    """ "break-up frequency 16140 Hz"."""
    from diaphragm_fem.report.words.study import naming

    name = naming(figure)
    return f"{name.words} {name.text(value)}"


def _what_is_stored(study: Study, store: Path | None) -> str:
    from diaphragm_fem.study.plan.sampling import Sampler
    from diaphragm_fem.study.run.store_reading import read_store

    path = store or study.store_path
    try:
        with read_store(path) as reading:
            count = sum(reading.counts().values())
    except StudyError:  # so early that there is no store yet
        count = 0
    if not count:
        return "no case is stored yet; give the same command again to begin anew"
    total = len(Sampler(study))
    return f"{count} of {total} cases are stored in {path} and safe; give the same command again to go on from there"


def status(study: StudyPath, store: Store = None, night: Night = None, as_json: shared.AsJson = False) -> None:
    """How a study stands, running or not, from any terminal."""
    from diaphragm_fem.study.run.status import study_status

    asked = shared.open_study(study, night)
    found = study_status(asked, store=store, say=_figure_words)
    if as_json:
        failures = [{"status": s, "reason": r, "count": n} for (s, r), n in found.failures.items()]
        shared.print_json({**asdict(found), "store": str(found.store), "failures": failures, "stored": found.stored})
        return
    from diaphragm_fem.report.blocks.blocks import Heading, Table

    shared.print_blocks([Heading(found.name), Table(("", ""), _status_lines(found), numbers_from=2)])
    if found.stored:
        shared.say_path(f"Stored in {found.store}, {found.bytes_per_case / 1e3:.1f} kB a case.")


def _status_lines(found: Status) -> list[tuple[str, str]]:
    from diaphragm_fem.study.run.progress import show_duration

    lines = [("stored", f"{found.stored} of {found.total} cases")]
    lines += [(f"  {status}", str(count)) for status, count in sorted(found.counts.items())]
    lines.append(("running", found.writer or f"no ({found.ending})"))
    if found.rate:
        lines.append(("rate", f"{found.rate:.1f} cases a second"))
    if found.seconds_left is not None:
        lines.append(("time left", show_duration(found.seconds_left)))
    if found.best:
        lines.append(("best so far", found.best))
    lines.append(("figures", f"version {found.figures_version}, by version {found.version} of the program"))
    lines += [(f"{count} {status}", reason) for (status, reason), count in found.failures.items()]
    return lines


def morning(
    study: StudyPath,
    store: Store = None,
    night: Night = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FOLDER", help="Folder of the pages; else results/<name of the file>.study."),
    ] = None,
    rank_by: Annotated[
        str | None,
        typer.Option("--rank-by", metavar="FIGURE", help="Rank by this figure and not by the study's wish list."),
    ] = None,
    aim: Annotated[
        str,
        typer.Option("--aim", metavar="WORD", help='With --rank-by: "high", "low", or a number in SI to come near to.'),
    ] = "high",
    no_pictures: Annotated[bool, typer.Option("--no-pictures", help="Leave out the figures.")] = False,
    pdf: shared.Pdf = False,
    everything: Annotated[bool, typer.Option("--all", help="Print every table, not the best alone.")] = False,
    quiet: shared.Quiet = False,
) -> None:
    """What a study came to: ranking, trade-offs, effects, tolerance bands, and the best designs as files."""
    from diaphragm_fem.report.contents.morning import brief_morning_blocks, morning_blocks
    from diaphragm_fem.report.results.morning import write_morning
    from diaphragm_fem.study.morning import morning as evaluate_study
    from diaphragm_fem.study.morning.best_files import tolerance_study

    asked, wanted = shared.open_study(study, night), _read_aim(aim)
    folder = out or asked.folder
    check_out_folder(folder)
    found = evaluate_study(asked, store=store, rank_by=rank_by, aim=wanted)
    with writing_to(folder):
        files = write_morning(found, folder, pictures=not no_pictures, pdf=pdf)
    if quiet:
        return
    shared.print_blocks(morning_blocks(found, {}, files.designs) if everything else brief_morning_blocks(found))
    if everything:
        for path in (files.page, *files.printed, *files.figures, *files.designs):
            shared.say_path(f"Written: {path}")
    else:
        best = "best/, " if files.designs else ""
        shared.say_written(folder, f"{files.page.name}, which moves, {best}tables and figures")
    if scatters := tolerance_study(files.designs):
        shared.say_path(f"Its yield under manufacturing scatter: diaphragm-fem sweep {typed(scatters)}")
    shared.say_missing(pdf, files.page.name)


def _read_aim(text: str) -> str | float:
    if text in ("high", "low"):
        return text
    with suppress(ValueError):
        if isfinite(value := float(text)):
            return value
    raise StudyError(f"--aim must be high, low or a number in SI, received {echo(text)}")


def export(
    study: StudyPath,
    target: Annotated[Path, typer.Argument(metavar="FILE", help="*.parquet, *.csv or *.nc")],
    store: Store = None,
    night: Night = None,
) -> None:
    """Write a study's results for other programs: Parquet, CSV or NetCDF, by the ending of the file's name."""
    from diaphragm_fem.study.morning.export import export_study

    check_place(target, "FILE")
    asked = shared.open_study(study, night)
    with writing_file(target):
        written = export_study(asked, target, store=store)
    typer.echo(f"Written: {written}")
