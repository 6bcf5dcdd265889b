"""From strains of shape functions to sparse matrices: one way for every model.

A model evaluates its strain formulas once on all local shape functions at all quadrature points. The element matrix
is then the plain textbook product, integral of B^T D B, done for all elements at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

Array = NDArray[np.float64]
Index = NDArray[np.int64]


def element_matrices(left: Array, law: Array, weight: Array, right: Array | None = None) -> Array:
    """Integrals of left^T law right over each element.

    left, right  (C, F, E, Q): C strain components of F local functions in E elements at Q points
    law          (C, C, E, Q): symmetric material law
    weight       (E, Q): quadrature weight times length (or area) element
    Returns (E, F, F).
    """
    by_point = (2, 3, 0, 1)
    weighted, at = (law * weight).transpose(by_point), (left if right is None else right).transpose(by_point)
    stress = np.ascontiguousarray(weighted) @ np.ascontiguousarray(at)
    elements, _, _, functions = stress.shape
    rows = left.transpose(2, 1, 3, 0).reshape(elements, functions, -1)
    return rows @ stress.reshape(elements, -1, functions)


@dataclass(frozen=True)
class Numbering:
    """From raw degrees of freedom to free unknowns: unknown (D,) is -1 where held, sign (D,) is the factor.

    The factor is 1, or -1 where two motions are tied against each other on the axis.
    """

    unknown: Index
    sign: Array
    size: int

    def matrices(self, dofs: Index, *blocks: Array) -> list[csr_matrix]:
        """Sparse (n, n) from each of several sets of element blocks (E, F, F) on raw dofs (E, F)."""
        return [parts[0] for parts in self.by_part(dofs, np.zeros(len(dofs), np.int64), *blocks)]

    def by_part(self, dofs: Index, part: Index, *blocks: Array) -> list[list[csr_matrix]]:
        """The same for each part 0...P-1 of the elements on its own: part (E,) says to which each belongs.

        All are assembled as one tall matrix and cut out of it: 0.6 instead of 2.2 ms for a stepped V.
        """
        parts, rows, signs = int(part.max()) + 1, self.unknown[dofs], self.sign[dofs]
        both = signs[:, :, None] * signs[:, None, :]
        free = (rows[:, :, None] >= 0) & (rows[:, None, :] >= 0)
        row, column = (np.broadcast_to(x, free.shape)[free] for x in (rows[:, :, None], rows[:, None, :]))
        row = row + self.size * np.broadcast_to(part[:, None, None], free.shape)[free]
        tall = csr_matrix(
            (
                np.concatenate([(x * both)[free] for x in blocks]),
                (
                    np.concatenate([row + k * parts * self.size for k in range(len(blocks))]),
                    np.tile(column, len(blocks)),
                ),
            ),
            shape=(len(blocks) * parts * self.size, self.size),
        )
        tall.eliminate_zeros()
        cut = [self._cut(tall, k * self.size) for k in range(len(blocks) * parts)]
        return [cut[k : k + parts] for k in range(0, len(cut), parts)]

    def _cut(self, tall: csr_matrix, begin: int) -> csr_matrix:
        """Rows of a tall matrix; scipy's own way takes three times as long."""
        starts = tall.indptr[begin : begin + self.size + 1]
        entries = slice(starts[0], starts[-1])
        return csr_matrix((tall.data[entries], tall.indices[entries], starts - starts[0]), shape=(self.size, self.size))

    def vector(self, dofs: Index, values: Array) -> Array:
        """Dense (n,) from element values (E, F) on raw dofs (E, F)."""
        rows = self.unknown[dofs]
        free = rows >= 0
        total = np.bincount(rows[free], weights=(values * self.sign[dofs])[free], minlength=self.size)
        return np.asarray(total, float)

    def pick(self, dofs: Index) -> csr_matrix:
        """Sparse (P, n) map from unknowns to the raw degrees of freedom `dofs` (P,); held ones give zero rows."""
        rows = self.unknown[dofs]
        free = rows >= 0
        position = np.arange(len(dofs))[free]
        return csr_matrix((self.sign[dofs][free], (position, rows[free])), shape=(len(dofs), self.size))
