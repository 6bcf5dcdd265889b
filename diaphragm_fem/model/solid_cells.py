"""Cells of the wall section: integrals of products of their functions; from them stiffness and mass of any order."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.design.material import Material
from diaphragm_fem.model.solid_lines import U, V, W
from diaphragm_fem.model.solid_shapes import Shapes


@dataclass(frozen=True)
class Block:
    """Cells of one zone, material and order, with the integrals of products of their functions.

    nodes (E, F); product (E, 3, F, 3, F) of (N,r ; N,z ; N/r) with itself and mass (E, F, F) of N with itself, both
    times r dr dz; follows (F,) which functions have no unknowns of their own.
    """

    zone: int
    material: int
    nodes: Index
    product: Array
    mass: Array
    follows: Flags


def blocks_of(shapes: Shapes, stiff: Flags) -> list[Block]:
    """All cells of a section, in blocks; of stiff ones (n,) what is inside follows their sides."""
    section = shapes.section
    value, slope, radius = shapes.value, shapes.slope, shapes.radius
    weight = shapes.weight * radius
    kinds = np.column_stack((section.zone_of_cell, section.material_of_cell, shapes.order_of_cell, stiff))
    blocks = []
    for kind in sorted({tuple(kind) for kind in kinds.tolist()}):
        cells = np.flatnonzero((kinds == kind).all(axis=1))
        zone, material, along, across, follows = kind
        local = shapes.kept((along, across))
        pick = np.ix_(local, cells)
        n = value[pick].transpose(1, 0, 2)
        over_r = n / radius[cells][:, None]
        gradient = np.concatenate([*(slope[k][pick].transpose(1, 0, 2) for k in range(2)), over_r], axis=1)
        w = weight[cells][:, None]
        size = len(local)
        product = ((gradient * w) @ gradient.transpose(0, 2, 1)).reshape(-1, 3, size, 3, size)
        mass = (n * w) @ n.transpose(0, 2, 1)
        inside = (local >= len(shapes.orders) - shapes.inside) & bool(follows)
        blocks.append(Block(zone, material, shapes.nodes[cells][:, local], product, mass, inside))
    return blocks


def cell_stiffness(product: Array, material: Material, m: int) -> list[list[Array]]:
    """Stiffness blocks [a][b] (E, F, F) for a, b in (u, v, w), per radian of theta, in N/m.

    product (E, 3, F, 3, F): integrals of (N,r ; N,z ; N/r) with itself times r dr dz. With Lame's lambda and mu the
    strain energy density is lambda (tr e)^2/2 + mu e:e of the strains in `diaphragm_fem.model.solid`.
    """
    e, nu = material.youngs_modulus, material.poisson_ratio
    lame = e * nu / ((1 + nu) * (1 - 2 * nu))
    mu = e / (2 * (1 + nu))
    stiff = lame + 2 * mu

    def p(a: int, b: int) -> Array:
        return product[:, a, :, b]

    r, z, o = range(3)  # N,r ; N,z ; N/r
    uu = stiff * (p(r, r) + p(o, o)) + lame * (p(r, o) + p(o, r)) + mu * p(z, z) + m**2 * mu * p(o, o)
    ww = stiff * p(z, z) + mu * p(r, r) + m**2 * mu * p(o, o)
    uw = lame * (p(r, z) + p(o, z)) + mu * p(z, r)
    vv = m**2 * stiff * p(o, o) + mu * (p(r, r) - p(r, o) - p(o, r) + p(o, o) + p(z, z))
    uv = m * (stiff * p(o, o) + lame * p(r, o) + mu * (p(o, o) - p(o, r)))
    wv = m * (lame * p(z, o) - mu * p(o, z))
    t = (0, 2, 1)
    return [[uu, uv, uw], [uv.transpose(t), vv, wv.transpose(t)], [uw.transpose(t), wv, ww]]


def block_stiffness(block: Block, material: Material, m: int, around: float) -> tuple[Index, Array]:
    """Raw degrees of freedom (E, G) and stiffness (E, G, G) of a block over `around` radians; no torsion for m = 0."""
    components = moving(m)
    stiffness = cell_stiffness(block.product, material, m)
    dofs = np.concatenate([3 * block.nodes + c for c in components], axis=1)
    rows = [np.concatenate([stiffness[a][b] for b in components], axis=2) for a in components]
    return dofs, around * np.concatenate(rows, axis=1)


def block_mass(block: Block, material: Material, m: int, around: float) -> Array:
    """Mass (E, G, G) of a block over `around` radians."""
    (cells, size, _), count = block.mass.shape, len(moving(m))
    mass = np.zeros((cells, count, size, count, size))
    for k in range(count):
        mass[:, k, :, k] = around * material.density * block.mass
    return mass.reshape(cells, count * size, -1)


def moving(m: int) -> tuple[int, ...]:
    """Components of motion of order m; torsion is left out for m = 0."""
    return (U, W) if m == 0 else (U, V, W)
