"""Flat axisymmetric plates, thin (Kirchhoff), driven at a circle: effective area in closed form, with and without loss.

The general form is a chain of flat rings (`Ring`), each of its own stiffness, mass and loss factor, joined smoothly;
one circle moves with the amplitude 1. In each ring w = A J_0(x r) + B Y_0(x r) + C I_0(x r) + D K_0(x r) with the
complex x^4 = omega^2 m/(D (1 + i eta)); deflection, slope and moment are continuous everywhere, the shear is too
except at the driven circle. The volume of each ring is the exact integral of r w. Time factor exp(+i omega t).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import iv, jv

from diaphragm_fem.arrays import Complex
from diaphragm_fem.verify.references.plates import EDGE_ROWS, columns


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
    return np.asarray(2 * np.pi * np.array((-1, -1, 1, 1)) * (at_outer - at_inner) / x**2)


def driven_plate(rings: Sequence[FlatRing], driven: int, inner: str, outer: str, omega: ArrayLike) -> DrivenPlate:
    """Response to a unit motion of the circle at the begin of ring `driven` (len(rings): the outer edge).

    inner, outer: edge C, S, F or G (slope held, deflection free); inner is ignored for a full disc. At a driven edge
    the shear condition gives way to the imposed motion, so F means hinged to the drive and G clamped to it.
    """
    omega = np.atleast_1d(np.asarray(omega, float))
    count = len(rings)
    full_disc = rings[0].inner == 0
    volume = np.empty((omega.size, count), complex)
    force = np.empty(omega.size, complex)
    for f, w in enumerate(omega):
        waves = [(w**2 * p.areal_mass / (p.bending * (1 + 1j * p.loss_factor))) ** 0.25 for p in rings]
        rows: list[Complex] = []
        right: list[complex] = []

        def put(parts: dict[int, Complex], value: complex, rows: list = rows, right: list = right) -> None:
            row = np.zeros(4 * count, complex)
            for p, content in parts.items():
                row[4 * p : 4 * p + 4] = content
            rows.append(row / np.linalg.norm(row))
            right.append(value / np.linalg.norm(row))

        begin = [_columns(p, x, p.inner) if p.inner > 0 else None for p, x in zip(rings, waves, strict=True)]
        end = [_columns(p, x, p.outer) for p, x in zip(rings, waves, strict=True)]
        if full_disc:
            put({0: np.array((0, 1, 0, 0))}, 0)
            put({0: np.array((0, 0, 0, 1))}, 0)
        else:
            for i in EDGE_ROWS[inner]:
                if driven == 0 and i == 3:
                    put({0: begin[0][0]}, 1)  # type: ignore[index]
                else:
                    put({0: begin[0][i]}, 0)  # type: ignore[index]
        for p in range(1, count):
            for i in range(4):
                if p == driven and i == 3:
                    put({p: begin[p][0]}, 1)  # type: ignore[index]
                else:
                    put({p - 1: end[p - 1][i], p: -begin[p][i]}, 0)  # type: ignore[index]
        for i in EDGE_ROWS[outer]:
            if driven == count and i == 3:
                put({count - 1: end[-1][0]}, 1)
            else:
                put({count - 1: end[-1][i]}, 0)
        solution = np.linalg.solve(np.array(rows), np.array(right)).reshape(count, 4)
        volume[f] = [_volumes(p, x) @ c for p, x, c in zip(rings, waves, solution, strict=True)]
        shear = 0j  # D (lap w)' just outside minus just inside: the force per length is its jump
        radius = rings[driven].inner if driven < count else rings[-1].outer
        if driven < count:
            shear += begin[driven][3] @ solution[driven]  # type: ignore[index]
        if driven > 0:
            shear -= end[driven - 1][3] @ solution[driven - 1]
        force[f] = 2 * np.pi * radius * shear
    return DrivenPlate(volume, force)


def rim_driven_shape(radius: ArrayLike, omega_ratio: float, eta: float = 0.0) -> Complex:
    """Deflection w(r)/w(a) of the disc with its rim slope held, r per a:
    (I1(x) J0(x r) + J1(x) I0(x r))/(I1(x) J0(x) + J1(x) I0(x)).
    """
    x = np.sqrt(omega_ratio) * (1 + 1j * eta) ** -0.25
    r = np.asarray(radius, float)
    rim = iv(1, x) * jv(0, x) + jv(1, x) * iv(0, x)
    return np.asarray((iv(1, x) * jv(0, x * r) + jv(1, x) * iv(0, x * r)) / rim)
