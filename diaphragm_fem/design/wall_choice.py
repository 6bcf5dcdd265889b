"""Other walls on the same meridian: another material, another thickness, zone by zone."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from operator import is_

from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.wall import Layer, Wall


@dataclass(frozen=True)
class WallChoice:
    """The wall of one zone in one design: its material, and its thickness over the base design's."""

    material: Material
    scale: float


def with_walls(base: Design, walls: Mapping[str, WallChoice]) -> Design:
    """The base design on the same meridian with some zones' walls, of one layer of their own each, changed, and with
    them what of these walls is glued on others."""

    def change(piece: Piece) -> Piece:
        if piece.zone.name in walls:
            (_,) = piece.wall.own.layers
        layers = chosen_layers(piece, walls)
        same = all(map(is_, layers, piece.wall.layers))
        return piece if same else replace(piece, wall=piece.wall.restacked(layers))

    return replace(base, meridian=tuple(map(change, base.meridian)), former=tuple(map(change, base.former)))


def chosen_layers(piece: Piece, walls: Mapping[str, WallChoice]) -> tuple[Layer, ...]:
    """The layers of a piece as some zones' walls have them, each that of its own zone's."""

    def chosen(layer: Layer) -> Layer:
        choice = walls.get((layer.glued or piece.zone).name)
        if choice is None:
            return layer
        ends = layer.begin_thickness * choice.scale, layer.end_thickness * choice.scale
        return Layer(choice.material, *ends, layer.glued)

    return tuple(map(chosen, piece.wall.layers))


def with_material(design: Design, changed: Material) -> Design:
    """The design with every layer and bead of the material of that name made of `changed`."""
    return with_materials(design, lambda material: changed if material.name == changed.name else material)


def with_materials(design: Design, change: Callable[[Material], Material]) -> Design:
    """The design with the material of every layer and bead changed.

    Each material is asked once, pieces that stay are not made anew, and those that share a wall share its like: part of
    the build of every corrected shell.
    """
    known: dict[int, Material] = {}
    walls: dict[int, Wall] = {}

    def other(material: Material) -> Material:
        if id(material) not in known:
            known[id(material)] = change(material)
        return known[id(material)]

    def of_wall(wall: Wall) -> Wall:
        if all([other(layer.material) is layer.material for layer in wall.layers]):
            return wall
        own = tuple([Layer(other(x.material), x.begin_thickness, x.end_thickness, x.glued) for x in wall.layers])
        return Wall(own, wall.lift, wall.passed)

    def of_piece(piece: Piece) -> Piece:
        wall = piece.wall
        if id(wall) not in walls:
            walls[id(wall)] = of_wall(wall)
        return piece if walls[id(wall)] is wall else Piece(piece.curve, piece.zone, walls[id(wall)], piece.winding)

    return replace(
        design,
        meridian=tuple(map(of_piece, design.meridian)),
        former=tuple(map(of_piece, design.former)),
        beads=tuple(replace(bead, material=other(bead.material)) for bead in design.beads),
    )
