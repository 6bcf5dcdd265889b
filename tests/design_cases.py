"""Designs as data, and measures of drawn meridians, that the geometry tests share."""

from itertools import pairwise
from math import atan2, pi

import numpy as np

WALL = {"material": "PEN film", "thickness": "60 um"}
SHARP = {"corner_radius": "0 mm"}


def mm(value):
    return f"{value!r} mm"


def dome(**keys):
    return {"wall": WALL, "profile": {"kind": "dome", "rim_diameter": "25 mm", "height": "6 mm", **keys}}


def vee(inner=None, outer=None, **keys):
    profile = {"kind": "v", "coil_diameter": "40 mm", **keys}
    profile |= {"inner": inner} if inner else {}
    profile |= {"outer": outer} if outer else {}
    return {"wall": WALL, "profile": profile}


def ends(piece):
    return piece.curve.point(0.0), piece.curve.point(piece.curve.length)


def integral(pieces, value):
    """Integral of value(points, tangents) along the pieces by 20-point Gauss: exact to rounding for lines and arcs."""
    nodes, weights = np.polynomial.legendre.leggauss(20)
    total = 0.0
    for piece in pieces:
        s = piece.curve.length * (nodes + 1) / 2
        total += piece.curve.length / 2 * float(weights @ value(piece.curve.point(s), piece.curve.tangent(s)))
    return total


def surface(pieces):
    return integral(pieces, lambda p, t: 2 * pi * p[:, 0])


def volume(pieces):
    """Volume between the surface and the plane z = 0: integral of 2 pi r z dr."""
    return integral(pieces, lambda p, t: 2 * pi * p[:, 0] * p[:, 1] * t[:, 0])


def check_joined(design):
    for a, b in pairwise(design.meridian):
        assert np.linalg.norm(ends(a)[1] - ends(b)[0]) < 1e-12
    for a, b in pairwise(design.former):
        assert np.linalg.norm(ends(a)[1] - ends(b)[0]) < 1e-12


def kinks(design):
    """Turn in radians at each border between pieces."""
    found = []
    for a, b in pairwise(design.meridian):
        t, u = a.curve.tangent(a.curve.length), b.curve.tangent(0.0)
        found.append(abs(atan2(t[0] * u[1] - t[1] * u[0], t @ u)))
    return found


FLANK = {
    "width": "9 mm",
    "rise": "4 mm",
    "steps": [
        {"distance": "3 mm", "tread": "1.2 mm", "rise": "0 mm"},
        {"distance": "6 mm", "tread": "0.8 mm", "rise": "0.1 mm"},
    ],
    "surround": {"kind": "half-roll", "width": "2.5 mm"},
}
CONE = """
name = "cone of two numbers"
wall = { material = "paper", thickness = "200 um" }
coil = { kind = "ring", diameter = "25 mm", mass = "0.8 g" }
edges = { outer = "clamped" }
profile = { kind = "free", r = ["12.5 mm", "28 mm"], z = ["0 mm", "9 mm"] }
"""  # a design file with little to solve
