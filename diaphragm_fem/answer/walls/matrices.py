"""The small matrices of a line of walls, read between a few places, not made from every wall's elements and joints.

Along a line thickness alone changes, and matrices change smoothly with it: by its powers in the walls, by quotients of
these at joints. They do not where a stretch beside a joint takes in another element, nor where a joint reaches one of
its bounds: a line is cut there. Divided by the square of thickness, which lies between the first power of stretching
and the third of bending, they are read by polynomials in its logarithm. Through six of Chebyshev's points over a factor
of 1.5 energies of motion are within 3e-7, as near as through eight. Every stretch is held against one of its own
places, left out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import ceil
from typing import TypeAlias

import numpy as np

from diaphragm_fem.answer.walls.line import WallLine, Walls
from diaphragm_fem.answer.walls.motion import apart_area, apart_hz, missed_hz, modes_of, own_answers
from diaphragm_fem.answer.walls.places import chebyshev, lagrange
from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.projected import projected
from diaphragm_fem.model.structure import Structure

LEAST_POINTS, POINTS = 5, 4  # of a stretch of the line, and more for every e-fold of thickness
LONGEST = 0.25  # e-folds, whose ends span those between: of a cone areas were 4e-4 off in 0.3, 2e-4 so
WORTH = 0.8  # walls for each place at which matrices are made
TOLERANCE = 5e-5  # of a frequency, with the middle place left out: with it 1e-6 at most
AREA_TOLERANCE = 7.5e-4  # of the larger of |S| and the low area, likewise: with 1e-3 a titanium dome was 1.3e-3 off

Made: TypeAlias = Callable[[Sequence[Walls]], list[Structure]]
Moves: TypeAlias = Callable[[Structure], Array]
Narrow: TypeAlias = Callable[[Sequence[Array]], Array]


@dataclass(frozen=True, eq=False)
class MatrixStretch:
    """Dense structures of walls between two places on a line, the first of those at places (P,) and the numbers (P, X)
    of all: the lower half of the matrices that change, over the square of thickness, which goes with exp(way place),
    and what is swept. The last `kept` terms are the same all along.
    """

    places: Array
    way: float
    first: Structure
    kept: int
    numbers: Array

    def read(self, place: float) -> Structure:
        """The structure at a place between."""
        volume, count = self.first.volume, len(self.first.terms) - self.kept
        found, (zones, size) = lagrange(self.places, place) @ self.numbers, volume.shape
        matrices, swept, area = np.split(found, np.cumsum([count * size * (size + 1) // 2, volume.size]))
        matrices = (matrices.reshape(count, -1) * np.exp(2 * self.way * place))[:, _halves(size)[1]]
        changed = (replace(x, matrix=own) for x, own in zip(self.first.terms, matrices, strict=False))
        return replace(
            self.first, terms=(*changed, *self.first.terms[count:]), volume=swept.reshape(zones, size), zone_area=area
        )

    def without(self, index: int) -> MatrixStretch:
        """The same with one of its places left out."""
        return replace(self, places=np.delete(self.places, index), numbers=np.delete(self.numbers, index, axis=0))


def _stretch(line: WallLine, places: Array, structures: Sequence[Structure], turn: Array) -> MatrixStretch:
    count = sum(any(own.terms[k] is not x for own in structures) for k, x in enumerate(structures[0].terms))
    structures = [projected(own, turn, own.terms) for own in structures]
    first = structures[0]
    half, square = _halves(first.size)[0], np.exp(2 * line.way * places)[:, None]
    changed = [np.ravel([np.ravel(term.matrix)[half] for term in own.terms[:count]]) for own in structures]
    swept = [np.append(own.volume, own.zone_area) for own in structures]
    return MatrixStretch(places, line.way, first, len(first.terms) - count, np.hstack((changed / square, swept)))


@lru_cache(maxsize=64)
def _halves(size: int) -> tuple[Index, Index]:
    """Of a symmetric matrix where the entries of its lower half stand, all in a row, and which (size, size) of these
    each entry is."""
    row, column = np.tril_indices(size)
    whole = np.empty((size, size), np.int64)
    whole[row, column] = whole[column, row] = np.arange(len(row))
    return row * size + column, whole


def matrix_stretches(
    line: WallLine, count: int, made: Made, moves: Moves | None, narrow: Narrow, up_to_hz: float, reach_hz: float
) -> list[MatrixStretch]:
    """Stretches of a line between which the matrices of some `count` walls evenly on it are read: those with walls
    enough to pay for the places at which `made` makes structures (N unknowns), on what `narrow` takes of what `moves`
    tells of those at both ends (N, n), or in all unknowns. Where that of the middle, read from the others, is off by
    more than 5e-5 in its frequencies or in what is swept, or by 7.5e-4 in its area, either half is tried.
    """
    found = list[MatrixStretch]()
    for begin, end in line.even:
        left = _parts(begin, end, ceil((end - begin) / LONGEST))
        structures, bases = dict[float, Structure](), dict[float, Array]()
        while each := [places for part in left if (places := _places(*part, count / line.length)) is not None]:
            left, missing = [], sorted({x for places in each for x in places.tolist()} - structures.keys())
            structures |= zip(missing, made([line.at(x) for x in missing]), strict=True)  # neighbours share an end
            ends = {x for places in each for x in places[[0, -1]].tolist()}
            bases |= {x: moves(structures[x]) for x in ends - bases.keys()} if moves else {}
            for places in each:
                some = [structures[x] for x in places.tolist()]
                turn = narrow([bases[x] for x in places[[0, -1]].tolist()]) if bases else np.eye(some[0].size)
                stretch = _stretch(line, places, some, turn)
                if _holds(stretch, some[len(some) // 2], turn, up_to_hz, reach_hz):
                    found.append(stretch)
                else:
                    left += _parts(float(places[0]), float(places[-1]), 2)
    return found


def _places(begin: float, end: float, density: float) -> Array | None:
    """Where structures are made between two places, with so many walls per e-fold; None where these do not pay."""
    points = LEAST_POINTS + int(POINTS * (end - begin))
    return chebyshev(begin, end, points) if density * (end - begin) >= WORTH * points else None


def _holds(stretch: MatrixStretch, whole: Structure, turn: Array, up_to_hz: float, reach_hz: float) -> bool:
    """Whether the wall in the middle of a stretch, read from the others, is nearly `whole` on `turn`."""
    middle = len(stretch.places) // 2
    own, read = projected(whole, turn), stretch.without(middle).read(float(stretch.places[middle]))
    swept = np.abs(read.volume - own.volume).max() / np.abs(own.volume).max()
    missed = missed_hz(own, modes_of(whole, reach_hz), whole, reach_hz)
    near = max(swept, apart_hz(read, own, reach_hz), missed) < TOLERANCE
    return near and apart_area(read, own_answers(whole, up_to_hz)) < AREA_TOLERANCE


def _parts(begin: float, end: float, count: int) -> list[tuple[float, float]]:
    """A stretch in equal parts."""
    return list(pairwise(np.linspace(begin, end, 1 + count).tolist()))
