"""Local corrections that make a one-dimensional gap exact near a slot and near a bend.

Plane potential flow near a sharp feature that is small against wavelength and radius, per unit depth; g the gap's
width, w the slot's, n = w/(2 g), theta the turning angle. A resistance of 1 is that of a gap one width long.
"""

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array


def slot_inflow(n: ArrayLike) -> Array:
    """Lambda_s: what each half of a symmetric inflow gains over a gap that runs to the slot's centre line.

    1/n - n - (2/pi) ln(4n/(n^2+1)) + (n^2-1)/(pi n) arccos((n^2-1)/(n^2+1)), the right-angled bend of two strips, Hall,
    Thin Solid Films 1 (1968) 277 (from memory). The slot gains the inertance rho Lambda_s/(4 pi r_s).
    """
    n = np.asarray(n, float)
    turn = (n**2 - 1) / (np.pi * n) * np.arccos((n**2 - 1) / (n**2 + 1))
    return np.asarray(1 / n - n - 2 / np.pi * np.log(4 * n / (n**2 + 1)) + turn)


def slot_through_flow(n: ArrayLike) -> Array:
    """Lambda_t = -(2/pi) [n arctan n - ln(1 + n^2)/2]: flow past the slot, along the gap.

    The conjugate of Carter's slot coefficient, Carter, J. IEE 64 (1926) 1115 (from memory). Within the slot's width the
    gap conducts 1/beta better, beta = 1 + Lambda_t/n, and the slot's inertance then takes Lambda_s - Lambda_t.
    """
    n = np.asarray(n, float)
    return np.asarray(-2 / np.pi * (n * np.arctan(n) - np.log(1 + n**2) / 2))


def slot_excess(n: ArrayLike) -> Array:
    """alpha: by i omega rho alpha g U the pressure on the wall across from a slot is more than the gap's, U per length.

    Summed over that wall, against the gap's own with its local corrections: alpha = 1/6 + (m + Lambda_t/n) n^2/2, by
    Green's identity with x^2 - (y - g)^2. m n^2 g^2 is the mean square of where, from its middle, the flow passes the
    mouth of a deep slot: m = 0.4055 + 0.036 n^2 within 1e-3 up to n = 1, from integral equations of that flow.
    """
    n = np.asarray(n, float)
    return np.asarray(1 / 6 + (0.4055 + 0.036 * n**2 + slot_through_flow(n) / n) * n**2 / 2)


def bend(theta: ArrayLike) -> Array:
    """K: extra resistance of a sharp bend, both lengths measured to the inner corner; on the middle line the corner is
    g tan(theta/2) long.

    K = (2/pi) [psi(1/2 + theta/(2 pi)) - psi(1/2)] (Schwarz-Christoffel), psi the digamma function; theta in rad.
    """
    from scipy.special import digamma  # here: it takes a tenth of what a command without a driver needs to start

    return np.asarray(2 / np.pi * (digamma(0.5 + np.asarray(theta, float) / (2 * np.pi)) - digamma(0.5)))


def relief(turn: ArrayLike, apart: ArrayLike) -> Array:
    """What each of B bends resists less than the middle line is long, in widths; turn (B,) in rad with its sign, apart
    (B, B) how far they are from one another, in widths.

    tan(theta/2) - K of a bend alone, and 2 theta_1 theta_2 h(d) of two, half to each:
    h = (4/pi^3) sum of exp(-n pi d)/n^3, n odd: the strip's potential to second order in its turn. A curve is many
    small bends; of one far longer than the gap is wide that makes (kappa g)^2/12 of its length, as between two circles.
    """
    turn, size = np.asarray(turn, float), np.abs(turn)
    odd = np.arange(1, 40, 2)[:, None, None]
    near = 4 / np.pi**3 * (np.exp(-odd * np.pi * np.asarray(apart)) / odd**3).sum(axis=0)
    return np.asarray(np.tan(size / 2) - bend(size) + turn * ((near * (1 - np.eye(len(size)))) @ turn))
