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


def unwalled(air: Air, omega: ArrayLike) -> Medium:
    """Air without walls near it: rho and 1/kappa."""
    omega = np.asarray(omega, float)
    return Medium(omega, *(np.full(omega.shape, x, complex) for x in (air.density, 1 / air.bulk_modulus)))


def slit(air: Air, height: ArrayLike, omega: ArrayLike) -> Medium:
    """Air in a slit of the given height in m, one or (P, 1) of them; lossless air where the viscosity is zero."""
    omega = np.asarray(omega, float)
    if not air.viscosity:
        return unwalled(air, omega)
    z = np.asarray(height) / 2 * np.sqrt(1j * omega * air.density / air.viscosity)
    zt = z * np.sqrt(air.prandtl)
    return _medium(air, omega, np.asarray(np.tanh(z) / z), np.asarray(np.tanh(zt) / zt))


def tube(air: Air, radius: ArrayLike, omega: ArrayLike) -> Medium:
    """Air in a round tube of the given radius in m, one or (P, 1) of them; lossless air where the viscosity is zero."""
    omega = np.asarray(omega, float)
    if not air.viscosity:
        return unwalled(air, omega)
    y: Complex = np.asarray(np.asarray(radius) * np.sqrt(-1j * omega * air.density / air.viscosity), complex)
    return _medium(air, omega, *(2 * _bessel_ratio(x) / x for x in (y, y * np.sqrt(air.prandtl))))


def _bessel_ratio(y: Complex) -> Complex:
    """J1/J0 at y (F,) below the real axis. Far below it a Bessel function is half a Hankel function but for
    exp(-2 |Im y|), and that of order n an asymptotic series in i/y (Abramowitz and Stegun, 9.2.7): a wide horn's
    impedance takes two fifths of the time, most of which a driver's answer spent there."""
    from scipy.special import jve

    far = -y.imag > _FAR
    found, near = np.empty(y.shape, complex), y[~far]
    found[far] = -1j * np.polyval(_RATIO, 1j / y[far])
    found[~far] = jve(1, near) / jve(0, near)
    return found


def _hankel_ratio(terms: int = 12) -> Array:
    """Coefficients (terms,), the highest power first, of the series of order 1 over that of order 0, whose own are
    (4 n^2 - 1)(4 n^2 - 9) ... (4 n^2 - (2 k - 1)^2) / (k! 8^k)."""
    odd = np.arange(1, 2 * terms - 2, 2)
    one, zero = (np.append(1.0, np.cumprod((4 * n**2 - odd**2) / (4 * (odd + 1)))) for n in (1, 0))
    ratio = np.zeros(terms)
    for k in range(terms):
        ratio[k] = one[k] - ratio[:k] @ zero[k:0:-1]
    return ratio[::-1]


_FAR = 20.0  # below the real axis: the share left out is 4e-18
_RATIO = _hankel_ratio()


def _medium(air: Air, omega: Array, viscous: Complex, thermal: Complex) -> Medium:
    return Medium(omega, air.density / (1 - viscous), (1 + (air.gamma - 1) * thermal) / air.bulk_modulus)
