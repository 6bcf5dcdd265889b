"""Winding, plain ring, glue fillets and elastic supports on the shell's meridian line."""

from math import inf
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.design import Winding
from diaphragm_fem.design.glued.bead import bead_section
from diaphragm_fem.model.rings import WITH_ITS_WALL, bead_terms, ring_terms, support_term, winding_blocks, winding_terms
from diaphragm_fem.model.shell.line import OrderTerms, ShellLine
from diaphragm_fem.model.shell.numbering import edges
from diaphragm_fem.model.structure import Term


class Wound(NamedTuple):
    """A winding: number of its zone, stiffness and mass (E, F, F) of its elements, on raw degrees of freedom (E, F)."""

    winding: Winding
    zone: int
    dofs: Index
    blocks: tuple[Array, Array]


def added_terms(line: ShellLine, order: OrderTerms) -> list[Term]:
    """The terms of everything that is neither wall nor winding."""
    return [*_ring(line, order), *_beads(line, order), *supports(line, order)]


def windings(line: ShellLine, order: OrderTerms) -> list[Wound]:
    """All windings: summed together with the walls they take 0.2 ms less of a stepped V's build."""
    found, stiff, heavy = list[Wound](), line.stiff, line.heavy
    aside = line.design.former_aside
    moves = np.hstack((WITH_ITS_WALL, [[0.0, 0.0], [0.0, aside], [-aside, 0.0]]))  # as b and q turn it about the line
    for piece, pick in zip(line.mesh.pieces, line.mesh.elements, strict=True):
        if piece.winding is None:
            continue
        blocks = winding_blocks(
            piece.winding, piece.curve.length, order.m, order.around,
            (stiff.shape[:, pick], stiff.at.weight[pick], stiff.at.r[pick]),
            (heavy.shape[:, pick], heavy.at.weight[pick]), moves,
        )  # fmt: skip
        found.append(Wound(piece.winding, int(line.zone_of_element[pick][0]), line.dofs[pick], blocks))
    return found


def wound_terms(line: ShellLine, order: OrderTerms) -> list[Term]:
    """The terms of all windings."""
    found = list[Term]()
    for own in windings(line, order):
        found += winding_terms(own.winding, own.zone, *order.numbering.matrices(own.dofs, *own.blocks))
    return found


def _ring(line: ShellLine, order: OrderTerms) -> tuple[Term, ...]:
    ring, joint, radius = line.design.ring, line.design.joint, line.design.joint_radius
    if ring is None or joint is None or radius is None:
        return ()
    vertex = line.mesh.vertex(line.mesh.joints[joint][0])
    u, v, w = (line.motion_row(order.numbering, vertex, field) for field in ("u", "v", "w"))
    return ring_terms(ring, u, v, w, radius, order.m, order.around)


def _beads(line: ShellLine, order: OrderTerms) -> list[Term]:
    """Glue moves and turns with the joint, around as a ring does without shear; what it stiffens in the meridian plane
    is not among this."""
    design, m, terms = line.design, order.m, list[Term]()
    for bead in design.beads:
        end = line.mesh.joints[design.joint or 0][0]
        vertex, (r, z) = line.mesh.vertex(end), line.mesh.tip(end).point
        u, v, w, b = (line.motion_row(order.numbering, vertex, field) for field in ("u", "v", "w", "b"))
        _, at_r, at_z = bead_section(bead)
        dr, dz = at_r - r, at_z - z
        motions = u + dz * b, v + (dr * (v + m * u) + dz * m * w) / r, w - dr * b
        terms += bead_terms(bead, design.zones.index(bead.zone), *motions, m, order.around)
    return terms


def supports(line: ShellLine, order: OrderTerms) -> list[Term]:
    """The elastic ones."""
    terms = []
    for end, on_axis, edge in edges(line.mesh):
        if on_axis or not edge.elastic:
            continue
        springs, vertex = {x: k for x, k in edge.stiffness.items() if 0 < k < inf}, line.mesh.vertex(end)
        rows = [(line.motion_row(order.numbering, vertex, field), k) for field, k in springs.items()]
        terms.append(support_term(rows, line.mesh.tip(end).point[0], order.around, edge.loss_factor))
    return terms
