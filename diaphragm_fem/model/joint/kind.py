"""A kind of joint: the walls that meet there, by their shapes and materials."""

from functools import cache
from itertools import accumulate, pairwise
from math import pi, remainder, tan
from typing import NamedTuple, TypeVar

import numpy as np

from diaphragm_fem.arrays import Array

Real = TypeVar("Real", float, Array)

LEAST_SLOPE = 0.27  # of a fillet in an acute corner: 3.7 radii, beyond which none is drawn
ARM = 3.0  # own thicknesses that an arm runs on beyond its bend and its neighbours
LONGEST = 4.0  # times as far as that of the thickest: farther no arm runs on


class Ply(NamedTuple):
    """A layer of an arm: thickness in m, Young's modulus in Pa, Poisson ratio."""

    thickness: float
    youngs_modulus: float
    poisson_ratio: float


class Bend(NamedTuple):
    """Curvature d(direction)/ds in 1/m and length in m."""

    curvature: float
    length: float


STRAIGHT = Bend(0.0, 0.0)


class Arm(NamedTuple):
    """One wall that meets a joint, seen from it.

    direction in radians (0 outward, pi/2 up); thickness in m; youngs_modulus in Pa; poisson_ratio. It may begin with
    `bends`, two at most of a laminate, else one; then it runs straight. A laminate has its
    `layers` from the right hand to the left, and as its own values the sum of thicknesses and the averages over it;
    the middle of all lies by `lift` in m to the left of the line on which walls meet.
    """

    direction: float
    thickness: float
    youngs_modulus: float
    poisson_ratio: float
    bends: tuple[Bend, ...] = ()
    layers: tuple[Ply, ...] = ()
    lift: float = 0.0

    @property
    def plies(self) -> tuple[Ply, ...]:
        return self.layers or (Ply(self.thickness, self.youngs_modulus, self.poisson_ratio),)

    def place(self, s: Real) -> tuple[Array, Real]:
        """Points (2, ...) in m from the joint, and directions, at arc lengths s."""
        angle = self.direction + 0.0 * s
        point = 0.0 * unit(angle)
        for bend in self.bends:
            x = np.minimum(s, bend.length)
            half = bend.curvature * x / 2
            point, s = point + x * np.sinc(half / np.pi) * unit(angle + half), s - x
            angle = angle + 2 * half
        return point + s * unit(angle), angle

    def runs(self, reach: float) -> list[tuple[float, float, float]]:
        """Where each bend, and the straight run after them as far as `reach`, begins and ends, in m; its curvature."""
        every = (*self.bends, Bend(0.0, reach - self.bent))
        ends = accumulate((x.length for x in every), initial=0.0)
        return [(a, b, x.curvature) for (a, b), x in zip(pairwise(ends), every, strict=True)]

    @property
    def bent(self) -> float:
        """How far in m its bends reach."""
        return sum(bend.length for bend in self.bends)

    @property
    def plane_modulus(self) -> float:
        return self.youngs_modulus / (1 - self.poisson_ratio**2)

    @property
    def shear_modulus(self) -> float:
        return self.youngs_modulus / (2 * (1 + self.poisson_ratio))


def arm_of(direction: float, plies: tuple[Ply, ...], bends: tuple[Bend, ...], lift: float = 0.0) -> Arm:
    """The arm of a wall of some layers, lifted where there are several."""
    if len(plies) == 1:
        return Arm(direction, *plies[0], bends)
    h = sum(ply.thickness for ply in plies)
    modulus, nu = (sum(ply.thickness * ply[n] for ply in plies) / h for n in (1, 2))
    return Arm(direction, h, modulus, nu, bends, plies, lift)


def together(one: Bend, other: Bend) -> tuple[Bend, ...]:
    """Two bends that begin at the same place, as one after another."""
    if not other.length:
        return (one,) if one.length else ()
    if not one.length:
        return (other,)
    short, long = sorted((one, other), key=lambda bend: bend.length)
    parts = Bend(short.curvature + long.curvature, short.length), Bend(long.curvature, long.length - short.length)
    return tuple(bend for bend in parts if bend.length)


class Glue(NamedTuple):
    """A fillet at the last arm: on the side of the first arm where inside; radius in m, Young's modulus in Pa."""

    inside: bool
    radius: float
    youngs_modulus: float
    poisson_ratio: float


class Kind(NamedTuple):
    """A kind of joint: two arms end to end; three, the last a former that hangs from the rear face of the first two,
    which run on through the joint in this order; or one, whose end face is held. Glue counts as the former's, which
    then points down. Where arms part late, or a mitre needs room, their patch has them run on `longer` times as far."""

    arms: tuple[Arm, ...]
    glue: tuple[Glue, ...] = ()
    longer: float = 1.0

    @property
    def held(self) -> bool:
        return len(self.arms) == 1

    @property
    def parts(self) -> tuple[int, ...]:
        """The arm of every layer, all layers of all arms in order."""
        return tuple(k for k, arm in enumerate(self.arms) for _ in arm.plies)

    def reach(self, arm: Arm) -> float:
        """Length of an arm in m: its bends or as far as its thickest neighbour stands out, a former beside the drive
        circle farther than half of itself, and enough of its own thicknesses, more where arms are to be longer."""
        glued = max((self.leg(arm, glue) for glue in self.glue), default=0.0)
        aside = [abs(former.lift) + former.thickness / 2 for former in self.arms[2:]]
        beside = max(arm.bent, *(other.thickness / 2 for other in self.arms), *aside)
        most = LONGEST * max(other.thickness for other in self.arms)
        return beside + ARM * min(self.longer * arm.thickness, most) + glued

    def leg(self, arm: Arm, glue: Glue) -> float:
        """How far in m a fillet reaches along an arm, about: as in a straight corner; nothing on the other side."""
        walls = (self.arms[0 if glue.inside else 1], self.arms[-1])
        if arm not in walls:
            return 0.0
        half = abs(remainder(walls[0].direction - walls[1].direction, 2 * pi)) / 2
        return glue.radius / max(tan(half), LEAST_SLOPE)

    def transport(self, components: int) -> Array:
        """Loads (A, N, L) of each arm, N components each, from the independent ones; the last arm balances."""
        return transport(max(len(self.arms) - 1, 1), components)[: len(self.arms)]


@cache
def transport(free: int, loads: int) -> Array:
    """Loads (free + 1, N, L) of each arm from the independent ones of so many arms: one more balances them, but of a
    held end."""
    own = np.eye(free * loads).reshape(free, loads, -1)
    return np.concatenate((own, -own.sum(axis=0, keepdims=True)))


def unit(angle: Real) -> Array:
    """Unit vectors (2, ...) of directions."""
    return np.array([np.cos(angle), np.sin(angle)])
