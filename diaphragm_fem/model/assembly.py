"""From strains of shape functions to sparse matrices: one way for every model.

A model evaluates its strain formulas once on all local shape functions at all quadrature points. The element matrix
is then the plain textbook product, integral of B^T D B, done for all elements at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.aligned import gathered


def element_matrices(strain: Array, law: Array, weight: Array) -> Array:
    """Integrals of strain^T law strain over each element.

    strain       (C, F, E, Q): C strain components of F local functions in E elements at Q points
    law          (C, C, E, Q): symmetric material law
    weight       (E, Q): quadrature weight times length (or area) element
    Returns (E, F, F).
    """
    by_point = (2, 3, 0, 1)
    weighted, at = (law * weight).transpose(by_point), strain.transpose(by_point)
    stress = np.ascontiguousarray(weighted) @ np.ascontiguousarray(at)
    elements, _, _, functions = stress.shape
    rows = strain.transpose(2, 1, 3, 0).reshape(elements, functions, -1)
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
        """The same for each part 0...P-1 of the elements on its own: part (E,) says to which each belongs."""
        parts = int(part.max()) + 1
        every = Blocks(self, len(blocks) * parts)
        for k, block in enumerate(blocks):
            every.add(part + k * parts, dofs, block)
        found = every.sums()
        return [found[k : k + parts] for k in range(0, len(found), parts)]

    def vector(self, dofs: Index, values: Array) -> Array:
        """Dense (n,) from element values (E, F) on raw dofs (E, F)."""
        return self.vectors(np.zeros(len(dofs), np.int64), 1, dofs, values)[0]

    def vectors(self, owner: Index, owners: int, dofs: Index, values: Array) -> Array:
        """The same for each owner of elements: owner (E,) of 0...owners - 1, dense (owners, n)."""
        rows = self.unknown[dofs]
        place = rows + self.size * owner[:, None]
        free = rows >= 0
        total = np.bincount(place[free], weights=(values * self.sign[dofs])[free], minlength=owners * self.size)
        return np.asarray(total, float).reshape(owners, self.size)

    def pick(self, dofs: Index) -> csr_matrix:
        """Sparse (P, n) map from unknowns to the raw degrees of freedom `dofs` (P,); held ones give zero rows."""
        rows = self.unknown[dofs]
        free = rows >= 0
        position = np.arange(len(dofs))[free]
        return csr_matrix((self.sign[dofs][free], (position, rows[free])), shape=(len(dofs), self.size))


class Blocks:
    """Sums of small dense blocks of various sizes, each with an owner (0 ... owners - 1)."""

    def __init__(self, numbering: Numbering, owners: int) -> None:
        self._numbering, self._owners = numbering, owners
        self._found: list[tuple[Index, Index, Index, Array]] = []

    def add(self, owner: Index, dofs: Index, blocks: Array) -> None:
        """Blocks (..., D, D) on raw degrees of freedom (..., D), each with its owner (...); dofs are broadcast.

        Zeros are left out at once, which takes a quarter off an order m > 0.
        """
        unknown, sign = self._numbering.unknown[dofs], self._numbering.sign[dofs]
        shape = np.broadcast_shapes(blocks.shape, (*owner.shape, 1, 1))
        own, row, column = (
            np.broadcast_to(x, shape) for x in (owner[..., None, None], unknown[..., :, None], unknown[..., None, :])
        )
        values = blocks * (sign[..., :, None] * sign[..., None, :])
        some = (row >= 0) & (column >= 0) & (values != 0)
        self._found.append((own[some], row[some], column[some], values[some]))

    def sums(self) -> list[csr_matrix]:
        """Sparse (n, n) of each owner."""
        owner, row, column, value = (np.concatenate(x) for x in zip(*self._found, strict=True))
        return gathered(self._owners, self._numbering.size, owner, row, column, value).matrices()
