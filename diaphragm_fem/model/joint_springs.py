"""What a joint gives way more than its walls: springs between the ends of the walls and the joint.

With f = K_n u the forces on the ends of the free arms, K_nn the stiffness of those ends and C >= 0 what the joint
yields more, a spring C put between end and joint, its far side condensed, changes the stiffness by

    dK = -f^T Y f,    Y = C (1 + K_nn C)^-1

which is exact for the discrete shell and leaves it positive whatever C. The last arm stays tied to the joint. To each
material a its share, d/d ln E, for C in shares C_a >= 0 that add up:

    dK_a = -(f_a^T Y f + f^T Y f_a - f^T (Z C_a Z^T + Y K_a Y) f),    Z = (1 + C K_nn)^-1.

With what the material's own element holds, this is the energy of that element and of C_a when the ends have moved: no
share is negative, so that the whole stays positive whatever moduli the materials have. Joints whose springs share an
element are taken together.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.int64]


class Together(NamedTuple):
    """J sets of springs of the same make: arms (J, A) and those among them that are free (J, K); excess compliances
    (J, A, K N, K N) by arm, each positive, times metres of circle; whether the elements of two free arms are one
    (J, K, K)."""

    arms: Index
    free: Index
    excess: Array
    one: NDArray[np.bool_]


def together(joints: list[tuple[Index, Array]], element: Index, loads: int) -> list[Together]:
    """Springs of joints, given as arms (J, A) and excess (J, A, L, L) of those of equally many arms; `element` (A,) is
    what an arm begins with. Joints that share one become one set."""
    free = [arms[:, : max(arms.shape[1] - 1, 1)] for arms, _ in joints]
    used = np.concatenate([element[x].ravel() for x in free])
    found, apart = [], []
    shared = len(np.unique(used)) < len(used)
    counts = np.bincount(used)
    for (arms, excess), own in zip(joints, free, strict=True):
        alone = (counts[element[own]] == 1).all(axis=1)
        if alone.any():
            one = np.broadcast_to(np.eye(own.shape[1], dtype=bool), (int(alone.sum()), own.shape[1], own.shape[1]))
            found.append(Together(arms[alone], own[alone], excess[alone], one))
        apart += [(arms[j], own[j], excess[j]) for j in np.flatnonzero(~alone)]
    while shared and apart:
        chain, rest = [apart.pop()], apart
        while True:
            held = set(np.concatenate([element[own] for _, own, _ in chain]).tolist())
            more = [x for x in rest if held & set(element[x[1]].tolist())]
            if not more:
                break
            chain += more
            rest = [x for x in rest if not held & set(element[x[1]].tolist())]
        apart = rest
        found.append(_joined(chain, element, loads))
    return found


def _joined(chain: list[tuple[Index, Index, Array]], element: Index, loads: int) -> Together:
    """Several joints as one set of springs."""
    arms, free = (np.concatenate([x[k] for x in chain]) for k in (0, 1))
    excess = np.zeros((1, len(arms), loads * len(free), loads * len(free)))
    row = column = 0
    for own, ends, each in chain:
        here = slice(column, column + loads * len(ends))
        excess[0, row : row + len(own), here, here] = each
        row, column = row + len(own), here.stop
    return Together(arms[None], free[None], excess, (element[free][:, None] == element[free])[None])


def spring_changes(some: Together, forces: Array, around: Array, motions: Index) -> Array:
    """Change (J, A, K F, K F) of the stiffness by arm.

    Of every arm (A,): forces (A, N, F) on its end from the functions of its first element, per metre of circle; metres
    of circle; which of the functions are the motions (A, N) of its end.
    """
    (joints, free), (count, functions) = some.free.shape, forces.shape[1:]
    force = forces[some.free] * around[some.free][..., None, None]
    stiff, rows = np.zeros((joints, free, count, free, count)), np.zeros((joints, free, count, free, functions))
    for x in range(free):
        rows[:, x, :, x] = force[:, x]
        for y in range(free):
            cut = np.take_along_axis(force[:, x], motions[some.free[:, y]][:, None], axis=2)
            stiff[:, x, :, y] = cut * some.one[:, x, y, None, None]
    each = some.excess / around[some.arms][..., None, None]
    pull, square = rows.reshape(joints, free * count, -1), stiff.reshape(joints, free * count, -1)
    soft = each.sum(axis=1)
    turn = np.linalg.inv(np.eye(free * count) + soft @ square)  # Z
    pulled, moved = turn @ soft @ pull, (turn.swapaxes(-1, -2) @ pull)[:, None]
    changes = moved.swapaxes(-1, -2) @ each @ moved
    place = {int(arm): k for k, arm in enumerate(some.arms[0])}
    for x, a in enumerate(place[int(arm)] for arm in some.free[0]):
        own, part = np.zeros_like(stiff), np.zeros_like(rows)
        own[:, x] += stiff[:, x] / 2
        own[:, :, :, x] += stiff[:, :, :, x] / 2
        part[:, x] = rows[:, x]
        cross = part.reshape(pull.shape).swapaxes(-1, -2) @ pulled
        changes[:, a] += pulled.swapaxes(-1, -2) @ own.reshape(square.shape) @ pulled - cross - cross.swapaxes(-1, -2)
    return np.asarray(changes)
