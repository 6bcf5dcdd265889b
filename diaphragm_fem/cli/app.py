"""All verbs of the command."""

from collections.abc import Callable
from functools import cache, wraps
from typing import Any

import typer

from diaphragm_fem import __version__
from diaphragm_fem.cli import examining, many_designs, one_design, reference, side_by_side

EXIT_CODES = """Exit codes:  0 done.  1 the program failed, or a check of `verify` did.  2 refused: one message says
what you can mend.  130 stopped by Ctrl-C.  143 ended by SIGTERM, 129 by SIGHUP.  A case of a sweep that fails is a
row of its results, not an exit."""

app = typer.Typer(
    name="diaphragm-fem",
    help="Loudspeaker diaphragms by finite elements: modes, effective radiating area, and where a step hands over.",
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110},
)


@app.callback(invoke_without_command=True, epilog=EXIT_CODES)
def version(
    ctx: typer.Context, show: bool = typer.Option(False, "--version", help="Print the version and stop.", is_eager=True)
) -> None:
    """Loudspeaker diaphragms by finite elements: modes, effective radiating area, and where a step hands over."""
    if show:
        typer.echo(f"diaphragm_fem {__version__}")
        raise typer.Exit()
    if ctx.invoked_subcommand is None:
        typer.echo(ctx.get_help())


def _solving(verb: Callable[..., Any]) -> Callable[..., Any]:
    """A verb that solves: what linear algebra cannot do without it takes before anything else is loaded."""

    @wraps(verb)
    def begun(*values: Any, **options: Any) -> Any:
        from diaphragm_fem.answer.machine.room import claim_work_areas

        claim_work_areas()
        return verb(*values, **options)

    return begun


@cache  # 30 ms, for whom calls it again
def command() -> Any:
    """The command as it is run: arguments go by their own names in help, where newer versions of the library write
    `{DESIGN}` and `DESIGN <path>`; help that is read from docstrings says so where there are none."""
    made: Any = typer.main.get_command(app)
    for verb in made.commands.values():
        verb.help = verb.help or f"{verb.short_help} Python's option -OO has left out the rest of this help."
    for asked in (asked for verb in made.commands.values() for asked in verb.params):
        if asked.param_type_name == "argument":
            asked.get_usage_pieces, asked.get_help_record = _named(asked, asked.get_help_record)
    return made


def _named(asked: Any, record: Callable[..., Any]) -> tuple[Callable[..., Any], Callable[..., Any]]:
    """What stands for an argument in the line of usage, and in the list below it."""
    shown = asked.metavar if asked.required else f"[{asked.metavar}]"
    pieces = [f"{shown}..." if asked.nargs != 1 else shown]
    return lambda _: pieces, lambda ctx: (asked.metavar, record(ctx)[1])


app.command(short_help="Do the whole job for one design.")(_solving(examining.examine))
app.command(short_help="Try variants with sliders in a browser.")(_solving(examining.explore))
app.command(short_help="Draw the section to scale.")(one_design.profile)
app.command(short_help="Write the part as a drawing (DXF) or a solid (STEP).")(one_design.draw)
app.command(short_help="List every mode up to a frequency.")(_solving(one_design.modes))
app.command(short_help="Give the effective radiating area over frequency.")(_solving(one_design.area))
app.command(short_help="Move the coil far and tell what changes.")(_solving(one_design.stroke))
app.command(short_help="List materials with the source of every number.")(reference.materials)
app.command(short_help="Write the schema that lets an editor complete a file.")(reference.schema)
app.command(short_help="Say what each figure is.")(reference.terms)
app.command(short_help="Re-run the proof on this machine.")(_solving(reference.verify))
app.command(short_help="Put designs side by side.")(_solving(side_by_side.compare))
app.command(short_help="Try one design in every material and thickness.")(_solving(side_by_side.walls))
app.command(short_help="Solve every case of a study, or go on with it.")(many_designs.sweep)  # starts solvers first
app.command(short_help="Tell how a study stands.")(many_designs.status)
app.command(short_help="Rank a study and tell what mattered.")(many_designs.morning)
app.command(short_help="Write a study's results for other programs.")(many_designs.export)
