"""The walls of the shell: law and inertia of every element, whatever the order m."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from diaphragm_fem.arrays import Array, Index
from diaphragm_fem.model.elasticity import (
    OneLayer,
    inertia_law,
    one_layer_inertia,
    one_layer_law,
    stiffness_law,
)  # fmt: skip
from diaphragm_fem.model.shell_line import ShellLine
from diaphragm_fem.model.thick_wall import thicken, thicken_inertia


class WallPart(NamedTuple):
    """Elements (E,) with their law (8, 8, E, 2), inertia (5, 5, E, 3), and which of the design's materials (E,) it is
    that has them."""

    elements: Index
    law: Array
    inertia: Array
    material: Index


def one_layer_part(line: ShellLine, walls: OneLayer) -> WallPart:
    """The elements of one layer, of all materials at once."""
    number = {material: k for k, material in enumerate(line.design.materials)}
    owner = line.mesh.piece_of_element[walls.elements]
    material = np.array([number[piece.wall.layers[0].material] for piece in line.mesh.pieces])[owner]
    return WallPart(walls.elements, one_layer_law(walls), one_layer_inertia(walls), material)


def thickened(line: ShellLine, walls: OneLayer, part: WallPart) -> None:
    """Put the thickness of walls of one layer into their law and inertia."""
    thicken(part.law, line.stiff.at, part.elements, walls.nu)
    thicken_inertia(part.inertia, line.heavy.at, part.elements)


def laminate_parts(line: ShellLine) -> list[WallPart]:
    """The elements of several layers, material by material."""
    pieces, owner, found = line.mesh.pieces, line.mesh.piece_of_element, []
    for number, material in enumerate(line.design.materials):
        holds = [len(x.wall.layers) > 1 and any(y.material == material for y in x.wall.layers) for x in pieces]
        pick = np.flatnonzero(np.array(holds)[owner])
        if len(pick):
            law = stiffness_law(pieces, owner[pick], line.stiff.at.fraction[pick], material)
            inertia = inertia_law(pieces, owner[pick], line.heavy.at.fraction[pick], material)
            found.append(WallPart(pick, law, inertia, np.full(len(pick), number)))
    return found
