"""The same design written in another way: scaled, stiffened, cut up, turned upside down."""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

from diaphragm_fem.design.design import Design, Ring
from diaphragm_fem.design.material.material import LossFactor
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


def with_layers(design: Design, change: Callable[[Layer], Layer]) -> Design:
    """The same meridian, every layer of its walls changed."""
    walls = (Wall(tuple(map(change, p.wall.layers))) for p in design.meridian)
    return replace(
        design, meridian=tuple(replace(p, wall=wall) for p, wall in zip(design.meridian, walls, strict=True))
    )


def scaled(design: Design, c: float) -> Design:
    """All lengths times c, the mass of a ring times c cubed."""
    larger = with_layers(design, lambda x: Layer(x.material, x.begin_thickness * c, x.end_thickness * c))
    pieces = tuple(replace(p, curve=_moved(p.curve, c, c)) for p in larger.meridian)
    return replace(design, meridian=pieces, ring=Ring(design.ring.mass * c**3) if design.ring else None)


def stiffer(design: Design, c: float) -> Design:
    """Every Young's modulus times c."""
    return with_layers(
        design, lambda x: replace(x, material=replace(x.material, youngs_modulus=x.material.youngs_modulus * c))
    )


def lossy(design: Design, eta: float = 0.05) -> Design:
    """The design with one loss factor in every wall."""
    return with_layers(design, lambda x: replace(x, material=replace(x.material, loss_factor=LossFactor((eta,)))))


def split(design: Design) -> Design:
    """Every piece cut in three."""
    pieces = tuple(
        p.part(a * p.curve.length, b * p.curve.length)
        for p in design.meridian
        for a, b in pairwise((0.0, 0.3, 0.6, 1.0))
    )
    return replace(design, meridian=pieces, joint=None if design.joint is None else 3 * design.joint)


def mirrored(design: Design) -> Design:
    """The design upside down."""
    return replace(design, meridian=tuple(replace(p, curve=_moved(p.curve, 1.0, -1.0)) for p in design.meridian))
