"""Joints that were cut before: patches kept by their proportions, and read between them.

A kind is brought to unit thickness and unit modulus of its first arm and turned so that its last arm points down; what
is left are proportions. Materials are kept as they are. Everything that varies freely (ratios of thickness,
directions, bends) is read from a lattice: within one cell of it the excess is a weighted mean of at most one patch more
than there are proportions off the lattice (Kuhn's division of a cube into simplices: H. W. Kuhn, IBM J. Res. Dev. 4
(1960) 518, from memory), so that it varies continuously with the design and neighbouring designs share their patches.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.errors import MeshError
from diaphragm_fem.model.joint_patch import Excess, joint_excess
from diaphragm_fem.model.joint_section import Arm, Kind
from diaphragm_fem.model.joint_table import Key, key_of, shipped

Array = NDArray[np.float64]

KEPT = 20_000  # patches, 1 kB each
PER_UNIT = np.array([20.0, 20.0, 20.0, 8.0])  # lattice points per unit of: log thickness, turn, curvature, bend
ON_LATTICE = 1e-6  # of a step: as good as on it
_KNOWN: dict[Key, Excess] = {}
Proportions = tuple[tuple[float, ...], ...]


@lru_cache(maxsize=KEPT)
def excess_of(kind: Kind) -> Excess:
    """Excess of a kind of joint. Raises MeshError where the solid cannot draw it or a neighbour on the lattice."""
    first = kind.arms[0]
    turn = kind.arms[-1].direction + np.pi / 2
    shape = np.array([_proportions(arm, first) for arm in kind.arms])
    shape[:, 1] = _turns([arm.direction for arm in kind.arms])
    materials = tuple((arm.youngs_modulus / first.youngs_modulus, arm.poisson_ratio) for arm in kind.arms)
    mean: list[Array] | None = None
    for weight, corner in _corners(shape):
        part = [weight * x for x in _of_lattice(corner, materials)]
        mean = part if mean is None else [a + b for a, b in zip(mean, part, strict=True)]
    if mean is None:
        raise MeshError("a joint needs an arm")
    return _in_place(Excess(*mean), first, turn)


def _proportions(arm: Arm, first: Arm) -> Array:
    """log thickness ratio, room for the turn, curvature and bend in own thicknesses."""
    h = arm.thickness
    return np.array([np.log(h / first.thickness), 0.0, arm.curvature * h, arm.bend / h])


def _turns(directions: list[float]) -> list[float]:
    """By how much each arm turns from a straight run into the next one; the last arm, which points down, by nothing.

    Straight runs lie on the lattice: on either side of one the excess rises like the size of the turn.
    """
    turns = [a - b - np.pi for a, b in pairwise(directions)]
    return [float(np.remainder(x + np.pi, 2 * np.pi) - np.pi) for x in turns] + [0.0]


def _directions(turns: list[float]) -> list[float]:
    """The directions that have these turns."""
    found = [-np.pi / 2]
    for turn in turns[-2::-1]:
        found.insert(0, found[0] + np.pi + turn)
    return found


def _corners(shape: Array) -> list[tuple[float, tuple[int, ...]]]:
    """Weights and lattice points of the simplex around a shape (A, 4)."""
    place = (shape * PER_UNIT).ravel()
    base = np.floor(place + ON_LATTICE)
    rest = np.maximum(place - base, 0.0)
    rest[rest < ON_LATTICE] = 0.0
    order = np.argsort(-rest, kind="stable")
    levels = np.concatenate(([1.0], rest[order], [0.0]))
    corner, found = base.astype(np.int64), []
    for step, weight in enumerate(levels[:-1] - levels[1:]):
        if step:
            corner[order[step - 1]] += 1
        if weight > 0:
            found.append((float(weight), tuple(corner.tolist())))
        if step < len(order) and rest[order[step]] == 0:
            break
    return found


def _of_lattice(corner: tuple[int, ...], materials: Proportions) -> Excess:
    """Excess of the kind at a lattice point, thickness of its first arm 1 mm, modulus 1 Pa: kept, shipped or new."""
    key = key_of(corner, materials)
    if key not in _KNOWN:
        if len(_KNOWN) >= KEPT:
            _KNOWN.clear()
        found = shipped().get(key)
        _KNOWN[key] = _patch(corner, materials) if found is None else found
    return _KNOWN[key]


def known() -> Mapping[Key, Excess]:
    """The patches that this process has met."""
    return _KNOWN


def _patch(corner: tuple[int, ...], materials: Proportions) -> Excess:
    shape = np.array(corner).reshape(-1, 4) / PER_UNIT
    arms = []
    angles = _directions(shape[:, 1].tolist())
    for angle, (log_ratio, _, curvature, bend), (modulus, nu) in zip(angles, shape.tolist(), materials, strict=True):
        h = MM * float(np.exp(log_ratio))
        arms.append(Arm(angle, h, modulus, nu, curvature / h, max(bend, 0.0) * h))
    return joint_excess(Kind(tuple(arms)))


MM = 1e-3


def _in_place(excess: Excess, first: Arm, turn: float) -> Excess:
    """Back to the size, stiffness and direction of the design."""
    size, modulus = first.thickness / MM, first.youngs_modulus
    c, s = np.cos(turn), np.sin(turn)
    rotate = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0 / size]])
    whole = np.kron(np.eye(excess.plane.shape[1] // 3), rotate)
    quadratic = np.array([[c * c, -2 * c * s, s * s], [c * s, c * c - s * s, -c * s], [s * s, 2 * c * s, c * c]])
    section = np.concatenate(
        (
            excess.section[:, :1] * size**2,
            excess.section[:, 1:3] @ rotate[:2, :2].T * size**3,
            excess.section[:, 3:] @ quadratic.T * size**4,
        ),
        axis=1,
    )
    return Excess(whole @ excess.plane @ whole.T / modulus, excess.around / modulus, section)
