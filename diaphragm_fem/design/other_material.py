"""The same design of other materials."""

from collections.abc import Callable
from dataclasses import replace

from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.wall import Layer, Wall


def with_material(design: Design, changed: Material) -> Design:
    """The design with every layer and bead of the material of that name made of `changed`."""
    return with_materials(design, lambda material: changed if material.name == changed.name else material)


def with_materials(design: Design, change: Callable[[Material], Material]) -> Design:
    """The design with the material of every layer and bead changed.

    Each material is asked once and pieces that stay are not made anew: part of the build of every corrected shell.
    """
    known: dict[int, Material] = {}

    def other(material: Material) -> Material:
        if id(material) not in known:
            known[id(material)] = change(material)
        return known[id(material)]

    def of_piece(piece: Piece) -> Piece:
        layers = piece.wall.layers
        if all(other(layer.material) is layer.material for layer in layers):
            return piece
        own = tuple(Layer(other(x.material), x.begin_thickness, x.end_thickness, x.glued) for x in layers)
        return Piece(piece.curve, piece.zone, Wall(own, piece.wall.lift, piece.wall.passed), piece.winding)

    return replace(
        design,
        meridian=tuple(map(of_piece, design.meridian)),
        former=tuple(map(of_piece, design.former)),
        beads=tuple(replace(bead, material=other(bead.material)) for bead in design.beads),
    )
