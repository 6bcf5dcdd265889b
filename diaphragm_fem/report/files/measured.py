"""Measured curves and their predictions as columns, named with their units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.report.blocks.table import columns_of, plain_columns, stacked
from diaphragm_fem.report.words.measured import state_of

if TYPE_CHECKING:
    from diaphragm_fem.answer.measured import Beside


def measured_columns(evaluation: Answer) -> dict[str, list[Any]]:
    """A row per measured point; empty where nothing was measured."""
    return stacked(_of_a_curve(n, beside) for n, beside in enumerate(evaluation.measured, start=1))


def _of_a_curve(n: int, beside: Beside) -> dict[str, list[Any]]:
    curve, count = beside.curve, len(beside.curve.frequency_hz)
    known = curve.values if curve.phase else np.full(count, np.nan * (1 + 1j))
    return {
        "curve": [n] * count, "quantity": [curve.title] * count, "state": [state_of(beside)] * count,
        **plain_columns({
            "frequency_hz": curve.frequency_hz,
            "measured_real": known.real, "measured_imag": known.imag, "measured_size": np.abs(curve.values),
            "predicted_real": beside.predicted.real, "predicted_imag": beside.predicted.imag,
            "predicted_size": np.abs(beside.predicted), "deviation_db": beside.deviation_db,
        }),
    }  # fmt: skip


def peak_columns(evaluation: Answer) -> dict[str, list[Any]]:
    """A row per pair of peaks; empty without any."""
    rows = [
        (n, beside.curve.title, pair.measured_hz, pair.predicted_hz, pair.shift, pair.higher_db)
        for n, beside in enumerate(evaluation.measured, start=1)
        for pair in beside.pairs
    ]
    return columns_of(("curve", "quantity", "measured_hz", "predicted_hz", "shift", "higher_db"), rows)
