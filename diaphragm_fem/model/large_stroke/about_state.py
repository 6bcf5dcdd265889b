"""Small motion of any order m about a state of large stroke: one Structure, solved like that of the drawn shape."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix

from diaphragm_fem.model.assembly import element_matrices
from diaphragm_fem.model.large_stroke.bent_shell import BentShell, forms_about, motions
from diaphragm_fem.model.large_stroke.strain_about import second_order
from diaphragm_fem.model.large_stroke.swept import second_volume
from diaphragm_fem.model.numbering import AXISYMMETRIC, FIELDS
from diaphragm_fem.model.shell import OrderTerms
from diaphragm_fem.model.shell_motion import nodes_in_order
from diaphragm_fem.model.structure import Part, Structure, Surface

Array = NDArray[np.float64]


def structure_about(shell: BentShell, unknowns: Array, m: int) -> Structure:
    """Stiffness, mass, drive, pick-up and volume of order m about the state `unknowns` (n,) of order 0.

    Walls keep their material, loss and mass; the stress of the state and the pressure add parts that lose nothing. For
    m = 0 the stiffness is the exact tangent. A pressure needs held edges here (see `second_volume`); the inertia that
    couples shift and turn in a wall of unlike layers keeps its drawn direction. Raises ModelError for a negative m.
    """
    drawn, terms = shell.drawn(m), shell.model.order_terms(m)
    state = shell.bend(unknowns)
    rows, turns = forms_about(state, shell.model.stiff, m)
    parts = (*_elastic(shell, drawn, terms, rows), *_loads(shell, terms, unknowns, turns))
    volume = shell.swept(unknowns) if m == 0 else drawn.volume
    area = flat_area(shell, unknowns) if m == 0 else drawn.zone_area
    surface = partial(_surface, shell, drawn, unknowns)
    return replace(drawn, parts=parts, volume=volume, zone_area=area, draw_surface=surface)


def stiffness_about(shell: BentShell, unknowns: Array, m: int) -> csr_matrix:
    """The stiffness of `structure_about` alone, in a fifth of its time: enough to ask whether a state is stable."""
    terms, state = shell.model.order_terms(m), shell.bend(unknowns)
    rows, turns = forms_about(state, shell.model.stiff, m)
    weight = terms.around * shell.model.stiff.at.weight * shell.model.stiff.at.r
    blocks = element_matrices(rows, shell.law, weight)
    blocks += element_matrices(turns, second_order(state, shell.stress(state), m), weight)
    if shell.pressure:
        blocks -= shell.pressure * _pressed(shell, terms, unknowns)
    fixed = [part.stiffness for part in shell.drawn(m).parts if part.zone < 0]
    return csr_matrix(sum(fixed, terms.numbering.matrices(terms.dofs, blocks)[0]))


def flat_area(shell: BentShell, unknowns: Array) -> Array:
    """Area (Z,) in m2 that each zone of the front face sweeps per metre of axial motion of everything, as bent."""
    state = shell.bend(unknowns, shell.model.heavy)
    band = (shell.band * state.radius * state.slope_r).sum(axis=1)
    found = np.bincount(shell.model.zone_of_element, weights=band, minlength=len(shell.model.design.zones))
    return np.asarray(found, float)


def _elastic(shell: BentShell, drawn: Structure, terms: OrderTerms, rows: Array) -> Iterator[Part]:
    """The parts of the drawn structure, wall and winding with the stiffness that the bent meridian gives them."""
    model = shell.model
    weight = terms.around * model.stiff.at.weight * model.stiff.at.r
    for part in drawn.parts:
        if part.zone < 0:  # ring and supports
            yield part
            continue
        if part.material == "winding":
            law, forms = np.broadcast_to(shell.winding_law[None, None, :, None], (1, 1, *weight.shape)), rows[1:2]
        else:
            law, forms = shell.laws[part.material], rows
        pick = np.flatnonzero(model.zone_of_element == part.zone)
        blocks = element_matrices(forms[:, :, pick], law[:, :, pick], weight[pick])
        yield replace(part, stiffness=terms.numbering.matrices(terms.dofs[pick], blocks)[0])


def _loads(shell: BentShell, terms: OrderTerms, unknowns: Array, turns: Array) -> Iterator[Part]:
    """What the state's stress adds zone by zone, and what the pressure adds."""
    model, state = shell.model, shell.bend(unknowns)
    form = second_order(state, shell.stress(state), terms.m)
    weight = terms.around * model.stiff.at.weight * model.stiff.at.r
    nothing = csr_matrix((terms.numbering.size, terms.numbering.size))
    for zone in range(len(model.design.zones)):
        pick = np.flatnonzero(model.zone_of_element == zone)
        blocks = element_matrices(turns[:, :, pick], form[:, :, pick], weight[pick])
        yield Part(zone, "initial stress", terms.numbering.matrices(terms.dofs[pick], blocks)[0], nothing)
    if shell.pressure:
        blocks = _pressed(shell, terms, unknowns)
        stiffness = -shell.pressure * terms.numbering.matrices(terms.dofs, blocks)[0]
        yield Part(-1, "pressure", csr_matrix(stiffness), nothing)


def _pressed(shell: BentShell, terms: OrderTerms, unknowns: Array) -> Array:
    """Element matrices (E, F, F) of the volume to second order, in m: a pressure takes as much off the stiffness."""
    heavy, share = shell.model.heavy, terms.around / (2 * np.pi)
    moved = motions(heavy, FIELDS if terms.m else AXISYMMETRIC)
    return element_matrices(moved, second_volume(shell.bend(unknowns, heavy), terms.m), share * shell.band)


def _surface(shell: BentShell, drawn: Structure, unknowns: Array) -> Surface:
    """The drawn surface moved to the state, its normals turned with the directors."""
    still, raw = drawn.surface, shell.displacements(unknowns)
    assert still is not None
    nodes, _ = nodes_in_order(shell.model)
    u, w, b = (raw[nodes + FIELDS.index(field) * shell.model.nodes] for field in AXISYMMETRIC)
    cos, sin, (n_r, n_z) = np.cos(b), np.sin(b), still.normal.T
    normal = np.stack((n_r * cos + n_z * sin, n_z * cos - n_r * sin), axis=1)  # the director turns clockwise by b
    return replace(still, r=still.r + u, z=still.z + w, normal=normal)
