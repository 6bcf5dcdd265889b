"""What a joint yields more than its walls, parted: what stiffens the stretches beside it, what softens the joint, and
of each to every arm a share that is not negative.

All is measured by the compliance S of the stretches under the joint's loads. In the directions that make both S the
identity and the excess C diagonal, with ratios c: where c < 0 the stretches give way by 1 + c of what they did, held
above 1 + STIFFEST, so that their energy's matrix gains G = 1/(1 + c) - 1; where c > 0 springs take it over. The arms'
own parts of both, d/d ln E of the whole, can be negative where one arm gains what another loses: then they are held at
zero and the rest is scaled so that the sum stays.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

STIFFEST = -0.9  # a joint's own yield over that of the stretches of wall beside it
NONE = 1e-12  # of the stretches' own: a ratio that is no excess


def parted(excess: Array, soft: Array) -> tuple[Array, Array]:
    """Gains (J, A, L, L) of the energy's matrix and excess compliances (J, A, L, L) of springs, by arm, from the
    excess and the compliance of the stretches (J, A, L, L), whose sum over arms is positive."""
    root = np.linalg.cholesky(soft.sum(axis=1))
    back = np.linalg.inv(root)
    ratio, turn = np.linalg.eigh(back @ excess.sum(axis=1) @ back.swapaxes(-1, -2))
    to = (turn.swapaxes(-1, -2) @ back)[:, None]
    back_again = (root @ turn)[:, None]
    within = to @ excess @ to.swapaxes(-1, -2)
    own = to @ soft @ to.swapaxes(-1, -2)
    half = STIFFEST / 2
    kept = np.minimum(np.maximum(ratio, half) + half * np.tanh(np.minimum(ratio - half, 0.0) / half), 0.0)
    share = np.divide(kept, ratio, out=np.zeros_like(ratio), where=ratio < -NONE)
    less = within * np.sqrt(share[:, None, :, None] * share[:, None, None, :])
    give = 1 / (1 + kept)
    wanted = (own + less) * (give[:, None, :, None] * give[:, None, None, :]) - own
    gain = shared(wanted, give - 1)
    springs = shared(within, np.maximum(ratio, 0.0))
    return to.swapaxes(-1, -2) @ gain @ to, back_again @ springs @ back_again.swapaxes(-1, -2)


def shared(wanted: Array, total: Array) -> Array:
    """Positive matrices (J, A, L, L) whose sum over A is diag(total), total (J, L) >= 0, near those `wanted`."""
    size = np.sqrt(total)
    inverse = np.divide(1.0, size, out=np.zeros_like(size), where=total > NONE)
    level, axes = np.linalg.eigh(wanted * (inverse[:, None, :, None] * inverse[:, None, None, :]))
    positive = (axes * np.maximum(level, 0.0)[..., None, :]) @ axes.swapaxes(-1, -2)
    whole = positive.sum(axis=1)
    index = np.arange(total.shape[1])
    whole[:, index, index] += inverse == 0
    level, axes = np.linalg.eigh(whole)
    scale = size[:, :, None] * ((axes / np.sqrt(level)[:, None, :]) @ axes.swapaxes(-1, -2))
    return np.asarray(scale[:, None] @ positive @ scale[:, None].swapaxes(-1, -2))


def positive_part(moments: Array) -> Array:
    """Symmetric matrices (..., L, L) without their negative eigenvalues."""
    level, axes = np.linalg.eigh(moments)
    return np.asarray((axes * np.maximum(level, 0.0)[..., None, :]) @ axes.swapaxes(-1, -2))
