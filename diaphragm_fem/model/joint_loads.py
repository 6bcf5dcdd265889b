"""The loads of a joint as the shell knows them: functionals of its unknowns, from the stretches of wall beside it.

In a stretch the resultants at a Gauss point are R times the load at the joint plus what hoop forces and the like add on
the way: with l the force per area that the strains without derivative give, (r F)' = r l. That part is taken off, the
joint's own excess ring included. What is left is the stretch's deformation d under the joint's loads, and its
compliance S:

    d = sum R^T (e - H^-1 p) ds r/r_J,    S = sum R^T H^-1 R ds r/r_J,    loads = S^-1 d

H the wall's law of (N, Q, M, T) and e the strains that belong to them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.design.material import Material
from diaphragm_fem.model.elasticity import stiffness_law
from diaphragm_fem.model.joints import Joint
from diaphragm_fem.model.thick_wall import thick_law

if TYPE_CHECKING:
    from diaphragm_fem.model.shell_line import OrderTerms, ShellLine

Array = NDArray[np.float64]
Index = NDArray[np.int64]

RESULTANTS = (0, 6, 3, 2)  # N, Q, M, T among the strains
PLANE, AROUND = (0, 1, 2), (0, 1, 2, 3)  # loads (f_r, f_z, m) for m = 0, with T beyond
COLLOCATION = np.array([[0.25, 0.25 - np.sqrt(3) / 6], [0.25 + np.sqrt(3) / 6, 0.25]])  # integrals up to Gauss points


class Side(NamedTuple):
    """One arm's stretch: deformation (N, D) as rows over the raw degrees of freedom (D,), compliance (N, N); N = 3 for
    m = 0 and 4 beyond."""

    deformation: Array
    dofs: Index
    compliance: Array


class Places(NamedTuple):
    """Elements (n,) of all stretches: resultants (8, F, n, 2) of their local functions and law (8, 8, n, 2)."""

    resultant: Array
    law: Array


def places_of(line: ShellLine, terms: OrderTerms, elements: Index) -> Places:
    """Resultants and law at elements of walls of one layer."""
    mesh, at = line.mesh, line.stiff.at
    owner = mesh.piece_of_element[elements]
    own: list[Material] = [mesh.pieces[p].wall.layers[0].material for p in owner.tolist()]
    law = np.zeros((8, 8, len(elements), 2))
    for material in dict.fromkeys(own):
        pick = np.array([k for k, other in enumerate(own) if other == material])
        bare = stiffness_law(mesh.pieces, owner[pick], at.fraction[elements[pick]], material)
        law[:, :, pick] = bare + thick_law(bare, at, elements[pick], material.poisson_ratio)
    strain = terms.strain[:, :, elements].transpose(2, 3, 0, 1)
    return Places((law.transpose(2, 3, 0, 1) @ strain).transpose(2, 3, 0, 1), law)


def side_of(line: ShellLine, terms: OrderTerms, joint: Joint, k: int, places: Places, pick: slice, ring: Array) -> Side:
    """Deformation and compliance of the stretch of arm k; `pick` is its place among all, `ring` (4, 4) the stiffness
    per metre of circle of the arm's excess ring on (u, v, w, b) at the joint."""
    mesh, at, m = line.mesh, line.stiff.at, terms.m
    elements, end = joint.stretches[k], joint.ends[k]
    curve = mesh.pieces[end[0]].curve
    r_j, z_j = curve.point(end[1] * curve.length).tolist()
    r, weight = at.r[elements], at.weight[elements]
    sign = 1.0 if end[1] == 0 else -1.0
    lever = np.stack((r - r_j, _height(line, elements) - z_j))
    load_rows = AROUND if m else PLANE
    count = len(load_rows)
    moved = _moved(at.t_r[elements], at.t_z[elements], lever)[:count, :count]  # resultants from loads along s
    law = places.law[:, :, pick][np.ix_(RESULTANTS[:count], RESULTANTS[:count])]
    soft = np.linalg.inv(law.transpose(2, 3, 0, 1)) * (weight * r / r_j)[..., None, None]
    known = places.resultant[:, :, pick]
    gained = _gained(line, elements, m, known, lever, weight, sign)[:count] / r  # (N, F, E, 2) summed over elements
    points = len(elements) * 2
    functions = known.shape[1]
    own: Array = np.zeros((count, len(elements), 2, len(elements), functions))
    index = np.arange(len(elements))
    own[:, index, :, index] = known[list(RESULTANTS[:count])].transpose(2, 0, 3, 1)
    own -= np.einsum("abeq,bfheq->aeqhf", moved, gained)
    flat = moved.reshape(count, count, points)
    at_joint = -sign * np.einsum("abp,bf->apf", flat, _ring_load(ring, count))
    whole = np.concatenate((own.reshape(count, points, -1), at_joint), axis=2)
    pull = np.einsum("abp,pac->pbc", flat, soft.reshape(points, count, count))
    node = line.vertex_node(mesh.vertex(end))
    dofs = np.concatenate((terms.dofs[elements].ravel(), node + np.arange(4) * line.nodes))
    deformation = sign * np.einsum("pbc,cpf->bf", pull, whole)
    return Side(deformation, dofs, np.einsum("pbc,cdp->bd", pull, flat))


def _height(line: ShellLine, elements: Index) -> Array:
    """z (E, 2) at the Gauss points."""
    mesh, found = line.mesh, []
    for element in elements.tolist():
        curve = mesh.pieces[int(mesh.piece_of_element[element])].curve
        found.append(curve.point(line.stiff.at.fraction[element] * curve.length)[:, 1])
    return np.array(found)


def _moved(t_r: Array, t_z: Array, lever: Array) -> Array:
    """(N, Q, M, T) (4, 4, E, 2) from loads (f_r, f_z, m, T) at the joint that act along s."""
    moved = np.zeros((4, 4, *t_r.shape))
    moved[0, 0], moved[0, 1] = t_r, t_z
    moved[1, 0], moved[1, 1] = -t_z, t_r
    moved[2, 0], moved[2, 1], moved[2, 2] = -lever[1], lever[0], 1.0
    moved[3, 3] = 1.0
    return moved


def _ring_load(ring: Array, count: int) -> Array:
    """Loads (N, 4) of a ring from (u, v, w, b)."""
    return ring[[0, 2, 3, 1]][:count]


def _gained(
    line: ShellLine, elements: Index, m: int, resultant: Array, lever: Array, weight: Array, sign: float
) -> Array:
    """r F at each Gauss point less the joint's, (4, F, H, E, 2) by the unknowns of the elements H it comes from."""
    at = line.stiff.at
    unit = _unit_strains(at.r[elements], at.t_r[elements], at.t_z[elements], at.kappa[elements], m)
    load = np.einsum("jieq,ifeq->jfeq", unit, resultant)
    load[2] += lever[1] * load[0] - lever[0] * load[1]
    load *= at.r[elements]
    count = len(elements)
    path = np.zeros((count, 2, count, 2))  # of point (E, Q) from points (H, P)
    for e in range(count):
        path[e, :, :e, :] = weight[:e]
        within = COLLOCATION if sign > 0 else COLLOCATION[::-1, ::-1]
        path[e, :, e, :] = within * weight[e].sum()
    return sign * np.einsum("eqhp,jfhp->jfheq", path, load)


def _unit_strains(r: Array, t_r: Array, t_z: Array, kappa: Array, m: int) -> Array:
    """Strains (4, 8, E, 2) that steady unit motions u, w, b, v give: what the circle makes of them."""
    unit = np.zeros((4, 8, *r.shape))
    turn = (kappa - t_z / r) / 2
    unit[0, 1] = 1 / r
    unit[0, 2], unit[1, 2] = -m * t_r / r, -m * t_z / r
    unit[0, 5], unit[1, 5] = turn * m * t_r / r, turn * m * t_z / r
    unit[0, 7], unit[1, 7] = m * t_z / r, -m * t_r / r
    unit[2, 4], unit[2, 5] = t_r / r, -m / r
    unit[3, 1], unit[3, 2], unit[3, 5], unit[3, 7] = m / r, -t_r / r, turn * t_r / r, t_z / r
    return unit
