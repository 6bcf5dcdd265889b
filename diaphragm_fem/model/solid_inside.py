"""What lies inside a stiff cell moves as its sides have it at rest: 9,248 instead of 16,528 unknowns of a stepped V.

The stiffness is exact so, whatever the modulus of the cell's one material does over frequency; of the inertia only what
a cell with its sides held adds in motion of its own is missed, (f/f_1)^2 of it, f_1 the first frequency of such a cell.
Source: Guyan, AIAA J. 3 (1965) 380 (named from memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.design.material import Material
from diaphragm_fem.model.solid_cells import Block, block_mass, block_stiffness, moving
from diaphragm_fem.model.solid_shapes import Shapes

HIGH_ABOVE = 200.0  # times the top frequency: no mode below that of four designs moved by more than 6e-7


class Following(NamedTuple):
    """Raw degrees of freedom inside cells (E, I), those of their sides (E, B), and how the first follow (E, I, B)."""

    inside: Index
    sides: Index
    share: Array


class Cells(NamedTuple):
    """Raw degrees of freedom (E, B), stiffness in N/m and mass in kg (E, B, B) of a block's cells."""

    dofs: Index
    stiffness: Array
    mass: Array
    following: Following


def stiff_cells(shapes: Shapes, up_to_hz: float) -> Flags:
    """Which cells (n,) with their sides held ring far above a frequency in Hz: none below shear waves across it.

    f_1 >= sqrt(mu/rho)/(2 h) of a cell of height h, or of its area over its longest side: half of that of a slender one
    that runs out to a point, whose greatest height is 2 h.
    """
    section = shapes.section
    corner = section.points[:, section.cells[:4]]
    longest = np.linalg.norm(np.roll(corner, -1, axis=1) - corner, axis=0).max(axis=0)
    height = shapes.weight.sum(axis=1) / longest
    speed = np.array(
        [np.sqrt(x.youngs_modulus / (2 * (1 + x.poisson_ratio)) / x.density) for x in section.design.materials]
    )
    return np.asarray(speed[section.material_of_cell] / (2 * height) > HIGH_ABOVE * up_to_hz)


def cells_of(block: Block, material: Material, m: int, around: float) -> Cells:
    """Stiffness and mass of a block over `around` radians, on the sides of its cells where what is inside follows."""
    dofs, stiffness = block_stiffness(block, material, m, around)
    mass = block_mass(block, material, m, around)
    inside = np.tile(block.follows, len(moving(m)))
    i, o = np.flatnonzero(inside), np.flatnonzero(~inside)
    coupled = stiffness[:, i[:, None], o]
    share = np.asarray(-np.linalg.solve(stiffness[:, i[:, None], i], coupled), float)
    back = share.transpose(0, 2, 1)
    light = back @ mass[:, i[:, None], o]
    moved = mass[:, o[:, None], o] + light + light.transpose(0, 2, 1) + back @ mass[:, i[:, None], i] @ share
    return Cells(
        dofs[:, o], stiffness[:, o[:, None], o] + back @ coupled, moved, Following(dofs[:, i], dofs[:, o], share)
    )
