"""Sparse matrices summed from blocks and laid on one pattern, against sums of SciPy's own.

Whole numbers, so that sums are exact.
"""

import numpy as np
import pytest
from scipy.sparse import coo_matrix, csr_matrix

from diaphragm_fem.model.aligned import aligned, one_above_another, sums
from diaphragm_fem.model.shell.assembly import ROOMY, Blocks, Numbering

SIZE, OWNERS = 30, 4


def numbering() -> Numbering:
    """Forty raw degrees of freedom: some are held, some tied to others, one of these the other way round."""
    unknown = np.concatenate((np.arange(SIZE), [-1] * 4, [3, 3, 7, 11, 12, 13])).astype(np.int64)
    sign = np.ones(40)
    sign[35] = -1.0
    return Numbering(unknown, sign, SIZE)


def matrices(count: int) -> list[csr_matrix]:
    random, found = np.random.default_rng(7), []
    for _ in range(OWNERS):
        row, column = random.integers(0, SIZE, (2, count))
        matrix = coo_matrix((random.integers(-3, 4, count).astype(float), (row, column)), shape=(SIZE, SIZE)).tocsr()
        matrix.eliminate_zeros()
        found.append(matrix)
    return found


@pytest.mark.parametrize("roomy", [ROOMY, 0])
def test_blocks_of_several_sizes_add_up_and_what_cancels_is_left_out(roomy, monkeypatch) -> None:
    """Half of the places are met several times, many sums are zero; one owner has nothing, one block nothing free, and
    the last blocks are of the first set alone. In rooms of rows, and by a sort."""
    monkeypatch.setattr("diaphragm_fem.model.shell.assembly.ROOMY", roomy)
    random, free = np.random.default_rng(7), numbering()
    sums, expected = Blocks(free, OWNERS + 1, 2), np.zeros((2, OWNERS + 1, SIZE, SIZE))
    for size, sets in ((3, 2), (5, 2), (4, 1)):
        owner, dofs = random.integers(0, OWNERS, 200), random.integers(0, 40, (200, size))
        dofs[0] = 32
        blocks = random.integers(-2, 3, (sets, 200, size, size)).astype(float)
        sums.add(owner, dofs, *blocks)
        for k, raw, *both in zip(owner.tolist(), dofs, *blocks, strict=True):
            row, column = (x.ravel() for x in np.meshgrid(free.unknown[raw], free.unknown[raw], indexing="ij"))
            sign, held = np.outer(free.factor[raw], free.factor[raw]).ravel(), (row < 0) | (column < 0)
            for found, block in zip(expected[:sets, k], both, strict=True):
                np.add.at(found, (row[~held], column[~held]), (sign * block.ravel())[~held])
    for found, own in zip(sums.sums(), expected, strict=True):
        for matrix, dense in zip(found, own, strict=True):
            assert (matrix.toarray() == dense).all()
            assert matrix.nnz == np.count_nonzero(dense)
            assert matrix.has_canonical_format


def test_matrices_on_one_pattern_are_the_same_matrices() -> None:
    own, weight = matrices(100), np.array([1.0, -2.0, 0.5, 4.0])
    tall = sums([[matrix] for matrix in own])
    found = aligned(tall)
    assert len(found.columns) == np.count_nonzero(sum(abs(matrix) for matrix in own).toarray())
    summed = sum(w * matrix for w, matrix in zip(weight, own, strict=True))
    assert (found.matrix(weight).toarray() == summed.toarray()).all()
    assert (found.matrix(1j * weight).toarray() == 1j * summed.toarray()).all()
    for matrix, back in zip(own, one_above_another(tall), strict=True):
        assert (back != matrix).nnz == 0 and back.nnz == matrix.nnz


def test_matrices_of_one_owner_are_added_and_what_cancels_leaves_the_pattern() -> None:
    own = matrices(100)
    first, second = one_above_another(sums([own[:3], [own[3], -own[3]]]))
    assert (first != csr_matrix(own[0] + own[1] + own[2])).nnz == 0
    assert second.nnz == 0
    assert len(aligned(sums([[own[3], -own[3]]])).columns) == 0


def test_columns_need_not_rise() -> None:
    """As in a product of two matrices: read as they come, entries would change places."""
    first, second, *_ = matrices(100)
    product = first @ second
    assert not product.has_sorted_indices
    found = aligned(sums([[first], [product]]))
    assert (found.matrix(np.array([2.0, 1.0])).toarray() == (2 * first + product).toarray()).all()
