"""What the shell's unknowns mean outside: coil motion, and the surface for pictures."""

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.design.meridian.curve import traced
from diaphragm_fem.model.shell.assembly import Numbering
from diaphragm_fem.model.shell.line import ShellLine
from diaphragm_fem.model.shell.numbering import B, V, W
from diaphragm_fem.model.structure import Surface


def coil_pickup(line: ShellLine, numbering: Numbering) -> Array:
    """Mean axial motion of the winding's length, or of the joint circle: pickup @ u in m. Zero without a drive."""
    mesh, heavy = line.mesh, line.heavy
    wound = np.array([piece.winding is not None for piece in mesh.pieces])[mesh.piece_of_element]
    if wound.any():
        share = heavy.at.weight[wound] / heavy.at.weight[wound].sum()
        values = np.einsum("feq,eq->ef", heavy.shape[:, wound], share)
        own = np.hstack((values, -line.design.former_aside * values))
        return numbering.vector(line.field_dofs(W, B)[wound], own)
    if line.design.joint is None:
        return np.zeros(numbering.size)
    return line.motion_row(numbering, mesh.vertex(mesh.joints[line.design.joint][0]), "w")


def surface_of(line: ShellLine, numbering: Numbering) -> Surface:
    """All nodes in order along the meridian and then the former, each with its share of the front's area."""
    mesh, heavy = line.mesh, line.heavy
    nodes, elements = nodes_in_order(line)
    piece = mesh.piece_of_element[elements]
    arc = mesh.place[nodes] - mesh.offset[piece]
    at = traced([item.curve for item in mesh.pieces], piece, arc[:, None])
    share = np.einsum("feq,eq->fe", heavy.shape, 2 * np.pi * heavy.at.r * heavy.at.weight * line.radiates[:, None])
    nodal = np.asarray(np.bincount(mesh.nodes.ravel(), weights=share.ravel(), minlength=line.nodes), float)
    return Surface(
        r=at.r[:, 0],
        z=at.z[:, 0],
        motion_r=numbering.pick(nodes),
        motion_t=numbering.pick(nodes + V * line.nodes),
        motion_z=numbering.pick(nodes + W * line.nodes),
        normal=np.hstack((-at.t_z, at.t_r)),
        area=nodal[nodes],
        zone=line.zone_of_element[elements],
        run=(piece >= len(line.design.meridian)).astype(np.int64),
    )


def nodes_in_order(line: ShellLine) -> tuple[Index, Index]:
    """Node numbers along the pieces (begin, middle, begin, ... end) and an element that owns each."""
    last = np.diff(line.mesh.piece_of_element, append=-1) != 0
    return np.argsort(line.mesh.place), np.repeat(np.arange(len(last)), 2 + last)
