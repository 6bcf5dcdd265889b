"""Ends and joints of the shell: what they yield more or less than its walls.

`joint_kinds` knows from a patch of the solid what a joint yields more than the walls do, C. Measured by the compliance
S of the stretches of wall beside it C falls in two:

- where it is negative, as at a clamped end or where a wall lies over another, the stretches become stiffer.
  `joint_loads` reads from them their deformation d under the joint's loads; with C they give way by S + C, and the
  energy d^T S^-1 d/2 becomes d^T (S + C)^-1 d/2: dK = d^T ((S + C)^-1 - S^-1) d, which adds stiffness only;
- where it is positive, springs stand between the walls and the joint: `joint_springs`.

So both are symmetric and neither makes the stiffness indefinite. To each material its share, as d/d ln E of the whole
gives it: (S + C)^-1 (S_a + C_a) (S + C)^-1 - S^-1 S_a S^-1 for the arm a of that material.

An arm's excess section is a ring at the joint: with the integrals of 1, dr, dz and their products over it,

    hoop strain at (dr, dz):  (u + m v + dr (m^2 - 1) u/r + dz (b + m^2 w/r))/r

(the circumferential motion follows from no shear in the ring), its energy E/2 times the square of that, its inertia
that of its motions u, v, w and b; where walls overlap the mass is taken from the stretch instead, so that none is left
negative. The patch is straight; what the circle adds to the loads is in `joint_loads`. Good for any order m.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix

from diaphragm_fem.design.material import Material
from diaphragm_fem.errors import MeshError
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.assembly import Numbering, element_matrices
from diaphragm_fem.model.elasticity import inertia_law
from diaphragm_fem.model.joint_kinds import excess_of
from diaphragm_fem.model.joint_loads import Side, places_of, side_of
from diaphragm_fem.model.joint_patch import Excess
from diaphragm_fem.model.joint_springs import end_forces, spring_changes
from diaphragm_fem.model.joints import Joint, joints_of
from diaphragm_fem.model.structure import MASS, STIFFNESS, Elastic, Term

if TYPE_CHECKING:
    from diaphragm_fem.model.shell_line import OrderTerms, ShellLine

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Entries = list[tuple[Index, Array]]  # raw degrees of freedom (D,) and blocks (D, D)

STIFFEST = -0.9  # a joint's own yield over that of the stretches of wall beside it
ROUNDING = 1e-3  # of a thickness squared: what the cells' curved sides leave of a section
MOST_TAKEN = 0.95  # of a stretch's mass where walls overlap it


class KnownJoint(NamedTuple):
    """A joint and what it yields more than the shell's walls."""

    joint: Joint
    excess: Excess


def known_joints(mesh: MeridianMesh) -> tuple[tuple[KnownJoint, ...], tuple[str, ...]]:
    """Joints with their excess, and a remark for each joint that the solid cannot draw: it keeps the bare theory."""
    found, remarks = [], []
    for joint in joints_of(mesh):
        try:
            found.append(KnownJoint(joint, excess_of(joint.kind)))
        except MeshError as problem:
            zone = mesh.pieces[joint.ends[0][0]].zone.name
            remarks.append(f"the joint at '{zone}' is left to the bare shell theory: {problem}")
    return tuple(found), tuple(remarks)


def joint_terms(line: ShellLine, order: OrderTerms, known: Sequence[KnownJoint], by_zone: bool = True) -> list[Term]:
    """Changes of stiffness and mass by ends and joints, for each zone and material (zone -1: in all)."""
    if not known:
        return []
    places = places_of(line, order, np.concatenate([x for joint, _ in known for x in joint.stretches]))
    stiff: dict[tuple[int, Material], Entries] = {}
    heavy: dict[tuple[int, Material], Entries] = {}
    start = 0
    for joint, excess in known:
        radius = _radius(line.mesh, joint)
        rings = [_hoop_stiffness(joint, a, excess.section[a], order.m, radius) for a in range(len(joint.ends))]
        sides, first = [], []
        for a, elements in enumerate(joint.stretches):
            sides.append(side_of(line, order, joint, a, places, slice(start, start + len(elements)), rings[a]))
            first.append(start)
            start += len(elements)
        scale = order.around * radius
        dofs = np.concatenate([side.dofs for side in sides])
        soft, deformation = _stretches(sides, joint, 4 if order.m else 3)
        less, more = _parted(_both(excess, 4 if order.m else 3), soft.sum(axis=0))
        forces = end_forces(line, order, joint, places, first)
        stiffer, softer = _stiffer(soft, deformation, less), spring_changes(forces, more)
        for a in range(len(joint.ends)):
            material = line.mesh.pieces[joint.ends[a][0]].wall.layers[0].material
            key = (int(line.zone_of_element[joint.stretches[a][0]]) if by_zone else -1, material)
            at_joint = sides[a].dofs[-4:]
            stiff.setdefault(key, []).extend(
                [(dofs, scale * stiffer[a]), (forces.dofs, scale * softer[a]), (at_joint, scale * rings[a])]
            )
            section = excess.section[a]
            if section[0] > -ROUNDING * joint.kind.arms[a].thickness ** 2:
                heavy.setdefault(key, []).append((at_joint, scale * material.density * _inertia(section)))
            else:
                heavy.setdefault(key, []).extend(_lighter(line, order, joint.stretches[a], float(section[0])))
    terms = []
    for key, entries in stiff.items():
        zone, material = key
        terms.append(Term(_sparse(order.numbering, entries), Elastic(material), STIFFNESS, zone, material.name))
        terms.append(Term(_sparse(order.numbering, heavy[key]), derivatives=MASS, zone=zone, made_of=material.name))
    return terms


def _radius(mesh: MeridianMesh, joint: Joint) -> float:
    p, e = joint.ends[0]
    curve = mesh.pieces[p].curve
    return float(curve.point(e * curve.length)[0])


def _stretches(sides: list[Side], joint: Joint, count: int) -> tuple[Array, Array]:
    """Compliance (A, L, L) of the stretches by arm under the joint's balanced loads, and their deformation (L, D)."""
    transport = joint.kind.transport(count)
    soft = np.stack([t.T @ side.compliance @ t for t, side in zip(transport, sides, strict=True)])
    return soft, np.concatenate([t.T @ side.deformation for t, side in zip(transport, sides, strict=True)], axis=1)


def _stiffer(soft: Array, deformation: Array, more: Array) -> Array:
    """Change (A, D, D) of the stiffness by arm, per metre of circle, for an excess `more` (A, L, L) negative in sum."""
    stiff, yielded = np.linalg.inv(soft.sum(axis=0)), np.linalg.inv(soft.sum(axis=0) + more.sum(axis=0))
    return np.asarray(deformation.T @ (yielded @ (soft + more) @ yielded - stiff @ soft @ stiff) @ deformation)


def _parted(more: Array, soft: Array) -> tuple[Array, Array]:
    """Excess compliances (A, L, L) in two: where their sum is negative, measured by the stretches' own compliance
    `soft` and kept above `STIFFEST` of it, and where it is positive."""
    root = np.linalg.cholesky(soft)
    back = np.linalg.inv(root)
    ratio, turn = np.linalg.eigh(back @ more.sum(axis=0) @ back.T)
    half = STIFFEST / 2
    kept = np.maximum(ratio, half) + half * np.tanh(np.minimum(ratio - half, 0.0) / half)
    negative = ratio < 0
    share = np.sqrt(np.divide(kept, ratio, out=np.zeros_like(ratio), where=negative))
    found = []
    for part in (share, 1.0 - negative):
        change = root @ (turn * part) @ turn.T @ back
        found.append(np.asarray(change @ more @ change.T))
    return found[0], found[1]


def _both(excess: Excess, count: int) -> Array:
    """Excess (A, L, L) of plane loads, with those around interleaved beyond m = 0."""
    if count == 3:
        return excess.plane
    free = excess.around.shape[1]
    whole = np.zeros((len(excess.plane), 4 * free, 4 * free))
    plane = np.concatenate([4 * a + np.arange(3) for a in range(free)])
    around = 4 * np.arange(free) + 3
    whole[:, plane[:, None], plane] = excess.plane
    whole[:, around[:, None], around] = excess.around
    return whole


def _hoop_stiffness(joint: Joint, a: int, section: Array, m: int, r: float) -> Array:
    """Stiffness (4, 4) of an arm's excess ring on (u, v, w, b) at the joint, per metre of circle."""
    one, dr, dz, rr, rz, zz = section
    strain = np.array([[1.0, m, 0.0, 0.0], [(m * m - 1) / r, 0.0, 0.0, 0.0], [0.0, 0.0, m * m / r, 1.0]]) / r
    moments = np.array([[one, dr, dz], [dr, rr, rz], [dz, rz, zz]])
    return np.asarray(joint.kind.arms[a].youngs_modulus * strain.T @ moments @ strain)


def _inertia(section: Array) -> Array:
    """The ring's second moments (4, 4) of the motions (u, v, w, b): b moves a point by (dz, -dr)."""
    one, dr, dz, rr, _, zz = section
    inertia = np.diag([one, one, one, rr + zz])
    inertia[0, 3] = inertia[3, 0] = dz
    inertia[2, 3] = inertia[3, 2] = -dr
    return inertia


def _lighter(line: ShellLine, order: OrderTerms, elements: Index, area: float) -> Entries:
    """Mass of a stretch whose section is larger by `area` in m2, negative: taken evenly along it, never below none."""
    pieces, owner, at = line.mesh.pieces, line.mesh.piece_of_element[elements], line.heavy.at
    material = pieces[owner[0]].wall.layers[0].material
    inertia = inertia_law(pieces, owner, at.fraction[elements], material)
    weight = at.weight[elements]
    own = float((inertia[0, 0] * weight).sum()) / material.density
    blocks = element_matrices(order.motion[:, :, elements], inertia, order.around * weight * at.r[elements])
    return [
        (dofs, max(area / own, -MOST_TAKEN) * block) for dofs, block in zip(order.dofs[elements], blocks, strict=True)
    ]


def _sparse(numbering: Numbering, entries: Entries) -> csr_matrix:
    """Sparse (n, n) sum of blocks of different sizes."""
    value, row, column = [], [], []
    for dofs, block in entries:
        number, sign = numbering.unknown[dofs], numbering.sign[dofs]
        inside = number >= 0
        free, place = np.outer(inside, inside), np.broadcast_to(number, block.shape)
        value.append((block * np.outer(sign, sign))[free])
        row.append(place.T[free])
        column.append(place[free])
    triplets = (np.concatenate(value), (np.concatenate(row), np.concatenate(column)))
    return csr_matrix(coo_matrix(triplets, shape=(numbering.size, numbering.size)))
