"""Few masses on springs: the limits every diaphragm must reach."""

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Complex


def base_driven_share(frequency_hz: ArrayLike, resonance_hz: float, eta: float) -> Complex:
    """Motion of a mass on a lossy spring per motion of its base: q = (1 + i eta)/(1 + i eta - (f/f0)^2).

    Re q falls through zero at f0 sqrt(1 + eta^2); |q| < 0.3 from about f0 sqrt(1 + 1/0.3) on. Any textbook.
    """
    ratio = np.asarray(frequency_hz, float) / resonance_hz
    return np.asarray((1 + 1j * eta) / (1 + 1j * eta - ratio**2))


def sliding_annulus_stiffness(inner: float, outer: float, bending: float) -> float:
    """Axial stiffness (N/m) of a flat annulus between two rigid rings that cannot turn.

    w = A + B r^2 + C ln r + E r^2 ln r with both slopes held; force P = 8 pi D E, deflection between the edges per P.
    Source: Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells (1959), ch. 3.
    """
    a, b = inner, outer
    slope = np.array(((2 * a, 1 / a), (2 * b, 1 / b)))
    right = -np.array((a * (2 * np.log(a) + 1), b * (2 * np.log(b) + 1)))
    c2, c3 = np.linalg.solve(slope, right)
    rise = c2 * (a**2 - b**2) + c3 * np.log(a / b) + a**2 * np.log(a) - b**2 * np.log(b)
    return float(8 * np.pi * bending / abs(rise))
