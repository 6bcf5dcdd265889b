"""Cells of the wall section: integrals of products of their functions; from them stiffness and mass of any order."""

from dataclasses import dataclass
from itertools import combinations_with_replacement
from typing import TypeVar

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.model.solid.lines import U, V, W
from diaphragm_fem.model.solid.shapes import Shapes

Number = TypeVar("Number", float, Array)


@dataclass(frozen=True)
class CellIntegrals:
    """Cells of one order, with the integrals of products of their functions.

    cells (E,) in the section; nodes (E, F); product (3, 3, E, F, F) of each of N,r ; N,z ; N/r with each, and mass
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


def integrals_of(shapes: Shapes, follows: Flags) -> list[CellIntegrals]:
    """All cells of a section, together those of one order of which the same follows (n, 3, F) others."""
    young, nu, density = elastic_of_cells(shapes)
    kinds = np.column_stack((shapes.order_of_cell, np.packbits(follows.reshape(len(follows), -1), axis=1)))
    found = []
    for own in shapes.groups(kinds):
        n, w = own.value, own.weight[:, None]
        weighed, turned = own.gradient * w, own.gradient.transpose(0, 1, 3, 2)
        product = np.empty((3, 3, *n.shape[:2], n.shape[1]))
        for a, b in combinations_with_replacement(range(3), 2):
            product[a, b] = weighed[a] @ turned[b]
            if a < b:
                product[b, a] = product[a, b].transpose(0, 2, 1)
        mass = (n * w) @ n.transpose(0, 2, 1)
        elastic = (*lame(young[own.cells], nu[own.cells]), density[own.cells])
        found.append(CellIntegrals(own.cells, own.nodes, product, mass, *elastic, follows[own.cells[0]][:, own.local]))
    return found


def elastic_of_cells(shapes: Shapes) -> Array:
    """Young's modulus in Pa, Poisson ratio and density in kg/m3 (3, n) of every cell's material."""
    section = shapes.section
    every = np.array([(x.youngs_modulus, x.poisson_ratio, x.density) for x in section.design.materials])
    return every[section.material_of_cell].T


def lame(young: Number, nu: Number) -> tuple[Number, Number]:
    """Lame's lambda and mu in Pa."""
    return young * nu / ((1 + nu) * (1 - 2 * nu)), young / (2 * (1 + nu))


def cell_stiffness(of: CellIntegrals, m: int, around: float) -> tuple[Index, Array]:
    """Raw degrees of freedom (E, G) and stiffness (E, G, G) in N/m over `around` radians; no torsion for m = 0.

    With Lame's lambda and mu the strain energy density is lambda (tr e)^2/2 + mu e:e of the strains in
    `diaphragm_fem.model.solid.solid`.
    """
    components = moving(m)
    (cells, size), count = of.nodes.shape, len(components)
    (rr, rz, ro), (zr, zz, zo), (orr, oz, oo) = of.product  # N,r ; N,z ; N/r
    lam, mu = (around * x[:, None, None] for x in (of.lame, of.shear))
    stiff = lam + 2 * mu
    found = np.empty((cells, count, size, count, size))

    def put(a: int, b: int, value: Array) -> None:
        if a in components and b in components:
            i, k = components.index(a), components.index(b)
            found[:, i, :, k] = value
            if i != k:
                found[:, k, :, i] = value.transpose(0, 2, 1)

    hoop = m**2 * mu * oo
    put(U, U, stiff * (rr + oo) + lam * (ro + orr) + mu * zz + hoop)
    put(W, W, stiff * zz + mu * rr + hoop)
    put(U, W, lam * (rz + oz) + mu * zr)
    if m:
        put(V, V, m**2 * stiff * oo + mu * (rr - ro - orr + oo + zz))
        put(U, V, m * (stiff * oo + lam * ro + mu * (oo - orr)))
        put(W, V, m * (lam * zo - mu * oz))
    dofs = np.concatenate([3 * of.nodes + c for c in components], axis=1)
    return dofs, found.reshape(cells, count * size, -1)


def moving(m: int) -> tuple[int, ...]:
    """Components of motion of order m; torsion is left out for m = 0."""
    return (U, W) if m == 0 else (U, V, W)
