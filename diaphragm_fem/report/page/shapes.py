"""Mode shapes for a page that plays them: all three directions of motion at the points of the surface."""

from typing import Any

import numpy as np

from diaphragm_fem.answer.evaluate import Answer
from diaphragm_fem.arrays import Index
from diaphragm_fem.report.page.packing import packed, packed_rows

MOST_NUMBERS = 90_000  # of all shapes together, 0.24 MB as text: beyond it every second point stays, or every third


def shapes_of(evaluation: Answer) -> dict[str, Any]:
    """By order m: frequency_hz (M,) and shape (M, C, Q), radial, axial and, for m > 0, circumferential motion with the
    largest scaled to 1; point (Q,) numbers the surface points that were kept. What moves most along the axis moves
    toward the listener.

    Around the circumference radial and axial motion go as cos(m theta), the circumferential one as sin(m theta).
    """
    count = sum(
        len(modes) * (2 if m == 0 else 3) * len(surface.r)
        for m, modes in evaluation.modes.items()
        if (surface := evaluation.structures[m].surface) is not None
    )
    stride = int(np.ceil(count / MOST_NUMBERS)) or 1
    return {str(m): found for m in evaluation.modes if (found := _shapes(evaluation, m, stride))}


def _shapes(evaluation: Answer, m: int, stride: int) -> dict[str, Any]:
    surface, modes = evaluation.structures[m].surface, evaluation.modes[m]
    if surface is None or not len(modes):
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
