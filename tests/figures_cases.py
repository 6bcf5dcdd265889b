"""Figures of a structure, and of a response written down as a formula: what the tests of figures share."""

import numpy as np

from diaphragm_fem.analysis.curve.curve import Curve
from diaphragm_fem.analysis.figures.break_up_mode import ModeStrains
from diaphragm_fem.analysis.figures.read_figures import figures_of
from diaphragm_fem.analysis.figures.reading import Reading
from diaphragm_fem.analysis.solution import solve
from diaphragm_fem.analysis.static import Static
from diaphragm_fem.answer.quick import quick_from

MASS = 1e-3


def reading_of(structure, top=20e3, bottom=20.0, band=None):
    """The scan of a structure as its figures read it, with 201 even points more in a band where one is given."""
    solution = solve(structure, top, bottom)
    places = [] if band is None else np.geomspace(*band, 201).tolist()
    return Reading(solution.scan, places).finer(solution.reduced.curve)


def figures_from(structure, top=20e3, bottom=20.0):
    """All figures of a structure."""
    return quick_from(solve(structure, top, bottom)).figures


def responder(zones, low, areas):
    """Curves of zones whose areas are given by a function of frequency (F,) -> (Z, F), on a bare mass of 1 g.

    The response per newton is then S/mass: the level in dB is 20 lg |S/S_low|.
    """

    def respond(f):
        zone = np.asarray(areas(f), complex)
        force = -((2 * np.pi * f) ** 2) * MASS + 0j
        return Curve(f, zone, force, zones, np.asarray(low, float), np.asarray(low, float))

    return respond


def figures_by_formula(zones, low, areas, modes=None, *, bottom=20.0, top=20e3, points=3000):
    """Figures of a response by formula, without fundamental; `modes` maps frequency to strain shares of the zones."""
    respond = responder(zones, low, areas)
    listed = sorted((modes or {}).items())

    def strains_up_to(hz):
        kept = [(f, share) for f, share in listed if f < hz]
        frequency, strain = np.array([f for f, _ in kept]), np.array([s for _, s in kept]).reshape(-1, len(zones))
        return ModeStrains(frequency, zones, strain)

    static = Static(0.0, MASS, np.asarray(low, float), bottom, 1e-6, None, np.zeros(len(low)))
    scan = respond(np.geomspace(bottom, top, points))
    return figures_of(static, scan, respond, strains_up_to, None)
