"""What one wall of a family moves like: its answers and modes, which with those of others make a span; how far two sets
of equations for it are apart.

A span that ends with the range knows nothing of a break-up mode beyond it, as light metals have: sought among all
unknowns it took half of a metal dome's case. So modes join as far up as the samples' break-up modes are sought; their
frequencies are within 7.4e-6 (metal domes of aluminium and of beryllium, straight V of beryllium: 17 walls each).
Without them those at twice the range, of beryllium, are 3e-4 off.
"""

from dataclasses import replace
from math import inf

import numpy as np
from scipy.linalg import LinAlgError, eigh

from diaphragm_fem.analysis.curve.reduced import LOWEST_HZ, Reduced, reduction
from diaphragm_fem.analysis.factors import factor_symmetric
from diaphragm_fem.analysis.figures.break_up_mode import REACH, SOUGHT, ModeStrains, find_break_up_mode, mode_strains
from diaphragm_fem.analysis.modes.eigen import eigenpairs_below
from diaphragm_fem.analysis.response import respond
from diaphragm_fem.analysis.solution import direct_area
from diaphragm_fem.arrays import Array
from diaphragm_fem.model.projected import projected
from diaphragm_fem.model.structure import Structure

BASIS_CUT = 4e-5  # directions smaller than this share of the largest are left out of a span
_INERT = 0.1  # of the energy of motion at the top frequency joins that of strain: free parts have some, too


def motion_of(
    structure: Structure, up_to_hz: float, patterns: Array | None, at_rest: float = 1.0
) -> tuple[Array, Reduced]:
    """What one wall of a family moves like: a basis (n, N), and its answers; at_rest: how large those at rest stand in
    it beside the others, of unit energy."""
    top, reduced = (2 * np.pi * up_to_hz) ** 2, own_answers(structure, up_to_hz)
    # the answers at rest to a pressure with the coil held, and to a force on it, at the moduli of either end: without
    # the first the equivalent air volume is up to 0.8 % short, in the span of few walls 0.3 %, the stiffness 1e-4
    loads = [structure.volume.sum(axis=0)[:, None], structure.drive[:, None], *([] if patterns is None else [patterns])]
    found = []
    for hz in (LOWEST_HZ, up_to_hz):
        stiffness = structure.stiffness_at(hz)
        if structure.rigid_modes:
            stiffness = stiffness + 1e-4 * top * structure.mass
        pushed, driven, *others = factor_symmetric(stiffness).solve(np.hstack(loads)).T
        found += [pushed - driven * (structure.pickup @ pushed) / (structure.pickup @ driven), driven, *others]
    added = np.column_stack(found)
    pull = stiffness @ added + _INERT * top * (structure.mass @ added)
    added = added * (at_rest / np.sqrt(np.einsum("nk,nk->k", added, pull)))
    return np.hstack((reduced.basis @ _taken(reduced), added)), reduced


def _taken(reduced: Reduced) -> Array:
    """Directions (N, N) of a small structure, as large as its modes and answers take them: those of unit energy each.

    A basis itself has no sizes: what one answer in a thousand has a trace of counts there as much as a mode, and a span
    of as many walls takes half as many unknowns again.
    """
    small, hz, top = reduced.small, reduced.knots_hz, (2 * np.pi * reduced.up_to_hz) ** 2
    energy = small.stiffness_at(reduced.up_to_hz) + _INERT * top * np.eye(small.size)
    squares, modes = np.linalg.eigh(energy)
    motion = respond(small, hz)
    motion = motion / np.sqrt(np.einsum("nf,nf->f", motion.conj(), energy @ motion).real)
    below = squares < (1 + _INERT) * top
    taken = np.hstack((motion.real, motion.imag, modes[:, below] / np.sqrt(squares[below])))
    left, size, _ = np.linalg.svd(taken, full_matrices=False)
    return np.asarray(left * size)[:, size > BASIS_CUT / 10 * size[0]]  # the others are left out of any span


def modes_of(structure: Structure, reach_hz: float) -> Array:
    """Modes (n, M) of a wall up to a frequency in Hz, at the moduli there, of unit energy as answers are."""
    top = (2 * np.pi * reach_hz) ** 2
    pairs = eigenpairs_below(structure.stiffness_at(reach_hz), structure.mass, top)
    return np.asarray(pairs.vectors / np.sqrt(pairs.squares + _INERT * top))


def missed_hz(small: Structure, modes: Array, structure: Structure, reach_hz: float) -> float:
    """By how much a small structure misses the frequencies of a wall's modes (n, M) up to one in Hz, relative."""
    own = projected(structure, modes)
    found, exact = (
        eigh(x.stiffness_at(reach_hz), x.mass, eigvals_only=True)[structure.rigid_modes : own.size]
        for x in (small, own)
    )
    return float(np.abs(np.sqrt(found / exact) - 1).max(initial=0.0))


def break_up_reach(reduced: Reduced) -> float:
    """Up to which frequency in Hz the break-up mode of a wall is sought, at the moduli there; up to the top among its
    own answers, which hold its modes but know no zones."""
    structure, up_to_hz = reduced.structure, reduced.up_to_hz

    def strains(top: float) -> ModeStrains:
        some, basis = (structure, None) if top > up_to_hz else (reduced.small, reduced.basis)
        pairs = eigenpairs_below(some.stiffness_at(top), some.mass, (2 * np.pi * top) ** 2)
        return mode_strains(structure, pairs if basis is None else replace(pairs, vectors=basis @ pairs.vectors))

    found = find_break_up_mode(strains, up_to_hz, None).frequency_hz or np.inf
    return up_to_hz * next((times for times in REACH if found <= times * up_to_hz), SOUGHT)


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

    Frequencies alone do not tell. With a heavy coil, what moves the resonances of the held coil, where the area peaks,
    hardly moves those of the free one: on a titanium dome 2e-5 of these, 3 to 10 % of the area beside its peaks.

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
