"""The narrow waist: what every model hands to every solver.

Unknowns u are the free degrees of freedom of one circumferential order m, supports already applied. Time factor
exp(+i omega t). Nothing here knows how the matrices were made: a two-mass structure written by hand is as good.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from diaphragm_fem.design.zone import Zone

Array = NDArray[np.float64]
Matrix: TypeAlias = "csr_matrix | NDArray[np.float64]"  # sparse from a mesh, dense where a structure is small
LossOfFrequency = Callable[[Array], Array]


def lossless(frequency_hz: Array) -> Array:
    """Loss factor of a part that dissipates nothing."""
    return np.zeros(np.shape(frequency_hz))


@dataclass(frozen=True)
class Part:
    """Stiffness (n, n) in N/m and mass (n, n) in kg of one zone and one material (or support, or winding).

    zone is an index into Structure.zones, -1 for supports and loads that belong to none; loss maps frequency in Hz to
    the loss factor of this part's stiffness.
    """

    zone: int
    material: str
    stiffness: Matrix
    mass: Matrix
    loss: LossOfFrequency = lossless
    loss_constant: bool = True


@dataclass(frozen=True)
class Surface:
    """Surface points for pictures and for the absolute area: P points on the mid-surface.

    r, z in m; motion_* are sparse maps (P, n) from unknowns to displacement in m; normal (P, 2); area (P,) is the
    surface area in m2 that each point stands for (2 pi r ds), and only front-face points have one (the coil's is 0);
    zone (P,) indexes Structure.zones; run (P,) numbers the connected curves (0 the meridian, 1 the former) and points
    are in order along each.
    """

    r: Array
    z: Array
    motion_r: csr_matrix
    motion_z: csr_matrix
    normal: Array
    area: Array
    zone: NDArray[np.int64]
    run: NDArray[np.int64]


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
    parts: tuple[Part, ...]
    zones: tuple[Zone, ...]
    drive: Array
    pickup: Array
    volume: Array
    zone_area: Array
    draw_surface: Callable[[], Surface] | None = None
    rigid_modes: int = 0
    notes: tuple[str, ...] = field(default_factory=tuple)

    @cached_property
    def stiffness(self) -> Matrix:
        return _total([part.stiffness for part in self.parts])

    @cached_property
    def mass(self) -> Matrix:
        return _total([part.mass for part in self.parts])

    @cached_property
    def surface(self) -> Surface | None:
        """The surface points, made when first asked for; None where the structure tells nothing of its surface."""
        return None if self.draw_surface is None else self.draw_surface()

    @property
    def size(self) -> int:
        return int(self.drive.shape[0])

    def add(self, part: Part) -> Structure:
        """The same structure with one more part: how loads and supports join."""
        return replace(self, parts=(*self.parts, part))


def _total(matrices: Sequence[Matrix]) -> Matrix:
    if all(isinstance(matrix, np.ndarray) for matrix in matrices):
        return np.asarray(sum(matrices[1:], matrices[0]))
    while len(matrices) > 1:  # in pairs: a running sum would copy the whole once for every part
        matrices = [sum(matrices[k + 1 : k + 2], matrices[k]) for k in range(0, len(matrices), 2)]
    return csr_matrix(matrices[0])
