"""Radiation impedance zone by zone, and the pressure along the face: what a baffled face feels, on request."""

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import legendre

from diaphragm_fem.answer.driver.loaded import Loaded
from diaphragm_fem.answer.driver.radiated import Radiated
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.meridian.zone import Zone

POINTS = 24  # of quadrature on a piece
PLACES = 121  # along the face


@dataclass(frozen=True)
class ZoneImpedance:
    """Axial force in N on zone a per axial velocity in m/s of zone b that moves as one body: impedance (F, Z, Z).

    zones (Z,) in the order met from the inner edge; the matrix is symmetric, and its sum is the whole face's.
    """

    frequency_hz: Array
    zones: tuple[Zone, ...]
    impedance: Complex


def zone_impedance(found: Loaded, frequency_hz: Array) -> ZoneImpedance:
    """Of the front of a face in a baffle: Z_ab = c_a^T Z(f) c_b/(i omega), c the zones' motions on its patterns."""
    f, open_side = np.asarray(frequency_hz, float), found.around.open_sides[0]
    nodes, weights = legendre.leggauss(POINTS)
    begin = 0.0
    moved: dict[Zone, Array] = {}
    for piece in found.design.meridian:
        curve = piece.curve
        s = (nodes + 1) / 2 * curve.length
        swept = 2 * np.pi * curve.point(s)[:, 0] * curve.tangent(s)[:, 0] * weights / 2 * curve.length
        part = open_side.before.patterns(begin + s).T @ swept
        moved[piece.zone] = moved.get(piece.zone, np.zeros_like(part)) + part
        begin += curve.length
    zones = tuple(zone for zone in moved if zone.radiates)
    c = np.stack([moved[zone] for zone in zones])
    stiffness = open_side.stiffness(f)
    return ZoneImpedance(f, zones, c @ stiffness @ c.T / (2j * np.pi * f)[:, None, None])


def face_pressure(side: Radiated, places: int = PLACES) -> tuple[Array, Complex]:
    """Points (P, 2) along the face in m, and the pressure (F, P) there, Pa per volt (or newton)."""
    before = side.side.before
    place = np.linspace(0, before.contour.length, places)
    return before.contour.point(place), side.face_pressure @ before.patterns(place).T
