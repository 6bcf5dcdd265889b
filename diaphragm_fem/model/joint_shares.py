"""What a joint yields more or less than its walls, told apart; of each every arm has a share that is not negative.

All is measured by the compliance S of the stretches of wall beside the joint, under the joint's loads. In the
directions B that make B S B^T the identity and B C B^T diagonal, C the joint's excess compliance, with ratios c: where
c < 0 the stretches give way by 1 + c of what they did, held above 1 + STIFFEST. An arm's share of a direction is its
part of the diagonal of C, or of what stiffens; where it is negative, for one arm may gain what another loses, it is
held at zero and the others are scaled so that the sum stays.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index

STIFFEST = -0.9  # a joint's own yield over that of the stretches of wall beside it
NONE = 1e-12  # of the stretches' own: a ratio that is no excess
CROWDED = 1 + np.sqrt(2)  # two joints at the ends of one element: neither takes more than 1 - 1/sqrt(2) of its force


class Parted(NamedTuple):
    """Of J joints of A arms and L loads: directions B (J, L, L); the share (J, L) of the stretches' loads that the
    joint's yielding takes away; of every arm its compliance in these directions (J, A, L, L), and what its shares of
    the joint hold when the joint gives way and when it stiffens (J, A, L)."""

    directions: Array
    taken: Array
    soft: Array
    yields: Array
    stiffens: Array

    def kept(self, joint: Index, place: Index) -> tuple[Array, Array]:
        """Of P arms of some joints t S_a t and all that they hold more (P, L, L), and t (P, L)."""
        taken, every = self.taken[joint], range(self.taken.shape[1])
        inner = self.soft[joint, place] * (taken[:, :, None] * taken[:, None])
        inner[:, every, every] += self.yields[joint, place] + self.stiffens[joint, place]
        return inner, taken


def parted(excess: Array, soft: Array, crowded: Flags) -> Parted:
    """Excess and the compliance of the stretches (J, A, L, L) by arm, the sum of the latter positive; crowded (J,) are
    joints that share an element with another one."""
    back = np.linalg.inv(np.linalg.cholesky(soft.sum(axis=1)))
    whole = excess.sum(axis=1)
    ratio, turn = np.linalg.eigh(back @ whole @ back.swapaxes(-1, -2))
    to = turn.swapaxes(-1, -2) @ back
    each = to[:, None]
    within = ((each @ excess) * each).sum(axis=-1)
    own = each @ soft @ each.swapaxes(-1, -2)
    positive = np.maximum(ratio, 0.0)
    positive /= 1 + CROWDED * crowded[:, None] * positive
    kept = _held(ratio)
    give = (1 / (1 + kept))[:, None]
    less = np.divide(kept, ratio, out=np.zeros_like(ratio), where=ratio < -NONE)[:, None]
    diagonal = np.diagonal(own, axis1=-2, axis2=-1)
    stiffens = shared((diagonal + less * within) * give**2 - diagonal, give[:, 0] - 1)
    yields = shared(within, positive / (1 + positive) ** 2)
    return Parted(to, positive / (1 + positive), own, yields, stiffens)


def shared(wanted: Array, total: Array) -> Array:
    """Shares (J, A, L), none negative, of totals (J, L) >= 0, in proportion to what is positive of `wanted`; nothing
    where none is."""
    positive = np.maximum(wanted, 0.0)
    whole = positive.sum(axis=1)
    return positive * np.divide(total, whole, out=np.zeros_like(total), where=(total > NONE) & (whole > 0))[:, None]


def _held(ratio: Array) -> Array:
    """Negative ratios, held above STIFFEST; nothing for others."""
    half = STIFFEST / 2
    return np.minimum(np.maximum(ratio, half) + half * np.tanh(np.minimum(ratio - half, 0.0) / half), 0.0)


def positive_part(moments: Array) -> Array:
    """Symmetric matrices (..., L, L) without their negative eigenvalues."""
    level, axes = np.linalg.eigh(moments)
    return np.asarray((axes * np.maximum(level, 0.0)[..., None, :]) @ axes.swapaxes(-1, -2))
