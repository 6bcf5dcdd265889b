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

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.model.joint.kind import transport
from diaphragm_fem.model.joint.parts import Alike
from diaphragm_fem.model.joint.shares import Parted, parted
from diaphragm_fem.model.joint.stretches import LOADED, Stretches
from diaphragm_fem.model.shell.line import OrderTerms
from diaphragm_fem.model.shell.numbering import AXISYMMETRIC, FIELDS


class Yield(NamedTuple):
    """Of P parts of arms under the N loads of an arm at the joint: compliance Z (P, N, N), a part's share of the energy
    under unit loads; what these do with the motions of the joint's end, near (P, N, N), the identity for a whole arm,
    and of what stays, R (P, N, G): the far end and what bears no load of the joint, of an arm in parts what lies
    between as well; raw degrees of freedom of the end (P, N) and of what stays (P, G); how many stay (P,)."""

    give: Array
    near: Array
    far: Array
    end_dofs: Index
    far_dofs: Index
    stays: Index

    def picked(self, some: Index) -> Yield:
        """That of some of the parts."""
        return Yield._make(x[some] for x in self)


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
    length, bear, count = stretches.length[arm], len(loads), len(loads) + len(rest)
    place, dofs = from_joint(stretches.end, count)[arm], order.dofs[stretches.elements[arm]]
    split, every, stay = np.bincount(arm)[arm] > 1, np.arange(len(arm))[:, None], count + len(rest)
    stays = stay + (2 * length - 1) * count * split
    end_dofs, give = dofs[every, 0, place[:, 0, loads]], np.empty((len(arm), bear, bear))
    near, far = np.repeat(np.eye(bear)[None], len(arm), axis=0), np.zeros((len(arm), bear, stays.max()))
    far_dofs = np.repeat(end_dofs[:, :1], far.shape[2], axis=1)  # of fewer: a place of the joint, and nothing
    far_dofs[:, :count] = dofs[every, length[:, None] - 1, place[:, 2]]
    far_dofs[:, count:stay] = dofs[every, 0, place[:, 0, rest]]
    for long in sorted(set(length.tolist())):
        of, (free, held) = np.flatnonzero(length == long), chain(long, order.m > 0)
        way, apart = place[of].reshape(len(of), 1, -1), split[of]
        each = chained(stiffness[rows[of, :long, None, None], way[..., None], way[:, :, None]])
        whole = _summed(each, arm[of]) if apart.any() else each
        known = np.empty((len(whole), len(free), bear + stay))
        known[..., :bear], known[..., bear:] = np.eye(len(free), bear), whole[:, free[:, None], held]
        solved = np.linalg.solve(whole[:, free[:, None], free], known)
        give[of], far[of, :, :stay] = solved[:, :bear, :bear], solved[:, :bear, bear:]
        if apart.any():
            of, moved = of[apart], solved[apart, :, :bear]
            work, between = moved.mT @ each[apart][:, free], slice(stay, stays[of[0]])
            give[of], near[of] = work[..., free] @ moved, work[..., free[:bear]]
            far[of, :, :stay], far[of, :, between] = work[..., held], work[..., free[bear:]]
            inner = dofs[of[:, None, None], np.arange(long)[:, None], place[of, 1:].reshape(len(of), 1, -1)]
            far_dofs[of, between] = inner.reshape(len(of), -1)[:, :-count]
    return Yield(give, near, far, end_dofs, far_dofs, stays)


def _summed(each: Array, arm: Index) -> Array:
    """What belongs to parts (P, D, D) summed over all those of each one's arm."""
    begins = np.diff(arm, prepend=-1) > 0
    return np.asarray(np.add.reduceat(each, np.flatnonzero(begins))[np.cumsum(begins) - 1])


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


def parted_joints(give: Array, own: Alike, excess: Array, crowded: Flags) -> tuple[Array, Parted]:
    """What loads (P, N, L) some parts bear, and their joints told apart; their compliance `give` (P, N, N), excess
    (P, L, L) in m/N and crowded (J,)."""
    carry = transport(own.free, give.shape[1])[own.arm]
    each = np.zeros((2, len(own.joints), own.place.max() + 1, *excess.shape[1:]))
    each[:, own.joint, own.place] = excess, carry.mT @ give @ carry
    return carry, parted(each[0], each[1], crowded)


def joint_stiffness(found: Yield, own: Alike, excess: Array, crowded: Flags) -> tuple[Index, Array]:
    """Raw degrees of freedom and change of stiffness of each part, (P, D) and (P, D, D); `found` is of the parts, other
    arguments as above."""
    carry, part = parted_joints(found.give, own, excess, crowded)
    (_, loads, most), wide = found.far.shape, np.zeros(own.free + 1, np.int64)
    np.maximum.at(wide, own.arm, found.stays)
    begin, first = np.cumsum([loads, *wide.tolist()]), own.place == 0
    column, joint, place = begin[own.arm, None] + np.arange(most), own.joint[:, None], own.place[:, None]
    rows = np.zeros((*part.soft.shape[:3], begin[-1] + most))
    rows[own.joint, own.place, :, :loads] = carry.mT @ found.near
    rows[joint, place, :, column] = (carry.mT @ found.far).mT
    dofs = np.repeat(found.end_dofs[first, :1], rows.shape[-1], axis=1)
    dofs[:, :loads] = found.end_dofs[first]
    dofs[joint, column] = found.far_dofs  # of an arm with fewer, where the next one's come over it
    change = part.change(part.directions[:, None] @ rows[..., : begin[-1]])
    return dofs[own.joint, : begin[-1]], change[own.joint, own.place]
