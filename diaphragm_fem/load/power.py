"""Where the power goes, cause by cause, for peak phasors; W.

P_in = Re(F v*)/2 = sum_l eta_l omega u^H K_l u/2 + Re(p^H A_gap p)/2 + Re(p_s^H Y p_s)/2 + leak; the slots' part splits
into the loss of the channels and the power through the exit, |p_e|^2 Re(1/Z_exit)/2. Electrical: Re(V I*)/2 =
|I|^2 Re(Z_c)/2 + P_in.
"""

import numpy as np

from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.load.air import Air
from diaphragm_fem.load.slot_network import SlotNetwork
from diaphragm_fem.load.thin_chamber import ThinChamber


def through(impedance: Complex, pressure: Complex) -> Array:
    """|p|^2 Re(1/Z)/2 (F,): what a pressure (Pa) sends through an impedance (Pa s/m3)."""
    return np.asarray(np.abs(pressure) ** 2 * np.real(1 / impedance) / 2)


def stored_away(dynamic_stiffness: Complex, motion: Complex, omega: Array) -> Array:
    """omega Im(x^H Z x)/2 (F,): what a dynamic stiffness (F, p, p) takes from the motion (F, p) of its port."""
    return np.asarray(omega / 2 * np.imag(np.einsum("fp,fpq,fq->f", motion.conj(), dynamic_stiffness, motion)))


def in_gap(chamber: ThinChamber, air: Air, omega: Array, pressure: Complex) -> Array:
    """Re(p^H A_gap p)/2 (F,): viscous and thermal loss in the gap, pressure (F, N) on the chamber's patterns."""
    rest, push = chamber.factors(air, omega)
    flow, store = (
        (pressure.conj() * (pressure @ matrices)).sum(axis=2).T for matrices in (chamber.conductance, chamber.volume)
    )
    return np.asarray(np.real((rest * flow + push * store).sum(axis=1)) / 2)


def in_channels(network: SlotNetwork, slot_pressure: Complex) -> tuple[Array, Array]:
    """Loss in the channels and power through the exit, both (F,), from the pressures (F, J) at the slots."""
    flow = np.einsum("fij,fj->fi", network.admittance, slot_pressure)
    entering = np.real((slot_pressure.conj() * flow).sum(axis=1)) / 2
    leaving = through(network.exit_impedance, (network.transfer * slot_pressure).sum(axis=1))
    return entering - leaving, leaving
