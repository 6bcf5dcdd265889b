"""Walls of the same materials on a line, their thickness alone varying, and what their joints yield along it.

A joint of new proportions costs a patch of the solid, 10 to 60 ms, and fifty thicknesses would need fifty for every
joint. What joints yield is smooth along the line but where two walls that meet come within 3 % of equal thickness, for
the thicker one ends square on either side, and neither does between: from one such place to the next it is read through
a few patches by polynomials in the logarithm of thickness, at Chebyshev's points with both ends, in sizes of the joint,
which hardly change.
Measured at 7 walls over a factor of four: frequencies up to 20 kHz within 6e-6 (straight V of film or metal), 2e-5
(domes).
Where the solid draws a joint in another way between they may be further off, up to 5e-3 where a soft dome was drawn so
at its surround's thickness less 2 to 3 %: see `WallLine.between`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import Any, TypeAlias

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.mesh.strip import LIPS_FROM
from diaphragm_fem.model.joint.correction import KnownJoints, known_joints
from diaphragm_fem.model.joint.cut import cells_of
from diaphragm_fem.model.joint.joints import Joint, joints_of
from diaphragm_fem.model.joint.kinds import Found, keys_of, meet

Walls: TypeAlias = Mapping[str, WallChoice]  # of some zones, by their names

LEAST_POINTS, POINTS = 3, 4  # of a stretch of the line, and more for every e-fold of thickness
_STEP = 0.1  # of the logarithm of thickness: wider stretches with the same joints at both ends are looked into
_NARROW = 0.03  # of it: half of the way from 3 % thinner than a neighbour to 3 % thicker; less has no points of its own
_SHARP, _BLUNT = 1e-4, 1e-3  # of it: to which ends of stretches are found, where patches are solved and where not
_SAME = 1e-9  # relative
_OF_LOADS, _OF_SECTION = np.array([0, 0, 1, 0, 0, 1]), np.array([2, 3, 3, 4, 4, 4])  # powers of lengths in them

Sort: TypeAlias = tuple[Any, ...]  # of joints; the same along a stretch of a line


@dataclass(frozen=True, eq=False)
class _Stretch:
    """Places (P,) on a line, and what the same joints are there."""

    places: Array
    known: Sequence[KnownJoints]

    def read(self, place: float, joints: Sequence[Joint]) -> KnownJoints | None:
        """What joints at a place between yield, None where they are others."""
        first = self.known[0]
        ends = [joint.ends for joint in first.joints]
        some = tuple(joint for joint in joints if joint.ends in ends)
        if [joint.ends for joint in some] != ends:
            return None
        weight = lagrange(self.places, place)
        plane, around, section = (np.tensordot(weight, x, 1) for x in self._in_own_sizes)
        excess = _in_sizes(Found(plane, around, section, first.excess.problem), some, -1)
        return KnownJoints(some, excess, first.remarks)

    @cached_property
    def _in_own_sizes(self) -> list[Array]:
        """Excess (P, J, ...) at the places, plane, around and section, in sizes of each joint."""
        every = [_in_sizes(known.excess, known.joints, 1) for known in self.known]
        return [np.array(x) for x in ([x.plane for x in every], [x.around for x in every], [x.section for x in every])]


def _in_sizes(excess: Found, joints: Sequence[Joint], way: int) -> Found:
    """Excess with moments and sections over sizes of their joints (way 1), the mean of the logarithms of its walls'
    thickness, or back from these (-1): the moments of a film a quarter as thick yield 16 times as much, and polynomials
    through as few patches were 2 to 15 times as far off.
    """
    size = np.exp([np.mean([np.log(arm.thickness) for arm in joint.kind.arms]) for joint in joints])[:, None]
    load, part = size ** (way * _OF_LOADS), size ** (-way * _OF_SECTION)
    plane = excess.plane * load[:, None, :, None] * load[:, None, None, :]
    return excess._replace(plane=plane, section=excess.section * part[:, None])


@dataclass(frozen=True, eq=False)
class WallLine:
    """Walls between two, on one mesh; finer: whether joints are read through twice as many patches less one; parted:
    anew where a patch has more or fewer cells: what it yields jumps there by 1e-3, peaks of a light metal by 2e-3."""

    base: Design
    mesh: MeridianMesh
    begin: Walls
    end: Walls
    finer: bool = False
    parted: bool = False

    @cached_property
    def _rise(self) -> dict[str, float]:
        """Of every zone the logarithm of its thickness at the end over that at the beginning."""
        return {name: float(np.log(self.end[name].scale / wall.scale)) for name, wall in self.begin.items()}

    @cached_property
    def length(self) -> float:
        """The largest of these."""
        return max(map(abs, self._rise.values()), default=0.0)

    @property
    def straight(self) -> bool:
        """Whether thickness, and nothing else, differs."""
        alike = self.begin.keys() == self.end.keys()
        return alike and all(wall.material == self.end[name].material for name, wall in self.begin.items())

    def at(self, place: float) -> Walls:
        """The walls at a place 0 ... length."""
        share = place / self.length if self.length else 0.0
        return {
            name: WallChoice(wall.material, wall.scale * float(np.exp(share * self._rise[name])))
            for name, wall in self.begin.items()
        }

    def place(self, walls: Walls) -> float | None:
        """Where some walls lie on the line, None beside it."""
        if not self.length or walls.keys() != self.begin.keys():
            return None
        widest = max(self._rise, key=lambda name: abs(self._rise[name]))
        place = float(np.log(walls[widest].scale / self.begin[widest].scale)) * self.length / self._rise[widest]
        there = self.at(place)
        same = all(
            wall.material == walls[name].material and abs(wall.scale / walls[name].scale - 1) < _SAME
            for name, wall in there.items()
        )
        return place if same else None

    def known(self, walls: Walls) -> KnownJoints | None:
        """The joints of some walls on the line, what they yield read between patches; None where that is not known."""
        place = self.place(walls)
        if place is None:
            return None
        stretch = next((x for x in self._stretches if x.places[0] <= place <= x.places[-1]), None)
        return None if stretch is None else stretch.read(place, joints_of(self._mesh(walls)))

    @property
    def between(self) -> list[Walls]:
        """The walls farthest from the patches of each stretch, where a joint that jumps tells: 2e-3 of a frequency."""
        return [self.at(widest(stretch.places)) for stretch in self._stretches]

    @cached_property
    def way(self) -> float:
        """What the logarithm of thickness gains with a place: 1, or -1 where walls become thinner."""
        return 1.0 if max(self._rise.values(), key=abs) > 0 else -1.0

    @property
    def even(self) -> list[tuple[float, float]]:
        """Places between which joints are read, and the walls beside them that they change are the same elements."""
        found: list[tuple[float, float]] = []
        for stretch in self._stretches:
            begin, end = stretch.places[[0, -1]].tolist()
            jumps = self._ends(begin, self._reach(begin), end, self._reach(end), self._reach, _BLUNT)
            found += zip([begin, *(b for _, b in jumps)], [*(a for a, _ in jumps), end], strict=True)
        return found

    @cached_property
    def _stretches(self) -> list[_Stretch]:
        self.meet()
        found = []
        for places in self._all_places:
            known = [known_joints(self.mesh, self._joints(place)) for place in places.tolist()]
            if len({tuple(joint.ends for joint in one.joints) for one in known}) == 1:
                found.append(_Stretch(places, known))
        return found

    def meet(self, held: Sequence[Walls] = (), others: Sequence[Walls] = ()) -> None:
        """Solve the patches that joints are read through, those of some walls that they are held against, and those of
        other materials in the same thicknesses: 4 instead of 17 ms each, as they share their cuts."""
        places = [place for places in self._all_places for place in [*places.tolist(), widest(places)]]
        joints = [self._joints(place) for place in places] + [joints_of(self._mesh(walls)) for walls in held]
        for walls in [*map(self.at, places if others else ()), *held]:
            for made_of in others:
                some = {name: WallChoice(made_of[name].material, wall.scale) for name, wall in walls.items()}
                joints.append(joints_of(self._mesh(some)))
        meet(keys_of([joint.kind for some in joints for joint in some]))

    @cached_property
    def _all_places(self) -> list[Array]:
        """Chebyshev's points of each stretch of the line with the same sort of joints, with both ends."""
        found, sharp = [], _BLUNT if self.parted else _SHARP
        ends = self._ends(0.0, self._sort(0.0), self.length, self._sort(self.length), self._sort, sharp)
        for begin, end in zip([0.0, *(b for _, b in ends)], [*(a for a, _ in ends), self.length], strict=True):
            if end - begin > _NARROW:
                count = LEAST_POINTS + int(POINTS * (end - begin))
                count = 2 * count - 1 if self.finer else count  # the first ones among them
                found.append(chebyshev(begin, end, count))
        return found

    def _ends(
        self, a: float, sort: Sort, b: float, other: Sort, sort_at: Callable[[float], Sort], sharp: float
    ) -> list[tuple[float, float]]:
        """Where some sort changes between two places: the places just before and behind."""
        if sort == other and b - a < _STEP:
            return []
        if sort != other and b - a < sharp:
            return [(a, b)]
        middle = (a + b) / 2
        between = sort_at(middle)
        return [
            *self._ends(a, sort, middle, between, sort_at, sharp),
            *self._ends(middle, between, b, other, sort_at, sharp),
        ]

    def _reach(self, place: float) -> Sort:
        """The elements that joints change."""
        joints = self._joints(place)
        return tuple((tuple(map(tuple, joint.stretches)), joint.crowded) for joint in joints)

    def _sort(self, place: float) -> Sort:
        """Which joints there are, which wall of two is the thicker, and how many cells patches have if that counts."""
        joints = self._joints(place)
        cells = tuple(cells_of(joint.kind) for joint in joints) if self.parted else ()
        ratio = [
            np.log(one.thickness / other.thickness)
            for joint in joints
            for one, other in combinations(joint.kind.arms, 2)
        ]
        thicker = np.trunc(np.array(ratio) / np.log(LIPS_FROM)).clip(-1, 1)
        return tuple(joint.ends for joint in joints), tuple(thicker.astype(int).tolist()), cells

    def _joints(self, place: float) -> list[Joint]:
        if place not in self._met:
            self._met[place] = joints_of(self._mesh(self.at(place)))
        return self._met[place]

    @cached_property
    def _met(self) -> dict[float, list[Joint]]:
        return {}

    def _mesh(self, walls: Walls) -> MeridianMesh:
        return MeridianMesh(with_walls(self.base, walls), self.mesh.stations, self.mesh.up_to_hz)


def chebyshev(begin: float, end: float, count: int) -> Array:
    """Chebyshev's points (P,) between two places, with both of them."""
    return np.asarray((begin + end - (end - begin) * np.cos(np.pi * np.arange(count) / (count - 1))) / 2)


def lagrange(places: Array, place: float) -> Array:
    """What the values at places (P,) count at another, read by the polynomial through them."""
    own = np.eye(len(places), dtype=bool)
    return np.asarray((np.where(own, 1.0, place - places) / (places[:, None] - places + own)).prod(axis=1))


def widest(places: Array) -> float:
    """The middle of the widest gap between places (P,)."""
    k = int(np.diff(places).argmax())
    return float(places[k : k + 2].mean())


def line_through(base: Design, mesh: MeridianMesh, samples: Sequence[Walls]) -> WallLine | None:
    """The line that all of some walls lie on; None where they lie on none, or thickness is not all that differs."""
    lines = [WallLine(base, mesh, samples[0], other) for other in samples[1:]]
    longest = max((line for line in lines if line.straight), key=lambda line: line.length, default=None)
    return longest if longest and all(longest.place(walls) is not None for walls in samples) else None


def known_on(line: WallLine | None, walls: Walls) -> KnownJoints | None:
    """The joints of some walls as they are read on a line; None where they are to be solved."""
    return None if line is None else line.known(walls)
