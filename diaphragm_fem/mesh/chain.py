"""The wall from end to end as one chain of strips: its points, edges and cells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.design import Design
from diaphragm_fem.mesh.lips import Lips, lay_lips, with_columns
from diaphragm_fem.mesh.section_plan import Plan, Stretch
from diaphragm_fem.mesh.section_size import Grading, cut_strip, seeds_of
from diaphragm_fem.mesh.strip import SAME_POINT, End, Strip


@dataclass(frozen=True)
class ChainIds:
    """Where the chain's stations and cells ended up in the plan: per strip, and by row."""

    strips: list[Strip]
    stations: list[Array]  # arc lengths
    points: list[Index]  # (N + 1, R + 1)
    cells: list[Index]  # (N, R)
    lips: dict[tuple[int, int], int]  # of each rear lip: the point between those where it begins and ends


def lay_chain(
    plan: Plan,
    strips: list[Strip],
    breaks: dict[int, list[float]],
    extra_seeds: list[tuple[float, float]],
    grading: Grading,
    meridian_count: int,
    former_first: bool,
) -> ChainIds:
    """Points, edges and cells of the chain; `breaks` are stations asked for, by strip."""
    seeds = [*seeds_of(strips), *extra_seeds]
    stations, ids, cells = [], [], []
    between: dict[tuple[int, int], int] = {}
    start = 0.0
    shared: Index | None = None
    former_middle: list[Stretch] = []
    for k, strip in enumerate(strips):
        asked = breaks.get(k, [])
        for end, where in ((strip.begin, 0.0), (strip.end, strip.length)):
            for reach in sorted((end.fade, end.shoulder), reverse=True):
                place = abs(where - reach)
                if reach > SAME_POINT and all(abs(place - x) > 0.3 * reach for x in asked):
                    asked = [*asked, place]
        s = with_columns(cut_strip(strip, start, seeds, asked, grading), strip, breaks.get(k, []))
        grid = strip.points(s)
        met = None if strip.lips[0] else shared  # lips stand out over what was laid before
        point, new = np.full(grid.shape[:2], -1), np.ones(grid.shape[:2], bool)
        new[[0, -1], 1:-1] = ~np.array(strip.lips)[:, None]  # rows meet a lip's end face in the neighbour's points
        if met is not None:
            point[0, strip.begin.met], new[0, strip.begin.met] = met, False
        point[new] = plan.add_points(grid[new])
        half = strip.points((s[1:] + s[:-1]) / 2)
        cell = np.empty((len(s) - 1, grid.shape[1] - 1), np.int64)
        plain = range(int(strip.lips[0]), len(s) - 1 - strip.lips[1])
        for i in range(plain.start, plain.stop + 1):
            for j in range(cell.shape[1]):
                plan.add_edge(point[i, j], point[i, j + 1])
        lips: dict[int, Lips] = {}
        if strip.lips[0]:
            lips[0] = lay_lips(plan, strip, s[:2], point[:2], shared)
        if strip.lips[1]:
            lips[1] = lay_lips(plan, strip, s[:-3:-1], point[:-3:-1], None)
        for i in plain:
            for j in range(grid.shape[1]):
                plan.add_edge(point[i, j], point[i + 1, j], half[i, j])
            for j in range(cell.shape[1]):
                corners = (point[i, j], point[i + 1, j], point[i + 1, j + 1], point[i, j + 1])
                cell[i, j] = plan.add_cell(corners, strip.index, strip.layers[j][0], False)
        of_former = strip.index >= meridian_count
        stretches = _middle(strip, s, cell, plain)
        front = [(int(c), 2) for c in cell[plain.start : plain.stop, -1]]
        front = [*((int(c), 3) for c in _beyond(cell[0], strip.begin)), *front]
        front += [(int(c), 1) for c in _beyond(cell[-1], strip.end)[::-1]]
        for row, end in ((point[0], strip.begin), (point[-1], strip.end)):
            plan.singular += _corners(row, end)
        for last, own_lips in lips.items():
            stretches = [*stretches, *own_lips.middle] if last else [*own_lips.middle, *stretches]
            front = [*front, *own_lips.front] if last else [*own_lips.front, *front]
            cell[-1 if last else 0] = own_lips.held_cells
            between[own_lips.rear[0], own_lips.rear[-1]] = own_lips.rear[1]
        if not of_former:
            plan.middle[0].extend(stretches)
            if strip.piece.zone.radiates:
                plan.front.extend(front)
        else:
            former_middle.extend(stretches)
        stations.append(s)
        ids.append(point)
        cells.append(cell)
        start += strip.length
        shared = lips[1].held if 1 in lips else point[-1, strip.end.met]
    if former_first:
        former_middle = [Stretch(x.cell, x.end, x.begin) for x in former_middle[::-1]]
    plan.middle[1].extend(former_middle)
    return ChainIds(strips, stations, ids, cells, between)


def _beyond(cells: Index, end: End) -> Index:
    """Those of the cells of an end whose face there is free, in front of the neighbour's."""
    return cells[:0] if end.met.stop is None else cells[end.met.stop - 1 :]


def _corners(points: Index, end: End) -> list[int]:
    """Those of an end's points where a free face of it meets the neighbour."""
    if end.met.stop is None:
        return []
    return [int(points[k]) for k in (end.met.start, end.met.stop - 1) if 0 < k < len(points) - 1]


def _middle(strip: Strip, s: Array, cell: Index, plain: range) -> list[Stretch]:
    """Where the meridian passes through the plain cells of a strip: through the row that holds it."""
    if not plain:
        return []
    s, cell = s[plain.start : plain.stop + 1], cell[plain.start : plain.stop]
    border, i, ends = strip.borders(s), np.arange(len(s) - 1), np.array([0, 1])
    across = (border[1:] + border[:-1]) / 2
    j = np.clip((across < 0).sum(axis=1) - 1, 0, cell.shape[1] - 1)
    low, high = (border[i[:, None] + ends, (j + k)[:, None]] for k in (0, 1))
    height = np.clip(-low / (high - low), 0, 1).tolist()
    return [Stretch(c, (0.0, a), (1.0, b)) for c, (a, b) in zip(cell[i, j].tolist(), height, strict=True)]


def name_faces(plan: Plan, design: Design, ids: ChainIds) -> None:
    """The end faces of the meridian and the face through the wall at the joint."""
    of_piece = {strip.index: cells for strip, cells in zip(ids.strips, ids.cells, strict=True)}
    last = len(design.meridian) - 1
    plan.faces["inner"] = [(int(c), 3) for c in of_piece[0][0]]
    plan.faces["outer"] = [(int(c), 1) for c in of_piece[last][-1]]
    if design.joint is not None:
        at_end = design.joint > last
        plan.faces["joint"] = plan.faces["outer"] if at_end else [(int(c), 3) for c in of_piece[design.joint][0]]
