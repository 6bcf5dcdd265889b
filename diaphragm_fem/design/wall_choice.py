"""Other walls on the same meridian: another material, another thickness, zone by zone."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.wall import Layer
from diaphragm_fem.design.meridian.zone import Zone


@dataclass(frozen=True)
class WallChoice:
    """The wall of one zone in one design: its material, and its thickness over the base design's."""

    material: Material
    scale: float


def with_walls(base: Design, walls: Mapping[str, WallChoice]) -> Design:
    """The base design on the same meridian with some zones' walls, of one layer of their own each, changed, and with
    them what of these walls is glued on others.
    """

    def chosen(layer: Layer, zone: Zone) -> Layer:
        choice = walls.get(zone.name)
        if choice is None:
            return layer
        ends = layer.begin_thickness * choice.scale, layer.end_thickness * choice.scale
        return Layer(choice.material, *ends, layer.glued)

    def change(piece: Piece) -> Piece:
        zones = [layer.glued or piece.zone for layer in piece.wall.layers]
        if piece.zone.name in walls:
            (_,) = piece.wall.own.layers
        if not any(zone.name in walls for zone in zones):
            return piece
        return replace(piece, wall=piece.wall.restacked(tuple(map(chosen, piece.wall.layers, zones))))

    return replace(base, meridian=tuple(map(change, base.meridian)), former=tuple(map(change, base.former)))
