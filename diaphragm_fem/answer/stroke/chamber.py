"""A closed chamber behind a part that moves far: its gas bends, and the wall gives way to its pressure.

With V(x) the integral of the slow area S over the motion x from rest, C(x) what the wall gives way to a pressure p with
its coil held, D = dC/dp at rest, kappa the chamber's pressure per volume and beta = (gamma + 1)/(2 V_c) of
p V^gamma = constant, to second order in p

    v = V + C p + D p^2/2,    p = -kappa v (1 - beta v) = -P + sigma (beta/kappa - kappa D/2) P^2,    P = kappa sigma V,
    sigma = 1/(1 + kappa C),    force on the coil = -d/dx (V p + C p^2/2) = -S p - C' p^2/2

for a motion at a pressure has a potential (derived here; held against states of the shell under that pressure).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from diaphragm_fem.answer.stroke.path import StrokePath
from diaphragm_fem.arrays import Array
from diaphragm_fem.load.surroundings import air_of, spring_of

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline


@dataclass(frozen=True)
class Behind:
    """A chamber over the motion in m from rest: spring in Pa/m3, zero for none; gas = beta/kappa in 1/Pa; area S in m2
    and give C in m3/Pa, curves; give_slope D in m3/Pa2."""

    spring: float
    gas: float
    area: CubicSpline
    give: CubicSpline
    give_slope: float

    @property
    def swept_at_rest(self) -> float:
        """What is swept per motion at rest, in m2: sigma S."""
        return float(self.area(0.0) / (1 + self.spring * self.give(0.0)))

    @property
    def stiffness(self) -> float:
        """What it adds at rest, in N/m."""
        return self.spring * self.swept_at_rest * float(self.area(0.0))

    def swept(self, motion: Array) -> Array:
        """v in m3."""
        pressure, _ = self._pressure(motion)
        free = self._free(motion) - self._free(0.0)
        return np.asarray(free + self.give(motion) * pressure + self.give_slope * pressure**2 / 2)

    def force(self, motion: Array) -> Array:
        """What it takes to hold the coil against it, in N."""
        pressure, _ = self._pressure(motion)
        return np.asarray(-self.area(motion) * pressure - self.give(motion, 1) * pressure**2 / 2)

    def rate(self, motion: Array) -> Array:
        """Slope of that force in N/m."""
        pressure, rise = self._pressure(motion)
        first = self.area(motion, 1) * pressure + self.area(motion) * rise
        return np.asarray(-first - self.give(motion, 2) * pressure**2 / 2 - self.give(motion, 1) * pressure * rise)

    @cached_property
    def _free(self) -> CubicSpline:
        """V in m3 but for a constant."""
        return self.area.antiderivative()

    def _pressure(self, motion: Array) -> tuple[Array, Array]:
        """p in Pa and its slope in Pa/m."""
        share, free = 1 / (1 + self.spring * self.give(motion)), self._free(motion) - self._free(0.0)
        fall = -self.spring * self.give(motion, 1) * share**2
        first, rise = self.spring * share * free, self.spring * (fall * free + share * self.area(motion))
        bend = self.gas - self.spring * self.give_slope / 2
        return bend * share * first**2 - first, bend * (fall * first**2 + 2 * share * first * rise) - rise


def chamber_behind(path: StrokePath) -> Behind:
    """The closed chamber of a part's driver; one with a leak holds nothing."""
    from scipy.interpolate import CubicSpline

    x = path.stroke - path.stroke[path.rest]
    area, give = CubicSpline(x, path.total_area), CubicSpline(x, path.held_give)
    driver = path.shell.model.design.driver
    rear = None if driver is None else driver.rear_chamber
    if driver is None or rear is None or rear.leak_diameter is not None:
        return Behind(0.0, 0.0, area, give, 0.0)
    spring = spring_of(rear, air_of(driver.climate))
    gamma = spring * rear.volume / driver.climate.static_pressure
    return Behind(spring, (gamma + 1) / (2 * rear.volume * spring), area, give, path.give_slope)
