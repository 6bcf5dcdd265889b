"""Principal dimensions and mass of each zone of a design, as a drawing gives them."""

from dataclasses import dataclass

import numpy as np

from diaphragm_fem.design.design import Bead, Design, Piece
from diaphragm_fem.design.glued.bead import bead_mass
from diaphragm_fem.design.meridian.curve import Line
from diaphragm_fem.design.meridian.zone import Zone

GAUSS = np.polynomial.legendre.leggauss(10)  # exact for a straight tapering wall, 1e-9 for a quarter of a circle
MAINLY = 0.5  # of a zone's length: a straight piece longer than this gives it its angle


@dataclass(frozen=True)
class ZoneSize:
    """Of one zone, in SI: where it begins and ends (r, z), extents in r and z, angle to the radius in rad of the
    straight wall that makes up most of it (None where none does), mass with the winding and glue that it carries."""

    zone: Zone
    begin: tuple[float, float]
    end: tuple[float, float]
    width: float
    height: float
    angle: float | None
    mass: float


def zone_sizes(design: Design) -> list[ZoneSize]:
    """A row per zone in the order of the design; a zone in several stretches begins at its first and ends at its last.

    Masses are rho t integrated over the surface of revolution of the mid-surface, corners as drawn.
    """
    return [
        _size(zone, [x for x in design.pieces if x.zone == zone], [x for x in design.beads if x.zone == zone])
        for zone in design.zones
    ]


def _size(zone: Zone, pieces: list[Piece], beads: list[Bead]) -> ZoneSize:
    points = np.concatenate([piece.curve.point(np.linspace(0, piece.curve.length, 33)) for piece in pieces])
    longest = max((piece.curve for piece in pieces), key=lambda curve: curve.length)
    angle = None
    if isinstance(longest, Line) and longest.length > MAINLY * sum(piece.curve.length for piece in pieces):
        across, up = np.abs(longest.tangent(0.0))
        angle = float(np.arctan2(up, across))
    (r0, z0), (r1, z1) = points[0], points[-1]
    width, height = np.ptp(points, axis=0)
    mass = sum(map(piece_mass, pieces)) + sum(map(bead_mass, beads))
    return ZoneSize(zone, (float(r0), float(z0)), (float(r1), float(z1)), float(width), float(height), angle, mass)


def piece_mass(piece: Piece) -> float:
    """Mass of a piece of wall in kg, with the winding on it: the integral of 2 pi r rho t along its mid-surface."""
    place, weight = (1 + GAUSS[0]) / 2, GAUSS[1] / 2
    r = piece.curve.point(place * piece.curve.length)[:, 0]
    loaded = sum(layer.material.density * layer.thickness(place) for layer in piece.wall.layers)
    wall = float(2 * np.pi * piece.curve.length * (weight * r * loaded).sum())
    return wall + (0.0 if piece.winding is None else piece.winding.mass)
