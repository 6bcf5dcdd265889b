"""Periodic motion of one coordinate on a bent spring: harmonics in balance with a linear structure behind.

The linear structure answers at every harmonic by its own force per motion; the spring adds what it departs from its
slope at rest. Source: Nayfeh and Mook, Nonlinear Oscillations (1979), section 2.3 (named from memory).
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.errors import AnalysisError

SAMPLES = 128  # of a period: powers of eight harmonics up to the 14th do not fold back onto them
_MOST_CORRECTIONS = 30
_CLOSE = 1e-10  # of the motion
_GENTLEST = 2.0**-6  # of the level asked for: where a search begins that fails from the linear answer


@dataclass(frozen=True)
class BentSpring:
    """What a spring departs from its slope at rest: departure(x) = F(x) - F(0) - F'(0) x in N, and its slope in N/m."""

    departure: Callable[[Array], Array]
    slope: Callable[[Array], Array]


@dataclass(frozen=True)
class Harmonics:
    """Motion x(t) = Re sum x_n exp(i n omega t) in m: motion (N + 1,), the mean first; force: amplitude in N."""

    motion: Complex
    force: complex

    def sampled(self) -> Array:
        """The motion (SAMPLES,) over one period."""
        basis, _ = _fourier(len(self.motion) - 1)
        return basis @ _pairs(self.motion)


def balance(impedance: Complex, spring: BentSpring, level: float, *, driven: bool) -> Harmonics:
    """Harmonics in balance, the fundamental's force given as an amplitude where `driven`, else its motion.

    impedance (N + 1,): force per motion of the linear structure in N/m at 0, omega ... N omega, real at 0. With
    r_n = impedance_n x_n + (departure)_n - force [n = 1] = 0, solved by Newton's method from the linear answer, or from
    gentler levels where that fails; of several answers (a bent resonance) the one that goes on from small levels.
    Raises AnalysisError where no balance is found.
    """
    share = 1.0
    while share >= _GENTLEST:
        found = None
        for k in range(1, round(1 / share) + 1):
            found = _newton(impedance, spring, level * k * share, driven, found)
            if found is None:
                break
        if found is not None:
            return found
        share /= 2
    raise AnalysisError("no periodic motion was found at this level and frequency; ask for a lower one")


def _newton(
    impedance: Complex, spring: BentSpring, level: float, driven: bool, start: Harmonics | None
) -> Harmonics | None:
    """Where Newton's method leads from a start, or from the linear answer; None where nowhere.

    Of mean and pairs 1 and 2 are the first harmonic's: a force acts on it, or it is given and asks for a force.
    """
    count = len(impedance) - 1
    basis, project = _fourier(count)
    linear, every = _blocks(impedance), np.arange(2 * count + 1)
    first = (every == 1) | (every == 2)
    load, unknown = driven * level * (every == 1), every if driven else every[~first]
    x = np.zeros(len(every)) if start is None else _pairs(start.motion)
    if not driven:
        x[first] = level, 0.0
    elif start is None:
        x = np.linalg.solve(linear, load)
    for _ in range(_MOST_CORRECTIONS):
        path = basis @ x
        missing = linear @ x + project @ spring.departure(path) - load
        slope = linear + project @ (spring.slope(path)[:, None] * basis)
        change = np.linalg.solve(slope[np.ix_(unknown, unknown)], missing[unknown])
        if not np.all(np.isfinite(change)):
            return None
        x[unknown] -= change
        if np.abs(change).max() <= _CLOSE * np.abs(x).max():
            asked = linear @ x + project @ spring.departure(basis @ x)
            force = level + 0j if driven else complex(*asked[first])
            return Harmonics(np.concatenate(([x[0] + 0j], x[1::2] + 1j * x[2::2])), force)
    return None


@lru_cache(maxsize=8)
def _fourier(count: int) -> tuple[Array, Array]:
    """Basis (SAMPLES, 2 count + 1): 1, cos n t, -sin n t; and its projection (2 count + 1, SAMPLES)."""
    t = 2 * np.pi * np.arange(SAMPLES) / SAMPLES
    columns = [np.ones(SAMPLES)]
    for n in range(1, count + 1):
        columns += [np.cos(n * t), -np.sin(n * t)]
    basis = np.stack(columns, axis=1)
    weight = np.full(2 * count + 1, 2 / SAMPLES)
    weight[0] = 1 / SAMPLES
    return basis, weight[:, None] * basis.T


def harmonics_of(values: Array, count: int) -> Complex:
    """Harmonics (count + 1,) of a signal (SAMPLES,) over one period."""
    _, project = _fourier(count)
    pairs = project @ values
    return np.concatenate(([pairs[0] + 0j], pairs[1::2] + 1j * pairs[2::2]))


def _pairs(harmonics: Complex) -> Array:
    """Mean, real and imaginary parts in turn (2 N + 1,)."""
    return np.concatenate(([harmonics[0].real], np.stack((harmonics[1:].real, harmonics[1:].imag), axis=1).ravel()))


def _blocks(impedance: Complex) -> Array:
    """Multiplication by the impedances as a real matrix on the pairs."""
    size = 2 * len(impedance) - 1
    matrix = np.zeros((size, size))
    matrix[0, 0] = impedance[0].real
    for n, z in enumerate(impedance[1:]):
        matrix[2 * n + 1 : 2 * n + 3, 2 * n + 1 : 2 * n + 3] = [[z.real, -z.imag], [z.imag, z.real]]
    return matrix
