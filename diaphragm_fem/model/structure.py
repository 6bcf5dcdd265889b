"""The narrow waist: what every model hands to every solver.

Unknowns u are the free degrees of freedom of one circumferential order m, supports already applied; those of a sparse
structure come in an order good to eliminate in, for matrices are factored as they stand. Time factor exp(+i omega t).
The dynamic stiffness is a sum of terms, each a real matrix times a number that depends on frequency, and of loads on
ports, each a small matrix over frequency:

    D(f) = sum_k law_k(f) (i omega)^d_k A_k + sum_j B_j Z_j(f) B_j^T,        D(f) u = drive, per newton.

Nothing here knows how the matrices were made: two masses written by hand are a structure as good as any mesh.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, reduce
from operator import add
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array, Complex, Index
from diaphragm_fem.design.meridian.zone import Zone
from diaphragm_fem.errors import ModelError
from diaphragm_fem.model.aligned import Aligned, aligned, one_above_another, sums, weighted
from diaphragm_fem.model.law import ONE, Law, factors_of, storage_at

Matrix: TypeAlias = "csr_matrix | NDArray"  # sparse from a mesh, dense where a structure is small

LEAST_LOSS = 1e-12  # of every stiffness: a curve without any loss has no value at a resonance
BULKY = 20_000  # entries: a pattern takes 0.7 ms where m > 0, 75 of a solid, a sum alone 0.3 and 7
STIFFNESS, DAMPER, MASS = 0, 1, 2  # how often a term's motion is differentiated in time


@dataclass(frozen=True, eq=False)
class Term:
    """law(f) (i omega)^derivatives matrix: a stiffness (n, n) in N/m, a damper in N s/m or a mass in kg.

    zone is an index into Structure.zones, -1 for supports and rings that belong to none; made_of says in a word what
    it is the stiffness or mass of: a material, a winding, a support.
    """

    matrix: Matrix
    law: Law = ONE
    derivatives: int = STIFFNESS
    zone: int = -1
    made_of: str = ""


def body(stiffness: Matrix, mass: Matrix, law: Law, made_of: str, zone: int = -1) -> tuple[Term, Term]:
    """The two terms of a substance."""
    return Term(stiffness, law, STIFFNESS, zone, made_of), Term(mass, ONE, MASS, zone, made_of)


@dataclass(frozen=True, eq=False)
class Port:
    """Where something outside acts: pattern (n, p), generalised forces on the unknowns per unit of each of p actions.

    The motions that work against them are pattern^T u (p,).
    """

    name: str
    pattern: Array


@dataclass(frozen=True, eq=False)
class Load:
    """What acts on a port: stiffness(f) (F, p, p), complex and symmetric, is action per motion."""

    port: Port
    stiffness: Callable[[Array], Complex]


@dataclass(frozen=True)
class Surface:
    """Surface points for pictures and for the absolute area: P points on the mid-surface.

    r, z in m; motion_r, motion_t, motion_z are sparse maps (P, n) from unknowns to displacement in m, radial and axial
    ~ cos(m theta), circumferential ~ sin(m theta); normal (P, 2); area (P,) is the surface area in m2 that each point
    stands for (2 pi r ds), and only front-face points have one (the coil's is 0); zone (P,) indexes Structure.zones;
    run (P,) numbers the connected curves (0 the meridian, 1 the former) and points are in order along each.
    """

    r: Array
    z: Array
    motion_r: csr_matrix
    motion_t: csr_matrix
    motion_z: csr_matrix
    normal: Array
    area: Array
    zone: Index
    run: Index


@dataclass(frozen=True)
class Structure:
    """Discrete equations of one design for one circumferential order.

    drive (n,): generalised force per newton of axial coil force; pickup (n,): coil motion in m = pickup @ u. They
    are equal when the pick-up averages the coil motion as the drive spreads the force (reciprocity). Both are zero
    vectors for a part without a drive and for m > 0.
    volume (Z, n): swept volume in m3 per zone = volume @ u, the front face, positive toward the listener.
    zone_area (Z,): rigid swept area of each zone in m2, what volume gives for a unit axial motion of everything.
    rigid_modes: how many motions cost no energy (0 when held).
    """

    order: int
    terms: tuple[Term, ...]
    zones: tuple[Zone, ...]
    drive: NDArray
    pickup: NDArray
    volume: NDArray
    zone_area: Array
    draw_surface: Callable[[], Surface] | None = None
    rigid_modes: int = 0
    loads: tuple[Load, ...] = field(default_factory=tuple)

    @cached_property
    def stiffness(self) -> Matrix:
        """Sum of the stiffness terms, every material at its reference modulus."""
        return self.weighed(np.array([float(term.derivatives == STIFFNESS) for term in self.merged]))

    def stiffness_at(self, frequency_hz: float) -> Matrix:
        """Sum of the stiffness terms, every material at its storage modulus of that frequency."""
        if not self.modulus_varies:
            return self.stiffness
        storage = [storage_at(x.law, frequency_hz) if x.derivatives == STIFFNESS else 0.0 for x in self.merged]
        return self.weighed(np.array(storage))

    @cached_property
    def mass(self) -> Matrix:
        return self.weighed(np.array([float(term.derivatives == MASS) for term in self.merged]))

    @cached_property
    def modulus_varies(self) -> bool:
        """Whether a storage modulus is at any frequency another than its reference modulus."""
        return any(term.derivatives == STIFFNESS and term.law.stiffens for term in self.merged)

    @cached_property
    def merged(self) -> tuple[Term, ...]:
        """The same equations in as few terms as there are different laws: all that a curve needs."""
        if self.dense:
            matrices: Sequence[Matrix] = [reduce(add, same) for same in self._alike.values()]
        else:
            matrices = one_above_another(self._tall)
        return tuple(Term(own, law, derivatives) for own, (derivatives, law) in zip(matrices, self._alike, strict=True))

    @cached_property
    def aligned(self) -> Aligned:
        """The entries of the merged terms of a sparse structure on one pattern."""
        return aligned(self._tall)

    @cached_property
    def _tall(self) -> csr_matrix:
        """The matrices of the merged terms of a sparse structure, one above another."""
        return sums(list(self._alike.values()))

    @cached_property
    def _alike(self) -> dict[tuple[int, Law], list[Matrix]]:
        groups: dict[tuple[int, Law], list[Matrix]] = {}
        for term in self.terms:
            groups.setdefault((term.derivatives, term.law), []).append(term.matrix)
        return groups

    @cached_property
    def surface(self) -> Surface:
        """The surface points, made when first asked for. Raises ModelError for equations that nothing draws."""
        if self.draw_surface is None:
            raise ModelError("equations without a surface have no points that move; ask the structure of a design")
        return self.draw_surface()

    @property
    def size(self) -> int:
        return int(self.drive.shape[0])

    @cached_property
    def dense(self) -> bool:
        """Whether the matrices are: small structures, written by hand or projected."""
        return all(isinstance(term.matrix, np.ndarray) for term in self.terms)

    @cached_property
    def stacked(self) -> NDArray:
        """The matrices (K, n, n) of the merged terms of a dense structure."""
        return np.array([term.matrix for term in self.merged]).reshape(-1, self.size, self.size)

    def loaded(self, *loads: Load) -> Structure:
        """The same structure with more loads on it; what was found of its terms goes along."""
        found = replace(self, loads=(*self.loads, *loads))
        vars(found).update({name: value for name, value in vars(self).items() if name not in vars(found)})
        return found

    def weighed(self, weight: NDArray) -> Matrix:
        """The sum of the matrices of the merged terms times weights (K,)."""
        if not self.dense and np.count_nonzero(weight) == 1 and weight.max() == 1:
            return self.merged[int(weight.argmax())].matrix  # as it is: the mass has a third of the entries of all
        if not self.dense and self._tall.nnz > BULKY and "aligned" not in vars(self):  # too dear for a sum or two
            return sum(w * term.matrix for w, term in zip(weight, self.merged, strict=True) if w)
        return next(self.weighed_each(weight[:, None]))

    def weighed_each(self, weight: NDArray) -> Iterator[Matrix]:
        """The same for each of many weights (K, F), one after another: 25 us for a stepped V, 75 all at once."""
        if self.dense:
            flat = self.stacked.reshape(len(weight), -1)
            yield from (weighted(own, flat).reshape(self.size, self.size) for own in weight.T)
        else:
            yield from (self.aligned.matrix(own) for own in weight.T)

    def products(self, motions: NDArray) -> NDArray:
        """Each matrix of the merged terms times motions (n, M), real or complex: (K, n, M)."""
        if self.dense:
            return np.stack([term.matrix @ motions for term in self.merged])
        # one product takes half the time of one for each matrix; no sparse matrix has to turn complex
        parts = np.ascontiguousarray(motions).view(float)
        return (self._tall @ parts).view(motions.dtype).reshape(len(self.merged), *motions.shape)

    def forces(self, weight: NDArray, motions: NDArray) -> NDArray:
        """The sum of the matrices of the merged terms times motions (n, M), each at weights of its own (K, M)."""
        return np.einsum("knm,km->nm", self.products(motions), weight)


def multipliers(terms: Sequence[Term], frequency_hz: Array) -> Complex:
    """What multiplies the matrix of each term at each frequency in Hz, (K, F)."""
    omega = 2j * np.pi * frequency_hz
    found = np.empty((len(terms), len(frequency_hz)), complex)
    for factor, term in zip(found, terms, strict=True):
        factor[:] = factors_of(term.law, frequency_hz)
        if term.derivatives == STIFFNESS:
            np.maximum(factor.imag, LEAST_LOSS * factor.real, out=factor.imag)
        else:
            factor *= omega**term.derivatives
    return found
