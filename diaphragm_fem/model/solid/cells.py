"""Cells of the wall section: integrals of products of their functions; from them stiffness and mass of any order."""

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.model.solid.lines import U, V, W
from diaphragm_fem.model.solid.shapes import Shapes


@dataclass(frozen=True)
class Block:
    """Cells of one order, with the integrals of products of their functions.

    cells (E,) in the section; nodes (E, F); product (9, E, F, F) of each of N,r ; N,z ; N/r with each, and mass
    (E, F, F) of N with itself, both times r dr dz; lame, shear and density (E,) of their materials, in Pa and kg/m3;
    follows (3, F) which of u, v, w of a function have no unknowns of their own.
    """

    cells: Index
    nodes: Index
    product: Array
    mass: Array
    lame: Array
    shear: Array
    density: Array
    follows: Flags


def blocks_of(shapes: Shapes, follows: Flags) -> list[Block]:
    """All cells of a section, in blocks of one order and of what follows (n, 3, F) others."""
    value, slope, radius = shapes.value, shapes.slope, shapes.radius
    weight = shapes.weight * radius
    stiff, shear, density = moduli(shapes)
    kinds = np.column_stack((shapes.order_of_cell, np.packbits(follows.reshape(len(follows), -1), axis=1)))
    found, kind_of_cell = np.unique(kinds, axis=0, return_inverse=True)
    blocks = []
    for kind in range(len(found)):
        cells = np.flatnonzero(kind_of_cell.ravel() == kind)
        local = shapes.kept((int(found[kind, 0]), int(found[kind, 1])))
        pick = np.ix_(local, cells)
        n = value[pick].transpose(1, 0, 2)
        w = weight[cells][:, None]
        gradient = [*(slope[k][pick].transpose(1, 0, 2) for k in range(2)), n / radius[cells][:, None]]
        weighed = [x * w for x in gradient]
        product = np.empty((9, len(cells), len(local), len(local)))
        for a in range(3):
            for b in range(a, 3):
                np.matmul(weighed[a], gradient[b].transpose(0, 2, 1), out=product[3 * a + b])
                if a < b:
                    product[3 * b + a] = product[3 * a + b].transpose(0, 2, 1)
        mass = (n * w) @ n.transpose(0, 2, 1)
        lame, mu, rho = (x[cells] for x in (stiff - 2 * shear, shear, density))
        nodes = shapes.nodes[cells][:, local]
        blocks.append(Block(cells, nodes, product, mass, lame, mu, rho, follows[cells[0]][:, local]))
    return blocks


def moduli(shapes: Shapes) -> tuple[Array, Array, Array]:
    """lambda + 2 mu and mu in Pa, Lame's, and density in kg/m3 of every cell's material (n,)."""
    section = shapes.section
    every = np.array([(x.youngs_modulus, x.poisson_ratio, x.density) for x in section.design.materials])
    e, nu, density = every[section.material_of_cell].T
    shear = e / (2 * (1 + nu))
    return e * nu / ((1 + nu) * (1 - 2 * nu)) + 2 * shear, shear, density


def block_stiffness(block: Block, m: int, around: float) -> tuple[Index, Array]:
    """Raw degrees of freedom (E, G) and stiffness (E, G, G) in N/m over `around` radians; no torsion for m = 0.

    With Lame's lambda and mu the strain energy density is lambda (tr e)^2/2 + mu e:e of the strains in
    `diaphragm_fem.model.solid.solid`.
    """
    components = moving(m)
    (_, cells, size, _), count = block.product.shape, len(components)
    rr, rz, ro, zr, zz, zo, orr, oz, oo = block.product  # N,r ; N,z ; N/r
    lame, mu = (around * x[:, None, None] for x in (block.lame, block.shear))
    stiff = lame + 2 * mu
    found = np.empty((cells, count, size, count, size))

    def put(a: int, b: int, value: Array) -> None:
        if a in components and b in components:
            i, k = components.index(a), components.index(b)
            found[:, i, :, k] = value
            if i != k:
                found[:, k, :, i] = value.transpose(0, 2, 1)

    hoop = m**2 * mu * oo
    put(U, U, stiff * (rr + oo) + lame * (ro + orr) + mu * zz + hoop)
    put(W, W, stiff * zz + mu * rr + hoop)
    put(U, W, lame * (rz + oz) + mu * zr)
    if m:
        put(V, V, m**2 * stiff * oo + mu * (rr - ro - orr + oo + zz))
        put(U, V, m * (stiff * oo + lame * ro + mu * (oo - orr)))
        put(W, V, m * (lame * zo - mu * oz))
    dofs = np.concatenate([3 * block.nodes + c for c in components], axis=1)
    return dofs, found.reshape(cells, count * size, -1)


def moving(m: int) -> tuple[int, ...]:
    """Components of motion of order m; torsion is left out for m = 0."""
    return (U, W) if m == 0 else (U, V, W)
