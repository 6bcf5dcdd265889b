"""A structure projected on its modes and its static answers: a few dozen unknowns that speak for hundreds.

The coil's motion is prescribed, so the reduced unknowns split into that motion and the modes that live while the coil
stands still. The poles of every ratio "something over coil motion" belong to the second set.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.condense import Spectrum, condensed
from diaphragm_fem.analysis.loss_path import CHEBYSHEV, LossPath, loss_path
from diaphragm_fem.analysis.static import Static
from diaphragm_fem.model.structure import LossOfFrequency

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Index = NDArray[np.int64]

NEAR = 1.5  # of the top frequency: blocked modes above it are condensed
MEET = 0.75  # of the top frequency's square: where they are exact, as at rest
BLENDING_ERROR = 4e-3  # of the low area, estimated three times too large: what blending the loss factors may cost
SOLVED_AT_ONCE = 64  # frequencies, where each is solved for itself: their matrices fill some ten megabytes
LEAST_LOSS = 1e-12  # of everything: a curve without any loss has no value at a resonance
BETWEEN = np.geomspace(1e-3, 1, 6)  # of the top frequency: where blending is tried too, beside the resonances


@dataclass(frozen=True, eq=False)
class Reduced:
    """Reduced equations for unit coil motion: unknown 0 is the coil, the others are blocked modes, mass 1 each.

    basis (n, N): u = basis @ y; coil: y_0 for unit coil motion; volume (Z, N): swept volume per zone = volume @ y;
    coil_stiffness, coupling (N-1,) and squares (N-1,) in (rad/s)^2, rising, make up the stiffness: its corner, its
    first row and its diagonal, all else 0. constant_loss (N, N) is the loss part that does not vary with frequency;
    losses are pairs of a reduced stiffness (N, N) and its loss factor over frequency. With the loss factors frozen a
    response is a sum over poles; where they vary, sums frozen at a few frequencies are blended (see `loss_path`).
    """

    basis: Array
    coil: float
    volume: Array
    coil_stiffness: float
    coupling: Array
    squares: Array
    constant_loss: Array
    losses: tuple[tuple[Array, LossOfFrequency], ...]
    up_to_hz: float

    def respond(self, outputs: Array, frequency_hz: Array) -> Complex:
        """outputs (Z, N) @ unknowns (N, F) for unit coil motion at each frequency in Hz."""
        frequency = np.atleast_1d(np.asarray(frequency_hz, float))
        if not self._blends:
            return np.asarray(outputs @ self._solved(frequency))
        square, live = (2 * np.pi * frequency) ** 2, outputs.any(axis=1)  # zones behind the face sweep nothing
        rows, answer = outputs[live, 1:], np.zeros((len(outputs), len(frequency)), complex)
        lag = self._path.blended(
            frequency,
            lambda node, inside: self._spectra[node].lag(rows, square[inside]),
            lambda node: rows @ self._still_lag(node),
        )
        answer[live] = outputs[live, :1] * self.coil - lag
        return answer

    def _solved(self, frequency: Array) -> Complex:
        """All reduced unknowns (N, F), the equations solved at each frequency: slow, and right whatever the losses."""
        unknown = np.full((len(self.squares) + 1, len(frequency)), self.coil, complex)
        for begin in range(0, len(frequency), SOLVED_AT_ONCE):
            some = frequency[begin : begin + SOLVED_AT_ONCE]
            matrix = self._with_losses_of(some)
            load = matrix[:, 1:, :1] * self.coil
            matrix = matrix[:, 1:, 1:] - ((2 * np.pi * some) ** 2)[:, None, None] * np.eye(len(self.squares))
            unknown[1:, begin : begin + len(some)] = -np.linalg.solve(matrix, load)[:, :, 0].T
        return unknown

    def transfer(self, frequency_hz: Array) -> Complex:
        """All reduced unknowns (N, F) for unit coil motion at each frequency in Hz."""
        return self.respond(np.eye(self.basis.shape[1]), frequency_hz)

    def coil_force(self, frequency_hz: Array, unknown: Complex) -> Complex:
        """Force on the coil (F,) in N per metre of its motion, from the unknowns y of `transfer`: y^T D y.

        D is the dynamic stiffness, whose rows but the first should give zero. Any error of y enters squared; the first
        row alone would take it in full, and near the fundamental, where stiffness and inertia cancel, 25 % were seen.
        """
        y = unknown
        force = self.coil_stiffness * y[0] ** 2 + 2 * y[0] * (self.coupling @ y[1:]) + self.squares @ y[1:] ** 2
        force = force - (2 * np.pi * frequency_hz) ** 2 * (y**2).sum(axis=0)
        force = force + 1j * np.einsum("nf,nf->f", y, self.constant_loss @ y)
        for matrix, factor in self.losses:
            force = force + 1j * factor(frequency_hz) * np.einsum("nf,nf->f", y, matrix @ y)
        return np.asarray(force)

    @cached_property
    def still(self) -> Array:
        """Reduced unknowns (N,) for unit coil motion at rest, f -> 0, loss left out."""
        return self.coil * np.concatenate(([1.0], -self.coupling / self.squares))

    @property
    def static(self) -> Static:
        """What `solve_static` gives for a held part, from the static answer that the basis holds."""
        still = self.still
        pull = self.coil_stiffness * self.coil + self.coupling @ still[1:]
        return Static(float(self.coil * pull), float(still @ still))

    def free_modes(self, below: float, *, low_ones: bool = False) -> tuple[Array, Array]:
        """The modes with the coil let go, squares (M,) in (rad/s)^2 below a limit, and their squared coil motion (M,).

        Coil motion is for unit modal mass. The matrix is an arrow, and the first component of an eigenvector of an
        arrow is (1 + sum (k/(lambda - mu))^2)^-1/2. With `low_ones` blocked modes far above the band add to the coil's
        stiffness and mass alone: good to 1e-6 for the fundamental, to 1 % at the top, in a third of the time.
        """
        near = self._near if low_ones else len(self.squares)
        lag = self.coupling[near:] / self.squares[near:]
        mass = 1 + float(lag @ lag)
        coupling, blocked = self.coupling[:near] / np.sqrt(mass), self.squares[:near]
        corner = float(self.coil_stiffness - lag @ self.coupling[near:]) / mass
        squares: Array = np.linalg.eigvalsh(_arrow(corner, coupling, blocked)).astype(float)
        squares = squares[squares < below]
        with np.errstate(divide="ignore", invalid="ignore"):
            follow = np.nan_to_num(coupling / (blocked - squares[:, None]), nan=np.inf)
        return squares, np.asarray(1 / (1 + (follow**2).sum(axis=1)) / (mass * self.coil**2))

    @cached_property
    def blocked_poles(self) -> tuple[Array, Array]:
        """Frequencies in Hz and loss factors of the modes with the coil held, their coupling by losses left out."""
        frequency = np.sqrt(self.squares) / (2 * np.pi)
        return frequency, self._modal_loss(frequency)

    @property
    def damped_poles(self) -> tuple[Array, Array]:
        """Frequencies in Hz and loss factors of the poles near the band, the losses frozen at nodes of their path.

        They lie where a curve peaks, and are as sharp as its peaks, also where uneven losses couple the modes: then
        the loss factors of `blocked_poles`, mode by mode, can be a hundred times too large.
        """
        poles = np.concatenate([spectrum.poles for spectrum in self._spectra.values()])
        poles = poles[poles.real > 0]
        return np.sqrt(poles.real) / (2 * np.pi), poles.imag / poles.real

    @property
    def _blends(self) -> bool:
        """Whether blending is good enough: not where loss factors leap, or a mode keeps hardly any loss somewhere."""
        return self._judged_path[1]

    @property
    def _path(self) -> LossPath:
        """The path with the fewest sets of poles that is good enough; the finest where none is."""
        return self._judged_path[0]

    @cached_property
    def _judged_path(self) -> tuple[LossPath, bool]:
        """The path chosen, and whether blending along it is good enough."""
        losses = tuple(factor for _, factor in self.losses)
        path = loss_path(losses, self.up_to_hz, (), True)
        if not losses or self._blending_error(path) < BLENDING_ERROR:
            return path, True
        misjudged, place = self._misjudged(path)
        middle = float(misjudged @ (place % 1) / misjudged.sum()) if misjudged.any() else 0.5
        busiest = (min(max(round(20 * middle), 2), 18) / 20,)  # in steps, so that paths can be kept
        for still in (True, False):
            path = loss_path(losses, self.up_to_hz, busiest, still)
            if self._blending_error(path) < BLENDING_ERROR:
                return path, True
        path = loss_path(losses, self.up_to_hz, CHEBYSHEV, False)
        return path, self._blending_error(path) < BLENDING_ERROR

    def _misjudged(self, path: LossPath) -> tuple[Array, Array]:
        """How far the losses of the top frequency misjudge the peaks of the modes, and where on the path these lie."""
        frequency, loss = self.blocked_poles
        inside = frequency < self.up_to_hz
        top = self._modal_loss(path.nodes_hz[-1:, None])[0]
        height = np.abs(self.volume[:, 1:] * self.still[1:]).max(axis=0)
        error = height * np.abs(1 / np.maximum(loss, LEAST_LOSS) - 1 / np.maximum(top, LEAST_LOSS))
        return error[inside], path.place(frequency[inside])

    def _blending_error(self, path: LossPath) -> float:
        """Largest error of a zone's volume by blending, over the low area, were its modes not coupled by their loss."""
        frequency, ratio, reach, exact = self._uncoupled
        frozen = 1j * self._modal_loss(path.nodes_hz[:, None], slice(self._near)) + (1 + 1j * LEAST_LOSS)
        blended = path.blended(
            frequency,
            lambda node, inside: reach @ (1 / (frozen[node][:, None] - ratio[:, inside])),
            lambda node: reach @ (1 / frozen[node]),
        )
        error = np.abs(blended - exact).max(initial=0.0)
        return float(error / self._low_area)

    @property
    def _low_area(self) -> float:
        return abs(float(self.volume.sum(axis=0) @ self.still))

    @cached_property
    def _uncoupled(self) -> tuple[Array, Array, Array, Complex]:
        """The near modes without coupling by their loss, at their own frequencies (F,) in Hz and a few below.

        (f/f_mode)^2 (P, F), static volumes (Z, P) and exact volumes (Z, F).
        """
        near = slice(self._near)
        pole, reach = np.sqrt(self.squares[near]) / (2 * np.pi), (self.volume[:, 1:] * self.still[1:])[:, near]
        own = pole[pole < self.up_to_hz]
        frequency = np.concatenate((own, self.up_to_hz * BETWEEN))
        ratio = (frequency / pole[:, None]) ** 2
        loss = 1j * self._modal_loss(frequency[:, None], near).T + (1 + 1j * LEAST_LOSS)
        return frequency, ratio, reach, reach @ (1 / (loss - ratio))

    @cached_property
    def _spectra(self) -> dict[int, Spectrum]:
        """Poles with the losses of the nodes of the path that answer."""
        meet = MEET * (2 * np.pi * self.up_to_hz) ** 2
        return {
            node: condensed(self._matrices[node, 1:, 1:], self._matrices[node, 1:, 0] * self.coil, self._near, meet)
            for node in self._path.answering
        }

    @property
    def _near(self) -> int:
        """How many blocked modes are near the band."""
        return int(np.searchsorted(self.squares, (2 * np.pi * NEAR * self.up_to_hz) ** 2))

    def _still_lag(self, node: int) -> Complex:
        """What the blocked modes lag behind at rest (N-1,), with the losses of a node of the path."""
        if node not in self._still_lags:
            if node in self._spectra:
                lag = self._spectra[node].still
            else:
                matrix = self._matrices[node]
                lag = np.asarray(np.linalg.solve(matrix[1:, 1:], matrix[1:, 0] * self.coil))
            self._still_lags[node] = lag
        return self._still_lags[node]

    @cached_property
    def _still_lags(self) -> dict[int, Complex]:
        return {}

    @cached_property
    def _matrices(self) -> Complex:
        """Stiffness and loss (K, N, N) with the losses of each node of the path."""
        return self._with_losses_of(self._path.nodes_hz)

    def _with_losses_of(self, frequency: Array) -> Complex:
        """Stiffness and loss (F, N, N), the loss factors taken at frequencies (F,) in Hz."""
        matrices = np.empty((len(frequency), *self.constant_loss.shape), complex)
        matrices.real = _arrow(self.coil_stiffness, self.coupling, self.squares)
        matrices.imag = self.constant_loss
        matrices.imag += LEAST_LOSS * matrices.real
        for matrix, factor in self.losses:
            matrices.imag += factor(frequency)[:, None, None] * matrix
        return matrices

    def _modal_loss(self, frequency: Array, modes: slice = slice(None)) -> Array:
        """Loss factors (..., P) of the blocked modes, the materials' taken at the frequencies (..., P or 1) in Hz."""
        constant, varying = self._loss_shares
        total = constant[modes]
        for share, factor in varying:
            total = total + factor(frequency) * share[modes]
        return total

    @cached_property
    def _loss_shares(self) -> tuple[Array, list[tuple[Array, LossOfFrequency]]]:
        """Constant part (P,) of the blocked modes' loss factors; share (P,) of each varying loss factor in them."""
        varying = [(np.diagonal(matrix)[1:] / self.squares, factor) for matrix, factor in self.losses]
        return np.diagonal(self.constant_loss)[1:] / self.squares, varying


def _arrow(corner: float, side: Array, diagonal: Array) -> Array:
    """Symmetric matrix with a corner, a first row and column, and a diagonal."""
    arrow = np.diag(np.concatenate(([corner], diagonal)))
    arrow[0, 1:] = arrow[1:, 0] = side
    return arrow
