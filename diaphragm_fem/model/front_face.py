"""The volume that the front face of a wall with thickness sweeps, zone by zone.

The middle of a wall sweeps as much in all, but zones part elsewhere: faces of walls that meet at a kink cut each other
beside the middle's corner, which gave zones areas up to 2 % off and the 3 dB departure of a driven one 0.5 %.
"""

from __future__ import annotations

from itertools import pairwise
from math import cos, pi, sin, tan

import numpy as np

from diaphragm_fem.arrays import Array
from diaphragm_fem.design.design import Piece
from diaphragm_fem.model.shell_line import OrderTerms, ShellLine

STEEPEST = 4.0  # tangent of half the turn of a kink, beyond which faces no longer reach the bisector; 152 degrees
POINTS = ((1 - 3**-0.5) / 2, (1 + 3**-0.5) / 2)  # along a stretch about a corner, weights 1/2: exact


def front_volume(line: ShellLine, order: OrderTerms) -> tuple[Array, Array]:
    """Swept volume functionals (Z, n) and rigid areas (Z,) of the front face for m = 0."""
    sweeps, flat = front_sweeps(line, order)
    zones, owner = len(line.design.zones), line.zone_of_element
    volume = order.numbering.vectors(owner, zones, order.dofs, sweeps.sum(axis=2))
    return volume, np.asarray(np.bincount(owner, weights=flat.sum(axis=1), minlength=zones), float)


def front_sweeps(line: ShellLine, order: OrderTerms) -> tuple[Array, Array]:
    """Volumes (E, F, Q) that points of the front face sweep per unit of an element's raw degrees of freedom for m = 0,
    and their rigid areas (E, Q); a corner counts with the point beside it.

    With h the thickness, n the normal and t the tangent the face lies h/2 along n from the middle, and its points move
    by (u, w) + h/2 b t, and along n by -c0 (e_s + e_th) - c1 (k_s + k_th), for a wall that is stretched grows thin:
    c0, c1 = integral of nu/(1 - nu) z^0, z^1 over the front half of the wall. dV = 2 pi r (w dr - u dz).

    Faces of walls that meet go on to the bisector of their angle, as they are drawn; what of the thicker wall's end
    stands beyond the thinner one's face there is the thicker's. What is about a corner moves rigidly with the joint.
    """
    owner, heavy, stiff = line.mesh.piece_of_element, line.heavy, line.stiff
    table = np.array([_piece(piece) for piece in line.mesh.pieces])[owner].T[..., None]
    begin, change, length, front, *squeeze = table
    half, slope = (begin + change * heavy.at.fraction) / 2, change / (2 * length)
    t_r, t_z, run = heavy.at.t_r, heavy.at.t_z, 1 - heavy.at.kappa * half
    dr, dz = t_r * run - slope * t_z, t_z * run + slope * t_r
    band = 2 * np.pi * front * (heavy.at.r - half * t_z) * heavy.at.weight
    sweeps = np.stack((-band * dz, band * dr, band * half * (dr * t_z - dz * t_r)))  # by u, w, b
    values = np.einsum("feq,keq->ekfq", heavy.shape, sweeps).reshape(len(owner), -1, band.shape[1])
    thin = 2 * np.pi * front * stiff.at.r * stiff.at.weight
    thins = np.stack([thin * (c + more * stiff.at.fraction) for c, more in (squeeze[:2], squeeze[2:])])
    squeezed = np.einsum("kfeq,keq->ef", order.strain[[0, 3]] + order.strain[[1, 4]], thins)
    values -= squeezed[..., None] * (heavy.at.weight / heavy.at.weight.sum(axis=1, keepdims=True))[:, None]
    area = band * dr
    if corners := _corners(line):
        elements, ends, about = (np.array(x) for x in zip(*corners, strict=True))
        places = 3 * np.arange(3) + ends[:, None], np.where(ends, band.shape[1] - 1, 0)
        np.add.at(values, (elements[:, None], places[0], places[1][:, None]), about)
        np.add.at(area, (elements, places[1]), about[:, 1])
    return values, area


def _piece(piece: Piece) -> tuple[float, ...]:
    """Thickness in m where a piece begins and its change to the end, length in m, whether it radiates, and c0 and c1
    likewise."""
    begin, end = ([(x.material.poisson_ratio, getattr(x, at)) for x in piece.wall.layers] for at in _ENDS)
    thickness = sum(h for _, h in begin)
    (first, second), (last, other) = _squeezes(begin), _squeezes(end)
    return (
        thickness, sum(h for _, h in end) - thickness, piece.curve.length, float(piece.zone.radiates),
        first, last - first, second, other - second,
    )  # fmt: skip


_ENDS = ("begin_thickness", "end_thickness")


def _squeezes(layers: list[tuple[float, float]]) -> tuple[float, float]:
    """c0 in m and c1 in m2 of layers with a Poisson ratio and a thickness each."""
    level, first, second = -sum(h for _, h in layers) / 2, 0.0, 0.0
    for nu, h in layers:
        low, high = max(level, 0.0), max(level + h, 0.0)
        level += h
        first += nu / (1 - nu) * (high - low)
        second += nu / (1 - nu) * (high**2 - low**2) / 2
    return first, second


def _corners(line: ShellLine) -> list[tuple[int, int, tuple[float, float, float]]]:
    """Of each stretch of front face between a wall's own end and a corner: the wall's element there and which end of it
    the joint is at, and the volume swept by unit u, w and b of that."""
    mesh, found = line.mesh, []
    for p, (one, other) in enumerate(pairwise(mesh.design.meridian)):
        (r, _), first, second = one.curve.ends[1].point, one.curve.ends[1].angle, other.curve.ends[0].angle
        h, k = (sum(x.end_thickness for x in one.wall.layers), sum(x.begin_thickness for x in other.wall.layers))
        begin, end = (-h / 2 * sin(first), h / 2 * cos(first)), (-k / 2 * sin(second), k / 2 * cos(second))
        lean = min(h, k) / 2 * max(-STEEPEST, min(STEEPEST, tan((second - first) / 2)))
        (x, z), along, on = (begin, first, -lean) if h < k else (end, second, lean)
        corner = (x + on * cos(along), z + on * sin(along))
        for piece, at, (a, b), (c, d) in ((p, 1, begin, corner), (p + 1, 0, corner, end)):
            if mesh.pieces[piece].zone.radiates and (a, b) != (c, d):
                swept = [0.0, 0.0, 0.0]
                for share in POINTS:
                    x, z = a + (c - a) * share, b + (d - b) * share
                    by_u, by_w = (pi * (r + x) * y for y in (b - d, c - a))
                    for n, value in enumerate((by_u, by_w, by_u * z - by_w * x)):
                        swept[n] += value
                element = mesh.elements[piece].stop - 1 if at else mesh.elements[piece].start
                found.append((element, at, (swept[0], swept[1], swept[2])))
    return found
