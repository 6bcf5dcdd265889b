"""The wall from end to end as one chain of strips: its points, edges and cells."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.design import Design
from diaphragm_fem.mesh.lips import Lips, lay_lips, with_columns
from diaphragm_fem.mesh.meridian import SAME_POINT
from diaphragm_fem.mesh.section_plan import Plan, Side, Stretch
from diaphragm_fem.mesh.section_size import Grading, cut_strip, seeds_of
from diaphragm_fem.mesh.strip import End, Strip


@dataclass(frozen=True)
class ChainIds:
    """Where the chain's stations and cells ended up in the plan: per strip, and by row."""

    strips: list[Strip]
    stations: list[Array]  # arc lengths
    points: list[Index]  # (N + 1, R + 1)
    cells: list[Index]  # (N, R)
    lips: dict[tuple[int, int], int]  # of each rear lip: the point between those where it begins and ends


class _Laid(NamedTuple):
    """A strip as it was laid: arc lengths of its stations (N + 1,), points (N + 1, R + 1), cells (N, R) and lips; the
    mid-line and the sides of the front face in order; the points by which the next strip meets it."""

    stations: Array
    points: Index
    cells: Index
    lips: list[Lips]
    middle: list[Stretch]
    front: list[Side]
    met: Index


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
    seeds, laid = [*seeds_of(strips), *extra_seeds], list[_Laid]()
    former_middle, start = list[Stretch](), 0.0
    for k, strip in enumerate(strips):
        s = stations_of(strip, start, seeds, breaks.get(k, []), grading)
        own = _lay_strip(plan, strip, s, laid[-1].met if laid else None)
        if strip.index >= meridian_count:
            former_middle += own.middle
        else:
            plan.middle[0].extend(own.middle)
            if strip.piece.zone.radiates:
                plan.front.extend(own.front)
        laid.append(own)
        start += strip.length
    if former_first:
        former_middle = [Stretch(x.cell, x.end, x.begin) for x in former_middle[::-1]]
    plan.middle[1].extend(former_middle)
    stations, points, cells, lips, *_ = map(list, zip(*laid, strict=True))
    return ChainIds(strips, stations, points, cells, {(x.rear[0], x.rear[-1]): x.rear[1] for own in lips for x in own})


def stations_of(
    strip: Strip, start: float, seeds: list[tuple[float, float]], breaks: list[float], grading: Grading
) -> Array:
    """Arc lengths (N + 1,) of a strip that begins at `start`: at breaks, and where mitres and shoulders end unless they
    end near one."""
    asked = breaks
    for end, where in ((strip.begin, 0.0), (strip.end, strip.length)):
        for reach in sorted((end.fade, end.shoulder), reverse=True):
            place = abs(where - reach)
            if reach > SAME_POINT and all(abs(place - x) > 0.3 * reach for x in asked):
                asked = [*asked, place]
    return with_columns(cut_strip(strip, start, seeds, asked, grading), strip, breaks)


def _lay_strip(plan: Plan, strip: Strip, s: Array, met: Index | None) -> _Laid:
    """Lay a strip between stations beside one that it meets by some points."""
    point = _add_points(plan, strip, s, met)
    half = strip.points((s[1:] + s[:-1]) / 2)
    cell = np.empty((len(s) - 1, point.shape[1] - 1), np.int64)
    plain = range(int(strip.lips[0]), len(s) - 1 - strip.lips[1])
    for i in range(plain.start, plain.stop + 1):
        for j in range(cell.shape[1]):
            plan.add_edge(point[i, j], point[i, j + 1])
    first = lay_lips(plan, strip, s[:2], point[:2], met) if strip.lips[0] else None
    last = lay_lips(plan, strip, s[:-3:-1], point[:-3:-1], None) if strip.lips[1] else None
    for i in plain:
        for j in range(point.shape[1]):
            plan.add_edge(point[i, j], point[i + 1, j], half[i, j])
        for j in range(cell.shape[1]):
            corners = (point[i, j], point[i + 1, j], point[i + 1, j + 1], point[i, j + 1])
            cell[i, j] = plan.add_cell(corners, strip.index, strip.layers[j][0], False)
    middle = _middle(strip, s, cell, plain)
    front = [(int(c), 3) for c in _beyond(cell[0], strip.begin)]
    front += [(int(c), 2) for c in cell[plain.start : plain.stop, -1]]
    front += [(int(c), 1) for c in _beyond(cell[-1], strip.end)[::-1]]
    plan.singular += _corners(point[0], strip.begin) + _corners(point[-1], strip.end)
    if first:
        middle, front, cell[0] = [*first.middle, *middle], [*first.front, *front], first.held_cells
    if last:
        middle, front, cell[-1] = [*middle, *last.middle], [*front, *last.front], last.held_cells
    lips = [own for own in (first, last) if own]
    return _Laid(s, point, cell, lips, middle, front, last.held if last else point[-1, strip.end.met])


def _add_points(plan: Plan, strip: Strip, s: Array, met: Index | None) -> Index:
    """Add the points (N + 1, R + 1) of a strip but for those by which it meets the one before; -1 on a lip's end face,
    which rows meet in the neighbour's points."""
    grid = strip.points(s)
    point, new = np.full(grid.shape[:2], -1), np.ones(grid.shape[:2], bool)
    new[[0, -1], 1:-1] = ~np.array(strip.lips)[:, None]
    if met is not None and not strip.lips[0]:  # lips stand out over what was laid before
        point[0, strip.begin.met], new[0, strip.begin.met] = met, False
    point[new] = plan.add_points(grid[new])
    return point


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
