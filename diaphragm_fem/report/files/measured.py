"""Measured curves and their predictions as columns, named with their units."""

from __future__ import annotations

from typing import Any

import numpy as np

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.report.blocks.table import columns_of
from diaphragm_fem.report.words.measured import state_of


def measured_columns(evaluation: Answer) -> dict[str, list[Any]]:
    """A row per measured point; empty where nothing was measured."""
    columns: dict[str, list[Any]] = {}

    def put(name: str, values: Any) -> None:
        columns.setdefault(name, []).extend(np.asarray(values).tolist())

    for n, beside in enumerate(evaluation.measured, start=1):
        curve, count = beside.curve, len(beside.curve.frequency_hz)
        unknown = np.full(count, np.nan)
        put("curve", [n] * count)
        put("quantity", [curve.title] * count)
        put("state", [state_of(beside)] * count)
        put("frequency_hz", curve.frequency_hz)
        put("measured_real", curve.values.real if curve.phase else unknown)
        put("measured_imag", curve.values.imag if curve.phase else unknown)
        put("measured_size", np.abs(curve.values))
        put("predicted_real", beside.predicted.real)
        put("predicted_imag", beside.predicted.imag)
        put("predicted_size", np.abs(beside.predicted))
        put("deviation_db", beside.deviation_db)
    return columns


def peak_columns(evaluation: Answer) -> dict[str, list[Any]]:
    """A row per pair of peaks; empty without any."""
    rows = [
        (n, beside.curve.title, pair.measured_hz, pair.predicted_hz, pair.shift, pair.higher_db)
        for n, beside in enumerate(evaluation.measured, start=1)
        for pair in beside.pairs
    ]
    return columns_of(("curve", "quantity", "measured_hz", "predicted_hz", "shift", "higher_db"), rows)
