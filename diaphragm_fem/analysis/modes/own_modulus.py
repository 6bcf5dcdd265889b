"""Modes whose materials have the storage modulus of the mode's own frequency.

Where a modulus varies, K(f) x = omega^2 M x is solved at omega = 2 pi f. A storage modulus grows with less than the
square of frequency (a `Material` refuses others), so that the j-th eigenvalue of K(f) as a function of f meets
(2 pi f)^2 once: each j has one solution, and as many lie below a frequency as K and M of that frequency have
eigenvalues below it.
"""

import numpy as np

from diaphragm_fem.analysis.modes.eigen import Eigenpairs, eigenpairs_below
from diaphragm_fem.analysis.modes.in_span import TURN, in_span, own_of_energy
from diaphragm_fem.analysis.span import extended
from diaphragm_fem.arrays import Array
from diaphragm_fem.model.structure import MASS, STIFFNESS, Structure

_FAINT = 1e-3  # of the larger of both values of K - w^2 M: directions along which it has less are used the less
_CALLED = 1e-14  # of w^2: what a residual has to promise for a mode to be moved
LOW, LOWEST = 4, 4  # one in so many modes is a low one, and so many at least
MOST_MODES = 250  # of an order: a part of this trade has some tens in its band; 640 took a minute and 4.5 GB
MOST_ALIKE = 500  # where no modulus varies


def eigenpairs_at_own_modulus(structure: Structure, up_to_hz: float) -> Eigenpairs:
    """All modes of a structure below a frequency in Hz, each at the storage moduli of its own frequency.

    Raises AnalysisError as `pairs_at_top_modulus` does.
    vectors (n, M) have mass 1 each, and are orthogonal only where no modulus varies. The modes at the moduli of the
    top frequency, complete by their count, are combined for other moduli; the span of these is widened by what their
    residuals call for, and each mode is settled in it by Rayleigh quotient iteration. One that settles on another, or
    on what others span, is sought again by its place in the list. On the demonstrations the frequencies are good to
    1e-6 where a modulus doubles within the band.
    Source of the ideas: Neumaier, SIAM J. Numer. Anal. 22 (1985) 914 (residual inverse iteration); Parlett, The
    Symmetric Eigenvalue Problem (1998), ch. 4 (both named from memory).
    """
    pairs = pairs_at_top_modulus(structure, up_to_hz)
    if not structure.modulus_varies or len(pairs.squares) <= structure.rigid_modes:
        return pairs
    first = in_span(structure, pairs.vectors)
    guess = first.guess(structure.rigid_modes, len(pairs.squares), up_to_hz)
    missing = _called_for(structure, pairs, guess[0], pairs.vectors @ guess[1])
    span = extended(pairs.vectors, missing, structure.mass)
    own = in_span(structure, span, first)
    turn = np.vstack((guess[1], np.zeros((own.size - len(guess[1]), len(guess[0])))))
    frequency, turn, again = own.each_once(*own.settled(guess[0], turn), structure.rigid_modes)
    frequency, turn = own.parted(frequency, turn)
    vectors = span @ turn
    if len(again):  # the span was made for what was guessed
        frequency[again], vectors[:, again] = _sharpened(structure, pairs, frequency[again], vectors[:, again])
    return _listed(pairs, structure.rigid_modes, frequency, vectors)


def pairs_at_top_modulus(structure: Structure, up_to_hz: float) -> Eigenpairs:
    """All modes of a structure below a frequency in Hz, at the moduli there. Raises AnalysisError for more than 500, or
    than 250 where a modulus varies and each is solved at its own."""
    most = MOST_MODES if structure.modulus_varies else MOST_ALIKE
    return eigenpairs_below(structure.stiffness_at(up_to_hz), structure.mass, (TURN * up_to_hz) ** 2, most)


def eigenpairs_in_span(structure: Structure, small: Structure, span: Array, pairs: Eigenpairs) -> Eigenpairs:
    """The same for a structure whose span (n, N) of modes and answers is at hand, and `small` its equations there.

    pairs: its modes at the moduli of the top frequency, which tell how many there are.
    """
    if not structure.modulus_varies or len(pairs.squares) <= structure.rigid_modes:
        return pairs
    top = float(np.sqrt(pairs.squares[-1])) / TURN
    place, own = span.T @ (structure.mass @ pairs.vectors), in_span(small)
    frequency, turn = in_span(small, place).guess(structure.rigid_modes, len(pairs.squares), top)
    frequency, turn, _ = own.each_once(*own.settled(frequency, place @ turn), structure.rigid_modes)
    frequency, turn = own.parted(frequency, turn)
    if small.size == structure.size:  # nothing lies beyond the span
        return _listed(pairs, structure.rigid_modes, frequency, span @ turn)
    return _listed(pairs, structure.rigid_modes, *_sharpened(structure, pairs, frequency, span @ turn))


def _listed(pairs: Eigenpairs, rigid: int, frequency: Array, vectors: Array) -> Eigenpairs:
    """Eigenpairs from the elastic modes found, in rising order, after the rigid ones that are there."""
    order = np.argsort(frequency)
    return Eigenpairs(
        np.concatenate((pairs.squares[:rigid], (TURN * frequency[order]) ** 2)),
        np.hstack((pairs.vectors[:, :rigid], vectors[:, order])),
        pairs.evidence,
        pairs.shifted,
    )


def _gap(structure: Structure, frequency: Array, shapes: Array) -> Array:
    """(K - w^2 M) shapes (n, M), each at a frequency (M,) in Hz and the storage moduli there."""
    weight = np.zeros((len(structure.merged), len(frequency)))
    for row, term in zip(weight, structure.merged, strict=True):
        if term.derivatives == STIFFNESS:
            row[:] = term.law(frequency).real
        elif term.derivatives == MASS:
            row[:] = -((TURN * frequency) ** 2)
    return np.asarray(structure.forces(weight, shapes))


def _called_for(structure: Structure, pairs: Eigenpairs, frequency: Array, vectors: Array) -> Array:
    """What shapes (n, M) at their frequencies (M,) in Hz lack, (n, 2 M and more): what their residuals r call for,
    K^-1 r, K at the moduli of the top, and what K^-1 (K - w^2 M) makes of that; for the lowest modes, whose moduli are
    farthest from those of the top, once more. Rocking modes of the stepped V are 2e-4 off with the first alone, 3e-6
    with both, 4e-7 with all; in the span of few modes the fundamental was 2e-6 off without the last."""
    low, found = max(LOWEST, len(frequency) // LOW), [vectors]
    for some in (slice(None), slice(None), slice(low)):
        found.append(np.asarray(pairs.shifted.solve(_gap(structure, frequency[some], found[-1][:, some]))))
    return np.hstack(found[1:])


def _sharpened(structure: Structure, pairs: Eigenpairs, frequency: Array, vectors: Array) -> tuple[Array, Array]:
    """Modes found in a span, each with the best of the first two directions that `_called_for` knows.

    A span of answers does not hold what hardly answers: frequencies on the stepped V were off by up to 2e-5, and jumped
    by 4e-6 where a vector entered the span; with this 1e-8.
    """
    added, forces = [], [residual := _gap(structure, frequency, vectors)]
    for _ in range(2):
        added.append(np.asarray(pairs.shifted.solve(forces[-1])))
        forces.append(_gap(structure, frequency, added[-1]))
    stiff = np.array([[_products(one, force) for force in forces[1:]] for one in added])
    call = np.array([_products(one, residual) for one in added])
    values, turn = np.linalg.eigh(stiff.transpose(2, 0, 1))
    room = values**2 + (_FAINT * np.abs(values).max(axis=1, keepdims=True)) ** 2
    called = np.abs(call[0]) > _CALLED * (TURN * frequency) ** 2  # rounding alone led anywhere between two close modes
    taken = np.divide(values, room, out=np.zeros_like(room), where=called[:, None] & (room > 0))
    share = (turn @ (taken[..., None] * (turn.mT @ call.T[..., None])))[..., 0]
    shapes = vectors - added[0] * share[:, 0] - added[1] * share[:, 1]
    energy = np.einsum("nm,knm->km", shapes, structure.products(shapes))
    mass = sum(own for own, term in zip(energy, structure.merged, strict=True) if term.derivatives == MASS)
    return own_of_energy(structure.merged, energy / mass, frequency), shapes / np.sqrt(mass)


def _products(one: Array, other: Array) -> Array:
    """(M,): the inner product of each column (n, M) of one with that of the other."""
    return np.asarray(np.einsum("nm,nm->m", one, other))
