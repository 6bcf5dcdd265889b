"""Walls of the same materials on a line, their thickness alone varying, and what their joints yield along it.

A joint of new proportions costs a patch of the solid, 10 to 60 ms, and fifty thicknesses would need fifty for every
joint. What a joint yields is smooth along the line but where two walls that meet come within 3 % of equal thickness,
for the thicker one ends square on either side, and neither does between: from one such place of its own to the next it
is read through a few patches by polynomials in the logarithm of thickness, at Chebyshev's points with both ends, in
sizes of the joint, which hardly change.
Measured at 7 walls over a factor of four: frequencies up to 20 kHz within 6e-6 (straight V of film or metal), 2e-5
(domes).
Where the solid draws a joint in another way between they may be further off, up to 5e-3 where a soft dome was drawn so
at its surround's thickness less 2 to 3 %: see `WallLine.between`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from itertools import combinations
from typing import Any, TypeAlias

import numpy as np

from diaphragm_fem.answer.walls.places import chebyshev, lagrange, widest
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Design
from diaphragm_fem.design.wall_choice import WallChoice, with_walls
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.mesh.strip_ends import LIPS_FROM
from diaphragm_fem.model.joint.correction import KnownJoints, known_joints
from diaphragm_fem.model.joint.cut import cells_of
from diaphragm_fem.model.joint.joints import End, joints_of, kinds_of
from diaphragm_fem.model.joint.kind import Kind
from diaphragm_fem.model.joint.kinds import Found, excess_of_joints, in_rows, keys_of, meet
from diaphragm_fem.model.joint.patch import Excess

Walls: TypeAlias = Mapping[str, WallChoice]  # of some zones, by their names
Ends: TypeAlias = tuple[End, ...]  # of pieces, by which a joint is told along a line
Sort: TypeAlias = tuple[Any, ...]  # of a joint; the same along a stretch of a line

LEAST_POINTS, POINTS = 3, 4  # of a stretch of the line, and more for every e-fold of thickness
FINER, PARTED, SOLVED = 1, 2, 3  # how much care a joint takes that is misread: see `WallLine`
_STEP = 0.1  # of the logarithm of thickness: wider stretches with the same joints at both ends are looked into
_NARROW = 0.03  # of it: half of the way from 3 % thinner than a neighbour to 3 % thicker; less has no points of its own
_SHARP, _BLUNT = 1e-4, 1e-3  # of it: to which ends of stretches are found, where patches are solved and where not
_SAME = 1e-9  # relative


@dataclass(frozen=True, eq=False)
class _Stretch:
    """Places (P,) on a line, and of which kind a joint is there."""

    places: Array
    kinds: Sequence[Kind]

    @cached_property
    def in_own_sizes(self) -> Excess | None:
        """Its excess (P, ...) at the places, in sizes of the joint; None where the solid cannot draw one of them."""
        found = excess_of_joints(self.kinds)
        return None if not found.known.all() else found.excess.over(_sizes(self.kinds))

    def read(self, place: float) -> Excess:
        """Its excess at a place between, in sizes of the joint."""
        weight = lagrange(self.places, place)
        return Excess(*(np.tensordot(weight, x, 1) for x in self.in_own_sizes or ()))


def _sizes(kinds: Sequence[Kind]) -> Array:
    """Sizes (J,) in m of joints, the means of the logarithms of their walls' thickness."""
    return np.exp([np.mean([np.log(arm.thickness) for arm in kind.arms]) for kind in kinds])


@dataclass(frozen=True, eq=False)
class WallLine:
    """Walls between two, on one mesh, `jointed` or bare; care: that joints take which are misread. They are read
    through twice as many patches less one (FINER), anew, too, where a patch has more or fewer cells, for what it yields
    jumps there by 1e-3, peaks of a light metal by 2e-3 (PARTED), or solved for every wall (SOLVED)."""

    base: Design
    mesh: MeridianMesh
    begin: Walls
    end: Walls
    jointed: bool = True
    care: Mapping[Ends, int] = field(default_factory=dict)

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
        steepest = max(self._rise, key=lambda name: abs(self._rise[name]))
        place = float(np.log(walls[steepest].scale / self.begin[steepest].scale)) * self.length / self._rise[steepest]
        there = self.at(place)
        same = all(
            wall.material == walls[name].material and abs(wall.scale / walls[name].scale - 1) < _SAME
            for name, wall in there.items()
        )
        return place if same else None

    def known(self, walls: Walls, solved: Collection[Ends] = ()) -> KnownJoints | None:
        """The joints of some walls on the line, what they yield read between patches where that is known of them, and
        they are not among those that are solved; None beside the line, and of bare walls."""
        place = self.place(walls) if self.jointed else None
        if place is None:
            return None
        mesh, read = self._mesh(walls), dict[Ends, Excess]()
        joints = joints_of(mesh)
        for ends in [joint.ends for joint in joints if joint.ends not in solved]:
            for stretch in self.read.get(ends, ()):
                if stretch.places[0] <= place <= stretch.places[-1]:
                    read[ends] = stretch.read(place)
        some, others = (tuple(x for x in joints if (x.ends in read) == there) for there in (True, False))
        excess = in_rows(list(read.values())).over(1 / _sizes([joint.kind for joint in some]))
        if not others:
            return KnownJoints(some, Found(*excess, np.ones(len(some), bool)), ())
        left = known_joints(mesh, others)
        every = in_rows([Excess(*one) for found in (excess, left.excess.excess) for one in zip(*found, strict=True)])
        return KnownJoints((*some, *left.joints), Found(*every, np.ones(len(every.plane), bool)), left.remarks)

    def careful(self, ends: Ends) -> WallLine:
        """The same with more care for one joint."""
        found = replace(self, care={**self.care, ends: self.care.get(ends, 0) + 1})
        vars(found).update(_met=self._met, _cut=self._cut)
        return found

    @property
    def between(self) -> list[tuple[Walls, list[Ends]]]:
        """The walls farthest from the patches of a stretch, and the joints that are read through these: where one jumps
        it tells there, by 2e-3 of a frequency."""
        found: dict[float, list[Ends]] = {}
        for ends, stretches in self.read.items():
            for stretch in stretches:
                if len(set(keys_of(stretch.kinds))) > 1:  # else it is the same all along
                    found.setdefault(widest(stretch.places), []).append(ends)
        return [(self.at(place), joints) for place, joints in found.items()]

    @cached_property
    def way(self) -> float:
        """What the logarithm of thickness gains with a place: 1, or -1 where walls become thinner."""
        return 1.0 if max(self._rise.values(), key=abs) > 0 else -1.0

    @property
    def even(self) -> list[tuple[float, float]]:
        """Places between which all joints are read, and what they change of their walls are the same elements."""
        read = [(0.0, self.length)]
        for stretches in self.read.values():
            ends = [stretch.places[[0, -1]].tolist() for stretch in stretches]
            read = [(max(a, c), min(b, d)) for a, b in read for c, d in ends if max(a, c) < min(b, d)]
        found: list[tuple[float, float]] = []
        for begin, end in read:
            found += self._alike(begin, end, self._reach, _BLUNT)
        return found

    @cached_property
    def read(self) -> dict[Ends, list[_Stretch]]:
        """Of each joint those between whose patches it is read."""
        self.meet()
        return {ends: [x for x in own if x.in_own_sizes] for ends, own in self._all_stretches.items()}

    def meet(self, held: Sequence[Walls] = (), others: Sequence[Walls] = ()) -> None:
        """Solve the patches that joints are read through, those of some walls that they are held against, and those of
        other materials in the same thicknesses: 4 instead of 17 ms each, as they share their cuts."""
        asked: dict[float, list[Ends]] = {}
        for ends, stretches in self._all_stretches.items():
            for stretch in stretches:
                for place in (*stretch.places.tolist(), widest(stretch.places)):
                    asked.setdefault(place, []).append(ends)
        kinds = [self._kinds(place)[ends] for place, some in asked.items() for ends in some]
        for made_of in others:
            for place, some in asked.items():
                found = self._kinds_of(self.at(place), made_of)
                kinds += [found[ends] for ends in some if ends in found]
        kinds += [kind for x in (self.begin, *others) for walls in held for kind in self._kinds_of(walls, x).values()]
        meet(keys_of(kinds))

    @cached_property
    def _all_stretches(self) -> dict[Ends, list[_Stretch]]:
        """Of each joint those of the line along which it is of one sort."""
        found = {}
        for ends in dict.fromkeys((*self._kinds(0.0), *self._kinds(self.length))):
            care = self.care.get(ends, 0)
            if (ends, care) not in self._cut:
                self._cut[ends, care] = list(self._cut_of(ends, care)) if care < SOLVED else []
            found[ends] = self._cut[ends, care]
        return found

    def _cut_of(self, ends: Ends, care: int) -> Iterator[_Stretch]:
        """The same of one joint, at Chebyshev's points with both ends."""
        sort = partial(self._sort, ends, care == PARTED)
        for begin, end in self._alike(0.0, self.length, sort, _BLUNT if care == PARTED else _SHARP):
            if end - begin > _NARROW and sort(begin):
                count = LEAST_POINTS + int(POINTS * (end - begin))
                places = chebyshev(begin, end, 2 * count - 1 if care else count)  # the first ones among them
                yield _Stretch(places, [self._kinds(place)[ends] for place in places.tolist()])

    def _alike(
        self, begin: float, end: float, sort_at: Callable[[float], Sort], sharp: float
    ) -> list[tuple[float, float]]:
        """Stretches between two places with one sort each."""
        ends = self._ends(begin, sort_at(begin), end, sort_at(end), sort_at, sharp)
        return list(zip([begin, *(b for _, b in ends)], [*(a for a, _ in ends), end], strict=True))

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
        joints = joints_of(self._mesh(self.at(place)), list(self._kinds(place).items()))
        return tuple((tuple(map(tuple, joint.stretches)), joint.crowded) for joint in joints)

    def _sort(self, ends: Ends, parted: bool, place: float) -> Sort:
        """Which wall of two is the thicker in a joint, and how many cells its patch has if that counts; nothing where
        the joint is not there."""
        kind = self._kinds(place).get(ends)
        if kind is None:
            return ()
        ratio = [np.log(one.thickness / other.thickness) for one, other in combinations(kind.arms, 2)]
        thicker = np.trunc(np.array(ratio) / np.log(LIPS_FROM)).clip(-1, 1)
        return tuple(thicker.astype(int).tolist()), cells_of(kind) if parted else 0

    def _kinds(self, place: float) -> dict[Ends, Kind]:
        """The joints at a place."""
        if place not in self._met:
            self._met[place] = self._kinds_of(self.at(place), self.begin)
        return self._met[place]

    def _kinds_of(self, walls: Walls, made_of: Walls) -> dict[Ends, Kind]:
        """The joints of walls as thick as some and made of what others are."""
        own = {name: WallChoice(made_of[name].material, wall.scale) for name, wall in walls.items()}
        return dict(kinds_of(self._mesh(own))) if self.jointed else {}

    @cached_property
    def _met(self) -> dict[float, dict[Ends, Kind]]:
        return {}

    @cached_property
    def _cut(self) -> dict[tuple[Ends, int], list[_Stretch]]:
        return {}

    def _mesh(self, walls: Walls) -> MeridianMesh:
        return MeridianMesh(with_walls(self.base, walls), self.mesh.stations, self.mesh.up_to_hz)


def known_on(line: WallLine | None, walls: Walls) -> KnownJoints | None:
    """The joints of some walls as they are read on a line; None where they are to be solved."""
    return None if line is None else line.known(walls)
