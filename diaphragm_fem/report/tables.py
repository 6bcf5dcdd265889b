"""Results as tables for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from rich.console import Group
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from diaphragm_fem.analysis.evened_response import decibels
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.evidence import MARK, MARK_LEGEND, EvidenceRow
from diaphragm_fem.report.driver_words import SIDES, driver_tables, side_by_side
from diaphragm_fem.report.figure_words import change_lines, figure_lines
from diaphragm_fem.report.summary import (
    MODE_HEADINGS,
    OPINION_HEADINGS,
    caution,
    cautions,
    doubts,
    mode_line,
    opinion_lines,
    trust,
)
from diaphragm_fem.report.verdict import verdict
from diaphragm_fem.report.words import (
    name_materials,
    one,
    pieces_of,
    show_area,
    show_db,
    show_hz,
    show_share,
    show_thickness,
)

BRIEF_WARNINGS = 2
FIRST_MODES = 6  # of each order, where not all are asked for
QUIET = "bright_black"
LOUD = "bold"
ALARM = "red"


def plain_table(
    title: str | None, headings: Sequence[str], rows: Iterable[Sequence[str | Text]], right: Sequence[int] = ()
) -> Group:
    """A titled table without rules; `right` numbers the columns set flush right."""
    table = Table(box=None, pad_edge=False, header_style=QUIET)
    for index, heading in enumerate(headings):
        table.add_column(heading, justify="right" if index in right else "left", overflow="fold")
    for row in rows:
        table.add_row(*(cell if isinstance(cell, Text) else Text(cell) for cell in row))
    return Group(table) if title is None else Group(Text(title, style=LOUD), table)


def verdict_text(evaluation: Answer) -> Group:
    """Verdict, trust, warnings and cautions as paragraphs."""
    parts: list[Any] = [Text(evaluation.design.name, style=LOUD), Text(verdict(evaluation)), Text("")]
    parts += [Text("How far to trust it", style=LOUD), Text(trust(evaluation))]
    parts += [Text(f"Warning: {warning}", style=ALARM) for warning in evaluation.warnings]
    parts += [Text(f"Caution, {words}", style=ALARM) for words in cautions(evaluation)]
    return Group(*parts)


def figures_table(evaluation: Answer) -> Group | None:
    """Every figure; None for a design without a drive."""
    if evaluation.figures is None:
        return None
    rows = [(name, value, Text(why, style=QUIET)) for name, value, why in figure_lines(evaluation.figures)]
    return plain_table("Figures", ("figure", "value", ""), rows, right=(1,))


def brief(evaluation: Answer, width: int) -> Group:
    """What a designer reads first, at most some twenty lines: verdict, headlines in two columns, warnings."""
    parts: list[Any] = [Text(evaluation.design.name, style=LOUD), Text(verdict(evaluation))]
    if evaluation.figures is not None:
        lines = [(name, value) for name, value, _ in figure_lines(evaluation.figures, all_of_them=False)]
        half = (len(lines) + 1) // 2
        left, right = lines[:half], [*lines[half:], ("", "")][:half]
        rows = [(*one, " ", *other) for one, other in zip(left, right, strict=True)]
        parts += [Text(""), plain_table(None, ("figure", "value", "", "figure", "value"), rows, right=(1, 4))]
    told = [f"Warning: {words}" for words in evaluation.warnings] + [
        f"Caution, {words}" for words in cautions(evaluation)
    ]
    parts += [Text(_cut(words, width), style=ALARM) for words in told[:BRIEF_WARNINGS]]
    if len(told) > BRIEF_WARNINGS:
        parts.append(Text(f"{len(told) - BRIEF_WARNINGS} more: --all, or summary.md", style=QUIET))
    return Group(*parts)


def driver_block(evaluation: Answer, *, all_of_it: bool = True) -> Group | None:
    """The driver: figures side by side, cautions, and where asked for parameters and power; None without one."""
    driver = evaluation.driver
    if driver is None or evaluation.figures is None:
        return None
    parts: list[Any] = [plain_table("The driver", SIDES, side_by_side(evaluation), right=(1, 2))]
    parts += [Text(f"Caution: {words}.", style=ALARM) for words in driver.cautions]
    for title, headings, lines in driver_tables(driver) if all_of_it else ():
        parts += [Text(""), plain_table(title, headings, lines)]
    return Group(*parts)


def _cut(words: str, width: int) -> str:
    """At most two lines of a terminal."""
    return words if len(words) <= 2 * width else words[: 2 * width - 2].rsplit(" ", 1)[0] + " …"


def changes_table(evaluation: Answer) -> Group | None:
    """Change of each figure per +10 % of every thickness, length and modulus; None where it was not asked for."""
    head, rows = change_lines(evaluation)
    if not rows:
        return None
    return plain_table("What to change: the shell's figures per +10 %", head, rows, right=range(1, len(head)))


def modes_table(evaluation: Answer, most: int | None = FIRST_MODES) -> Group:
    """Modes of every order, at most `most` of each (None for all), and what was left out."""
    rows, left_out = [], []
    for m, modes in evaluation.modes.items():
        shown = len(modes) if most is None else min(most, len(modes))
        rows += [mode_line(evaluation, m, k) for k in range(shown)]
        if shown < len(modes):
            left_out.append(f"{len(modes) - shown} of m = {m}")
        if not len(modes):
            rows.append((str(m), "none", *[""] * (len(MODE_HEADINGS) - 2)))
    table = plain_table(f"Modes up to {show_hz(evaluation.up_to_hz)}", MODE_HEADINGS, rows, right=(2, 3, 4, 5, 6))
    more = f"Not shown: {', '.join(left_out)}; modes.csv has them all." if left_out else ""
    return Group(table, Text(more, style=QUIET)) if more else Group(table)


def opinion_table(evaluation: Answer) -> Group | None:
    """Shell against solid, mode by mode."""
    if evaluation.second_opinion is None:
        return None
    title = "Second opinion: the same modes by the solid model"
    return plain_table(title, OPINION_HEADINGS, opinion_lines(evaluation.second_opinion), right=(2, 3, 4))


def zones_table(design: Design, evaluation: Answer | None = None) -> Group:
    """Zones with material and thickness, and rigid area and low share where they are known."""
    area = None if evaluation is None else evaluation.area
    rows = []
    for index, zone in enumerate(design.zones):
        pieces = pieces_of(design, zone)
        row = [zone.name, name_materials(pieces), show_thickness(pieces)]
        if area is not None:
            known = abs(float(area.zone_area[index])) > 0
            row += [show_area(float(area.zone_area[index])), show_area(float(area.low[index]))] if known else ["", ""]
        rows.append(row)
    headings = ["zone", "material", "thickness"] + (["rigid area", "low area"] if area is not None else [])
    return plain_table("Zones", headings, rows, right=(2, 3, 4))


def doubts_text(design: Design) -> Group | None:
    """The numbers that nothing published stands behind; None where there are none."""
    lines = doubts(design.materials)
    if not lines:
        return None
    head = Text(f"{MARK} {one(len(lines), 'number')} without a published source", style=LOUD)
    return Group(head, *(Padding(Text(line, style=QUIET), (0, 0, 0, 2)) for line in lines))


def materials_table(rows: Sequence[EvidenceRow]) -> Group:
    """Materials with the source of every number, and the cautions."""
    cells, last = [], ""
    for row in rows:
        name = "" if row.material == last else row.material
        last = row.material
        met = Text(row.range, style=QUIET)
        cells.append((Text(name, style=LOUD), row.quantity, row.value + row.mark, met, row.kind, Text(row.source)))
    table = plain_table("Materials", ("material", "number", "value", "met", "kind", "source"), cells)
    words = list(dict.fromkeys(f"Caution, {caution(row.material, row.caution)}" for row in rows if row.caution))
    parts: list[Any] = [table, Text("")]
    if any(row.mark for row in rows):
        parts.append(Text(MARK_LEGEND, style=QUIET))
    return Group(*parts, *(Text(line, style=ALARM) for line in words))


def area_table(evaluation: Answer) -> Group | None:
    """The area curve at half-octave steps, the nearest samples, for a quick look."""
    area = evaluation.area
    if area is None:
        return None
    import numpy as np

    total, rows = area.total, []
    evened = None if evaluation.figures is None else evaluation.figures.evened
    response = decibels(np.abs(area.response) / (1.0 if evened is None else evened.plateau))
    top, f = float(area.frequency_hz[-1]), float(area.frequency_hz[0])
    while f <= top * 1.001:
        k = int(np.argmin(np.abs(np.log(area.frequency_hz / f))))
        lost = "" if area.cancellation is None else show_share(max(float(area.cancellation[k]), 0.0))
        phase = f"{round(float(np.degrees(np.angle(total[k])))):d}°".replace("-", "−")
        level = "" if evened is None else show_db(float(response[k]))
        rows.append((show_hz(area.frequency_hz[k]), show_area(abs(total[k])), phase, lost, level))
        f *= 2 ** (1 / 2)
    headings = ("frequency", "effective area", "phase", "cancelled", "output per newton")
    return plain_table("Effective area and output per newton against its plateau", headings, rows, right=range(5))
