"""The wall of one piece of the meridian: layers of material, each of constant or tapering thickness."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.material import Material
from diaphragm_fem.design.zone import Zone


@dataclass(frozen=True)
class Layer:
    """One layer: its material and its thickness in metres at the begin and at the end of the piece.

    glued: the zone that it is the wall of, or the glue, where it lies on another's wall; None for the wall's own.
    """

    material: Material
    begin_thickness: float
    end_thickness: float
    glued: Zone | None = field(default=None, compare=False)

    def thickness(self, fraction: ArrayLike) -> Array:
        """Thickness in metres at a fraction 0...1 of the piece's arc length."""
        return self.begin_thickness + (self.end_thickness - self.begin_thickness) * np.asarray(fraction, float)


@dataclass(frozen=True)
class Wall:
    """Layers from the rear face (-n) to the front face (+n); the meridian is the middle of the whole stack."""

    layers: tuple[Layer, ...]

    def thickness(self, fraction: ArrayLike) -> Array:
        """Whole thickness in metres at a fraction 0...1 of the piece's arc length."""
        first, *others = (layer.thickness(fraction) for layer in self.layers)
        return sum(others, first)

    @property
    def thickest(self) -> float:
        """The thickness in metres of the thicker end."""
        return max(sum(x.begin_thickness for x in self.layers), sum(x.end_thickness for x in self.layers))

    def part(self, begin: float, end: float) -> Wall:
        """The wall between two fractions of the piece; from a greater to a smaller one its ends swap."""
        ends = [(float(x.thickness(begin)), float(x.thickness(end))) for x in self.layers]
        return Wall(tuple(Layer(x.material, *both, x.glued) for x, both in zip(self.layers, ends, strict=True)))

    def reverse(self) -> Wall:
        """The same wall seen from the other end: begin and end swap, and so do rear and front (n turns over)."""
        layers = (Layer(x.material, x.end_thickness, x.begin_thickness, x.glued) for x in reversed(self.layers))
        return Wall(tuple(layers))

    @property
    def own(self) -> Wall:
        """The wall without what is glued on it."""
        return Wall(tuple(layer for layer in self.layers if layer.glued is None))


def plain_wall(material: Material, thickness: float, end_thickness: float | None = None) -> Wall:
    """Wall of a single material, thickness in metres."""
    return Wall((Layer(material, thickness, thickness if end_thickness is None else end_thickness),))
