"""The real gap with its slots and bends cut into quadrilaterals, for air in two dimensions.

Gap and slots are strips already, so their cells follow from the corners alone, in a few milliseconds and without a
mesher: columns across the gap from face to plug, denser toward slot edges and bends, and a block of cells into each
slot.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.mesh.gap_face import GapFace, along
from diaphragm_fem.mesh.gap_line import SHARP, SlotMouth

Column = tuple[int, float]  # segment of the face, and the fraction of it
GROWTH = 1.6


@dataclass(frozen=True)
class GapSection:
    """points (2, N) in m; cells (4, C), corners anticlockwise; face (2, S) and ends[j] (2, S_j): the sides, as pairs of
    points, that lie on the face, from the inner end outward, and on the far end of slot j; place (S + 1,): where the
    ends of the face's sides lie, as number of the face's piece and how far along it."""

    points: Array
    cells: Index
    face: Index
    ends: tuple[Index, ...]
    place: Array


def cut_gap_section(
    face: GapFace, slots: Sequence[SlotMouth], depths: Sequence[float], finest: float = 3e-5
) -> GapSection:
    """Cells of the gap and of the first `depths` metres of each slot, normal to the plug; the smallest cell beside a
    sharp corner is `finest` metres."""
    mouths = [_mouth(face, slot) for slot in slots]
    columns = _columns(face, mouths, finest)
    across = _graded(np.array((0.0, 1.0)), (True, True), finest / face.width.min(), 0.34)
    low, high = (np.array([_at(line, column) for column in columns])[:, None] for line in (face.face, face.plug))
    gap = low + across[:, None] * (high - low)
    points = [gap.reshape(-1, 2)]
    count = len(points[0])
    grid = np.arange(count).reshape(len(columns), len(across))
    cells = [_quads(grid)]
    ends = []
    for mouth, slot, depth in zip(mouths, slots, depths, strict=True):
        begin, end = (min(range(len(columns)), key=lambda i: abs(sum(columns[i]) - sum(edge))) for edge in mouth)
        step = _at(face.plug, mouth[1]) - _at(face.plug, mouth[0])
        normal = np.array((-step[1], step[0])) / np.linalg.norm(step)
        deep = _graded(np.array((0.0, depth)), (True, False), finest, 0.5 * slot.width)
        rim = gap[begin : end + 1, -1]
        block = rim[:, None] + deep[1:, None] * normal
        numbers = count + np.arange(block.shape[0] * block.shape[1]).reshape(block.shape[:2])
        count += numbers.size
        points.append(block.reshape(-1, 2))
        cells.append(_quads(np.hstack((grid[begin : end + 1, -1:], numbers))))
        ends.append(_pairs(numbers[:, -1]))
    return GapSection(
        np.ascontiguousarray(np.vstack(points).T),
        np.ascontiguousarray(np.hstack(cells)),
        _pairs(grid[:, 0]),
        tuple(ends),
        np.array([k + t for k, t in columns]),
    )


def _mouth(face: GapFace, slot: SlotMouth) -> tuple[Column, Column]:
    """Where the plug is cut by a slot's two edges: half its width on either side of its centre, along the plug."""
    k, _ = centre = _column(face.place, slot.place)
    step, places = face.plug[k + 1] - face.plug[k], along(face.plug)
    foot = places[k] + (_at(face.middle, centre) - face.plug[k]) @ step / np.linalg.norm(step)
    return _column(places, foot - slot.width / 2), _column(places, foot + slot.width / 2)


def _column(places: Array, place: float) -> Column:
    k = int(np.clip(np.searchsorted(places, place, side="right") - 1, 0, len(places) - 2))
    return k, float((place - places[k]) / (places[k + 1] - places[k]))


def _columns(face: GapFace, mouths: list[tuple[Column, Column]], finest: float) -> list[Column]:
    """(segment, fraction) of every column: bends and slot edges with denser columns beside them."""
    columns: list[Column] = []
    edges = [edge for mouth in mouths for edge in mouth]
    for k in range(len(face.place) - 1):
        length = float(np.linalg.norm(face.plug[k + 1] - face.plug[k]))
        sharp = {0.0: abs(face.turn[k]) > SHARP, 1.0: abs(face.turn[k + 1]) > SHARP}
        sharp |= {fraction: True for segment, fraction in edges if segment == k}
        for a, b in pairwise(sorted(sharp)):
            fine = _graded(np.array((a, b)), (sharp[a], sharp[b]), finest / length, 1.2 * face.width[k] / length)
            columns += [(k, float(t)) for t in fine[:-1]]
    columns.append((len(face.place) - 2, 1.0))
    return columns


def _graded(span: Array, dense: tuple[bool, bool], finest: float, coarsest: float) -> Array:
    """Points over a span, cells growing from `finest` at the dense ends up to `coarsest`."""
    length = span[1] - span[0]
    sizes = [finest]
    if not any(dense):
        return np.linspace(span[0], span[1], int(np.ceil(length / coarsest)) + 1)
    half = length / 2 if all(dense) else length
    while sum(sizes) < half:
        sizes.append(min(sizes[-1] * GROWTH, coarsest))
    way = np.concatenate(([0.0], np.cumsum(sizes)))
    way *= half / way[-1]
    if all(dense):
        way = np.concatenate((way, length - way[-2::-1]))
    elif dense[1]:
        way = length - way[::-1]
    return np.asarray(span[0] + way)


def _at(line: Array, column: Column) -> Array:
    k, t = column
    return np.asarray(line[k] + t * (line[k + 1] - line[k]))


def _quads(grid: Index) -> Index:
    """Cells (4, C) of a grid of point numbers."""
    return np.stack((grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:])).reshape(4, -1)


def _pairs(numbers: Index) -> Index:
    return np.stack((numbers[:-1], numbers[1:]))
