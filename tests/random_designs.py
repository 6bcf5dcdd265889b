"""Random valid designs for the property tests, and what must hold of them by plain geometry."""

from dataclasses import replace

import numpy as np
from hypothesis import strategies as st

from diaphragm_fem.design.design import Design, Piece, Ring
from diaphragm_fem.design.material.material import LossFactor, Material
from diaphragm_fem.design.meridian.curve import Arc, Line
from diaphragm_fem.design.meridian.edge import CLAMPED, FREE, HINGED
from diaphragm_fem.design.meridian.wall import plain_wall
from diaphragm_fem.design.meridian.zone import Zone
from diaphragm_fem.verify.bench import with_layers

MM = 1e-3


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


@st.composite
def materials(draw: st.DrawFn, name: str) -> Material:
    """From rubber to metal."""
    density, modulus, nu = draw(number(300, 3000)), 10 ** draw(number(7.5, 11)), draw(number(0.1, 0.45))
    return Material(name, density, modulus, nu, LossFactor((draw(number(0, 0.3)),)))


@st.composite
def meridians(draw: st.DrawFn, thinnest: float, thickest: float, plain: bool = False) -> tuple[Piece, ...]:
    """Two to four straight or curved pieces, each 4 to 8 mm long across and at most 60 degrees steep, end to end.

    A plain meridian has one wall thickness and one material throughout.
    """
    on_axis = draw(st.booleans())
    count = draw(st.integers(2, 4))
    stuff = [draw(materials(f"material {k}")) for k in range(1 if plain else count)]
    only = draw(number(thinnest, thickest))
    r, z = (0.0 if on_axis else draw(number(5, 12)) * MM), 0.0
    pieces = []
    for k in range(count):
        across = draw(number(4, 8)) * MM
        slope = draw(number(-60, 60)) if not (on_axis and k == 0) else draw(number(-10, 10))
        end = (r + across, z + across * float(np.tan(np.radians(slope))))
        curve: Line | Arc = Line((r, z), end)
        if on_axis and k == 0:
            curve = dome_through(across, draw(number(0.1, 0.5)) * across)
            end = (across, 0.0)
        elif draw(st.booleans()):
            curve = bulged(curve, draw(st.sampled_from((-1.0, 1.0))) * draw(number(0.05, 0.25)))
        begin_h, end_h = (only, only) if plain else (draw(number(thinnest, thickest)), draw(number(thinnest, thickest)))
        pieces.append(Piece(curve, Zone(f"zone {k}"), plain_wall(stuff[0 if plain else k], begin_h, end_h)))
        r, z = end
    return tuple(pieces)


def dome_through(base: float, height: float) -> Arc:
    """A spherical cap that starts level on the axis and ends at (base, 0)."""
    radius = (base**2 + height**2) / (2 * height)
    return Arc((0.0, height - radius), radius, np.pi / 2, -2 * float(np.arctan2(height, base)))


def bulged(chord: Line, bulge: float) -> Arc:
    """The arc over a chord whose rise is `bulge` of half the chord, positive toward the chord's normal."""
    a, b = np.array(chord.begin), np.array(chord.end)
    half, along = chord.length / 2, (b - a) / chord.length
    angle = 2 * np.arctan(abs(bulge))  # half the sweep
    radius = half / np.sin(angle)
    side = np.sign(bulge)
    centre = (a + b) / 2 - side * radius * np.cos(angle) * np.array([-along[1], along[0]])
    start = np.arctan2(*(a - centre)[::-1])
    return Arc((float(centre[0]), float(centre[1])), float(radius), float(start), float(-2 * side * angle))


@st.composite
def designs(
    draw: st.DrawFn, *, thinnest: float = 0.05 * MM, thickest: float = 0.4 * MM, free: bool = False, plain: bool = False
) -> Design:
    """A whole part: edges free, hinged or clamped (all free if asked), driven at a random border, maybe with a ring."""
    pieces = draw(meridians(thinnest, thickest, plain))
    on_axis = pieces[0].curve.point(0.0)[0] < 1e-9
    edges = st.just(FREE) if free else st.sampled_from((FREE, HINGED, CLAMPED))
    outer = draw(edges) if free or not on_axis else draw(st.sampled_from((HINGED, CLAMPED)))
    inner = None if on_axis else draw(edges if free else st.sampled_from((HINGED, CLAMPED)))
    ring = draw(st.none() | st.builds(Ring, number(1e-5, 1e-2), number(0, 1e5)))
    last = len(pieces) if outer == FREE else len(pieces) - 1  # a held edge cannot be driven
    return Design("random", pieces, inner, outer, draw(st.integers(1, last)), ring=ring)


def analytic_mass(design: Design) -> float:
    """Mass of the walls by Pappus, 2 pi integral of rho h r ds (Gauss, exact for lines with tapers), and the ring's."""
    x, weight = np.polynomial.legendre.leggauss(12)
    x, weight = (1 + x) / 2, weight / 2
    total = design.ring.mass if design.ring else 0.0
    for piece in design.meridian:
        r = piece.curve.point(x * piece.curve.length)[:, 0]
        per_area = sum(layer.material.density * layer.thickness(x) for layer in piece.wall.layers)
        total += 2 * np.pi * piece.curve.length * float(np.sum(weight * r * per_area))
    return total


def reversed_design(design: Design) -> Design:
    """The same part drawn from its outer to its inner edge: every curve, wall and support from the other end."""
    meridian = tuple(
        Piece(piece.curve.reverse(), piece.zone, piece.wall.reverse()) for piece in reversed(design.meridian)
    )
    joint = None if design.joint is None else len(meridian) - design.joint
    return replace(design, meridian=meridian, inner_edge=design.outer_edge, outer_edge=design.inner_edge, joint=joint)


def split_design(design: Design, index: int, fraction: float) -> Design:
    """The same part with one piece cut in two, each with a zone of its own."""
    piece = design.meridian[index]
    at = fraction * piece.curve.length
    halves = (
        replace(piece.part(0.0, at), zone=Zone("first half")),
        replace(piece.part(at, piece.curve.length), zone=Zone("second half")),
    )
    joint = design.joint + 1 if design.joint is not None and design.joint > index else design.joint
    return replace(design, meridian=(*design.meridian[:index], *halves, *design.meridian[index + 1 :]), joint=joint)


def scaled_walls(design: Design, factor: float) -> Design:
    """The same part with every wall thickness times `factor`."""
    return with_layers(
        design, lambda x: replace(x, begin_thickness=factor * x.begin_thickness, end_thickness=factor * x.end_thickness)
    )
