"""Surrounds drawn in local coordinates: x along the radius away from the coil, z toward the listener."""

from math import atan2

from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.outline import Point
from diaphragm_fem.design.spec.profile import FlatSurround, RollSurround

Curves = list[Curve]


def draw_surround(spec: FlatSurround | RollSurround, start: Point) -> Curves:
    """Curves of a surround from its near end `start` (x, z) in metres to the edge."""
    x, z = start
    if isinstance(spec, FlatSurround):
        return [Line(start, (x + spec.width, z + (spec.rise or 0.0)))]
    width = spec.width / spec.count
    height = width / 2 if spec.height is None else float(spec.height)
    curves: Curves = []
    for i in range(spec.count):
        up = (spec.direction == "up") != (spec.alternate and i % 2 == 1)
        curves += draw_roll((x + i * width, z), width, height if up else -height)
    return curves


def draw_roll(start: Point, width: float, height: float) -> Curves:
    """One roll over `width`, `height` over its ends (negative: downward), in metres.

    An arc of chord w and height h <= w/2 has the radius (w^2 / 4 + h^2) / 2h; a higher roll is a
    semicircle on upright walls.
    """
    x, z = start
    up = 1.0 if height > 0 else -1.0
    rise = abs(height)
    wall = max(rise - width / 2, 0.0)
    if wall < 1e-9 * width:
        return [_arc_over(x, z, width, min(rise, width / 2), up)]
    foot, top = z, z + up * wall
    return [
        Line((x, foot), (x, top)),
        _arc_over(x, top, width, width / 2, up),
        Line((x + width, top), (x + width, foot)),
    ]


def _arc_over(x: float, z: float, width: float, rise: float, up: float) -> Arc:
    radius = (width**2 / 4 + rise**2) / (2 * rise)
    centre = (x + width / 2, z + up * (rise - radius))
    half = atan2(width / 2, radius - rise)  # the angle either side of the crown
    crown = up * atan2(1.0, 0.0)
    return Arc(centre, radius, crown + up * half, -2 * up * half)
