"""Smaller triangles about the corners of a union where the stress is singular: each of theirs is cut off there."""

from collections.abc import Sequence

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.corners import CLOSER, LEAST, MOST
from diaphragm_fem.mesh.section_plan import FLATTEST, flatness
from diaphragm_fem.mesh.union import UnionCells, on_ends, straightened

# The parts of a triangle by how many of its corners are singular, its first ones: of 0 to 2, its corners, and 3 to 8,
# near the first and the last end of one side after another. Beside one tip they are laid the other way, the last, where
# that is less flat.
PARTS = (
    np.array([(0, 1, 2)]),
    np.array([(0, 3, 8), (3, 1, 2), (3, 2, 8)]),
    np.array([(0, 3, 8), (1, 5, 4), (3, 4, 5), (3, 5, 8), (8, 5, 2)]),
    np.array([(0, 3, 8), (1, 5, 4), (2, 7, 6), (3, 4, 5), (5, 6, 7), (7, 8, 3), (3, 5, 7)]),
    np.array([(0, 3, 8), (3, 1, 8), (8, 1, 2)]),
)


def cut_off_tips(cut: UnionCells, ends: Sequence[Line]) -> UnionCells:
    """The triangles of a union with those at singular corners parted, but for corners on its ends and those where a
    part would be too flat. Raises MeshError where a triangle is."""
    singular = np.zeros(len(cut.points), bool)
    singular[cut.singular] = True
    singular &= ~on_ends(cut.points, ends)
    while True:
        found, owner = _cut_off(cut, singular)
        flat = owner[flatness(found.points.T, found.cells.T) < FLATTEST]
        if not len(flat):
            return found
        if not singular[cut.cells[flat]].any():
            raise MeshError("a cell of the joint turns inside out; make its walls less unequal in thickness")
        singular[cut.cells[flat]] = False


def _cut_off(cut: UnionCells, singular: Flags) -> tuple[UnionCells, Index]:
    """The triangles with those at some points parted, and which one each is of."""
    points, corner, middle = cut.points, cut.cells[:, :3], cut.cells[:, 3:]
    count, after = len(points), np.roll(corner, -1, axis=1)
    length, nearest = np.linalg.norm(points[corner] - points[after], axis=2), np.full(count, np.inf)
    for tip in (corner, after):
        np.minimum.at(nearest, tip, length)
    tips = np.stack((corner, after), axis=2)  # (n, 3, 2): of each side both ends
    share = np.where(singular[tips], np.clip(CLOSER * nearest[tips] / length[..., None], LEAST, MOST), 0.0)
    low, high = share[..., 0], 1 - share[..., 1]

    def on_side(t: Array) -> Array:
        t, (a, b, c) = t[..., None], (points[x] for x in (corner, middle, after))
        return np.asarray((1 - t) * (1 - 2 * t) * a + 4 * t * (1 - t) * b + t * (2 * t - 1) * c)

    _, first, near = np.unique((middle[..., None] * count + tips).ravel(), return_index=True, return_inverse=True)
    near = np.where(singular[tips], count + near.reshape(tips.shape), tips)
    places = np.concatenate((points, np.stack((on_side(low), on_side(high)), axis=2).reshape(-1, 2)[first]))
    cells, owner = _parts(corner, near, singular, places)

    total = len(places)
    sides, own = np.unique(_side(cells, np.roll(cells, -1, axis=1), total), return_inverse=True)
    middles = (places[sides // total] + places[sides % total]) / 2
    begun, ended = near[..., 0], near[..., 1]
    for a, b, t in ((corner, begun, low / 2), (begun, ended, (low + high) / 2), (ended, after, (1 + high) / 2)):
        wanted = _side(a, b, total)
        at = np.minimum(np.searchsorted(sides, wanted), len(sides) - 1)
        on_curve = sides[at] == wanted
        middles[at[on_curve]] = on_side(t)[on_curve]
    places = np.concatenate((places, middles))
    cells = np.concatenate((cells, total + own.reshape(cells.shape)), axis=1)
    return UnionCells(straightened(places, cells), cells, cut.patch[owner], cut.modulus), owner


def _parts(corner: Index, near: Index, singular: Flags, places: Array) -> tuple[Index, Index]:
    """Corners (m, 3) of all parts and the triangle (m,) that each is of."""
    held = singular[corner]
    count = held.sum(axis=1)
    first = np.where(count == 2, (held.argmin(axis=1) + 1) % 3, held.argmax(axis=1))
    turn = (first[:, None] + np.arange(3)) % 3
    row = np.arange(len(corner))[:, None]
    whole = np.concatenate((corner[row, turn], near[row, turn].reshape(-1, 6)), axis=1)
    full = [_fullness(places[whole[:, parts[1:]]]).min(axis=1) for parts in (PARTS[1], PARTS[-1])]
    count[(count == 1) & (full[1] > full[0])] = 4
    of = [np.flatnonzero(count == k) for k in range(len(PARTS))]
    cells = [whole[own][:, parts].reshape(-1, 3) for own, parts in zip(of, PARTS, strict=True)]
    return np.concatenate(cells), np.concatenate(
        [np.repeat(own, len(parts)) for own, parts in zip(of, PARTS, strict=True)]
    )


def _fullness(corner: Array) -> Array:
    """Area of straight triangles (..., 3, 2) over the square of their longest side."""
    way = np.roll(corner, -1, axis=-2) - corner
    area = way[..., 0, 0] * way[..., 1, 1] - way[..., 0, 1] * way[..., 1, 0]
    return np.asarray(area / np.maximum((way**2).sum(axis=-1).max(axis=-1), np.finfo(float).tiny))


def _side(a: Index, b: Index, total: int) -> Index:
    """One number for the side between two points, whichever comes first."""
    return np.minimum(a, b) * total + np.maximum(a, b)
