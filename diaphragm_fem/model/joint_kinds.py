"""Joints that were cut before: patches kept by their proportions.

A kind is brought to unit thickness and unit modulus of its first arm and turned so that its last arm points down; what
is left are proportions, rounded to a ten-millionth, and Poisson ratios as they are. Reading between patches on a
lattice was tried: on random parts it needed 40 patches where nine do, and was 2e-4 of a frequency off.

All joints of a design are read at once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import exp, log, pi, remainder
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.errors import MeshError
from diaphragm_fem.model.joint_patch import Excess, joint_excess
from diaphragm_fem.model.joint_section import Arm, Kind
from diaphragm_fem.model.joint_table import Key, Poisson, shipped

KEPT = 10_000  # patches, 2 kB each
STEP = 1e-7  # of what `_proportions` gives: nearer kinds are one
NUMBERS = 5  # of an arm
MM = 1e-3
MOST_ARMS = 3
ROW = 3 * (6 * 6 + 2 * 2 + 6)  # numbers of a patch


class Found(NamedTuple):
    """Excess of J joints as `Excess`, by arm, or by layer of every arm where there are laminates: plane (J, 3, 6, 6),
    around (J, 3, 2, 2) and section (J, 3, 6), nothing where there is no arm; of each why the solid cannot draw it, or
    an empty text."""

    plane: Array
    around: Array
    section: Array
    problem: tuple[str, ...]


class _Rows:
    """Patches of any kind side by side in one array, and the text of those that cannot be drawn."""

    def __init__(self) -> None:
        self.clear()

    def clear(self) -> None:
        self.values, self.place = np.zeros((256, ROW)), dict[Key, int]()
        self.excess, self.problem = dict[Key, Excess](), dict[int, str]()

    def __call__(self, key: Key) -> int:
        """Row of a patch: kept, shipped or new."""
        place = self.place.get(key)
        return self._add(key) if place is None else place

    def _add(self, key: Key) -> int:
        row = len(self.place)
        if row >= len(self.values):
            self.values = np.concatenate((self.values, np.zeros_like(self.values)))
        self.place[key] = row
        try:
            self.excess[key] = excess = shipped().get(key) or _patch(*key)
        except MeshError as problem:
            self.problem[row] = str(problem)
            return row
        arms, loads = excess.plane.shape[:2]
        plane, around, section = _parts(self.values[row : row + 1])
        shape = STEP * np.array(key[0]).reshape(arms, -1)
        h, modulus = np.exp(shape[:, :1, None]), np.exp(shape[:, 1:2, None])
        size = np.where(np.arange(loads) % 3 == 2, h, 1.0)
        plane[0, :arms, :loads, :loads] = excess.plane * modulus * size * size.swapaxes(1, 2)
        around[0, :arms, : loads // 3, : loads // 3] = excess.around * modulus
        section[0, :arms] = excess.section / h[..., 0] ** [2, 3, 3, 4, 4, 4]
        return row


_ROWS = _Rows()


def _parts(values: Array) -> tuple[Array, Array, Array]:
    """Views (J, 3, 6, 6), (J, 3, 2, 2) and (J, 3, 6) of rows (J, ROW)."""
    plane, around, section = values[:, :108], values[:, 108:120], values[:, 120:]
    return plane.reshape(-1, 3, 6, 6), around.reshape(-1, 3, 2, 2), section.reshape(-1, 3, 6)


def excess_of(kind: Kind) -> Excess:
    """Excess of one kind of joint. Raises MeshError where the solid cannot draw it."""
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
    points = np.rint(np.array([_proportions(kind) for kind in kinds]) / STEP).astype(np.int64).tolist()
    rows = [
        _ROWS((tuple(point[: NUMBERS * len(kind.arms)]), tuple(arm.poisson_ratio for arm in kind.arms)))
        for point, kind in zip(points, kinds, strict=True)
    ]
    problem = tuple(_ROWS.problem.get(row, "") for row in rows)
    return _in_place(kinds, _ROWS.values[np.array(rows, np.int64)], problem)


def _proportions(kind: Kind) -> list[float]:
    """Of each arm the logs of its thickness and modulus ratios, the turn, curvature and bend in own thicknesses (15,).

    The turn is that from a straight run into the next arm, nothing for the last one, which points down.
    """
    found, arms = [], kind.arms
    first = arms[0]
    for k, arm in enumerate(arms):
        turn = remainder(arm.direction - arms[k + 1].direction - pi, 2 * pi) if k + 1 < len(arms) else 0.0
        h = arm.thickness
        stiffer = log(arm.youngs_modulus / first.youngs_modulus)
        found += [log(h / first.thickness), stiffer, turn, arm.curvature * h, arm.bend / h]
    return found + [0.0] * (NUMBERS * (MOST_ARMS - len(arms)))


def _directions(turns: list[float]) -> list[float]:
    """The directions that have these turns."""
    found = [-np.pi / 2]
    for turn in turns[-2::-1]:
        found.insert(0, found[0] + np.pi + turn)
    return found


def known() -> Mapping[Key, Excess]:
    """The patches that this process has met."""
    return _ROWS.excess


def forget() -> None:
    """Forget them."""
    _ROWS.clear()


def _patch(point: tuple[int, ...], poisson: Poisson) -> Excess:
    """The patch of some proportions, thickness of its first arm 1 mm, modulus 1 Pa."""
    shape = STEP * np.array(point).reshape(len(poisson), -1)
    arms = []
    for angle, (thicker, stiffer, _, curvature, bend), nu in zip(
        _directions(shape[:, 2].tolist()), shape.tolist(), poisson, strict=True
    ):
        h = MM * exp(thicker)
        arms.append(Arm(angle, h, exp(stiffer), nu, curvature / h, bend * h))
    return joint_excess(Kind(tuple(arms)))


def _in_place(kinds: Sequence[Kind], rows: Array, problem: tuple[str, ...]) -> Found:
    """Rows (J, ROW) back to the size, stiffness and direction of the design."""
    walls = np.ones((2, len(kinds), MOST_ARMS))
    for k, kind in enumerate(kinds):
        for a, arm in enumerate(kind.arms):
            walls[:, k, a] = arm.thickness / MM, arm.youngs_modulus
    turn = np.array([kind.arms[-1].direction + pi / 2 for kind in kinds])[:, None]
    size, modulus = walls
    plane, around, section = _parts(rows)
    c, s = np.cos(turn), np.sin(turn)
    rotate = np.zeros((len(kinds), MOST_ARMS, 6, 6))
    for k in (0, 3):
        rotate[..., k, k] = rotate[..., k + 1, k + 1] = c
        rotate[..., k + 1, k], rotate[..., k, k + 1], rotate[..., k + 2, k + 2] = s, -s, 1 / size
    moments = np.zeros((len(kinds), MOST_ARMS, 6, 6))
    moments[..., 0, 0] = size**2
    moments[..., 1:3, 1:3] = rotate[..., :2, :2] * (size**3)[..., None, None]
    quadratic = [[c * c, -2 * c * s, s * s], [c * s, c * c - s * s, -c * s], [s * s, 2 * c * s, c * c]]
    moments[..., 3:, 3:] = np.moveaxis(np.array(quadratic), (0, 1), (-2, -1)) * (size**4)[..., None, None]
    soft = 1 / modulus[..., None, None]
    return Found(
        rotate @ plane @ rotate.swapaxes(-1, -2) * soft, around * soft, (moments @ section[..., None])[..., 0], problem
    )
