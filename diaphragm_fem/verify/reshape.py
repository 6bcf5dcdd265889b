"""The same design written in another way: scaled, stiffened, cut up, turned upside down."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from diaphragm_fem.design.design import Design, Ring
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.wall import Layer, Wall


def _moved(curve: Curve, c_r: float, c_z: float) -> Curve:
    """A line or arc with r times c_r and z times c_z, |c_r| = |c_z|."""
    if isinstance(curve, Line):
        (a, b), (c, d) = curve.begin, curve.end
        return Line((a * c_r, b * c_z), (c * c_r, d * c_z))
    if isinstance(curve, Arc):
        turn = 1 if c_z > 0 else -1
        r, z = curve.centre
        return Arc((r * c_r, z * c_z), curve.radius * c_r, turn * curve.start, turn * curve.sweep)
    raise TypeError(f"only lines and arcs can be moved, received {type(curve).__name__}")


def scaled(design: Design, c: float) -> Design:
    """All lengths times c, the mass of a ring times c cubed."""

    def wall(x: Wall) -> Wall:
        return Wall(tuple(Layer(y.material, y.begin_thickness * c, y.end_thickness * c) for y in x.layers))

    pieces = tuple(replace(p, curve=_moved(p.curve, c, c), wall=wall(p.wall)) for p in design.meridian)
    return replace(design, meridian=pieces, ring=Ring(design.ring.mass * c**3) if design.ring else None)


def stiffer(design: Design, c: float) -> Design:
    """Every Young's modulus times c."""

    def layer(x: Layer) -> Layer:
        return replace(x, material=replace(x.material, youngs_modulus=x.material.youngs_modulus * c))

    pieces = tuple(replace(p, wall=Wall(tuple(layer(x) for x in p.wall.layers))) for p in design.meridian)
    return replace(design, meridian=pieces)


def split(design: Design) -> Design:
    """Every piece cut in three."""
    pieces = tuple(
        replace(p, curve=p.curve.part(a * p.curve.length, b * p.curve.length), wall=p.wall.part(a, b))
        for p in design.meridian
        for a, b in pairwise((0.0, 0.3, 0.6, 1.0))
    )
    return replace(design, meridian=pieces, joint=None if design.joint is None else 3 * design.joint)


def mirrored(design: Design) -> Design:
    """The design upside down."""
    return replace(design, meridian=tuple(replace(p, curve=_moved(p.curve, 1.0, -1.0)) for p in design.meridian))
