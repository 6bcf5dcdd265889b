"""The walls of the shell: law and inertia of every element, whatever the order m."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.elasticity import (
    OneLayer,
    inertia_law,
    one_layer_inertia,
    one_layer_law,
    stiffness_law,
)  # fmt: skip
from diaphragm_fem.model.numbering import AXISYMMETRIC, FIELDS
from diaphragm_fem.model.shell_line import OrderTerms, ShellLine
from diaphragm_fem.model.thick_layers import thicken_inertia, thicken_layers
from diaphragm_fem.model.thick_wall import first_moment, thicken

HARDLY_SLIDES = 1e3
# times the shear stiffness around that two layers have in the thick wall: waves around are far longer than what slides
# in them, but where they end, shear around, which acts on the middle, would twist the stiffer layer beside it: modes of
# m = 1 and 2 that turn a lap were 5 % too low; three layers and more may slide on a soft core


@dataclass(frozen=True, eq=False)
class WallPart:
    """Elements (E,) with their law (8, 8, E, 2), inertia (5, 5, E, 3), which of the design's materials (E,) it is that
    has them, and the first moments (E, 3) of thick walls."""

    elements: Index
    law: Array
    inertia: Array
    material: Index
    moment: Array | None = None


def one_layer_part(line: ShellLine, walls: OneLayer) -> WallPart:
    """The elements of one layer, of all materials at once."""
    number = {material: k for k, material in enumerate(line.design.materials)}
    owner = line.mesh.piece_of_element[walls.elements]
    material = np.array([number[piece.wall.layers[0].material] for piece in line.mesh.pieces])[owner]
    return WallPart(walls.elements, one_layer_law(walls), one_layer_inertia(walls), material)


def thickened(line: ShellLine, walls: OneLayer, part: WallPart) -> WallPart:
    """A part of walls of one layer with their thickness; its law is changed in place."""
    thicken(part.law, line.stiff.at, part.elements, walls.nu)
    return replace(part, moment=first_moment(part.inertia, line.heavy.at, part.elements))


def add_moments(mass: Array, line: ShellLine, order: OrderTerms, part: WallPart) -> None:
    """Add to the mass (E, F, F) of a part's elements its first moments, between a motion and its rotation at each node.

    In the elements' own matrices: as matrices of their own at the nodes they took 0.3 ms more of a stepped V.
    """
    pick, heavy = part.elements, line.heavy
    if part.moment is None:
        return
    fields, moment = (
        FIELDS if order.m else AXISYMMETRIC,
        part.moment * (order.around * heavy.at.weight * heavy.at.r)[pick],
    )
    for motion, rotation, way in (("u", "b", heavy.at.t_r[pick]), ("w", "b", heavy.at.t_z[pick]), ("v", "q", 1.0)):
        if motion in fields:
            moves, turns = (3 * fields.index(x) + np.arange(3) for x in (motion, rotation))
            gain = (heavy.shape[:, pick] * (moment * way)).sum(axis=-1).T
            mass[:, moves, turns] += gain
            mass[:, turns, moves] += gain


def laminate_parts(line: ShellLine, thick: bool) -> list[WallPart]:
    """The elements of several layers, material by material; `thick` with what curvature does to them."""
    pieces, owner, found = line.mesh.pieces, line.mesh.piece_of_element, []
    for number, material in enumerate(line.design.materials):
        holds = [len(x.wall.layers) > 1 and any(y.material == material for y in x.wall.layers) for x in pieces]
        pick = np.flatnonzero(np.array(holds)[owner])
        if len(pick):
            law = stiffness_law(pieces, owner[pick], line.stiff.at.fraction[pick], material)
            inertia = inertia_law(pieces, owner[pick], line.heavy.at.fraction[pick], material)
            if thick:
                own, stiff, heavy = owner[pick], line.stiff.at, line.heavy.at
                law[7, 7, np.array([len(x.wall.layers) == 2 for x in pieces])[own]] *= HARDLY_SLIDES
                thicken_layers(law, pieces, own, stiff.fraction[pick], stiff, pick, material)
                thicken_inertia(inertia, pieces, own, heavy.fraction[pick], heavy, pick, material)
            found.append(WallPart(pick, law, inertia, np.full(len(pick), number)))
    return found
