"""A system projected on its modes and its static answers: a few dozen unknowns that speak for hundreds.

The coil's motion is prescribed, so the reduced unknowns split into that motion and the coordinates that live while
the coil stands still. The poles of every ratio "something over coil motion" are the eigenvalues of the second set.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh
from scipy.sparse import csc_matrix

from diaphragm_fem.analysis.eigen import Eigenpairs, eigenpairs_below, factor_symmetric
from diaphragm_fem.analysis.static import require_drive
from diaphragm_fem.model.system import LossOfFrequency, System

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]

MODES_BEYOND_TOP = 1.5  # modes are kept up to this multiple of the top frequency
KRYLOV_STEPS = 3  # static answers of the drive: K^-1 p, K^-1 M K^-1 p, ...
RANK_CUT = 1e-12  # of the largest in the Gram matrix: directions below it are repeats


@dataclass(frozen=True)
class Reduced:
    """Reduced equations for unit coil motion: unknown 0 is the coil, the others are blocked coordinates, mass 1.

    basis (n, N): u = basis @ y; coil: y_0 for unit coil motion; stiffness (N, N) real; losses: pairs of a reduced
    stiffness (N, N) and its loss factor over frequency, `constant_loss` (N, N) gathers those that do not vary.
    """

    basis: Array
    coil: float
    stiffness: Array
    constant_loss: Array
    losses: tuple[tuple[Array, LossOfFrequency], ...]

    def transfer(self, frequency_hz: Array) -> Complex:
        """Reduced unknowns (N, F) for unit coil motion at each frequency in Hz."""
        square = (2 * np.pi * np.asarray(frequency_hz, float)) ** 2
        if self.losses:
            return self._solve_each(np.asarray(frequency_hz, float), square)
        poles, left, right = self.residues
        rest = -left @ (right[:, None] / (poles[:, None] - square[None, :]))
        return np.vstack((np.full((1, len(square)), self.coil, complex), rest))

    @property
    def residues(self) -> tuple[Complex, Complex, Complex]:
        """Poles (N-1,) in (rad/s)^2, shapes (N-1, N-1) and weights (N-1,) of the blocked coordinates."""
        if not hasattr(self, "_residues"):
            complex_stiffness = self.stiffness + 1j * self.constant_loss
            poles, shapes = np.linalg.eig(complex_stiffness[1:, 1:])
            weights = np.linalg.solve(shapes, complex_stiffness[1:, 0] * self.coil)
            object.__setattr__(self, "_residues", (poles, shapes, weights))
        return self._residues  # type: ignore[attr-defined]

    def blocked_poles(self) -> tuple[Array, Array]:
        """Frequencies in Hz and loss factors of the modes with the coil held: where the area curve peaks."""
        real, shapes = np.linalg.eigh(self.stiffness[1:, 1:])
        frequency = np.sqrt(np.maximum(real, 0)) / (2 * np.pi)
        loss = np.einsum("nm,nm->m", shapes, self.constant_loss[1:, 1:] @ shapes)
        for matrix, factor in self.losses:
            loss += factor(frequency) * np.einsum("nm,nm->m", shapes, matrix[1:, 1:] @ shapes)
        return frequency, loss / np.maximum(real, 1e-300)

    def _solve_each(self, frequency: Array, square: Array) -> Complex:
        """Loss factors that vary with frequency: one small dense solve per frequency."""
        matrix = np.broadcast_to(self.stiffness + 1j * self.constant_loss, (len(square), *self.stiffness.shape)).copy()
        for loss_matrix, factor in self.losses:
            matrix += 1j * factor(frequency)[:, None, None] * loss_matrix
        size = len(self.stiffness) - 1
        rest = matrix[:, 1:, 1:] - square[:, None, None] * np.eye(size)
        blocked = np.linalg.solve(rest, -matrix[:, 1:, :1] * self.coil)[:, :, 0].T
        return np.vstack((np.full((1, len(square)), self.coil, complex), blocked))


def pairs_for_reduction(system: System, up_to_hz: float) -> Eigenpairs:
    """The undamped eigenpairs that `reduce_system` wants; they serve `solve_modes` too."""
    top = (2 * np.pi * up_to_hz * MODES_BEYOND_TOP) ** 2
    return eigenpairs_below(csc_matrix(system.stiffness), csc_matrix(system.mass), top)


def reduce_system(system: System, up_to_hz: float, pairs: Eigenpairs | None = None) -> Reduced:
    """Project a driven system for frequencies up to `up_to_hz`.

    Basis: undamped modes up to 1.5 times the top frequency, the static answer to the drive and its Krylov
    successors, and the static answer to pressure. Source of the idea: Craig and Kurdila, Fundamentals of Structural
    Dynamics (2006), ch. 17 (named from memory); its error against the direct solve is measured by `area_error`.
    Raises AnalysisError without a drive.
    """
    require_drive(system)
    stiffness, mass = csc_matrix(system.stiffness), csc_matrix(system.mass)
    top = (2 * np.pi * up_to_hz * MODES_BEYOND_TOP) ** 2
    modes = (pairs or pairs_for_reduction(system, up_to_hz)).vectors
    factors = factor_symmetric(csc_matrix(stiffness + 1e-4 * top * mass) if system.rigid_modes else stiffness)
    extra = [factors.solve(system.drive)]
    for _ in range(KRYLOV_STEPS - 1):
        extra.append(factors.solve(mass @ extra[-1]))
    extra.append(factors.solve(system.volume.sum(axis=0)))
    basis = _orthonormal(np.column_stack((modes, *extra)), mass)
    return _with_coil_first(system, basis)


def _orthonormal(vectors: Array, mass: csc_matrix) -> Array:
    """Columns that span the same space, orthonormal in the mass; repeated twice against rounding."""
    for _ in range(2):
        vectors = vectors / np.sqrt(np.einsum("nm,nm->m", vectors, mass @ vectors))
        values, turn = eigh(vectors.T @ (mass @ vectors))
        keep = values > RANK_CUT * values[-1]
        vectors = vectors @ (turn[:, keep] / np.sqrt(values[keep]))
    return vectors


def _with_coil_first(system: System, basis: Array) -> Reduced:
    """Turn the basis (a Householder reflection) so that only its first vector moves the coil."""
    pick = basis.T @ system.pickup
    size = np.linalg.norm(pick)
    mirror = pick / size
    mirror[0] += np.copysign(1.0, mirror[0])
    mirror /= np.linalg.norm(mirror)
    basis = basis - 2 * np.outer(basis @ mirror, mirror)
    coil = float(1 / (basis[:, 0] @ system.pickup))
    stiffness = np.zeros((basis.shape[1],) * 2)
    constant = np.zeros_like(stiffness)
    varying: dict[int, tuple[Array, LossOfFrequency]] = {}
    for part in system.parts:
        small = basis.T @ (part.stiffness @ basis)
        small = (small + small.T) / 2
        stiffness += small
        if part.loss_constant:
            constant += float(part.loss(np.ones(1))[0]) * small
        else:
            before = varying.get(hash(part.material), (0.0, part.loss))[0]
            varying[hash(part.material)] = (before + small, part.loss)
    return Reduced(basis, coil, stiffness, constant, tuple(varying.values()))
