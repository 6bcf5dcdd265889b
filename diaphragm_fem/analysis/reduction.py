"""How a structure is reduced: which vectors span its answers, and how they are turned into coil and blocked modes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import eigh
from scipy.sparse.linalg import SuperLU

from diaphragm_fem.analysis.eigen import DenseFactors, Eigenpairs, eigenpairs_below, factor_symmetric
from diaphragm_fem.analysis.reduced import Reduced
from diaphragm_fem.analysis.static import require_drive
from diaphragm_fem.model.structure import LossOfFrequency, Matrix, Structure

Array = NDArray[np.float64]

MODES_BEYOND_TOP = 1.2  # modes are kept up to this multiple of the top frequency
SHIFT = 0.6  # of the top frequency: where the forced answers are expanded
FORCED_STEPS = 3  # of that expansion: (K - s M)^-1 p, (K - s M)^-1 M (K - s M)^-1 p, ...
LEAST_DAMPING_SHAPE = 1e-3  # of a mode's own size: corrections of its shape by uneven damping below it are dropped
RANK_CUT = 1e-12  # of a vector's squared size, when those before it are taken out of it: below it is a repeat
LEAST_SQUARE = 1e-12  # of the largest: blocked modes are held, so that anything lower is rounding


class Blocked(NamedTuple):
    """A basis (n, N) of the coil's motion and blocked modes, mass 1 each, and the stiffness in it (see `Reduced`)."""

    basis: Array
    coil_stiffness: float
    coupling: Array
    squares: Array


def pairs_for_reduction(structure: Structure, up_to_hz: float) -> Eigenpairs:
    """The undamped eigenpairs that `reduce_structure` wants; they serve `solve_modes` too."""
    top = (2 * np.pi * up_to_hz * MODES_BEYOND_TOP) ** 2
    return eigenpairs_below(structure.stiffness, structure.mass, top)


def reduce_structure(structure: Structure, up_to_hz: float, pairs: Eigenpairs | None = None) -> Reduced:
    """Project a driven structure for frequencies up to `up_to_hz`; a dense one, small already, keeps all its unknowns.

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
    require_drive(structure)
    if isinstance(structure.stiffness, np.ndarray):
        return _projected(structure, _blocked_modes_of(structure), up_to_hz)
    pairs = pairs or pairs_for_reduction(structure, up_to_hz)
    vectors = reduction_vectors(structure, up_to_hz, pairs)
    basis = _orthonormal(vectors, len(pairs.squares), structure.mass)
    return _projected(structure, _blocked_modes_within(structure, basis), up_to_hz)


def reduction_vectors(structure: Structure, up_to_hz: float, pairs: Eigenpairs) -> Array:
    """The vectors (n, N) that `reduce_structure` makes its basis of, the eigenvectors first, not yet orthonormal."""
    stiffness, mass = structure.stiffness, structure.mass
    top = (2 * np.pi * up_to_hz * MODES_BEYOND_TOP) ** 2
    factors = factor_symmetric(stiffness + 1e-4 * top * mass if structure.rigid_modes else stiffness)
    shifted = factor_symmetric(stiffness - (2 * np.pi * up_to_hz * SHIFT) ** 2 * mass)
    pressure = structure.volume.sum(axis=0)
    extra = [factors.solve(structure.drive), shifted.solve(pressure), shifted.solve(structure.drive)]
    for _ in range(FORCED_STEPS - 1):
        extra.append(shifted.solve(mass @ extra[-1]))
    vectors = np.column_stack((pairs.vectors, *extra))
    if len({float(part.loss(np.ones(1))[0]) if part.loss_constant else part.loss for part in structure.parts}) > 1:
        return np.hstack((vectors, _damping_shapes(structure, pairs, factors)))
    return vectors


def _damping_shapes(structure: Structure, pairs: Eigenpairs, factors: SuperLU | DenseFactors) -> Array:
    vectors, squares, mass = (
        pairs.vectors[:, structure.rigid_modes :],
        pairs.squares[structure.rigid_modes :],
        structure.mass,
    )
    frequency = np.sqrt(squares) / (2 * np.pi)
    lost = sum((part.stiffness @ vectors) * part.loss(frequency) for part in structure.parts)
    uneven = lost - (structure.stiffness @ vectors) * (np.einsum("nm,nm->m", vectors, lost) / squares)
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


def _blocked_modes_within(structure: Structure, basis: Array) -> Blocked:
    """Coil and blocked modes of the space of a basis orthonormal in the mass."""
    basis = coil_first(basis, basis.T @ structure.pickup)
    stiffness = basis.T @ (structure.stiffness @ basis)
    squares, shapes = np.linalg.eigh(stiffness[1:, 1:])
    basis[:, 1:] = basis[:, 1:] @ shapes
    return Blocked(basis, float(stiffness[0, 0]), stiffness[0, 1:] @ shapes, _positive(squares))


def _blocked_modes_of(structure: Structure) -> Blocked:
    """Coil and blocked modes of a dense structure, all its unknowns kept.

    The inverted problem keeps the lowest modes accurate; what of the coil's motion overlaps with them is taken out.
    """
    turned = np.any(structure.pickup[1:])
    stiffness, mass = structure.stiffness, structure.mass
    if turned:
        turn = coil_first(np.eye(structure.size), structure.pickup)
        stiffness, mass = (turn.T @ matrix @ turn for matrix in (stiffness, mass))
    inverse, shapes = eigh(mass[1:, 1:], stiffness[1:, 1:], driver="gvd", check_finite=False)
    squares, shapes = _positive(1 / inverse[::-1]), shapes[:, ::-1] / np.sqrt(inverse[::-1])
    overlap, pull = shapes.T @ mass[1:, 0], shapes.T @ stiffness[1:, 0]
    size = np.sqrt(mass[0, 0] - overlap @ overlap)
    basis = np.zeros((structure.size, structure.size))
    basis[0, 0], basis[1:, 0], basis[1:, 1:] = 1 / size, -(shapes @ overlap) / size, shapes
    corner = stiffness[0, 0] - 2 * pull @ overlap + overlap @ (squares * overlap)
    return Blocked(
        turn @ basis if turned else basis, float(corner / size**2), (pull - squares * overlap) / size, squares
    )


def coil_first(basis: Array, pick: Array) -> Array:
    """The basis turned (a Householder reflection) so that only its first vector moves the coil, pick (N,) each."""
    mirror = pick / np.linalg.norm(pick)
    mirror[0] += np.copysign(1.0, mirror[0])
    mirror /= np.linalg.norm(mirror)
    return basis - 2 * np.outer(basis @ mirror, mirror)


def _positive(squares: Array) -> Array:
    return np.maximum(squares, LEAST_SQUARE * squares[-1]) if len(squares) else squares


def _projected(structure: Structure, blocked: Blocked, up_to_hz: float) -> Reduced:
    """The losses of a structure projected, those of one material that varies together."""
    constant: list[Matrix] = []
    varying: dict[str, tuple[list[Matrix], LossOfFrequency]] = {}
    for part in structure.parts:
        if part.loss_constant:
            constant.append(float(part.loss(np.ones(1))[0]) * part.stiffness)
        else:
            varying.setdefault(part.material, ([], part.loss))[0].append(part.stiffness)
    basis = blocked.basis

    def small(matrices: list[Matrix]) -> Array:
        if not matrices:
            return np.zeros((basis.shape[1],) * 2)
        return np.asarray(basis.T @ (sum(matrices[1:], matrices[0]) @ basis))

    return Reduced(
        basis,
        float(1 / (basis[:, 0] @ structure.pickup)),
        structure.volume @ basis,
        blocked.coil_stiffness,
        blocked.coupling,
        blocked.squares,
        small(constant),
        tuple((small(matrices), loss) for matrices, loss in varying.values()),
        up_to_hz,
    )
