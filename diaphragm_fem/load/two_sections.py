"""Two sections that share one exit: pressure equal and flows added where the lower joins through a branch of slots.

A source is a blocked pressure behind its own impedance; a line carries it on. exp(+i omega t). That overlapping
sections are summed so is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.errors import ModelError
from diaphragm_fem.load.line import parallel, passed_on, seen
from diaphragm_fem.quantiles import quantiles_over

WITHIN = 6.0  # dB of its median level within which a section is taken to play
DEEP = 1.0  # dB that a minimum of the branch lies below what is beside it
SMOOTHING = 1 / 3  # octaves


@dataclass(frozen=True)
class Source:
    """Blocked pressure (F,) in Pa behind an impedance (F,) in Pa s/m3: p = pressure - impedance U."""

    pressure: Complex
    impedance: Complex

    def through(self, line: Complex) -> Source:
        """The same source seen at the far end of a two-port (F, 2, 2)."""
        share = line[:, 0, 0] + self.impedance * line[:, 1, 0]
        return Source(self.pressure / share, (line[:, 0, 1] + self.impedance * line[:, 1, 1]) / share)


@dataclass(frozen=True)
class SharedExit:
    """upper, lower (F,): pressure in Pa at the exit of each section alone, the other's source at rest but present.

    branch (F,): impedance of the lower section's branch, seen from the junction, in Pa s/m3; reflection_upper,
    reflection_lower (F,): what each path sees there, for waves in a line of the impedance `line` (rho c/S).
    """

    upper: Complex
    lower: Complex
    branch: Complex
    reflection_upper: Complex
    reflection_lower: Complex


def share_exit(upper: Source, lower: Source, onward: Complex, exit_impedance: Complex, line: float) -> SharedExit:
    """Join two sources at a junction that a two-port (F, 2, 2) carries on to an exit of the given impedance.

    reflection r = (Z_j - line)/(Z_j + line), Z_j everything that a path meets at the junction.
    """
    ahead = seen(onward, exit_impedance)
    down = passed_on(onward, exit_impedance)
    total = 1 / ahead + 1 / upper.impedance + 1 / lower.impedance
    past_lower, past_upper = parallel(lower.impedance, ahead), parallel(upper.impedance, ahead)
    return SharedExit(
        upper=down * upper.pressure / upper.impedance / total,
        lower=down * lower.pressure / lower.impedance / total,
        branch=lower.impedance,
        reflection_upper=(past_lower - line) / (past_lower + line),
        reflection_lower=(past_upper - line) / (past_upper + line),
    )


def crossover(frequency: ArrayLike, crossing: float, order: int = 4) -> tuple[Complex, Complex]:
    """Low-pass and high-pass (F,) of a squared Butterworth pair: -6.02 dB and in phase at `crossing`, sum all-pass.

    Linkwitz, J. Audio Eng. Soc. 24 (1976) 2 (from memory). order 2, 4 or 8; with 2 the high-pass has its sign turned.
    """
    if order not in (2, 4, 8):
        raise ModelError(f"a crossover of this kind has the order 2, 4 or 8, received {order}")
    s = 1j * np.asarray(frequency, float) / crossing
    half = order // 2
    poles = np.exp(1j * np.pi * (2 * np.arange(half) + half + 1) / (2 * half))
    bottom = np.prod(s[..., None] - poles, axis=-1) ** 2
    return 1 / bottom, s**order / bottom * (-1 if order == 2 else 1)


def minima(frequency: Array, impedance: Complex) -> Array:
    """Frequencies (K,) at which the size of an impedance (F,) has a minimum a decibel deep: dips in the other section's
    path."""
    from scipy.signal import find_peaks

    size = 20 * np.log10(np.abs(impedance))
    return np.asarray(frequency)[find_peaks(-size, prominence=DEEP)[0]]


def both_play(
    frequency: Array, upper: Array, lower: Array, upper_band: tuple[float, float], lower_band: tuple[float, float]
) -> tuple[float, float]:
    """From where the upper and up to where the lower section plays, in Hz, without filters; the second lies below the
    first where a hole lies between them.

    The lowest frequency of the upper and the highest of the lower section at which each level (F,) in dB, smoothed to a
    third of an octave, is within 6 dB of its own median in its band (Hz), even over log f as far as the curve
    goes (see `plays`). Raises ModelError where a band holds fewer than three points.
    """
    edges = []
    for level, band in ((smoothed(frequency, upper), upper_band), (smoothed(frequency, lower), lower_band)):
        inside = (frequency >= band[0]) & (frequency <= band[1])
        if inside.sum() < 3:
            raise ModelError(f"the band {band[0]:g} to {band[1]:g} Hz holds no points of the curve: widen it")
        low, high = np.clip(band, frequency[0], frequency[-1])
        (median,) = quantiles_over(frequency, level, (low, high), (0.5,))
        edges.append(plays(frequency, level, median, (low, high)))
    return edges[0][0], edges[1][1]


def plays(frequency: Array, level: Array, median: float, band: tuple[float, float]) -> tuple[float, float]:
    """From where to where in Hz a smoothed level (F,) in dB stays within 6 dB below a median: the stretch about the
    point that does nearest to the middle of a band in Hz; where none does, as beside a needle narrower than the
    smoothing, that point alone. It ends between points, straight over log f."""
    least = median - WITHIN
    loud = level >= least
    away = np.abs(np.log(frequency) - np.log(band[0] * band[1]) / 2)
    middle = int(np.lexsort((away, ~loud))[0])
    below, above = np.flatnonzero(~loud[:middle]), np.flatnonzero(~loud[middle + 1 :])
    if not loud[middle]:
        return float(frequency[middle]), float(frequency[middle])

    def crossing(quiet: int, beside: int) -> float:
        share = (least - level[quiet]) / (level[beside] - level[quiet])
        return float(frequency[quiet] * (frequency[beside] / frequency[quiet]) ** share)

    first = crossing(below[-1], below[-1] + 1) if below.size else float(frequency[0])
    last = crossing(middle + 1 + above[0], middle + above[0]) if above.size else float(frequency[-1])
    return first, last


def octaves_heard(frequency: Array, level: Array, median: float) -> float:
    """Octaves of the whole range in which a smoothed level (F,) in dB is heard: all of one within 3 dB below a median
    or above it, none of one 9 dB below, straight in between. A hole that falls through 6 dB, at which what plays loses
    an end by octaves, takes no more of it than its own width."""
    share = np.clip((level - median) / WITHIN + 1.5, 0, 1)
    return float(np.trapezoid(share, np.log2(frequency)))


def lowest_about(frequency: Array, level: Array, crossing: float) -> tuple[float, float]:
    """Where a level (F,) in dB is lowest within an octave of a crossover, both in Hz, and that level."""
    inside = np.flatnonzero(np.abs(np.log2(frequency / crossing)) <= 1)
    k = int(inside[np.argmin(level[inside])]) if len(inside) else int(np.argmin(np.abs(frequency - crossing)))
    return float(frequency[k]), float(level[k])


def lost_about(frequency: Array, parts: tuple[Array, Array], whole: Array, crossing: float) -> tuple[float, float]:
    """Where within an octave of a crossover a sum (F,) in dB lies deepest below the louder of its parts, in Hz, and by
    how many dB; 0 where nowhere below. It tells the polarity, which the lowest level does not: that may lie where one
    section plays alone."""
    hz, below = lowest_about(frequency, whole - np.maximum(*parts), crossing)
    return hz, max(0.0, -below)


def smoothed(frequency: Array, level: Array) -> Array:
    """Level (F,) in dB as the mean power within a third of an octave."""
    power = 10 ** (np.asarray(level) / 10)
    place = np.log2(frequency)
    whole = np.concatenate(([0.0], np.cumsum((power[1:] + power[:-1]) / 2 * np.diff(place))))
    low, high = (np.clip(place + side * SMOOTHING / 2, place[0], place[-1]) for side in (-1, 1))
    area = np.interp(high, place, whole) - np.interp(low, place, whole)
    return np.asarray(10 * np.log10(area / (high - low)))
