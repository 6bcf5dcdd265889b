"""The closed volume behind the diaphragm: a spring kappa_r/V on the swept volume of the rear face, or a closed tube.

Rank one: force = kappa_r/V a (a . u), a = swept volume of the rear face, equal to the front's for a thin wall. Valid
while the largest dimension stays below a sixth of the wavelength: the spring of a closed tube of length L, k L cot k L
of that, is 40 % less there, which moves levels of the demonstrations by 0.15 dB at most. Above, such a tube as long as
a cube of the volume, bare, digs narrow holes of 20 dB (34 in a baffle) where half waves fit, and moves a third of an
octave by up to 1.4 dB; with a loss factor of 0.1 it moves levels by up to 1.8 dB, 0.3 dB rms (straight and stepped V).
With its depth given a chamber is that tube. exp(+i omega t).
"""

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Complex
from diaphragm_fem.load.air import Air
from diaphragm_fem.load.slit import Medium, tube


def chamber_modulus(air: Air, omega: ArrayLike, filling: float = 0.0, loss_factor: float = 0.0) -> Complex:
    """kappa_r (F,) in Pa: kappa/(1 + x (gamma - 1)), x = filling from 0 (empty, adiabatic) to 1 (isothermal).

    Filled, the volume looks up to 1.4 times larger (textbook, from memory; no published table was opened); the loss
    factor of the filling is the user's own number.
    """
    kappa = air.bulk_modulus / (1 + filling * (air.gamma - 1)) * (1 + 1j * loss_factor)
    return np.full(np.shape(omega), kappa, complex)


def leak_impedance(air: Air, diameter: float, length: float, omega: ArrayLike) -> Complex:
    """Impedance (F,) in Pa s/m3 of a round leak: i omega rho_e (L + 1.7 a)/S, rho_e with wall loss.

    The end correction 0.85 a on each side is that of a flanged tube (textbook, from memory). Waves along it are left
    out: about the resonance of a hole of 8 by 40 mm before 60 cm3 they move a level by 0.3 dB, of 4 by 30 mm by 0.04.
    """
    radius = diameter / 2
    medium = tube(air, radius, omega)
    return np.asarray(1j * medium.omega * medium.density * (length + 1.7 * radius) / (np.pi * radius**2))


def tube_behind(air: Air, modulus: Complex, volume: float, depth: float, omega: ArrayLike) -> Medium:
    """The air of a chamber that is a straight tube of that depth: its modulus (F,), a round tube's loss at walls."""
    walls = tube(air, float(np.sqrt(volume / (np.pi * depth))), omega)
    return replace(walls, compliance=walls.compliance * air.bulk_modulus / modulus)


def chamber_stiffness(
    modulus: Complex, volume: float, omega: ArrayLike, leak: Complex | None = None, waves: Complex | float = 0.0
) -> tuple[Complex, Complex]:
    """Pressure per swept volume in Pa/m3 as numerator and denominator (F,), which are smooth where waves stand.

    kappa cos x over V sin x/x with x = `waves` = q L of a tube closed at its end, Z = -i Z_c cot q L (Kinsler, Frey,
    Coppens and Sanders, Fundamentals of Acoustics, ch. 10, from memory); kappa over V of a spring. Beside a leak the
    denominator gains the numerator over i omega Z_leak.
    """
    push, give = modulus / volume * np.cos(waves), np.sinc(np.asarray(waves) / np.pi) + 0 * modulus
    return push, give if leak is None else give + push / (1j * np.asarray(omega, float) * leak)
