"""The closed volume behind the diaphragm: a spring kappa_r/V on the swept volume of the rear face.

Rank one: force = kappa_r/V a (a . u), a = swept volume of the rear face, equal to the front's for a thin wall. Valid
while the largest dimension stays below a sixth of the wavelength: the spring of a closed tube of length L, k L cot k L
of that, is 40 % less there, which moves levels of the demonstrations by 0.15 dB at most. Above, such a tube as long as
a cube of the volume, hardly damped, moves them by up to 3 dB, 0.5 dB rms. exp(+i omega t).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Complex
from diaphragm_fem.load.air import Air
from diaphragm_fem.load.slit import tube


def chamber_modulus(air: Air, omega: ArrayLike, filling: float = 0.0, loss_factor: float = 0.0) -> Complex:
    """kappa_r (F,) in Pa: kappa/(1 + x (gamma - 1)), x = filling from 0 (empty, adiabatic) to 1 (isothermal).

    Filled, the volume looks up to 1.4 times larger (textbook, from memory; no published table was opened); the loss
    factor of the filling is the user's own number.
    """
    kappa = air.bulk_modulus / (1 + filling * (air.gamma - 1)) * (1 + 1j * loss_factor)
    return np.full(np.shape(omega), kappa, complex)


def leak_impedance(air: Air, diameter: float, length: float, omega: ArrayLike) -> Complex:
    """Impedance (F,) in Pa s/m3 of a round leak: i omega rho_e (L + 1.7 a)/S, rho_e with wall loss.

    The end correction 0.85 a on each side is that of a flanged tube (textbook, from memory).
    """
    radius = diameter / 2
    medium = tube(air, radius, omega)
    return np.asarray(1j * medium.omega * medium.density * (length + 1.7 * radius) / (np.pi * radius**2))


def chamber_stiffness(modulus: Complex, volume: float, omega: ArrayLike, leak: Complex | None = None) -> Complex:
    """Pressure per swept volume (F,) in Pa/m3, kappa_eff/V with kappa_eff = kappa/(1 + kappa/(i omega V Z_leak))."""
    stiffness = modulus / volume
    return stiffness if leak is None else stiffness / (1 + stiffness / (1j * np.asarray(omega, float) * leak))
