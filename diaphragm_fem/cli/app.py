"""All verbs of the command."""

from __future__ import annotations

import typer

from diaphragm_fem.cli import one_design, reference

app = typer.Typer(
    name="diaphragm-fem",
    help="Loudspeaker diaphragms by finite elements: modes, effective radiating area, and where a step hands over.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110},
)


@app.callback(invoke_without_command=True)
def version(
    ctx: typer.Context,
    show: bool = typer.Option(False, "--version", help="Print the version and stop.", is_eager=True),
) -> None:
    """Loudspeaker diaphragms by finite elements: modes, effective radiating area, and where a step hands over."""
    if show:
        from diaphragm_fem import __version__

        typer.echo(f"diaphragm_fem {__version__}")
        raise typer.Exit()


for verb in (one_design.examine, one_design.profile, one_design.modes, one_design.area):
    app.command()(verb)
for verb in (reference.materials, reference.schema):
    app.command()(verb)
