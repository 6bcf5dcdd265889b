"""The complex effective radiating area over frequency, whole and zone by zone, and the force that moves the coil."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from diaphragm_fem.arrays import Array, Complex, Index
from diaphragm_fem.design.zone import Zone
from diaphragm_fem.model.structure import Structure


@dataclass(frozen=True)
class Curve:
    """Effective area S(f) = net volume velocity over coil velocity, exp(+i omega t).

    frequency_hz (F,); zone (Z, F) complex in m2, their sum is the whole; coil_force (F,) complex N/m, the force per
    metre of coil motion; zone_area (Z,) rigid swept area in m2; low (Z,) the zone areas at rest; absolute (F,) the
    area swept in total, integral |v_n| dS/|v_c|, or None.
    """

    frequency_hz: Array
    zone: Complex
    coil_force: Complex
    zones: tuple[Zone, ...]
    zone_area: Array
    low: Array
    absolute: Array | None = None

    @cached_property
    def total(self) -> Complex:
        return np.asarray(self.zone.sum(axis=0))

    @property
    def share(self) -> Complex:
        """Zone shares (Z, F): 1 rides with the coil, 0 stands still; nan where a zone sweeps no area."""
        with np.errstate(divide="ignore", invalid="ignore"):
            sweeps = np.abs(self.zone_area) > 1e-9 * np.abs(self.zone_area).sum()
            return np.where(sweeps[:, None], self.zone / self.zone_area[:, None], np.nan)

    @property
    def cancellation(self) -> Array | None:
        """1 - |S|/S_abs: how much of the motion does no work."""
        return None if self.absolute is None else 1 - np.abs(self.total) / self.absolute

    @cached_property
    def response(self) -> Complex:
        """Volume acceleration per newton of coil force (F,), m3/(s2 N): -omega^2 S/(force per motion)."""
        return np.asarray(-((2 * np.pi * self.frequency_hz) ** 2) * self.total / self.coil_force)

    @property
    def watched(self) -> Complex:
        """What a scan must not miss an extreme of (V, F): area and response."""
        return np.stack((self.total, self.response))

    def joined(self, other: Curve) -> Curve:
        """Both as one, their frequencies rising, each once."""
        frequency, first = np.unique(np.append(self.frequency_hz, other.frequency_hz), return_index=True)
        zone = np.concatenate((self.zone, other.zone), axis=1)
        force = np.append(self.coil_force, other.coil_force)
        return replace(self, frequency_hz=frequency, zone=zone[:, first], coil_force=force[first])


def curve_of(structure: Structure, frequency_hz: Array, motion: Complex, low: Array) -> Curve:
    """The curve from the unknowns (n, F) per newton: S = volume u/(pickup u), force per motion 1/(pickup u)."""
    coil = structure.pickup @ motion
    return Curve(frequency_hz, structure.volume @ motion / coil, 1 / coil, structure.zones, structure.zone_area, low)


def picked(curve: Curve, index: Index) -> Curve:
    """The curve at some of its own frequencies."""
    return replace(
        curve, frequency_hz=curve.frequency_hz[index], zone=curve.zone[:, index], coil_force=curve.coil_force[index]
    )
