"""Small motion of any order m about a state of large stroke: one Structure, solved like that of the drawn shape."""

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array
from diaphragm_fem.model.large_stroke.bent_shell import About, BentShell
from diaphragm_fem.model.large_stroke.strain_about import second_order
from diaphragm_fem.model.law import Elastic
from diaphragm_fem.model.rings import GLUE
from diaphragm_fem.model.shell.assembly import element_matrices
from diaphragm_fem.model.shell.motion import nodes_in_order
from diaphragm_fem.model.shell.numbering import FIELDS, B, U, W
from diaphragm_fem.model.structure import STIFFNESS, Structure, Surface, Term

INITIAL_STRESS = "initial stress"


def structure_about(shell: BentShell, unknowns: Array, m: int) -> Structure:
    """Stiffness, mass, drive, pick-up and volume of order m about the state `unknowns` (n,) of order 0.

    Walls keep their material, loss and mass; the stress of the state and the pressure add terms that lose nothing. For
    m = 0 the stiffness is the exact tangent. A pressure needs held edges here (see `second_volume`); the inertia that
    couples shift and turn in a wall of unlike layers keeps its drawn direction. Raises ModelError for a negative m.
    """
    drawn, about = shell.drawn(m).structure, shell.about(unknowns, m)
    found = (*_walls(shell, drawn, about), *_loads(shell, about))
    volume, area = (drawn.volume, drawn.zone_area) if m else shell.swept(unknowns)
    surface = partial(_surface, shell, drawn, unknowns)
    return replace(drawn, terms=found, volume=volume, zone_area=area, draw_surface=surface)


def _walls(shell: BentShell, drawn: Structure, about: About) -> Iterator[Term]:
    """The terms of the drawn structure, the walls with the stiffness that the bent meridian gives them."""
    order, joints, weight = about.terms, about.order.joints, about.order.weight
    held = joints.by_kind(about.strains, order) if joints else {}
    for term in drawn.terms:
        if term.derivatives != STIFFNESS or not isinstance(term.law, Elastic) or term.made_of == GLUE:
            yield term
            continue
        pick = np.flatnonzero(shell.line.zone_of_element == term.zone)
        blocks = element_matrices(about.strains[:, :, pick], shell.laws[term.law.material][:, :, pick], weight[pick])
        matrix = order.numbering.matrices(order.dofs[pick], blocks)[0]
        kind = (term.zone, shell.model.design.materials.index(term.law.material))
        yield replace(term, matrix=csr_matrix(matrix + held[kind]) if kind in held else matrix)


def _loads(shell: BentShell, about: About) -> Iterator[Term]:
    """What the state's stress adds zone by zone, and what the pressure adds; both lose nothing."""
    order, weight = about.terms, about.order.weight
    form, joints = second_order(about.state, shell.stress_with_winding(about.state), order.m), shell.at_joints(about)
    for zone in range(len(shell.line.design.zones)):
        pick = np.flatnonzero(shell.line.zone_of_element == zone)
        blocks = element_matrices(about.turns[:, :, pick], form[:, :, pick], weight[pick]) + joints[pick]
        stiffness = order.numbering.matrices(order.dofs[pick], blocks)[0]
        yield Term(stiffness, zone=zone, made_of=INITIAL_STRESS)
    if shell.pressure:
        pushed = order.numbering.matrices(order.dofs, shell.second_pressed(about))[0]
        yield Term(pushed, made_of="pressure", scale=-shell.pressure)


def _surface(shell: BentShell, drawn: Structure, unknowns: Array) -> Surface:
    """The drawn surface moved to the state, its normals turned with the directors."""
    still, raw = drawn.surface, shell.displacements(unknowns)
    nodes, _ = nodes_in_order(shell.line)
    u, w, b = raw.reshape(len(FIELDS), -1)[[[U], [W], [B]], nodes]
    cos, sin, (n_r, n_z) = np.cos(b), np.sin(b), still.normal.T
    normal = np.stack((n_r * cos + n_z * sin, n_z * cos - n_r * sin), axis=1)  # the director turns clockwise by b
    return replace(still, r=still.r + u, z=still.z + w, normal=normal)
