"""The verb that opens a page of sliders on this machine."""

from pathlib import Path
from typing import Annotated

import typer

from diaphragm_fem.cli import shared

Save = Annotated[
    Path | None,
    typer.Option("--save", metavar="FILE", help="The one file it may write, <name>_variant.toml where absent."),
]
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

    from diaphragm_fem.answer.explored import explore as solved
    from diaphragm_fem.report.explorer.variant import Variant, check_place

    file = shared.open_design(design, change, allow_unusual)
    top, place = shared.read_frequency(up_to), save or Path(f"{design.stem}_variant.toml")
    check_place(place)
    with shared.solving(design):
        first = Variant(file, lambda one: solved(one, up_to_hz=top), allow_unusual=allow_unusual)

    from diaphragm_fem.report.explorer.room import furnish
    from diaphragm_fem.report.explorer.server import private_page, serve

    served = serve(furnish(lambda: Variant(file, first.solve, allow_unusual=allow_unusual), place))
    with private_page(served.address) as page:
        opened = not no_window and webbrowser.open(page)
        typer.echo(f"{'Opened' if opened else 'Open'} {served.address}")
        typer.echo("It opens once; type it where the browser shows nothing. Ctrl-C ends the explorer.")
        served.run()
