"""The page of a comparison: designs moving side by side, one table with change bars, profiles, modes followed."""

from dataclasses import dataclass
from math import log2
from pathlib import Path
from typing import Any

import numpy as np

from diaphragm_fem.answer.comparison.comparison import Comparison, level_difference
from diaphragm_fem.answer.comparison.figure_rows import FigureRow
from diaphragm_fem.design.library.evidence import MARK_LEGEND
from diaphragm_fem.report.blocks.blocks import notices_of, titled_tables
from diaphragm_fem.report.contents.comparison import (
    DOUBTFUL,
    HEADLINES_OF_DRIVERS,
    MEASURED,
    comparison_blocks,
    comparison_title,
    comparison_verdict,
    known_rows,
    measured_beside,
    row_words,
    varied,
)
from diaphragm_fem.report.page.measured import MOST_CURVES, sizes_of, spread
from diaphragm_fem.report.page.moving import body_of, moving_data
from diaphragm_fem.report.page.packing import packed
from diaphragm_fem.report.page.writer import stamp_cells, write_page
from diaphragm_fem.report.stamp import Stamp
from diaphragm_fem.report.words.differences import (
    design_names,
    levels_over,
    ratio_of,
    show_difference,
    show_value,
    winners,
)
from diaphragm_fem.report.words.words import show_hz, show_micro

MOST_MOVING = 3  # designs whose models the page carries, the baseline and those after it: some 0.3 MB each
SPAN = 1.0  # octaves of change that a bar's half length stands for


@dataclass(frozen=True)
class ChangeRow:
    """A figure of every design in words: its name, value and change of each, and the length of each bar, -1 to 1; no
    bar (None) for the baseline and where a change cannot be told."""

    figure: str
    headline: bool
    values: tuple[str, ...]
    changes: tuple[str, ...]
    bars: tuple[float | None, ...]


def write_comparison_page(comparison: Comparison, path: Path, stamp: Stamp | None = None) -> Path:
    """Write the page of a comparison."""
    blocks = comparison_blocks(comparison)
    tables = [(words, table, words == MEASURED) for words, table in titled_tables(blocks) if words != "Figures"]
    doubts = [show_micro(line) for line in comparison.doubts]
    return write_page(
        path, "comparison", comparison_data(comparison), title=comparison_title(comparison),
        stamp=[*stamp_cells(stamp), ("range", f"up to {show_hz(comparison.up_to_hz)}")],
        best=f"{winners(comparison)} {levels_over(comparison)}".strip(),
        lines=[*filter(None, [varied(comparison)]), *measured_beside(comparison)[0], *comparison_verdict(comparison)],
        names=design_names(comparison), baseline=comparison.baseline, rows=change_rows(comparison), tables=tables,
        legend=MARK_LEGEND, doubtful=DOUBTFUL, doubts=doubts, remarks=notices_of(blocks),
    )  # fmt: skip


def comparison_data(comparison: Comparison) -> dict[str, Any]:
    """All that the page's script draws and solves."""
    moving = _moving(comparison)
    names, base = design_names(comparison), comparison.responses[comparison.baseline]
    designs = []
    for d, found in enumerate(comparison.evaluations):
        one = {"name": names[d], **body_of(found)}
        own = moving_data(found)
        if own:
            kept = ("curve", "plateau", "low_area_m2", "start_hz", "look_hz", *(("model",) if d in moving else ()))
            one |= {name: own[name] for name in kept}
        response = comparison.responses[d]
        if d != comparison.baseline and base is not None and response is not None:
            frequency, level = level_difference(response, base)
            one["difference"] = {"hz": packed(frequency), "db": packed(level, "f4")}
        designs.append(one)
    curves = [beside.curve for beside in comparison.evaluations[comparison.baseline].measured[:MOST_CURVES]]
    return {
        "measured": [sizes_of(curve, spread(np.abs(curve.values))) for curve in curves],
        "designs": designs, "baseline": comparison.baseline, "moving": moving, "up_to_hz": comparison.up_to_hz,
        "tracks": {str(m): _track_data(comparison, m) for m, tracks in comparison.tracks.items() if tracks},
    }  # fmt: skip


def change_rows(comparison: Comparison) -> list[ChangeRow]:
    """Every figure that some design has, with its changes as ratios on one axis: a decibel counts as what it does to
    an amplitude, an octave as twofold."""
    return [
        ChangeRow(
            row_words(comparison, row), row.name in HEADLINES_OF_DRIVERS,
            tuple(show_value(row, d) for d in range(len(row.values))),
            tuple("" if d == row.baseline else show_difference(row, d) for d in range(len(row.values))),
            tuple(_bar(row, d) for d in range(len(row.values))),
        )
        for row in known_rows(comparison)
    ]  # fmt: skip


def octaves_of_change(row: FigureRow, design: int) -> float | None:
    """log2 of the ratio to the baseline; None where there is none."""
    if row.name.partition(":")[0].endswith("_octaves"):
        return row.differences[design]
    ratio = ratio_of(row, design)
    return None if ratio is None or ratio <= 0 else log2(ratio)


def _bar(row: FigureRow, design: int) -> float | None:
    if design == row.baseline:
        return None
    change = octaves_of_change(row, design)
    return None if change is None else round(float(np.clip(change / SPAN, -1, 1)), 4)


def _moving(comparison: Comparison) -> list[int]:
    """The baseline and the first others that are driven."""
    driven = [d for d, found in enumerate(comparison.evaluations) if found.area is not None]
    first = [d for d in driven if d == comparison.baseline]
    return (first + [d for d in driven if d != comparison.baseline])[:MOST_MOVING]


def _track_data(comparison: Comparison, m: int) -> list[dict[str, Any]]:
    """Each mode followed: its words, and its frequency in every design, None where it is lost."""
    return [
        {"label": track.label, "hz": [None if f is None else float(f) for f in track.frequency_hz]}
        for track in comparison.tracks[m]
    ]
