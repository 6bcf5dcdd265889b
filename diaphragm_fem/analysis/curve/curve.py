"""The complex effective radiating area over frequency, whole and zone by zone, the force that moves the coil, and the
response per newton."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from diaphragm_fem.arrays import Array, Complex, Flags, Index
from diaphragm_fem.design.meridian.zone import Zone
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.structure import Structure

LEAST_AREA = 1e-6  # of all zones' areas: below it a zone sweeps nothing but rounding
_LEAST_LEVEL_DB = -300.0


@dataclass(frozen=True)
class Curve:
    """Effective area S(f) = net volume velocity over coil velocity, exp(+i omega t).

    frequency_hz (F,); zone (Z, F) complex in m2, their sum is the whole; coil_force (F,) complex N/m, the force per
    metre of coil motion; zone_area (Z,) rigid swept area in m2; low (Z,) the zone areas at rest; absolute (F,) the
    area swept in total, integral |v_n| dS/|v_c|, or None. Raises AnalysisError where area or force is no number.
    """

    frequency_hz: Array
    zone: Complex
    coil_force: Complex
    zones: tuple[Zone, ...]
    zone_area: Array
    low: Array
    absolute: Array | None = None

    def __post_init__(self) -> None:
        require_numbers("the area curve", self.frequency_hz, self.zone, self.coil_force)

    @cached_property
    def total(self) -> Complex:
        return np.asarray(self.zone.sum(axis=0))

    @cached_property
    def sweeps(self) -> Flags:
        """Which zones (Z,) sweep an area: they have a share of the coil's motion, and can depart from it."""
        area = np.abs(self.zone_area)
        return np.asarray(area > LEAST_AREA * area.sum())

    @property
    def share(self) -> Complex:
        """Zone shares (Z, F): 1 rides with the coil, 0 stands still; nan where a zone sweeps no area."""
        found = np.full(self.zone.shape, np.nan + 0j)
        found[self.sweeps] = self.zone[self.sweeps] / self.zone_area[self.sweeps, None]
        return found

    @property
    def cancellation(self) -> Array | None:
        """1 - |S|/S_abs: how much of the motion does no work. S_abs, a sum over points, is 1e-4 off: never below 0."""
        return None if self.absolute is None else np.maximum(1 - np.abs(self.total) / self.absolute, 0.0)

    @cached_property
    def response(self) -> Complex:
        """Volume acceleration per newton of coil force (F,), m3/(s2 N): -omega^2 S/(force per motion)."""
        return np.asarray(-((2 * np.pi * self.frequency_hz) ** 2) * self.total / self.coil_force)

    @cached_property
    def turns_hz(self) -> Array:
        """Where the force turns from spring to mass (T,), Hz: of a mass on a spring it is straight over squares."""
        spring, squares = self.coil_force.real, self.frequency_hz**2
        k = np.flatnonzero((spring[:-1] > 0) & (spring[1:] <= 0))
        share = spring[k] / (spring[k] - spring[k + 1])
        return np.sqrt(squares[k] + share * (squares[k + 1] - squares[k]))

    @property
    def watched(self) -> Complex:
        """What a scan must not miss an extreme of (V, F): area and response."""
        return np.stack((self.total, self.response))

    def joined(self, other: Curve) -> Curve:
        """Both as one, their frequencies rising, each once; without what is swept in total."""
        frequency, force = (np.append(getattr(self, x), getattr(other, x)) for x in ("frequency_hz", "coil_force"))
        both = replace(self, frequency_hz=frequency, zone=np.hstack((self.zone, other.zone)), coil_force=force)
        return picked(both, np.unique(frequency, return_index=True)[1])


def require_numbers(what: str, frequency_hz: Array, *values: Complex | Array) -> None:
    """Raise AnalysisError where values (..., F) over frequencies (F,) in Hz are infinite or nan.

    Whatever is compared with nan is found neither above nor below it: a band would run on through it, and a peak be
    called absent, in silence.
    """
    if all(np.isfinite(value).all() for value in values):
        return
    wrong = ~np.logical_and.reduce([np.isfinite(value).reshape(-1, len(frequency_hz)).all(axis=0) for value in values])
    raise AnalysisError(
        f"{what} must hold a number at each frequency; received none at {wrong.sum()} of {len(wrong)}, the first at "
        f"{frequency_hz[wrong].min():.4g} Hz, so no figure is read from it: look for a number of the design that is "
        "far out of proportion, or ask for a lower top frequency"
    )


def curve_of(structure: Structure, frequency_hz: Array, motion: Complex, low: Array) -> Curve:
    """The curve from the unknowns (n, F) per newton: S = volume u/(pickup u), force per motion 1/(pickup u)."""
    coil = structure.pickup @ motion
    return Curve(frequency_hz, structure.volume @ motion / coil, 1 / coil, structure.zones, structure.zone_area, low)


def picked(curve: Curve, index: Index) -> Curve:
    """The curve at some of its own frequencies; without what is swept in total."""
    frequency, force = curve.frequency_hz[index], curve.coil_force[index]
    return replace(curve, frequency_hz=frequency, zone=curve.zone[:, index], coil_force=force, absolute=None)


@dataclass(frozen=True)
class EvenedResponse:
    """The response with the fundamental's own peak divided out: fundamental_hz (None: nothing is), its loss factor,
    the plateau in m2/kg.

        A(f)   = i omega U/F = -omega^2 S/(F/x)          volume acceleration per newton, m3/(s2 N) = m2/kg
        A_e(f) = A(f) (1 - (f0/f)^2 (1 + i eta0))        evened: what a mass on a lossy spring does is taken out

    U net volume velocity, F force on the coil, x its motion, S = U/v effective area, f0 and eta0 fundamental resonance
    and its loss factor; exp(+i omega t). Far from a small source at constant current the sound pressure goes with A.
    Levels are in dB against the plateau |S_low|/M, what a rigid part of the moving mass M would do. Definitions of this
    project; the factor is that of a mass on a spring (Den Hartog, Mechanical Vibrations (1956), section 2.5; named from
    memory).
    """

    fundamental_hz: float | None
    loss_factor: float
    plateau: float

    def of(self, curve: Curve) -> Complex:
        """A_e (F,) complex in m2/kg."""
        response = curve.response
        if self.fundamental_hz is None:
            return response
        return np.asarray(
            response * (1 - (self.fundamental_hz / curve.frequency_hz) ** 2 * (1 + 1j * self.loss_factor))
        )

    def level(self, curve: Curve) -> Array:
        """Evened response (F,) in dB against the plateau."""
        return decibels(np.abs(self.of(curve)) / self.plateau)


def decibels(ratio: ArrayLike) -> Array:
    """20 log10 of a ratio of sizes, at least -300 dB."""
    return np.maximum(20 * np.log10(np.maximum(ratio, 1e-300)), _LEAST_LEVEL_DB)
