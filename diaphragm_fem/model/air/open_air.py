"""Free air before a face of any shape in a baffle: axisymmetric elements up to a hemisphere, harmonics beyond it.

    (K - k^2 M - sum_n d_n e_n e_n^T) p = i omega rho B c,    K, M = integrals of 2 pi r (grad p grad q, p q),
    B_ij = integral of 2 pi r phi_i psi_j ds over the face,   v = sum_j c_j psi_j its normal velocity,
    e_n = integral of 2 pi r phi P_n(cos theta) ds over the hemisphere of radius R,
    d_n = (2 n + 1)/(2 pi R^2) k h_n'(k R)/h_n(k R),          n even: the baffle is a mirror.

h_n spherical Hankel functions of the second kind: outgoing waves for exp(+i omega t). The closure is exact but for the
harmonics left out. It is of low rank, so the elements alone can be reduced to their answers to B and e_n at a few real
k (between k = 0 and the top) and those to modes; Woodbury's formula then adds the closure at any k. What radiates well
and what resonates in a deep recess is a pole of that small system, where polynomials over k failed: with 34 of them the
load on a bowl was off by a fifth, here by 3e-5. Triangles of fourth order, curved where the contour is. Lossless air,
infinite rigid baffle, m = 0. The same with every n and 4 pi R^2 in place of 2 pi R^2 is full space. Source: separation
of variables on a sphere (Givoli, Numerical Methods for Problems in Infinite Domains (1992), from memory).
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import ArrayLike
from scipy.sparse import csc_matrix

from diaphragm_fem.arrays import Array, Complex, Index
from diaphragm_fem.mesh.open_section import OpenSection
from diaphragm_fem.mesh.section_plan import jacobians
from diaphragm_fem.model.air.section import air_forms, facets_of
from diaphragm_fem.model.air.spherical_waves import log_slope

MORE = 25  # harmonics beyond k R
POINTS = 12  # of quadrature on a side
ANSWERS, PER_RADIUS = 2, 0.4  # wave numbers at which the elements are answered: so many, and more per k R
FLATTEST = 0.1  # least over largest Jacobian of a curved triangle
REPEATED = 1e-11  # of a vector's squared size, when those before it are taken out of it: below it a repeat


@dataclass(frozen=True, eq=False)
class AirModes:
    """The elements' modes: squares (m,) of their wave numbers in 1/m2, push (m, N) of the face's patterns and moments
    (m, H) of the harmonics of order (H,) on the sphere; area in m2 and radius in m of that; stand_in in 1/m: what the
    elements hold in place of the harmonics left out; unknowns: of the elements, before the reduction.
    """

    order: Index
    squares: Array
    push: Array
    moments: Array
    radius: float
    area: float
    stand_in: float
    unknowns: int

    def at(self, k: ArrayLike) -> tuple[Complex, Complex]:
        """Answers at k (F,) in 1/m, per generalised velocity c of the face, over i omega rho: B^T p (F, N, N) in m, the
        generalised pressure on the patterns, and Legendre coefficients (F, H, N) of the pressure on the sphere."""
        k = np.asarray(k, float)
        count, scale = self.push.shape[1], (2 * self.order + 1) / self.area
        row, column, products = self._products
        small = np.empty((len(k), count + len(self.order), count + len(self.order)))
        small[:, row, column] = (1 / (self.squares - k[:, None] ** 2)) @ products
        small[:, column, row] = small[:, row, column]
        slope = log_slope(int(self.order[-1]), k * self.radius)[:, self.order]
        added = -scale * (k[:, None] * slope + self.stand_in)
        faced, among = small[:, count:, :count], small[:, count:, count:]
        seen = np.linalg.solve(np.eye(len(self.order)) + added[:, :, None] * among, added[:, :, None] * faced)
        pressure = small[:, :count, :count] - np.swapaxes(faced, 1, 2) @ seen
        return pressure, scale[:, None] * (faced - among @ seen)

    @cached_property
    def _products(self) -> tuple[Index, Index, Array]:
        """Pairs of columns of push and moments, and their products mode by mode (m, pairs): one product of matrices
        then serves all k, 15 instead of 80 ms for 400."""
        both = np.hstack((self.push, self.moments))
        row, column = np.triu_indices(both.shape[1])
        return row, column, both[:, row] * both[:, column]


def air_modes(section: OpenSection, shapes: Callable[[Array], Array], top: float, *, whole: bool = False) -> AirModes:
    """The air before a face for k up to `top` in 1/m; shapes: distances (P,) along the face in m to values (P, N).

    whole: full space.
    """
    return air_fields(section, shapes, top, whole=whole)[0]


def air_fields(
    section: OpenSection, shapes: Callable[[Array], Array], top: float, *, whole: bool = False
) -> tuple[AirModes, Any, Array]:
    """The same with the elements (scikit-fem) and the modes on them (n, m), three times as large: for who looks at the
    field between face and sphere."""
    from scipy.linalg import eigh
    from scipy.sparse.linalg import splu

    radius = section.radius
    order = np.arange(0, int(top * radius) + MORE, 1 if whole else 2)
    basis, flow, store, around, push, moments = _matrices(section, shapes, order)
    stand_in = (order[-1] + 1) / radius
    base, right = (flow + stand_in * around).tocsc(), np.hstack((push, moments))
    number = ANSWERS + int(np.ceil(PER_RADIUS * top * radius))
    knots = top * (1 + np.cos(np.pi * (np.arange(number) + 0.5) / number)) / 2
    span = np.zeros((flow.shape[0], 0))
    for k in knots:
        factors = splu(
            base - k**2 * store, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.01, options={"SymmetricMode": True}
        )
        span = np.hstack((span, _new(factors.solve(right), span, store)))
    squares, modes = eigh(span.T @ (base @ span))
    seen = modes.T @ (span.T @ right)
    count = push.shape[1]
    area = (4 if whole else 2) * np.pi * radius**2
    found = AirModes(order, squares, seen[:, :count], seen[:, count:], radius, area, stand_in, len(span))
    return found, basis, span @ modes


def _new(vectors: Array, span: Array, store: csc_matrix) -> Array:
    """What vectors (n, V) add to a span (n, m) orthonormal in M, orthonormal too; twice against rounding."""
    for _ in range(2):
        stored = store @ vectors
        size = np.sqrt(np.einsum("nm,nm->m", vectors, stored))
        vectors = (vectors - span @ (span.T @ stored)) / size
        values, turn = np.linalg.eigh(vectors.T @ (store @ vectors))
        keep = values > REPEATED
        vectors = vectors @ (turn[:, keep] / np.sqrt(values[keep]))
    return np.asarray(vectors)


def _matrices(section: OpenSection, shapes: Callable[[Array], Array], order: Index):  # type: ignore[no-untyped-def]
    """The elements; K, M, integral of p q over the sphere; B (n, N); e_n (n, H)."""
    from skfem import Basis, ElementTriP4

    basis = Basis(_mesh(section), ElementTriP4(), intorder=9)

    flow, store = air_forms()

    nodes, weights = legendre.leggauss(POINTS)
    t, weights = (nodes + 1) / 2, weights / 2
    shape, dofs = _traces(basis, section.outer, t)
    corner = np.arctan2(section.points[0], section.points[1] - section.plane)[section.outer].T
    angle, step = corner[:, :1] + t * np.diff(corner, axis=1), np.abs(np.diff(corner, axis=1))
    band = 2 * np.pi * section.radius**2 * np.sin(angle) * step * weights
    moments = _moments(
        shape, dofs, band[..., None] * legendre.legvander(np.cos(angle), int(order[-1]))[..., order], basis.N
    )
    both = np.einsum("eqa,eqb,eq->eab", shape, shape, band)
    row, column = (np.broadcast_to(x, both.shape).ravel() for x in (dofs[:, :, None], dofs[:, None]))
    around = csc_matrix((both.ravel(), (row, column)), shape=(basis.N, basis.N))
    shape, dofs = _traces(basis, section.face, t)
    length = np.diff(section.place, axis=1)
    place = section.place[:, :1] + t * length
    band = 2 * np.pi * section.contour.point(place)[..., 0] * weights * length
    push = _moments(shape, dofs, band[..., None] * shapes(place.ravel()).reshape(*place.shape, -1), basis.N)
    return basis, flow.assemble(basis).tocsc(), store.assemble(basis).tocsc(), around, push, moments


def _traces(basis, pairs: Index, t: Array) -> tuple[Array, Index]:  # type: ignore[no-untyped-def]
    """Values (S, Q, L) of a cell's local functions on one of its sides, given as pairs (2, S) of points, at fractions t
    (Q,) of the way from the first point to the second; and their numbers (S, L)."""
    mesh, element = basis.mesh, basis.elem
    cell = mesh.f2t[0, facets_of(mesh, pairs)]
    corners = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    first, second = (corners[np.argmax(mesh.t[:, cell] == end, axis=0)] for end in pairs)
    at = first[:, None] + t[:, None] * (second - first)[:, None]
    dofs = basis.element_dofs[:, cell].T
    values = [element.lbasis(at.reshape(-1, 2).T, i)[0].reshape(at.shape[:2]) for i in range(dofs.shape[1])]
    return np.stack(values, axis=-1), dofs


def _moments(shape: Array, dofs: Index, band: Array, size: int) -> Array:
    """(n, K): sums over sides and their points of local functions times band (S, Q, K)."""
    found = np.zeros((size, band.shape[-1]))
    np.add.at(found, dofs, np.einsum("eqa,eqk->eak", shape, band))
    return found


def _mesh(section: OpenSection):  # type: ignore[no-untyped-def]
    """The curved mesh: middles of bent sides moved onto their curves, but for fillets that would turn a triangle inside
    out: those sides, shorter than what radiates, stay straight."""
    from skfem import Dofs, ElementTriP2, MeshTri1, MeshTri2

    straight = MeshTri1(section.points, section.cells, sort_t=True, validate=False)
    curved = MeshTri2.from_mesh(straight)
    numbers = Dofs(straight, ElementTriP2()).facet_dofs[0]
    places, sides = curved.doflocs.copy(), facets_of(straight, section.bent)
    plain = places[:, numbers[sides]]
    places[:, numbers[sides]] = section.middle
    inside_out = straight.t2f[:, _least_jacobian(places, curved.dofs.element_dofs) < FLATTEST]
    wrong = np.isin(sides, inside_out)
    places[:, numbers[sides[wrong]]] = plain[:, wrong]
    return MeshTri2(places, curved.t, sort_t=False, validate=False)


def _least_jacobian(places: Array, cells: Index) -> Array:
    """Least over largest Jacobian determinant (C,) of quadratic triangles (6, C), corners numbered either way round."""
    (a, b), (c, d) = places[:, cells[1:3]] - places[:, cells[:1]]
    det = jacobians(places, cells) * np.sign(a * d - b * c)[:, None]
    return np.asarray(det.min(axis=1) / np.abs(det).max(axis=1))
