"""What a face in a baffle radiates over frequency: field at any distance and angle, power, beam, directivity.

All phasors per volt (rms) at the source, or per newton of coil force without a motor; exp(+i omega t). Angles from the
axis, in the half space before the baffle. Directivity index 10 lg |p_axis|^2/(mean of |p|^2 over the half space), far
away: 0 dB for a small source. Beam width: twice the first angle at which the level is 6 dB below that on the axis.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import ArrayLike

from diaphragm_fem.answer.driver.loaded import Loaded
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.design.meridian.zone import Zone
from diaphragm_fem.load.open_side import OpenSide

DEGREES = np.arange(0.0, 91.0)
BEAM_DB = 6.0


@dataclass(frozen=True, eq=False)
class Radiated:
    """One open side at frequencies (F,) in Hz; motion (F, N): volume in m3 swept against each pattern, into the air;
    waves (F, H): Legendre coefficients of the pressure on the hemisphere, Pa.

    distance in m: where the level stands for all.
    """

    side: OpenSide
    frequency_hz: Array
    motion: Complex
    waves: Complex
    distance: float

    def joined(self, other: Radiated) -> Radiated:
        """Both as one, their frequencies rising, each once."""
        frequency, first = np.unique(np.append(self.frequency_hz, other.frequency_hz), return_index=True)
        motion, waves = (
            np.concatenate(both)[first] for both in ((self.motion, other.motion), (self.waves, other.waves))
        )
        return replace(self, frequency_hz=frequency, motion=motion, waves=waves)

    def pressure(self, distance: float, degrees: ArrayLike) -> Complex:
        """Pressure (F, A) in Pa at a distance in m; for an infinite one the limit of r p exp(i k r) in Pa m.

        Raises ModelError nearer than the field is known.
        """
        return self.side.before.pressure(self.side.air, self.frequency_hz, self.waves, distance, np.radians(degrees))

    @cached_property
    def axis(self) -> Complex:
        """Pressure (F,) on the axis at the distance of the level, Pa."""
        return np.asarray(self.pressure(self.distance, [0.0])[:, 0])

    @cached_property
    def far(self) -> Complex:
        """Limit (F, A) of r p exp(i k r) in Pa m at each degree from 0 to 90."""
        return self.pressure(np.inf, DEGREES)

    @cached_property
    def power(self) -> Array:
        """Power (F,) in W carried away, of effective values: the field's own."""
        return 2 * self.side.before.power(self.side.air, self.frequency_hz, self.waves)

    @cached_property
    def directivity_db(self) -> Array:
        """Far level (F, A) at each degree against the axis, dB."""
        size = np.abs(self.far)
        return np.asarray(20 * np.log10(np.maximum(size, 1e-12 * size.max(axis=1, keepdims=True)) / size[:, :1]))

    @cached_property
    def directivity_index_db(self) -> Array:
        """Against the half space (F,), dB."""
        air = self.side.air
        even = self.power * air.density * air.sound_speed / (2 * np.pi)
        return np.asarray(10 * np.log10(np.abs(self.far[:, 0]) ** 2 / even))

    @cached_property
    def beam_degrees(self) -> Array:
        """Full width (F,) of the beam in degrees; nan where the level never falls by 6 dB."""
        return beam_width(self.directivity_db)

    @cached_property
    def face_pressure(self) -> Complex:
        """Pressure (F, N) on the patterns: values along the face are patterns(place) @ these, Pa."""
        stiffness = self.side.stiffness(self.frequency_hz)
        return np.asarray(np.einsum("fab,fb->fa", stiffness, self.motion))


def radiated(side: OpenSide, frequency_hz: Array, motion: Complex, distance: float) -> Radiated:
    """What an open side radiates for motions (F, N) of its patterns at frequencies (F,) in Hz."""
    return Radiated(side, frequency_hz, motion, side.before.waves(side.air, frequency_hz, motion), distance)


def beam_width(level_db: Array) -> Array:
    """Full width (F,) in degrees from levels (F, A) at DEGREES against the axis; nan where they never fall by 6 dB."""
    below = level_db < -BEAM_DB
    first = np.argmax(below, axis=1)
    row = np.arange(len(level_db))
    before = np.maximum(first - 1, 0)
    high, low = level_db[row, before], level_db[row, first]
    with np.errstate(divide="ignore", invalid="ignore"):
        angle = DEGREES[before] + (high + BEAM_DB) / (high - low) * (DEGREES[first] - DEGREES[before])
    return np.where(below.any(axis=1), 2 * angle, np.nan)


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
