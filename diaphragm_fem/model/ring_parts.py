"""What is added circle by circle: winding, plain ring, elastic supports; and the count of rigid motions."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.assembly import element_matrices
from diaphragm_fem.model.numbering import FIELDS, edges
from diaphragm_fem.model.structure import LossOfFrequency, Part

if TYPE_CHECKING:
    from diaphragm_fem.model.shell import OrderTerms, ShellModel

Array = NDArray[np.float64]
HOOP = 1  # row of e_th among the strains


def winding_parts(model: ShellModel, terms: OrderTerms) -> list[Part]:
    """Mass and hoop stiffness of each wound piece, spread over its length.

    Mass per area mass/(2 pi r L); hoop force per length (E A/L) e_th.
    """
    parts = []
    for p, piece in enumerate(model.mesh.pieces):
        if piece.winding is None:
            continue
        winding, length = piece.winding, piece.curve.length
        pick = np.flatnonzero(model.mesh.piece_of_element == p)
        stiff, heavy = model.stiff.at, model.heavy.at
        law = np.full((1, 1, *stiff.r[pick].shape), winding.hoop_stiffness / length)
        hoop = terms.strain[HOOP : HOOP + 1, :, pick]
        stiffness = element_matrices(hoop, law, (terms.around * stiff.weight * stiff.r)[pick])
        inertia = np.eye(3)[:, :, None, None] * (winding.mass / (2 * np.pi * heavy.r[pick] * length))
        mass = element_matrices(terms.motion[:3][:, :, pick], inertia, (terms.around * heavy.weight * heavy.r)[pick])
        k, inertia_matrix = terms.numbering.matrices(terms.dofs[pick], stiffness, mass)
        parts.append(
            Part(int(model.zone_of_element[pick[0]]), "winding", k, inertia_matrix, _constant(winding.loss_factor))
        )
    return parts


def ring_parts(model: ShellModel, terms: OrderTerms) -> list[Part]:
    """The plain ring at the joint: mass on u, v, w; hoop stiffness E A on e_th = (u + m v)/r."""
    ring, joint, r = model.design.ring, model.design.joint, model.design.joint_radius
    if ring is None or joint is None or r is None:
        return []
    node = model.vertex_node(model.mesh.vertex(model.mesh.joints[joint][0]))
    dofs = np.array([[node + FIELDS.index(field) * model.nodes for field in ("u", "v", "w")]])
    hoop = np.array([1.0, terms.m, 0.0]) / r
    stiffness = ring.hoop_stiffness * terms.around * r * np.outer(hoop, hoop)
    mass = ring.mass * terms.around / (2 * np.pi) * np.eye(3)
    k, inertia = terms.numbering.matrices(dofs, stiffness[None], mass[None])
    return [Part(-1, "ring", k, inertia, _constant(ring.loss_factor))]


def support_parts(model: ShellModel, terms: OrderTerms) -> list[Part]:
    """Elastic supports of the two edges: springs per metre of edge on the global motions."""
    parts = []
    nothing = csr_matrix((terms.numbering.size, terms.numbering.size))
    for end, on_axis, edge in edges(model.mesh):
        if on_axis or not edge.elastic:
            continue
        curve = model.mesh.pieces[end[0]].curve
        r = float(curve.point(end[1] * curve.length)[0])
        springs = {"u": edge.radial, "v": edge.circumferential, "w": edge.axial, "b": edge.rotation}
        finite = {field: k for field, k in springs.items() if 0 < k < inf}
        node = model.vertex_node(model.mesh.vertex(end))
        dofs = np.array([[node + FIELDS.index(field) * model.nodes for field in finite]])
        stiffness = np.diag(list(finite.values())) * terms.around * r
        (k,) = terms.numbering.matrices(dofs, stiffness[None])
        parts.append(Part(-1, "support", k, nothing, _constant(edge.loss_factor)))
    return parts


def rigid_mode_count(mesh: MeridianMesh, m: int) -> int:
    """Motions of order m that cost no energy: an axial shift for m = 0, a sideways shift and a rocking for m = 1.

    A motion is free when no support resists it at either edge. m = 0 torsion is left out of the model.
    """
    supports = []
    for end, on_axis, edge in edges(mesh):
        if not on_axis:
            curve = mesh.pieces[end[0]].curve
            supports.append((curve.point(end[1] * curve.length), edge))
    if m == 0:
        return int(all(edge.axial == 0 for _, edge in supports))
    if m != 1:
        return 0
    rows = []
    for (r, z), edge in supports:
        # rigid motions: shift (u = 1, v = -1) and rocking about z = 0 (u = z, v = -z, w = -r, b = 1)
        motions = {"u": (1.0, z), "v": (-1.0, -z), "w": (0.0, -r), "b": (0.0, 1.0)}
        stiff = {"u": edge.radial, "v": edge.circumferential, "w": edge.axial, "b": edge.rotation}
        rows += [motions[field] for field, k in stiff.items() if k > 0]
    return 2 - (int(np.linalg.matrix_rank(np.array(rows))) if rows else 0)


def _constant(value: float) -> LossOfFrequency:
    return lambda frequency_hz: np.full(np.shape(frequency_hz), value)
