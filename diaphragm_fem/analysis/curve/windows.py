"""Many frequencies at the price of a few: between neighbouring answers the answer lies nearly in their span.

The small structure is solved as it stands at some thirty knots, the frequencies at which it would resonate with the
coil held; its factors there give the slope of the answer over frequency, too. Any other answer is sought in the span of
both at the nine knots about it: a system of 18 unknowns instead of some sixty, 5 instead of 30 us a frequency. Measured
on 45 designs and walls it adds up to 2e-5 of the low area, 8e-7 in the median (eight knots: 1.5e-4).
Below the first resonance, where a third of all points lie, four knots do.
Where power is asked for, the span takes real and imaginary parts of seven knots apart: 28 unknowns, as near, and what
the force gives is then exactly what is spent.
Source of the idea: interpolation by answers and slopes (rational Krylov) as for the basis, once more and locally.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.analysis.response import dense_matrices, dynamics, dynamics_slope
from diaphragm_fem.arrays import Array, Complex, Index
from diaphragm_fem.model.structure import Structure

WIDTH = 9  # knots in a window, half of it from one to the next: eight leave dips 0.3 dB off where losses are 1e-4
_LOW_WIDTH, _LOW_END = 4, 2  # knots in the lowest window, for the third of all points below the knot of that number
_BALANCED_WIDTH = 7  # of them where the span is real
SMALL = 2 * WIDTH  # unknowns: so few are solved as they stand


@dataclass(frozen=True, eq=False)
class Windows:
    """A small structure and knots (K,) in Hz, rising, over the band that will be asked for.

    balanced: whether spans are real, so that y^H D y = y^H drive, which is the balance of power.
    """

    small: Structure
    knots_hz: Array
    balanced: bool = False

    @property
    def width(self) -> int:
        """Knots in a window."""
        return _BALANCED_WIDTH if self.balanced else WIDTH

    def outputs(self, rows: NDArray, frequency_hz: Array) -> Complex:
        """rows (R, N) @ unknowns (N, F) of the small structure per newton, at frequencies (F,) in Hz."""
        if not self.spanned:
            return np.asarray(rows @ dynamics(self.small, frequency_hz).answers())
        order = np.argsort(frequency_hz)
        place = frequency_hz[order]
        whole, found = dynamics(self.small, place), np.empty((len(rows), len(place)), complex)
        ends = [0, *np.searchsorted(place, self._borders, side="right").tolist(), len(place)]
        for (span, terms), (begin, end) in zip(self.spanned, pairwise(ends), strict=True):
            if begin == end:
                continue
            patterns = [span.T @ load.port.pattern for load in self.small.loads]
            loads = [load[begin:end] for load in whole.loads]
            matrix = dense_matrices(whole.weight.T[begin:end], terms, loads, patterns)
            answers = np.linalg.solve(matrix, (self.small.drive @ span)[:, None])[..., 0]
            found[:, order[begin:end]] = rows @ span @ answers.T
        return found

    @cached_property
    def _first(self) -> Index:
        """The first knot of each window above the lowest; the last window ends with the last knot."""
        last = len(self.knots_hz) - self.width
        return np.unique(np.append(np.arange(0, last, self.width // 2), last))

    @cached_property
    def _borders(self) -> Array:
        """Frequencies in Hz at which one window hands over to the next: the middle of what both hold."""
        middle = (self._first[1:] + self._first[:-1] + self.width - 1) / 2
        return np.append(self.knots_hz[_LOW_END], np.interp(middle, np.arange(len(self.knots_hz)), self.knots_hz))

    @cached_property
    def spanned(self) -> list[tuple[Complex, Complex]]:
        """Of each window a basis (N, s), orthonormal, of the span of its answers, and the terms there (K, s, s); none
        where so few unknowns or knots are solved as they stand."""
        if self.small.size <= SMALL or len(self.knots_hz) <= self.width:
            return []
        answers = dynamics(self.small, self.knots_hz).answers_and_slopes(dynamics_slope(self.small, self.knots_hz))
        answers = answers.reshape(self.small.size, -1, 2)
        found: list[tuple[Complex, Complex]] = []
        for knots in (np.arange(_LOW_WIDTH)[None], self._first[:, None] + np.arange(self.width)):
            some = answers[:, knots].reshape(self.small.size, len(knots), -1).swapaxes(0, 1)
            spans = np.ascontiguousarray(self._spans(some))[:, None]
            # all at once, and no real term made complex: 0.25 ms for a stepped V, each by itself 0.7
            terms = spans.swapaxes(2, 3) @ (self.small.stacked @ spans.view(float)).view(spans.dtype)
            found += zip(spans[:, 0], terms, strict=True)
        return found

    def _spans(self, answers: Complex) -> Complex:
        """Orthonormal bases (W, N, s) of the spans of answers (W, N, k): s = k, or 2 k where balanced."""
        if not self.balanced:
            return np.asarray(np.linalg.qr(answers)[0])
        halves = np.concatenate((answers.real, answers.imag), axis=2) / np.tile(np.abs(answers).max(axis=1), 2)[:, None]
        return np.asarray(np.linalg.svd(halves, full_matrices=False)[0])
