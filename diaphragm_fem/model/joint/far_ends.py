"""What acts on the far end faces of a patch's arms: the stress of plate theory under unit loads, and of a twist."""

from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Complex, Index
from diaphragm_fem.model.joint.cut import FAR_OUT, Cut, Patch
from diaphragm_fem.model.joint.kind import unit
from diaphragm_fem.model.joint.layers import layered_stress, resultants, shear_stiffness, stiffened
from diaphragm_fem.model.joint.torsion import centre_of_shear
from diaphragm_fem.model.quadrature import gauss
from diaphragm_fem.model.shell.elasticity import TINY


class FarFace(NamedTuple):
    """Of an arm's far end face: its cells (K,), what lies on their sides (B, K, Q) at Q places of each, the measure
    (K, Q) in m of these, and their height (K, Q) in m over the arm's line."""

    cells: Index
    functions: Array
    measure: Array
    height: Array


def far_faces(cut: Cut) -> Iterator[FarFace]:
    """Those of all arms."""
    shapes, (x, weight) = cut.shapes, gauss(cut.shapes.top + 2)
    for arm, sides in zip(cut.kind.arms, cut.far_sides, strict=True):
        cells, ends = np.array([cell for cell, _ in sides]), np.array([shapes.sides[side] for _, side in sides])
        tips, local_tips = shapes.corner[cells[:, None], ends], shapes.local_corners[ends]
        place, local = (np.moveaxis(np.tensordot(t, (1 - x, x), (1, 0)), 1, 0) for t in (tips, local_tips))
        measure = weight * np.linalg.norm(tips[:, 1] - tips[:, 0], axis=1)[:, None]
        tip, angle = arm.place(cut.kind.reach(arm))
        normal = unit(angle + np.pi / 2)
        height = np.einsum("ckq,c->kq", place, normal) - (tip + np.array([FAR_OUT, 0.0])) @ normal
        yield FarFace(cells, shapes.at(local)[: cut.nodes.shape[1]], measure, height)


@lru_cache(maxsize=2)
def plain_load(cut: Cut, plane: bool) -> Array:
    """The loads of kinds without laminates, in which materials have no part."""
    return far_load(Patch(cut.kind, cut), plane).real


def far_load(patch: Patch, plane: bool, stiffer: int = -1) -> Complex:
    """Nodal forces (2 N or N, L) of the unit loads: at each far end the stress of plate theory; one part may be stiffer
    by a complex step."""
    transport = patch.kind.transport(3 if plane else 1)
    load = np.zeros((2 if plane else 1, patch.cut.size, transport.shape[2]), complex)
    for index, (own, face) in enumerate(zip(transport, far_faces(patch.cut), strict=True)):
        for component, value in enumerate(_far_stress(patch, index, face, own, stiffer)):
            force = np.einsum("fkq,kql,kq->kfl", face.functions, value, face.measure)
            np.add.at(load[component], patch.cut.nodes[face.cells], force)
    return load.reshape(-1, load.shape[2])


def far_twist(patch: Patch) -> Array:
    """Forces around (K, B) of cells, by their shear moduli, that a plate's stress puts on the far ends of a section
    twisted by 1 rad/m."""
    found = np.zeros(patch.cut.nodes.shape)
    for arm, face in zip(patch.kind.arms, far_faces(patch.cut), strict=True):
        stress = -2 * (face.height - centre_of_shear(arm)) * face.measure
        np.add.at(found, face.cells, np.einsum("fkq,kq->kf", face.functions, stress))
    return found


def _far_stress(patch: Patch, index: int, face: FarFace, loads: Array, stiffer: int) -> list[Array | Complex]:
    """What an arm's own loads (N, L) put on its far end face: stress along r and z, or of one load alone around, each
    (K, Q, L)."""
    kind, arm = patch.kind, patch.kind.arms[index]
    h, angle = arm.thickness, arm.place(kind.reach(arm))[1]
    layers = stiffened(arm.layers, stiffer - kind.parts.index(index))
    more = TINY * 1j * np.outer(patch.cut.part_of_cell[face.cells] == stiffer, (1, 0))
    elastic = patch.elastic_of_cell[face.cells] * (1 + more)
    height = face.height[..., None] / h
    if len(loads) == 1:
        modulus, nu = elastic.T
        share = modulus / (2 * (1 + nu)) * h / shear_stiffness(layers) if arm.layers else np.ones(len(face.cells))
        return [np.broadcast_to(loads[0] / h, (*height.shape[:2], loads.shape[1])) * share[:, None, None]]
    n, q, m = resultants(arm, kind.reach(arm)) @ loads
    if arm.layers:
        on_n, on_m, on_q = layered_stress(layers, arm.lift, elastic, h * height[..., 0])
        along, across = on_n[..., None] * n + on_m[..., None] * m, on_q[..., None] * q
    else:
        along, across = n / h + 12 * m / h**2 * height, 1.5 * q / h * (1 - 4 * height**2)
    return [along * t + across * normal for t, normal in zip(unit(angle), unit(angle + np.pi / 2), strict=True)]
