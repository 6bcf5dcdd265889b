"""The quick way to a curve: the structure on a basis of a few dozen vectors, and on fewer still between its knots."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.curve.curve import Curve
from diaphragm_fem.analysis.curve.resonances import coil_at_rest, modal, poles
from diaphragm_fem.analysis.curve.sampling import scanned
from diaphragm_fem.analysis.curve.windows import WIDTH, Windows
from diaphragm_fem.analysis.factors import Factors
from diaphragm_fem.analysis.modes.eigen import Eigenpairs
from diaphragm_fem.analysis.response import Dynamics, dynamics, dynamics_slope
from diaphragm_fem.analysis.span import extended, mass_basis
from diaphragm_fem.arrays import Array, Complex
from diaphragm_fem.model.projected import projected
from diaphragm_fem.model.structure import Structure

SNAPSHOTS = 12  # eleven leave 2e-4 of the area and 2.6e-4 of the force on two of sixty designs, twelve 5e-5 and 1.5e-4
_LAST = 0.998  # of the top frequency: the last snapshot
BELOW = np.array([0.005, 0.018, 0.045])  # of the top frequency: looked at below the first snapshot
_BETWEEN = np.array([0.3, 0.5, 0.7, 0.9])  # of the snapshots, counted from the bottom: between which ones, too
SNAPSHOT_REPEAT = 1e-10  # of snapshots: 50 vectors and 6e-5 of the area at worst of 32 designs, at 1e-12 54 and 3e-5
LOWEST_HZ = 10.0  # where the knots begin
_LOW_KNOTS = 3  # below the first resonance with the coil held
_KNOTS_BEYOND = 2  # resonances beyond the top: without them the last window errs by up to 3e-4 at its end
TOLERANCE = 2e-5  # of the larger of |S| and the area at rest: beyond it the answers there join the basis
MOST_ROUNDS = 3


def asked_hz(up_to_hz: float) -> Array:
    """Where the residual is asked for, in Hz: between the snapshots, and below the first."""
    return np.concatenate((BELOW * up_to_hz, _sine_spaced(np.round(_BETWEEN * SNAPSHOTS), up_to_hz)))


def _sine_spaced(place: NDArray, up_to_hz: float) -> Array:
    """Frequencies in Hz at places of 0...SNAPSHOTS: dense toward the top, where what lies beyond the band is missed
    most. Fixed fractions of the top: places chosen by the residual were no better, and made S(f) jump with the design.
    """
    angle = np.pi / 2 / SNAPSHOTS
    return np.asarray(_LAST * up_to_hz * np.sin(angle * place) / np.sin(angle * (SNAPSHOTS - 0.5)))


def snapshots(structure: Structure, frequency_hz: Array) -> Array:
    """Real vectors (n, 4 F): real and imaginary parts of the answer, loads on, and of its slope over frequency, for
    which its factors serve once more."""
    answers = dynamics(structure, frequency_hz).answers_and_slopes(dynamics_slope(structure, frequency_hz))
    return np.hstack((answers.real, answers.imag))


def reduction_basis(structure: Structure, up_to_hz: float, pairs: Eigenpairs) -> Array:
    """Basis (n, N), orthonormal in the mass: undamped modes below the top, then snapshots of the answer.

    Source of the idea: interpolation by rational Krylov vectors (Grimme, thesis, University of Illinois (1997);
    Antoulas, Approximation of Large-Scale Dynamical Systems (2005), ch. 11; named from memory).
    """
    below = pairs.vectors[:, pairs.squares < (2 * np.pi * up_to_hz) ** 2]
    frequency = _sine_spaced(np.arange(SNAPSHOTS) + 0.5, up_to_hz)
    return extended(below, snapshots(structure, frequency), structure.mass, SNAPSHOT_REPEAT)


@dataclass(frozen=True, eq=False)
class Reduced:
    """A driven structure of order 0 on a basis (n, N), for frequencies up to `up_to_hz`: u = basis y, and the small
    structure, its mass the identity, holds the equations of y. What it sweeps at rest is `low` (Z,), m2 per zone."""

    structure: Structure
    basis: Array
    small: Structure
    up_to_hz: float
    low: Array

    def curve(self, frequency_hz: Array) -> Curve:
        """The area curve at frequencies (F,) in Hz."""
        outputs = self.outputs(np.vstack((self.small.volume, self.small.pickup)), frequency_hz)
        zone, coil = outputs[:-1], outputs[-1]
        return Curve(frequency_hz, zone / coil, 1 / coil, self.structure.zones, self.structure.zone_area, self.low)

    def outputs(self, rows: NDArray, frequency_hz: Array) -> Complex:
        """rows (R, N) @ y (N, F) per newton; with the basis as rows the unknowns of the whole structure."""
        return self.windows.outputs(rows, frequency_hz)

    def scan(self, from_hz: float) -> Curve:
        """The curve at every frequency it takes to know its peaks and dips."""
        guides = [poles(modes, from_hz, self.up_to_hz) for _, modes in (self._held, modal(self.small, self.up_to_hz))]
        return scanned(self.curve, guides, from_hz, self.up_to_hz)

    def with_absolute(self, curve: Curve) -> Curve:
        """The curve with the area swept in total, every patch of the front with its absolute normal velocity; as it is
        for equations without a surface."""
        if self.structure.draw_surface is None:
            return curve
        surface = self.structure.surface
        front = surface.area > 0
        radial, axial = (motion[front] @ self.basis for motion in (surface.motion_r, surface.motion_z))
        normal = surface.normal[front, :1] * radial + surface.normal[front, 1:] * axial
        moved = np.abs(self.outputs(normal, curve.frequency_hz) * curve.coil_force)
        return replace(curve, absolute=surface.area[front] @ moved)

    @cached_property
    def held_hz(self) -> Array:
        """Frequencies in Hz at which the part resonates while its coil is held, up to a little beyond the top."""
        return self._held[0]

    @cached_property
    def _held(self) -> tuple[Array, Structure]:
        return modal(self.small, self.up_to_hz, coil_at_rest(self.small))

    def motions(self, frequency_hz: Array) -> Complex:
        """y (N, F) per newton, such that the power that the coil gives is the power spent in every term and load."""
        return Windows(self.small, self.knots_hz, balanced=True).outputs(np.eye(self.small.size), frequency_hz)

    @cached_property
    def windows(self) -> Windows:
        """What its answers are read through."""
        return Windows(self.small, self.knots_hz)

    @cached_property
    def knots_hz(self) -> Array:
        """Frequencies in Hz at which it resonates while its coil is held: near any other the answer lies in the span of
        those about it."""
        held = self.held_hz[self.held_hz > LOWEST_HZ]
        past = int(np.searchsorted(held, self.up_to_hz))
        ends = np.insert(held, past, self.up_to_hz)[: past + 1 + _KNOTS_BEYOND]
        low = np.geomspace(LOWEST_HZ, ends[0], _LOW_KNOTS + 1)[:-1]
        knots = np.concatenate((low, ends))
        while len(knots) <= WIDTH:  # enough for a window of a part with few resonances: a metal dome's scan in half
            knots = _with_middles(knots)
        return knots

    @property
    def places_hz(self) -> Array:
        """The knots and the middles between them, in Hz: answers there tell all others."""
        return _with_middles(self.knots_hz)


def _with_middles(rising: Array) -> Array:
    return np.sort(np.concatenate((rising, np.sqrt(rising[1:] * rising[:-1]))))


def reduction(structure: Structure, up_to_hz: float, pairs: Eigenpairs | None) -> tuple[Array, Structure]:
    """Basis (n, N) of a driven structure of order 0 and its equations there, for frequencies up to one in Hz.

    pairs: its undamped modes below that frequency, at the moduli there; a dense structure needs none. The basis holds
    them and the answers at fixed frequencies; where the residual between these calls for more than 2e-5 of the area,
    the answers there join. A dense structure keeps all its unknowns: those of a wall's span, 40 to 115, are solved as
    quickly whole up to 85, and 115 in 44 instead of 33 ms, but to 1e-5 of the area instead of 3e-4.
    """
    if structure.dense or pairs is None:
        basis = mass_basis(np.asarray(structure.mass))
        return basis, projected(structure, basis)
    basis = reduction_basis(structure, up_to_hz, pairs)
    small = projected(structure, basis)
    frequency = asked_hz(up_to_hz)
    whole = dynamics(structure, frequency)
    for _ in range(MOST_ROUNDS):
        wanting = frequency[missed(whole, basis, small, pairs.shifted) > TOLERANCE]
        if not len(wanting):
            break
        basis = extended(basis, snapshots(structure, wanting), structure.mass, SNAPSHOT_REPEAT)
        small = projected(structure, basis)
    return basis, small


def missed(whole: Dynamics, basis: Array, small: Structure, stiffness: Factors) -> Array:
    """Estimated errors (F,) of the area by a basis, told by its residual, relative to the larger of |S| at the
    frequencies of `whole` and at the first; `stiffness` factors that at the moduli of the top.

    What is left out lies beyond the band, where the answer is nearly static: K^-1 (drive - D u). That leaves a residual
    within the basis, which resonances amplify: the small structure answers it. Costs a back-solve and a small solve for
    each frequency; on 24 random designs it told 0.3 to 20 times the true error.
    """
    part, structure = whole.on(small), whole.structure
    swept = structure.volume.sum(axis=0)
    # the small matrix is symmetric: what answers to the area's own patterns reads off the answer to any force
    seen = np.stack((small.drive, small.volume.sum(axis=0), small.pickup), axis=1)
    answer, by_swept, by_coil = np.linalg.solve(part.matrices(), seen).transpose(2, 0, 1)
    motion = basis @ answer.T
    rest: Complex = structure.drive[:, None] - whole.forces(motion)
    beyond = stiffness.solve(rest.view(float)).copy().view(complex)
    within = (basis.T @ (rest - whole.forces(beyond))).T
    coil = structure.pickup @ motion
    area = swept @ motion / coil
    off = swept @ beyond - area * (structure.pickup @ beyond)
    off += ((by_swept - area[:, None] * by_coil) * within).sum(axis=1)
    error, size = np.abs(off) / np.abs(coil), np.maximum(np.abs(area), np.abs(area[0]))
    return np.divide(error, size, out=np.zeros_like(size), where=size > 0)  # what sweeps nothing errs by nothing
