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


def rows_of_layers(split: list[int]) -> RowLayers:
    """The rows of a wall each of whose layers is cut into so many."""
    return tuple((k, 1 / n) for k, n in enumerate(split) for _ in range(n))


def split_to(wall: Wall, split: list[int], count: int) -> list[int]:
    """Into how many rows each layer is cut where all are to have `count` at least: those with the thickest rows first,
    evenly."""
    found, middle = list(split), [float(layer.thickness(0.5)) for layer in wall.layers]
    while sum(found) < count:
        found[max(range(len(found)), key=lambda k: middle[k] / found[k])] += 1
    return found


def rows_of(pieces: list[Piece]) -> list[RowLayers]:
    """The rows in which the wall of each piece of a chain is cut: as many in all that meet, but where something glued
    on ends. There the wall below runs on in its own."""
    walls = [piece.wall for piece in pieces]
    met = [borders_met(a, b) for a, b in pairwise(walls)]
    splits, before = [[1] * len(wall.layers) for wall in walls], list[list[int]]()
    while splits != before:
        before = [list(split) for split in splits]
        for k, both in enumerate(met):
            pair = slice(k, k + 2)
            if both is None:
                most = max(map(sum, splits[pair]))
                splits[pair] = [split_to(*own, most) for own in zip(walls[pair], splits[pair], strict=True)]
                continue
            few, many = (k, k + 1) if both[0].stop is None else (k + 1, k)
            first = (both[0].start or 0) + (both[1].start or 0)
            shared = slice(first, first + len(splits[few]))
            splits[few] = splits[many][shared] = list(map(max, splits[few], splits[many][shared]))
    return [rows_of_layers(split) for split in splits]


def rows_met(borders: slice, rows: RowLayers) -> slice:
    """Those borders of rows that are some borders of layers."""
    if borders.stop is None:
        return borders
    first, last = (sum(layer < k for layer, _ in rows) for k in (borders.start, borders.stop - 1))
    return slice(first, last + 1)


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
