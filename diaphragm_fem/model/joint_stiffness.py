"""How a joint that yields more or less than its walls changes the stiffness about it.

Break the joint open. Each stretch of wall beside it may then move its end by e; with Z the compliance of that end while
the far end is held, n and g the motions of joint and far end, R = Z K_ng (what the far end's motion leaves of it there)
and T the loads of an arm from the joint's independent ones,

    d = sum_a T_a^T (n + R_a g_a),      S = sum_a T_a^T Z_a T_a

are the stretches' deformation under the joint's loads and their compliance. Let the ends move by e_a = -Z_a T_a y, which
leaves n where loads balance, and hang a compliance C between them and the joint. Least energy over y gives

    dK = d^T ((S + C)^-1 - S^-1) d,

exact for the discrete shell: nothing where C vanishes, and for C >= 0 the stiffness stays positive, as a condensed one.
With B of `joint_shares` the part of every arm a is the energy of its own stretch and of its share C_a of the joint after
the move, less the stretch's before it. With D = B d, D_a the part of arm a, and t = c/(1 + c):

    dK_a = D^T (t B S_a B^T t + C_a/(1 + c)^2) D - D^T t D_a - D_a^T t D.

So whatever moduli materials have, none takes more stiffness away than its own stretches hold. Where the joint stiffens
its stretches (c < 0) every arm gains D^T G_a D.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.joint_shares import parted
from diaphragm_fem.model.joint_stretches import LOADED, Stretches
from diaphragm_fem.model.numbering import AXISYMMETRIC, FIELDS

if TYPE_CHECKING:
    from diaphragm_fem.model.shell_line import OrderTerms


class Yield(NamedTuple):
    """Of A arms: compliance Z (A, N, N) of the end at the joint under the N loads of an arm, R (A, N, G), and raw
    degrees of freedom of the end (A, N) and of what stays (A, G)."""

    give: Array
    far: Array
    end_dofs: Index
    far_dofs: Index


def stretch_yield(stretches: Stretches, order: OrderTerms, stiffness: Array) -> Yield:
    """Of stretches whose elements have the stiffness (A, H, F, F)."""
    fields = FIELDS if order.m else AXISYMMETRIC
    loads, count = [fields.index(x) for x in LOADED if x in fields], len(fields)
    own = np.arange(len(fields))
    dofs, last = order.dofs[stretches.elements], stretches.length - 1
    give, far = np.empty((len(dofs), len(loads), len(loads))), np.empty((len(dofs), len(loads), 2 * count - len(loads)))
    for length in np.unique(last).tolist():
        pick = np.flatnonzero(last == length)
        begin, end = 3 * own + stretches.end[pick, None], 3 * own + 1 - stretches.end[pick, None]
        place = np.concatenate((begin, np.broadcast_to(3 * own + 2, begin.shape), end), axis=1)
        bricks = np.take_along_axis(stiffness[pick, : length + 1], place[:, None, :, None], axis=2)
        bricks = np.take_along_axis(bricks, place[:, None, None, :], axis=3)
        whole = bricks[:, 0]
        if length:
            size = (2 * length + 3) * count
            whole = np.zeros((len(pick), size, size))
            for k in range(length + 1):
                here = slice(2 * k * count, (2 * k + 3) * count)
                whole[:, here, here] += bricks[:, k]
        moves = np.array(loads + list(range(count, whole.shape[1] - count)))
        stays = np.array(list(range(whole.shape[1] - count, whole.shape[1])) + [x for x in own if x not in loads])
        known = np.concatenate(
            (np.eye(len(moves), len(loads))[None] + 0 * whole[:, :1, :1], whole[:, moves[:, None], stays]), axis=2
        )
        found = np.linalg.solve(whole[:, moves[:, None], moves], known)[:, : len(loads)]
        give[pick], far[pick] = found[..., : len(loads)], found[..., len(loads) :]
    arm = np.arange(len(dofs))
    near = dofs[arm[:, None], 0, 3 * own + stretches.end[:, None]]
    away = dofs[arm[:, None], last[:, None], 3 * own + 1 - stretches.end[:, None]]
    rest = [x for x in own if x not in loads]
    return Yield(give, far, near[:, loads], np.concatenate((away, near[:, rest]), axis=1))


@cache
def transport(arms: int, loads: int, most: int) -> Array:
    """Loads (most, N, N max(most - 1, 1)) of each arm from the independent ones of a joint of some arms: the last one
    balances the others, a held end has nothing to balance; arms that are not there have none."""
    free = max(arms - 1, 1)
    found = np.zeros((most, loads, max(most - 1, 1), loads))
    for a in range(free):
        found[a, :, a] = np.eye(loads)
        if arms > 1:
            found[free, :, a] = -np.eye(loads)
    return found.reshape(most, loads, -1)


def joint_stiffness(
    found: Yield, arms: Index, carry: Array, excess: Array, crowded: NDArray[np.bool_]
) -> tuple[Index, Array]:
    """Raw degrees of freedom (J, D) and changes of stiffness (J, A, D, D) by arm.

    arms (J, A) index those of `found`, carry (J, A, N, L) has their loads, nothing where there is no arm, excess
    (J, A, L, L) is the joint's in m/N.
    """
    (joints, count), (loads, stays) = arms.shape, found.far.shape[1:]
    turned = carry.swapaxes(-1, -2)
    soft = turned @ found.give[arms] @ carry
    absent = ~carry.any(axis=(1, 2))
    index = np.arange(carry.shape[-1])
    soft[:, 0, index, index] += absent
    part = parted(excess, soft, crowded)
    rows = np.zeros((joints, count, carry.shape[-1], loads + count * stays))
    rows[..., :loads] = turned
    far = turned @ found.far[arms]
    for a in range(count):
        rows[:, a, :, loads + a * stays : loads + (a + 1) * stays] = far[:, a]
    rows = part.directions[:, None] @ rows
    whole, taken = rows.sum(axis=1), part.taken
    inner = part.soft * (taken[:, None, :, None] * taken[:, None, None, :])
    inner[..., index, index] += part.yields + part.stiffens
    back = whole.swapaxes(-1, -2)[:, None]
    cross = (back * taken[:, None, None, :]) @ rows
    change = back @ inner @ whole[:, None] - cross - cross.swapaxes(-1, -2)
    dofs = np.concatenate((found.end_dofs[arms[:, 0]], found.far_dofs[arms].reshape(joints, -1)), axis=1)
    return dofs, change
