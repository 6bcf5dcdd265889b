"""Measured curves for a page: their sizes and how far each lies from its prediction, over frequency."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.measured.measured import MeasuredCurve
from diaphragm_fem.report.page.packing import packed

if TYPE_CHECKING:
    from diaphragm_fem.answer.measured import Beside

MOST_CURVES = 8  # on a page, the first ones; the files have all
MOST_POINTS = 600  # of a curve on a page: 80 kB for as many curves


def measured_data(evaluation: Answer) -> list[dict[str, Any]]:
    """Each measured curve: its quantity and title, sizes in SI and deviation in dB at its frequencies in Hz."""
    found = []
    for beside in evaluation.measured[:MOST_CURVES]:
        keep = spread(beside.deviation_db)
        found.append({**sizes_of(beside.curve, keep), "apart_db": packed(beside.deviation_db[keep], "f4")})
    return found


def sizes_of(curve: MeasuredCurve, keep: Index) -> dict[str, Any]:
    """A curve's quantity and title, and sizes in SI at the points that are kept."""
    return {
        "quantity": curve.quantity.name, "title": curve.title,
        "hz": packed(curve.frequency_hz[keep], "f4"), "size": packed(np.abs(curve.values[keep]), "f4"),
    }  # fmt: skip


def spread(values: Array) -> Index:
    """Places (K,) of at most MOST_POINTS of the values (F,): least and greatest of each stretch, and both ends."""
    count = len(values)
    if count <= MOST_POINTS:
        return np.arange(count)
    cuts = np.linspace(0, count, MOST_POINTS // 2).astype(int)
    ends = [(a + int(values[a:b].argmin()), a + int(values[a:b].argmax())) for a, b in pairwise(cuts)]
    return np.unique([0, count - 1, *(place for pair in ends for place in pair)])


def left_out(measured: Sequence[Beside]) -> int:
    """How many curves a page does not show."""
    return max(len(measured) - MOST_CURVES, 0)
