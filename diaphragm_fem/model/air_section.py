"""Air in the real gap and slots in two dimensions (r, z), axisymmetric, in front of a face that moves as one body.

(K - k^2 M) p/(i omega rho) + sum_j e_j U_j = a v,  K, M = integrals of 2 pi r (grad p grad q, p q); a = integral of
2 pi r q dr over the face, v its axial velocity; e_j = mean over the end of slot j, U_j = sum_k Y_jk e_k p the flow into
what lies beyond. Lossless, rigid walls; biquadratic quadrilaterals. exp(+i omega t). A second opinion of the one-
dimensional chamber: it shares neither its equations nor its corrections.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from diaphragm_fem.mesh.gap_section import GapSection

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]


@dataclass(frozen=True)
class AirAnswer:
    """Per unit axial velocity of the face: slot_end (F, J) mean pressure at the slots' ends in Pa, force (F,) in N."""

    slot_end: Complex
    force: Complex
    unknowns: int


def air_before_rigid_face(
    section: GapSection, density: float, sound_speed: float, omega: ArrayLike, beyond: Complex
) -> AirAnswer:
    """Answer at omega (F,), with the admittance (F, J, J) in m3/(s Pa) of what lies beyond the slots' ends."""
    from scipy.sparse.linalg import splu
    from skfem import Basis, BilinearForm, ElementQuad2, FacetBasis, LinearForm, MeshQuad
    from skfem.helpers import dot, grad

    omega = np.asarray(omega, float)
    mesh = MeshQuad(section.points, section.cells, sort_t=False, validate=False)
    basis = Basis(mesh, ElementQuad2(), intorder=5)

    @BilinearForm
    def flow(p, q, w):  # type: ignore[no-untyped-def]
        return 2 * np.pi * w.x[0] * dot(grad(p), grad(q))

    @BilinearForm
    def store(p, q, w):  # type: ignore[no-untyped-def]
        return 2 * np.pi * w.x[0] * p * q

    @LinearForm
    def axial(q, w):  # type: ignore[no-untyped-def]
        return -2 * np.pi * w.x[0] * q * w.n[1]  # w.n leaves the air: into the face, whose own normal is -w.n

    @LinearForm
    def over(q, w):  # type: ignore[no-untyped-def]
        return 2 * np.pi * w.x[0] * q

    K, M = flow.assemble(basis).tocsc(), store.assemble(basis).tocsc()
    source = axial.assemble(FacetBasis(mesh, ElementQuad2(), facets=_facets(mesh, section.face), intorder=5))
    sides = [FacetBasis(mesh, ElementQuad2(), facets=_facets(mesh, side), intorder=5) for side in section.ends]
    ends = [over.assemble(side) for side in sides]
    means = np.stack([end / end.sum() for end in ends], axis=1)
    right = np.column_stack((source, means))
    slot_end, force = np.empty((len(omega), means.shape[1]), complex), np.empty(len(omega), complex)
    for f, w in enumerate(omega):
        push = 1j * w * density
        factors = splu(K - (w / sound_speed) ** 2 * M, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.01)
        closed = push * factors.solve(right)
        small = means.T @ closed
        flows = np.linalg.solve(np.linalg.inv(beyond[f]) + small[:, 1:], small[:, 0])
        slot_end[f] = small[:, 0] - small[:, 1:] @ flows
        force[f] = source @ closed[:, 0] - (source @ closed[:, 1:]) @ flows
    return AirAnswer(slot_end, force, K.shape[0])


def _facets(mesh, pairs: NDArray[np.int64]) -> NDArray[np.int64]:  # type: ignore[no-untyped-def]
    """Facet numbers of sides given as pairs (2, S) of points."""
    size = int(mesh.p.shape[1])
    low, high = np.sort(mesh.facets, axis=0).astype(np.int64)
    key = low * size + high
    order = np.argsort(key)
    low, high = np.sort(pairs, axis=0)
    place = np.searchsorted(key[order], low * size + high)
    return np.asarray(order[place])
