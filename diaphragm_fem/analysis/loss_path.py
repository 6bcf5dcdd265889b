"""Loss factors that vary with frequency: where they are frozen, and how answers in between are blended.

An answer depends on frequency through omega^2, which is sharp, and through the loss factors, which is smooth. So the
loss factors are frozen at a few node frequencies and only that second dependence is interpolated, by polynomials in
the accumulated logarithmic change of the loss factors. Source: Trefethen, Approximation Theory and Approximation
Practice (2013), ch. 2 and 5 (Chebyshev points, barycentric formula; named from memory).

Where the loss factors change only below the resonances, less is enough: the answer with the losses of the top
frequency, corrected by how the static answer differs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from diaphragm_fem.model.system import LossOfFrequency

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Index = NDArray[np.int64]

CHANGE_PER_BAND = 1.2  # logarithmic change of the loss factors that one set of nodes spans
COUNTS = (1, 2, 3, 4)  # nodes of a band to choose from; 1 stands for the losses of the top frequency throughout
LOWEST_HZ = 0.1


@dataclass(frozen=True, eq=False)
class LossPath:
    """The loss factors of a system from 0.1 Hz up to a frequency, in bands of `count` nodes each.

    No loss factor that varies makes a path of a single node.
    """

    losses: tuple[LossOfFrequency, ...]
    up_to_hz: float
    count: int

    def blended(
        self, frequency_hz: Array, answer: Callable[[int, Index], Complex], still: Callable[[int], Complex]
    ) -> Complex:
        """Answers (..., F) at frequencies (F,) in Hz.

        answer(node, inside) gives them (..., len(inside)) at the frequencies of those indices with the losses of a
        node, still(node) gives the static one (...).
        """
        last, blends = len(self.nodes_hz) - 1, self._blends(frequency_hz)
        if self.answering == range(last, last + 1):
            blended = answer(last, np.arange(len(frequency_hz)))
            for inside, blend in blends:
                for node, share in blend:
                    if node != last:
                        blended[..., inside] += (still(node) - still(last))[..., None] * share
            return blended
        parts = [sum(answer(node, inside) * share for node, share in blend) for inside, blend in blends]
        order = np.argsort(np.concatenate([inside for inside, _ in blends]))
        return np.concatenate(parts, axis=-1)[..., order]

    @property
    def answering(self) -> range:
        """The nodes whose answers are blended."""
        count = len(self.nodes_hz)
        return range(count - 1 if self.count == 1 else 0, count)

    @cached_property
    def _course(self) -> tuple[Array, Array]:
        """Logarithm of frequency, and the accumulated change of whichever loss factor changes most, both rising."""
        frequency = np.geomspace(LOWEST_HZ, self.up_to_hz, 400)
        change = np.zeros(len(frequency))
        for loss in self.losses:
            level = np.log(np.maximum(loss(frequency), 1e-9))
            change[1:] = np.maximum(change[1:], np.abs(np.diff(level)))
        return np.log(frequency), np.cumsum(change) + np.linspace(0, 1e-9, len(frequency))

    @cached_property
    def _bands(self) -> int:
        return int(np.ceil(self._course[1][-1] / CHANGE_PER_BAND - 1e-6)) if self.losses else 0

    @cached_property
    def nodes_hz(self) -> Array:
        """Node frequencies (K,), rising; neighbours of a band share its end node."""
        log_frequency, change = self._course
        if not self._bands:
            return np.exp(log_frequency[-1:])
        width = change[-1] / self._bands
        inner = [(band + _places(self._ends)[:-1]) * width for band in range(self._bands)]
        return np.exp(np.interp(np.concatenate([*inner, change[-1:]]), change, log_frequency))

    @property
    def _ends(self) -> int:
        """Nodes of a band, its two ends at least."""
        return max(self.count, 2)

    def _blends(self, frequency_hz: Array) -> list[tuple[Index, list[tuple[int, Array]]]]:
        """Band by band: indices of the frequencies in it, and the (node, share (F,)) that blend to their answers."""
        if not self._bands:
            return []
        log_frequency, change = self._course
        place = np.interp(np.log(np.maximum(frequency_hz, LOWEST_HZ)), log_frequency, change)
        place = place / change[-1] * self._bands
        band = np.clip(place.astype(int), 0, self._bands - 1)
        step = self._ends - 1
        return [
            (inside, [(b * step + k, share) for k, share in enumerate(_shares(place[inside] - b, self._ends))])
            for b in range(self._bands)
            if len(inside := np.flatnonzero(band == b))
        ]


@lru_cache(maxsize=64)
def loss_path(losses: tuple[LossOfFrequency, ...], up_to_hz: float, count: int) -> LossPath:
    """The path of these loss factors: the last few are kept, because the designs of a study share their materials."""
    return LossPath(losses, up_to_hz, count)


def _places(count: int) -> Array:
    """Chebyshev nodes of a band, 0...1, the ends shared with its neighbours."""
    return (1 - np.cos(np.pi * np.arange(count) / (count - 1))) / 2


def _shares(place: Array, count: int) -> Array:
    """Lagrange polynomials (count, F) of the Chebyshev nodes at places 0...1, by the barycentric formula."""
    weights = (-1.0) ** np.arange(count)
    weights[[0, -1]] /= 2
    gap = place - _places(count)[:, None]
    exact = np.abs(gap) < 1e-12
    terms = weights[:, None] / np.where(exact, 1.0, gap)
    terms = np.where(exact.any(axis=0), exact.astype(float), terms)
    return terms / terms.sum(axis=0)
