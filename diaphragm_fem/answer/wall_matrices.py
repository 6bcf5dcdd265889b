"""The small matrices of a line of walls, read between a few places instead of made of every wall's elements and joints.

Thickness alone changes along a line, and matrices with it smoothly: by its powers in the walls, by quotients of these
at joints; but not where a stretch of wall beside a joint takes in another element, nor where a joint reaches one of its
bounds. Over the square of thickness, between the first power of stretching and the third of bending, they are read by
polynomials in its logarithm: through six of Chebyshev's points over a factor of 1.5 energies of motion are within 3e-7,
as near as through eight (as they are within 2e-6). Every stretch is held against matrices that were made.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import TypeAlias

import numpy as np
from scipy.linalg import LinAlgError, eigh

from diaphragm_fem.answer.wall_line import WallLine, Walls, chebyshev, lagrange
from diaphragm_fem.arrays import Array
from diaphragm_fem.model.structure import Structure, Term

LEAST_POINTS, POINTS = 5, 3  # of a stretch of the line, and more for every e-fold of thickness
WORTH = 3  # walls for each place at which matrices are made; of a study each solver makes them
TOLERANCE = 1e-6  # of a frequency

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


def matrix_stretches(
    line: WallLine, count: int, made: Made, whole: Callable[[Sequence[Term]], Structure], up_to_hz: float
) -> list[MatrixStretch]:
    """Stretches of a line between which the matrices of some `count` walls evenly on it are read: those with walls
    enough to pay for the places at which `made` makes terms; `whole` makes a structure of these. Where frequencies are
    off by more than 1e-6 either half is tried.
    """
    found, left = [], line.even
    while left:
        begin, end = left.pop()
        points = LEAST_POINTS + int(POINTS * (end - begin))
        if count * (end - begin) < WORTH * (points + 2) * line.length:
            continue
        places = chebyshev(begin, end, points)
        terms = [made(line.at(place)) for place in places.tolist()]
        square = np.exp(2 * line.way * places)[:, None, None, None]
        matrices = np.array([[term.matrix for term in own] for own in terms]) / square
        stretch, middles = MatrixStretch(places, line.way, terms[0], matrices), (places[1:] + places[:-1]) / 2
        held = middles[[(points - 1) // 3, (points - 1) // 2]].tolist()
        if max(apart_hz(whole(stretch.read(x)), whole(made(line.at(x))), up_to_hz) for x in held) < TOLERANCE:
            found.append(stretch)
        else:
            left += [(begin, (begin + end) / 2), ((begin + end) / 2, end)]
    return found


def apart_hz(one: Structure, other: Structure, up_to_hz: float) -> float:
    """By how much the frequencies of small structures up to one in Hz differ, relative to those of the other; those of
    a free body, which are rounding, left out; without bound where one has a mass that no structure has."""
    try:
        read, own = (eigh(x.stiffness, x.mass, eigvals_only=True)[x.rigid_modes :] for x in (one, other))
    except LinAlgError:
        return inf
    below = (own > 0) & (own < (2 * np.pi * up_to_hz) ** 2)
    return float(np.abs(np.sqrt(read[below] / own[below]) - 1).max(initial=0.0))
