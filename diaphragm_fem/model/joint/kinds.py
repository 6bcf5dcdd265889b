"""Joints that were cut before: patches kept by their proportions.

A kind is brought to unit thickness and unit modulus of its first arm and turned so that its last arm points down; what
is left are proportions, rounded to a ten-millionth, and Poisson ratios as they are. Layers and glue are part of them.

All joints of a design are read at once.
"""

from __future__ import annotations

import os
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import lru_cache
from itertools import pairwise
from math import exp, log, pi, remainder
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Flags
from diaphragm_fem.errors import DesignError, MeshError
from diaphragm_fem.model.joint.book import Book, begin_book
from diaphragm_fem.model.joint.cut import ARMS, alike_in_cut, patch_of
from diaphragm_fem.model.joint.kind import STRAIGHT, Arm, Bend, Glue, Kind, Ply, arm_of
from diaphragm_fem.model.joint.patch import OF_SECTION, Excess, joint_excess, may_be_of
from diaphragm_fem.model.joint.range import JointRange, Sort, sort_of
from diaphragm_fem.model.joint.table import MM, STEP, Key, most_bends, shipped

KEPT = 10_000  # patches, 2 kB each
MOST_ARMS = 3


class Found(NamedTuple):
    """Excess of J joints as `Excess`, by layer of every arm, P = 3 or more, nothing where there is none: plane
    (J, P, 6, 6), around (J, P, 2, 2), section (J, P, 6) and twist (J, P), turning (J, 2) of all; whether the solid can
    draw it (J,)."""

    plane: Array
    around: Array
    section: Array
    twist: Array
    turning: Array
    known: Flags

    @property
    def excess(self) -> Excess:
        """Without whether it is known."""
        return Excess(*self[:-1])

    def picked(self, some: slice | Flags) -> Found:
        """That of some of the joints."""
        return Found._make(x[some] for x in self)


_KNOWN: dict[Key, Excess | None] = {}  # nothing where the solid cannot draw it
_BOOKS: list[Book] = []  # at most one
_OFFERED: dict[Key, Excess | None] = {}  # read in it, and not asked for yet
_RANGES: dict[Sort, list[JointRange]] = {}


def excess_of_joints(kinds: Sequence[Kind]) -> Found:
    """Excess of several kinds of joints."""
    while len(_KNOWN) > KEPT:
        del _KNOWN[next(iter(_KNOWN))]
    solved = [_read(key) for key in keys_of(kinds)]
    return Found(*_in_place(kinds, in_rows(solved)), np.array([one is not None for one in solved], bool))


def in_rows(each: Sequence[Excess | None]) -> Excess:
    """Excess of J joints (J, ...) as `Found` has it; nothing where nothing is known."""
    most = max([MOST_ARMS, *(len(one.plane) for one in each if one)])
    sizes = (most, 6, 6), (most, 2, 2), (most, 6), (most,), (2,)
    whole = Excess(*(np.zeros((len(each), *size)) for size in sizes))
    for place, one in enumerate(each):
        if one:
            parts, free, _ = one.around.shape
            whole.plane[place, :parts, : 3 * free, : 3 * free] = one.plane
            whole.around[place, :parts, :free, :free] = one.around
            whole.section[place, :parts] = one.section
            whole.twist[place, :parts] = one.twist
            whole.turning[place, :free] = one.turning
    return whole


def meet(keys: Iterable[Key]) -> None:
    """Solve the patches of many proportions that will be asked for, those that share a cut one after another, each
    process in an order of its own: those that share a book at the same time then hardly solve one twice."""
    groups: dict[Hashable, list[Key]] = {}
    for key in dict.fromkeys(key for key in keys if key not in _KNOWN):
        groups.setdefault(alike_in_cut(_kind(key)), []).append(key)
    order = list(groups.values())
    Random(os.getpid()).shuffle(order)
    for key in (key for own in order for key in own):
        _read(key)


def known() -> Mapping[Key, Excess]:
    """The patches that this process has met."""
    return {key: one for key, one in _KNOWN.items() if one}


def share_in(path: str | None) -> None:
    """Share patches with all processes that do so in the same file; with none where there is none."""
    for book in _BOOKS:
        book.close()
    _OFFERED.clear()
    _BOOKS[:] = [] if path is None else [Book(path)]


@contextmanager
def shared_with_children() -> Iterator[None]:
    """Processes forked within the block share the patches that they solve, among themselves and with this one: in the
    book that is open, else in one for the block alone."""
    if any(book.usable for book in _BOOKS):
        yield
        return
    with TemporaryDirectory() as folder:
        book = Path(folder) / "joints"
        share_in(str(book) if begin_book(book) else None)
        try:
            yield
        finally:
            share_in(None)


def read_over(ranges: Sequence[JointRange]) -> None:
    """From here on read joints within some ranges there, whether their own patches are known or not; with none, of
    none."""
    _RANGES.clear()
    for one in ranges:
        _RANGES.setdefault(one.sort, []).append(one)


def met(kinds: Sequence[Kind]) -> bool:
    """Whether no joint of some kinds needs a patch that this process has not met; within ranges few do."""
    return all(key in _KNOWN or (_RANGES and sort_of(key) in _RANGES) for key in keys_of(kinds))


def keys_of(kinds: Sequence[Kind]) -> list[Key]:
    return [_key(kind) for kind in kinds]


@lru_cache(maxsize=256)  # joints of designs made side by side are asked for twice: by `met`, and to be read
def _key(kind: Kind) -> Key:
    """How many layers each arm has; of each arm the logs of its layers' thickness and modulus ratios, the turn, bends
    and, of several layers, lift in own thicknesses; of glue its side and the logs of its radius and modulus ratio; the
    Poisson ratios of all.

    The turn is that from a straight run into the next arm, nothing for the last one, which points down.
    """
    found: list[float] = []
    poisson: list[float] = []
    layers, (_, thick, modulus, *_) = [], kind.arms[0]
    turns = [remainder(arm.direction - other.direction - pi, 2 * pi) for arm, other in pairwise(kind.arms)]
    for (_, h, own, nu, bends, plies, lift), turn in zip(kind.arms, (*turns, 0.0), strict=True):
        for ply in plies or ((h, own, nu),):
            found += log(ply[0] / thick), log(ply[1] / modulus)
            poisson.append(ply[2])
        found.append(turn)
        layers.append(len(plies) or 1)
        for curvature, length in (*bends, STRAIGHT, STRAIGHT)[: most_bends(layers[-1])]:
            found += curvature * h, length / h
        if plies:
            found.append(lift / h)
    for glue in kind.glue:
        found += float(glue.inside), log(glue.radius / thick), log(glue.youngs_modulus / modulus)
        poisson.append(glue.poisson_ratio)
    return Key(tuple(layers), tuple([round(x / STEP) for x in found]), tuple(poisson))


def _kind(key: Key) -> Kind:
    """The kind of some proportions, thickness of its first arm `MM`, modulus 1 Pa."""
    numbers, poisson = iter((STEP * np.array(key.points)).tolist()), iter(key.poisson)
    stacks, turns = [], []
    for count in key.layers:
        stacks.append(tuple(Ply(MM * exp(next(numbers)), exp(next(numbers)), next(poisson)) for _ in range(count)))
        turn, bends = next(numbers), [(next(numbers), next(numbers)) for _ in range(most_bends(count))]
        turns.append((turn, bends, next(numbers) if count > 1 else 0.0))
    glue = tuple(Glue(inside > 0.5, MM * exp(next(numbers)), exp(next(numbers)), next(poisson)) for inside in numbers)
    arms: list[Arm] = []
    for plies, (turn, bends, lift) in zip(stacks[::-1], turns[::-1], strict=True):
        h = sum(ply.thickness for ply in plies)
        direction = arms[0].direction + pi + turn if arms else -pi / 2
        own = tuple(Bend(c / h, length * h) for c, length in bends if length)
        arms.insert(0, arm_of(direction, plies, own, lift * h))
    return Kind(tuple(arms), glue)


def _read(key: Key) -> Excess | None:
    """What a joint of some proportions yields: read within a range or known by its patch."""
    sort = sort_of(key) if _RANGES else None
    for one in _RANGES.get(sort, ()) if sort else ():
        if (found := one.read(key)) is not None:
            return found
    return patch_of_key(key)


def patch_of_key(key: Key) -> Excess | None:
    """The patch of some proportions, kept, shared, shipped or new; nothing where the solid cannot draw it."""
    if key in _KNOWN:
        return _KNOWN[key]
    for book in _BOOKS:
        _OFFERED.update(book.news())
    _KNOWN[key] = _OFFERED.pop(key, None) if _may_be(key) else (shipped().get(key) or _drawn(key))
    return _KNOWN[key]


def _may_be(key: Key) -> bool:
    """Whether a book offers a patch that may be that of some proportions."""
    if (found := _OFFERED.get(key)) is not None:
        return may_be_of(_kind(key), found)
    return key in _OFFERED


def _drawn(key: Key) -> Excess | None:
    found = solved_patch(key)
    for book in _BOOKS:
        book.add(key, found)
    return found


def solved_patch(key: Key) -> Excess | None:
    """The patch of some proportions, solved here and now; nothing where the solid cannot draw it."""
    try:
        return _patch(key)
    except (MeshError, DesignError):
        return None


def _patch(key: Key) -> Excess:
    return joint_excess(_kind(key))


@lru_cache(maxsize=KEPT)
def why_bare(kind: Kind, zones: tuple[str, ...] = ARMS) -> str:
    """Why the solid cannot draw or solve a kind, in its own sizes, its arms called by their zones."""
    try:
        patch_of(kind, zones)
    except (MeshError, DesignError) as problem:
        return problem.elsewhere
    return "the solid draws it but cannot solve it: moduli or thicknesses are too unequal"


def _in_place(kinds: Sequence[Kind], excess: Excess) -> Excess:
    """Excess (J, ...) back to the size, stiffness and direction of the design."""
    first = [(x.arms[0].thickness / MM, x.arms[0].youngs_modulus, x.arms[-1].direction + pi / 2) for x in kinds]
    size, modulus, turn = np.array(first).reshape(-1, 3).T
    c, s, none = np.cos(turn), np.sin(turn), np.zeros(len(kinds))
    cc, cs, ss = c * c, c * s, s * s
    loads = np.array([[c, -s, none], [s, c, none], [none, none, 1 / size]]).transpose(2, 0, 1)
    rotate, moments = np.zeros((len(kinds), 2, 3, 2, 3)), np.zeros((len(kinds), 6, 6))
    rotate[:, 0, :, 0] = rotate[:, 1, :, 1] = loads
    moments[:, 0, 0], moments[:, 1:3, 1:3] = 1.0, loads[:, :2, :2]
    quadratic = np.array([[cc, -2 * cs, ss], [cs, cc - ss, -cs], [ss, 2 * cs, cc]])
    moments[:, 3:, 3:] = quadratic.transpose(2, 0, 1)
    each, stiff, size = rotate.reshape(-1, 1, 6, 6), modulus[:, None, None, None], size[:, None]
    return Excess(
        each @ excess.plane @ each.mT / stiff,
        excess.around / stiff,
        excess.section @ moments.mT * size[..., None] ** OF_SECTION,
        excess.twist * modulus[:, None] * size**4,
        excess.turning * size**2,
    )
