"""The wall of one piece of the meridian: layers of material, each of constant or tapering thickness."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.zone import Zone

Real = TypeVar("Real", float, Array)


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
    """Layers from the rear face (-n) to the front face (+n).

    lift, passed: the middle of the stack stands by lift * passed^2 (3 - 2 passed) over the meridian, both even between
    their values (in m, and 0...1) at begin and end of the piece; nothing but where other layers are glued on.
    """

    layers: tuple[Layer, ...]
    lift: tuple[float, float] = (0.0, 0.0)
    passed: tuple[float, float] = (1.0, 1.0)

    def thickness(self, fraction: ArrayLike) -> Array:
        """Whole thickness in metres at a fraction 0...1 of the piece's arc length."""
        first, *others = (layer.thickness(fraction) for layer in self.layers)
        return sum(others, first)

    def rear(self, fraction: ArrayLike) -> Array:
        """Height in m of the rear face over the meridian at a fraction 0...1 of the piece's arc length."""
        half = self.thickness(fraction) / 2
        return np.asarray(lifted((*self.lift, *self.passed), fraction)[0] - half if any(self.lift) else -half)

    def front(self, fraction: ArrayLike) -> Array:
        """The same of the front face."""
        return np.asarray(self.rear(fraction) + self.thickness(fraction))

    def reach(self, fraction: ArrayLike) -> Array:
        """Distance in m of the farther face from the meridian."""
        return np.maximum(-self.rear(fraction), self.front(fraction))

    @cached_property
    def thickest(self) -> float:
        """The thickness in metres of the thicker end."""
        return max(sum(x.begin_thickness for x in self.layers), sum(x.end_thickness for x in self.layers))

    def part(self, begin: float, end: float) -> Wall:
        """The wall between two fractions of the piece; from a greater to a smaller one its ends swap."""
        ends = [(float(x.thickness(begin)), float(x.thickness(end))) for x in self.layers]
        layers = tuple(Layer(x.material, *both, x.glued) for x, both in zip(self.layers, ends, strict=True))
        lift, passed = (
            (first + begin * (last - first), first + end * (last - first)) for first, last in (self.lift, self.passed)
        )
        return Wall(layers, lift, passed)

    def reverse(self) -> Wall:
        """The same wall seen from the other end: begin and end swap, and so do rear and front (n turns over)."""
        layers = (Layer(x.material, x.end_thickness, x.begin_thickness, x.glued) for x in reversed(self.layers))
        return Wall(tuple(layers), (-self.lift[1], -self.lift[0]), self.passed[::-1])

    @cached_property
    def own(self) -> Wall:
        """The wall without what is glued on it."""
        return Wall(tuple(layer for layer in self.layers if layer.glued is None))

    @property
    def without_fillet(self) -> Wall:
        """The wall without the glue in a corner: that lies on it and falls."""
        if len(self.layers) == 1:  # most walls: to keep what was found takes longer
            return self
        kept = [layer for layer in self.layers if layer.glued is None or layer.begin_thickness == layer.end_thickness]
        return self if len(kept) == len(self.layers) else Wall(tuple(kept)).on_own(*self.passed)

    @cached_property
    def ends(self) -> tuple[list[tuple[float, Material]], list[tuple[float, Material]]]:
        """Thickness in m at its begin and at its end, and material, of the layers from the right hand to the left, seen
        from there, without a fillet's glue."""
        layers = self.without_fillet.layers
        return [(x.begin_thickness, x.material) for x in layers], [(x.end_thickness, x.material) for x in layers[::-1]]

    def on_own(self, begin: float, end: float) -> Wall:
        """The wall with the meridian so far, 0...1, on its smooth way from the middle of the stack to that of its own
        layers."""
        found = []
        for ends in ([x.begin_thickness for x in self.layers], [x.end_thickness for x in self.layers]):
            own = [k for k, x in enumerate(self.layers) if x.glued is None]
            found.append((sum(ends[own[-1] + 1 :]) - sum(ends[: own[0]])) / 2)
        return Wall(self.layers, (found[0], found[1]), (begin, end))

    def restacked(self, layers: tuple[Layer, ...]) -> Wall:
        """Other layers in place of these, glued on alike, the meridian as far between the same two middles."""
        return Wall(layers).on_own(*self.passed) if any(self.lift) else Wall(layers)


def lifted(lift: Sequence[ArrayLike] | Array, fraction: ArrayLike) -> tuple[Array, Array]:
    """Height of the middle of stacks over the meridian in m, and its slope over the fraction 0...1 of the piece; lift
    are `Wall.lift` and then `Wall.passed`, begin and end of each."""
    first, last, begin, end = (np.asarray(x, float) for x in lift)
    fraction = np.asarray(fraction, float)
    full = first + (last - first) * fraction
    if not full.any():  # nothing is glued on most walls: 0.15 ms of a stepped V's build
        return full, np.zeros_like(full)
    passed = begin + (end - begin) * fraction
    way, steep = risen(passed), 6 * passed * (1 - passed)
    return np.asarray(full * way), np.asarray((last - first) * way + full * steep * (end - begin))


def risen(passed: Real) -> Real:
    """How much of its way over the meridian the middle of a stack has gone, so far along, both 0...1."""
    return passed**2 * (3 - 2 * passed)


def plain_wall(material: Material, thickness: float, end_thickness: float | None = None) -> Wall:
    """Wall of a single material, thickness in metres."""
    return Wall((Layer(material, thickness, thickness if end_thickness is None else end_thickness),))


def stack_of(layers: Iterable[Layer]) -> Wall:
    """Wall of layers, those that lie on their like one with them: what is one wall meets others as one."""
    found = list[Layer]()
    for own in layers:
        if found and found[-1].material == own.material:
            last = found.pop()
            begin, end = last.begin_thickness + own.begin_thickness, last.end_thickness + own.end_thickness
            own = replace(own, begin_thickness=begin, end_thickness=end)
        found.append(own)
    return Wall(tuple(found))
