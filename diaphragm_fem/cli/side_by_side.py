"""Verbs that put designs side by side: compare them one by one, or one design in every material and thickness."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from diaphragm_fem.cli import shared
from diaphragm_fem.cli.outputs import check_out_folder, results_folder, writing_to
from diaphragm_fem.errors import DesignError, StudyError, echo

if TYPE_CHECKING:
    from diaphragm_fem.answer.comparison.variants import NamedDesign

PARTING_COMMA = re.compile(r",(?![^{\[]*[}\]])")  # one that no table or list holds
DECIMAL_COMMA = re.compile(r"(?<![0-9.,])([0-9]+),([0-9]+ *[^0-9\s,.;][^\s,;]*)")
RANGE = re.compile(r" *(?P<first>[^ ].{0,60}?) +to +(?P<last>[^ ].{0,60}?) +in +(?P<count>[0-9]{1,15}) *")
MOST_WALLS = 10_000
Everything = Annotated[bool, typer.Option("--all", help="Print every table, not the main figures alone.")]
OutFolder = Annotated[Path | None, typer.Option(
    "--out", metavar="FOLDER",
    help="Folder of the results; where absent in results/, named after the file and the verb.",
)]  # fmt: skip


def compare(
    designs: Annotated[
        list[Path], typer.Argument(metavar="DESIGN", help="Two or more design files, or one with --try.")
    ],
    attempts: Annotated[
        list[str] | None,
        typer.Option(
            "--try",
            metavar="KEY=VALUES",
            help='With one design: values of a key, --try "wall.thickness=50 um, 60 um". Repeat for every combination.',
        ),
    ] = None,
    baseline: Annotated[str, typer.Option("--baseline", metavar="NAME", help="Name or number of the baseline.")] = "1",
    out: OutFolder = None,
    up_to: shared.UpTo = shared.UP_TO,
    orders: shared.Orders = shared.ORDERS,
    tolerance: shared.Tolerance = shared.TOLERANCE,
    measured: shared.Measured = None,
    pdf: shared.Pdf = False,
    everything: Everything = False,
    allow_unusual: shared.AllowUnusual = False,
    bare_shell: shared.BareShell = False,
    quiet: shared.Quiet = False,
) -> None:
    """Put designs side by side: figures with differences to a baseline, curves on one axis, modes followed by shape."""
    files_read = [shared.open_design(path, allow_unusual=allow_unusual) for path in designs]
    named = _named_designs(designs, attempts, allow_unusual)
    top, wanted, within = shared.read_frequency(up_to), shared.read_orders(orders), shared.read_share(tolerance)
    first, curves = _baseline(named, baseline), shared.read_measured(measured)
    folder = out or results_folder("compared", *(path.stem for path in designs))
    check_out_folder(folder)
    with shared.working(quiet) as tell:
        tell(f"solving {len(named)} designs")
        from diaphragm_fem.answer.comparison.comparison import beside_measured
        from diaphragm_fem.answer.comparison.comparison import compare as lay_side_by_side

        with shared.solving(designs[0]):
            found = lay_side_by_side(
                named, first, up_to_hz=top, orders=wanted, tolerance=within, corrected=not bare_shell
            )
        if curves:
            found = beside_measured(found, curves)
        tell("drawing")
        from diaphragm_fem.report.contents.comparison import brief_blocks, comparison_blocks
        from diaphragm_fem.report.results.comparison import write_comparison
        from diaphragm_fem.report.stamp import stamp_of

        with writing_to(folder):
            files = write_comparison(found, folder, pdf=pdf, stamp=stamp_of(*files_read))
    if not quiet:
        shared.print_blocks(comparison_blocks(found) if everything else brief_blocks(found, shared.console().width))
        _say_written(folder, "comparison", len(files), everything)
        shared.say_missing(pdf, "comparison.html")


def walls(
    design: shared.DesignPath,
    materials: Annotated[str, typer.Option("--materials", metavar="NAMES", help='Materials: "PEN film, titanium".')],
    thickness: Annotated[
        str,
        typer.Option("--thickness", metavar="VALUES", help='Thicknesses: "25 um, 50 um" or "25 um to 200 um in 50".'),
    ],
    out: OutFolder = None,
    up_to: shared.UpTo = shared.UP_TO,
    pdf: shared.Pdf = False,
    everything: Everything = False,
    allow_unusual: shared.AllowUnusual = False,
    quiet: shared.Quiet = False,
) -> None:
    """One design in every material and thickness: maps of the figures on one mesh."""
    file = shared.open_design(design, allow_unusual=allow_unusual)
    top, values = shared.read_frequency(up_to), _thicknesses(thickness)
    if not allow_unusual:
        _check_usual(values)
    names = [name.strip() for name in materials.split(",") if name.strip()]
    if (count := len(names) * len(values)) > MOST_WALLS:
        raise StudyError(f"--materials and --thickness ask for {count} walls, and at most {MOST_WALLS} are solved")
    folder = out or results_folder("walls", design.stem)
    check_out_folder(folder)
    with shared.working(quiet) as tell:
        tell(f"solving {len(names) * len(values)} walls")
        from diaphragm_fem.answer.walls.grid import read_wall_grid

        with shared.solving(design):
            found = read_wall_grid(design, names, values, up_to_hz=top, allow_unusual=allow_unusual)
        tell("drawing")
        from diaphragm_fem.report.contents.walls import brief_wall_blocks, wall_grid_blocks
        from diaphragm_fem.report.results.comparison import write_wall_grid
        from diaphragm_fem.report.stamp import stamp_of

        with writing_to(folder):
            files = write_wall_grid(found, folder, pdf=pdf, stamp=stamp_of(file))
    if not quiet:
        shared.print_blocks(wall_grid_blocks(found) if everything else brief_wall_blocks(found, shared.console().width))
        _say_written(folder, "walls", len(files), everything)
        shared.say_missing(pdf, "walls.html")


def _say_written(folder: Path, page: str, count: int, everything: bool) -> None:
    shared.say_written(folder, f"{page}.html, which moves, {page}.md and {count - 2} more", everything=everything)


def _named_designs(paths: list[Path], attempts: list[str] | None, allow_unusual: bool) -> tuple[NamedDesign, ...]:
    from diaphragm_fem.answer.comparison.variants import read_designs, vary

    if not attempts:
        if len(paths) < 2:
            raise StudyError(
                f"a comparison needs two designs or more, or one with --try; received only '{paths[0]}'; "
                'write for example --try "wall.thickness=50 um, 60 um"'
            )
        return read_designs(paths, allow_unusual=allow_unusual)
    if len(paths) > 1:
        raise StudyError(f"--try goes with one design, received {len(paths)}")
    values: dict[str, list[Any]] = {}
    for text in attempts:
        key, sign, listed = text.partition("=")
        if not sign or not key.strip() or not listed.strip():
            raise StudyError(
                f'--try must be KEY=VALUES, such as --try "wall.thickness=50 um, 60 um"; received {echo(text)}'
            )
        values[key.strip()] = _listed(listed)
    return vary(paths[0], values, as_drawn=True, allow_unusual=allow_unusual)


def _listed(text: str) -> list[Any]:
    """ "50 um, 60 um", tables or a TOML list; semicolons part other values that hold commas themselves."""
    if text.strip().startswith("["):
        whole = shared.read_value(text.strip())
        if isinstance(whole, list):
            return whole
    _refuse_decimal_comma(text, "--try")
    parts = text.split(";") if ";" in text else PARTING_COMMA.split(text)
    return [shared.read_value(part.strip()) for part in parts if part.strip()]


def _refuse_decimal_comma(text: str, option: str) -> None:
    """ "50,5 um" would be read as two values, the first without a unit."""
    found = DECIMAL_COMMA.search(text)
    if found is not None and ";" not in text:
        raise StudyError(
            f'{option}: decimals are written with a point, "{found[1]}.{found[2]}"; received {echo(text)}; values are '
            "parted by a comma and a blank"
        )


def _baseline(named: tuple[NamedDesign, ...], wanted: str) -> int:
    names = [one.name for one in named]
    if wanted in names:
        return names.index(wanted)
    if wanted.isdecimal() and 1 <= int(wanted) <= len(names):
        return int(wanted) - 1
    listed = ", ".join(f"{i} '{name}'" for i, name in enumerate(names, start=1))
    raise StudyError(f"--baseline must be one of {listed}; received {echo(wanted)}")


def _check_usual(thicknesses: list[str]) -> None:
    from diaphragm_fem.design.read.usual import unusual_value

    for text in thicknesses:
        found = unusual_value(("thickness",), text)
        if found is not None:
            raise StudyError(f"--thickness: {found.question}; if it is meant, give --allow-unusual")


def _thicknesses(text: str) -> list[str]:
    """Texts such as "50 um" from a list or a range."""
    from diaphragm_fem.design.units.units import LENGTH, read_quantity

    def read(amount: str) -> float:
        try:
            return float(read_quantity(amount, LENGTH))
        except DesignError as error:
            raise StudyError(f"--thickness: {error}") from None

    match = RANGE.fullmatch(text)
    if match is None:
        _refuse_decimal_comma(text, "--thickness")
        if " to " in text:
            raise StudyError(f'--thickness: a range says how many, "25 um to 200 um in 50"; received {echo(text)}')
        parts = [part.strip() for part in text.split(",") if part.strip()]
        if not parts or min(map(read, parts)) <= 0:
            raise StudyError(f"--thickness takes one or more values above 0, received {echo(text)}")
        return parts
    first, last = (read(match[end]) for end in ("first", "last"))
    count = int(match["count"])
    if not 2 <= count <= MOST_WALLS:
        raise StudyError(f"--thickness takes 2 to {MOST_WALLS} values, received {echo(text)}")
    if not last > first:
        raise StudyError(f"--thickness must rise, received {echo(text)}")
    return [f"{1e6 * (first + (last - first) * i / (count - 1)):.6g} um" for i in range(count)]
