"""Figures of a structure, and of a response written down as a formula: what the tests of figures share."""

import numpy as np

from diaphragm_fem.analysis.area import AreaCurve as Curve
from diaphragm_fem.analysis.area import area_of_reduced
from diaphragm_fem.analysis.equivalent_volume import EquivalentVolume, equivalent_volume
from diaphragm_fem.analysis.figures import figures_of
from diaphragm_fem.analysis.grid import scan_frequencies
from diaphragm_fem.analysis.modes import Modes, first_resonance, solve_modes
from diaphragm_fem.analysis.reading import Reading
from diaphragm_fem.analysis.reduction import pairs_for_reduction, reduce_structure
from diaphragm_fem.analysis.static import Static, solve_static

MASS = 1e-3


def reading_of(structure, top=20e3, bottom=20.0):
    """A scan of a structure and what lies between its points."""
    reduced = reduce_structure(structure, top, pairs_for_reduction(structure, top))
    even = np.geomspace(bottom, top, 2000)
    frequency = np.union1d(even, scan_frequencies(reduced, bottom, top))

    def respond(f):
        return area_of_reduced(structure, reduced, f, absolute=False)

    return Reading(respond(frequency), respond)


def figures_from(structure, top=20e3, bottom=20.0, **settings):
    """All figures of a structure."""
    reading = reading_of(structure, top, bottom)
    pairs = pairs_for_reduction(structure, 4 * top)
    coil = (structure.pickup @ pairs.vectors) ** 2
    inside = pairs.squares < (2 * np.pi * top) ** 2
    fundamental = first_resonance(pairs.squares[inside], coil[inside], structure.rigid_modes)
    volume = equivalent_volume(
        structure.stiffness, structure.drive, structure.pickup, structure.volume.sum(axis=0), structure.rigid_modes
    )
    return figures_of(
        solve_static(structure), volume, reading.scan, reading.respond,
        lambda hz: solve_modes(structure, hz), fundamental, **settings,
    )  # fmt: skip


def reading_by_formula(zones, low, areas, bottom=20.0, top=20e3, points=3000):
    """A reading whose zones' areas are given by a function of frequency (F,) -> (Z, F), on a bare mass of 1 g.

    The response per newton is then S/mass: the level in dB is 20 lg |S/S_low|.
    """

    def respond(f):
        zone = np.asarray(areas(f), complex)
        force = -((2 * np.pi * f) ** 2) * MASS + 0j
        return Curve(f, zone, zones, np.asarray(low, float), np.asarray(low, float), None, force)

    return Reading(respond(np.geomspace(bottom, top, points)), respond)


def figures_by_formula(zones, low, areas, modes=None, **settings):
    """Figures of a response by formula, without fundamental; `modes` maps frequency to strain shares of the zones."""
    reading = reading_by_formula(zones, low, areas, **settings)
    listed = sorted((modes or {}).items())

    def modes_up_to(hz):
        kept = [(f, share) for f, share in listed if f < hz]
        frequency, strain = np.array([f for f, _ in kept]), np.array([s for _, s in kept]).reshape(-1, len(zones))
        nothing = np.zeros(len(kept))
        return Modes(
            0, frequency, np.zeros((1, len(kept))), zones, strain, strain, nothing, nothing, nothing, nothing,
            ("",) * len(kept), hz, 0, "",
        )  # fmt: skip

    volume = EquivalentVolume(1e-6, None)
    return figures_of(Static(0.0, MASS), volume, reading.scan, reading.respond, modes_up_to, None)
