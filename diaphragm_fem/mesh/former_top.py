"""The top of a coil former that hangs from the rear face of the meridian.

It is made of rear-face edges between two stations of the meridian, those where the rear face crosses the former's inner
and outer radius, so the cells conform. Where the rear face falls too steeply to be a top (the skirt of a deep dome),
the top ends there.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.design import Design
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.meridian import SAME_POINT
from diaphragm_fem.mesh.strip import Strip

FLAT_WALL = 0.7  # cosine between a wall and the former's thickness: its shoulder is then part of the top
STEEPEST_TOP = 0.2  # cosine between a rear face and the former's wall thickness direction
NARROWEST_TOP = 0.3  # of the former's thickness
LONGEST_TOP = 6.0  # wall thicknesses searched to each side, ...
SAMPLES = 600  # ... at so many places
SNAP = 0.02  # of the former's thickness: a top corner this near a station moves onto it; of a tenth what a joint yields
# jumped by .05 to .07 of its walls' own where a corner came off
OVER = 0.1  # of the former's thickness that a top may reach over its sides; one that reaches further makes another
# former: with a thick surround whose tilted end lay 0.13 to 0.46 over its side, fundamentals came 0.3 to 6 % too high


@dataclass(frozen=True)
class Top:
    """The former's strips and the stretch of the meridian it hangs from (arc lengths from the chain's begin).

    step: where the shoulders between unequal walls begin and end on it. aside: how far it reaches from the former's
    middle, in thicknesses of the former.
    """

    former: list[Strip]
    begin: float
    end: float
    breaks: dict[int, list[float]]
    seeds: list[tuple[float, float]]
    step: tuple[float, float]
    aside: float


@dataclass(frozen=True)
class _Chain:
    """The strips of a meridian with a former that hangs from them: the strip that begins at the joint, the former's
    thickness in m, its top's middle (2,) and the direction (2,) across it."""

    strips: list[Strip]
    joint: int
    wall: float
    origin: Array
    across: Array

    @cached_property
    def starts(self) -> Array:
        """Arc lengths (S + 1,) at which the strips begin, and the chain's length."""
        return np.concatenate(([0.0], np.cumsum([strip.length for strip in self.strips])))

    @property
    def place(self) -> float:
        """Arc length of the joint."""
        return float(self.starts[self.joint])

    @property
    def searched(self) -> float:
        """How far in m from the joint its top is sought."""
        return float(LONGEST_TOP * (self.wall + self.strips[self.joint].begin.rows.sum()))

    def strip_at(self, places: ArrayLike) -> Index:
        """Which strips (K,) lie at arc lengths (K,) of the chain."""
        return np.clip(np.searchsorted(self.starts, places, side="right") - 1, 0, len(self.strips) - 1)

    def of(self, places: Array, what: Callable[[Strip, Array], Array]) -> Array:
        """What strips have (K, 2) at arc lengths (K,) of the chain."""
        owner = self.strip_at(places)
        found = np.empty((len(places), 2))
        for k in np.unique(owner):
            found[owner == k] = what(self.strips[k], places[owner == k] - self.starts[k])
        return found

    def face(self, places: Array, border: int = 0) -> Array:
        """Points (K, 2) of the rear face, border 0, or of the front face, -1."""
        return self.of(places, lambda strip, s: strip.points(s)[:, border])

    def shoulder(self, way: int) -> float:
        """Length of the shoulder that begins at the joint, inward (-1) or outward (+1)."""
        return (self.strips[self.joint - 1].end if way < 0 else self.strips[self.joint].begin).shoulder

    def end_of_top(self, way: int) -> float:
        """Arc length at which the rear face reaches the former's side, inward (-1) or outward (+1) of the joint."""
        limit = min(self.searched, self.place if way < 0 else self.starts[-1] - self.place)
        distance = np.linspace(0, limit, SAMPLES)
        distance[0] = min(SAME_POINT * 1e-3, limit)  # on its own side of the joint, where lips make a step
        rear = self.face(self.place + way * distance)
        step = np.diff(rear, axis=0)
        level = way * (step @ self.across) / np.linalg.norm(step, axis=1)
        middle = self.place + way * (distance[1:] + distance[:-1]) / 2
        own = self.of(middle, lambda strip, s: strip.piece.curve.tangent(s)) @ self.across
        on_shoulder = (distance[:-1] < self.shoulder(way)) & (own > FLAT_WALL)
        level[on_shoulder] = own[on_shoulder]  # a shoulder is no fall of the wall itself
        aside = way * ((rear - self.origin) @ self.across)
        beyond = np.flatnonzero(aside >= self.wall / 2)
        steep = np.flatnonzero(level < STEEPEST_TOP)
        i = int(steep[0]) if len(steep) else len(distance) - 1
        reach = distance[i]
        if len(beyond) and beyond[0] <= i:
            both = slice(max(int(beyond[0]) - 1, 0), int(beyond[0]) + 1)
            reach = np.interp(self.wall / 2, aside[both], distance[both])
        place = self.place + way * float(reach)
        nearest = float(self.starts[np.argmin(np.abs(self.starts - place))])
        return nearest if abs(nearest - place) < SNAP * self.wall else place

    def borders(self, begin: float, end: float, former: Strip) -> list[float]:
        """Arc lengths within the top at which the rear face reaches the borders of the former's rows, each row having
        half of its share of the top at least, but those near a station by the thinner row beside them, lest it stands
        for both sides of a thin layer."""
        places, rows = np.linspace(begin, end, SAMPLES), former.rows(0.0)
        met = np.interp(former.borders(np.array(0.0))[1:-1], (self.face(places) - self.origin) @ self.across, places)
        share = np.cumsum(rows)[:-1] / rows.sum() / 2
        met = np.clip(met, begin + share * (end - begin), end - (0.5 - share) * (end - begin))
        away = np.abs(met[:, None] - np.array([begin, end, *self.starts])).min(axis=1)
        return met[away > SNAP * np.minimum(rows[1:], rows[:-1])].tolist()

    def keep_clear(self, end: float, way: int) -> None:
        """Raise MeshError where a face of the wall, from an end of the top on, runs down through the former: both would
        be in one place, and not be one."""
        beyond = end + way * np.linspace(0.0, min(self.searched, end if way < 0 else self.starts[-1] - end), SAMPLES)
        down, clear, (top,) = np.array([self.across[1], -self.across[0]]), SNAP * self.wall, self.face(beyond[:1])
        for face in (self.face(beyond, border) for border in (0, -1)):
            inside = np.abs((face - self.origin) @ self.across) < self.wall / 2 - clear
            if (inside & ((face - top) @ down > clear)).any():
                raise MeshError("a former does not hang beside a wall that runs down through it")


def top_of_former(design: Design, strips: list[Strip], former: list[Strip], widest: float = 0.5 + OVER) -> Top:
    """Find the two stations of the meridian between which the former hangs.

    Raises MeshError where the former leaves from the front face or its top would be too narrow, or reach more than
    `widest` thicknesses from its middle.
    """
    wall, (origin, across) = float(former[0].rows(0.0).sum()), across_of(former)
    chain = _Chain(strips, design.joint or 0, wall, origin, across)
    starts, joint = chain.starts, chain.place
    begin, end = chain.end_of_top(-1), chain.end_of_top(1)
    for at, before, after in zip(starts[1:-1], strips[:-1], strips[1:], strict=True):
        if begin < at < end and (before.end.met.start or after.begin.met.start):
            raise MeshError("a former does not hang from a rear face that has a step where something glued on ends")
    width = np.diff(chain.face(np.array([begin, end])), axis=0)[0] @ across
    if width < NARROWEST_TOP * wall:
        raise MeshError(
            f"the coil former needs a rear face to hang from: at r = {origin[0] * 1e3:.4g} mm the wall offers "
            f"{width * 1e3:.3g} mm of the {wall * 1e3:.3g} mm it needs, because it falls too steeply there; give the "
            f"corner at the joint a radius of at least {wall * 1e3:.3g} mm, or keep the walls beside the former flatter"
        )
    chain.keep_clear(begin, -1)
    chain.keep_clear(end, 1)
    over = [(x, s) for x, s in zip(strips, starts, strict=False) if begin < s + x.length + 1e-12 and s < end + 1e-12]
    ends = [strip.points(np.clip([begin - s, end - s], 0.0, strip.length))[:, 0] for strip, s in over]
    aside = reach_aside(np.concatenate(ends), origin, across, wall, widest)  # before 6 ms go into laying the chain
    breaks: dict[int, list[float]] = {}
    for place in (begin, *chain.borders(begin, end, former[0]), end):
        k = int(chain.strip_at(place))
        if SAME_POINT < place - starts[k] < strips[k].length - SAME_POINT:  # a strip's ends are stations anyway
            breaks.setdefault(k, []).append(place - starts[k])
    size = min(wall, float(strips[chain.joint].begin.rows.sum()))
    step = joint - chain.shoulder(-1), joint + chain.shoulder(1)
    return Top(former, begin, end, breaks, [(begin, size), (end, size)], step, aside)


def across_of(former: list[Strip]) -> tuple[Array, Array]:
    """Where a former's middle begins (2,) and the direction (2,) across its wall."""
    down = former[0].piece.curve.tangent(0.0)
    return former[0].piece.curve.point(0.0), np.array([-down[1], down[0]])


def reach_aside(points: Array, origin: Array, across: Array, wall: float, widest: float = 0.5 + OVER) -> float:
    """How far the points (K, 2) of a top lie from the former's middle, in its thicknesses. Raises MeshError beyond
    `widest`."""
    aside = float(np.abs((points - origin) @ across).max()) / wall
    if aside > widest:
        raise MeshError(
            f"a former hangs from no more than its own width: at r = {origin[0] * 1e3:.4g} mm its top would reach "
            f"{aside * wall * 1e3:.3g} mm from its middle, {widest * wall * 1e3:.3g} mm allowed"
        )
    return aside
