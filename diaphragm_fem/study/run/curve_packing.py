"""Curves as small blobs: rounded to 17 significant bits, split into byte planes, differences taken, deflated.

A float32 keeps a relative precision of 6e-8; a curve in a store of a hundred thousand needs 1e-5 (0.0001 dB). The
lowest seven bits of each number are rounded away, so that what remains deflates to about two bytes a number.
The relative error is at most `ROUNDED` of each real and imaginary part, measured in the tests.
"""

import json
import zlib
from collections.abc import Mapping, Sequence
from itertools import pairwise
from math import prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

MOST_NUMBERS = 4_000_000  # of the curves of one case, which have some thousands
_DROPPED_BITS = 7
ROUNDED = 2.0 ** (_DROPPED_BITS - 24)  # 7.6e-6
_DEFLATION = 4  # of 9: two thirds of the time of 6, half a percent more bytes


def pack_curves(curves: Mapping[str, NDArray]) -> bytes:
    """One blob of named arrays, real or complex, of any shape."""
    head, parts = [], []
    for name, curve in curves.items():
        array = np.asarray(curve)
        complex_ = np.iscomplexobj(array)
        head.append([name, list(array.shape), "complex" if complex_ else "real"])
        parts += [part.ravel() for part in ((array.real, array.imag) if complex_ else (array,))]
    text = json.dumps(head, separators=(",", ":")).encode()
    return len(text).to_bytes(4, "little") + text + zlib.compress(_planes(parts), _DEFLATION)


def unpack_curves(blob: bytes) -> dict[str, NDArray]:
    """The arrays of a blob, float32 and complex64. Raises ValueError for one that was not made here, without taking
    more room than its own head asks for."""
    try:
        return _unpacked(blob)
    except (ValueError, TypeError, RecursionError, zlib.error) as error:
        raise ValueError(f"these are no packed curves ({error})") from error


def _unpacked(blob: bytes) -> dict[str, NDArray]:
    size = int.from_bytes(blob[:4], "little")
    head = json.loads(blob[4 : 4 + size])
    wanted = sum((2 if kind == "complex" else 1) * prod(map(_counted, shape)) for _, shape, kind in head)
    if wanted > MOST_NUMBERS:
        raise ValueError(f"at most {MOST_NUMBERS} numbers are read")
    data = zlib.decompressobj().decompress(blob[4 + size :], 4 * wanted + 1)
    curves: dict[str, NDArray] = {}
    place = 0
    for name, shape, kind in head:
        count = prod(shape)
        parts = []
        for _ in range(2 if kind == "complex" else 1):
            parts.append(_numbers(data[place : place + 4 * count], count))
            place += 4 * count
        array = parts[0] + 1j * parts[1] if kind == "complex" else parts[0]
        curves[name] = array.astype(np.complex64 if kind == "complex" else np.float32).reshape(shape)
    return curves


def _counted(length: Any) -> int:
    if not isinstance(length, int) or length < 0:
        raise ValueError("lengths are counted")
    return length


def _planes(parts: Sequence[NDArray]) -> bytes:
    """Byte planes of the differences within each part, all parts worked on at once."""
    if not parts:
        return b""
    numbers = np.concatenate(parts).astype(np.float32)
    begins = np.cumsum([0, *(len(part) for part in parts)])
    bits = numbers.view(np.uint32)
    half = np.uint32(1 << (_DROPPED_BITS - 1))
    rounded = np.where(np.isfinite(numbers), bits + half, bits) >> np.uint32(_DROPPED_BITS)
    steps = rounded.copy()
    steps[1:] -= rounded[:-1]  # wraps around, and so does the sum that undoes it
    first = begins[:-1][begins[:-1] < begins[1:]]
    steps[first] = rounded[first]
    zigzag = (steps << np.uint32(1)) ^ (np.uint32(0) - (steps >> np.uint32(31)))
    bytewise = zigzag.view(np.uint8).reshape(-1, 4)
    return b"".join(bytewise[begin:end].T.tobytes() for begin, end in pairwise(begins))


def _numbers(data: bytes, count: int) -> NDArray[np.float32]:
    zigzag = np.frombuffer(data, np.uint8).reshape(4, count).T.copy().view(np.uint32).ravel()
    steps = (zigzag >> np.uint32(1)) ^ (np.uint32(0) - (zigzag & np.uint32(1)))
    rounded = np.cumsum(steps, dtype=np.uint32)
    return (rounded << np.uint32(_DROPPED_BITS)).view(np.float32)
