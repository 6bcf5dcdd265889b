"""Joints that were cut before: patches kept by their proportions, and read between them.

A kind is brought to unit thickness and unit modulus of its first arm and turned so that its last arm points down; what
is left are proportions. Poisson ratios are kept as they are. Everything that varies freely (ratios of thickness and of
modulus, directions, bends) is read from a lattice, the share of every arm in units of its own modulus and of the
thinnest wall, which holds the others, where they hardly change from point to point: within one cell of it the excess is
a weighted mean of at most one patch more than there are proportions off the lattice (Kuhn's division of a cube into
simplices: H. W. Kuhn, IBM J. Res. Dev. 4 (1960) 518, from memory), so that it varies continuously with the design and
neighbouring designs share their patches.

All joints of a design are read at once: 0.2 ms for the nine of a stepped V, 0.2 ms each one by one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import exp, log, pi, remainder
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.errors import MeshError
from diaphragm_fem.model.joint_patch import Excess, joint_excess
from diaphragm_fem.model.joint_section import Arm, Kind
from diaphragm_fem.model.joint_table import Key, Poisson, shipped

KEPT = 10_000  # patches, 2 kB each
PER_UNIT = np.array([15.0, 6.0, 30.0, 20.0, 2.0])  # lattice points per unit of what `_proportions` gives of an arm
ON_LATTICE = 1e-6  # of a step: as good as on it
MM = 1e-3
MOST_ARMS = 3
ROW = 3 * (6 * 6 + 2 * 2 + 6)  # numbers of a patch
_KNOWN: dict[Key, Excess] = {}


class Found(NamedTuple):
    """Excess of J joints as `Excess`, by arm: plane (J, 3, 6, 6), around (J, 3, 2, 2) and section (J, 3, 6), nothing
    where there is no arm; of each why the solid cannot draw it, or an empty text."""

    plane: Array
    around: Array
    section: Array
    problem: tuple[str, ...]


class _Rows:
    """Patches of any kind side by side in one array, and the text of those that cannot be drawn."""

    def __init__(self) -> None:
        self.clear()

    def clear(self) -> None:
        self.values, self.place = np.zeros((256, ROW)), dict[tuple[bytes, Poisson], int]()
        self.problem = dict[int, str]()

    def __call__(self, corner: bytes, poisson: Poisson) -> int:
        """Row of the patch at a lattice point (15,), of as many arms as Poisson ratios: kept, shipped or new."""
        place = self.place.get((corner, poisson))
        return self._add(corner, poisson) if place is None else place

    def _add(self, corner: bytes, poisson: Poisson) -> int:
        row = len(self.place)
        if row >= len(self.values):
            self.values = np.concatenate((self.values, np.zeros_like(self.values)))
        self.place[corner, poisson] = row
        point = np.frombuffer(corner, np.int64)[: len(PER_UNIT) * len(poisson)]
        try:
            excess = _of_lattice(tuple(point.tolist()), poisson)
        except MeshError as problem:
            self.problem[row] = str(problem)
            return row
        arms, loads = excess.plane.shape[:2]
        plane, around, section = _parts(self.values[row : row + 1])
        shape = point.reshape(arms, -1) / PER_UNIT
        h, modulus = np.exp(shape[:, :1, None]), np.exp(shape[:, 1:2, None])
        size = np.where(np.arange(loads) % 3 == 2, h.min(), 1.0)
        plane[0, :arms, :loads, :loads] = excess.plane * modulus * np.outer(size, size)
        around[0, :arms, : loads // 3, : loads // 3] = excess.around * modulus
        section[0, :arms] = excess.section / h[..., 0] ** [2, 3, 3, 4, 4, 4]
        return row


_ROWS = _Rows()


def _parts(values: Array) -> tuple[Array, Array, Array]:
    """Views (J, 3, 6, 6), (J, 3, 2, 2) and (J, 3, 6) of rows (J, ROW)."""
    plane, around, section = values[:, :108], values[:, 108:120], values[:, 120:]
    return plane.reshape(-1, 3, 6, 6), around.reshape(-1, 3, 2, 2), section.reshape(-1, 3, 6)


def excess_of(kind: Kind) -> Excess:
    """Excess of one kind of joint. Raises MeshError where the solid cannot draw it or a neighbour on the lattice."""
    if not kind.arms:
        raise MeshError("a joint needs an arm")
    found, arms = excess_of_all([kind]), len(kind.arms)
    if found.problem[0]:
        raise MeshError(found.problem[0])
    free = max(arms - 1, 1)
    return Excess(
        found.plane[0, :arms, : 3 * free, : 3 * free], found.around[0, :arms, :free, :free], found.section[0, :arms]
    )


def excess_of_all(kinds: Sequence[Kind]) -> Found:
    """Excess of several kinds of joints."""
    if len(_ROWS.place) > KEPT:
        _ROWS.clear()
    shape = np.array([_proportions(kind) for kind in kinds]).reshape(-1, len(PER_UNIT) * MOST_ARMS)
    weight, corner = _corners(shape)
    joint, step = np.nonzero(weight > 0)
    text = corner[joint, step].tobytes()
    size = corner[0, 0].nbytes if len(corner) else 0
    poisson = [tuple(arm.poisson_ratio for arm in kind.arms) for kind in kinds]
    rows = [_ROWS(text[size * k : size * (k + 1)], poisson[j]) for k, j in enumerate(joint.tolist())]
    read = np.zeros((len(kinds), len(rows)))
    read[joint, np.arange(len(rows))] = weight[joint, step]
    problem = [""] * len(kinds)
    if _ROWS.problem:
        for j, row in zip(joint.tolist(), rows, strict=True):
            problem[j] = problem[j] or _ROWS.problem.get(row, "")
    return _in_place(kinds, read @ _ROWS.values[rows], tuple(problem))


def _proportions(kind: Kind) -> list[float]:
    """Of each arm the logs of its thickness and modulus ratios, the turn, curvature and bend in own thicknesses (15,).

    The turn is that from a straight run into the next arm, nothing for the last one, which points down. Straight runs
    lie on the lattice: on either side of one the excess rises like the size of the turn.
    """
    found, arms = [], kind.arms
    first = arms[0]
    for k, arm in enumerate(arms):
        turn = remainder(arm.direction - arms[k + 1].direction - pi, 2 * pi) if k + 1 < len(arms) else 0.0
        h = arm.thickness
        stiffer = log(arm.youngs_modulus / first.youngs_modulus)
        found += [log(h / first.thickness), stiffer, turn, arm.curvature * h, arm.bend / h]
    return found + [0.0] * (len(PER_UNIT) * (MOST_ARMS - len(arms)))


def _directions(turns: list[float]) -> list[float]:
    """The directions that have these turns."""
    found = [-np.pi / 2]
    for turn in turns[-2::-1]:
        found.insert(0, found[0] + np.pi + turn)
    return found


def _corners(shape: Array) -> tuple[Array, Index]:
    """Weights (J, 16) and lattice points (J, 16, 15) of the simplex around each shape (J, 15); most weigh nothing."""
    place = shape * np.tile(PER_UNIT, MOST_ARMS)
    base = np.floor(place + ON_LATTICE)
    rest = place - base
    rest[rest < ON_LATTICE] = 0.0
    order = np.argsort(-rest, axis=1, kind="stable")
    joints, axes = shape.shape
    levels = np.ones((joints, axes + 2))
    levels[:, 1:-1], levels[:, -1] = np.take_along_axis(rest, order, axis=1), 0.0
    corner = np.zeros((joints, axes + 1, axes), np.int64)
    np.put_along_axis(corner[:, 1:], order[:, :, None], 1, axis=2)
    return levels[:, :-1] - levels[:, 1:], np.cumsum(corner, axis=1) + base.astype(np.int64)[:, None]


def _of_lattice(corner: tuple[int, ...], poisson: Poisson) -> Excess:
    """Excess of the kind at a lattice point, thickness of its first arm 1 mm, modulus 1 Pa: kept, shipped or new."""
    key = corner, poisson
    if key not in _KNOWN:
        if len(_KNOWN) >= KEPT:
            _KNOWN.clear()
        found = shipped().get(key)
        _KNOWN[key] = _patch(corner, poisson) if found is None else found
    return _KNOWN[key]


def known() -> Mapping[Key, Excess]:
    """The patches that this process has met."""
    return _KNOWN


def forget() -> None:
    """Forget them."""
    _KNOWN.clear()
    _ROWS.clear()


def _patch(corner: tuple[int, ...], poisson: Poisson) -> Excess:
    shape = np.array(corner).reshape(len(poisson), -1) / PER_UNIT
    arms = []
    for angle, (thicker, stiffer, _, curvature, bend), nu in zip(
        _directions(shape[:, 2].tolist()), shape.tolist(), poisson, strict=True
    ):
        h = MM * exp(thicker)
        arms.append(Arm(angle, h, exp(stiffer), nu, curvature / h, max(bend, 0.0) * h))
    return joint_excess(Kind(tuple(arms)))


def _in_place(kinds: Sequence[Kind], rows: Array, problem: tuple[str, ...]) -> Found:
    """Rows (J, ROW) back to the size, stiffness and direction of the design."""
    walls = np.ones((2, len(kinds), MOST_ARMS))
    for k, kind in enumerate(kinds):
        for a, arm in enumerate(kind.arms):
            walls[:, k, a] = arm.thickness / MM, arm.youngs_modulus
    turn = np.array([kind.arms[-1].direction + pi / 2 for kind in kinds])[:, None]
    size, modulus = walls
    least = np.array([min(arm.thickness for arm in kind.arms) / MM for kind in kinds])[:, None]
    plane, around, section = _parts(rows)
    c, s = np.cos(turn), np.sin(turn)
    rotate = np.zeros((len(kinds), MOST_ARMS, 6, 6))
    for k in (0, 3):
        rotate[..., k, k] = rotate[..., k + 1, k + 1] = c
        rotate[..., k + 1, k], rotate[..., k, k + 1], rotate[..., k + 2, k + 2] = s, -s, 1 / least
    moments = np.zeros((len(kinds), MOST_ARMS, 6, 6))
    moments[..., 0, 0] = size**2
    moments[..., 1:3, 1:3] = rotate[..., :2, :2] * (size**3)[..., None, None]
    quadratic = [[c * c, -2 * c * s, s * s], [c * s, c * c - s * s, -c * s], [s * s, 2 * c * s, c * c]]
    moments[..., 3:, 3:] = np.moveaxis(np.array(quadratic), (0, 1), (-2, -1)) * (size**4)[..., None, None]
    soft = 1 / modulus[..., None, None]
    return Found(
        rotate @ plane @ rotate.swapaxes(-1, -2) * soft, around * soft, (moments @ section[..., None])[..., 0], problem
    )
