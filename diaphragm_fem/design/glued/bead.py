"""Glue fillets: beads of glue in the corners between the coil former and the wall that it carries.

A ball of the fillet's radius rolls up the former's face until it touches the wall's rear face; between the two points
where it touches, glue fills what the ball leaves of the corner. The last thin edge of the glue, where the ball's
surface would lie flatter than `THIN` against a face, runs out straight at that angle.
"""

from collections.abc import Sequence
from math import atan2, copysign, pi, radians, remainder, tan

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Bead, Piece
from diaphragm_fem.design.drawing.faces import draw_faces
from diaphragm_fem.design.material.material import Material
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.foot import crossing, distances, feet
from diaphragm_fem.design.meridian.outline import Point, backward, begin, direction, end, position
from diaphragm_fem.design.units.units import show
from diaphragm_fem.errors import DesignError

THIN = radians(12.0)  # of the 1 - pi/4 radii squared of a right angle's fillet, 0.4 % are left out
SHARPEST = radians(30.0)
REACH = 4.0  # radii, and thicknesses of former and wall, from the joint: as far as faces are drawn
STEPS = 100  # of the ball on its way up
SIDES = {"inside": (-1,), "outside": (1,), "both": (-1, 1)}  # of the former: toward the axis, away from it
WORDS = {-1: "inside", 1: "outside"}
KEY = "coil.fillet"


def lay_beads(
    meridian: Sequence[Piece], joint: int, former: Sequence[Piece], radius: float, side: str, material: Material
) -> tuple[Bead, ...]:
    """The fillets on the asked sides of the former, the inner one first. Raises DesignError where one has no room."""
    half = float(former[0].wall.thickness(0.0)) / 2
    (r, _), foot = begin(former[0].curve), end(_bare(former).curve)[1]
    wall = max(float(piece.wall.thickness(0.5)) for piece in meridian[max(joint - 1, 0) : joint + 1])
    rear = _rear_face(meridian, joint, REACH * (radius + 2 * half + wall))
    found = []
    for s in SIDES[side]:
        face = r + s * half
        where = f"{KEY}: a fillet of {show(radius)} {WORDS[s]} the former"
        surface, faces = _roll(rear if s > 0 else backward(rear), face, s, radius, where)
        if end(surface[-1])[1] < foot:
            raise DesignError(
                f"{where} must end above the winding and the former's end, {show(begin(former[0].curve)[1] - foot)} "
                f"below the drive circle, but reaches {show(begin(former[0].curve)[1] - end(surface[-1])[1])} down; "
                "make its radius smaller, or the former longer there"
            )
        found.append(Bead(surface, faces, former[0].zone, material))
    return tuple(found)


def _bare(former: Sequence[Piece]) -> Piece:
    """The last piece of the former before its winding."""
    wound = [k for k, piece in enumerate(former) if piece.winding is not None]
    return former[max(wound[0] - 1, 0) if wound else -1]


def _rear_face(meridian: Sequence[Piece], joint: int, reach: float) -> list[Curve]:
    """The rear face of the wall around the joint, from the inside outward; unmitred there where no mitre closes it."""
    first, last = joint, joint
    for way in (-1, 1):
        room, k = reach, joint - (way < 0)
        while room > 0 and 0 <= k < len(meridian):
            room -= meridian[k].curve.length
            first, last, k = min(first, k), max(last, k + 1), k + way
    try:
        parts = draw_faces(meridian[first:last]).rear
    except DesignError:
        runs = [meridian[first:joint], meridian[joint:last]]
        parts = tuple(part for run in runs if run for part in draw_faces(run).rear)
    return [part.curve for part in parts]


def _roll(
    rear: list[Curve], face: float, side: int, radius: float, where: str
) -> tuple[tuple[Curve, ...], tuple[Curve, ...]]:
    """The surface of a fillet from the wall to the former's face at r = `face`, and the faces it sticks to from there
    back to the wall. rear runs across the former and on to the side that is asked for."""
    corner = _corner(rear, face, side)
    if corner is None:
        raise DesignError(
            f"{where} needs a rear face of the wall that goes on there from the former; {_left_out(side)}"
        )
    number, s = corner
    beyond = [rear[number].part(s, rear[number].length), *rear[number + 1 :]]
    meeting = begin(beyond[0])
    centre = _resting(beyond, face, side, radius, where)
    touched = min(range(len(beyond)), key=lambda k: float(distances(beyond[k], np.array(centre)).away[0]))
    place = beyond[touched].point(_nearest(beyond[touched], centre))
    first = pi if side > 0 else 0.0
    sweep = remainder(atan2(place[1] - centre[1], place[0] - centre[0]) - first, 2 * pi)
    if not 2 * THIN < -sweep * side <= pi - SHARPEST:
        raise DesignError(
            f"{where} needs a corner of {np.degrees(SHARPEST):.0f} to {180 - np.degrees(2 * THIN):.0f} degrees between "
            f"wall and former where it touches them, received {180 + np.degrees(sweep * side):.1f}; make its radius "
            f"smaller, or {_left_out(side)}"
        )
    edge, thin = radius * tan(THIN / 2), copysign(THIN, sweep)
    arc = Arc(centre, radius, first + sweep - thin, 2 * thin - sweep)
    low = Line(end(arc), (face, centre[1] + edge))
    (r, z), (t_r, t_z) = begin(arc), direction(arc, 0.0)
    runs_out = Line((r, z), (r - 2 * edge * t_r, z - 2 * edge * t_z))
    for k in range(touched, -1, -1):
        met = crossing(runs_out, edge, beyond[k], _nearest(beyond[k], centre))
        if met is not None and 0 < met[0] <= runs_out.length and -1e-12 <= met[1] <= beyond[k].length + 1e-12:
            high = runs_out.part(0.0, met[0]).reverse()
            faces = [Line(end(low), meeting), *beyond[:k], beyond[k].part(0.0, met[1])]
            return (high, arc, low), tuple(curve for curve in faces if curve.length > 1e-12)
    raise DesignError(f"{where} meets the wall at a bend tighter than itself; change its radius")


def _left_out(side: int) -> str:
    return f'leave it out on that side (side = "{WORDS[-side]}")'


def _resting(beyond: Sequence[Curve], face: float, side: int, radius: float, where: str) -> Point:
    """Centre of the ball that has rolled up the former's face until it touches the wall's, which begins there."""
    from scipy.optimize import brentq

    line, z = face + side * radius, begin(beyond[0])[1]
    if line <= 0:
        raise DesignError(f"{where} must fit between the former and the axis, {show(face)} apart; make it smaller")

    def clear(z: ArrayLike) -> Array:
        points = np.column_stack([np.full(np.size(z), line), np.atleast_1d(z)])
        return np.min([distances(curve, points).away for curve in beyond], axis=0) - radius

    places = np.linspace(z - 4 * radius, z + 4 * radius, STEPS)  # at once: a free curve is drawn anew for each question
    blocked = int((clear(places) < 0).argmax())
    if not blocked:
        raise DesignError(
            f"{where} finds no corner between wall and former that holds it; make its radius smaller, or "
            f"{_left_out(side)}"
        )
    return line, float(brentq(lambda z: float(clear(z)[0]), places[blocked - 1], places[blocked], xtol=1e-14))


def _corner(rear: Sequence[Curve], face: float, side: int) -> tuple[int, float] | None:
    """Which curve, and where on it, leaves r = face farthest down; None where none does."""
    found: list[tuple[float, int, float]] = []
    for k, curve in enumerate(rear):
        s = np.linspace(0.0, curve.length, 2 if isinstance(curve, Line) else 33)
        off = side * (curve.point(s)[:, 0] - face)
        for n in np.flatnonzero((off[:-1] <= 0) & (off[1:] > 0)):
            a, b = float(s[n]), float(s[n + 1])
            for _ in range(60):
                middle = (a + b) / 2
                a, b = (middle, b) if side * (position(curve, middle)[0] - face) <= 0 else (a, middle)
            found.append((position(curve, b)[1], k, b))
    return min(found)[1:] if found else None


def _nearest(curve: Curve, point: Point) -> float:
    return float(np.clip(feet(curve, np.array(point))[0], 0.0, curve.length))


def bead_section(bead: Bead) -> tuple[float, float, float]:
    """Area in m2 of a bead's section, and its centroid (r, z) in m: integrals of 1, r and z over it, by Green."""
    x, w = np.polynomial.legendre.leggauss(12)
    total = np.zeros(3)
    for curve in bead.outline:
        s = curve.length * (1 + x) / 2
        (r, z), (t_r, t_z) = curve.point(s).T, curve.tangent(s).T
        total += curve.length / 2 * np.array([w @ (r * t_z), w @ (r * r / 2 * t_z), -(w @ (z * z / 2 * t_r))])
    return abs(float(total[0])), float(total[1] / total[0]), float(total[2] / total[0])


def bead_mass(bead: Bead) -> float:
    """Mass in kg of a bead all around: 2 pi r A rho at the centroid of its section (Pappus)."""
    area, r, _ = bead_section(bead)
    return 2 * pi * r * area * bead.material.density
