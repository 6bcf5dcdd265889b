"""What a joint yields more or less than its walls, told apart by arm; none takes stiffness that it does not have.

A joint's excess compliance C belongs to its arms, so that it follows the modulus and the losses of each. Where it is
negative, the joint being stiffer than its walls, no arm may be given more than its own stretch of wall holds: else the
whole could lose its positive stiffness for other moduli.

All is measured by the compliance S of the stretches of wall beside the joint, under the joint's loads. In the
directions B that make B S B^T the identity and B C B^T diagonal, C the joint's excess compliance, with ratios c: where
c > 0 the joint's yielding takes t = c/(1 + c) of the loads; where c < 0 the stretches give way by 1 + c of what they
did, held above 1 + STIFFEST. Of the deformation D the stretches keep k = (1 - t) D, the sum of x_a, those of each arm
whose part of S is S_a. Beside them the joint holds k^T T k, T = c or 1/(1 + c) - 1, and an arm's share of that is
F_a = m (S_a + C_a) m - S_a, m = 1 or 1/(1 + c): how the whole follows the modulus of a, F_a of all arms being T.

F_a may have any sign, for one arm may gain what another loses. What is negative of it, alone or together with loads
that the arm's stretch does not bear (rubber that a joint of film and former squeezes), is covered by that stretch,
which holds x_a^T S_a^-1 x_a at least. With F_a = P_a - S_a N_a S_a, P_a not negative, N_a below LENT S_a^-1, Y the sum
of all P_a:

    o_a = x_a - S_a k,      u = Y^-1 sum_a S_a N_a o_a,      r = sum_a o_a^T N_a o_a - u^T Y u,
    arm a holds (k + u)^T P_a (k + u) - x_a^T N_a x_a + w_a r,      w_a parts of one.

These add up to k^T T k whatever the motion; r is not negative (Schur); and where loads balance o_a = 0: each arm has
its true share. What no stretch covers is held at nothing, all P_a turned so that the sum stays.
"""

from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Flags

STIFFEST = -0.9  # a joint's own yield over that of the stretches of wall beside it
LENT = 0.9  # the most of what its stretch holds that covers an arm's negative share
NONE = 1e-12  # of the stretches' own: a ratio that is no excess
ROUNDING = 1e-8  # of the largest, or of 1: what an arm has of loads that it does not bear is up to 2e-12
CROWDED = 1 + np.sqrt(2)  # two joints at the ends of one element: neither takes more than 1 - 1/sqrt(2) of its force


class Parted(NamedTuple):
    """Of J joints of A arms and L loads: directions B (J, L, L), t (J, L), of every arm S_a and P_a (J, A, L, L), Y^-1
    (J, L, L), nothing where nothing is lent, of every arm N_a."""

    directions: Array
    taken: Array
    soft: Array
    holds: Array
    yields: Array
    lent: Array

    @property
    def each(self) -> Array:
        """(J, A, L, A L), the deformation of every arm by those of all."""
        count, size = self.soft.shape[1:3]
        return np.broadcast_to(np.eye(count * size).reshape(count, size, -1), (*self.soft.shape[:3], count * size))

    def change(self, own: Array) -> Array:
        """(J, A, D, D), what each arm holds after the move, less what its stretch held before it, of D motions by which
        arms deform by `own` (J, A, L, D) in these directions."""
        whole = own.sum(axis=1)
        moved = self.taken[..., None] * whole
        given, kept, moved = self.soft @ moved[:, None], (whole - moved)[:, None], moved[:, None]
        left = own - given
        off = left - self.soft @ kept
        borne = self.lent @ off
        force = (self.soft @ borne).sum(axis=1)
        more = self.yields @ force
        rest = (off.mT @ borne).sum(axis=1) - more.mT @ force
        share = np.trace(self.holds, axis1=-2, axis2=-1)
        share /= np.maximum(share.sum(axis=1), NONE)[:, None]
        load = kept + more[:, None]
        # t S_a t D - 2 t D_a: its symmetric part has t D_a and its transpose
        change = moved.mT @ (given - 2 * own) + load.mT @ self.holds @ load - left.mT @ self.lent @ left
        change += share[..., None, None] * rest[:, None]
        return (change + change.mT) / 2


def parted(excess: Array, soft: Array, crowded: Flags) -> Parted:
    """Excess and the compliance of the stretches (J, A, L, L) by arm, the sum of the latter positive; crowded (J,) are
    joints that share an element with another one: their stretches have nothing to lend."""
    back = np.linalg.inv(np.linalg.cholesky(soft.sum(axis=1)))
    ratio, turn = np.linalg.eigh(back @ excess.sum(axis=1) @ back.mT)
    to = turn.mT @ back
    each = to[:, None]
    positive = np.maximum(ratio, 0.0)
    positive /= 1 + CROWDED * crowded[:, None] * positive
    kept = positive + _held(ratio)
    give, some = 1 / (1 + kept), np.abs(ratio) > NONE
    most = np.maximum(give, 1.0)
    own = each @ soft @ each.mT
    less = np.sqrt(np.divide(kept, ratio, out=np.ones_like(ratio), where=some)) * most
    wanted = _scaled(each @ excess @ each.mT, less[:, None]) + _scaled(own, most[:, None]) - own
    holds, yields, lent = wanted, np.zeros_like(excess[:, 0]), np.zeros_like(wanted)
    short = _negative(wanted)
    if short.any():  # of two joints in five
        lends, some = short & ~crowded[:, None], short.any(axis=1)
        lent[lends] = _lent(wanted[lends], own[lends])
        holds[some] = shared(wanted[some] + own[some] @ lent[some] @ own[some])
        yields[some] = _power(holds[some].sum(axis=1), -1.0)
    return Parted(to, 1 - np.minimum(give, 1.0), own, holds, yields, lent)


def shared(wanted: Array) -> Array:
    """Shares (J, A, L, L), none with a negative eigenvalue, of the same sum as `wanted`, which has none."""
    some, found = _negative(wanted).any(axis=1), wanted.copy()
    if some.any():
        positive = positive_part(wanted[some])
        turn = _power(wanted[some].sum(axis=1), 0.5) @ _power(positive.sum(axis=1), -0.5)
        found[some] = turn[:, None] @ positive @ turn.mT[:, None]
    return found


def _negative(matrices: Array) -> Flags:
    """Which of symmetric matrices (..., L, L) have a negative eigenvalue beyond rounding."""
    return np.asarray(np.linalg.eigvalsh(matrices)[..., 0] < -NONE)


def _lent(wanted: Array, soft: Array) -> Array:
    """N (P, L, L) of some arms: what is negative of `wanted` as far as the stretches cover it, what an arm has of its
    own loads together with those that its stretch does not bear among it.

    With A and D what is wanted of the loads that it bears and of the others, B between them, the whole is positive
    where D and A - B D^-1 B^T are.
    """
    level, axes = np.linalg.eigh(soft)
    bears = _some(level)
    root = np.power(level, -0.5, out=np.zeros_like(level), where=bears)[..., None, :] * axes
    held = root.mT @ wanted @ root
    if not bears.all():
        others, between = _power(_scaled(axes.mT @ wanted @ axes, ~bears), -1.0), root.mT @ wanted @ axes
        held -= between @ others @ between.mT
    level, turn = np.linalg.eigh(held)
    turn = root @ turn
    return np.asarray((turn * np.clip(-level, 0.0, LENT)[..., None, :]) @ turn.mT)


def _scaled(matrices: Array, by: Array | Flags) -> Array:
    return np.asarray(by[..., None] * matrices * by[..., None, :])


def _some(level: Array) -> Flags:
    """Which eigenvalues (..., L) are more than rounding."""
    return np.asarray(level > ROUNDING * np.maximum(level.max(axis=-1, keepdims=True), 1.0))


def _power(matrices: Array, exponent: float) -> Array:
    """Of symmetric matrices (..., L, L); nothing where they have nothing."""
    level, axes = np.linalg.eigh(matrices)
    raised = np.power(level, exponent, out=np.zeros_like(level), where=_some(level))
    return np.asarray((axes * raised[..., None, :]) @ axes.mT)


def _held(ratio: Array) -> Array:
    """Negative ratios, held above STIFFEST; nothing for others."""
    half = STIFFEST / 2
    return np.minimum(np.maximum(ratio, half) + half * np.tanh(np.minimum(ratio - half, 0.0) / half), 0.0)


def positive_part(moments: Array) -> Array:
    """Symmetric matrices (..., L, L) without their negative eigenvalues."""
    level, axes = np.linalg.eigh(moments)
    return np.asarray((axes * np.maximum(level, 0.0)[..., None, :]) @ axes.mT)
