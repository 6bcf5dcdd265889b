"""What a joint gives way more than its walls: springs between the ends of the walls and the joint.

With f = K_n u the forces on the ends of the free arms, K_nn the stiffness of those ends and C >= 0 what the joint
yields more, a spring C put between end and joint, its far side condensed, changes the stiffness by

    dK = -f^T Y f,    Y = C (1 + K_nn C)^-1

which is exact for the discrete shell and leaves it positive whatever C. The last arm stays tied to the joint. To each
material a its share, d/d ln E:

    dK_a = -(f_a^T Y f + f^T Y f_a - f^T (Z C_a Z^T + Y K_a Y) f),    Z = (1 + C K_nn)^-1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.model.assembly import element_matrices
from diaphragm_fem.model.joint_loads import Places
from diaphragm_fem.model.joints import Joint
from diaphragm_fem.model.numbering import AXISYMMETRIC, FIELDS

if TYPE_CHECKING:
    from diaphragm_fem.model.shell_line import OrderTerms, ShellLine

Array = NDArray[np.float64]
Index = NDArray[np.int64]
MOTIONS = ("u", "w", "b", "v")  # that the loads (f_r, f_z, m, T) do work on


class Forces(NamedTuple):
    """Forces (A, L, D) on the ends of the free arms, arm by arm, over raw degrees of freedom (D,); stiffness (A, L, L)
    of those ends; both per metre of circle."""

    rows: Array
    dofs: Index
    stiffness: Array


def end_forces(line: ShellLine, order: OrderTerms, joint: Joint, places: Places, first: list[int]) -> Forces:
    """Forces on the ends of a joint's free arms; `first` are the places of the elements that touch it."""
    fields = FIELDS if order.m else AXISYMMETRIC
    motions = MOTIONS if order.m else MOTIONS[:3]
    free = joint.ends if joint.kind.held else joint.ends[:-1]
    curve = line.mesh.pieces[joint.ends[0][0]].curve
    scale = order.around * float(curve.point(joint.ends[0][1] * curve.length)[0])
    count, each = len(motions), order.dofs.shape[1]
    rows = np.zeros((len(joint.ends), count * len(free), each * len(free)))
    stiffness = np.zeros((len(joint.ends), count * len(free), count * len(free)))
    dofs = []
    for a, end in enumerate(free):
        element = joint.stretches[a][:1]
        weight = (order.around * line.stiff.at.weight * line.stiff.at.r)[element]
        law = places.law[:, :, first[a] : first[a] + 1]
        whole = element_matrices(order.strain[:, :, element], law, weight)[0] / scale
        node = np.array([3 * fields.index(motion) + end[1] for motion in motions])
        own, columns = slice(count * a, count * (a + 1)), slice(each * a, each * (a + 1))
        rows[a, own, columns] = whole[node]
        stiffness[a, own, own] = whole[np.ix_(node, node)]
        dofs.append(order.dofs[element[0]])
    return Forces(rows, np.concatenate(dofs), stiffness)


def spring_changes(forces: Forces, more: Array) -> Array:
    """Change (A, D, D) of the stiffness by arm for the excess compliances `more` (A, L, L), positive in sum."""
    whole, stiff, soft = forces.rows.sum(axis=0), forces.stiffness.sum(axis=0), more.sum(axis=0)
    one = np.eye(len(soft))
    yielded = soft @ np.linalg.inv(one + stiff @ soft)
    turn = np.linalg.inv(one + soft @ stiff)
    changes = []
    for row, own, part in zip(forces.rows, forces.stiffness, more, strict=True):
        cross = row.T @ yielded @ whole
        within = turn @ part @ turn.T + yielded @ own @ yielded
        changes.append(-(cross + cross.T - whole.T @ within @ whole))
    return np.stack(changes)
