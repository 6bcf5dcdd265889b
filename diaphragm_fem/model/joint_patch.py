"""What a joint yields more than the shell's walls do there, by a small flat patch of the solid.

Each arm of the patch is a stretch of one wall, long enough that the stress at its far end is a plate's again:
self-balanced stress fades in a strip as exp(-4.2 x/h) (Timoshenko and Goodier, Theory of Elasticity (1970), art. 26;
from memory, the tests measure it). There it carries the stress of plate theory, linear for N and M, parabolic for Q,
even for the shear T around, so that the work of the loads is exactly that of the walls and the joint.

A load is a row (f_r, f_z, m, T): the force per metre of circle with which the far part of an arm acts on the rest, its
moment about the joint, m = M + f_r (z - z_J) - f_z (r - r_J), positive as the shell's rotation b, and the force around.
The loads of all arms balance, so the last arm's follow from the others'; a held end has one arm and nothing to balance.
The first three are a problem of plane strain, the last one of anti-plane shear, on the same cells:

    excess = U^T K U - integral R^T (flexibility of the wall) R ds - 2 nu/(10 G h) M Q at the far end

with U the answer to the unit loads, R the loads moved along the arm, the wall's law that of `thick_wall` (whose end
product M Q is the last term). Beside it stands how much more section there is than the shell's walls have: where walls
overlap it is negative. Both are split by arm and layer, so that each material keeps its own losses: a layer's share of
what the patch yields is its fall with ln E, U_l^T K_l U_l - U^T F' - F'^T U, for the stress of plate theory at the end
of a laminate, and so the loads F, follow its moduli (F' by a complex step).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from scipy.linalg import LinAlgError, solveh_banded

from diaphragm_fem.arrays import Array, Complex, Index
from diaphragm_fem.errors import MeshError
from diaphragm_fem.model.elasticity import SHEAR_FACTOR, TINY
from diaphragm_fem.model.joint_layers import (
    POINTS,
    layered_stress,
    layers_yield,
    resultants,
    shear_stiffness,
    stiffened,
)
from diaphragm_fem.model.joint_section import FAR_OUT, Arm, Kind, Patch, patch_of, unit
from diaphragm_fem.model.solid_shapes import SIDE_CORNERS, Shapes, gauss, side_points
from diaphragm_fem.model.thick_wall import bent_stiffening, shear_gain

LEAST = 1e-6  # of what walls have: less than that below zero is rounding


class Excess(NamedTuple):
    """Of each layer of each arm (P, as `Kind.parts`): plane (P, 3 F, 3 F) and around (P, F, F), the excess compliance
    of the loads of the F free arms; section (P, 6), the excess integrals of 1, r, z, r^2, r z, z^2 over the section,
    from the joint."""

    plane: Array
    around: Array
    section: Array


def joint_excess(kind: Kind) -> Excess:
    """Excess of a kind of joint. Raises MeshError where the solid cannot draw it."""
    patch = patch_of(kind)
    kind = patch.kind
    plane, around = (_yield(patch, stiffness) for stiffness in _stiffness(patch))
    walls = _walls(kind)
    return Excess(plane - walls.plane, around - walls.around, _section_integrals(patch) - walls.section)


def may_be_of(kind: Kind, excess: Excess) -> bool:
    """Whether some excess, read and not solved, may be that of a kind: of its shape, finite, symmetric, and never so
    far below zero that joint and walls together, or one of plain walls, would have less than no compliance or section.
    """
    walls = _walls(kind)
    if any(own.shape != wall.shape or not np.isfinite(own).all() for own, wall in zip(excess, walls, strict=True)):
        return False
    plain = not any(arm.layers for arm in kind.arms)  # a layer's share is a slope, which may be below zero
    moments = [[0, 1, 2], [1, 3, 4], [2, 4, 5]]
    own, bare = ((x.plane, x.around, x.section[:, moments]) for x in (excess, walls))
    return all(_positive(x, wall, plain) for x, wall in zip(own, bare, strict=True))


def _positive(excess: Array, wall: Array, each: bool) -> bool:
    """Whether wall and excess (P, n, n) are symmetric and positive in sum, or each of them."""
    size = np.sqrt(np.diagonal(wall.sum(axis=0)))
    whole = (wall + excess) / np.outer(size, size)
    even = np.abs(whole - whole.swapaxes(1, 2)).max() < LEAST
    return bool(even and np.linalg.eigvalsh(whole if each else whole.sum(axis=0)).min() > -LEAST)


def _walls(kind: Kind) -> Excess:
    """The same of the shell's walls over the length of the patch."""
    each = [layers_yield(kind, a) if arm.layers else [_wall_yield(kind, a)] for a, arm in enumerate(kind.arms)]
    plane, around = (np.stack(x) for x in zip(*(one for own in each for one in own), strict=True))
    return Excess(plane, around, np.concatenate([_wall_integrals(kind, arm) for arm in kind.arms]))


def _stiffness(patch: Patch) -> tuple[Array, Array]:
    """Stiffness of the cells per metre of circle on what lies on their sides, component by component: plane strain
    (K, 2 B, 2 B) and anti-plane shear (K, B, B).

    Nothing acts inside a cell, so that what lies there is solved for cell by cell.
    """
    shapes = patch.shapes
    gradient = shapes.slope.transpose(2, 0, 1, 3)
    cells, _, count, points = gradient.shape
    flat = gradient.reshape(cells, 2 * count, points)
    product = ((flat * shapes.weight[:, None]) @ flat.transpose(0, 2, 1)).reshape(cells, 2, count, 2, count)
    modulus, nu = patch.elastic_of_cell.T[:, :, None, None]
    shear = modulus / (2 * (1 + nu))
    lame = 2 * nu / (1 - 2 * nu) * shear
    stiff = lame + 2 * shear

    def plane(rows: slice, columns: slice) -> Array:
        (rr, rz), (zr, zz) = product[:, :, rows, :, columns].transpose(1, 3, 0, 2, 4)
        found = np.empty((cells, 2, rr.shape[1], 2, rr.shape[2]))
        found[:, 0, :, 0], found[:, 0, :, 1] = stiff * rr + shear * zz, lame * rz + shear * zr
        found[:, 1, :, 0], found[:, 1, :, 1] = lame * zr + shear * rz, stiff * zz + shear * rr
        return found.reshape(cells, 2 * rr.shape[1], -1)

    def around(rows: slice, columns: slice) -> Array:
        return shear * (product[:, 0, rows, 0, columns] + product[:, 1, rows, 1, columns])

    return _condensed(plane, count - shapes.inside), _condensed(around, count - shapes.inside)


def _condensed(stiffness: Callable[[slice, slice], Array], outer: int) -> Array:
    """Stiffness (K, D, D) of cells on the first `outer` of their functions, the others free."""
    kept, free = slice(outer), slice(outer, None)
    coupled = stiffness(free, kept)
    follow = np.linalg.solve(stiffness(free, free), coupled)
    return np.asarray(stiffness(kept, kept) - coupled.transpose(0, 2, 1) @ follow)


def _yield(patch: Patch, stiffness: Array) -> Array:
    """Compliance (P, L, L) of the whole patch, by arm and layer its fall with ln E."""
    kind, shapes, nodes = patch.kind, patch.shapes, patch.nodes
    moving = stiffness.shape[1] // nodes.shape[1]
    place = moving * patch.place + np.arange(moving)[:, None]
    size = place.size
    if kind.held:
        sides = shapes.section.plan.faces["inner"]
        place[:, np.concatenate([np.concatenate(shapes.side_nodes(*side)) for side in sides])] = size
    else:
        first, last, across = _pins(patch)
        place[:, first] = size
        if moving > 1:
            place[across, last] = size
    dofs = np.concatenate([own[nodes] for own in place], axis=1)
    forces = _load(patch, moving > 1).real
    load, moved = np.zeros((2, size + 1, forces.shape[1]))
    load[place.ravel()] = forces
    try:
        moved[:size] = solveh_banded(_band(dofs, stiffness, size), load[:size], lower=True, check_finite=False)
    except LinAlgError as problem:
        raise MeshError("the patch of a joint cannot be solved: moduli or thicknesses are too unequal") from problem
    own = moved[dofs]
    energy = own.transpose(0, 2, 1) @ stiffness @ own
    found = np.stack([energy[patch.part_of_cell == p].sum(axis=0) for p in range(len(kind.parts))])
    for p, index in enumerate(kind.parts):
        if kind.arms[index].layers:
            work = moved[place.ravel()].T @ _load(patch, moving > 1, p).imag / TINY
            found[p] -= work + work.T
    return found


def _band(dofs: Index, stiffness: Array, size: int) -> Array:
    """Sum (W, size) of cells' stiffness (K, D, D) as a lower band; degrees of freedom (K, D) of `size` are held.

    A band and Cholesky's factor take a third of the time of a sparse one, whose fill is hardly less.
    """
    one, other = np.tril_indices(dofs.shape[1])
    row, column = np.maximum(dofs[:, one], dofs[:, other]), np.minimum(dofs[:, one], dofs[:, other])
    width = int((row - column)[row < size].max()) + 1
    at = np.where(row < size, column * width + row - column, size * width)
    total = np.bincount(at.ravel(), stiffness[:, one, other].ravel(), size * width + 1)
    band = np.asarray(total[:-1], float).reshape(size, width)
    band[:, 0] += band[:, 0] == 0  # what is held
    return band.T


def _pins(patch: Patch) -> tuple[int, int, int]:
    """What holds a patch whose loads balance: a corner of a far face, the opposite one and the component (0 radial,
    1 axial) across the line between them. The stiffest arm is held: where it hung from a soft one and turned with that,
    1e-9 of the energy was lost to rounding, 1e-6 of the excess.
    """
    index = max(range(len(patch.kind.arms)), key=lambda k: patch.kind.arms[k].youngs_modulus)
    arm, plan = patch.kind.arms[index], patch.shapes.section.plan
    _, angle = arm.place(patch.kind.reach(arm))
    ends = [(cell, corner) for cell, side in patch.far_sides(index) for corner in SIDE_CORNERS[side]]
    height = [float(plan.points[plan.cells[cell][corner]] @ unit(angle + np.pi / 2)) for cell, corner in ends]
    first, last = (int(patch.shapes.nodes[ends[int(k)]]) for k in (np.argmin(height), np.argmax(height)))
    return first, last, 0 if abs(np.cos(angle)) > abs(np.sin(angle)) else 1


def _load(patch: Patch, plane: bool, stiffer: int = -1) -> Complex:
    """Nodal forces (2 N or N, L) of the unit loads: at each far end the stress of plate theory; one part may be stiffer
    by a complex step."""
    kind, shapes = patch.kind, patch.shapes
    transport = kind.transport(3 if plane else 1)
    load = np.zeros((2 if plane else 1, patch.size, transport.shape[2]), complex)
    for index, (arm, own) in enumerate(zip(kind.arms, transport, strict=True)):
        h, reach, sides = arm.thickness, kind.reach(arm), patch.far_sides(index)
        tip, angle = arm.place(reach)
        cell, local, weight = side_points(sides, shapes.top + 2)
        place, _ = shapes.place(cell, local)
        layers = stiffened(arm.layers, stiffer - kind.parts.index(index))
        elastic = patch.elastic_of_cell[cell] * (1 + TINY * 1j * np.outer(patch.part_of_cell[cell] == stiffer, (1, 0)))
        height = np.einsum("ckq,c->kq", place, unit(angle + np.pi / 2))
        height = (height - (tip + np.array([FAR_OUT, 0.0])) @ unit(angle + np.pi / 2))[..., None] / h
        if plane:
            n, q, m = resultants(arm, reach) @ own
            if arm.layers:
                on_n, on_m, on_q = layered_stress(layers, elastic, h * height[..., 0])
                along, across = on_n[..., None] * n + on_m[..., None] * m, on_q[..., None] * q
            else:
                along, across = n / h + 12 * m / h**2 * height, 1.5 * q / h * (1 - 4 * height**2)
            t, normal = unit(angle), unit(angle + np.pi / 2)
            stress = [along * t[c] + across * normal[c] for c in range(2)]
        else:
            stress = [np.broadcast_to(own[0] / h, (*height.shape[:2], own.shape[1]))]
            if arm.layers:
                modulus, nu = elastic.T
                stress = [stress[0] * (modulus / (2 * (1 + nu)) * h / shear_stiffness(layers))[:, None, None]]
        measure = weight * np.array([_side_length(shapes, *side) for side in sides])[:, None]
        for component, value in enumerate(stress):
            force = np.einsum("fkq,kql,kq->kfl", shapes.at(local), value, measure)
            nodes = patch.nodes[cell]
            np.add.at(load[component], nodes, force[:, : nodes.shape[1]])
    return load.reshape(-1, load.shape[2])


def _side_length(shapes: Shapes, cell: int, side: int) -> float:
    a, b = (shapes.section.plan.points[shapes.section.plan.cells[cell][k]] for k in SIDE_CORNERS[side])
    return float(np.linalg.norm(b - a))


def _wall_yield(kind: Kind, index: int) -> tuple[Array, Array]:
    """Compliance, plane (3 F, 3 F) and around (F, F), of the shell's wall of an arm over the length of the patch."""
    arm = kind.arms[index]
    nu, h, reach = arm.poisson_ratio, arm.thickness, kind.reach(arm)
    stretching, bending = arm.plane_modulus * h, arm.plane_modulus * h**3 / 12
    shear = SHEAR_FACTOR * shear_gain(nu) * arm.shear_modulus * h
    plane = np.zeros((3, 3))
    x, w = gauss(POINTS)
    for begin, end, c in ((0.0, arm.bend, -arm.curvature), (arm.bend, reach, 0.0)):
        bent = (c * h) ** 2
        law = np.diag([stretching * (1 + bent / 12), shear, bending * (1 + bent * bent_stiffening(nu))])
        law[0, 2] = law[2, 0] = -bending * c / (1 - nu)
        soft = np.linalg.inv(law)
        for share, weight in zip(x, w, strict=True):
            at = resultants(arm, begin + (end - begin) * share)
            plane += (end - begin) * weight * at.T @ soft @ at
    at, product = resultants(arm, reach), np.zeros((3, 3))
    product[1, 2] = product[2, 1] = nu / (10 * arm.shear_modulus * h)
    plane += at.T @ product @ at
    three, one = kind.transport(3)[index], kind.transport(1)[index]
    return three.T @ plane @ three, reach / (arm.shear_modulus * h) * one.T @ one


def _section_integrals(patch: Patch) -> Array:
    """Integrals (P, 6) of 1, r, z, r^2, r z, z^2 over the section of each layer of each arm, from the joint."""
    r, z = patch.shapes.points
    value = np.stack([(f * patch.shapes.weight).sum(axis=1) for f in _powers(r - FAR_OUT, z)])
    own = np.where(patch.wall_of_cell < 0, -1, patch.part_of_cell)
    return np.stack([value[:, own == p].sum(axis=1) for p in range(len(patch.kind.parts))])


def _wall_integrals(kind: Kind, arm: Arm) -> Array:
    """The same (L, 6) of the layers of the shell's wall, whose fibres are longer outside a bend."""
    thick = np.array([ply.thickness for ply in arm.plies])
    x, w = gauss(POINTS)
    height = (np.cumsum(thick) - thick - arm.thickness / 2)[:, None] + thick[:, None] * x
    total = np.zeros((len(thick), 6))
    for begin, end, curvature in ((0.0, arm.bend, arm.curvature), (arm.bend, kind.reach(arm), 0.0)):
        area = (1 - curvature * height) * thick[:, None] * w
        for s, weight in zip(begin + (end - begin) * x, (end - begin) * w, strict=True):
            place, angle = arm.place(s)
            r, z = place[:, None, None] + unit(angle + np.pi / 2)[:, None, None] * height
            total += weight * np.stack([(f * area).sum(axis=1) for f in _powers(r, z)], axis=1)
    return total


def _powers(r: Array, z: Array) -> list[Array]:
    return [np.ones_like(r), r, z, r * r, r * z, z * z]
