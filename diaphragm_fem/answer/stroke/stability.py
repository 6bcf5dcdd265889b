"""Wrinkling: the first stroke at which a motion of some order m >= 1 costs no energy any more. Rocking: the threshold
from which the coil's motion feeds it, an estimate from the modes over its stroke."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import prod

import numpy as np
from scipy.sparse import csr_matrix, diags

from diaphragm_fem.analysis.factors import count_below
from diaphragm_fem.analysis.modes.modes import Modes
from diaphragm_fem.answer.stroke.path import StrokePath
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.model.large_stroke.bent_shell import BentShell

ORDERS = (1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 15, 18, 22, 27, 33, 40, 50)
TOLD_BY = (2, 7, 18, 33, 50)
ROUNDING = 1e-12  # of the stiffness of each unknown; bending of thin rolls has 1e-7
HALVINGS = 7  # of the distance between two looked-at states: the stroke told is that exact
FEWEST = 4  # states with a rocking mode, fewer make no curve
SETTLED = 0.03  # of the threshold of rocking: so near every second state tells it, too
PHASE = 2 * np.pi * (np.arange(64) + 0.5) / 64
LOOKED_AT = np.arange(101) / 100


@dataclass(frozen=True)
class Wrinkle:
    """The stroke in m beyond which the part is no longer stable, and the order m of what grows there.

    until: a stroke at which it was still seen stable; the truth lies between the two.
    """

    stroke: float
    order: int
    until: float


@dataclass(frozen=True)
class AroundStiffness:
    """Stiffness of every order m >= 1 about one state: from m = 2 on that of walls is of the fourth degree in m, which
    five orders tell."""

    shell: BentShell
    unknowns: Array

    @cached_property
    def told(self) -> list[csr_matrix]:
        """That of walls of the orders TOLD_BY."""
        return [self.shell.tangent_of_walls(self.shell.about(self.unknowns, m)) for m in TOLD_BY]

    def stiffness(self, m: int) -> csr_matrix:
        """Of order m >= 1 (n, n), in N/m."""
        if m == 1:
            return self.shell.tangent(self.unknowns, 1)
        held = self.shell.tangent_of_rest(self.shell.about(self.unknowns, m))
        for order, walls in zip(TOLD_BY, self.told, strict=True):
            held = held + prod((m - other) / (order - other) for other in TOLD_BY if other != order) * walls
        return csr_matrix(held)

    def unstable(self, m: int) -> int:
        """How many motions of order m >= 1 lower the energy."""
        stiffness = self.stiffness(m)
        # a part that is free to shift has a motion whose energy is rounding: it is not told as one that grows
        least = -ROUNDING if self.shell.drawn(m).structure.rigid_modes else 0.0
        return count_below(stiffness, csr_matrix(diags(np.abs(stiffness.diagonal()))), least)


def first_wrinkles(path: StrokePath, looked_at: list[int]) -> tuple[Wrinkle | None, Wrinkle | None]:
    """The first wrinkle toward the rear and toward the front, among states (indices into the path) from rest outward.

    Orders are those of ORDERS, no others: a pattern between two of them grows at nearly the same stroke. A part that
    is free to shift or to rock has as many soft motions at rest; only more than those count.
    """
    rest = AroundStiffness(path.shell, path.states[path.rest].unknowns)
    soft = {m: rest.unstable(m) for m in ORDERS}
    return _toward(path, looked_at, -1, soft), _toward(path, looked_at, 1, soft)


def _toward(path: StrokePath, looked_at: list[int], way: int, soft: dict[int, int]) -> Wrinkle | None:
    stable = float(path.stroke[path.rest])
    for k in sorted((k for k in looked_at if (k - path.rest) * way > 0), key=lambda k: k * way):
        around = AroundStiffness(path.shell, path.states[k].unknowns)
        growing = [m for m in ORDERS if around.unstable(m) > soft[m]]
        if growing:
            return _halved(path, stable, float(path.stroke[k]), growing, soft)
        stable = float(path.stroke[k])
    return None


def _halved(path: StrokePath, stable: float, unstable: float, growing: list[int], soft: dict[int, int]) -> Wrinkle:
    """Between a stable and an unstable stroke, of the orders that grow there."""
    for _ in range(HALVINGS):
        middle = (stable + unstable) / 2
        around = AroundStiffness(path.shell, path.state_at(middle).unknowns)
        still = [m for m in growing if around.unstable(m) > soft[m]]
        if still:
            unstable, growing = middle, still
        else:
            stable = middle
    return Wrinkle(unstable, growing[0], stable)


@dataclass(frozen=True)
class Rocking:
    """When the coil's motion feeds a rocking mode: driven at twice its frequency, above a threshold of motion.

    frequency_hz and loss factor of the lowest rocking mode as the coil moves by the threshold, an amplitude in m.
    """

    frequency_hz: float
    loss_factor: float
    threshold: float


def rocking(path: StrokePath, looked_at: Sequence[int], modes_at: Callable[[int], Modes | None]) -> Rocking | None:
    """The threshold of rocking from the modes of order 1 at rising states (indices into the path), None at a state
    where order 1 has none. While every second state tells another threshold, states between are looked at, too. None
    where states are too few, or where no amplitude within them feeds rocking."""
    modes = {k: modes_at(k) for k in looked_at}
    while True:
        states = sorted(modes)
        found = _fed_along(path, modes, states)
        coarse = _fed_along(path, modes, [*states[:1], *states[states.index(path.rest) % 2 or 2 : -1 : 2], states[-1]])
        reach = max((one.threshold for one in (found, coarse) if one is not None), default=0.0)
        if found and coarse and abs(found.threshold - coarse.threshold) < SETTLED * reach:
            return found
        stroke = path.stroke - path.stroke[path.rest]
        near = [(a, b) for a, b in pairwise(states) if b - a > 1 and stroke[a] < reach and stroke[b] > -reach]
        if not near:
            return found
        modes |= {(a + b) // 2: modes_at((a + b) // 2) for a, b in near}


def _fed_along(path: StrokePath, modes: Mapping[int, Modes | None], states: Sequence[int]) -> Rocking | None:
    """The threshold by some of the states whose modes are known, on a curve through them."""
    from scipy.interpolate import CubicSpline

    without = np.array([k for k in states if not modes[k]])
    rear, front = max(without[without < path.rest], default=-1), min(without[without > path.rest], default=np.inf)
    known = [(path.stroke[k], found) for k in states if (found := modes[k]) and rear < k < front]
    if len(known) < FEWEST:
        return None
    stroke = np.array([x for x, _ in known]) - path.stroke[path.rest]
    square = [(2 * np.pi * x.frequency_hz[0]) ** 2 * (1 + 1j * x.loss_factor[0]) for _, x in known]
    return first_fed(CubicSpline(stroke, square), min(-stroke[0], stroke[-1]))


def first_fed(square: Callable[[Array], Complex], reach: float) -> Rocking | None:
    """The least amplitude in m up to a reach that feeds a mode of squared angular frequency omega^2 (1 + i eta) over
    the motion in m from rest; None where none does.

    Along a motion X sin(2 w t) that square has a mean and an amplitude of its own. The mode grows where the amplitude
    is more than twice the mean of eta omega^2, the principal instability of Mathieu's equation for light damping:
    Nayfeh and Mook, Nonlinear Oscillations (1979), section 5.3 (named from memory). Mean and amplitude are those of
    the bent curve, for its slope at rest holds not far (0.38 in place of 0.86 mm, stepped V). An estimate: the
    mode is taken as of one shape, its inertia as constant.
    """
    from scipy.optimize import brentq

    def surplus(amplitude: float) -> float:
        along = square(amplitude * np.sin(PHASE))
        swing = 2 * abs(np.mean((along - at_rest).real * np.sin(PHASE)))
        return float(swing - 2 * np.mean(along.imag))

    at_rest, looked_at = square(np.zeros(1)), reach * LOOKED_AT
    fed = next((k for k, x in enumerate(looked_at) if surplus(x) > 0), None)
    if fed is None:
        return None
    threshold = float(brentq(surplus, looked_at[fed - 1], looked_at[fed]))
    mean = complex(np.mean(square(threshold * np.sin(PHASE))))
    return Rocking(float(np.sqrt(mean.real)) / (2 * np.pi), mean.imag / mean.real, threshold)
