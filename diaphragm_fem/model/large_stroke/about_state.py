"""Small motion of any order m about a state of large stroke: one Structure, solved like that of the drawn shape."""

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.large_stroke.bent_shell import About, BentShell
from diaphragm_fem.model.large_stroke.strain_about import second_order
from diaphragm_fem.model.law import Constant, Elastic
from diaphragm_fem.model.shell.assembly import element_matrices
from diaphragm_fem.model.shell.motion import nodes_in_order
from diaphragm_fem.model.shell.numbering import B, U, W
from diaphragm_fem.model.structure import STIFFNESS, Structure, Surface, Term

INITIAL_STRESS = "initial stress"


def structure_about(shell: BentShell, unknowns: Array, m: int) -> Structure:
    """Stiffness, mass, drive, pick-up and volume of order m about the state `unknowns` (n,) of order 0.

    Walls keep their material, loss and mass; the stress of the state and the pressure add terms that lose nothing. For
    m = 0 the stiffness is the exact tangent. A pressure needs held edges here (see `second_volume`); the inertia that
    couples shift and turn in a wall of unlike layers keeps its drawn direction. Raises ModelError for a negative m.
    """
    drawn, about = shell.drawn(m).structure, shell.about(unknowns, m)
    weighing = [term for term in drawn.terms if term.derivatives != STIFFNESS]
    found = (*weighing, *about.order.kept, *_walls(shell, about), *_rings(shell, about), *_loads(shell, about))
    volume, area = (drawn.volume, drawn.zone_area) if m else shell.swept(unknowns)
    surface = partial(_surface, shell, drawn, unknowns)
    return replace(drawn, terms=found, volume=volume, zone_area=area, draw_surface=surface)


def _walls(shell: BentShell, about: About) -> Iterator[Term]:
    """The stiffness that the bent meridian gives walls by zone and material, and windings."""
    order, joints, design, mesh = about.terms, about.order.joints, shell.model.design, shell.model.mesh
    held = joints.by_kind(about.strains, order) if joints else {}

    def of(pick: Index | slice, law: Array) -> csr_matrix:
        blocks = element_matrices(about.strains[:, :, pick], law[:, :, pick], about.order.weight[pick])
        return order.numbering.matrices(order.dofs[pick], blocks)[0]

    zones, rows = shell.line.zone_of_element, shell.model.rows
    for zone, material in sorted(set(zip(zones[rows.elements].tolist(), rows.material.tolist(), strict=True))):
        stuff, nothing = design.materials[material], csr_matrix((order.numbering.size, order.numbering.size))
        matrix = of(np.flatnonzero(zones == zone), shell.laws[stuff]) + held.get((zone, material), nothing)
        yield Term(csr_matrix(matrix), Elastic(stuff), zone=zone, made_of=stuff.name)
    for piece, pick in zip(mesh.pieces, mesh.elements, strict=True):
        if piece.winding is not None:
            law = Constant(1 + 1j * piece.winding.loss_factor)
            yield Term(of(pick, shell.winding), law, zone=int(zones[pick.start]), made_of="winding")


def _rings(shell: BentShell, about: About) -> Iterator[Term]:
    """What rings hold, and what their stress does."""
    if shell.rings:
        for own, stiffness, stress in shell.rings.by_owner(shell.raw(about.unknowns), about.terms):
            yield Term(stiffness, own.law, zone=own.zone, made_of=own.made_of)
            yield Term(stress, zone=own.zone, made_of=INITIAL_STRESS)


def _loads(shell: BentShell, about: About) -> Iterator[Term]:
    """What the state's stress adds zone by zone, and what the pressure adds; both lose nothing."""
    order, weight = about.terms, about.order.weight
    form, joints = second_order(about.state, shell.stress(about.state), order.m), shell.at_joints(about)
    for zone in range(len(shell.line.design.zones)):
        pick = np.flatnonzero(shell.line.zone_of_element == zone)
        blocks = element_matrices(about.turns[:, :, pick], form[:, :, pick], weight[pick]) + joints[pick]
        stiffness = order.numbering.matrices(order.dofs[pick], blocks)[0]
        yield Term(stiffness, zone=zone, made_of=INITIAL_STRESS)
    if shell.pressure:
        pushed = order.numbering.matrices(order.dofs, shell.second_pressed(about))[0]
        yield Term(-shell.pressure * pushed, made_of="pressure")


def _surface(shell: BentShell, drawn: Structure, unknowns: Array) -> Surface:
    """The drawn surface moved to the state, its normals turned with the directors."""
    still, raw = drawn.surface, shell.raw(unknowns)
    nodes, _ = nodes_in_order(shell.line)
    u, w, b = raw[[[U], [W], [B]], nodes]
    cos, sin, (n_r, n_z) = np.cos(b), np.sin(b), still.normal.T
    normal = np.stack((n_r * cos + n_z * sin, n_z * cos - n_r * sin), axis=1)  # the director turns clockwise by b
    return replace(still, r=still.r + u, z=still.z + w, normal=normal)
