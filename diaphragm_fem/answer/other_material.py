"""The same design of another material: one of its numbers scaled wherever the material is used."""

from __future__ import annotations

from dataclasses import replace

from diaphragm_fem.design.design import Bead, Design, Piece
from diaphragm_fem.design.material import Material


def with_material(design: Design, changed: Material) -> Design:
    """The design with every layer and bead of the material of that name made of `changed`."""

    def change(piece: Piece) -> Piece:
        layers = tuple(
            replace(layer, material=changed) if layer.material.name == changed.name else layer
            for layer in piece.wall.layers
        )
        return replace(piece, wall=replace(piece.wall, layers=layers))

    def glued(bead: Bead) -> Bead:
        return replace(bead, material=changed) if bead.material.name == changed.name else bead

    return replace(
        design,
        meridian=tuple(map(change, design.meridian)),
        former=tuple(map(change, design.former)),
        beads=tuple(map(glued, design.beads)),
    )
