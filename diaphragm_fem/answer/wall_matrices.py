"""The small matrices of a line of walls, read between a few places instead of made of every wall's elements and joints.

Thickness alone changes along a line, and matrices with it smoothly: by its powers in the walls, by quotients of these
at joints; but not where a stretch of wall beside a joint takes in another element, nor where a joint reaches one of its
bounds. Over the square of thickness, between the first power of stretching and the third of bending, they are read by
polynomials in its logarithm: through six of Chebyshev's points over a factor of 1.5 energies of motion are within 3e-7,
as near as through eight (as they are within 2e-6). Every stretch is held against one of its own places, left out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil, inf
from typing import TypeAlias

import numpy as np
from scipy.linalg import LinAlgError, eigh

from diaphragm_fem.answer.wall_line import WallLine, Walls, chebyshev, lagrange
from diaphragm_fem.arrays import Array
from diaphragm_fem.model.structure import Structure, Term

LEAST_POINTS, POINTS = 5, 4  # of a stretch of the line, and more for every e-fold of thickness
LONGEST = 0.6  # e-folds: of a stretch of 1.2 areas were 4e-4 off whose frequencies were within 3e-6
WORTH = 1.5  # walls for each place at which matrices are made
TOLERANCE = 5e-5  # of a frequency, with the middle place left out: with it 1e-6 at most, and 1e-5 of the area of films

Made: TypeAlias = Callable[[Walls], tuple[Term, ...]]


@dataclass(frozen=True, eq=False)
class MatrixStretch:
    """Dense terms of walls between two places on a line: their matrices (P, K, N, N) at places (P,), each over the
    square of thickness, which goes with exp(way place).
    """

    places: Array
    way: float
    terms: tuple[Term, ...]
    matrices: Array

    def read(self, place: float) -> tuple[Term, ...]:
        """The terms at a place between."""
        weight = lagrange(self.places, place) * np.exp(2 * self.way * place)
        found = (weight @ self.matrices.reshape(len(weight), -1)).reshape(self.matrices.shape[1:])
        return tuple(replace(term, matrix=matrix) for term, matrix in zip(self.terms, found, strict=True))

    def without(self, index: int) -> MatrixStretch:
        """The same with one of its places left out."""
        return replace(self, places=np.delete(self.places, index), matrices=np.delete(self.matrices, index, axis=0))


def matrix_stretches(
    line: WallLine, count: int, made: Made, whole: Callable[[Sequence[Term]], Structure], up_to_hz: float
) -> list[MatrixStretch]:
    """Stretches of a line between which the matrices of some `count` walls evenly on it are read: those with walls
    enough to pay for the places at which `made` makes terms; `whole` makes a structure of these. Where frequencies at
    the middle place, read from the others, are off by more than 5e-5 either half is tried.
    """
    found, left = [], [part for begin, end in line.even for part in _parts(begin, end)]
    while left:
        begin, end = left.pop()
        points = LEAST_POINTS + int(POINTS * (end - begin))
        if count * (end - begin) < WORTH * points * line.length:
            continue
        places = chebyshev(begin, end, points)
        terms = [made(line.at(place)) for place in places.tolist()]
        square = np.exp(2 * line.way * places)[:, None, None, None]
        matrices = np.array([[term.matrix for term in own] for own in terms]) / square
        stretch, middle = MatrixStretch(places, line.way, terms[0], matrices), points // 2
        left_out = stretch.without(middle).read(float(places[middle]))
        if apart_hz(whole(left_out), whole(terms[middle]), up_to_hz) < TOLERANCE:
            found.append(stretch)
        else:
            left += _parts(begin, end, 2)
    return found


def _parts(begin: float, end: float, least: int = 1) -> list[tuple[float, float]]:
    """A stretch in equal parts, as many as make none too long."""
    return list(pairwise(np.linspace(begin, end, 1 + max(least, ceil((end - begin) / LONGEST))).tolist()))


def apart_hz(one: Structure, other: Structure, up_to_hz: float) -> float:
    """By how much the frequencies of small structures up to one in Hz differ, relative to those of the other; those of
    a free body, which are rounding, left out; without bound where one has a mass that no structure has."""
    try:
        read, own = (eigh(x.stiffness, x.mass, eigvals_only=True)[x.rigid_modes :] for x in (one, other))
    except LinAlgError:
        return inf
    below = (own > 0) & (own < (2 * np.pi * up_to_hz) ** 2)
    return float(np.abs(np.sqrt(read[below] / own[below]) - 1).max(initial=0.0))
