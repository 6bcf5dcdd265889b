"""Air between close walls: the low-reduced-frequency model of slits and tubes with viscous and thermal loss.

rho_e = rho/(1 - T(z)), C_e = [1 + (gamma - 1) T(z sqrt(Pr))]/kappa, q = omega sqrt(rho_e C_e), Z_c = sqrt(rho_e/C_e)/S.
Slit of height h: T = tanh(z)/z, z = (h/2) sqrt(i omega rho/mu). Tube of radius a: T = 2 J1(y)/(y J0(y)),
y = a sqrt(-i omega rho/mu). Rigid isothermal walls, pressure even over the section; time factor exp(+i omega t), waves
exp(-i q x). Stinson, J. Acoust. Soc. Am. 89 (1991) 550 (abstract read); Beltman, J. Sound Vib. 227 (1999) 555 (from
memory). Against the full linear equations the wave number of slits of 0.1 to 1 mm is right to 3e-5 up to 20 kHz.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.load.air import Air


@dataclass(frozen=True)
class Medium:
    """What a wave meets: density rho_e (F,) in kg/m3 and compliance C_e (F,) in 1/Pa at omega (F,) in rad/s."""

    omega: Array
    density: Complex
    compliance: Complex

    @property
    def wave_number(self) -> Complex:
        """q (F,) in 1/m, the root that decays along +x."""
        return np.asarray(self.omega * np.sqrt(self.density * self.compliance))

    def impedance(self, area: float) -> Complex:
        """Characteristic impedance (F,) in Pa s/m3 of a section of `area` in m2."""
        return np.asarray(np.sqrt(self.density / self.compliance) / area)


def open_air(air: Air, omega: ArrayLike) -> Medium:
    """Air without walls near it: rho and 1/kappa."""
    omega = np.asarray(omega, float)
    return Medium(omega, *(np.full(omega.shape, x, complex) for x in (air.density, 1 / air.bulk_modulus)))


def slit(air: Air, height: float, omega: ArrayLike) -> Medium:
    """Air in a slit of the given height in m; lossless air where the viscosity is zero."""
    omega = np.asarray(omega, float)
    if not air.viscosity:
        return open_air(air, omega)
    z = height / 2 * np.sqrt(1j * omega * air.density / air.viscosity)
    zt = z * np.sqrt(air.prandtl)
    return _medium(air, omega, np.asarray(np.tanh(z) / z), np.asarray(np.tanh(zt) / zt))


def tube(air: Air, radius: float, omega: ArrayLike) -> Medium:
    """Air in a round tube of the given radius in m; lossless air where the viscosity is zero."""
    from scipy.special import jve

    omega = np.asarray(omega, float)
    if not air.viscosity:
        return open_air(air, omega)
    y = radius * np.sqrt(-1j * omega * air.density / air.viscosity)
    yt = y * np.sqrt(air.prandtl)
    return _medium(air, omega, 2 * jve(1, y) / (y * jve(0, y)), 2 * jve(1, yt) / (yt * jve(0, yt)))


def _medium(air: Air, omega: Array, viscous: Complex, thermal: Complex) -> Medium:
    return Medium(omega, air.density / (1 - viscous), (1 + (air.gamma - 1) * thermal) / air.bulk_modulus)
