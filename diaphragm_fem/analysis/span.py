"""Bases orthonormal in the mass: on them the equations of a structure are small, and their mass the identity."""

import numpy as np
from scipy.linalg import cholesky, solve_triangular

from diaphragm_fem.arrays import Array
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.structure import Matrix

_REPEAT = 1e-12  # of the squared size of new directions, weighed as below: less is a repeat
_NO_SIZE = 1e-150  # squared: keeps what adds nothing at all from being divided by zero


def extended(basis: Array, vectors: Array, mass: Matrix, repeat: float = _REPEAT) -> Array:
    """A basis orthonormal in the mass, with what vectors (n, V) add to it.

    Weighed by the geometric mean of what each was and what is left of it: left as they are those small beside the
    modes would not count, and each made 1 long the rounding of nearly lossless ones would.
    """
    weighted = mass @ basis
    held = weighted.T @ vectors
    others = vectors - basis @ held
    products = others.T @ (mass @ others)
    left = np.maximum(products.diagonal(), _NO_SIZE)
    weight = (left * (left + (held**2).sum(axis=0))) ** -0.25
    values, turn = np.linalg.eigh(weight[:, None] * products * weight)
    new = values > repeat
    new[: max(0, len(values) - len(basis) + basis.shape[1])] = False  # no more than there is room for
    others = others @ (weight[:, None] * turn[:, new] / np.sqrt(values[new]))
    others -= basis @ (weighted.T @ others)  # once more against rounding
    return np.hstack((basis, others @ mass_basis(others.T @ (mass @ others))))


def mass_basis(mass: Array) -> Array:
    """Basis (n, n) of a small dense structure in which its mass is the identity. Raises AnalysisError for one of which
    some motion has none."""
    try:
        return np.asarray(solve_triangular(cholesky(mass), np.eye(len(mass))))
    except np.linalg.LinAlgError:
        raise AnalysisError("the mass must be positive in every motion, and is not") from None
