"""What is added circle by circle to the wall section: windings and the plain ring."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from diaphragm_fem.design.design import Ring, Winding
from diaphragm_fem.mesh.section_plan import Stretch
from diaphragm_fem.model.solid_lines import Face, U, V, W, line_of
from diaphragm_fem.model.solid_shapes import Shapes, gauss
from diaphragm_fem.model.solid_support import Reduction
from diaphragm_fem.model.structure import Part

Array = NDArray[np.float64]


def winding_part(
    shapes: Shapes, winding: Winding, stretches: list[Stretch], m: int, around: float, to_free: Reduction
) -> Part:
    """A winding spread over the length L of a stretch of mid-surface.

    Mass per area mass/(2 pi r L) on u, v, w; hoop force per length (E A/L) e_th with e_th = (u + m v)/r.
    """
    position, weight = gauss(shapes.top + 1)
    line = line_of(shapes, stretches, position)
    share = line.speed * weight
    length = share.sum()
    n = line.value.transpose(1, 0, 2)
    hoop = (n * (share / line.place[0])[:, None]) @ n.transpose(0, 2, 1) * (winding.hoop_stiffness * around / length)
    inertia = (n * share[:, None]) @ n.transpose(0, 2, 1) * (winding.mass * around / (2 * np.pi * length))
    nodes = shapes.nodes[line.cells]
    cells, size = nodes.shape
    dofs = np.stack([3 * nodes + c for c in range(3)], axis=1).reshape(cells, -1)
    round_strain = np.array([1.0, m, 0.0])
    stiffness = np.einsum("a,b,eij->eaibj", round_strain, round_strain, hoop).reshape(cells, 3 * size, -1)
    mass = np.einsum("ab,eij->eaibj", np.eye(3), inertia).reshape(cells, 3 * size, -1)
    zone = int(shapes.section.zone_of_cell[line.cells[0]])
    loss = constant(winding.loss_factor)
    return Part(zone, "winding", to_free.matrix((dofs, stiffness)), to_free.matrix((dofs, mass)), loss)


def ring_part(ring: Ring, face: Face, radius: float, m: int, around: float, to_free: Reduction) -> Part:
    """A plain ring on the mean motion of a face through the wall: mass on u, v, w; hoop force E A (u + m v)/r."""
    u, v, w = (to_free.row(face.mean_of(component)) for component in (U, V, W))
    stiffness = ring.hoop_stiffness * around / radius * square(u + m * v)
    mass = ring.mass * around / (2 * np.pi) * (square(u) + square(v) + square(w))
    return Part(-1, "ring", csr_matrix(stiffness), csr_matrix(mass), constant(ring.loss_factor))


def square(row: Array) -> csr_matrix:
    """The sparse outer product of a functional with itself."""
    column = csr_matrix(row[:, None])
    return csr_matrix(column @ column.T)


def constant(value: float) -> Callable[[Array], Array]:
    """A loss factor that is the same at all frequencies."""
    return lambda frequency_hz: np.full(np.shape(frequency_hz), value)
