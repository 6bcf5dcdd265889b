"""What a joint yields over a range of proportions, read between patches that are solved.

Where thickness, modulus and place scatter, every part has joints of proportions of its own, and each would need a patch
of 15 to 40 ms. Over a few to some ten per cent of them what a joint yields is smooth, and is read by a polynomial in up
to three directions of the proportions; of the degrees the one is taken that misses least when each patch is left out by
turns. It is not smooth where two walls pass through equal thickness, for the thicker one ends square on either side.
What is left, 1e-4 in the median and up to 3e-3 of a joint, is mostly the patch's own: its cells change in number.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, product
from math import copysign, exp, log
from typing import TypeAlias

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.joint.patch import OF_LOADS, OF_SECTION, Excess
from diaphragm_fem.model.joint.table import MM, STEP, Key, beside_plies

SAME, NEAR = 1e-6, 0.1  # logarithm of a ratio of thickness; nearer than that joints were read 1e-5 of a frequency off
MOST_AXES, HIGHEST = 3, 5  # directions, and the degree of a polynomial in them
LEAST, PER_TERM = 12, 1.5  # patches of a range, and patches that a term of a polynomial is worth
LEAST_SECTION = 1e-2 * MM**2  # a hundredth of a square of the first arm: less section than that moves nothing
MISSED = 2e-2  # of the largest: a range that leaves more for a patch left out is none
ROOM = 1.2  # times what the patches themselves lie off the directions that are kept
LEVERAGE = 1.0  # of a place, the variance of what is read there by that of a patch: beyond it lies where none are

Sort: TypeAlias = tuple[tuple[int, ...], tuple[float, ...], tuple[int, ...]]


@dataclass(frozen=True, eq=False)
class JointRange:
    """A range of one sort of joint: k proportions about a centre (k,), d directions (d, k) and how far they go (d,),
    how far beside them; exponents (T, d) of the T terms, their inverse products (T, T) over the patches, and what they
    weigh (T, N) in the N numbers of an excess of P arms."""

    sort: Sort
    centre: Array
    axes: Array
    reach: Array
    beside: float
    exponents: Index
    inverse: Array
    weights: Array
    like: Excess

    def read(self, key: Key) -> Excess | None:
        """What a joint of this sort yields; nothing outside of the range."""
        place = np.array(key.points, float) - self.centre
        along = self.axes @ place
        share = along / self.reach
        if np.abs(share).max() > 1 or np.linalg.norm(place - along @ self.axes) > self.beside:
            return None
        terms = _terms(share[None], self.exponents)[0]
        if terms @ self.inverse @ terms > LEVERAGE:
            return None
        return _parted(terms @ self.weights, self.like)


def sort_of(key: Key) -> Sort | None:
    """What must not differ within a range: layers, Poisson ratios, and which wall of every two is the thicker; nothing
    where two are nearly as thick as one another, for there the thicker one's square end is short and changes fast."""
    points, thickness = iter(key.points), []
    for count in key.layers:
        plies = [(next(points), next(points)) for _ in range(count)]
        thickness.append(sum(exp(STEP * ply[0]) for ply in plies))
        for _ in range(beside_plies(count)):
            next(points)
    found = []
    for one, other in combinations(thickness, 2):
        ratio = log(one / other)
        if SAME < abs(ratio) < NEAR:
            return None
        found.append(0 if abs(ratio) <= SAME else int(copysign(1, ratio)))
    return key.layers, key.poisson, tuple(found)


def joint_range(sort: Sort, patches: Sequence[tuple[Key, Excess]]) -> JointRange | None:
    """The range of some patches of one sort; nothing where they are too few, or do not tell of one another."""
    if len(patches) < LEAST:
        return None
    keys = [key for key, _ in patches]
    points = np.array([key.points for key in keys], float)
    found = np.array([np.concatenate([x.ravel() for x in own]) for _, own in patches])
    centre, scale = points.mean(axis=0), _scale(found, patches[0][1])
    off = points - centre
    _, size, axes = np.linalg.svd(off, full_matrices=False)
    best, least = None, MISSED
    for count in range(1, 1 + min(MOST_AXES, int((size > 1.0).sum()))):
        along = off @ axes[:count].T
        reach = np.abs(along).max(axis=0)
        beside = ROOM * float(np.linalg.norm(off - along @ axes[:count], axis=1).max()) + 1.0
        for degree in range(1, HIGHEST + 1):
            powers = [x for x in product(range(degree + 1), repeat=count) if sum(x) <= degree]
            if PER_TERM * len(powers) > len(keys):
                break
            exponents = np.array(powers)
            terms = _terms(along / reach, exponents)
            inverse = np.asarray(np.linalg.pinv(terms.T @ terms, hermitian=True), float)
            weights, own = inverse @ (terms.T @ found), np.einsum("st,tu,su->s", terms, inverse, terms)
            within = own <= LEVERAGE / (1 + LEVERAGE)  # as the others see it who are left when it is left out
            if not within.any():
                continue
            left = (found - terms @ weights)[within] / (1 - own[within, None])
            if (missed := float((np.abs(left) / scale).max())) < least:
                least = missed
                shape = centre, np.asarray(axes[:count], float), reach, beside
                best = JointRange(sort, *shape, exponents, inverse, weights, patches[0][1])
    return best


def _terms(share: Array, exponents: Index) -> Array:
    return np.asarray(np.prod(share[:, None, :] ** exponents, axis=2))


def _scale(found: Array, like: Excess) -> Array:
    """What errors of each number (N,) are measured by: the largest of its kind, moments and places in mm, which is the
    thickness of the first arm."""
    each = Excess(*(np.array(x) for x in zip(*(_parted(own, like) for own in found), strict=True)))
    plane, around, section, twist, turning = each
    load, place = np.resize(1 / MM**OF_LOADS, plane.shape[-1]), MM ** (OF_SECTION - 2)
    largest = np.abs(np.diagonal(plane.sum(axis=1), axis1=1, axis2=2) / load**2).max()
    parts = [
        np.broadcast_to(largest * np.outer(load, load), plane.shape[1:]),
        np.broadcast_to(np.abs(around.sum(axis=1)).max(), around.shape[1:]),
        np.broadcast_to(max(np.abs(section / place).max(), LEAST_SECTION) * place, section.shape[1:]),
        np.broadcast_to(max(np.abs(twist).max(), LEAST_SECTION * MM**2), twist.shape[1:]),
        np.broadcast_to(max(np.abs(turning).max(), LEAST_SECTION), turning.shape[1:]),
    ]
    return np.maximum(np.concatenate([x.ravel() for x in parts]), np.finfo(float).tiny)


def _parted(numbers: Array, like: Excess) -> Excess:
    ends = np.cumsum([x.size for x in like])[:-1]
    return Excess(*(x.reshape(y.shape) for x, y in zip(np.split(numbers, ends), like, strict=True)))
