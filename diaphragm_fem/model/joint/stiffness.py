"""How a joint that yields more or less than its walls changes the stiffness about it.

Break the joint open. Each stretch of wall beside it may then move its end by e; with Z the compliance of that end while
the far end is held, n and g the motions of joint and far end, R = Z K_ng (what the far end's motion leaves of it there)
and T the loads of an arm from the joint's independent ones,

    d = sum_a T_a^T (n + R_a g_a),      S = sum_a T_a^T Z_a T_a

are the stretches' deformation under the joint's loads and their compliance. Let the ends move by e_a = -Z_a T_a y,
which leaves n where loads balance, and hang a compliance C between them and the joint. Least energy over y gives

    dK = d^T ((S + C)^-1 - S^-1) d,

exact for the discrete shell: nothing where C vanishes, and for C >= 0 the stiffness stays positive, as a condensed one.
With B of `joint.shares` the part of every arm a is the energy of its own stretch and of its share of the joint after
the move, less the stretch's before it: of D = B d, D_a the part of arm a, t = c/(1 + c) and x_a = D_a - B S_a B^T t D,

    dK_a = D^T t B S_a B^T t D - D^T t D_a - D_a^T t D + a's share of (1 - t) D's.

So whatever moduli materials have, none takes more stiffness away than its own stretches hold.
"""

from collections.abc import Callable
from functools import cache
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.model.joint.shares import Parted, parted
from diaphragm_fem.model.joint.stretches import LOADED, Stretches
from diaphragm_fem.model.shell.line import OrderTerms
from diaphragm_fem.model.shell.numbering import AXISYMMETRIC, FIELDS


class Yield(NamedTuple):
    """Of P parts of arms under the N loads of an arm at the joint: compliance Z (P, N, N), a part's share of the energy
    under unit loads; what these do with the motions of the joint's end, near (P, N, N), the identity for a whole arm,
    and of what stays, R (P, N, G): the far end and what bears no load of the joint, of an arm in parts what lies
    between as well; raw degrees of freedom of the end (P, N) and of what stays (P, G)."""

    give: Array
    near: Array
    far: Array
    end_dofs: Index
    far_dofs: Index


class Fields(NamedTuple):
    """Numbers of the fields of an order that bear loads (N,), and of those that bear none (F - N,)."""

    loads: Index
    rest: Index


@cache
def fields_of(around: bool) -> Fields:
    """Those of m = 0, or of orders with motion around."""
    fields = FIELDS if around else AXISYMMETRIC
    loads = [fields.index(x) for x in LOADED if x in fields]
    rest = [k for k in range(len(fields)) if k not in loads]
    return Fields(np.array(loads), np.array(rest, np.int64))


FROM_JOINT = np.array([(0, 2, 1), (1, 2, 0)])  # an element's nodes from the joint on, which is at its begin or end


def from_joint(end: int | Index, count: int) -> Index:
    """Places (..., 3, F) of an element's F motions at its nodes from the joint on, which is at an end (...)."""
    return FROM_JOINT[end, :, None] + 3 * np.arange(count)


def stretch_yield(stretches: Stretches, order: OrderTerms, stiffness: Array, rows: Index, arm: Index) -> Yield:
    """Of parts (P,) of the stretches' arms, arm by arm, whose elements are `rows` (P, H) of those that have the
    stiffness (E, F, F)."""
    loads, rest = fields_of(order.m > 0)
    length, bear, count = stretches.length, len(loads), len(loads) + len(rest)
    place, arms = from_joint(stretches.end, count), np.arange(len(length))[:, None]
    near, away, turned = place[:, 0], place[:, 2], place.reshape(len(place), 1, -1)[arm]
    split = np.flatnonzero(np.bincount(arm) > 1).tolist()

    def bricks(some: Index, long: int) -> Array:
        """Stiffness (p, long, 3 F, 3 F) of the elements of some parts, their motions from the joint on."""
        way = turned[some]
        return stiffness[rows[some, :long, None, None], way[..., None], way[:, :, None]]

    found, moved = np.empty((len(length), bear, bear + count + len(rest))), dict[int, Array]()
    for long in sorted(set(length.tolist())):
        pick, (free, held) = np.flatnonzero(length == long), chain(long, order.m > 0)
        of = np.flatnonzero(length[arm] == long)
        whole = np.add.reduceat(bricks(of, long), np.searchsorted(arm[of], pick)) if split else bricks(of, long)
        own = chained(whole)
        known = np.empty((len(pick), len(free), found.shape[2]))
        known[..., :bear], known[..., bear:] = np.eye(len(free), bear), own[:, free[:, None], held]
        solved = np.linalg.solve(own[:, free[:, None], free], known)
        found[pick] = solved[:, :bear]
        if split:
            moved.update(zip(pick.tolist(), solved[..., :bear], strict=True))
    dofs, unit = order.dofs[stretches.elements], np.repeat(np.eye(bear)[None], len(arms), axis=0)
    stays = np.concatenate((dofs[arms, length[:, None] - 1, away], dofs[arms, 0, near[:, rest]]), axis=1)
    told = Yield(found[..., :bear], unit, found[..., bear:], dofs[arms, 0, near[:, loads]], stays)
    if not split:
        return told
    between = {k: dofs[k, : length[k], place[k, 1:].ravel()].T.ravel()[:-count] for k in split}
    return _told_apart(told, arm, length, bricks, moved, between)


def _told_apart(
    whole: Yield,
    arm: Index,
    length: Index,
    bricks: Callable[[Index, int], Array],
    moved: dict[int, Array],
    between: dict[int, Index],
) -> Yield:
    """The yield of whole arms told apart by part, of those that move in several (D, N) under their loads; `between` has
    the raw degrees of freedom between their ends."""
    (loads, stay), room = whole.far.shape[1:], max(map(len, between.values()))
    give, near, ends = whole.give[arm], whole.near[arm], whole.end_dofs[arm]
    far = np.concatenate((whole.far[arm], np.zeros((len(arm), loads, room))), axis=-1)
    stays = np.concatenate((whole.far_dofs[arm], np.repeat(ends[:, :1], room, axis=1)), axis=1)
    for k, inner in between.items():
        own, long, beyond = np.flatnonzero(arm == k), int(length[k]), slice(stay, stay + len(inner))
        free, held = chain(long, loads > len(AXISYMMETRIC))
        work = moved[k].T @ chained(bricks(own, long))[:, free]
        give[own], near[own] = work[..., free] @ moved[k], work[..., free[:loads]]
        far[own, :, :stay], far[own, :, beyond] = work[..., held], work[..., free[loads:]]
        stays[own, beyond] = inner
    return Yield(give, near, far, ends, stays)


@cache
def chain(long: int, around: bool) -> tuple[Index, Index]:
    """Of so many elements, motions node by node from the joint on: the free ones, those that bear loads first, and
    what stays, the far end first."""
    loads, rest = fields_of(around)
    count = len(loads) + len(rest)
    far = 2 * long * count
    return np.concatenate((loads, np.arange(count, far))), np.concatenate((np.arange(far, far + count), rest))


def chained(bricks: Array) -> Array:
    """Stiffness (A, D, D) of stretches from that of their elements (A, H, 3 F, 3 F), motions of both node by node from
    the joint on."""
    arms, long, size, _ = bricks.shape
    step = 2 * size // 3
    whole = np.zeros((arms, long * step + size - step, long * step + size - step))
    for k in range(long):
        own = slice(k * step, k * step + size)
        whole[:, own, own] += bricks[:, k]
    return whole


def parted_joints(give: Array, arms: Index, carry: Array, excess: Array, crowded: Flags) -> Parted:
    """Joints told apart, their parts of compliance `give` (P, N, N); other arguments as below."""
    soft = carry.mT @ give[arms] @ carry
    every = range(carry.shape[-1])
    soft[:, 0, every, every] += ~carry.any(axis=(1, 2))  # loads that are not there
    return parted(excess, soft, crowded)


def joint_stiffness(found: Yield, arms: Index, carry: Array, excess: Array, crowded: Flags) -> tuple[Index, Array]:
    """Raw degrees of freedom and change of stiffness of each part, joint by joint, (P, D) and (P, D, D).

    arms (J, most) index those of `found`, -1 where there is none; carry (J, most, N, L) has their loads, nothing where
    there is no arm, excess (J, most, L, L) is the joint's in m/N.
    """
    (joints, count), (loads, stays), size = arms.shape, found.far.shape[1:], carry.shape[-1]
    turned, part = carry.mT, parted_joints(found.give, arms, carry, excess, crowded)
    rows = np.zeros((joints, count, size, loads + count * stays))
    rows[..., :loads] = turned @ found.near[arms]
    far = turned @ found.far[arms]
    for a in range(count):
        rows[:, a, :, loads + a * stays : loads + (a + 1) * stays] = far[:, a]
    change = part.change(part.directions[:, None] @ rows)
    there = np.where(arms >= 0, arms, arms[:, :1])  # an arm that is not there has a place of the joint, and nothing
    dofs = np.concatenate((found.end_dofs[arms[:, 0]], found.far_dofs[there].reshape(joints, -1)), axis=1)
    joint, place = np.nonzero(arms >= 0)
    return dofs[joint], change[joint, place]
