"""The page of one design: what limits it, how it moves at any frequency, its modes, tables, trust and inputs."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from diaphragm_fem.analysis.figures.figures import Figures
from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.arrays import Index
from diaphragm_fem.report.blocks.blocks import Table, notices_of, said_in, titled_tables
from diaphragm_fem.report.blocks.pages import with_units
from diaphragm_fem.report.contents.summary import FIGURES, page_blocks
from diaphragm_fem.report.contents.tables import MODE_HEADINGS, mode_line
from diaphragm_fem.report.page.measured import left_out, measured_data
from diaphragm_fem.report.page.moving import body_of, moving_data
from diaphragm_fem.report.page.packing import packed, packed_rows
from diaphragm_fem.report.page.writer import stamp_cells, write_page
from diaphragm_fem.report.stamp import Stamp
from diaphragm_fem.report.words.driver import SIDES, headlines, side_by_side
from diaphragm_fem.report.words.figures import figure_text
from diaphragm_fem.report.words.glance import glance
from diaphragm_fem.report.words.measured import beside_words
from diaphragm_fem.report.words.study import naming
from diaphragm_fem.report.words.terms import terms_of_page
from diaphragm_fem.report.words.trust import PROTOTYPE, dangers, model_notes, trust_points
from diaphragm_fem.report.words.verdict import points
from diaphragm_fem.report.words.words import one, show_hz

if TYPE_CHECKING:
    from diaphragm_fem.answer.stroke.stroke import StrokeAnswer

SIX = (
    "fundamental_hz", "low_area_m2", "handed_over_hz", "departure_hz", "break_up_mode_hz", "shelf_band_octaves",
    "even_band_octaves", "moving_mass_kg", "held_volume_m3",
)  # fmt: skip
"""The numbers at the head of the page: the first six of these that the design has."""
MOST_NUMBERS = 90_000  # of all shapes together, 0.24 MB as text: beyond it every second point stays, or every third


def write_design_page(
    evaluation: Answer, path: Path, inputs: str = "", stamp: Stamp | None = None, *, stroke: StrokeAnswer | None = None
) -> Path:
    """Write the page of an evaluation, and of its large stroke where that was asked; `inputs` is the text of its design
    file, `stamp` says where that came from."""
    design, figures = evaluation.design, evaluation.figures
    sides = () if evaluation.driver is None or figures is None else side_by_side(evaluation)
    numbers = [] if figures is None else [("in vacuum" if sides else "", _six(figures))]
    if sides and evaluation.driver is not None:
        alone = ", the first section alone" * (evaluation.driver.sections is not None)
        numbers.insert(0, (f"with everything on{alone}", headlines(sides)[:6]))
    remarks, moved = _remarks(evaluation), []
    if stroke is not None:
        from diaphragm_fem.report.contents.stroke import stroke_blocks  # here: it loads what solves large stroke

        moved = stroke_blocks(stroke)
    told, tables = points(evaluation), _tables(evaluation)
    cells = (str(cell) for _, table, _ in tables for row in table.rows for cell in row)
    shown = [*told, *(words for _, words in remarks), *(heading for heading, _, _ in tables), *cells]
    shown += [part for cell in _stamp(evaluation, stamp) for part in cell]
    meanings = Table(("term", "what it is"), terms_of_page("\n".join(shown)), numbers_from=2)
    tables.append(("What the words mean", meanings, False))
    return write_page(
        path, "design", design_data(evaluation), title=design.name, stamp=_stamp(evaluation, stamp),
        glance=glance(evaluation), numbers=numbers, remarks=remarks,
        sides=Table(SIDES, sides, words=(3,)), measured=_measured(evaluation), verdict=told,
        trust=[*trust_points(evaluation), PROTOTYPE], tables=tables, inputs=inputs,
        moved=said_in(moved),
        moved_remarks=[one for one in notices_of(moved) if one not in remarks],
        moved_tables=[(f"Large stroke: {words}", table, False) for words, table in titled_tables(moved)],
    )  # fmt: skip


def design_data(evaluation: Answer) -> dict[str, Any]:
    """All that the page's script draws and solves."""
    data: dict[str, Any] = {
        **body_of(evaluation), "up_to_hz": evaluation.up_to_hz, "modes": shapes_of(evaluation),
        "mode_list": _mode_list(evaluation),
    }  # fmt: skip
    if evaluation.measured:
        data["measured"] = measured_data(evaluation)
    return data | moving_data(evaluation)


def _remarks(evaluation: Answer) -> list[tuple[str, str]]:
    """What may harm first, then what to doubt, then what the model of a driver leaves out."""
    told = (("Caution", dangers(evaluation)), ("Warning", evaluation.warnings), ("Note", model_notes(evaluation)))
    return [(lead, words) for lead, lines in told for words in lines]


def _measured(evaluation: Answer) -> list[str]:
    """Every measured curve in words, and what the page leaves out."""
    more = left_out(evaluation.measured)
    told = [beside_words(beside) for beside in evaluation.measured]
    return [*told, *([f"Not drawn here: the last {one(more, 'curve')}; measured.csv has all."] if more else [])]


def _six(figures: Figures) -> list[tuple[str, str]]:
    idle = () if figures.steps else ("shelf_band_octaves",)
    names = [name for name in SIX if figures.table().get(name) is not None and name not in idle][:6]
    return [(naming(name).words, figure_text(figures, name)) for name in names]


def _stamp(evaluation: Answer, stamp: Stamp | None) -> list[tuple[str, str]]:
    """The cells of the title block that have something to say."""
    refined = evaluation.refinement
    model = "shell" if refined == 1 else f"shell, mesh refined {refined} times"
    return [*stamp_cells(stamp), ("range", f"up to {show_hz(evaluation.up_to_hz)}"), ("model", model)]


def _mode_list(evaluation: Answer) -> list[dict[str, Any]]:
    """Modes as the ladder shows them: order, number, frequency, the zone that moves most, what is said of each."""
    found = []
    for m, modes in evaluation.modes.items():
        for k in range(len(modes)):
            line = dict(zip(MODE_HEADINGS, mode_line(evaluation, m, k), strict=True))
            told = [line["what moves"], f"loss factor {line['loss factor']}"]
            told += [f"{name} {line[name]}" for name in ("modal mass", "modal area") if line[name]]
            found.append(
                {
                    "m": m, "k": k, "hz": float(modes.frequency_hz[k]), "zone": int(np.argmax(modes.kinetic_share[k])),
                    "label": modes.labels[k], "words": with_units("; ".join(told)),
                }
            )  # fmt: skip
    return found


def _tables(evaluation: Answer) -> list[tuple[str, Table, bool]]:
    """Heading, table, and whether it is open at first: those of the Markdown page but for the one shown above."""
    found = titled_tables(page_blocks(evaluation))
    return [(heading, table, heading.startswith(FIGURES)) for heading, table in found if table.head != SIDES]


def shapes_of(evaluation: Answer) -> dict[str, Any]:
    """By order m: frequency_hz (M,) and shape (M, C, Q), radial, axial and, for m > 0, circumferential motion with the
    largest scaled to 1; point (Q,) numbers the surface points that were kept. What moves most along the axis moves
    toward the listener.

    Around the circumference radial and axial motion go as cos(m theta), the circumferential one as sin(m theta).
    """
    count = sum(
        len(modes) * (2 if m == 0 else 3) * len(evaluation.structures[m].surface.r)
        for m, modes in evaluation.modes.items()
    )
    stride = int(np.ceil(count / MOST_NUMBERS)) or 1
    return {str(m): found for m in evaluation.modes if (found := _shapes(evaluation, m, stride))}


def _shapes(evaluation: Answer, m: int, stride: int) -> dict[str, Any]:
    surface, modes = evaluation.structures[m].surface, evaluation.modes[m]
    if not len(modes):
        return {}
    keep = kept_points(surface.zone, surface.run, stride)
    directions = [surface.motion_r, surface.motion_z] + ([surface.motion_t] if m else [])
    shape = np.stack([np.asarray(each[keep] @ modes.vectors).T for each in directions], axis=1)
    largest = np.sqrt((shape**2).sum(axis=1)).max(axis=1)
    axial = shape[:, 1]
    most = np.take_along_axis(axial, np.abs(axial).argmax(axis=1)[:, None], axis=1)[:, 0]
    largest *= np.where(most < 0, -1.0, 1.0)
    return {
        "frequency_hz": packed(modes.frequency_hz),
        "shape": packed_rows(shape / np.where(largest != 0, largest, 1.0)[:, None, None]),
        "point": packed(keep, "u2"),
    }


def kept_points(zone: Index, run: Index, stride: int) -> Index:
    """Every `stride`-th surface point, and the ends of every zone and run."""
    end = np.flatnonzero((np.diff(zone) != 0) | (np.diff(run) != 0))
    ends = np.concatenate(([0, len(zone) - 1], end, end + 1))
    return np.unique(np.concatenate((np.arange(0, len(zone), stride), ends)))
