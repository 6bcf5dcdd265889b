"""Stiffness and loss over frequency: the complex modulus E*(f) = E'(f) (1 + i eta(f)), time factor exp(+i omega t).

Modulus and loss belong together. Where the loss angle delta = atan(eta) changes slowly over frequency,
    d ln|E*| / d ln f = 2 delta/pi,
the local form of the Kramers-Kronig relations (Bode's law of gain and phase; from memory): a material that damps
stiffens as frequency rises. Against exact laws (fractional Zener, losses of 0.1 to 1) a modulus that follows its loss
so is within 13 % over three decades in which it rises 3 to 34 times.

Three laws: the loss as one number or a table (`LossFactor`), with the modulus constant, following the loss, or a table
of its own (`Stiffening`); or both from one relaxation (`Relaxation`). A loss of one number that the modulus follows is
the spring-pot, E* = E0 (i f/f0)^alpha with eta = tan(pi alpha/2).
Tables are read by monotone cubic interpolation (pchip) over ln f, of the loss angle and of ln E', so that both are
smooth once; beyond its ends a table is held.
"""

from dataclasses import dataclass
from functools import cached_property
from math import pi

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.material.monotone_curve import MonotoneCurve, monotone_curve
from diaphragm_fem.errors import MaterialError

LOWEST_HZ = 1.0  # a modulus that follows its loss is held below it, else it would vanish at rest
LARGEST_RISE = 1e5  # of a modulus from rubber to glass: four decades are met


@dataclass(frozen=True)
class LossFactor:
    """Loss factor eta of the complex modulus E (1 + i eta): one number, or a table over frequency in Hz."""

    values: tuple[float, ...]
    frequency_hz: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        at = self.frequency_hz
        if not self.values or (at and len(at) != len(self.values)):
            raise MaterialError(
                f"a loss factor needs one value, or as many frequencies as values; {_counts(self.values, at)}"
            )
        if len(self.values) > 1 and not at:
            raise MaterialError(
                f"a loss factor of several values needs a frequency for each; {_counts(self.values, at)}"
            )
        if any(not 0 <= value < 10 for value in self.values):
            raise MaterialError(
                f"a loss factor must lie from 0 up to 10, such as 0.1 for a tenth; received {_listed(self.values)}"
            )
        _check_rising("a loss factor", self.frequency_hz)

    @property
    def constant(self) -> bool:
        return len(set(self.values)) == 1

    def __call__(self, frequency_hz: ArrayLike) -> Array:
        """eta at frequencies in Hz, same shape."""
        frequency = np.asarray(frequency_hz, float)
        if self.constant:
            return np.full(frequency.shape, self.values[0])
        return np.tan(self._angle(frequency))

    def factor(self, frequency_hz: ArrayLike, known_hz: float) -> Complex:
        """E*(f)/E'(known) of a modulus that follows this loss, same shape; its storage part is held below LOWEST_HZ."""
        frequency = np.asarray(frequency_hz, float)
        held = np.maximum(frequency, LOWEST_HZ)
        sum_known, cosine_known = self._known(known_hz)
        angle = np.arctan(self.values[0]) if self.constant else self._angle(held)
        storage = np.exp(2 / pi * (self._angle_sum(held) - sum_known)) * np.cos(angle) / cosine_known
        return np.asarray(storage * (1 + 1j * (np.tan(angle) if np.all(held == frequency) else self(frequency))))

    def _known(self, known_hz: float) -> tuple[float, float]:
        """Angle sum and cosine of the angle at the frequency where the modulus is known; kept."""
        if known_hz not in self._kept:
            self._kept[known_hz] = float(self._angle_sum(known_hz)), float(1 / np.sqrt(1 + self(known_hz) ** 2))
        return self._kept[known_hz]

    @cached_property
    def _kept(self) -> dict[float, tuple[float, float]]:
        return {}

    def _angle(self, frequency: ArrayLike) -> Array:
        return np.asarray(self._curve(self._inside(frequency)))

    def _inside(self, frequency: ArrayLike) -> Array:
        lowest, highest = self._log_frequency[[0, -1]]
        return np.minimum(np.maximum(np.log(np.maximum(frequency, LOWEST_HZ * 1e-9)), lowest), highest)

    def _angle_sum(self, frequency: ArrayLike) -> Array:
        """Integral of delta over ln f, from the lowest frequency of the table (1 Hz where there is none)."""
        if self.constant:
            return np.asarray(np.arctan(self.values[0]) * np.log(frequency))
        inside = self._inside(frequency)
        return np.asarray(self._curve.integral(inside) + self._angle(frequency) * (np.log(frequency) - inside))

    @cached_property
    def _log_frequency(self) -> Array:
        return np.log(self.frequency_hz)

    @cached_property
    def _curve(self) -> MonotoneCurve:
        return monotone_curve(self._log_frequency, np.arctan(self.values))


@dataclass(frozen=True)
class Relaxation:
    """Fractional Zener law: E*/E0 = (1 + c x)/(1 + x), x = (i f/f1)^alpha, E0 the modulus at rest.

    rise c = E_infinity/E0, frequency_hz f1, exponent 0 < alpha <= 1 (1: one relaxation time). The loss peaks at
    f1 c^(-1/(2 alpha)) with (c - 1) sin(pi alpha/2) / (2 sqrt c + (c + 1) cos(pi alpha/2)).
    Source: T. Pritz, J. Sound Vib. 195 (1996) 103 (named from memory). Raises MaterialError for other parameters.
    """

    rise: float
    frequency_hz: float
    exponent: float

    constant = False

    def __post_init__(self) -> None:
        if not 1 < self.rise <= LARGEST_RISE:
            raise MaterialError(f"the rise of a relaxation must lie above 1, at most 1e5, received {self.rise:g}")
        if not self.frequency_hz > 0:
            raise MaterialError(f"the frequency of a relaxation must be above 0 Hz, received {self.frequency_hz:g}")
        if not 0 < self.exponent <= 1:
            raise MaterialError(f"the exponent of a relaxation must lie above 0, at most 1, received {self.exponent:g}")

    def factor(self, frequency_hz: ArrayLike) -> Complex:
        x = (np.maximum(frequency_hz, 0) / self.frequency_hz) ** self.exponent * np.exp(0.5j * pi * self.exponent)
        return np.asarray((1 + self.rise * x) / (1 + x))

    def __call__(self, frequency_hz: ArrayLike) -> Array:
        """eta at frequencies in Hz, same shape."""
        factor = self.factor(frequency_hz)
        return np.asarray(factor.imag / factor.real)


@dataclass(frozen=True)
class Stiffening:
    """How a modulus rises over frequency, relative to the first of its values.

    One frequency in Hz: the modulus is known there and follows its loss. Several: a table of E'(f)/E'(first).
    """

    frequency_hz: tuple[float, ...]
    ratio: tuple[float, ...] = (1.0,)

    def __post_init__(self) -> None:
        at = self.frequency_hz
        if not at or len(at) != len(self.ratio):
            raise MaterialError(
                f"a modulus over frequency needs as many frequencies as values; {_counts(self.ratio, at)}"
            )
        if any(not value > 0 for value in self.ratio):
            raise MaterialError("the values of a modulus over frequency must be above zero")
        _check_rising("a modulus over frequency", self.frequency_hz)

    @property
    def follows_loss(self) -> bool:
        return len(self.ratio) == 1

    def ratio_at(self, frequency_hz: ArrayLike) -> Array:
        """E'(f)/E'(first) of a table at frequencies in Hz, same shape; held beyond its ends."""
        inside = np.clip(frequency_hz, self.frequency_hz[0], self.frequency_hz[-1])
        return np.asarray(np.exp(self._curve(np.log(inside))))

    @cached_property
    def _curve(self) -> MonotoneCurve:
        return monotone_curve(np.log(self.frequency_hz), np.log(self.ratio))


def _check_rising(what: str, frequency_hz: tuple[float, ...]) -> None:
    if np.any(np.asarray(frequency_hz) <= 0) or np.any(np.diff(frequency_hz) <= 0):
        raise MaterialError(
            f"the frequencies of {what} must be above 0 Hz and rise; received {_listed(frequency_hz)} Hz"
        )


def _counts(values: tuple[float, ...], frequency_hz: tuple[float, ...]) -> str:
    words = "frequency" if len(frequency_hz) == 1 else "frequencies"
    return f"received {len(values)} values and {len(frequency_hz)} {words}"


def _listed(numbers: tuple[float, ...]) -> str:
    return ", ".join(f"{x:g}" for x in numbers)
