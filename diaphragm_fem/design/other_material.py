"""The same design of other materials."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from diaphragm_fem.design.design import Bead, Design, Piece
from diaphragm_fem.design.material import Material


def with_material(design: Design, changed: Material) -> Design:
    """The design with every layer and bead of the material of that name made of `changed`."""
    return with_materials(design, lambda material: changed if material.name == changed.name else material)


def with_materials(design: Design, change: Callable[[Material], Material]) -> Design:
    """The design with the material of every layer and bead changed."""

    def of_piece(piece: Piece) -> Piece:
        layers = tuple(replace(layer, material=change(layer.material)) for layer in piece.wall.layers)
        return replace(piece, wall=replace(piece.wall, layers=layers))

    def of_bead(bead: Bead) -> Bead:
        return replace(bead, material=change(bead.material))

    return replace(
        design,
        meridian=tuple(map(of_piece, design.meridian)),
        former=tuple(map(of_piece, design.former)),
        beads=tuple(map(of_bead, design.beads)),
    )
