"""Modes of a structure: frequencies, masses, areas, energy shares and plain labels."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from diaphragm_fem.analysis.modes.eigen import Eigenpairs
from diaphragm_fem.analysis.modes.label import label_mode
from diaphragm_fem.analysis.modes.loss import mode_losses
from diaphragm_fem.analysis.modes.own_modulus import eigenpairs_at_own_modulus
from diaphragm_fem.arrays import Array
from diaphragm_fem.design.meridian.zone import Zone
from diaphragm_fem.errors import AnalysisError
from diaphragm_fem.model.projected import held_by
from diaphragm_fem.model.structure import MASS, STIFFNESS, Structure

_HIDDEN = 1e-5  # of the top frequency: a hundredth of a hertz, say, is no resonance. Rounding leaves 1e-14 to 1e-11 of
# the top's square of motions of free parts (the demonstrations, twelve harsh domes), a tenth of what this is, squared
_LEAST_COIL_SHARE = 10.0  # a mode ten times heavier at the coil than the lightest is not the fundamental


@dataclass(frozen=True)
class Modes:
    """Modes of one circumferential order, M of them, each at the storage moduli of its own frequency; left out are
    `rigid_modes`, motions that cost nothing, or so little that rounding hides it.

    frequency_hz (M,); vectors (n, M) mass-normalised; strain_share and kinetic_share (M, Z) per zone (parts of no
    zone, such as supports and rings, hold the rest of one); modal_mass (M,) in kg at the coil, infinite where the
    coil stands still; modal_area (M,) in m2, swept volume over coil motion; residual (M,)
    sqrt(sum r^2/diag K / x^T K x) with r = K x - w2 M x, each unknown against its own stiffness;
    evidence tells why the list is complete; told_losses makes `loss_factor` when it is asked for first.
    """

    order: int
    frequency_hz: Array
    vectors: Array
    zones: tuple[Zone, ...]
    strain_share: Array
    kinetic_share: Array
    modal_mass: Array
    modal_area: Array
    residual: Array
    labels: tuple[str, ...]
    up_to_hz: float
    rigid_modes: int
    evidence: str
    told_losses: Callable[[], Array]

    def __len__(self) -> int:
        return len(self.frequency_hz)

    @cached_property
    def loss_factor(self) -> Array:
        """(M,) of the damped mode most like each (`mode_losses`): some 16 ms an order, which few askers need."""
        return self.told_losses()

    def swept(self, frequency_hz: float) -> Array:
        """Size (M,) in m3/N of what each sweeps at a frequency in Hz per newton on the coil, by itself: modal area over
        modal mass (w_k^2 (1 + i eta_k) - w^2); nothing where the coil stands still."""
        squares, omega = (2 * np.pi * self.frequency_hz) ** 2, 2 * np.pi * frequency_hz
        swings = self.modal_mass * (squares * (1 + 1j * self.loss_factor) - omega**2)
        return np.nan_to_num(np.abs(self.modal_area / swings))

    def __getstate__(self) -> dict[str, object]:
        """What goes to another process: the losses themselves: there, factors would be made again to tell them."""
        losses = self.loss_factor
        return {**self.__dict__, "told_losses": partial(np.copy, losses)}


def solve_modes(structure: Structure, up_to_hz: float, pairs: Eigenpairs | None = None) -> Modes:
    """Every mode of a structure up to a frequency in Hz, provably complete.

    Modal mass 1/(pickup x)^2 and modal area (volume x)/(pickup x) for mass-normalised x; the modal loss factor is that
    of `mode_losses`, near the energy-weighted mean of the terms' (Ungar and Kerwin, J. Acoust. Soc. Am. 34 (1962) 954;
    named from memory) unless modes overlap, and that mean where modes are not told apart.
    `pairs` may hand in those of `eigenpairs_at_own_modulus` up to that frequency or beyond. Raises
    AnalysisError for a frequency that is not above zero.
    """
    if not up_to_hz > 0:
        raise AnalysisError(f"the top frequency must be above 0 Hz, received {up_to_hz:g}")
    pairs = eigenpairs_at_own_modulus(structure, up_to_hz) if pairs is None else pairs
    rigid = rigid_motions(structure, pairs.squares, up_to_hz)
    wanted = slice(rigid, int(np.searchsorted(pairs.squares, (2 * np.pi * up_to_hz) ** 2)))
    frequency, vectors = pairs.frequency_hz[wanted], pairs.vectors[:, wanted]
    strain, kinetic, mean_loss, residual = _energies(structure, vectors, frequency)
    coil = structure.pickup @ vectors
    with np.errstate(divide="ignore", invalid="ignore"):
        modal_mass = np.where(np.abs(coil) > 0, 1 / coil**2, np.inf)
        modal_area = np.where(np.abs(coil) > 0, structure.volume.sum(axis=0) @ vectors / coil, np.nan)
    labels = tuple(label_mode(structure.zones, strain[k], kinetic[k]) for k in range(len(frequency)))
    return Modes(
        structure.order, frequency, vectors, structure.zones, strain, kinetic, modal_mass, modal_area, residual, labels,
        up_to_hz, rigid, pairs.evidence, partial(_losses, structure, pairs, rigid, mean_loss),
    )  # fmt: skip


def rigid_motions(structure: Structure, squares: Array, up_to_hz: float) -> int:
    """How many motions cost nothing, or so little that rounding hides it; squares (M,) in (rad/s)^2, rising, were
    sought up to a frequency in Hz."""
    count = structure.rigid_modes
    while count < len(squares) and abs(squares[count]) < (2 * np.pi * _HIDDEN * up_to_hz) ** 2:
        count += 1
    return count


def _losses(structure: Structure, pairs: Eigenpairs, rigid: int, mean: Array) -> Array:
    """Loss factors of the first modes that are not rigid, as many as means (M,) are given; these where nothing else is
    told."""
    elastic = slice(rigid, None)
    if not mean.any() or pairs.squares[elastic][0] <= 0:
        return mean
    found = mode_losses(structure, pairs.vectors[:, elastic], pairs.frequency_hz[elastic], pairs.shifted)
    return mean if found is None else np.where(np.isnan(found[: len(mean)]), mean, found[: len(mean)])


def _energies(structure: Structure, vectors: Array, frequency: Array) -> tuple[Array, Array, Array, Array]:
    """Strain and kinetic energy shares (M, Z), modal loss factors (M,) and residuals (M,)."""
    strain, kinetic = (np.zeros((vectors.shape[1], len(structure.zones) + 1)) for _ in range(2))
    lost = np.zeros(vectors.shape[1])
    elastic, inertial = np.zeros_like(vectors), np.zeros_like(vectors)
    for term in structure.terms:
        held = held_by(term.matrix)  # a few cells' unknowns: 0.6 instead of 1.1 ms for a stepped V
        force = (term.matrix @ vectors)[held]
        energy = np.einsum("nm,nm->m", vectors[held], force)
        if term.derivatives == STIFFNESS:
            law = term.law(frequency)
            strain[:, term.zone] += law.real * energy
            lost += law.imag * energy
            elastic[held] += law.real * force
        elif term.derivatives == MASS:
            kinetic[:, term.zone] += energy
            inertial[held] += force
    whole = strain.sum(axis=1)  # negative of a motion that grows, about a state under stress
    gap = elastic - inertial * (2 * np.pi * frequency) ** 2
    own = sum(term.matrix.diagonal() for term in structure.merged if term.derivatives == STIFFNESS)  # no whole sum
    stiff = np.asarray(own) != 0  # what is loose has no residual to tell
    residual = np.sqrt(np.einsum("nm,nm->m", gap[stiff], gap[stiff] / np.asarray(own)[stiff, None]) / np.abs(whole))
    return strain[:, :-1] / whole[:, None], kinetic[:, :-1] / kinetic.sum(axis=1)[:, None], lost / whole, residual


def first_resonance(squares: Array, coil: Array, rigid_modes: int) -> float | None:
    """Fundamental resonance in Hz: the lowest mode in which the coil carries a fair part of the moving mass.

    squares (M,) in (rad/s)^2, rising; coil (M,) the squared coil motion for unit modal mass. A mode whose modal mass
    at the coil is more than ten times the least of all modes hardly moves the coil: a resonance of a soft zone below
    the fundamental is such a one. None where no mode moves the coil, and where nothing is held or so weakly that
    rounding hides it.
    """
    if rigid_modes or not np.any(coil):
        return None
    leading = np.flatnonzero(coil > coil.max() / _LEAST_COIL_SHARE)
    lowest = float(squares[leading[0]])
    return lowest**0.5 / (2 * np.pi) if lowest > 0 else None
