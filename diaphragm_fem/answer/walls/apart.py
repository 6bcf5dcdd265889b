"""How far two sets of equations for one wall are apart: in their frequencies, and in the area that they give.

Frequencies alone do not tell. With a heavy coil, what moves the resonances of the held coil, where the area peaks,
hardly moves those of the free one: on a titanium dome 2e-5 of these, 3 to 10 % of the area beside its peaks.
"""

from __future__ import annotations

from math import inf

import numpy as np
from scipy.linalg import LinAlgError, eigh

from diaphragm_fem.analysis.curve.reduced import Reduced, reduction
from diaphragm_fem.analysis.modes.eigen import eigenpairs_below
from diaphragm_fem.analysis.solution import direct_area
from diaphragm_fem.model.projected import projected
from diaphragm_fem.model.structure import Structure


def apart_hz(one: Structure, other: Structure, up_to_hz: float) -> float:
    """By how much the frequencies of small structures up to one in Hz differ, relative to those of the other; those of
    a free body, which are rounding, left out; a stiffness below zero counts as none, a mass that no structure has as
    without bound."""
    try:
        read, own = (eigh(x.stiffness, x.mass, eigvals_only=True)[x.rigid_modes :] for x in (one, other))
    except LinAlgError:
        return inf
    below = (own > 0) & (own < (2 * np.pi * up_to_hz) ** 2)
    return float(np.abs(np.sqrt(np.maximum(read[below] / own[below], 0.0)) - 1).max(initial=0.0))


def apart_area(small: Structure, own: Reduced) -> float:
    """By how much a small structure misses the area of a wall's own answers, over the larger of |S| and S at rest.

    Where both have the same unknowns it is held to what these answers span: a part of the time, and what is off by
    little lies there.
    """
    if small.size == own.structure.size:
        small = projected(small, own.basis)
    within = own.places_hz[own.places_hz <= own.up_to_hz]
    exact, found = (direct_area(structure, within).total for structure in (own.small, small))
    return float(np.max(np.abs(found - exact) / np.maximum(np.abs(exact), np.abs(exact[0]))))


def own_answers(structure: Structure, up_to_hz: float) -> Reduced:
    """A wall's own answers up to a frequency in Hz."""
    stiffness, top = structure.stiffness_at(up_to_hz), (2 * np.pi * up_to_hz) ** 2
    pairs = None if structure.dense else eigenpairs_below(stiffness, structure.mass, top)
    basis, small = reduction(structure, up_to_hz, pairs)
    return Reduced(structure, basis, small, up_to_hz, np.zeros(len(structure.zones)))
