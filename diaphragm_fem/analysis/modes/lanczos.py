"""Block Lanczos on the inverted eigenproblem, every block made orthogonal to all before it.

For the few hundred to few thousand unknowns of a diaphragm this takes half the time of a one-vector method, because
a factored matrix solves four right-hand sides in little more time than one, and blocks find near-double modes.
Source: Golub and Underwood, in Mathematical Software III (1977), 361; Grimes, Lewis and Simon, SIAM J. Matrix Anal.
Appl. 15 (1994) 228 (both named from memory).
"""

from collections.abc import Callable

import numpy as np
from scipy.linalg.lapack import dpotrf, dtrtri

from diaphragm_fem.arrays import Array
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.structure import Matrix

_BLOCK = 4
_WHOLE = np.eye(_BLOCK)
FIRST_SHARE = 2.5  # vectors per wanted pair at which convergence is first looked at
_STEP_SHARE = 0.25  # and how many more are added before the next look
PASSES = 10  # at most, in which the columns of a block are made orthogonal
EVEN = 0.01  # what a column has to itself, of its length: above it a pass leaves them orthogonal to 2e-9 at worst,
# 5e-11 on the demonstrations
SETTLED = 1e-7  # residual of a pair over its eigenvalue: that is off by its square over the gap to the next eigenvalue
# that is not wanted (Parlett, The Symmetric Eigenvalue Problem (1998), section 11.7; named from memory)


def largest_pairs(solve: Callable[[Array], Array], mass: Matrix, wanted: int) -> tuple[Array, Array] | None:
    """The `wanted` largest eigenvalues, falling, of A x = w x with A = solve(mass x), and their vectors.

    A is self-adjoint in the mass; vectors (n, wanted) are mass-normalised. None where they do not settle within a
    basis of half the unknowns. Deterministic: the start is a fixed random block.
    """
    size = mass.shape[0]
    most = size // 2
    look = min(int(FIRST_SHARE * wanted) + 2 * _BLOCK, most)
    basis, weighted, projected = _room(size, look + _BLOCK)
    start = np.random.default_rng(1).standard_normal((size, _BLOCK))
    block, filled = solve(mass @ start), 0
    while True:
        block, block_weighted, upper = _orthogonal(block, mass, basis[:, :filled], weighted[:, :filled])
        if filled >= look:
            values, turn = np.linalg.eigh(projected[:filled, :filled], UPLO="U")
            values, turn = values[::-1][:wanted], turn[:, ::-1][:, :wanted]
            residual = np.linalg.norm(upper @ turn[-_BLOCK:], axis=0)
            if np.all(residual <= SETTLED * values):
                return values, basis[:, :filled] @ turn
            if filled >= most:
                return None
            look = min(filled + max(_BLOCK, int(_STEP_SHARE * wanted)), most)
            wider = _room(size, look + _BLOCK)
            for old, new in zip((basis, weighted, projected), wider, strict=True):
                new[: len(old), :filled] = old[:, :filled]
            basis, weighted, projected = wider
        basis[:, filled : filled + _BLOCK], weighted[:, filled : filled + _BLOCK] = block, block_weighted
        filled += _BLOCK
        block = solve(block_weighted)
        inside = weighted[:, :filled].T @ block
        projected[:filled, filled - _BLOCK : filled] = inside
        block = block - basis[:, :filled] @ inside


def _room(size: int, columns: int) -> tuple[Array, Array, Array]:
    """Space for basis, basis times mass (size, columns), column after column, and the projected matrix."""
    basis, weighted = (np.empty((size, columns), order="F") for _ in range(2))
    return basis, weighted, np.zeros((columns, columns))


def _orthogonal(block: Array, mass: Matrix, basis: Array, weighted: Array) -> tuple[Array, Array, Array]:
    """The block made orthonormal in the mass and to the basis; its product with the mass; the triangle taken out.

    By Cholesky factors of its products (LAPACK itself: 4 instead of 16 us), and again where the columns are so much
    alike that rounding would show. Where these have no factors, because one motion outweighs the others by up to 1e16,
    as a rigid one does, they are first made orthogonal as they are, and of one length: what depends on others is then
    rounding, which weighs nothing in the triangle. Raises AnalysisError for what is no number.
    """
    block = block - basis @ (weighted.T @ block)
    whole = _WHOLE
    for _ in range(PASSES):
        block_weighted = np.asarray(mass @ block)
        upper, wrong = dpotrf(block.T @ block_weighted)
        if wrong:
            block, turn = np.linalg.qr(block)
            block = block - basis @ (weighted.T @ block)
            length = np.sqrt((block * (mass @ block)).sum(axis=0))
            block, whole = block / length, (length[:, None] * turn) @ whole
            continue
        own = (upper.diagonal() / np.sqrt((upper * upper).sum(axis=0))).min()
        back = dtrtri(upper)[0]
        block, whole = block @ back, upper @ whole
        if own > EVEN:
            return block, block_weighted @ back, whole
        block = block - basis @ (weighted.T @ block)
    raise AnalysisError("modes need stiffness and mass of finite numbers, and what answers to forces is none")
