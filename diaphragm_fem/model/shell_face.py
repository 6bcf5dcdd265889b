"""The front face of the shell as points that sweep volume: what any pressure pattern before it pushes on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.assembly import Numbering
from diaphragm_fem.model.shell_line import ShellLine


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


def shell_face(line: ShellLine, numbering: Numbering) -> Face:
    """Points of the zones that radiate, three an element, as in the swept volume itself."""
    front = np.array([zone.radiates for zone in line.design.zones])[line.zone_of_element]
    front &= line.mesh.piece_of_element < len(line.design.meridian)
    elements = np.flatnonzero(front)
    elements = elements[np.argsort(line.mesh.piece_of_element[elements], kind="stable")]
    at, shape = line.heavy.at, line.heavy.shape[:, elements]
    band = (2 * np.pi * at.r * at.weight)[elements]
    count, points = band.shape
    row = np.broadcast_to((np.arange(count)[:, None] * points + np.arange(points))[:, None], (count, 3, points))
    rows, columns, values = [], [], []
    for field, normal in (("u", -at.t_z[elements]), ("w", at.t_r[elements])):
        dofs = line.field_dofs(field)[elements]
        unknown = np.broadcast_to(numbering.unknown[dofs][:, :, None], row.shape)
        value = shape.transpose(1, 0, 2) * (band * normal)[:, None] * numbering.sign[dofs][:, :, None]
        free = unknown >= 0
        rows.append(row[free])
        columns.append(unknown[free])
        values.append(value[free])
    entries = (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
    sweep = csr_matrix(coo_matrix(entries, shape=(count * points, numbering.size)))
    return Face(*_points(line, elements), at.weight[elements].ravel(), sweep)


def _points(line: ShellLine, elements: Index) -> tuple[Array, Array]:
    """(P, 2) and (P,): points of some elements and their distances along the meridian."""
    begins = np.concatenate(([0.0], np.cumsum([piece.curve.length for piece in line.mesh.pieces])[:-1]))
    r, z, s = (x[elements] for x in (line.heavy.at.r, line.heavy.z, line.heavy.s))
    distance = begins[line.mesh.piece_of_element[elements]][:, None] + s
    return np.stack((r.ravel(), z.ravel()), axis=1), distance.ravel()
