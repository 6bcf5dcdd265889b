"""What ends and joints change of walls that move far.

The deformation of a stretch of wall under its joint's loads (`joint.stiffness`) is the work of its stresses under unit
loads at the joint, the far end held, on the strains it has, whatever its motion:

    n + R g = sum_i integral (law_i strain(X))^T strain(U),

X the motion under these loads, i the materials. Strains know nothing of rigid motion, so the same sum over the strains
of `bent_meridian` holds at any stroke: the energy d^T H d / 2 that joints add has the drawn shape's stiffness as its
second derivative at rest, and no rigid motion or turn costs anything. H and X are those of the drawn shape, as the
wall's law is. Rings of section (`joint.sections`) stand in `bent_rings`. Walls' ends move around as the joint twists,
by the turning of `joint.torsion`, in whatever strains are asked for.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import csr_matrix

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.mesh.meridian import MeridianMesh
from diaphragm_fem.model.joint.correction import JointChanges
from diaphragm_fem.model.joint.stiffness import chain, chained, fields_of, from_joint, parted_joints
from diaphragm_fem.model.joint.torsion import twist_rate
from diaphragm_fem.model.large_stroke.strain_about import TURNS
from diaphragm_fem.model.shell.assembly import element_matrices
from diaphragm_fem.model.shell.line import OrderTerms
from diaphragm_fem.model.shell.numbering import B, V, W
from diaphragm_fem.model.shell.shell import ShellModel

ZoneMaterial = tuple[int, int]  # number of a zone and of a material


@dataclass(frozen=True, eq=False)
class BentJoints:
    """Joints in order m: of P parts, a stretch's walls of one material, the elements (P, H) and the stresses under L
    unit loads, times quadrature weights, (P, H, Q, 8, L); by zone and material what they hold (P L, P L); and all
    materials' factors."""

    elements: Index
    stress: Array
    holds: dict[ZoneMaterial, csr_matrix]
    factors: Sequence[float]

    @cached_property
    def _holds(self) -> csr_matrix:
        return csr_matrix(sum(self.factors[kind[1]] * matrix for kind, matrix in self.holds.items()))

    def resultants(self, strain: Array, weight: Array) -> Array:
        """What strains (8, E, Q) of m = 0 add to the resultants (8, E, Q); weight (E, Q) is that of the quadrature."""
        deformed = np.einsum("phqcl,cphq->pl", self.stress, strain[:, self.elements])
        force = (self._holds @ deformed.ravel()).reshape(deformed.shape)
        found = np.zeros((*weight.shape, len(strain)))
        np.add.at(found, self.elements, np.einsum("phqcl,pl->phqc", self.stress, force))
        return np.moveaxis(found / weight[..., None], -1, 0)

    def rows(self, strains: Array, order: OrderTerms) -> csr_matrix:
        """Deformations per unknown, sparse (P L, n), from the strains (8, F, E, Q) of the local functions."""
        values = np.einsum("phqcl,cfphq->plhf", self.stress, strains[:, :, self.elements], optimize=True)
        values = values.reshape(*values.shape[:2], -1)
        return order.numbering.functionals(order.dofs[self.elements].reshape(len(values), 1, -1), values)

    def by_kind(self, strains: Array, order: OrderTerms) -> dict[ZoneMaterial, csr_matrix]:
        """What joints hold (n, n) at the reference moduli, by zone and material."""
        rows = self.rows(strains, order)
        return {kind: csr_matrix(rows.T @ (held @ rows)) for kind, held in self.holds.items()}

    def stiffness(self, strains: Array, order: OrderTerms) -> csr_matrix:
        """What joints add to the tangent (n, n), at the storage moduli."""
        rows = self.rows(strains, order)
        return csr_matrix(rows.T @ (self._holds @ rows))


def bent_joints(model: ShellModel, order: OrderTerms, factors: Sequence[float]) -> BentJoints | None:
    """The joints of a corrected shell, moduli as many times the reference ones; none where it has none or is bare."""
    changes, walls = model.joint_changes, model.walls
    if changes is None:
        return None
    stretches, parts = changes.stretches, changes.parts
    first = stretches.elements[parts.arm, 0]
    stress, give = _under_loads(model, changes, order)
    zones, materials = model.line.zone_of_element[first], walls.material[parts.rows[:, 0]]
    kinds, loads = list(zip(zones.tolist(), materials.tolist(), strict=True)), give.shape[-1]
    size = loads * max(own.free for own in parts.alike)
    turned, held = np.zeros((*stress.shape[:-1], size)), dict[ZoneMaterial, list[tuple[Array, Index, Index]]]()
    for own in parts.alike:
        excess = changes.under_loads(own, order.around, loads)
        carry, part = parted_joints(give[own.parts], own, excess, stretches.crowded[own.joints])
        live = np.arange(excess.shape[-1])
        turned[own.parts, ..., : len(live)] = stress[own.parts] @ (carry @ part.directions[own.joint].mT)[:, None, None]
        change = part.change(part.each)[own.joint, own.place]
        for p, joint, one in zip(own.parts.tolist(), own.joint.tolist(), change, strict=True):
            at = (own.parts[own.joint == joint, None] * size + live).ravel()
            entries = one[: len(at), : len(at)].ravel(), np.repeat(at, len(at)), np.tile(at, len(at))
            held.setdefault(kinds[p], []).append(entries)
    holds, count = dict[ZoneMaterial, csr_matrix](), len(kinds) * size
    for kind in sorted(held):
        values, row, column = (np.concatenate(x) for x in zip(*held[kind], strict=True))
        holds[kind] = csr_matrix((values, (row, column)), shape=(count, count))
    return BentJoints(stretches.elements[parts.arm], turned, holds, factors)


def _under_loads(model: ShellModel, changes: JointChanges, order: OrderTerms) -> tuple[Array, Array]:
    """Stresses of all parts under unit loads at the joint, times weights, (P, H, Q, 8, N), and the parts (P, N, N) of
    the compliance there."""
    stretches, parts, line = changes.stretches, changes.parts, model.line
    laws = model.walls.law
    weight = order.around * line.stiff.at.weight * line.stiff.at.r
    count, most = parts.rows.shape
    loads, size = len(fields_of(order.m > 0).loads), order.dofs.shape[1]
    stress = np.zeros((count, most, weight.shape[1], len(laws), loads))
    give = np.zeros((count, loads, loads))
    for arm, (long, end) in enumerate(zip(stretches.length.tolist(), stretches.end.tolist(), strict=True)):
        elements, own = stretches.elements[arm, :long], np.flatnonzero(parts.arm == arm)
        law = laws[:, :, parts.rows[own, :long]]  # (8, 8, p, H, Q)
        strains = order.strain[:, from_joint(end, size // 3).ravel()][:, :, elements]
        whole = chained(element_matrices(strains, law.sum(axis=2), weight[elements])[None])[0]
        moved, free = np.zeros((len(whole), loads)), chain(long, order.m > 0)[0]
        moved[free] = np.linalg.solve(whole[free[:, None], free], np.eye(len(free), loads))
        place = 2 * size // 3 * np.arange(long)[:, None] + np.arange(size)
        strained = np.einsum("cfhq,hfn->chqn", strains, moved[place])
        found = np.einsum("cdphq,dhqn,hq->phqcn", law, strained, weight[elements], optimize=True)
        stress[own, :long] = found
        give[own] = np.einsum("phqcn,chqk->pnk", found, strained)
    return stress, give


def twist_at_joints(model: ShellModel, m: int, out: Array, forms: Sequence[Array]) -> None:
    """Let forms (C, F, E, Q) of the local functions know that walls' ends move around beside joints as these twist,
    whose nodes went out by `out` (N,) in m."""
    if (changes := model.joint_changes) is None:
        return
    first, end, joint = changes.stretches.elements[:, 0], changes.stretches.end, changes.stretches.joint_of_arm
    radius = changes.stretches.place[joint, 0] + out[model.mesh.nodes[end, first]]
    far = changes.turning[:, None] * twist_rate(m, radius[:, None])
    for form in forms:
        around = form[:, 3 * V + end, first]
        for motion, own in zip((W, B), far.T, strict=True):
            form[:, 3 * motion + end, first] += own[:, None] * around


def beside_joints(mesh: MeridianMesh) -> tuple[Index, Index]:
    """Elements (C,) beside joints of walls, and which end of each is there."""
    piece, end = np.array([x for own in mesh.joints if len(own) > 1 for x in own], int).reshape(-1, 2).T
    first = np.array([own.start for own in mesh.elements])
    return np.append(first, len(mesh.piece_of_element))[piece + end] - end, end


def moments_at_joints(count: int, elements: Index, turns: Array, moment: Array) -> Array:
    """Element matrices (E, F, F), in N/m of so many elements, of what moments of walls' ends work at joints in second
    order: of some elements (C,), turns (9, F, C) and moments (C,) at their ends there.

    A joint turns as one by the vector (b, q, omega); a wall's director, turned by omega first, then lacks a turn of
    -omega q/2 in the meridian plane, which differs from wall to wall where they meet at an angle. By equilibrium
    the moment M (N m of the circle) of each wall's end does all of that work: -M omega q/4 on the mean. Derived
    here; M is what elements' own forces give, which balances where stress at their ends would not.
    """
    found = np.zeros((count, turns.shape[1], turns.shape[1]))
    q, omega = (turns[TURNS.index(name)].T for name in ("q", "omega"))
    product = moment[:, None, None] * omega[:, :, None] * q[:, None]
    np.subtract.at(found, elements, (product + product.mT) / 4)
    return found
