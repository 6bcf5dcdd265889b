"""What verbs share: options and how their texts are read, inputs opened, errors named, words printed."""

from __future__ import annotations

import os
import re
import sys
import tomllib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Annotated, Any

import typer

from diaphragm_fem.cli.streams import Heedless, PlainPrinting, is_terminal
from diaphragm_fem.errors import AnalysisError, DesignError, DiaphragmError, StudyError, echo, plain

if TYPE_CHECKING:
    from rich.console import Console

    from diaphragm_fem.design.measured.measured import MeasuredCurve
    from diaphragm_fem.design.read.read import DesignFile
    from diaphragm_fem.report.blocks.blocks import Block
    from diaphragm_fem.report.results.folder import Tell
    from diaphragm_fem.study.plan.study import Study

DesignPath = Annotated[Path, typer.Argument(metavar="DESIGN", help="Design file (*.toml).")]
UpTo = Annotated[str, typer.Option("--up-to", metavar="FREQUENCY", help="Top frequency of modes and curves.")]
Orders = Annotated[str, typer.Option(
    "--orders", metavar="M", help='Circumferential orders: "0-4", "0,2,3" or "1". Only 0 sweeps air.'
)]  # fmt: skip
Tolerance = Annotated[str, typer.Option(
    "--tolerance", metavar="SHARE", help="Refine until frequencies are within this, the area curve within ten times."
)]  # fmt: skip
Change = Annotated[list[str] | None, typer.Option(
    "--set", metavar="KEY=VALUE", help='Change a key of the design: --set "wall.thickness=75 um". Repeatable.'
)]  # fmt: skip
AllowUnusual = Annotated[bool, typer.Option(
    "--allow-unusual", help="Take values that lie outside what is commonly built, and record them."
)]  # fmt: skip
Measured = Annotated[list[Path] | None, typer.Option(
    "--measured", metavar="FILE", help="Put measured curves beside the prediction: a table that declares quantity and "
    "unit, or a universal file. Repeatable.",
)]  # fmt: skip
BareShell = Annotated[bool, typer.Option(
    "--bare-shell", help="Leave out what ends, joints and the thickness of walls add to shell theory."
)]  # fmt: skip
Pdf = Annotated[bool, typer.Option("--pdf", help="Write sheets and moving page as PDF too; the page needs a browser.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for other programs instead of tables.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="Print nothing but errors.")]

UP_TO, ORDERS, TOLERANCE = "20 kHz", "0-4", "0.1 %"
MOST_ORDER = 50
NO_SOLUTION = "its equations have no finite solution: sizes, masses or moduli in it lie too far apart; look for a slip"
_RANGE = re.compile(r"\s*([0-9]{1,9})\s*(?:-\s*([0-9]{1,9})\s*)?")


class Stopped(Exception):
    """A verb that was stopped from outside, with what there is to say about it."""


def open_design(path: Path, changes: list[str] | None = None, allow_unusual: bool = False) -> DesignFile:
    """The design of a file with its changed keys, which its name tells."""
    from diaphragm_fem.design.read.read import read_design_file

    with naming(path, DesignError, "as a design"):
        file = read_design_file(path, read_changes(changes), allow_unusual=allow_unusual)
    if not changes:
        return file
    told = ", ".join(changes) if len(changes) < 3 else f"{len(changes)} keys changed"
    return replace(file, design=replace(file.design, name=f"{file.design.name}, {told}"))


def open_study(path: Path, night: bool | None) -> Study:
    """The study of a file."""
    from diaphragm_fem.study.plan.study_file import read_study

    with naming(path, StudyError, "as a study"):
        return read_study(path, night=night)


def read_measured(paths: list[Path] | None) -> list[MeasuredCurve]:
    """Every curve of the files, read before any work."""
    from diaphragm_fem.design.measured.curve_file import read_measured_file

    found = []
    for path in paths or ():
        with naming(path, DesignError, "as measured curves"):
            found += read_measured_file(path)
    return found


@contextmanager
def naming(path: Path, refusal: type[DiaphragmError], doing: str) -> Iterator[None]:
    """What is left over from an input that nobody foresaw, in one sentence that names the file."""
    with _naming_file(path):
        try:
            yield
        except (ArithmeticError, AssertionError, LookupError, RecursionError, TypeError, ValueError) as error:
            raise refusal(f"{path}: cannot be read {doing} ({type(error).__name__}: {echo(str(error))})") from error


@contextmanager
def solving(path: Path) -> Iterator[None]:
    """Equations that have no finite solution in double precision, in one sentence that names the file."""
    import numpy as np

    with _naming_file(path):
        try:
            yield
        except (ArithmeticError, np.linalg.LinAlgError) as error:
            raise AnalysisError(f"{path}: {NO_SOLUTION} ({type(error).__name__}: {echo(str(error))})") from error
        except RuntimeError as error:  # what scipy's factorisation raises
            if "singular" not in str(error):
                raise
            raise AnalysisError(f"{path}: {NO_SOLUTION} ({error})") from error


@contextmanager
def _naming_file(path: Path) -> Iterator[None]:
    """A refusal with the name of the file, where neither that nor an option at fault is named."""
    try:
        yield
    except DiaphragmError as error:
        if plain(str(path)) in str(error) or str(error).startswith("--"):
            raise
        raise type(error)(f"{path}: {error}") from error


def read_changes(texts: list[str] | None) -> dict[str, Any]:
    """ "a.b.0.c=75 um" becomes {"a.b[0].c": "75 um"}; a value is read as TOML where it is TOML, else it is a text."""
    from diaphragm_fem.design.files.key_path import format_path, parse_path

    changes: dict[str, Any] = {}
    for text in texts or ():
        key, sign, value = text.partition("=")
        if not sign or not key.strip() or not value.strip():
            raise DesignError(f'--set must be KEY=VALUE, such as --set "wall.thickness=75 um"; received {echo(text)}')
        path = format_path(parse_path(key.strip()))
        if path in changes:
            raise DesignError(f"--set gives {echo(path)} twice; keep one")
        changes[path] = read_value(value.strip())
    return changes


def read_value(text: str) -> Any:
    """A value as TOML reads it, or the text itself where it is no TOML. Raises DesignError beyond the limits."""
    from diaphragm_fem.design.files.input_file import check_data

    try:
        read = tomllib.loads(f"value = {text}")
        value = read["value"] if len(read) == 1 else text  # further lines may hold more keys
    except RecursionError:
        raise DesignError(f"{echo(text)}: lists and tables lie too deep within one another") from None
    except ValueError:  # no TOML, or a number of more than 4,300 digits
        value = text
    check_data({"value": value})
    return value


def read_frequency(text: str) -> float:
    """The top frequency in Hz from "20 kHz"."""
    from diaphragm_fem.design.units.units import FREQUENCY, HIGHEST_HZ, LOWEST_HZ, read_quantity

    try:
        value = float(read_quantity(text, FREQUENCY))
    except DesignError as error:
        raise AnalysisError(f"--up-to: {error}") from None
    if not LOWEST_HZ < value <= HIGHEST_HZ:
        raise AnalysisError(
            f"--up-to must lie above {LOWEST_HZ:g} Hz, where area curves begin, and be at most {HIGHEST_HZ / 1e6:g} "
            f"MHz; received {echo(text)}"
        )
    return value


def read_orders(text: str) -> list[int]:
    """Orders from "0-4", "0,2,3" or "1", sorted, each once."""
    found: set[int] = set()
    for part in text.split(","):
        asked = _RANGE.fullmatch(part)
        if not asked:
            raise AnalysisError(
                f'--orders must be whole numbers from 0, such as "0-4" or "0,2,3"; received {echo(text)}'
            )
        begin, end = int(asked[1]), int(asked[2] or asked[1])
        if end < begin:
            raise AnalysisError(f"--orders must rise, received {echo(text)}; write '{end}-{begin}'")
        if end > MOST_ORDER:
            raise AnalysisError(f"--orders must stay at or below {MOST_ORDER}, received {echo(text)}")
        found.update(range(begin, end + 1))
    return sorted(found)


def read_share(text: str) -> float:
    """A share from "0.1 %" or "0.001"; of a number above a hundredth it is asked whether per cent are meant."""
    if re.fullmatch(r"\s*[0-9]+,[0-9]+\s*%?\s*", text):
        meant = text.strip().replace(",", ".")
        raise AnalysisError(f'--tolerance: decimals are written with a point, "{meant}"; received {echo(text)}')
    number, percent, rest = text.strip().partition("%")
    try:
        value = float(number) * (0.01 if percent else 1.0)
        if rest or not 0 < value <= 0.1:
            raise ValueError
    except ValueError:
        raise AnalysisError(
            f'--tolerance must be a share above 0 and up to 10 %, such as "0.1 %" or 0.001; received {echo(text)}'
        ) from None
    if not percent and value > 0.01:
        raise AnalysisError(f'--tolerance: write "{100 * value:g} %", or "{value:g} %"; received {echo(text)}')
    return value


def console(*, error: bool = False) -> Console:
    """Where tables go, or with `error` what is told of work that runs; colours only in a terminal, and wide tables stay
    whole in a pipe."""
    from rich.console import Console

    stream: Any = Heedless(sys.stderr) if error else sys.stdout
    width = None if is_terminal(stream) or "COLUMNS" in os.environ else 132
    found = Console(file=stream, width=width, highlight=False, soft_wrap=False)
    found.push_render_hook(PlainPrinting())  # type: ignore[arg-type]
    return found


@contextmanager
def working(silent: bool) -> Iterator[Tell]:
    """A line in the terminal that says what is being done; nothing in a pipe.

    It does not turn: that takes a thread, beside which no work is shared over the cores by forking.
    """
    if silent or not is_terminal(sys.stderr):
        yield lambda _: None
        return
    from rich.live import Live
    from rich.text import Text

    screen = console(error=True)
    with Live(Text("starting"), console=screen, auto_refresh=False, transient=True) as line:
        yield lambda words: line.update(Text(f"{words} …"), refresh=True)


def say_path(words: str) -> None:
    """A quiet line about files, never wrapped: a path broken in two can be neither clicked nor copied."""
    console().print(words, style="bright_black", soft_wrap=True, markup=False)


def say_files(folder: Path, files: Sequence[Path]) -> None:
    """Where every file of a folder of results was written: their names below it, on lines of their own."""
    _say_below(folder, ", ".join(path.name for path in files))


def say_written(folder: Path, what: str, *, everything: bool = False) -> None:
    """Where results were written and what: on one line where the terminal has room; with what --all prints, unless
    that was asked."""
    told = what if everything else f"{what}; --all: every table"
    line = f"Written to {folder}: {told}"
    if len(line) <= console().width:
        say_path(line)
    else:
        _say_below(folder, told)


def _say_below(folder: Path, told: str) -> None:
    say_path(f"Written to {folder}:")
    say_path(fill(told, console().width, initial_indent="  ", subsequent_indent="  ", break_long_words=False,
                  break_on_hyphens=False))  # fmt: skip


def say_missing(pdf: bool, page: str) -> None:
    """What is missing for the PDF of a page that was asked for; nothing where a browser is at hand."""
    if pdf:
        from diaphragm_fem.report.page.printing import missing_words

        if words := missing_words(page):
            say_path(words)


def print_json(data: Any) -> None:
    from diaphragm_fem.report.files.json_text import to_json

    typer.echo(to_json(data))


def print_blocks(blocks: Sequence[Block]) -> None:
    """The blocks of a page in the terminal; a line that holds a path is left whole."""
    from diaphragm_fem.report.terminal import block_lines

    screen = console()
    for line in block_lines(blocks, screen.width):
        screen.print(line, soft_wrap=True)
