"""Undamped eigenpairs of a structure below a frequency, with proof that none is missing."""

from dataclasses import dataclass

import numpy as np
from numpy.linalg import LinAlgError
from scipy.linalg import eigh

from diaphragm_fem.analysis.factors import Factors, count_below, factor_symmetric
from diaphragm_fem.analysis.modes.lanczos import largest_pairs
from diaphragm_fem.arrays import Array
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.structure import Matrix

_DENSE_BELOW = 120  # unknowns up to which a dense solve is as quick as a sparse one
_SHIFT = 1e-4  # of the top square: makes K + shift M positive definite for free parts too


@dataclass(frozen=True)
class Eigenpairs:
    """Squares of angular frequency (M,) in rad2/s2, mass-normalised vectors (n, M) and the evidence of completeness;
    `shifted` factors K + shift M, the shift a share of the square up to which they were sought."""

    squares: Array
    vectors: Array
    evidence: str
    shifted: Factors

    @property
    def frequency_hz(self) -> Array:
        """(M,) in Hz."""
        return np.asarray(np.sqrt(np.maximum(self.squares, 0)) / (2 * np.pi))


def eigenpairs_below(stiffness: Matrix, mass: Matrix, square: float, most: int | None = None) -> Eigenpairs:
    """All eigenpairs of K x = w^2 M x with w^2 below `square`.

    Small structures are solved densely, complete by construction; larger ones by block Lanczos for as many pairs as
    the inertia count says, densely if those do not settle. Both work on the inverted problem, so that the lowest
    modes are the most accurate even where the highest are 1e12 times higher. Raises AnalysisError for more than `most`,
    as far as they are counted first.
    """
    shift = _SHIFT * square
    if isinstance(stiffness, np.ndarray) or stiffness.shape[0] <= _DENSE_BELOW:
        return _dense(stiffness, mass, square, "")
    expected = count_below(stiffness, mass, square)
    if most is not None and expected > most:
        raise AnalysisError(
            f"{expected} modes of one order lie below {np.sqrt(square) / (2 * np.pi):.0f} Hz, and at most {most} are "
            "solved: ask for a lower top frequency, or is a modulus, a density or a thickness wrong?"
        )
    if expected > stiffness.shape[0] // 2:
        return _dense(stiffness, mass, square, "")
    shifted = factor_symmetric(stiffness + shift * mass)
    if expected == 0:
        return Eigenpairs(np.zeros(0), np.zeros((stiffness.shape[0], 0)), "inertia count 0", shifted)
    found = largest_pairs(shifted.solve, mass, expected)
    if found is not None:
        squares = 1 / found[0] - shift
        if squares[-1] < square:
            return Eigenpairs(squares, found[1], f"inertia count {expected}", shifted)
    return _dense(stiffness, mass, square, f"; inertia count {expected}")


def _dense(stiffness: Matrix, mass: Matrix, square: float, more_evidence: str) -> Eigenpairs:
    shift = _SHIFT * square
    shifted = _as_dense(stiffness + shift * mass)
    # all pairs by divide and conquer take a third of the time of those in a range
    try:
        inverse, vectors = eigh(_as_dense(mass), shifted, driver="gvd", check_finite=False)
    except LinAlgError as error:
        raise AnalysisError(f"the stiffness must be positive, and is not: {error}") from error
    inside = inverse > 1 / (square + shift)
    inverse, vectors = inverse[inside], vectors[:, inside]
    squares = 1 / inverse[::-1] - shift
    vectors = vectors[:, ::-1] / np.sqrt(inverse[::-1])
    evidence = f"dense solve of all {stiffness.shape[0]} unknowns{more_evidence}"
    return Eigenpairs(squares, vectors, evidence, factor_symmetric(shifted))


def _as_dense(matrix: Matrix) -> Array:
    return matrix if isinstance(matrix, np.ndarray) else matrix.toarray()
