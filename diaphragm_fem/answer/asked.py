"""What Python callers hand over by mistake, said in words: a path in place of a design, an amount with its unit."""

from collections.abc import Iterable, Mapping
from math import isfinite
from numbers import Real
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.errors import AnalysisError, DesignError, echo


def check_asked(design: object, up_to_hz: object = 1.0) -> None:
    """Raises DesignError for what is no design, AnalysisError for a top frequency that is no number above 0 Hz."""
    if not isinstance(design, Design):
        raise DesignError(
            f"a design must be given, as load_design(path) or design_from(data) make it; received {echo(design)}"
        )
    if not isinstance(up_to_hz, Real) or not _is_number(up_to_hz) or up_to_hz <= 0:
        raise AnalysisError(f"up_to_hz must be a number above 0 in Hz, such as 20e3; received {echo(up_to_hz)}")


def orders_asked(orders: object, least: int = 1) -> list[int]:
    """The orders of a caller, each once. Raises AnalysisError for anything but a list of `least` whole numbers or more;
    that they are not negative is checked where matrices are made."""
    found: list[Any] = list(orders) if isinstance(orders, Iterable) else [None]
    if len(found) < least or not all(isinstance(one, int | np.integer) for one in found):
        raise AnalysisError(
            f"orders must be a list of circumferential orders, such as [0, 1] or range(5); received {echo(orders)}"
        )
    return sorted({int(one) for one in found})


def check_bands(bands: object) -> None:
    """Raises AnalysisError for anything but names with two ends in Hz each; their order is checked where they count."""
    pairs = list(bands.values()) if isinstance(bands, Mapping) else [None]
    if not all(isinstance(pair, tuple | list) and len(pair) == 2 and all(map(_is_number, pair)) for pair in pairs):
        raise AnalysisError(
            f"bands must give each name its two ends in Hz, such as {{'use': (150, 5000)}}; received {echo(bands)}"
        )


def _is_number(value: object) -> bool:
    return isinstance(value, Real) and isfinite(value)


def frequencies_asked(frequency_hz: ArrayLike) -> Array:
    """Frequencies (F,) in Hz of a caller. Raises AnalysisError where there are none or they are no numbers above 0."""
    try:
        found = np.atleast_1d(np.asarray(frequency_hz, float))
    except (TypeError, ValueError):
        found = np.empty(0)
    if found.ndim != 1 or not found.size or not (np.isfinite(found) & (found > 0)).all():
        raise AnalysisError(
            f"frequencies must be above 0 Hz: a number in Hz or a list of them, such as [100.0, 10e3]; received "
            f"{echo(frequency_hz)}"
        )
    return found
