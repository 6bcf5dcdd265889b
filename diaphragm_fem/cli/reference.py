"""Verbs that look things up: materials with their sources, the schema for editors."""

from pathlib import Path
from typing import Annotated

import typer

from diaphragm_fem.cli.outputs import writing_file
from diaphragm_fem.cli.shared import AsJson, print_blocks


def materials(
    names: Annotated[list[str] | None, typer.Argument(metavar="NAME", help="Only these materials.")] = None,
    file: Annotated[
        Path | None,
        typer.Option("--file", metavar="FILE", help="A file with materials of your own."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """List the materials with every number's source, kind and the range met."""
    from diaphragm_fem.design.library.library import find_material, load_materials

    known = load_materials(file)
    chosen = [find_material(known, name) for name in names] if names else list(known.values())
    if as_json:
        from dataclasses import asdict

        from diaphragm_fem.design.library.evidence import evidence_table
        from diaphragm_fem.report.files.json_text import to_json

        typer.echo(to_json([asdict(row) for row in evidence_table(chosen)]))
        return
    from diaphragm_fem.report.contents.summary import material_blocks

    print_blocks(material_blocks(chosen))


def terms(
    words: Annotated[list[str] | None, typer.Argument(metavar="WORD", help="Only those that speak of it.")] = None,
) -> None:
    """What each figure is: the words of tables, sheets and verdicts."""
    import tomllib

    from diaphragm_fem.errors import StudyError, echo
    from diaphragm_fem.report.blocks.table import Table

    known = tomllib.loads((Path(__file__).parents[1] / "report" / "words" / "terms.toml").read_text(encoding="utf-8"))
    asked = [word.casefold() for word in words or ()]
    found = [(name, told) for name, told in known.items() if all(w in f"{name} {told}".casefold() for w in asked)]
    if not found:
        raise StudyError(f"no term speaks of {echo(' '.join(words or ()))}; known are {', '.join(known)}")
    print_blocks([Table(("term", "what it is"), found, numbers_from=2)])


def schema(
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE", help="Write into this file.")] = None,
    keys: Annotated[bool, typer.Option("--keys", help="List every key with what it is for, to read.")] = False,
    study: Annotated[bool, typer.Option("--study", help="Of the study file and not of the design file.")] = False,
) -> None:
    """The JSON schema of the design or study file, for an editor that completes and checks keys as you type."""
    from diaphragm_fem.design.spec.schema import json_schema, key_list, write_schema
    from diaphragm_fem.study.plan.study_schema import study_schema

    found = study_schema() if study else json_schema()
    if keys:
        from diaphragm_fem.report.blocks.table import Table

        print_blocks([Table(("key", "what it is for"), key_list(found), numbers_from=2)])
        return
    if out is None:
        import json

        typer.echo(json.dumps(found, indent=2, ensure_ascii=False))
        return
    with writing_file(out):
        path = write_schema(out, found)
    kind = "study" if study else "design"
    typer.echo(f"Written to {path}. The first line '#:schema {path.name}' of a {kind} file makes many editors use it.")
