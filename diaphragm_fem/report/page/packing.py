"""Arrays as text inside a page: little-endian bytes in base64, with their kind and shape."""

from base64 import b64encode
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

Packed = dict[str, Any]
KINDS = {"f8": "<f8", "f4": "<f4", "i2": "<i2", "u2": "<u2", "u4": "<u4", "u1": "|u1"}
FULL = 32767  # the largest 16-bit step


def packed(values: ArrayLike, kind: str = "f8") -> Packed:
    """An array of any shape; complex ones get a last axis of two, real and imaginary part.

    kind: "f8" and "f4" floats of 64 and 32 bits; "u1", "u2", "u4" and "i2" whole numbers of 8, 16 and 32 bits.

    >>> packed([1.0, 2.0], "f4")
    {'kind': 'f4', 'shape': [2], 'data': 'AACAPwAAAEA='}
    """
    array = np.asarray(values)
    if np.iscomplexobj(array):
        array = np.stack((array.real, array.imag), axis=-1)
    return {
        "kind": kind,
        "shape": list(array.shape),
        "data": b64encode(np.ascontiguousarray(array, KINDS[kind]).tobytes()).decode("ascii"),
    }


def packed_rows(values: ArrayLike) -> Packed:
    """Real rows (N, ...) in 16-bit steps, each row in steps of its own largest value over 32767: off by at most half a
    step, 1.5e-5 of that value."""
    rows = np.asarray(values, float)
    largest = np.abs(rows.reshape(len(rows), -1)).max(axis=1, initial=0.0)
    step = np.where(largest > 0, largest, 1.0) / FULL
    steps = np.rint(rows / step.reshape(-1, *[1] * (rows.ndim - 1)))
    return {**packed(steps, "i2"), "step": packed(step)}
