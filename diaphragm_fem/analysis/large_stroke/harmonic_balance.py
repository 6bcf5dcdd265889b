"""Periodic motion of one coordinate on a bent spring: harmonics in balance with a linear structure behind.

The linear structure answers at every harmonic by its own force per motion; the spring adds what it departs from its
slope at rest, and what pulls may change over the motion.
Source: Nayfeh and Mook, Nonlinear Oscillations (1979), section 2.3 (named from memory).
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
class Pull:
    """What a current pulls by over the motion from rest: share(x) of that at rest, its slope in 1/m, and linked(x), its
    integral in m. brake (N + 1,): the force per motion in N/m at 0, omega ... N omega by which the current that a
    motion induces holds it at rest, i n omega Bl^2/Z_c; None for none.

    Of a coil in a field: U = Z_c I + d/dt(Bl linked(x)) and F = Bl share(x) I, Bl that at rest; what the motion takes
    from the current, F x', is what the current takes from its source beyond Z_c.
    """

    share: Callable[[Array], Array] = np.ones_like
    slope: Callable[[Array], Array] = np.zeros_like
    linked: Callable[[Array], Array] = np.copy
    brake: Complex | None = None


@dataclass(frozen=True)
class Harmonics:
    """Motion x(t) = Re sum x_n exp(i n omega t) in m: motion (N + 1,), the mean first; force: amplitude in N on
    the coil held still at rest."""

    motion: Complex
    force: complex

    def sampled(self) -> Array:
        """The motion (SAMPLES,) over one period."""
        basis, _ = _fourier(len(self.motion) - 1)
        return basis @ _pairs(self.motion)


def balance(
    impedance: Complex, spring: BentSpring, level: float, *, driven: bool, pull: Pull | None = None
) -> Harmonics:
    """Harmonics in balance, the fundamental's force given as an amplitude where `driven`, else its motion.

    impedance (N + 1,): force per motion of the linear structure in N/m at 0, omega ... N omega, real at 0; pull None
    for the same at every motion, without a brake. With r_n = impedance_n x_n + (departure)_n - (share f)_n = 0, where
    f_n = force [n = 1] - brake_n (linked)_n, solved by Newton's method from the linear answer, or from gentler levels
    where that fails; of several answers (a bent resonance) the one that goes on from small levels.
    Raises AnalysisError where no balance is found.
    """
    share, pull = 1.0, pull or Pull()
    while share >= _GENTLEST:
        found = None
        for k in range(1, round(1 / share) + 1):
            found = _newton(impedance, spring, level * k * share, driven, found, pull)
            if found is None:
                break
        if found is not None:
            return found
        share /= 2
    raise AnalysisError("no periodic motion was found at this level and frequency; ask for a lower one")


def _newton(
    impedance: Complex, spring: BentSpring, level: float, driven: bool, start: Harmonics | None, pull: Pull
) -> Harmonics | None:
    """Where Newton's method leads from a start, or from the linear answer; None where nowhere.

    Of mean and pairs 1 and 2 are the first harmonic's: a force acts on it, or is sought in place of its motion.
    """
    count = len(impedance) - 1
    basis, project = _fourier(count)
    linear, every = _blocks(impedance), np.arange(2 * count + 1)
    brake = np.zeros_like(linear) if pull.brake is None else _blocks(pull.brake)
    first = (every == 1) | (every == 2)
    unknown = every if driven else every[~first]
    x, force = (np.zeros(len(every), float) for _ in range(2))
    if start is not None:
        x, force[first] = _pairs(start.motion), (start.force.real, start.force.imag)
    (force if driven else x)[first] = level, 0.0
    if start is None and driven:
        x = np.linalg.solve(linear + brake, force)
    elif start is None:
        force[first] = ((linear + brake) @ x)[first]
    for _ in range(_MOST_CORRECTIONS):
        path = basis @ x
        current = basis @ (force - brake @ (project @ pull.linked(path)))
        pulled = project @ (pull.share(path)[:, None] * basis)
        bent = spring.slope(path) - pull.slope(path) * current
        missing = linear @ x + project @ (spring.departure(path) - pull.share(path) * current)
        slope = linear + project @ (bent[:, None] * basis) + pulled @ brake @ pulled
        if not driven:
            slope[:, first] = -pulled[:, first]
        change = np.linalg.solve(slope, missing)
        if not np.all(np.isfinite(change)):
            return None
        x[unknown] -= change[unknown]
        if not driven:
            force[first] -= change[first]
        if np.abs(change[unknown]).max() <= _CLOSE * np.abs(x).max():
            return Harmonics(np.concatenate(([x[0] + 0j], x[1::2] + 1j * x[2::2])), complex(*force[first]))
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
