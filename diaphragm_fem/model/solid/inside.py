"""Static condensation of cells: what a cell shares with no other follows from what it shares, as it would at rest.

Of a stepped V to 20 kHz that leaves 5,371 of 16,528 unknowns. The stiffness stays exact, whatever the modulus of the
cell's one material does over frequency. Of the inertia only the cell's motion of its own is missed, a share (f/f_1)^2
of it, f_1 the first frequency of the cell held all around. Functions of high order have little motion of their own, so
they follow in softer cells, too. A long cell between free faces would bend by itself: there two functions of the motion
across it, on one of the faces, are kept. So are all functions of cells that a winding goes through: copper on a former
of film holds them from inside (modes of the soft dome were 2.2e-4 off).
Source: Guyan, AIAA J. 3 (1965) 380 (named from memory).
"""

from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Flags, Index
from diaphragm_fem.model.solid.cells import CellIntegrals, cell_stiffness, elastic_of_cells, lame, moving
from diaphragm_fem.model.solid.lines import U, W
from diaphragm_fem.model.solid.shapes import Shapes

HIGH_ABOVE = (200.0, 40.0, 12.0, 5.0)  # times the top frequency, for functions of order 2, 3, 4 and from 5
MOST_BENT = 3  # order up to which functions across a cell lead where it bends
CLAMPED = 22.373 / (2 * np.pi)  # first frequency of a clamped bar: CLAMPED h/L^2 (E/(12 rho))^(1/2)


class Following(NamedTuple):
    """Raw degrees of freedom that follow (E, I), those that lead them (E, B), and how (E, I, B)."""

    own: Index
    leading: Index
    share: Array


class CellMatrices(NamedTuple):
    """Cells (E,): raw degrees of freedom that lead (E, B), stiffness in N/m and mass in kg (E, B, B)."""

    cells: Index
    dofs: Index
    stiffness: Array
    mass: Array
    following: Following


def what_follows(shapes: Shapes, up_to_hz: float, whole: Index) -> Flags:
    """Which of u, v, w of the functions of every cell (n, 3, F) follow up to a frequency in Hz; none of `whole` cells.

    Held at all of its sides a cell rings above shear waves across it, f_1 >= sqrt(mu/rho)/(2 h), its height h its area
    over its longest side L: half of that of a slender one that runs out to a point. Held at its ends alone it rings
    above waves along it, the same of L, or bends as a clamped bar does, and both yield.
    """
    orders, per_side = shapes.orders, shapes.top - 1
    longest = np.linalg.norm(shapes.ways, axis=2).max(axis=1)
    height = shapes.weight.sum(axis=1) / longest
    young, nu, density = elastic_of_cells(shapes)
    speed = np.sqrt(lame(young, nu)[1] / density)
    across, along = speed / (2 * height), speed / (2 * longest)
    bending = CLAMPED * height / longest**2 * np.sqrt(young / (12 * density))
    bent = bending * along / np.hypot(bending, along)
    alone = _alone(shapes)
    follows = np.zeros((len(height), 3, len(orders)), bool)
    for order in range(2, shapes.top + 1):
        high = HIGH_ABOVE[min(order, 1 + len(HIGH_ABOVE)) - 2] * up_to_hz
        inside = (orders.max(axis=1) == order) & (orders.min(axis=1) > 1)
        follows[:, :, inside] = (across > high)[:, None, None]
        sides = 4 + np.arange(4) * per_side + order - 2
        follows[:, :, sides] = (alone[:, sides] & (np.minimum(along, across) > high)[:, None])[:, None]
        if order <= MOST_BENT:
            for side in (2, 3):
                free = alone[:, sides[[side - 2, side]]].all(axis=1)
                leads = np.flatnonzero(free & (bent <= high))
                r, z = np.abs(shapes.ways[leads, side].T)
                follows[leads, np.where(r > z, W, U), sides[side]] = False
    follows[whole] = False
    return follows


def _alone(shapes: Shapes) -> Flags:
    """Which functions (n, F) live in one cell alone, and on no face that may be held."""
    met = np.bincount(shapes.nodes.ravel(), minlength=shapes.count)
    for face in shapes.section.plan.faces.values():
        for side in face:
            met[shapes.side_nodes(*side)[1]] += 1
    return np.asarray(met[shapes.nodes] == 1)


def matrices_of(of: CellIntegrals, m: int, around: float) -> CellMatrices:
    """Stiffness and mass of cells over `around` radians on what leads of its cells."""
    components = moving(m)
    dofs, stiffness = cell_stiffness(of, m, around)
    follows = of.follows[list(components)].ravel()
    own, lead = np.flatnonzero(follows), np.flatnonzero(~follows)
    coupled = stiffness[:, own[:, None], lead]
    share = np.asarray(-np.linalg.solve(stiffness[:, own[:, None], own], coupled), float)
    back = share.transpose(0, 2, 1)
    led = np.zeros((len(dofs), len(follows), len(lead)))
    led[:, own], led[:, lead, np.arange(len(lead))] = share, 1.0
    weight = (around * of.density[:, None, None] * of.mass)[:, None]
    moved = (weight @ led.reshape(len(dofs), len(components), of.mass.shape[1], -1)).reshape(led.shape)
    light = back @ moved[:, own]
    return CellMatrices(
        of.cells, dofs[:, lead], stiffness[:, lead[:, None], lead] + back @ coupled, moved[:, lead] + light,
        Following(dofs[:, own], dofs[:, lead], share),
    )  # fmt: skip
