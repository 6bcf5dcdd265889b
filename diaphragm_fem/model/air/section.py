"""Air in the real gap and slots in two dimensions (r, z), axisymmetric, in front of a face that moves as it likes.

(K - q^2 M) p/(i omega rho) + sum_j e_j U_j = i omega C^T u,  K, M = integrals of 2 pi r (grad p grad s, p s); C u what
the face sweeps; e_j = mean over the end of slot j, U_j = sum_k Y_jk e_k p the flow into what lies beyond. The air is
the same everywhere: its density rho and wave number q may be complex, as in a slit. Rigid walls; biquadratic
quadrilaterals. exp(+i omega t). A second opinion of the one-dimensional chamber: it shares neither its equations nor
its corrections.
"""

from dataclasses import dataclass
from functools import partial
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import block_diag
from scipy.sparse import bmat, coo_matrix, csc_matrix, csr_matrix

from diaphragm_fem.arrays import Array, Complex, Index
from diaphragm_fem.mesh.gap_section import GapSection
from diaphragm_fem.model.quadrature import quadratics
from diaphragm_fem.model.structure import Structure, multipliers


def air_forms() -> tuple[Any, Any]:
    """Forms of scikit-fem for pressures p, q over a section: 2 pi r grad p . grad q, and 2 pi r p q, full turn."""
    from skfem import BilinearForm
    from skfem.helpers import dot, grad

    @BilinearForm
    def flow(p, q, w):  # type: ignore[no-untyped-def]
        return 2 * np.pi * w.x[0] * dot(grad(p), grad(q))

    @BilinearForm
    def store(p, q, w):  # type: ignore[no-untyped-def]
        return 2 * np.pi * w.x[0] * p * q

    return flow, store


def facets_of(mesh: Any, pairs: Index) -> Index:
    """Facet numbers (S,) of a mesh's sides given as pairs (2, S) of points."""
    size = int(mesh.facets.max()) + 1
    (low, high), (first, last) = (np.sort(ends, axis=0).astype(np.int64) for ends in (mesh.facets, pairs))
    key = low * size + high
    order = np.argsort(key)
    return np.asarray(order[np.searchsorted(key[order], first * size + last)])


class Gas(NamedTuple):
    """The air at omega (F,) in rad/s: density (F,) in kg/m3, wave number (F,) in 1/m."""

    omega: Array
    density: NDArray
    wave_number: NDArray


class AirAnswer(NamedTuple):
    """slot_end (F, J): mean pressure in Pa at the slots' ends; back (F,): what the moving part answers, the force in N
    on a face or the motion in m of a coil; of that many unknowns."""

    slot_end: Complex
    back: Complex
    unknowns: int


@dataclass(frozen=True, eq=False)
class SectionAir:
    """flow K and store M (N, N); axial (N,): what even axial motion of the face sweeps; mean (N, J) over each slot's
    end; side (S, 3): the unknowns along each side of the face, its begin, middle and end."""

    section: GapSection
    flow: csc_matrix
    store: csc_matrix
    axial: Array
    mean: Array
    side: Index

    def trace(self, place: Array) -> csr_matrix:
        """Pressure (P, N) on the face at places (P,), each a number of a piece of the face and how far along it."""
        at = self.section.place
        side = np.clip(np.searchsorted(at, place, side="right") - 1, 0, len(at) - 2)
        x = np.clip((place - at[side]) / np.diff(at)[side], 0, 1)
        rows = np.repeat(np.arange(len(place)), 3)
        entries = (quadratics(x)[[0, 2, 1]].T.ravel(), (rows, self.side[side].ravel()))
        return csr_matrix(coo_matrix(entries, shape=(len(place), self.flow.shape[0])))


def section_air(section: GapSection) -> SectionAir:
    """Assemble the air of a section."""
    from skfem import Basis, ElementQuad2, FacetBasis, LinearForm, MeshQuad

    mesh = MeshQuad(section.points, section.cells, sort_t=False, validate=False)
    basis = Basis(mesh, ElementQuad2(), intorder=5)
    placed = mesh.mapping()
    # 1e-12 as it comes is below what rounding leaves of 30 um small cells at 30 mm: some steep faces did not converge
    placed.invF = partial(placed.invF, newton_tol=1e-9)

    def along_sides(pairs: Index) -> FacetBasis:
        return FacetBasis(mesh, ElementQuad2(), placed, intorder=5, facets=facets_of(mesh, pairs))

    flow, store = air_forms()

    @LinearForm
    def axial(q, w):  # type: ignore[no-untyped-def]
        return -2 * np.pi * w.x[0] * q * w.n[1]  # w.n leaves the air: into the face, whose own normal is -w.n

    @LinearForm
    def over(q, w):  # type: ignore[no-untyped-def]
        return 2 * np.pi * w.x[0] * q

    front = along_sides(section.face)
    ends = [over.assemble(along_sides(side)) for side in section.ends]
    corner = basis.nodal_dofs[0, section.face]
    return SectionAir(
        section,
        flow.assemble(basis).tocsc(),
        store.assemble(basis).tocsc(),
        axial.assemble(front),
        np.stack([end / end.sum() for end in ends], axis=1),
        np.stack((corner[0], basis.facet_dofs[0, front.find], corner[1]), axis=1),
    )


def air_before_rigid_face(section: GapSection, gas: Gas, beyond: Complex) -> AirAnswer:
    """Answer per unit axial velocity of the face, force back on it, with the admittance (F, J, J) in m3/(s Pa) of what
    lies beyond the slots' ends."""
    from scipy.sparse.linalg import splu

    omega, air = gas.omega, section_air(section)
    right = np.column_stack((air.axial, air.mean)).astype(gas.wave_number.dtype)
    slot_end, force = np.empty((len(omega), air.mean.shape[1]), complex), np.empty(len(omega), complex)
    for f, (w, density, q) in enumerate(zip(*gas, strict=True)):
        held = splu(air.flow - q**2 * air.store, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.01)
        closed = 1j * w * density * held.solve(right)
        small = air.mean.T @ closed
        flows = np.linalg.solve(np.linalg.inv(beyond[f]) + small[:, 1:], small[:, 0])
        slot_end[f] = small[:, 0] - small[:, 1:] @ flows
        force[f] = air.axial @ closed[:, 0] - (air.axial @ closed[:, 1:]) @ flows
    return AirAnswer(slot_end, force, air.flow.shape[0])


def air_before_wall(
    structure: Structure, sweep: csr_matrix, place: Array, air: SectionAir, gas: Gas, beyond: Complex
) -> AirAnswer:
    """Wall and air solved as one, per newton of coil force, motion of the coil back: D u + C p = drive,
    C^T u + [(K - q^2 M)/(omega^2 rho) - E Y E^T/(i omega)] p = 0, C = sweep^T times the pressure's trace at the points
    (P,) of the face.

    The structure's own loads, such as a rear chamber's, stay on it, each as unknowns q of its port: D u + B q = drive,
    B^T u - Z^-1 q = 0.
    """
    from scipy.sparse.linalg import splu

    coupling = csr_matrix(sweep.T @ air.trace(place))
    ports = [load.port.pattern for load in structure.loads]
    held = csr_matrix(np.hstack(ports)) if ports else csr_matrix((structure.size, 0))
    omega, frequency_hz = gas.omega, gas.omega / (2 * np.pi)
    weight = multipliers(structure.merged, frequency_hz)
    right = np.zeros((structure.size + held.shape[1] + air.mean.shape[0], 1 + air.mean.shape[1]), complex)
    right[: structure.size, 0] = structure.drive
    right[structure.size + held.shape[1] :, 1:] = air.mean
    slot_end, coil = np.empty((len(omega), air.mean.shape[1]), complex), np.empty(len(omega), complex)
    for f, w in enumerate(omega):
        wall = sum(factor * term.matrix for term, factor in zip(structure.merged, weight[:, f], strict=True))
        inside = (air.flow - gas.wave_number[f] ** 2 * air.store) / (w**2 * gas.density[f])
        blocks = [[wall, coupling], [coupling.T, inside]]
        if ports:
            each = [-np.linalg.inv(load.stiffness(frequency_hz[f : f + 1])[0]) for load in structure.loads]
            blocks = [[wall, held, coupling], [held.T, block_diag(*each), None], [coupling.T, None, inside]]
        closed = splu(csc_matrix(bmat(blocks)), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.01).solve(right)
        small = air.mean.T @ closed[-air.mean.shape[0] :]
        flows = np.linalg.solve(1j * w * np.linalg.inv(beyond[f]) - small[:, 1:], small[:, 0])
        slot_end[f] = small[:, 0] + small[:, 1:] @ flows
        moved = structure.pickup @ closed[: structure.size]
        coil[f] = moved[0] + moved[1:] @ flows
    return AirAnswer(slot_end, coil, right.shape[0])
