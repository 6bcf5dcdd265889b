"""A kind of joint: the walls that meet there, by their shapes and materials."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import pi, remainder, tan
from typing import NamedTuple, TypeVar

import numpy as np

from diaphragm_fem.arrays import Array

Real = TypeVar("Real", float, Array)

LEAST_SLOPE = 0.27  # of a fillet in an acute corner: 3.7 radii, beyond which none is drawn
ARM = 3.0  # own thicknesses that an arm runs on beyond its bend and its neighbours


class Ply(NamedTuple):
    """A layer of an arm: thickness in m, Young's modulus in Pa, Poisson ratio."""

    thickness: float
    youngs_modulus: float
    poisson_ratio: float


@dataclass(frozen=True)
class Arm:
    """One wall that meets a joint, seen from it.

    direction in radians (0 outward, pi/2 up); thickness in m; youngs_modulus in Pa; poisson_ratio. It may begin with a
    bend of `curvature` d(direction)/ds in 1/m over the length `bend` in m; then it runs straight. A laminate has its
    `layers` from the right hand to the left, and as its own values the sum of thicknesses and the averages over it;
    the middle of all lies by `lift` in m to the left of the line on which walls meet.
    """

    direction: float
    thickness: float
    youngs_modulus: float
    poisson_ratio: float
    curvature: float = 0.0
    bend: float = 0.0
    layers: tuple[Ply, ...] = ()
    lift: float = 0.0

    @property
    def plies(self) -> tuple[Ply, ...]:
        return self.layers or (Ply(self.thickness, self.youngs_modulus, self.poisson_ratio),)

    def place(self, s: Real) -> tuple[Array, Real]:
        """Points (2, ...) in m from the joint, and directions, at arc lengths s."""
        x = np.minimum(s, self.bend)
        half = self.curvature * x / 2
        angle = self.direction + 2 * half
        chord = x * np.sinc(half / np.pi)
        return chord * unit(self.direction + half) + (s - x) * unit(angle), angle

    @property
    def plane_modulus(self) -> float:
        return self.youngs_modulus / (1 - self.poisson_ratio**2)

    @property
    def shear_modulus(self) -> float:
        return self.youngs_modulus / (2 * (1 + self.poisson_ratio))


def arm_of(direction: float, plies: tuple[Ply, ...], curvature: float, bend: float, lift: float = 0.0) -> Arm:
    """The arm of a wall of some layers, lifted where there are several."""
    if len(plies) == 1:
        return Arm(direction, *plies[0], curvature, bend)
    h = sum(ply.thickness for ply in plies)
    modulus, nu = (sum(ply.thickness * ply[n] for ply in plies) / h for n in (1, 2))
    return Arm(direction, h, modulus, nu, curvature, bend, plies, lift)


class Glue(NamedTuple):
    """A fillet at the last arm: on the side of the first arm where inside; radius in m, Young's modulus in Pa."""

    inside: bool
    radius: float
    youngs_modulus: float
    poisson_ratio: float


@dataclass(frozen=True)
class Kind:
    """A kind of joint: two arms end to end; three, the last a former that hangs from the rear face of the first two,
    which run on through the joint in this order; or one, whose end face is held. Glue counts as the former's, which
    then points down."""

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
        """Length of an arm in m: its bend or half its thickest neighbour, and enough of its own thicknesses."""
        glued = max((self.leg(arm, glue) for glue in self.glue), default=0.0)
        beside = max(arm.bend, max(other.thickness for other in self.arms) / 2)
        return beside + self.longer * ARM * arm.thickness + glued

    def leg(self, arm: Arm, glue: Glue) -> float:
        """How far in m a fillet reaches along an arm, about: as in a straight corner; nothing on the other side."""
        walls = (self.arms[0 if glue.inside else 1], self.arms[-1])
        if arm not in walls:
            return 0.0
        half = abs(remainder(walls[0].direction - walls[1].direction, 2 * pi)) / 2
        return glue.radius / max(tan(half), LEAST_SLOPE)

    def transport(self, components: int) -> Array:
        """Loads (A, N, L) of each arm, N components each, from the independent ones; the last arm balances."""
        return transport((len(self.arms),), components)[0]


@lru_cache(maxsize=64)
def transport(arms: tuple[int, ...], loads: int) -> Array:
    """Loads (J, A, N, L) of each arm from the independent ones of joints of so many arms: the last one balances the
    others, a held end has nothing to balance; arms and loads that are not there have nothing."""
    most = max(arms)
    found = np.zeros((len(arms), most, loads, max(most - 1, 1), loads))
    for own, count in zip(found, arms, strict=True):
        for a in range(max(count - 1, 1)):
            own[a, :, a] = np.eye(loads)
            if count > 1:
                own[count - 1, :, a] = -np.eye(loads)
    return found.reshape(len(arms), most, loads, -1)


def unit(angle: Real) -> Array:
    """Unit vectors (2, ...) of directions."""
    return np.array([np.cos(angle), np.sin(angle)])
