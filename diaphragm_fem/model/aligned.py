"""Sparse matrices of one size gathered from their entries, each on its own or all on one pattern."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache, reduce
from operator import add
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array, Index


class Aligned(NamedTuple):
    """Sparse matrices (n, n) on one pattern, places empty in all left out: columns (E,), begin of each row (n + 1,),
    entries (K, E). A sum takes 0.03 instead of 0.4 ms for a stepped V, 0.2 ms to prepare: worth it for the
    many of a curve.
    """

    columns: NDArray[np.int32]
    starts: NDArray[np.int32]
    values: Array

    def matrix(self, weight: NDArray) -> csr_matrix:
        """The sum of the matrices times weights (K,)."""
        return self.of(weighted(weight, self.values))

    def of(self, entries: NDArray) -> csr_matrix:
        """The matrix of some entries (E,) on the pattern."""
        size = len(self.starts) - 1
        return unchecked((size, size), entries, self.columns, self.starts)

    def tall(self) -> csr_matrix:
        """The matrices one above another (K n, n), each without its zeros."""
        (owners, count), size = self.values.shape, len(self.starts) - 1
        held = np.flatnonzero(self.values != 0)
        owner = np.repeat(np.arange(owners), np.diff(np.searchsorted(held, count * np.arange(owners + 1))))
        place = held - owner * count
        row = np.repeat(np.arange(size), np.diff(self.starts))[place] + owner * size
        starts = np.concatenate(([0], np.bincount(row, minlength=owners * size).cumsum())).astype(np.int32)
        return unchecked((owners * size, size), self.values.ravel()[held], self.columns[place], starts)


def unchecked(
    shape: tuple[int, int],
    entries: NDArray,
    indices: NDArray[np.int32],
    starts: NDArray[np.int32],
    kind: Any = csr_matrix,
) -> Any:
    """A sparse matrix of arrays that need no check, indices rising between starts: 2 instead of 12 us, a hundred times
    a design.
    """
    found = kind.__new__(kind)
    vars(found).update(_empty(kind, shape), data=entries, indices=indices, indptr=starts)
    return found


@lru_cache(maxsize=64)
def _empty(kind: Any, shape: tuple[int, int]) -> dict[str, Any]:
    found = kind(shape)
    found.has_canonical_format = True
    return vars(found)


def one_above_another(tall: csr_matrix) -> list[csr_matrix]:
    """The square matrices of which a tall one is made."""
    size, found = tall.shape[1], []
    for k in range(0, tall.shape[0], size):
        start = tall.indptr[k : k + size + 1]
        own = slice(start[0], start[-1])
        found.append(unchecked((size, size), tall.data[own], tall.indices[own], start - start[0]))
    return found


def canonical(matrix: csr_matrix) -> csr_matrix:
    """The same matrix, columns rising in each row and every place once, as a product of two may not be."""
    if matrix.has_canonical_format:
        return matrix
    found = matrix.copy()
    found.sum_duplicates()
    return found


def weighted(weight: NDArray, values: NDArray) -> NDArray:
    """weight (K,) or (F, K) @ values (K, E); a complex one by halves, so that real values need no complex copy: 20
    instead of 100 us for a stepped V.
    """
    if not np.iscomplexobj(weight) or np.iscomplexobj(values):
        return np.asarray(weight @ values)
    found = np.empty((*weight.shape[:-1], values.shape[1]), complex)
    found.real, found.imag = weight.real @ values, weight.imag @ values
    return found


def aligned_one_by_one(matrices: Sequence[csr_matrix]) -> Aligned:
    """Large sparse matrices on one pattern, each found in it by itself: 60 instead of 350 ms for a solid of 1.2 million
    entries, whose gathering would sort two million places.
    """
    matrices = [canonical(one) for one in matrices]
    marks = [csr_matrix((np.ones(one.nnz), one.indices, one.indptr), shape=one.shape) for one in matrices]
    union = reduce(add, marks)
    union.sort_indices()
    values = np.zeros((len(matrices), union.nnz))
    numbered = csr_matrix((np.arange(1.0, union.nnz + 1), union.indices, union.indptr), shape=union.shape)
    for row, mark, one in zip(values, marks, matrices, strict=True):
        row[csr_matrix(mark.multiply(numbered)).data.astype(np.int64) - 1] = one.data
    return Aligned(union.indices, union.indptr, values)


def aligned(matrices: Sequence[csr_matrix], owner: Index | None = None) -> Aligned:
    """Sparse matrices on one pattern, those of one owner 0, 0, 1, ... added up; each is its own if none is told.

    By one sort of all their places, owner by owner.
    """
    own, size = np.arange(len(matrices)) if owner is None else owner, matrices[0].shape[0]
    owners, counts = int(own[-1]) + 1, np.diff(np.array([matrix.indptr for matrix in matrices]), axis=1)
    row = np.repeat(np.tile(np.arange(size), len(matrices)), counts.ravel())
    column = np.concatenate([matrix.indices for matrix in matrices]).astype(np.int64)
    value, own = np.concatenate([matrix.data for matrix in matrices]), own.repeat(counts.sum(axis=1))
    order, first = _places((row * size + column) * owners + own)
    value = np.add.reduceat(value[order], np.flatnonzero(first)) if len(value) else value
    kept = value != 0
    entry = order[first][kept]
    row, column = row[entry], column[entry]
    new = _first(row * size + column)
    at = np.cumsum(new) - 1
    count = int(at[-1]) + 1 if len(at) else 0
    values = np.zeros(owners * count)
    values[own[entry] * count + at] = value[kept]
    starts = np.concatenate(([0], np.bincount(row[new], minlength=size).cumsum()))
    return Aligned(column[new].astype(np.int32), starts.astype(np.int32), values.reshape(owners, count))


def _places(place: Index) -> tuple[Index, NDArray[np.bool_]]:
    """The order (P,) that sorts places, equal ones as they came, and which of the sorted ones are first of their kind.

    Places and numbers are sorted as one: 0.1 instead of 0.9 ms for a stepped V by a stable sort; room enough in 63 bits
    for 100,000 unknowns.
    """
    bits = len(place).bit_length()
    order = np.sort((place << bits) + np.arange(len(place))) & ((1 << bits) - 1)
    return order, _first(place[order])


def _first(rising: Index) -> NDArray[np.bool_]:
    """Which of some numbers, equal ones side by side, are first of their kind."""
    return np.concatenate((np.ones(min(1, len(rising)), bool), rising[1:] != rising[:-1]))
