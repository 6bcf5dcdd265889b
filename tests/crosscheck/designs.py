"""Invented diaphragms for the cross-checks: a stepped V and a dome, kinked or rounded, thick or thin."""

from itertools import pairwise

import numpy as np

from diaphragm_fem.design.design import Design, Piece, Ring
from diaphragm_fem.design.material.material import LossFactor, Material
from diaphragm_fem.design.meridian.curve import Arc, Curve, Line
from diaphragm_fem.design.meridian.edge import CLAMPED
from diaphragm_fem.design.meridian.wall import plain_wall
from diaphragm_fem.design.meridian.zone import Role, Zone

FILM = Material("film", 1360.0, 6.0e9, 0.35, LossFactor((0.02,)))
SOFT = Material("soft roll", 1100.0, 60.0e6, 0.45, LossFactor((0.15,)))
MM = 1e-3


def rounded_corner(begin: np.ndarray, corner: np.ndarray, end: np.ndarray, radius: float) -> Arc:
    """The arc of `radius` that touches both lines begin-corner and corner-end."""
    t, q = (corner - begin) / np.linalg.norm(corner - begin), (end - corner) / np.linalg.norm(end - corner)
    turn = np.arctan2(t[0] * q[1] - t[1] * q[0], t @ q)
    side = np.sign(turn)
    touch = corner - radius * np.tan(abs(turn) / 2) * t
    centre = touch + side * radius * np.array([-t[1], t[0]])
    start = np.arctan2(touch[1] - centre[1], touch[0] - centre[0])
    return Arc((float(centre[0]), float(centre[1])), radius, float(start), float(turn))


def polyline(points: np.ndarray, radius: float, keep_kink: int | None = None) -> list[list[Curve]]:
    """Curves of each straight run of a polyline; a rounded corner is cut at its middle, half to each run.

    `keep_kink` is the index of the one point that stays sharp whatever the radius.
    """
    runs: list[list[Curve]] = [[] for _ in range(len(points) - 1)]
    starts, ends = list(points[:-1]), list(points[1:])
    arcs: dict[int, Arc] = {}
    for i in range(1, len(points) - 1):
        if radius > 0 and i != keep_kink:
            arcs[i] = rounded_corner(points[i - 1], points[i], points[i + 1], radius)
            ends[i - 1], starts[i] = arcs[i].point(0.0), arcs[i].point(arcs[i].length)
    for i, (start, end) in enumerate(zip(starts, ends, strict=True)):
        if i in arcs:
            runs[i].append(arcs[i].part(arcs[i].length / 2, arcs[i].length))
        runs[i].append(Line((float(start[0]), float(start[1])), (float(end[0]), float(end[1]))))
        if i + 1 in arcs:
            runs[i].append(arcs[i + 1].part(0.0, arcs[i + 1].length / 2))
    return runs


def stepped_v(
    thickness: float, corner_radius: float = 0.0, ring: Ring | None = None, surround: Material = SOFT
) -> Design:
    """A V with one decoupling step on each flank and a flat surround at each edge, driven at its apex; all in metres.

    About 35 mm of meridian between the two clamped edges.
    """
    points = np.array([(6, 0), (10, 0), (14, -4), (15.5, -4), (20, -8.5), (24.5, -4), (26, -4), (30, 0), (34, 0)]) * MM
    zones = (
        Zone("inner surround", Role.SURROUND, "inner"),
        Zone("inner beyond step", Role.BEYOND, "inner", 1),
        Zone("inner step", Role.STEP, "inner", 1),
        Zone("inner flank", Role.DRIVEN, "inner"),
        Zone("outer flank", Role.DRIVEN, "outer"),
        Zone("outer step", Role.STEP, "outer", 1),
        Zone("outer beyond step", Role.BEYOND, "outer", 1),
        Zone("outer surround", Role.SURROUND, "outer"),
    )
    runs = polyline(points, corner_radius)
    pieces = [
        Piece(curve, zone, plain_wall(surround if zone.role is Role.SURROUND else FILM, thickness))
        for curves, zone in zip(runs, zones, strict=True)
        for curve in curves
    ]
    joint = sum(len(run) for run in runs[:4])
    return Design("stepped V", tuple(pieces), CLAMPED, CLAMPED, joint, ring=ring)


def dome(thickness: float, corner_radius: float = 0.0, ring: Ring | None = None, surround: Material = SOFT) -> Design:
    """A spherical dome of 13 mm base radius and 5 mm height with a flat surround out to 17 mm, driven at its rim."""
    base, height, outer = 13 * MM, 5 * MM, 17 * MM
    radius = (base**2 + height**2) / (2 * height)
    half = float(np.arcsin(base / radius))
    centre = (0.0, height - radius)
    cap = Zone("dome", Role.DRIVEN)
    roll = Zone("surround", Role.SURROUND, "outer")
    film, soft = plain_wall(FILM, thickness), plain_wall(surround, thickness)
    if corner_radius == 0.0:
        pieces = (
            Piece(Arc(centre, radius, np.pi / 2, -half), cap, film),
            Piece(Line((base, 0.0), (outer, 0.0)), roll, soft),
        )
        return Design("dome", pieces, None, CLAMPED, 1, ring=ring)
    # The corner arc touches the dome (their centres lie the sum of both radii apart) and the flat surround.
    lift = corner_radius
    across = float(np.sqrt((radius + corner_radius) ** 2 - (lift - centre[1]) ** 2))
    meet = float(np.arctan2(across, lift - centre[1]))
    bend = Arc((across, lift), corner_radius, -np.pi / 2 - meet, meet)
    pieces = (
        Piece(Arc(centre, radius, np.pi / 2, -meet), cap, film),
        Piece(bend.part(0.0, bend.length / 2), cap, film),
        Piece(bend.part(bend.length / 2, bend.length), roll, soft),
        Piece(Line((across, 0.0), (outer, 0.0)), roll, soft),
    )
    return Design("dome", pieces, None, CLAMPED, 2, ring=ring)


def gaps(design: Design) -> list[float]:
    """Distance between the end of each piece and the begin of the next: all zero for a drawing that hangs together."""
    return [
        float(np.linalg.norm(a.curve.point(a.curve.length) - b.curve.point(0.0))) for a, b in pairwise(design.meridian)
    ]
