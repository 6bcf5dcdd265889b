"""The page of a comparison: designs moving side by side, one table with change bars, profiles, modes followed."""

from math import log2
from pathlib import Path
from typing import Any

import numpy as np

from diaphragm_fem.answer.comparison.comparison import Comparison, level_difference
from diaphragm_fem.answer.comparison.figure_rows import FigureRow
from diaphragm_fem.answer.comparison.mode_tracks import Track
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
from diaphragm_fem.report.words.differences import design_names, ratio_of, show_difference, show_value, who_wins
from diaphragm_fem.report.words.words import printed, show_hz

MOST_MOVING = 3  # designs whose models the page carries, the baseline and those after it: some 0.3 MB each
SPAN = 1.0  # octaves of change that a bar's half length stands for


def write_comparison_page(comparison: Comparison, path: Path, stamp: Stamp | None = None) -> Path:
    blocks = comparison_blocks(comparison)
    tables = [(words, table, words == MEASURED) for words, table in titled_tables(blocks) if words != "Figures"]
    doubts = [printed(line) for line in comparison.doubts]
    return write_page(
        path, "comparison", comparison_data(comparison), title=comparison_title(comparison),
        stamp=[*stamp_cells(stamp), ("range", f"up to {show_hz(comparison.up_to_hz)}")],
        best=" ".join(who_wins(comparison)),
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
        "tracks": {str(m): [*map(_track_data, tracks)] for m, tracks in comparison.tracks.items() if tracks},
    }  # fmt: skip


def change_rows(comparison: Comparison) -> list[dict[str, Any]]:
    """Every figure that some design has: its words, whether it is a headline, and of each design value and change in
    words and the length of its bar, -1 to 1; no bar (None) for the baseline and where a change cannot be told."""
    return [
        {
            "figure": row_words(comparison, row), "headline": row.name in HEADLINES_OF_DRIVERS,
            "cells": [_cell(row, d) for d in range(len(row.values))],
        }
        for row in known_rows(comparison)
    ]  # fmt: skip


def _cell(row: FigureRow, design: int) -> tuple[str, str, float | None]:
    value, change = show_value(row, design), octaves_of_change(row, design)
    if design == row.baseline:
        return value, "", None
    bar = None if change is None else round(float(np.clip(change / SPAN, -1, 1)), 4)
    return value, show_difference(row, design), bar


def octaves_of_change(row: FigureRow, design: int) -> float | None:
    """log2 of the ratio to the baseline, a decibel as what it does to an amplitude, an octave as twofold; None where
    there is none."""
    if row.name.partition(":")[0].endswith("_octaves"):
        return row.differences[design]
    ratio = ratio_of(row, design)
    return None if ratio is None or ratio <= 0 else log2(ratio)


def _moving(comparison: Comparison) -> list[int]:
    """The baseline and the first others that are driven."""
    driven = [d for d, found in enumerate(comparison.evaluations) if found.area is not None]
    first = [d for d in driven if d == comparison.baseline]
    return (first + [d for d in driven if d != comparison.baseline])[:MOST_MOVING]


def _track_data(track: Track) -> dict[str, Any]:
    """A mode followed: its words, and its frequency in every design, None where it is lost."""
    return {"label": track.label, "hz": [None if f is None else float(f) for f in track.frequency_hz]}
