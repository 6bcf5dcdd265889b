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
overlap it is negative; and what `torsion` says of twists. All but the turning are split by arm and layer, so that each
material keeps its own losses: a layer's share of what the patch yields is its fall with ln E, U_l^T K_l U_l - U^T F' -
F'^T U, for the stress of plate theory at the end of a laminate, and so the loads F, follow its moduli (F' by a complex
step).

What materials have no part in is kept for the next kind, which may differ in them alone: that takes 4 instead of 17 ms.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import LinAlgError, solveh_banded
from scipy.sparse import csr_matrix
from scipy.sparse.linalg import splu

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.errors import MeshError
from diaphragm_fem.model.joint.cut import FAR_OUT, Cut, Patch, patch_of
from diaphragm_fem.model.joint.far_ends import far_load, far_twist, plain_load
from diaphragm_fem.model.joint.kind import Kind, unit
from diaphragm_fem.model.joint.torsion import walls_torsion, walls_turning
from diaphragm_fem.model.joint.walls import powers, walls_section, walls_yield
from diaphragm_fem.model.shell.elasticity import TINY
from diaphragm_fem.model.solid.shapes import Shapes

WIDEST = 330  # of a band that is solved as one: in wider ones a sparse factor is as quick, or quicker
LEAST = 1e-6  # of what walls have: less than that below zero is rounding
OF_LOADS, OF_SECTION = np.array([0, 0, 1]), np.array([2, 3, 3, 4, 4, 4])  # powers of lengths in loads, and in sections


class Excess(NamedTuple):
    """Of each layer of each arm (P, as `Kind.parts`): plane (P, 3 F, 3 F) and around (P, F, F), the excess compliance
    of the loads of the F free arms; section (P, 6), the excess integrals of 1, r, z, r^2, r z, z^2 over the section,
    from the joint; twist (P,), the excess of what holds a twist in N m2. Of all of it turning (F,), the excess moment
    about the joint in m2 of a shear force around of 1 N/m from each free arm to the last."""

    plane: Array
    around: Array
    section: Array
    twist: Array
    turning: Array

    def over(self, length: ArrayLike) -> Excess:
        """With moments and sections in multiples of a length in m; of several (J, P, ...) each of its own (J,)."""
        size = np.asarray(length)[..., None]
        twist, turning = self.twist / size**4, self.turning / size**2
        load = size ** np.resize(OF_LOADS, self.plane.shape[-1])
        plane = self.plane * load[..., None, :, None] * load[..., None, None, :]
        section = self.section / size[..., None] ** OF_SECTION
        return self._replace(plane=plane, section=section, twist=twist, turning=turning)


def joint_excess(kind: Kind) -> Excess:
    """Excess of a kind of joint. Raises MeshError where the solid cannot draw it."""
    patch = patch_of(kind)
    kind = patch.kind
    in_plane, out_of_it = _stiffness(patch)
    (plane, _), (around, twist, turning) = _yield(patch, in_plane), _around(patch, out_of_it)
    bare_plane, bare_around = walls_yield(kind)
    section = _section_excess(patch.cut)
    return Excess(plane - bare_plane, around - bare_around, section, twist, turning)


def may_be_of(kind: Kind, excess: Excess) -> bool:
    """Whether some excess, read and not solved, may be that of a kind: of its shape, finite, symmetric, and never so
    far below zero that joint and walls together, or one of plain walls, would have less than no compliance or section.
    """
    walls = Excess(*walls_yield(kind), walls_section(kind), walls_torsion(kind), walls_turning(kind))
    if any(own.shape != wall.shape or not np.isfinite(own).all() for own, wall in zip(excess, walls, strict=True)):
        return False
    plain = not any(arm.layers for arm in kind.arms)  # a layer's share is a slope, which may be below zero
    moments = [[0, 1, 2], [1, 3, 4], [2, 4, 5]]
    own, bare = ((x.plane, x.around, x.section[:, moments], x.twist[:, None, None]) for x in (excess, walls))
    return all(_positive(x, wall, plain) for x, wall in zip(own, bare, strict=True))


def _positive(excess: Array, wall: Array, each: bool) -> bool:
    """Whether wall and excess (P, n, n) are symmetric and positive in sum, or each of them."""
    size = np.sqrt(np.diagonal(wall.sum(axis=0)))
    whole = (wall + excess) / np.outer(size, size)
    even = np.abs(whole - whole.swapaxes(1, 2)).max() < LEAST
    return bool(even and np.linalg.eigvalsh(whole if each else whole.sum(axis=0)).min() > -LEAST)


def _stiffness(patch: Patch) -> tuple[Array, Array]:
    """Stiffness of the cells per metre of circle on what lies on their sides, component by component: plane strain
    (K, 2 B, 2 B) and anti-plane shear (K, B, B).
    """
    cut, (modulus, nu) = patch.cut, patch.elastic_of_cell.T
    own = cut.part_of_cell + len(patch.kind.parts) * (cut.glue_of_cell + 1)
    groups = [np.flatnonzero(own == k) for k in np.unique(own)]
    found = [_unit_stiffness(cut, float(nu[cells[0]]), cells.tobytes()) for cells in groups]
    back = np.argsort(np.concatenate(groups))
    plane, around = (np.concatenate(x)[back] * modulus[:, None, None] for x in zip(*found, strict=True))
    return plane, around


@lru_cache(maxsize=4)  # of some 0.5 MB: walls beside those that differ
def _unit_stiffness(cut: Cut, nu: float, cells: bytes) -> tuple[Array, Array]:
    """The same of some of the cells, numbers in int64, of a modulus of 1 Pa.

    Nothing acts inside a cell, so that what lies there is solved for cell by cell.
    """
    product = cut.shapes.slopes[np.frombuffer(cells, np.int64)]
    count, shear = product.shape[2], 1 / (2 * (1 + nu))
    lame = 2 * nu / (1 - 2 * nu) * shear
    stiff = lame + 2 * shear

    def plane(rows: slice, columns: slice) -> Array:
        (rr, rz), (zr, zz) = product[:, :, rows, :, columns].transpose(1, 3, 0, 2, 4)
        found = np.empty((len(rr), 2, rr.shape[1], 2, rr.shape[2]))
        found[:, 0, :, 0], found[:, 0, :, 1] = stiff * rr + shear * zz, lame * rz + shear * zr
        found[:, 1, :, 0], found[:, 1, :, 1] = lame * zr + shear * rz, stiff * zz + shear * rr
        return found.reshape(len(rr), 2 * rr.shape[1], -1)

    def around(rows: slice, columns: slice) -> Array:
        return shear * (product[:, 0, rows, 0, columns] + product[:, 1, rows, 1, columns])

    outer = count - cut.shapes.inside
    return _condensed(plane, outer), _condensed(around, outer)


def _condensed(stiffness: Callable[[slice, slice], Array], outer: int) -> Array:
    """Stiffness (K, D, D) of cells on the first `outer` of their functions, the others free."""
    kept, free = slice(outer), slice(outer, None)
    coupled = stiffness(free, kept)
    follow = np.linalg.solve(stiffness(free, free), coupled)
    return np.asarray(stiffness(kept, kept) - coupled.transpose(0, 2, 1) @ follow)


def _around(patch: Patch, stiffness: Array) -> tuple[Array, Array, Array]:
    """Compliance (P, F, F) of the whole patch around, and the excess of twist (P,) and of turning (F,) as in `Excess`:
    at a held end there is neither."""
    kind, cut, (modulus, nu) = patch.kind, patch.cut, patch.elastic_of_cell.T
    if kind.held:
        return _yield(patch, stiffness)[0], np.zeros(len(kind.parts)), np.zeros(1)
    shear, load = modulus / (2 * (1 + nu)), np.zeros(cut.size)
    own = shear[:, None] * cut.turned
    np.add.at(load, cut.nodes, own + shear[:, None] * far_twist(patch))
    found, moved = _yield(patch, stiffness, load[:, None])
    held = shear * cut.about_joint - 2 * (own * moved[..., -1]).sum(axis=1)
    twist = found[:, -1, -1] + np.bincount(cut.part_of_cell, held, len(kind.parts)) - walls_torsion(kind)
    return found[:, :-1, :-1], twist, found[:, :-1, -1].sum(axis=0) - walls_turning(kind)


def _yield(patch: Patch, stiffness: Array, beside: Array | None = None) -> tuple[Array, Array]:
    """Compliance (P, L, L) of the whole patch, by arm and layer its fall with ln E, and the answer (K, D, L) of its
    cells; under forces `beside` the loads, which follow no modulus there, as well."""
    kind, cut = patch.kind, patch.cut
    moving = stiffness.shape[1] // cut.nodes.shape[1]
    # the stiffest arm is held: where it hung from a soft one and turned with that, 1e-9 of the energy was lost to
    # rounding, 1e-6 of the excess
    stiffest = max(range(len(kind.arms)), key=lambda k: kind.arms[k].youngs_modulus)
    place, dofs, band = _numbered(cut, moving, stiffest)
    size, laminated = place.size, any(arm.layers for arm in kind.arms)
    forces = far_load(patch, moving > 1).real if laminated else plain_load(cut, moving > 1)
    loads = forces.shape[1]
    if beside is not None:
        forces = np.hstack((forces, beside))
    load, moved = np.zeros((2, size + 1, forces.shape[1]))
    load[place.ravel()] = forces
    try:
        answer = band.answer(stiffness, load[:size]) if band else _sparse_answer(dofs, stiffness, load[:size])
    except (LinAlgError, RuntimeError) as problem:  # no positive pivot, or none
        raise MeshError("the patch of a joint cannot be solved: moduli or thicknesses are too unequal") from problem
    moved[:size] = answer
    own = moved[dofs]
    energy = own.transpose(0, 2, 1) @ stiffness @ own
    found = np.stack([energy[cut.part_of_cell == p].sum(axis=0) for p in range(len(kind.parts))])
    for p, index in enumerate(kind.parts):
        if kind.arms[index].layers:
            work = moved[place.ravel()].T @ far_load(patch, moving > 1, p).imag / TINY
            found[p, :, :loads] -= work
            found[p, :loads] -= work.T
    return found, own


class _Band(NamedTuple):
    """Where the entries of cells' stiffness on and below the diagonal, (E,) and (E,), stand (K, E) in a lower band of
    (size, width), behind its end where one is held.

    In a narrow one Cholesky's factor takes half the time of a sparse one, in one of a union, up to 490 wide, 1.2 times
    as long.
    """

    row: Index
    column: Index
    at: Index
    shape: tuple[int, int]

    def answer(self, stiffness: Array, load: Array) -> Array:
        """What the sum of cells' stiffness (K, D, D) answers to loads (size, L)."""
        (size, width), entries = self.shape, stiffness[:, self.row, self.column].ravel()
        band = np.asarray(np.bincount(self.at.ravel(), entries, size * width + 1)[:-1], float).reshape(self.shape)
        band[:, 0] += band[:, 0] == 0  # what is held
        return np.asarray(solveh_banded(band.T, load, lower=True, check_finite=False))


def _sparse_answer(dofs: Index, stiffness: Array, load: Array) -> Array:
    """The same by a sparse factor; dofs (K, D) of the cells, `size` where one is held.

    Cells' rows, spread over all columns, are added up by a product of matrices: a list of their entries takes 10 ms of
    31 more to put in order.
    """
    (cells, own), size = dofs.shape, len(load)
    held, alone = dofs == size, np.setdiff1d(np.arange(size + 1), dofs[dofs < size])  # the second bear nothing: 1
    entries = np.where(held[:, :, None] | held[:, None, :], 0.0, stiffness)
    rows, columns = np.append(dofs, alone), np.append(np.repeat(dofs, own, axis=0), alone)
    starts = np.append(own * np.arange(cells * own), entries.size + np.arange(len(alone) + 1))
    spread = csr_matrix((np.append(entries, np.ones(len(alone))), columns, starts), (len(rows), size + 1))
    whole = csr_matrix((np.ones(len(rows)), (rows, np.arange(len(rows)))), (size + 1, len(rows))) @ spread
    factor = splu(whole.tocsc(), "MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
    return np.asarray(factor.solve(np.vstack((load, np.zeros(load.shape[1])))))[:size]


@lru_cache(maxsize=2)
def _numbered(cut: Cut, moving: int, stiffest: int) -> tuple[Index, Index, _Band | None]:
    """Degrees of freedom of the nodes (moving, N) and of the cells (K, D), as many as there are where one is held, and
    their band; none where that is wide."""
    place = moving * cut.place + np.arange(moving)[:, None]
    size = place.size
    if isinstance(cut.shapes, Shapes) and cut.kind.held:
        sides = cut.shapes.section.plan.faces["inner"]
        place[:, np.concatenate([np.concatenate(cut.shapes.side_nodes(*side)) for side in sides])] = size
    else:
        first, last, across = _pins(cut, stiffest)
        place[:, first] = size
        if moving > 1:
            place[across, last] = size
    dofs = np.concatenate([own[cut.nodes] for own in place], axis=1)
    width = int((np.where(dofs < size, dofs, -1).max(axis=1) - dofs.min(axis=1)).max()) + 1
    if width > WIDEST:
        return place, dofs, None
    one, other = np.tril_indices(dofs.shape[1])
    row, column = np.maximum(dofs[:, one], dofs[:, other]), np.minimum(dofs[:, one], dofs[:, other])
    at = np.where(row < size, column * width + row - column, size * width)
    return place, dofs, _Band(one, other, at, (size, width))


def _pins(cut: Cut, index: int) -> tuple[int, int, int]:
    """What holds a patch whose loads balance: a corner of the far face of an arm, the opposite one and the component (0
    radial, 1 axial) across the line between them."""
    shapes = cut.shapes
    _, angle = cut.kind.arms[index].place(cut.kind.reach(cut.kind.arms[index]))
    ends = [(cell, corner) for cell, side in cut.far_sides[index] for corner in shapes.sides[side]]
    height = [float(shapes.corner[end] @ unit(angle + np.pi / 2)) for end in ends]
    first, last = (int(shapes.nodes[ends[int(k)]]) for k in (np.argmin(height), np.argmax(height)))
    return first, last, 0 if abs(np.cos(angle)) > abs(np.sin(angle)) else 1


@lru_cache(maxsize=1)
def _section_excess(cut: Cut) -> Array:
    """Excess integrals (P, 6) of 1, r, z, r^2, r z, z^2 over the section of each layer of each arm, from the joint."""
    r, z = cut.shapes.points
    value = np.stack([(f * cut.shapes.weight).sum(axis=1) for f in powers(r - FAR_OUT, z)])
    own = np.where(cut.glue_of_cell < 0, cut.part_of_cell, -1)
    whole = np.stack([value[:, own == p].sum(axis=1) for p in range(len(cut.kind.parts))])
    return whole - walls_section(cut.kind)
