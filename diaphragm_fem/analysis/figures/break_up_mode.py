"""The lowest mode that bends the driven zones: what the trade means by break-up."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from diaphragm_fem.analysis.figures.zones import NearMiss, driven_zones
from diaphragm_fem.analysis.modes.eigen import Eigenpairs
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.library.evidence import show_frequency
from diaphragm_fem.design.meridian.zone import Role, Zone
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.projected import held_by
from diaphragm_fem.model.structure import STIFFNESS, Structure

StrainsUpTo = Callable[[float], "ModeStrains"]

HALF = 0.5  # of the strain energy: the driven zones bend
_NEAR_HALF = 0.1
REACH = (1, 2, 4)  # multiples of the range up to which it is sought, one after another
SOUGHT = REACH[-1]


@dataclass(frozen=True)
class BreakUpMode:
    """The lowest m = 0 mode, coil free, in which driven zones, former and winding hold half the strain energy.

    frequency_hz: None where there is none; shares: strain share of every zone that holds some, the largest first;
    bending: their sum over driven zones, former and winding; near_misses: modes whose sum is 0.4 to 0.6, up to and
    including this one; sought_hz: how far it was sought in vain.
    """

    frequency_hz: float | None
    shares: Mapping[str, float]
    bending: float | None
    near_misses: tuple[NearMiss, ...]
    reason: str = ""
    sought_hz: float = 0.0


class ModeStrains(NamedTuple):
    """Frequencies (M,) in Hz of m = 0 modes, rigid motions left out, and the strain share (M, Z) of each zone."""

    frequency_hz: Array
    zones: tuple[Zone, ...]
    strain_share: Array


def mode_strains(structure: Structure, pairs: Eigenpairs) -> ModeStrains:
    """Strain shares alone of eigenpairs, each term at its storage modulus of the mode's own frequency."""
    vectors = pairs.vectors[:, structure.rigid_modes :]
    frequency = pairs.frequency_hz[structure.rigid_modes :]
    strain = np.zeros((vectors.shape[1], len(structure.zones) + 1))
    elastic = [term for term in structure.terms if term.derivatives == STIFFNESS]
    ratio = {law: law(frequency).real for law in {term.law for term in elastic}}
    for term in elastic:
        held = held_by(term.matrix)
        energy = np.einsum("nm,nm->m", vectors[held], (term.matrix @ vectors)[held])
        strain[:, term.zone] += ratio[term.law] * energy
    return ModeStrains(frequency, structure.zones, strain[:, :-1] / strain.sum(axis=1)[:, None])


def find_break_up_mode(strains_up_to: StrainsUpTo, up_to_hz: float, fundamental_hz: float | None) -> BreakUpMode:
    """Seek the break-up mode above the fundamental, up to four times the range `up_to_hz`.

    strains_up_to(hz) gives the modes up to a frequency; it is asked again only where the range holds none. What it
    raises for the range itself goes on; beyond, that ends the search.
    """
    near: tuple[NearMiss, ...] = ()
    sought = up_to_hz
    for times in REACH:
        try:
            modes = strains_up_to(times * up_to_hz)
        except AnalysisError:  # too many modes that far up
            if times == REACH[0]:
                raise
            break
        coil = (k for k, zone in enumerate(modes.zones) if zone.role is Role.COIL)  # former and winding
        hold = sorted({*driven_zones(modes.zones), *coil})
        bending = modes.strain_share[:, hold].sum(axis=1)
        above = modes.frequency_hz > (fundamental_hz or 0.0) * (1 + 1e-6)
        found = np.flatnonzero(above & (bending >= HALF))
        limit = int(found[0]) + 1 if len(found) else len(modes.frequency_hz)
        near = tuple(
            NearMiss(_name(modes, k, hold), float(modes.frequency_hz[k]), float(bending[k]))
            for k in range(limit)
            if above[k] and abs(bending[k] - HALF) <= _NEAR_HALF
        )
        if len(found):
            k = int(found[0])
            order = np.argsort(-modes.strain_share[k])
            shares = {
                modes.zones[z].name: float(modes.strain_share[k, z]) for z in order if modes.strain_share[k, z] > 5e-3
            }
            return BreakUpMode(float(modes.frequency_hz[k]), shares, float(bending[k]), near)
        sought = times * up_to_hz
    return BreakUpMode(None, {}, None, near, f"above {show_frequency(sought)}", sought)


def _name(modes: ModeStrains, index: int, hold: list[int]) -> str:
    """The zone among those that holds most."""
    return modes.zones[max(hold, key=lambda z: float(modes.strain_share[index, z]))].name
