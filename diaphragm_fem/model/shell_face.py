"""The front face of the shell as points that sweep volume: what any pressure pattern before it pushes on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.front_face import front_sweeps
from diaphragm_fem.model.shell_line import OrderTerms, ShellLine


@dataclass(frozen=True, eq=False)
class Face:
    """point (P, 2): (r, z) in m of the quadrature points of the front face, from its inner edge outward; place (P,):
    their distance in m along the meridian; length (P,): of the meridian in m that each stands for; sweep (P, n): volume
    in m3 that each point sweeps per unit of the unknowns, along the normal. ones @ sweep is the swept volume.
    """

    point: Array
    place: Array
    length: Array
    sweep: csr_matrix | NDArray  # dense where the unknowns are few


def shell_face(line: ShellLine, order: OrderTerms, front: bool) -> Face:
    """Points of the zones that radiate, three an element, as in the swept volume itself: of the front face of walls
    with thickness, told by the points of their middle beside them, or of the middle alone."""
    radiates = np.array([zone.radiates for zone in line.design.zones])[line.zone_of_element]
    radiates &= line.mesh.piece_of_element < len(line.design.meridian)
    elements = np.flatnonzero(radiates)
    elements = elements[np.argsort(line.mesh.piece_of_element[elements], kind="stable")]
    values = (front_sweeps(line, order)[0] if front else _of_the_middle(line))[elements].transpose(0, 2, 1)
    sweep = order.numbering.functionals(order.dofs[elements][:, None], values)
    return Face(*_points(line, elements), line.heavy.at.weight[elements].ravel(), sweep)


def _of_the_middle(line: ShellLine) -> Array:
    """Volumes (E, F, Q) per unit of an element's u, w and b."""
    at, shape = line.heavy.at, line.heavy.shape.transpose(1, 0, 2)
    band = (2 * np.pi * at.r * at.weight)[:, None]
    return np.concatenate((-band * at.t_z[:, None] * shape, band * at.t_r[:, None] * shape, 0 * shape), axis=1)


def _points(line: ShellLine, elements: Index) -> tuple[Array, Array]:
    """(P, 2) and (P,): points of some elements and their distances along the meridian."""
    begins = np.concatenate(([0.0], np.cumsum([piece.curve.length for piece in line.mesh.pieces])[:-1]))
    r, z, s = (x[elements] for x in (line.heavy.at.r, line.heavy.z, line.heavy.s))
    distance = begins[line.mesh.piece_of_element[elements]][:, None] + s
    return np.stack((r.ravel(), z.ravel()), axis=1), distance.ravel()
