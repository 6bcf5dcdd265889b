"""A system projected on its modes and its static answers: a few dozen unknowns that speak for hundreds.

The coil's motion is prescribed, so the reduced unknowns split into that motion and the coordinates that live while
the coil stands still. The poles of every ratio "something over coil motion" are the eigenvalues of the second set.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh
from scipy.sparse.linalg import SuperLU

from diaphragm_fem.analysis.eigen import DenseFactors, Eigenpairs, eigenpairs_below, factor_symmetric
from diaphragm_fem.analysis.loss_path import COUNTS, LossPath, loss_path
from diaphragm_fem.analysis.static import Static, require_drive, solve_static
from diaphragm_fem.model.system import LossOfFrequency, Matrix, System

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Index = NDArray[np.int64]

MODES_BEYOND_TOP = 1.2  # modes are kept up to this multiple of the top frequency
SHIFT = 0.6  # of the top frequency: where the forced answers are expanded
FORCED_STEPS = 3  # of that expansion: (K - s M)^-1 p, (K - s M)^-1 M (K - s M)^-1 p, ...
LEAST_DAMPING_SHAPE = 1e-3  # of a mode's own size: corrections of its shape by uneven damping below it are dropped
BLENDING_ERROR = 2e-3  # of the low area: what blending the loss factors may cost
LEAST_LOSS = 1e-9
RANK_CUT = 1e-12  # of a vector's squared size, when those before it are taken out of it: below it is a repeat


class Spectrum(NamedTuple):
    """Poles (N-1,) in (rad/s)^2, shapes (N-1, N-1) and weights (N-1,) of the coordinates blocked at the coil."""

    poles: Complex
    shapes: Complex
    weights: Complex


@dataclass(frozen=True, eq=False)
class Reduced:
    """Reduced equations for unit coil motion: unknown 0 is the coil, the others are blocked coordinates, mass 1.

    basis (n, N): u = basis @ y; coil: y_0 for unit coil motion; volume (Z, N): swept volume per zone = volume @ y;
    stiffness (N, N) real; constant_loss (N, N) the loss part that does not vary with frequency; losses: pairs of a
    reduced stiffness (N, N) and its loss factor over frequency. With the loss factors frozen a response is a sum over
    poles; where they vary, sums frozen at a few frequencies are blended (see `loss_path`).
    """

    basis: Array
    coil: float
    volume: Array
    stiffness: Array
    constant_loss: Array
    losses: tuple[tuple[Array, LossOfFrequency], ...]
    up_to_hz: float

    def respond(self, outputs: Array, frequency_hz: Array) -> Complex:
        """outputs (Z, N) @ unknowns (N, F) for unit coil motion at each frequency in Hz."""
        frequency = np.atleast_1d(np.asarray(frequency_hz, float))
        square, rows = (2 * np.pi * frequency) ** 2, outputs[:, 1:]

        def answer(node: int, inside: Index) -> Complex:
            poles, shapes, weights = self._spectra[node]
            return _sum_over_poles((rows @ shapes) * weights, poles, square[inside])

        lag = self._path.blended(frequency, answer, lambda node: rows @ self._still_lags[node])
        return outputs[:, :1] * self.coil - lag

    def transfer(self, frequency_hz: Array) -> Complex:
        """All reduced unknowns (N, F) for unit coil motion at each frequency in Hz."""
        return self.respond(np.eye(len(self.stiffness)), frequency_hz)

    @cached_property
    def _path(self) -> LossPath:
        """The path with the fewest nodes that is good enough."""
        losses = tuple(factor for _, factor in self.losses)
        paths = [loss_path(losses, self.up_to_hz, count) for count in COUNTS]
        return next((path for path in paths[:-1] if self._blending_error(path) < BLENDING_ERROR), paths[-1])

    def _blending_error(self, path: LossPath) -> float:
        """Largest error of a zone's volume by blending, over the low area, were its modes not coupled by their loss."""
        squares, shapes = self.blocked_modes
        pole = np.sqrt(squares) / (2 * np.pi)
        frequency = np.concatenate((pole[pole < self.up_to_hz], path.nodes_hz))
        ratio, coupling = (frequency / pole[:, None]) ** 2, shapes.T @ self.stiffness[1:, 0] * self.coil
        reach = (self.volume[:, 1:] @ shapes) * coupling / squares
        frozen = 1j * self._modal_loss(path.nodes_hz[:, None]) + (1 + 1j * LEAST_LOSS)
        exact = reach @ (1 / (1j * self._modal_loss(frequency[:, None]).T + (1 + 1j * LEAST_LOSS) - ratio))
        blended = path.blended(
            frequency,
            lambda node, inside: reach @ (1 / (frozen[node][:, None] - ratio[:, inside])),
            lambda node: reach @ (1 / frozen[node]),
        )
        return float(np.abs(blended - exact).max() / abs(self.volume.sum(axis=0) @ self.still))

    @cached_property
    def _spectra(self) -> dict[int, Spectrum]:
        """Poles with the losses of the nodes of the path that answer."""
        found = {}
        for node in self._path.answering:
            matrix = self._matrices[node]
            poles, shapes = np.linalg.eig(matrix[1:, 1:])
            found[node] = Spectrum(poles, shapes, np.linalg.solve(shapes, matrix[1:, 0] * self.coil))
        return found

    @cached_property
    def _still_lags(self) -> Complex:
        """What the blocked coordinates lag behind at rest, with the losses of each node of the path (K, N-1)."""
        return np.asarray(np.linalg.solve(self._matrices[:, 1:, 1:], self._matrices[:, 1:, :1] * self.coil)[..., 0])

    @cached_property
    def _matrices(self) -> Complex:
        """Stiffness and loss (K, N, N) with the losses of each node of the path."""
        nodes = self._path.nodes_hz
        lost = np.repeat(self.constant_loss[None], len(nodes), axis=0)
        for matrix, factor in self.losses:
            lost += factor(nodes)[:, None, None] * matrix
        return self.stiffness + 1j * lost

    @cached_property
    def still(self) -> Array:
        """Reduced unknowns (N,) for unit coil motion at rest, f -> 0, loss left out."""
        squares, shapes = self.blocked_modes
        return np.concatenate(([self.coil], -shapes @ (shapes.T @ self.stiffness[1:, 0] * self.coil / squares)))

    @cached_property
    def blocked_modes(self) -> tuple[Array, Array]:
        """Squares (rad/s)^2 and shapes of the undamped modes with the coil held."""
        squares, shapes = np.linalg.eigh(self.stiffness[1:, 1:])
        return np.maximum(squares, 0), shapes

    def blocked_poles(self) -> tuple[Array, Array]:
        """Frequencies in Hz and loss factors of the modes with the coil held: where the area curve peaks."""
        frequency = np.sqrt(self.blocked_modes[0]) / (2 * np.pi)
        return frequency, self._modal_loss(frequency)

    def _modal_loss(self, frequency: Array) -> Array:
        """Loss factors (..., P) of the blocked modes, the materials' taken at the frequencies (..., P or 1) in Hz."""
        constant, *varying = self._loss_shares
        total = np.broadcast_to(constant, np.broadcast_shapes(frequency.shape, constant.shape))
        for share, (_, factor) in zip(varying, self.losses, strict=True):
            total = total + factor(frequency) * share
        return total

    @cached_property
    def _loss_shares(self) -> list[Array]:
        """Modal loss factors (P,) by the constant losses, and by each varying one per unit of it."""
        squares, shapes = self.blocked_modes
        matrices = (self.constant_loss, *(matrix for matrix, _ in self.losses))
        lost = [np.einsum("nm,nm->m", shapes, matrix[1:, 1:] @ shapes) for matrix in matrices]
        return [share / np.maximum(squares, 1e-300) for share in lost]

    def coil_force(self, frequency_hz: Array, unknown: Complex) -> Complex:
        """Force on the coil (F,) in N per metre of its motion, from the unknowns of `transfer`."""
        return self._force_of(frequency_hz, self._force_rows @ unknown)

    def respond_with_force(self, outputs: Array, frequency_hz: Array) -> tuple[Complex, Complex]:
        """What `respond` and `coil_force` give, without forming all unknowns."""
        both = self.respond(np.vstack((outputs, self._force_rows)), frequency_hz)
        return both[: len(outputs)], self._force_of(frequency_hz, both[len(outputs) :])

    @cached_property
    def _force_rows(self) -> Array:
        """Rows whose products with the unknowns make up the coil's force: stiffness, constant loss, each loss."""
        return np.vstack((self.stiffness[0], self.constant_loss[0], *(matrix[0] for matrix, _ in self.losses)))

    def _force_of(self, frequency_hz: Array, row: Complex) -> Complex:
        force = row[0] + 1j * row[1] - (2 * np.pi * frequency_hz) ** 2 * self.coil
        for (_, factor), lost in zip(self.losses, row[2:], strict=True):
            force = force + 1j * factor(frequency_hz) * lost
        return np.asarray(force * self.coil)


def _sum_over_poles(residues: Complex, poles: Complex, square: Array) -> Complex:
    """residues (Z, P) @ 1/(poles - square) (P, F), in real arithmetic: half the time of complex division."""
    gap = poles.real[:, None] - square
    over = 1 / (gap * gap + (poles.imag**2)[:, None])
    parts = np.vstack((residues.real, residues.imag))
    in_phase, behind = parts @ (gap * over), (parts * poles.imag) @ over
    half = len(residues)
    return (in_phase[:half] + behind[half:]) + 1j * (in_phase[half:] - behind[:half])


def static_of_reduced(system: System, reduced: Reduced) -> Static:
    """What `solve_static` gives, from the static answer that the basis holds."""
    if system.rigid_modes:
        return solve_static(system)
    still = reduced.still
    return Static(float(reduced.coil * reduced.stiffness[0] @ still), float(still @ still))


def pairs_for_reduction(system: System, up_to_hz: float) -> Eigenpairs:
    """The undamped eigenpairs that `reduce_system` wants; they serve `solve_modes` too."""
    top = (2 * np.pi * up_to_hz * MODES_BEYOND_TOP) ** 2
    return eigenpairs_below(system.stiffness, system.mass, top)


def reduce_system(system: System, up_to_hz: float, pairs: Eigenpairs | None = None) -> Reduced:
    """Project a driven system for frequencies up to `up_to_hz`.

    Basis: undamped modes up to 1.2 times the top frequency, the static answer to the drive, the first terms of the
    forced answer expanded about 0.6 of the top frequency (rational Krylov), the answer to pressure there, and, where
    the parts' loss factors differ, the first-order change that uneven damping makes to each mode's shape:
    K^-1 (K_loss - eta K) x with the modal loss factor eta. Measured on a film V with sharp peaks: static answers
    alone leave 1 % of the low area, the expansion 0.01 %; without the damping shapes a soft, lossy surround beside a
    stiff film costs 5 %, with them 0.01 %.
    Source of the idea: Craig and Kurdila, Fundamentals of Structural Dynamics (2006), ch. 17; Grimme, thesis,
    University of Illinois (1997) (both named from memory); `area_error` measures the error of each curve against the
    direct solve. Raises AnalysisError without a drive.
    """
    require_drive(system)
    pairs = pairs or pairs_for_reduction(system, up_to_hz)
    vectors = reduction_vectors(system, up_to_hz, pairs)
    return _with_coil_first(system, _orthonormal(vectors, len(pairs.squares), system.mass), up_to_hz)


def reduction_vectors(system: System, up_to_hz: float, pairs: Eigenpairs) -> Array:
    """The vectors (n, N) that `reduce_system` makes its basis of, the eigenvectors first, not yet orthonormal."""
    stiffness, mass = system.stiffness, system.mass
    top = (2 * np.pi * up_to_hz * MODES_BEYOND_TOP) ** 2
    factors = factor_symmetric(stiffness + 1e-4 * top * mass if system.rigid_modes else stiffness)
    shifted = factor_symmetric(stiffness - (2 * np.pi * up_to_hz * SHIFT) ** 2 * mass)
    pressure = system.volume.sum(axis=0)
    extra = [factors.solve(system.drive), shifted.solve(pressure), shifted.solve(system.drive)]
    for _ in range(FORCED_STEPS - 1):
        extra.append(shifted.solve(mass @ extra[-1]))
    vectors = np.column_stack((pairs.vectors, *extra))
    if len({float(part.loss(np.ones(1))[0]) if part.loss_constant else -1.0 for part in system.parts}) > 1:
        return np.hstack((vectors, _damping_shapes(system, pairs, factors)))
    return vectors


def _damping_shapes(system: System, pairs: Eigenpairs, factors: SuperLU | DenseFactors) -> Array:
    vectors, squares, mass = pairs.vectors[:, system.rigid_modes :], pairs.squares[system.rigid_modes :], system.mass
    frequency = np.sqrt(squares) / (2 * np.pi)
    lost = sum((part.stiffness @ vectors) * part.loss(frequency) for part in system.parts)
    uneven = lost - (system.stiffness @ vectors) * (np.einsum("nm,nm->m", vectors, lost) / squares)
    shapes = factors.solve(uneven)
    shapes = shapes - pairs.vectors @ (pairs.vectors.T @ (mass @ shapes))
    size, turn = eigh(shapes.T @ (mass @ shapes))
    keep = size > LEAST_DAMPING_SHAPE**2
    return np.asarray(shapes @ (turn[:, keep] / np.sqrt(size[keep])))


def _orthonormal(vectors: Array, done: int, mass: Matrix) -> Array:
    """Columns that span the same space, orthonormal in the mass, as the first `done` are; twice against rounding."""
    modes, others = vectors[:, :done], vectors[:, done:]
    weighted = mass @ modes
    for _ in range(2):
        others = others / np.sqrt(np.einsum("nm,nm->m", others, mass @ others))
        others = others - modes @ (weighted.T @ others)
        values, turn = eigh(others.T @ (mass @ others), check_finite=False)
        keep = values > RANK_CUT
        others = others @ (turn[:, keep] / np.sqrt(values[keep]))
    return np.hstack((modes, others))


def _with_coil_first(system: System, basis: Array, up_to_hz: float) -> Reduced:
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
    varying: dict[str, tuple[Array, LossOfFrequency]] = {}
    for part in system.parts:
        small = basis.T @ (part.stiffness @ basis)
        small = (small + small.T) / 2
        stiffness += small
        if part.loss_constant:
            constant += float(part.loss(np.ones(1))[0]) * small
        else:
            before = varying.get(part.material, (0.0, part.loss))[0]
            varying[part.material] = (before + small, part.loss)
    volume = system.volume @ basis
    return Reduced(basis, coil, volume, stiffness, constant, tuple(varying.values()), up_to_hz)
