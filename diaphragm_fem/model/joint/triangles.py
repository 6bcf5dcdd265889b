"""Shape functions of the triangles of a union: hierarchic, of one order everywhere.

Corners have their barycentric coordinates l, a side between two of them l_a l_b P_k(l_b - l_a), with Legendre's
polynomials P_k and k up to p - 2, the inside l_0 l_1 l_2 P_i(l_1 - l_0) P_j(2 l_2 - 1), i + j <= p - 3 (Szabo and
Babuska, Finite Element Analysis (1991), ch. 6, with other polynomials on sides; from memory). A triangle's corners
stand in the order of their numbers, so that neighbours agree on the direction of the side that they share.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.polynomial import legendre

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.quadrature import gauss

SIDES = ((0, 1), (0, 2), (1, 2))  # a side's corners
CORNERS = np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)])  # local coordinates
MOMENTS = 4  # Gauss points each way: squares of quadratic r and z times their Jacobian have degree 6
STRAIGHT = 1e-9  # of a side: how far its middle may lie off


@dataclass(frozen=True, eq=False)
class Triangles:
    """Triangles (K, 6) between places (N, 2) in m, corners and then the middles of the sides that follow them, and the
    functions of an order from 3 on."""

    places: Array
    cells: Index
    top: int

    sides = SIDES
    local_corners = CORNERS

    @cached_property
    def _numbers(self) -> Index:
        """The places (K, 6) of triangles, corners in order, then the middles of `SIDES`."""
        order = np.argsort(self.cells[:, :3], axis=1)
        opposite = 3 + (order[:, ::-1] + 1) % 3
        return np.take_along_axis(self.cells, np.concatenate((order, opposite), axis=1), axis=1)

    @cached_property
    def corner(self) -> Array:
        """Corners (K, 3, 2) in m."""
        return self.places[self._numbers[:, :3]]

    @cached_property
    def _map(self) -> Array:
        """What the functions of order 2 are multiplied by (K, 6, 2) in m to give r and z."""
        middle = self.places[self._numbers[:, 3:]]
        return np.concatenate((self.corner, 4 * middle - 2 * self.corner[:, SIDES].sum(axis=2)), axis=1)

    @property
    def inside(self) -> int:
        """How many functions live inside a triangle alone: its last ones."""
        return (self.top - 1) * (self.top - 2) // 2

    @property
    def count(self) -> int:
        """How many scalar degrees of freedom there are; those inside triangles come last."""
        return int(self.nodes[-1, -1]) + 1

    @cached_property
    def nodes(self) -> Index:
        """Scalar degrees of freedom (K, F) of the triangles: of corners, sides, and inside."""
        numbers, each = self._numbers, self.top - 1
        corners, corner = np.unique(numbers[:, :3], return_inverse=True)
        sides, side = np.unique(numbers[:, 3:], return_inverse=True)
        first = len(corners)
        along = first + side.reshape(-1, 3, 1) * each + np.arange(each)
        first += len(sides) * each
        alone = first + np.arange(len(numbers) * self.inside).reshape(len(numbers), -1)
        return np.concatenate((corner.reshape(-1, 3), along.reshape(len(numbers), -1), alone), axis=1)

    @cached_property
    def slopes(self) -> Array:
        """Integrals (K, 2, F, 2, F) over each triangle of the products of its functions' derivatives to r and z.

        Those with straight sides are sums of four that all share: a third of the time.
        """
        place, weight = _rule(self.top + 1)
        slope = _functions(self.top, place.tobytes())[1].transpose(1, 0, 2)
        count = slope.shape[1]
        flat = slope.reshape(2 * count, -1)
        shared = ((flat * weight) @ flat.T).reshape(2, count, 2, count).transpose(0, 2, 1, 3).reshape(4, -1)
        turned, area = self._turned(np.full((2, 1), 1 / 3))
        factor = np.einsum("xik,yjk,k->kxyij", turned[..., 0], turned[..., 0], area[:, 0], optimize=True)
        whole = (factor.reshape(-1, 4) @ shared).reshape(-1, 2, 2, count, count).transpose(0, 1, 3, 2, 4)
        bulge = np.abs(self._map[:, 3:]).max(axis=(1, 2))
        curved = np.flatnonzero(bulge > STRAIGHT * np.ptp(self.corner, axis=1).max(axis=1))
        turned, area = self._turned(place, curved)
        own = np.einsum("xikq,ifq->kxfq", turned, slope, optimize=True).reshape(len(curved), 2 * count, len(weight))
        whole[curved] = ((own * (weight * area)[:, None]) @ own.transpose(0, 2, 1)).reshape(-1, 2, count, 2, count)
        return whole

    def swirl(self, centre: float) -> Array:
        """Integrals (K, F) over each triangle of N,r z - N,z r, r from a centre: what a turn about it works on N."""
        place, weight = _rule(self.top + 1)
        value, slope = _functions(2, place.tobytes())[0], _functions(self.top, place.tobytes())[1]
        (r, z), (turned, area) = np.einsum("kfx,fq->xkq", self._map, value), self._turned(place)
        across = np.stack((z, centre - r)) * area * weight
        return np.asarray(np.einsum("xikq,fiq,xkq->kf", turned, slope, across, optimize=True))

    def _turned(self, place: Array, cells: Index | slice = slice(None)) -> tuple[Array, Array]:
        """d(local)/d(r, z) (2, 2, K, Q), first r or z, and areas (K, Q) at local points (2, Q) of triangles."""
        slope = _functions(2, place.tobytes())[1]
        (a, b), (c, d) = np.einsum("kfx,fiq->ixkq", self._map[cells], slope, optimize=True)
        area = a * d - b * c
        return np.array([[d, -b], [-c, a]]) / area, np.abs(area)

    @property
    def weight(self) -> Array:
        """Quadrature weight times dr dz (K, Q)."""
        place, weight = _rule(MOMENTS)
        return self._turned(place)[1] * weight

    @property
    def points(self) -> Array:
        """r and z (2, K, Q) of the quadrature points, as many as second moments of area take."""
        place, _ = _rule(MOMENTS)
        return np.asarray(np.einsum("kfx,fq->xkq", self._map, _functions(2, place.tobytes())[0]))

    def at(self, local: Array) -> Array:
        """Functions (F, K, Q) at local points (2, K, Q)."""
        return _functions(self.top, local.tobytes())[0].reshape(-1, *local.shape[1:])


@lru_cache(maxsize=8)
def _rule(points: int) -> tuple[Array, Array]:
    """Gauss points (2, Q) of a triangle, a square's with one side in a point, and weights (Q,)."""
    x, w = gauss(points)
    a, b = np.meshgrid(x, x, indexing="ij")
    return np.stack((a.ravel(), (b * (1 - a)).ravel())), (np.outer(w, w) * (1 - a)).ravel()


@lru_cache(maxsize=64)
def _functions(order: int, points: bytes) -> tuple[Array, Array]:
    """Functions (F, Q) of an order and their slopes (F, 2, Q) at local points (2, Q) of float64, kept."""
    r, s = np.frombuffer(points).reshape(2, -1)
    l, rise = np.stack((1 - r - s, r, s)), np.array([(-1.0, -1.0), (1.0, 0.0), (0.0, 1.0)])[:, :, None]
    value, slope = list(l), [np.broadcast_to(own, (2, len(r))) for own in rise]

    def add(bubble: Array, its_rise: Array, *factors: tuple[int, Array, Array]) -> None:
        """A bubble times Legendre polynomials, each of a degree at some place, which has a rise."""
        for degree, at, way in factors:
            one = legendre.Legendre.basis(degree)
            own = one(at)
            bubble, its_rise = bubble * own, its_rise * own + bubble * one.deriv()(at) * way
        value.append(bubble)
        slope.append(its_rise)

    for a, b in SIDES:
        for k in range(order - 1):
            add(l[a] * l[b], rise[a] * l[b] + l[a] * rise[b], (k, l[b] - l[a], rise[b] - rise[a]))
    inner = l.prod(axis=0), rise[0] * l[1] * l[2] + l[0] * rise[1] * l[2] + l[0] * l[1] * rise[2]
    for i in range(order - 2):
        for j in range(order - 2 - i):
            add(*inner, (i, l[1] - l[0], rise[1] - rise[0]), (j, 2 * l[2] - 1, 2 * rise[2]))
    return np.array(value), np.array(slope)
