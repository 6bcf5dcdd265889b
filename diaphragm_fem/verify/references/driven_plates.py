"""Flat axisymmetric plates, thin (Kirchhoff), driven at a circle: effective area in closed form, with and without loss.

The general form is a chain of flat rings (`FlatRing`), each of its own stiffness, mass and loss factor, joined
smoothly; one circle moves with the amplitude 1. In each ring w = A J_0(x r) + B Y_0(x r) + C I_0(x r) + D K_0(x r),
complex x^4 = omega^2 m/(D (1 + i eta)); deflection, slope and moment are continuous everywhere, the shear is too
except at the driven circle. The volume of each ring is the exact integral of r w. Time factor exp(+i omega t).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import iv, jv

from diaphragm_fem.arrays import Complex
from diaphragm_fem.verify.references.plates import SIGNS, chain, columns, shear_row


@dataclass(frozen=True)
class FlatRing:
    """A flat ring inner < r < outer (m): bending stiffness (N m), mass per area (kg/m2), Poisson ratio, loss factor."""

    inner: float
    outer: float
    bending: float
    areal_mass: float
    poisson_ratio: float = 0.3
    loss_factor: float = 0.0


@dataclass(frozen=True)
class DrivenPlate:
    """Volume velocity per driven velocity (F, rings) in m2, drive force per motion (F,) in N/m."""

    volume: Complex
    dynamic_stiffness: Complex

    @property
    def effective_area(self) -> Complex:
        return np.asarray(self.volume.sum(axis=1))


def _columns(ring: FlatRing, x: complex, r: float) -> Complex:
    """w, w', M_r and Q_r (with D in them, each of the opposite of its usual sign) of the four functions at radius r."""
    bent = ring.bending * (1 + 1j * ring.loss_factor) * x**2
    return np.array((1, 1, bent, bent * x))[:, None] * columns(0, x, r, ring.poisson_ratio, (ring.inner, ring.outer))


def _volumes(ring: FlatRing, x: complex) -> Complex:
    """2 pi times the integral of r w over the ring, per function: r w = sign (r w')'/x^2."""
    at_outer = _columns(ring, x, ring.outer)[1] * ring.outer
    at_inner = _columns(ring, x, ring.inner)[1] * ring.inner if ring.inner > 0 else np.zeros(4)
    return np.asarray(2 * np.pi * SIGNS * (at_outer - at_inner) / x**2)


def driven_plate(rings: Sequence[FlatRing], driven: int, inner: str, outer: str, omega: ArrayLike) -> DrivenPlate:
    """Response to a unit motion of the circle at the begin of ring `driven` (len(rings): the outer edge).

    inner, outer: edge C, S, F or G (slope held, deflection free); inner is "" of a full disc. At a driven edge
    the shear condition gives way to the imposed motion, so F means hinged to the drive and G clamped to it.
    """
    omega = np.atleast_1d(np.asarray(omega, float))
    count, row = len(rings), shear_row(inner, outer, len(rings), driven)
    volume, force = np.empty((omega.size, count), complex), np.empty(omega.size, complex)
    jump = np.zeros(4 * count)
    jump[row] = 1.0
    ring = min(driven, count - 1)
    radius = rings[ring].inner if ring == driven else rings[ring].outer
    for f, w in enumerate(omega):
        waves = [(w**2 * p.areal_mass / (p.bending * (1 + 1j * p.loss_factor))) ** 0.25 for p in rings]
        pairs = list(zip(rings, waves, strict=True))
        begin = [_columns(p, x, p.inner or p.outer) for p, x in pairs]  # of a disc it has no part
        end = [_columns(p, x, p.outer) for p, x in pairs]
        matrix = chain(inner, outer, begin, end)
        size = np.linalg.norm(matrix, axis=1)
        shape = np.linalg.solve(matrix / size[:, None], jump / size).reshape(count, 4)
        moved = (begin if ring == driven else end)[ring][0] @ shape[ring]
        volume[f] = [_volumes(p, x) @ c / moved for (p, x), c in zip(pairs, shape, strict=True)]
        force[f] = 2 * np.pi * radius / moved
    return DrivenPlate(volume, force)


def rim_driven_shape(radius: ArrayLike, omega_ratio: float, eta: float = 0.0) -> Complex:
    """Deflection w(r)/w(a) of the disc with its rim slope held, r per a:
    (I1(x) J0(x r) + J1(x) I0(x r))/(I1(x) J0(x) + J1(x) I0(x))."""
    x = np.sqrt(omega_ratio) * (1 + 1j * eta) ** -0.25
    r = np.asarray(radius, float)
    rim = iv(1, x) * jv(0, x) + jv(1, x) * iv(0, x)
    return np.asarray((iv(1, x) * jv(0, x * r) + jv(1, x) * iv(0, x * r)) / rim)
