"""The three-way joint: a coil former that hangs from the rear face of the meridian.

Its cells conform to those of the rear face along its top (`former_top`); where that is narrower than the former, this
widens to its full wall in its first cell, like a fillet. Beside the lip of a thick wall it reaches up, through a
recess, to the thin wall that the lip stands out from.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.chain import ChainIds, stations_of
from diaphragm_fem.mesh.former_top import Top, across_of, reach_aside
from diaphragm_fem.mesh.section_plan import Plan, Stretch
from diaphragm_fem.mesh.section_size import Grading, seeds_of
from diaphragm_fem.mesh.strip import Strip

NECK = 0.6  # height of the first cell below the lowest point of the top, in former thicknesses


def hang_former(plan: Plan, top: Top, ids: ChainIds, grading: Grading) -> None:
    """Add the former's points, edges and cells below the top. MeshError where that reaches too far aside, or the former
    is too short or has more layers than its top has cells."""
    found, lengths, step = _columns(plan, top, ids)
    origin, across = across_of(top.former)
    down = np.array([across[1], -across[0]])
    recess = recess_beside(plan, down, found, step, ids)
    upper = np.array(recess.below if recess else found)
    if recess:
        lengths = np.diff(np.array([plan.points[i] for i in upper]) @ across)
    else:
        plan.singular += [found[0], found[-1]]  # what the joint yields was up to 12 % off without smaller cells there
    first = top.former[0]
    wall = float(first.rows(0.0).sum())
    placed = np.array([plan.points[i] for i in (*found, *upper)])
    reach_aside(np.concatenate((placed, recess.leaning)) if recess else placed, origin, across, wall)
    neck = float(max((plan.points[i] - origin) @ down for i in upper)) + NECK * wall
    total = sum(strip.length for strip in top.former)
    if neck > 0.8 * total:
        raise MeshError(f"the coil former must be longer than {neck * 1.25e3:.3g} mm, received {total * 1e3:.3g} mm")
    fraction = np.concatenate(([0.0], np.cumsum(lengths))) / lengths.sum()
    aside = (np.array([plan.points[i] for i in upper]) - origin) @ across
    columns, owner = _split_rows(fraction, aside, first.borders(np.array(0.0))[1:-1])
    if recess:
        fill_recess(plan, first, recess, owner)
    seeds, start, hung = [(neck, 0.7 * wall), *seeds_of(top.former)[1:-1]], 0.0, False
    for strip in top.former:
        if start + strip.length <= neck * 1.1:  # all of it lies within the joint
            start += strip.length
            continue
        begin = 0.0 if hung else max(neck - start, 0.0)
        s = stations_of(strip, start, seeds, [begin], grading)
        s = s[s >= begin - 1e-15]
        if not hung:
            upper = _add_level(plan, strip, columns, owner, upper, s[0], None)
            hung = True
        for a, b in pairwise(s):
            upper = _add_level(plan, strip, columns, owner, upper, b, a)
        start += strip.length


def _columns(plan: Plan, top: Top, ids: ChainIds) -> tuple[list[int], Array, int | None]:
    """Rear-face points from the top's begin to its end, the lengths of the edges between them (over a step their
    widths across the former), and where two of them lie at one place, beside a lip."""
    places, start = dict[int, float](), 0.0
    for strip, s, point in zip(ids.strips, ids.stations, ids.points, strict=True):
        for place, number in zip((start + s).tolist(), point[:, 0].tolist(), strict=True):
            if top.begin - 1e-12 < place < top.end + 1e-12:
                places.setdefault(number, place)
        start += strip.length
    found, at = list(places), np.array(list(places.values()))
    where = np.array([plan.points[i] for i in found])
    same = np.flatnonzero(np.diff(at) < 1e-12)
    step = int(same[0]) if len(same) else None
    edge = np.diff(where, axis=0)
    on_step = (at[1:] > top.step[0] + 1e-12) & (at[:-1] < top.step[1] - 1e-12)
    if on_step.any():
        return found, edge @ across_of(top.former)[1], step
    return found, np.linalg.norm(edge, axis=1), step


def _split_rows(fraction: Array, aside: Array, inside: Array) -> tuple[Array, Index]:
    """Assign the columns, whose borders stand at `fraction` of the top and by `aside` in m from the former's middle,
    to the former's rows, which meet at `inside` of it.

    Returns the borders in row coordinates 0...rows, and the row of each column; every row gets a column or more.
    """
    count, rows = len(fraction) - 1, len(inside) + 1
    if count < rows:
        raise MeshError(f"the former has {rows} layers but its top only {count} cells, so steep is the wall beside it")
    inner = [np.clip(np.argmin(np.abs(aside - x)), k, count - rows + k) for k, x in enumerate(inside, 1)]
    row = np.arange(rows + 1)
    border = np.maximum.accumulate(np.array([0, *inner, count]) - row) + row
    return np.interp(fraction, fraction[border], row), np.repeat(row[:-1], np.diff(border))


def _level(strip: Strip, columns: Array, s: float) -> Array:
    """Points (C + 1, 2) of the column borders at arc length s of the former."""
    rows = strip.points(np.array(s))
    place = np.arange(len(rows))
    return np.stack([np.interp(columns, place, rows[:, k]) for k in range(2)], axis=1)


def _add_level(
    plan: Plan, strip: Strip, columns: Array, owner: Index, upper: Index, s: float, above: float | None
) -> Index:
    """One level of cells down to arc length s; `above` is the arc length of the level over it (None: the top)."""
    lower = plan.add_points(_level(strip, columns, s))
    halfway = None if above is None else _level(strip, columns, (s + above) / 2)
    for j in range(len(lower)):
        plan.add_edge(lower[j], upper[j], None if halfway is None else halfway[j])
    middle = _middle_column(strip, columns, s)
    for j, row in enumerate(owner):
        plan.add_edge(lower[j], lower[j + 1])
        corners = (lower[j], lower[j + 1], upper[j + 1], upper[j])
        cell = plan.add_cell(corners, strip.index, strip.layers[row][0], True)
        if j == middle[0]:
            plan.middle[1].append(Stretch(cell, (middle[1], 1.0), (middle[1], 0.0)))
    return lower


def _middle_column(strip: Strip, columns: Array, s: float) -> tuple[int, float]:
    """The column that holds the middle of the former's wall and the local coordinate of the middle in it."""
    rows = strip.rows(np.array(s))
    border = np.concatenate(([0.0], np.cumsum(rows))) / rows.sum()
    across = np.interp(columns, np.arange(len(border)), border)
    j = int(np.clip(np.searchsorted(across, 0.5) - 1, 0, len(columns) - 2))
    return j, float((0.5 - across[j]) / (across[j + 1] - across[j]))


@dataclass(frozen=True)
class Recess:
    """What lies between a thin wall and the lip of a thick one beside it: levels of points from the thin wall down, the
    top of the former below it, the column with which the levels begin, and where the last level would lie (K, 2) if
    all of it leant as the lip does."""

    levels: list[list[int]]
    below: list[int]
    column: int
    leaning: Array


def recess_beside(plan: Plan, down: Array, found: list[int], step: int | None, ids: ChainIds) -> Recess | None:
    """The recess at a step between two of the points found for the top of a former that leads along `down` (2,); None
    without a step."""
    if step is None:
        return None
    left, right = found[step], found[step + 1]
    first = bool((plan.points[right] - plan.points[left]) @ down > 0)  # the thin wall comes first
    thin, thick = (left, right) if first else (right, left)
    plan.singular.append(found[-1] if first else found[0])
    levels = [found[: step + 1] if first else found[step + 1 :]]
    free = levels[0][:-1] if first else levels[0][1:]
    upper, across = np.array([plan.points[i] for i in free]).reshape(-1, 2), np.array([-down[1], down[0]])
    along = upper - plan.points[thin]  # the rear face: so levels stay as far apart as the lip is high
    straight = along / (max(along @ across, key=abs, default=1.0) or 1.0)
    for point in (ids.lips[thin, thick], thick):
        shift = plan.points[point] - plan.points[thin]
        new = plan.add_points(upper + shift - (shift @ across) * straight).tolist()
        levels.append([*new, point] if first else [point, *new])
    rest = found[step + 2 :] if first else found[:step]
    return Recess(levels, levels[-1] + rest if first else rest + levels[-1], 0 if first else step, upper + shift)


def fill_recess(plan: Plan, strip: Strip, recess: Recess, owner: Index) -> None:
    """Add its edges, and its cells in the layers of the former's columns (C,) below."""
    for upper, lower in pairwise(recess.levels):
        for a, b in zip(lower, upper, strict=True):
            plan.add_edge(a, b)
        for k, ((a, b), (d, c)) in enumerate(zip(pairwise(lower), pairwise(upper), strict=True)):
            plan.add_edge(a, b)
            plan.add_cell((a, b, c, d), strip.index, strip.layers[owner[recess.column + k]][0], True)
