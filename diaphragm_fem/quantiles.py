"""Quantiles of a curve over a stretch of its axis: not of its points, which crowd where it bends."""

import numpy as np

from diaphragm_fem.arrays import Array

_EVENLY = np.linspace(0, 1, 101)  # places whose quantile is a guess
_MET, _STEPS = 1e-6, 40  # of a whole: so near to its share a quantile lies; steps to it at most


def stretch(place: Array, value: Array, begin: float, end: float) -> tuple[Array, Array]:
    """Places (F,), rising, and values (F,) of a curve that is straight between them, from a begin to an end."""
    first, last = np.searchsorted(place, (begin, end), side="right")
    outer = np.interp((begin, end), place, value)
    inside = slice(first, last)
    return np.concatenate(([begin], place[inside], [end])), np.concatenate((outer[:1], value[inside], outer[1:]))


def quantile(place: Array, value: Array, share: float) -> float:
    """The level that a curve, straight between values (F,) at places (F,), lies below over a share of its way, to a
    millionth of it: by Newton's method, within what encloses it."""
    even = np.interp(place[0] + _EVENLY * (place[-1] - place[0]), place, value)
    middle = round(share * (len(even) - 1))
    found = float(np.partition(even, middle)[middle])
    width, low = np.diff(place), np.minimum(value[1:], value[:-1])
    bottom, top = float(value.min()), float(value.max())
    span = np.maximum(np.abs(np.diff(value)), 1e-12 * (top - bottom) + 1e-300)
    slow, whole = width / span, float(width.sum())
    for _ in range(_STEPS):
        over = float(width @ ((found - low) / span).clip(0, 1)) - share * whole
        if abs(over) <= _MET * whole:
            break
        bottom, top = (bottom, found) if over > 0 else (found, top)
        rate = float(slow @ ((found > low) & (found < low + span)))
        found = found - over / rate if rate else top
        if not bottom < found < top:
            found = (bottom + top) / 2
    return found


def quantiles_over(frequency: Array, value: Array, band: tuple[float, float], shares: tuple[float, ...]) -> list[float]:
    """Quantiles of values (F,) over the logarithm of frequency (F,) in a band, both in Hz."""
    begin, end = np.log(band).tolist()
    inside = stretch(np.log(frequency), value, begin, end)
    return [quantile(*inside, share) for share in shares]
