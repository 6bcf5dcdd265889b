"""Poles of many blocked modes at the price of the few that resonate in the band.

The blocked modes y of a part whose coil is moved by unity obey (A - omega^2) y = -b, A complex and symmetric. Those
that resonate far above the band, index 2, follow the near ones, index 1, almost at once: their answer to what pulls
them, S = (A22 - omega^2)^-1, hardly bends over the band and is replaced by the straight line in omega^2 that is exact
at rest and at one square sigma within the band,

    S = Z + omega^2 Z Y,    Z = A22^-1,    Y = (A22 - sigma)^-1.

What remains is an eigenproblem of the near ones alone, K - omega^2 M with K = A11 - A12 Z A21 and M = 1 + A12 Z Y A21,
and a polynomial in omega^2. Where the load drives the far ones directly, which no loss has to mediate, the series
S = Z + omega^2 Z (Y + delta Y^2 + ...), delta = omega^2 - sigma, is taken further.
Source of the idea: dynamic condensation (Leung, Int. J. Numer. Meth. Eng. 12 (1978) 1705; named from memory; the tests
compare with the whole eigenproblem).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

FURTHER = 5  # terms of the direct answer beyond the straight line


class Spectrum(NamedTuple):
    """-y(omega) = residues @ 1/(poles - omega^2) + rest @ (1, omega^2, omega^2 delta, omega^2 delta^2, ...).

    poles (P,) in (rad/s)^2, residues (N, P), rest (N, R); delta = omega^2 - meet in the unit of meet.
    """

    poles: Complex
    residues: Complex
    rest: Complex
    meet: float

    @property
    def still(self) -> Complex:
        """-y (N,) at rest."""
        return np.asarray(self.residues @ (1 / self.poles) + self.rest[:, 0])

    def lag(self, rows: Array, square: Array) -> Complex:
        """rows (Z, N) @ -y (N, F) at omega^2 (F,); by one real product, which takes half the time of complex ones."""
        residues, rest = rows @ self.residues, rows @ self.rest
        turned = residues * self.poles.imag
        in_phase = np.hstack((residues.real, turned.imag, rest.real))
        behind = np.hstack((residues.imag, -turned.real, rest.imag))
        parts = np.vstack((in_phase, behind)) @ self._terms(square)
        answer = np.empty((len(rows), len(square)), complex)
        answer.real, answer.imag = parts[: len(rows)], parts[len(rows) :]
        return answer

    def _terms(self, square: Array) -> Array:
        """What the answers are made of, (2 P + R, F): gap/(gap^2 + p^2) and 1/(gap^2 + p^2) for each pole, which lies
        gap + i p beyond omega^2, and the powers that `rest` multiplies.
        """
        count, powers = len(self.poles), self.rest.shape[1]
        terms = np.empty((2 * count + powers, len(square)))
        gap, over, power = terms[:count], terms[count : 2 * count], terms[2 * count :]
        np.subtract(self.poles.real[:, None], square, out=gap)
        np.multiply(gap, gap, out=over)
        over += (self.poles.imag**2)[:, None]
        np.reciprocal(over, out=over)
        gap *= over
        power[0], power[1] = 1.0, square
        delta = square / self.meet - 1
        for k in range(2, powers):
            np.multiply(power[k - 1], delta, out=power[k])
        return terms


def condensed(matrix: Complex, load: Complex, near: int, meet: float) -> Spectrum:
    """Spectrum of (matrix - omega^2) y = -load, its first `near` unknowns kept, exact at rest and about `meet`."""
    across, far = matrix[:near, near:], matrix[near:, near:]
    still = np.linalg.solve(far, np.column_stack((across.T, load[near:])))
    follow = np.linalg.inv(far - meet * np.eye(len(far)))
    moving = follow @ still
    inertia = np.eye(near) + across @ moving[:, :near]
    poles, shapes = np.linalg.eig(np.linalg.solve(inertia, matrix[:near, :near] - across @ still[:, :near]))
    pushes = np.column_stack((load[:near] - across @ still[:, near], -across @ moving[:, near]))
    static, dynamic = np.linalg.solve(inertia @ shapes, pushes).T
    weights, moved = static + poles * dynamic, shapes @ dynamic
    residues = np.vstack((shapes, -(still[:, :near] @ shapes) - (moving[:, :near] @ shapes) * poles)) * weights
    rest = np.zeros((len(matrix), 2 + FURTHER), complex)
    rest[:near, 0] = -moved
    rest[near:, 0] = still[:, near] + still[:, :near] @ moved + moving[:, :near] @ (shapes @ weights)
    rest[near:, 1] = moving[:, near] + moving[:, :near] @ moved
    further = moving[:, near]
    for k in range(FURTHER):
        further = meet * (follow @ further)
        rest[near:, 2 + k] = further
    return Spectrum(poles, residues, rest, meet)
