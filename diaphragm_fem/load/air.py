"""Moist air from temperature, humidity and static pressure.

Density: CIPM-2007, rho = P M_a/(Z R T) [1 - x_v (1 - M_v/M_a)], Picard, Davis, Glaeser and Fujii, Metrologia 45 (2008)
149. Speed of sound: 16-coefficient fit of Cramer, J. Acoust. Soc. Am. 93 (1993) 2510. Viscosity, conductivity and heat
capacity: Rasmussen, Report PL-11b, Technical University of Denmark (1997). Molar mass and gas constant of 2007 are
from memory. The bulk modulus is rho c^2 everywhere, so that a chamber and a tube of the same air agree.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp

from diaphragm_fem.errors import ModelError

ZERO_CELSIUS = 273.15  # K
MOLAR_MASS, VAPOUR_MASS, GAS_CONSTANT = 28.96546e-3, 18.01528e-3, 8.314472  # kg/mol, kg/mol, J/(mol K)
CARBON_DIOXIDE = 4e-4  # mole fraction
CALORIE = 4186.8  # J per kilocalorie
SOUND_SPEED = 343.0  # m/s, about that of any air indoors: where no state is asked for


@dataclass(frozen=True)
class Air:
    """density rho kg/m3, sound_speed c m/s, viscosity mu Pa s, gamma = rho c^2/P, prandtl = mu c_p/k; SI.

    notes say what a reader should know of their range. A viscosity of zero means air without loss.
    """

    density: float
    sound_speed: float
    viscosity: float
    gamma: float
    prandtl: float
    notes: tuple[str, ...] = ()

    @property
    def bulk_modulus(self) -> float:
        """kappa = rho c^2 in Pa."""
        return self.density * self.sound_speed**2

    @property
    def lossless(self) -> Air:
        """The same air without viscosity and heat conduction."""
        return replace(self, viscosity=0.0)


def moist_air(temperature: float = 293.15, humidity: float = 0.5, static_pressure: float = 101325.0) -> Air:
    """Air at a temperature in K, a relative humidity 0 to 1 and a static pressure in Pa.

    Raises ModelError outside the range of the sound speed (0 to 30 deg C, 75 to 102 kPa, so that the mole fraction of
    vapour stays below the 0.06 of its fit, stated uncertainty 300 ppm); outside that of the density (15 to 27 deg C, 60
    to 110 kPa, from memory) a note says so.
    """
    t, pressure = temperature - ZERO_CELSIUS, static_pressure
    if not 0 <= humidity <= 1:
        raise ModelError(f"the relative humidity must lie between 0 and 1, received {humidity:g}")
    if not -1e-9 <= t <= 30 + 1e-9:
        raise ModelError(
            f"the speed of sound is known from 0 to 30 deg C (Cramer 1993), received {t:.4g} deg C: "
            "choose a temperature within that range"
        )
    if not 75e3 <= pressure <= 102e3:
        raise ModelError(
            f"the speed of sound is known from 75 to 102 kPa (Cramer 1993), received {pressure / 1e3:.4g} kPa: "
            "choose a static pressure within that range"
        )
    vapour = vapour_fraction(temperature, humidity, pressure)
    rho, c = density(temperature, vapour, pressure), sound_speed(t, vapour, pressure)
    mu, k, heat = viscosity(temperature, vapour), conductivity(temperature, vapour), heat_capacity(temperature, vapour)
    notes: tuple[str, ...] = ()
    if not 15 <= t <= 27:
        notes = (
            f"the density formula states its uncertainty (22 ppm, from memory) for 15 to 27 deg C; at {t:.3g} deg C it "
            "differs from an ideal mixture by up to 0.06 %, which is what to allow",
        )
    return Air(rho, c, mu, rho * c**2 / pressure, mu * heat / k, notes)


def vapour_fraction(T: float, humidity: float, P: float) -> float:
    """Mole fraction x_v = h f p_sv/P, p_sv = exp(A T^2 + B T + C + D/T), f = 1.00062 + 3.14e-8 P + 5.6e-7 t^2."""
    saturation = exp(1.2378847e-5 * T**2 - 1.9121316e-2 * T + 33.93711047 - 6.3431645e3 / T)
    return humidity * (1.00062 + 3.14e-8 * P + 5.6e-7 * (T - ZERO_CELSIUS) ** 2) * saturation / P


def density(T: float, x: float, P: float) -> float:
    """rho in kg/m3 with the compressibility series Z of the CIPM formula."""
    t = T - ZERO_CELSIUS
    first = 1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t**2 + (5.707e-6 - 2.051e-8 * t) * x
    first += (1.9898e-4 - 2.376e-6 * t) * x**2
    compressibility = 1 - P / T * first + (P / T) ** 2 * (1.83e-11 - 0.765e-8 * x**2)
    return P * MOLAR_MASS / (compressibility * GAS_CONSTANT * T) * (1 - x * (1 - VAPOUR_MASS / MOLAR_MASS))


def sound_speed(t: float, x: float, P: float) -> float:
    """c in m/s at zero frequency; t in deg C, mole fraction x of vapour."""
    carbon = CARBON_DIOXIDE
    return (
        331.5024
        + 0.603055 * t
        - 0.000528 * t**2
        + (51.471935 + 0.1495874 * t - 0.000782 * t**2) * x
        + (-1.82e-7 + 3.73e-8 * t - 2.93e-10 * t**2) * P
        + (-85.20931 - 0.228525 * t + 5.91e-5 * t**2) * carbon
        - 2.835149 * x**2
        - 2.15e-13 * P**2
        + 29.179762 * carbon**2
        + 0.000486 * x * P * carbon
    )


def viscosity(T: float, x: float) -> float:
    """mu in Pa s."""
    return 1e-8 * (84.986 + 7.0 * T + (113.157 - T) * x - 3.7501e-3 * T**2 - 100.015 * x**2)


def conductivity(T: float, x: float) -> float:
    """Thermal conductivity in W/(m K)."""
    return CALORIE * 1e-8 * (60.054 + 1.846 * T + 2.06e-6 * T**2 + (40.0 - 1.775e-4 * T) * x)


def heat_capacity(T: float, x: float) -> float:
    """c_p in J/(kg K)."""
    dry = 0.251625 - 9.2525e-5 * T + 2.1334e-7 * T**2 - 1.0043e-10 * T**3
    moist = (0.12477 - 2.283e-5 * T + 1.267e-7 * T**2) * x + (0.01116 + 4.61e-6 * T + 1.74e-8 * T**2) * x**2
    return CALORIE * (dry + moist)
