"""Sparse matrices gathered from their entries against sums of SciPy's own."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix

from diaphragm_fem.model.aligned import entries_of, gathered

SIZE, OWNERS = 30, 4


def triplets(count: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    random = np.random.default_rng(7)
    owner, row, column = (random.integers(0, most, count) for most in (OWNERS, SIZE, SIZE))
    return owner, row, column, random.integers(-3, 4, count).astype(float)


def test_entries_of_one_place_add_up_and_what_cancels_is_left_out() -> None:
    """Whole numbers, so that sums are exact; half of the places are met several times, many sums are zero."""
    owner, row, column, value = triplets(3000)
    found = gathered(OWNERS, SIZE, owner, row, column, value)
    for k, matrix in enumerate(found.matrices()):
        own = owner == k
        expected = coo_matrix((value[own], (row[own], column[own])), shape=(SIZE, SIZE)).toarray()
        assert (matrix.toarray() == expected).all()
        assert matrix.nnz == np.count_nonzero(expected)
        assert matrix.has_canonical_format


def test_matrices_on_one_pattern_are_the_same_matrices() -> None:
    owner, row, column, value = triplets(400)
    entries = gathered(OWNERS, SIZE, owner, row, column, value)
    matrices, aligned, weight = entries.matrices(), entries.aligned(), np.array([1.0, -2.0, 0.5, 4.0])
    assert len(aligned.columns) == np.count_nonzero(sum(abs(matrix) for matrix in matrices).toarray())
    summed = sum(w * matrix for w, matrix in zip(weight, matrices, strict=True))
    assert (aligned.matrix(weight).toarray() == summed.toarray()).all()
    assert (aligned.matrix(1j * weight).toarray() == 1j * summed.toarray()).all()


def test_matrices_of_one_owner_are_added() -> None:
    matrices = gathered(OWNERS, SIZE, *triplets(400)).matrices()
    first, second = entries_of(matrices, np.array([0, 0, 0, 1])).matrices()
    assert (first != csr_matrix(matrices[0] + matrices[1] + matrices[2])).nnz == 0
    assert (second != matrices[3]).nnz == 0


def test_an_owner_without_entries_has_an_empty_matrix() -> None:
    none = np.zeros(0, np.int64)
    assert [matrix.nnz for matrix in gathered(2, 3, none, none, none, np.zeros(0)).matrices()] == [0, 0]
