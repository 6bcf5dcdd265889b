"""Small motion of any order m about a state of large stroke: one Structure, solved like that of the drawn shape."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array
from diaphragm_fem.model.large_stroke.bent_shell import BentShell, forms_about, motions
from diaphragm_fem.model.large_stroke.strain_about import second_order
from diaphragm_fem.model.large_stroke.swept import second_volume
from diaphragm_fem.model.law import Elastic
from diaphragm_fem.model.rings import GLUE
from diaphragm_fem.model.shell.assembly import element_matrices
from diaphragm_fem.model.shell.line import OrderTerms
from diaphragm_fem.model.shell.motion import nodes_in_order
from diaphragm_fem.model.shell.numbering import AXISYMMETRIC, FIELDS
from diaphragm_fem.model.structure import STIFFNESS, Structure, Surface, Term

INITIAL_STRESS = "initial stress"


def structure_about(shell: BentShell, unknowns: Array, m: int) -> Structure:
    """Stiffness, mass, drive, pick-up and volume of order m about the state `unknowns` (n,) of order 0.

    Walls keep their material, loss and mass; the stress of the state and the pressure add terms that lose nothing. For
    m = 0 the stiffness is the exact tangent. A pressure needs held edges here (see `second_volume`); the inertia that
    couples shift and turn in a wall of unlike layers keeps its drawn direction. Raises ModelError for a negative m.
    """
    drawn, terms = shell.drawn(m), shell.line.order_terms(m)
    state = shell.bend(unknowns)
    rows, turns = forms_about(state, shell.line.stiff, m)
    found = (*_walls(shell, drawn, terms, rows), *_loads(shell, terms, unknowns, turns))
    volume, area = (drawn.volume, drawn.zone_area) if m else shell.swept(unknowns)
    surface = partial(_surface, shell, drawn, unknowns)
    return replace(drawn, terms=found, volume=volume, zone_area=area, draw_surface=surface)


def stiffness_about(shell: BentShell, unknowns: Array, m: int) -> csr_matrix:
    """The stiffness of `structure_about` alone, in a fifth of its time: enough to ask whether a state is stable."""
    return csr_matrix(walls_about(shell, unknowns, m) + held_about(shell, unknowns, m))


def walls_about(shell: BentShell, unknowns: Array, m: int) -> csr_matrix:
    """Of it what walls, their stress and the pressure hold; for m >= 2 of the second degree in m."""
    terms, state = shell.line.order_terms(m), shell.bend(unknowns)
    rows, turns = forms_about(state, shell.line.stiff, m)
    weight = terms.around * shell.line.stiff.at.weight * shell.line.stiff.at.r
    blocks = element_matrices(rows, shell.law, weight)
    blocks += element_matrices(turns, second_order(state, shell.stress_with_winding(state), m), weight)
    if shell.pressure:
        blocks -= shell.pressure * _pressed(shell, terms, unknowns)
    return terms.numbering.matrices(terms.dofs, blocks)[0]


def held_about(shell: BentShell, unknowns: Array, m: int) -> csr_matrix:
    """Of it what joints, windings, rings and supports hold."""
    fixed, joints = shell.fixed_in(m), shell.joints(m)
    if joints is None:
        return fixed
    rows, _ = forms_about(shell.bend(unknowns), shell.line.stiff, m)
    return csr_matrix(fixed + joints.stiffness(rows, shell.line.order_terms(m)))


def _walls(shell: BentShell, drawn: Structure, terms: OrderTerms, rows: Array) -> Iterator[Term]:
    """The terms of the drawn structure, the walls with the stiffness that the bent meridian gives them."""
    line, joints = shell.line, shell.joints(terms.m)
    weight = terms.around * line.stiff.at.weight * line.stiff.at.r
    held = joints.by_kind(rows, terms) if joints else {}
    for term in drawn.terms:
        if term.derivatives != STIFFNESS or not isinstance(term.law, Elastic) or term.made_of == GLUE:
            yield term
            continue
        pick = np.flatnonzero(line.zone_of_element == term.zone)
        blocks = element_matrices(rows[:, :, pick], shell.laws[term.law.material][:, :, pick], weight[pick])
        matrix = terms.numbering.matrices(terms.dofs[pick], blocks)[0]
        kind = (term.zone, shell.model.design.materials.index(term.law.material))
        yield replace(term, matrix=csr_matrix(matrix + held[kind]) if kind in held else matrix)


def _loads(shell: BentShell, terms: OrderTerms, unknowns: Array, turns: Array) -> Iterator[Term]:
    """What the state's stress adds zone by zone, and what the pressure adds; both lose nothing."""
    line, state = shell.line, shell.bend(unknowns)
    form = second_order(state, shell.stress_with_winding(state), terms.m)
    weight = terms.around * line.stiff.at.weight * line.stiff.at.r
    for zone in range(len(line.design.zones)):
        pick = np.flatnonzero(line.zone_of_element == zone)
        blocks = element_matrices(turns[:, :, pick], form[:, :, pick], weight[pick])
        stiffness = terms.numbering.matrices(terms.dofs[pick], blocks)[0]
        yield Term(stiffness, zone=zone, made_of=INITIAL_STRESS)
    if shell.pressure:
        blocks = _pressed(shell, terms, unknowns)
        yield Term(terms.numbering.matrices(terms.dofs, blocks)[0], made_of="pressure", scale=-shell.pressure)


def _pressed(shell: BentShell, terms: OrderTerms, unknowns: Array) -> Array:
    """Element matrices (E, F, F) of the volume to second order, in m: a pressure takes as much off the stiffness."""
    heavy, share = shell.line.heavy, terms.around / (2 * np.pi)
    moved = motions(heavy, FIELDS if terms.m else AXISYMMETRIC)
    return element_matrices(moved, second_volume(shell.bend(unknowns, heavy), terms.m), share * shell.band)


def _surface(shell: BentShell, drawn: Structure, unknowns: Array) -> Surface:
    """The drawn surface moved to the state, its normals turned with the directors."""
    still, raw = drawn.surface, shell.displacements(unknowns)
    assert still is not None
    nodes, _ = nodes_in_order(shell.line)
    u, w, b = (raw[nodes + FIELDS.index(field) * shell.line.nodes] for field in AXISYMMETRIC)
    cos, sin, (n_r, n_z) = np.cos(b), np.sin(b), still.normal.T
    normal = np.stack((n_r * cos + n_z * sin, n_z * cos - n_r * sin), axis=1)  # the director turns clockwise by b
    return replace(still, r=still.r + u, z=still.z + w, normal=normal)
