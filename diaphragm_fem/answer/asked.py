"""What Python callers hand over by mistake, said in words: a path in place of a design, an amount with its unit."""

from collections.abc import Iterable, Mapping
from numbers import Real
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.units.units import HIGHEST_HZ
from diaphragm_fem.errors import AnalysisError, DesignError, echo

MOST_POINTS = 100_000  # of a curve


def check_asked(design: object, up_to_hz: object = 1.0) -> None:
    """Raises DesignError for what is no design, AnalysisError for a top frequency that is no number above 0 Hz, or one
    beyond `HIGHEST_HZ`."""
    if not isinstance(design, Design):
        raise DesignError(
            f"a design must be given, as load_design(path) or design_from(data) make it; received {echo(design)}"
        )
    if not _is_within(up_to_hz):
        raise AnalysisError(
            f"up_to_hz must be a number above 0 and up to {HIGHEST_HZ:g} in Hz, such as 20e3; received {echo(up_to_hz)}"
        )


def check_fineness(points: object, tolerance: object = 0.5) -> None:
    """Raises AnalysisError for a curve of no whole number of points, and for a tolerance that is no share."""
    if not isinstance(points, int | np.integer) or not 2 <= points <= MOST_POINTS:
        raise AnalysisError(f"points must be a whole number from 2 to {MOST_POINTS}, as 400; received {echo(points)}")
    if not _is_within(tolerance, 1.0):
        raise AnalysisError(f"tolerance must be a share above 0 and up to 1, such as 1e-3; received {echo(tolerance)}")


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
    """Raises AnalysisError for anything but names with two ends each, above 0 Hz and up to `HIGHEST_HZ`; their order is
    checked where they count."""
    pairs = list(bands.values()) if isinstance(bands, Mapping) else [None]
    if not all(isinstance(pair, tuple | list) and len(pair) == 2 and all(map(_is_within, pair)) for pair in pairs):
        raise AnalysisError(
            f"bands must give each name its two ends, above 0 and up to {HIGHEST_HZ:g} in Hz, such as "
            f"{{'use': (150, 5000)}}; received {echo(bands)}"
        )


def _is_within(value: object, most: float = HIGHEST_HZ) -> bool:
    """Whether it is a number above 0 and at most so much."""
    return isinstance(value, Real) and value <= most and not value <= 0


def frequencies_asked(frequency_hz: ArrayLike) -> Array:
    """Frequencies (F,) in Hz of a caller. Raises AnalysisError where there are none, or they are no numbers above 0 or
    beyond `HIGHEST_HZ`."""
    try:
        found = np.atleast_1d(np.asarray(frequency_hz, float))
    except (OverflowError, TypeError, ValueError):
        found = np.empty(0)
    if found.ndim != 1 or not found.size or not ((found > 0) & (found <= HIGHEST_HZ)).all():
        raise AnalysisError(
            f"frequencies must be above 0 and up to {HIGHEST_HZ:g} Hz: a number in Hz or a list of them, such as "
            f"[100.0, 10e3]; received {echo(frequency_hz)}"
        )
    return found
