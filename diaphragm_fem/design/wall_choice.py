"""Other walls on the same meridian: another material, another thickness, zone by zone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from diaphragm_fem.design.design import Design, Piece
from diaphragm_fem.design.material import Material
from diaphragm_fem.design.wall import Layer, Wall


@dataclass(frozen=True)
class WallChoice:
    """The wall of one zone in one design: its material, and its thickness over the base design's."""

    material: Material
    scale: float


def with_walls(base: Design, walls: Mapping[str, WallChoice]) -> Design:
    """The base design on the same meridian with some zones' walls, of one layer each, changed."""

    def change(piece: Piece) -> Piece:
        choice = walls.get(piece.zone.name)
        if choice is None:
            return piece
        (layer,) = piece.wall.layers
        wall = Wall((Layer(choice.material, layer.begin_thickness * choice.scale, layer.end_thickness * choice.scale),))
        return replace(piece, wall=wall)

    return replace(base, meridian=tuple(map(change, base.meridian)), former=tuple(map(change, base.former)))
