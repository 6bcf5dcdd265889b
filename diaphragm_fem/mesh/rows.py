"""The rows in which walls are cut into cells: of every layer one, of thick ones more where a neighbour has more."""

from itertools import pairwise

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Piece
from diaphragm_fem.design.meridian.wall import Wall

RowLayers = tuple[tuple[int, float], ...]  # of each row: the layer and its share of the layer

SAME_BORDER = 1e-6  # of a wall's thickness: below this two layers begin at the same height


def row_thickness(wall: Wall, layers: RowLayers, fraction: Array) -> Array:
    """Thickness (..., R) of the rows at a fraction of the piece."""
    return np.stack([share * wall.layers[k].thickness(fraction) for k, share in layers], axis=-1)


def layers_of_rows(wall: Wall, count: int) -> RowLayers:
    """Spread the layers of a wall over `count` rows: the thickest layers are split first, evenly."""
    split = [1] * len(wall.layers)
    middle = [float(layer.thickness(0.5)) for layer in wall.layers]
    while sum(split) < count:
        thickest = max(range(len(split)), key=lambda k: middle[k] / split[k])
        split[thickest] += 1
    return tuple((k, 1 / n) for k, n in enumerate(split) for _ in range(n))


def rows_of(pieces: list[Piece]) -> list[int]:
    """Into how many rows the wall of each piece of a chain is cut: as many layers as the one with most of them has,
    between the places where something glued on ends."""
    ends = [0, *(k + 1 for k, (a, b) in enumerate(pairwise(pieces)) if borders_met(a.wall, b.wall)), len(pieces)]
    return [max(len(x.wall.layers) for x in pieces[a:b]) for a, b in pairwise(ends) for _ in range(a, b)]


def borders_met(a: Wall, b: Wall) -> tuple[slice, slice] | None:
    """The borders by which two walls of unlike many layers meet, where those of the one are found in the other: what
    the other has beyond is glued on, and ends there."""
    borders = [
        wall.rear(place) + np.cumsum([0.0, *(float(x.thickness(place)) for x in wall.layers)])
        for wall, place in ((a, 1.0), (b, 0.0))
    ]
    if len(borders[0]) == len(borders[1]):
        return None
    few, many = sorted(borders, key=len)
    same = np.abs(many - few[0]) < SAME_BORDER * (few[-1] - few[0])
    first = int(np.argmax(same))
    part = many[first : first + len(few)]
    if not same.any() or len(part) < len(few) or np.abs(part - few).max() > SAME_BORDER * (few[-1] - few[0]):
        return None
    found = slice(None), slice(first, first + len(few))
    return found if len(a.layers) < len(b.layers) else found[::-1]
